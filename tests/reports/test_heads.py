from __future__ import annotations

import dataclasses

import pandas as pd
import pytest

from reports import heads
from reports.words import Words
from tests.reports.reading import text

WORDS = Words("yd")


def with_header(tables, **changes):
    return dataclasses.replace(tables, header=dict(tables.header) | changes)


def with_holes(tables, **columns):
    return dataclasses.replace(tables, holes=tables.holes.assign(**columns))


class TestHeadOfRound:
    def test_says_the_round_in_a_sentence(self, round_tables):
        tables = with_holes(
            with_header(round_tables, layups=20, layups_within=12, layups_unsure=1), strokes=5, personal_par=5
        )
        tables = with_header(tables, strokes=91, personal_par=97)
        head = heads.head_of_round(tables, WORDS)
        expected = "12 of 20 layups finished where the plan wanted them, 1 is too close to call"
        assert text(head["headline"]) == expected
        lede = text(head["lede"])
        assert lede.startswith("91 strokes, 6 under a personal par of 97. Most lost strokes (")
        assert "The plan held on holes" in lede

    def test_the_greatest_cause_is_named_if_there_is_one(self, round_tables):
        # Derived: all five further strokes are putts; then one of four causes with one stroke each.
        tables = with_holes(round_tables, personal_par=5, regulation_shots=3, shots=3, penalties=0)
        putts = [4, 3, 3, 3] + [2] * 14
        tables = with_holes(tables, putts=putts, strokes=[3 + putt for putt in putts])
        assert "Most lost strokes (5) were putts." in text(heads.head_of_round(tables, WORDS)["lede"])
        level = with_holes(tables, putts=2, strokes=5)
        assert "Most lost" not in text(heads.head_of_round(level, WORDS)["lede"])

    def test_the_middle_of_the_layups_is_told(self, round_tables):
        table = round_tables.comparison.assign(long_m=-9.144, right_m=4.572)
        lede = text(heads.head_of_round(dataclasses.replace(round_tables, comparison=table), WORDS)["lede"])
        # Derived: 9.144 m are 10 yd, 4.572 m are 5 yd.
        assert "The middle of all layups: 10 yd short, 5 yd right." in lede
        few = table[table["hole"] <= 2]
        lede = text(heads.head_of_round(dataclasses.replace(round_tables, comparison=few), WORDS)["lede"])
        assert "middle" not in lede

    def test_a_hole_picked_up_is_left_out_of_the_comparison(self, round_tables):
        head = heads.head_of_round(round_tables, WORDS)
        scored = round_tables.holes[round_tables.holes["hole"] != 12]
        par = int(scored["personal_par"].sum())
        assert (
            f"on 17 holes, {par - round_tables.header['strokes']} under the personal par of {par} there"
            in text(head["lede"])
        )

    @pytest.mark.parametrize(
        ("strokes", "said"), [(97, "level with"), (99, "2 over"), (None, "The plan held")]
    )
    def test_over_level_and_unknown(self, round_tables, strokes, said):
        tables = with_header(with_holes(round_tables, strokes=5), strokes=strokes, personal_par=97)
        assert said in text(heads.head_of_round(tables, WORDS)["lede"])

    def test_holes_that_held_and_broke(self, round_tables):
        layups = round_tables.comparison.assign(
            within_tolerance=["yes" if hole < 17 else "no" for hole in round_tables.comparison["hole"]]
        )
        lede = text(heads.head_of_round(dataclasses.replace(round_tables, comparison=layups), WORDS)["lede"])
        assert "It broke on holes 17 and 18." in lede
        assert "15 and 16. It broke" in lede
        layups = layups.assign(within_tolerance="no")
        lede = text(heads.head_of_round(dataclasses.replace(round_tables, comparison=layups), WORDS)["lede"])
        assert "The plan broke on holes" not in lede

    def test_of_many_broken_holes_the_worst_are_named(self, round_tables):
        layups = round_tables.comparison
        miss = (
            layups["hole"].map(dict.fromkeys(range(1, 19), 30.0) | {4: 90.0, 9: 80.0, 2: 70.0}).astype(float)
        )
        layups = layups.assign(within_tolerance="no", miss_m=miss)
        lede = text(heads.head_of_round(dataclasses.replace(round_tables, comparison=layups), WORDS)["lede"])
        # Derived: layups are planned on every hole but the par threes that one shot reaches; here on all 18.
        assert "The plan broke on 18 of 18 holes, worst on 2, 4 and 9." in lede
        few = layups[layups["hole"] <= 3]
        lede = text(heads.head_of_round(dataclasses.replace(round_tables, comparison=few), WORDS)["lede"])
        assert "The plan broke on holes 1, 2 and 3." in lede

    def test_local_time_of_the_course(self, round_tables):
        # Source: IANA time zone database, Atlantic/Azores is UTC in summer; 11:04 UTC is 11:04 there.
        assert text(heads.head_of_round(round_tables, WORDS)["when"]).startswith("14 May 2026, 11:04 to ")
        # Source: IANA time zone database, Asia/Tokyo is UTC+9 all year.
        moved = with_header(round_tables, time_zone="Asia/Tokyo", end_time=None)
        assert text(heads.head_of_round(moved, WORDS)["when"]) == "14 May 2026, from 20:04, local time"

    def test_without_a_plan_it_says_so(self, round_tables):
        none = dict.fromkeys(("layups", "layups_within", "layups_unsure", "median_leave_error_m"))
        bare = with_header(round_tables, **none)
        head = heads.head_of_round(bare, WORDS)
        # Then the score is the news.
        assert text(head["headline"]).startswith(f"{round_tables.header['strokes']} strokes on 17 holes, ")
        assert text(head["lede"]).startswith("No layup could be compared with the plan. ")
        bare = dataclasses.replace(bare, plan=bare.plan.iloc[:0], comparison=bare.comparison.iloc[:0])
        lede = text(heads.head_of_round(bare, WORDS)["lede"])
        assert lede.startswith("There was no plan to compare with. ")
        assert "layup" not in lede
        unscored = with_header(bare, strokes=None)
        assert text(heads.head_of_round(unscored, WORDS)["headline"]) == "There was no plan to compare with"


