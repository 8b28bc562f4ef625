"""What the plan plays next from where shots finished."""

import math

import pandas as pd
import pytest
from shapely.geometry import LineString

from geo.units import YARD_M
from tests.trackgolf.invented_holes import (
    FRAME,
    across,
    card_hole,
    club,
    ground_hole,
    invented_bag,
    invented_course,
    usual_bag,
)
from trackgolf.onward import ONWARD_COLUMNS, onward_shots
from trackgolf.plan import plan_round

# Own example: a straight hole of 382 yd, clubs that finish at 160 and 130, one preferred approach of 96.
HOLE = ground_hole([(0, 0), (0, 382)])
BAG = invented_bag(
    [club("5 wood", 160), club("8 iron", 130), club("gap wedge", 96)],
    [("gap wedge", 96)],
    [("gap wedge", 20, 90)],
    target_score=5,
)


def finish(east_yd, north_yd, *, shot=1, visit=0, end_lie="fairway", penalty=0, seen=True):
    lon_deg, lat_deg = FRAME.to_degrees(east_yd * YARD_M, north_yd * YARD_M)
    leave_m = math.hypot(east_yd, 382 - north_yd) * YARD_M
    return {
        "hole": 1,
        "shot": shot,
        "visit": visit,
        "end_lie": end_lie,
        "penalty": penalty,
        "leave_m": leave_m if seen else math.nan,
        "end_lon_deg": lon_deg,
        "end_lat_deg": lat_deg,
    }


def onward(*shots, bag=BAG, shapes=(), hole=HOLE):
    return onward_shots(pd.DataFrame(shots), invented_course([hole], shapes), bag)


class TestOnward:
    def test_sets_up_the_preferred_approach_from_there(self):
        # Derived: 382 - 156 = 226 left; of that 130 to leave 96.
        row = onward(finish(0, 156)).iloc[0]
        assert (row["club"], row["role"]) == ("8 iron", "layup")
        assert row["distance_m"] == pytest.approx(130 * YARD_M, abs=0.05)
        assert row["leave_m"] == pytest.approx(96 * YARD_M, abs=0.05)

    def test_is_the_approach_where_the_green_is_in_reach(self):
        # Derived: 25 yd to the side of the line 91 yd short of the hole is hypot(25, 91) = 94.4 yd from it.
        row = onward(finish(25, 291, shot=2)).iloc[0]
        assert (row["club"], row["role"], row["leave_m"]) == ("gap wedge", "approach", 0.0)
        assert row["distance_m"] == pytest.approx(math.hypot(25, 91) * YARD_M, abs=0.05)

    def test_from_the_target_of_a_plan_it_goes_on_with_the_plan(self):
        course = invented_course([HOLE])
        plan = plan_round(course, BAG).shots
        shots = [
            finish(0, sum(plan["distance_m"].iloc[: number + 1]) / YARD_M, shot=number + 1)
            for number in range(len(plan) - 1)
        ]
        found = onward(*shots)
        assert found["club"].tolist() == plan["club"].tolist()[1:]
        assert found["distance_m"].tolist() == pytest.approx(plan["distance_m"].tolist()[1:], abs=0.05)

    def test_more_shots_than_regulation_where_it_takes_them(self):
        # Derived: after three shots and a penalty nothing is left of three; 226 yd still take two.
        row = onward(finish(0, 20), finish(0, 40, shot=2), finish(0, 156, shot=3, penalty=1)).iloc[-1]
        assert row["role"] == "layup"
        assert row["distance_m"] + row["leave_m"] == pytest.approx(226 * YARD_M, abs=0.5)

    def test_penalties_count_as_strokes(self):
        # Derived: 280 yd are 150 and the second approach of 130 in two; the best one of 96 takes three.
        bag = invented_bag(
            [club("5 wood", 160), club("8 iron", 130), club("gap wedge", 96)],
            [("gap wedge", 96), ("8 iron", 130)],
            target_score=6,
        )
        kept = onward(finish(0, 102), bag=bag).iloc[0]
        lost = onward(finish(0, 102, penalty=1), bag=bag).iloc[0]
        assert lost["leave_m"] == pytest.approx(130 * YARD_M, abs=0.5)
        assert kept["leave_m"] > lost["leave_m"]

    def test_the_driver_stays_in_the_bag_off_the_tee(self):
        bag = usual_bag(target_score=5)
        row = onward(finish(0, 20), bag=bag).iloc[0]
        assert row["club"] != "driver"

    def test_lays_up_short_of_water_across_the_line(self):
        water = ("water_yellow", across(290, 330))
        row = onward(finish(0, 150), shapes=[water]).iloc[0]
        # Derived: from 150 the water begins 140 yd on; with 10 yd of room a target is at most 130 yd away.
        assert row["distance_m"] <= 130 * YARD_M + 0.05

    @pytest.mark.parametrize(
        "shot",
        [
            finish(0, 382, end_lie="green"),
            finish(3, 378, end_lie="green"),
            finish(5, 360, end_lie="rough"),
            finish(0, 150, seen=False, end_lie="lost"),
        ],
    )
    def test_nothing_to_plan_on_the_green_beside_it_or_when_not_seen(self, shot):
        found = onward(shot)
        assert found.empty
        assert tuple(found.columns) == ONWARD_COLUMNS

    def test_a_course_without_positions_or_an_empty_bag_has_none(self):
        assert onward(finish(0, 156), hole=card_hole(382)).empty
        assert onward(finish(0, 156), bag=invented_bag([], [], target_score=5)).empty

    def test_a_bag_without_a_target_has_none(self):
        bag = invented_bag([club("8 iron", 130)], [])
        assert onward(finish(0, 156), bag=bag).empty

    def test_a_ball_past_the_hole_comes_back(self):
        hole = ground_hole([(0, 0), (0, 382)], pin_yd=(0, 382))
        row = onward(finish(0, 430, shot=3), hole=hole).iloc[0]
        assert row["role"] == "approach"
        assert row["distance_m"] == pytest.approx(48 * YARD_M, abs=0.5)

    def test_a_bend_is_played_round(self):
        # Own example: a hole that turns right by 90 degrees after 200 yd; from behind the corner the line is kept.
        hole = ground_hole([(0, 0), (0, 200), (200, 200)])
        bag = invented_bag([club("5 wood", 190), club("8 iron", 130)], [("8 iron", 130)], target_score=6)
        row = onward(finish(0, 40), bag=bag, hole=hole).iloc[0]
        corner = LineString([(0, 40), (0, 200), (200, 200)]).length
        assert row["role"] == "layup"
        assert row["leave_m"] < corner * YARD_M
