from __future__ import annotations

import dataclasses
import math

import pandas as pd

from reports.sentences import shot_items
from reports.words import Words
from tests.reports.reading import text

WORDS = Words("yd")
YARD_M = 0.9144


def first_item(tables, **shot):
    """The first shot of hole 1, with its row changed."""
    table = tables.shots.copy()
    for column, value in shot.items():
        table.loc[table.index[0], column] = value
    return shot_items(dataclasses.replace(tables, shots=table), WORDS)[1][0]


def compared(tables, **row):
    table = tables.comparison.copy()
    for column, value in row.items():
        table.loc[table.index[0], column] = value
    return dataclasses.replace(tables, comparison=table)


def onward(tables, **row):
    values = {"hole": 1, "shot": 1, "club": "8 iron", "role": "layup", "distance_m": 110.0, "leave_m": 80.0}
    return dataclasses.replace(tables, onward=pd.DataFrame([values | row]))


class TestOutcome:
    def test_a_layup_in_a_sentence(self, round_tables):
        # Derived: 14, 9, 109 and 96 yd in metres.
        row = {"long_m": -14 * YARD_M, "right_m": 9 * YARD_M, "leave_m": 109 * YARD_M}
        tables = compared(round_tables, planned_leave_m=96 * YARD_M, within_tolerance="no", **row)
        item = first_item(tables, leave_m=109 * YARD_M, end_lie="rough")
        assert text(item["outcome"]) == "Layup 14 yd short, 9 yd right, rough; left 109 instead of 96"
        assert item["sign"] == "no"

    def test_a_shot_at_the_green_is_not_held_against_a_leave_of_nothing(self, round_tables):
        for hole in shot_items(round_tables, WORDS).values():
            assert "instead of 0" not in text(hole[-1]["outcome"])
        last = shot_items(round_tables, WORDS)[1][-1]
        assert text(last["outcome"]).startswith("on the green; ")
        assert text(last["outcome"]).endswith(" from the hole")

    def test_a_shot_off_the_plan_is_not_held_against_its_leave(self, round_tables):
        gone = dict.fromkeys(("long_m", "right_m", "miss_m", "leave_m"), math.nan)
        tables = dataclasses.replace(round_tables, comparison=round_tables.comparison.assign(**gone))
        said = text(shot_items(tables, WORDS)[1][0]["outcome"])
        assert "; left " in said
        assert "instead of" not in said

    def test_what_was_not_seen_is_said_in_words(self, round_tables):
        item = first_item(round_tables, distance_m=math.nan, club="", club_source="")
        assert text(item["head"]) == "distance not known"
        blank = compared(round_tables, long_m=math.nan, leave_m=math.nan)
        item = first_item(blank, distance_m=math.nan, leave_m=math.nan, end_lie="unknown")
        assert text(item["outcome"]) == "finish not seen"


class TestClub:
    def test_another_club_than_planned_is_said(self, round_tables):
        tables = compared(round_tables, planned_club="8 iron")
        item = first_item(tables, club="5 wood", club_source="card", distance_m=100 * YARD_M)
        assert text(item["head"]) == "5 wood, 100 yd"
        assert "the plan said 8 iron" in map(text, item["facts"])
        assert "club from the card" in map(text, item["facts"])

    def test_a_club_only_the_plan_names_is_not_known(self, round_tables):
        tables = compared(round_tables, planned_club="8 iron")
        item = first_item(tables, club="8 iron", club_source="plan", lie="fairway")
        assert "8 iron" not in text(item["head"])
        assert text(item["way"]) == "from the fairway, club not known"
        assert "the plan said 8 iron" in map(text, item["facts"])


class TestNext:
    def test_what_the_plan_plays_from_there(self, round_tables):
        tables = onward(round_tables, club="4 wood", distance_m=110 * YARD_M, leave_m=80 * YARD_M)
        assert text(first_item(tables)["next"]) == "Plan from there: 4 wood 110 yd, to leave 80"
        tables = onward(round_tables, club="4 wood", distance_m=110 * YARD_M, leave_m=0.0, role="approach")
        assert text(first_item(tables)["next"]) == "Plan from there: 4 wood 110 yd, to the green"

    def test_the_planned_club_again_is_as_before(self, round_tables):
        planned = round_tables.plan[(round_tables.plan["hole"] == 1) & (round_tables.plan["shot"] == 2)]
        tables = onward(round_tables, club=planned["club"].iloc[0])
        assert text(first_item(tables)["next"]).startswith("Plan from there, as before: ")

    def test_without_such_a_row_nothing_is_said(self, round_tables):
        assert first_item(round_tables)["next"] is None


class TestDoubt:
    def reasons(self, tables, *rows):
        columns = ["hole", "shot", "reason", "distance_m", "time_s", "share"]
        return dataclasses.replace(tables, doubts=pd.DataFrame(rows, columns=columns))

    def test_doubt_says_why(self, round_tables):
        tables = self.reasons(
            round_tables,
            (1, 1, "other_stand", 8 * YARD_M, math.nan, 0.4),
            (1, 1, "short_stand", math.nan, 7.6, math.nan),
        )
        item = first_item(tables, confidence=0.43)
        assert item["doubtful"]
        # Derived: 0.43 and 0.4 as shares, 7.6 s rounded.
        assert text(item["doubt"]) == (
            "Doubtful, 43 % sure: another stop 8 yd away may have been the stroke instead (40 %) "
            "and the stop lasted only 8 s"
        )

    def test_doubt_without_a_reason_still_says_how_sure(self, round_tables):
        assert text(first_item(round_tables, confidence=0.43)["doubt"]) == "Doubtful, 43 % sure"
        strange = self.reasons(round_tables, (1, 1, "moonlight", math.nan, math.nan, math.nan))
        assert text(first_item(strange, confidence=0.43)["doubt"]) == "Doubtful, 43 % sure"

    def test_a_sure_shot_has_none(self, round_tables):
        tables = self.reasons(round_tables, (1, 1, "no_shot", math.nan, 7.0, math.nan))
        item = first_item(tables, confidence=0.8)
        assert item["doubt"] is None
        assert "80 % sure" in map(text, item["facts"])

    def test_nothing_is_certain(self, round_tables):
        assert "over 99 % sure" in map(text, first_item(round_tables, confidence=0.997)["facts"])
        assert text(first_item(round_tables, confidence=0.001)["doubt"]) == "Doubtful, under 1 % sure"
