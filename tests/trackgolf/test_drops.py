"""Drops beside water, on one tiny pond across a straight hole."""

import numpy as np
import pandas as pd
import pytest
import shapely

from geo.frame import LocalFrame
from trackgolf.drops import mark_drops
from trackgolf.settings import RoundSettings

FRAME = LocalFrame(-31.0, 47.0)
# A pond from 100 to 130 m along a hole that runs east.
POND = shapely.box(100.0, -40.0, 130.0, 40.0)


def invented_shots(*places, end_lie=None):
    """Shots from place to place along the line [m], the last ending on the green."""
    lon_deg, lat_deg = FRAME.to_degrees(np.array(places, dtype=float), np.zeros(len(places)))
    count = len(places) - 1
    return pd.DataFrame(
        {
            "hole": [1] * count,
            "visit": [0] * count,
            "shot": range(1, count + 1),
            "start_lon_deg": lon_deg[:-1],
            "start_lat_deg": lat_deg[:-1],
            "end_lon_deg": lon_deg[1:],
            "end_lat_deg": lat_deg[1:],
            "distance_m": np.diff(places).astype(float),
            "path_m": np.diff(places).astype(float),
            "progress_m": np.diff(places).astype(float),
            "leave_m": [50.0] * count,
            "penalty": [0] * count,
            "end_lie": [end_lie or "rough"] * (count - 1) + ["green"],
            "note": [""] * count,
            "stand": range(count),
        }
    )


def marked(shots, penalties=None):
    return mark_drops(shots, POND, FRAME, penalties or {}, RoundSettings())


def test_a_shot_played_on_from_the_edge_of_water_costs_a_stroke():
    # Source: Rules of Golf 2023, 17.1d: relief from a penalty area costs one penalty stroke.
    shots = marked(invented_shots(0, 97, 180, 250))
    assert shots["penalty"].tolist() == [1, 0, 0]
    assert shots["end_lie"].tolist() == ["penalty_area", "rough", "green"]
    # Where the ball went in was not seen: no length, and the line ends where the player stood to drop.
    assert np.isnan(shots["distance_m"][0])
    assert np.isnan(shots["leave_m"][0])
    assert shots["distance_m"][1] == 83.0


def test_a_ball_that_cleared_the_water_costs_nothing():
    assert marked(invented_shots(0, 180, 250))["penalty"].tolist() == [0, 0]


def test_a_ball_well_short_of_the_water_costs_nothing():
    assert marked(invented_shots(0, 60, 180, 250))["penalty"].tolist() == [0, 0, 0]


@pytest.mark.parametrize(("carded", "wanted"), [(0, [0, 0, 0]), (1, [1, 0, 0]), (2, [1, 0, 0])])
def test_the_card_decides(carded, wanted):
    # 12 m short of the pond: near enough for a drop only if the card has a penalty to explain.
    shots = invented_shots(0, 88, 180, 250)
    assert marked(shots)["penalty"].sum() == 0
    assert marked(shots, {0: carded})["penalty"].tolist() == wanted


def test_a_shot_known_as_lost_is_not_dropped_too():
    assert marked(invented_shots(0, 97, 180, end_lie="lost"))["penalty"].tolist() == [0, 0]


def test_what_comes_in_is_left_alone():
    shots = invented_shots(0, 97, 180, 250)
    before = shots.copy()
    marked(shots)
    pd.testing.assert_frame_equal(shots, before)