class TestNumbers:
    def test_penalty_strokes_among_the_shots_to_the_green_are_said(self, round_tables):
        for penalties, said in ((2, "with penalty strokes; 66 in regulation"), (0, "66 in regulation")):
            tables = with_header(round_tables, penalties=penalties, regulation_shots=66)
            notes = {text(cell["name"]): cell["note"] for cell in heads.numbers(tables, WORDS)}
            assert text(notes["Shots to the green"]) == said

    def test_what_is_unknown_is_left_out(self, round_tables):
        keys = ("strokes", "par", "personal_par", "putts", "penalties", "shots_to_green", "regulation_shots")
        bare = with_header(
            round_tables, **dict.fromkeys((*keys, "layups", "layups_within", "median_leave_error_m"))
        )
        assert heads.numbers(bare, WORDS) == []

    def test_has_every_key_number(self, round_tables):
        names = [text(cell["name"]) for cell in heads.numbers(round_tables, WORDS)]
        assert names == [
            "Strokes",
            "Personal par",
            "Shots to the green",
            "Putts",
            "Penalty strokes",
            "Layups within tolerance",
            "Median leave error",
        ]


def test_a_hole_in_words(round_tables):
    row = round_tables.holes.iloc[0].to_dict()
    assert text(heads.hole_facts(row, WORDS)) == (
        "Par 4, index 5, 385 yd, personal par 6, 4 shots to the green in regulation"
    )
    row |= {"strokes": 7, "shots": 4, "putts": 2, "penalties": 1}
    assert text(heads.hole_result(row, WORDS)) == "7 strokes: 4 shots to the green, 2 putts, 1 penalty stroke"
    row |= {"strokes": pd.NA, "putts": pd.NA, "penalties": 0, "shots": 1}
    assert text(heads.hole_result(row, WORDS)) == "picked up: 1 shot to the green"
