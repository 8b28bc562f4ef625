"""Clubs of a whole round from marks, card, track and plan."""

import math

import numpy as np
import pandas as pd
import pytest

from tests.shapes import card_of, tiny_bag
from trackgolf.naming import name_clubs
from trackgolf.settings import RoundSettings
from trackgolf.shots import Visit

BAG = tiny_bag()
SETTINGS = RoundSettings()
# Stands a minute each, every four minutes, 120 m apart; the fourth is nothing, the last is on the green.
STANDS = pd.DataFrame(
    {
        "start_s": [0.0, 240.0, 480.0, 720.0, 960.0],
        "end_s": [60.0, 300.0, 540.0, 780.0, 1020.0],
        "east_m": [0.0] * 5,
        "north_m": [0.0, 120.0, 240.0, 360.0, 480.0],
    }
)
SHOTS = pd.DataFrame(
    {
        "hole": [1, 1, 1],
        "shot": [1, 2, 3],
        "visit": [0, 0, 0],
        "stand": [0, 1, 2],
        "distance_m": [120.0, 120.0, 100.0],
        "leave_before_m": [480.0, 360.0, 240.0],
        "lie": ["tee", "fairway", "fairway"],
        "club": "",
        "club_source": "",
        "club_probability": math.nan,
    }
)
VISIT = Visit(1, 0, 3, 0, 4, 0.9, 55.0, 960.0, 1020.0)


def named(*, marks=(), plan=None, card=None, shots=SHOTS, visits=(VISIT,)):
    """Name the clubs; marks are (second or NaN, east, north, name)."""
    table = pd.DataFrame({"name": [mark[3] for mark in marks]})
    columns = tuple(np.array([mark[axis] for mark in marks], dtype=float) for axis in range(3))
    result = name_clubs(shots, list(visits), STANDS, table, columns, plan, card, BAG, SETTINGS)
    assert result.drop(columns=["club", "club_source", "club_probability"]).equals(
        shots.drop(columns=["club", "club_source", "club_probability"])
    )
    assert result["club_probability"].between(0.0, 1.0).all()
    assert ((result["club"] == "") == (result["club_source"] == "")).all()
    return list(zip(result["club"], result["club_source"], strict=True))


def plan_of(*clubs):
    return pd.DataFrame({"hole": 1, "shot": range(1, len(clubs) + 1), "club": clubs})


class TestMarks:
    def test_a_mark_names_the_shot_it_was_made_at(self):
        clubs = named(marks=[(250.0, 3.0, 122.0, "driver")])
        assert clubs[1] == ("driver", "marked")
        assert "marked" not in (clubs[0][1], clubs[2][1])

    @pytest.mark.parametrize(
        ("text", "club"),
        [("7i", "7 iron"), ("SW", "sand wedge"), ("5-Wood", "5 wood"), ("DRIVER ", "driver")],
    )
    def test_names_as_people_type_them(self, text, club):
        assert named(marks=[(20.0, 0.0, 0.0, text)])[0] == (club, "marked")

    @pytest.mark.parametrize("text", ["", "14", "home", "2 iron", "putter"])
    def test_a_mark_that_names_no_club_of_the_bag_names_no_shot(self, text):
        assert named(marks=[(20.0, 0.0, 0.0, text)]) == named()

    def test_a_mark_without_a_time_counts_by_its_place(self):
        assert named(marks=[(math.nan, 2.0, 118.0, "driver")])[1] == ("driver", "marked")

    def test_a_mark_far_away_or_much_later_counts_for_nothing(self):
        far = (250.0, 300.0, 120.0, "driver")
        late = (2000.0, 0.0, 120.0, "driver")
        assert named(marks=[far, late]) == named()

    def test_of_two_marks_at_one_shot_the_nearer_wins(self):
        near, further = (270.0, 1.0, 120.0, "driver"), (270.0, 12.0, 120.0, "sand wedge")
        assert named(marks=[near, further])[1] == named(marks=[further, near])[1] == ("driver", "marked")

    def test_a_mark_counts_before_card_and_plan(self):
        card = card_of((1, 5, 2, 0, ("5 wood", "7 iron", "9 iron")))
        clubs = named(
            marks=[(20.0, 0.0, 0.0, "driver")], card=card, plan=plan_of("5 wood", "5 wood", "5 wood")
        )
        assert clubs == [("driver", "marked"), ("7 iron", "card"), ("9 iron", "card")]


class TestCard:
    def test_clubs_in_their_order(self):
        card = card_of((1, 5, 2, 0, ("5 wood", "7 iron", "sand wedge")))
        assert named(card=card) == [("5 wood", "card"), ("7 iron", "card"), ("sand wedge", "card")]

    def test_the_putter_is_no_shot_off_the_green(self):
        card = card_of((1, 5, 2, 0, ("5 wood", "7 iron", "sand wedge", "Putter", "putter")))
        assert [source for _, source in named(card=card)] == ["card"] * 3

    @pytest.mark.parametrize("clubs", [("5 wood",), ("5 wood", "7 iron", "9 iron", "sand wedge"), ()])
    def test_a_list_of_another_length_fits_no_shot(self, clubs):
        assert named(card=card_of((1, 5, 2, 0, clubs))) == named()

    def test_a_gap_in_the_list_is_left_to_the_track(self):
        card = card_of((1, 5, 2, 0, ("5 wood", "", "sand wedge")))
        clubs = named(card=card)
        assert [source for _, source in clubs][::2] == ["card", "card"]
        assert clubs[1] == named()[1]

    def test_a_stroke_that_left_no_stop_has_its_place_in_the_list(self):
        from dataclasses import replace

        shots = SHOTS.iloc[[0, 2]].reset_index(drop=True)
        card = card_of((1, 5, 2, 0, ("5 wood", "7 iron", "sand wedge")))
        clubs = named(card=card, shots=shots, visits=[replace(VISIT, unseen=1)])
        assert clubs == [("5 wood", "card"), ("sand wedge", "card")]

    def test_the_card_of_another_hole_names_nothing(self):
        assert named(card=card_of((2, 5, 2, 0, ("5 wood", "7 iron", "sand wedge")))) == named()


class TestPlan:
    def test_its_club_is_never_called_anything_but_planned(self):
        for name in [club.name for club in BAG.clubs]:
            for (club, source), alone in zip(named(plan=plan_of(name, name, name)), named(), strict=True):
                # It may fill a gap or settle a tie; what the track tells on its own stays.
                assert (club, source) == alone or (club, source) == (name, "plan")

    def test_where_the_ball_went_is_unknown_the_plan_may_name_the_club(self):
        shots = SHOTS.assign(distance_m=[math.nan, 120.0, 100.0])
        assert named(shots=shots)[0] == ("", "")
        assert named(shots=shots, plan=plan_of("driver"))[0] == ("driver", "plan")


def test_no_shots_no_clubs():
    assert named(shots=SHOTS.iloc[:0], visits=[], marks=[(20.0, 0.0, 0.0, "driver")]) == []
