from __future__ import annotations

import dataclasses
import html
import re

import pandas as pd
import pytest

from reports import rows
from reports.words import Words
from tests.reports.invented import invented_notes, invented_round

WORDS = Words("yd")


def text(markup):
    """What a person reads of it in yards."""
    metres_gone = re.sub(r'<span class="me">.*?</span>', "", str(markup))
    return html.unescape(re.sub(r"<[^>]+>", "", metres_gone)).replace("\u00a0", " ")


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
        head = rows.head_of_round(tables, WORDS)
        expected = "12 of 20 layups finished where the plan wanted them, 1 is too close to call"
        assert text(head["headline"]) == expected
        assert text(head["lede"]).startswith(
            "91 strokes, 6 under a personal par of 97. The plan held on holes"
        )

    def test_a_hole_picked_up_is_left_out_of_the_comparison(self, round_tables):
        head = rows.head_of_round(round_tables, WORDS)
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
        assert said in text(rows.head_of_round(tables, WORDS)["lede"])

    def test_holes_that_held_and_broke(self, round_tables):
        layups = round_tables.comparison.assign(
            within_tolerance=["yes" if hole < 17 else "no" for hole in round_tables.comparison["hole"]]
        )
        lede = text(rows.head_of_round(dataclasses.replace(round_tables, comparison=layups), WORDS)["lede"])
        assert "It broke on holes 17 and 18." in lede
        assert "15 and 16. It broke" in lede

    def test_local_time_of_the_course(self, round_tables):
        # Source: IANA time zone database, Atlantic/Azores is UTC in summer; 11:04 UTC is 11:04 there.
        assert text(rows.head_of_round(round_tables, WORDS)["when"]).startswith("14 May 2026, 11:04 to ")
        # Source: IANA time zone database, Asia/Tokyo is UTC+9 all year.
        moved = with_header(round_tables, time_zone="Asia/Tokyo", end_time=None)
        assert text(rows.head_of_round(moved, WORDS)["when"]) == "14 May 2026, from 20:04, local time"

    def test_without_a_plan_it_says_so(self, round_tables):
        none = dict.fromkeys(("layups", "layups_within", "layups_unsure", "median_leave_error_m"))
        bare = with_header(round_tables, **none)
        assert "could be compared" in text(rows.head_of_round(bare, WORDS)["headline"])
        bare = dataclasses.replace(bare, plan=bare.plan.iloc[:0], comparison=bare.comparison.iloc[:0])
        assert "without a plan" in text(rows.head_of_round(bare, WORDS)["headline"])


class TestNumbers:
    def test_what_is_unknown_is_left_out(self, round_tables):
        keys = ("strokes", "par", "personal_par", "putts", "penalties", "shots_to_green", "regulation_shots")
        bare = with_header(
            round_tables, **dict.fromkeys((*keys, "layups", "layups_within", "median_leave_error_m"))
        )
        assert rows.numbers(bare, WORDS) == []

    def test_has_every_key_number(self, round_tables):
        names = [text(cell["name"]) for cell in rows.numbers(round_tables, WORDS)]
        assert names == [
            "Strokes",
            "Personal par",
            "Shots to the green",
            "Putts",
            "Penalty strokes",
            "Layups within tolerance",
            "Median leave error",
        ]


class TestLayupCells:
    def test_holds_what_the_comparison_says(self, round_tables):
        cells = rows.layup_cells(round_tables, WORDS)[0]
        row = round_tables.comparison.iloc[0]
        assert text(cells["distance"]) == f"{row['distance_m'] / 0.9144:.0f}"
        assert text(cells["path"]) == f"{row['path_m'] / 0.9144:.0f}"
        assert text(cells["planned_leave"]) == f"{row['planned_leave_m'] / 0.9144:.0f}"
        assert cells["sign"] == row["within_tolerance"]

    def test_a_club_only_the_plan_names_is_not_known(self, round_tables):
        cells = {(c["hole"], c["shot"]): c for c in rows.layup_cells(round_tables, WORDS)}
        assert text(cells[2, 2]["club"]) == "not known"
        assert text(cells[2, 2]["planned_club"]) != "not known"

    def test_a_layup_never_played_is_not_compared(self, round_tables):
        table = round_tables.comparison
        blank = dict.fromkeys(
            ("long_m", "right_m", "miss_m", "distance_m", "path_m", "leave_m"), float("nan")
        )
        table = table.assign(within_tolerance="", club="", **blank)
        cells = rows.layup_cells(dataclasses.replace(round_tables, comparison=table), WORDS)[0]
        assert text(cells["finish"]) == text(cells["verdict"]) == "not compared"
        assert cells["mark"] is None
        assert cells["distance"] == "–"


class TestShotItems:
    def test_a_sentence_a_shot(self, round_tables):
        shots = rows.shot_items(round_tables, WORDS)
        assert sorted(shots) == list(range(1, 19))
        assert text(shots[1][0]["against"]).count("against the target; left ") == 1

    def test_a_shot_at_the_green_is_not_held_against_a_leave_of_nothing(self, round_tables):
        shots = rows.shot_items(round_tables, WORDS)
        assert "left to the hole" in text(shots[1][-1]["against"])
        assert "instead of 0" not in text(shots[1][-1]["against"])

    def test_another_club_is_said_but_not_when_only_the_plan_knows(self, round_tables):
        table = round_tables.comparison.assign(club="5 wood", planned_club="8 iron", club_source="card")
        tables = dataclasses.replace(round_tables, comparison=table)
        assert "the plan said 8 iron" in text(rows.shot_items(tables, WORDS)[1][0]["against"])
        tables = dataclasses.replace(round_tables, comparison=table.assign(club_source="plan"))
        assert "the plan said" not in text(rows.shot_items(tables, WORDS)[1][0]["against"])

    def test_doubt_is_said(self, round_tables):
        shots = [shot for hole in rows.shot_items(round_tables, WORDS).values() for shot in hole]
        doubtful = [shot for shot in shots if shot["doubtful"]]
        assert doubtful
        assert all("doubtful, 43 % sure" in map(text, shot["facts"]) for shot in doubtful)


class TestCardRows:
    def test_totals_after_each_nine_and_at_the_end(self, round_tables):
        card = rows.card_rows(round_tables, WORDS)
        assert [text(row["head"]) for row in card if row["total"]] == ["Out", "In", "Total"]
        totals = dict(zip(rows.CARD_COLUMNS, card[-1]["cells"], strict=True))
        assert totals["par"] == 72
        assert totals["strokes"] == round_tables.header["strokes"]

    def test_nine_holes_have_one_total(self):
        card = rows.card_rows(invented_round(holes=9), WORDS)
        assert [text(row["head"]) for row in card if row["total"]] == ["Total"]

    def test_a_hole_picked_up_has_dashes(self, round_tables):
        cells = dict(zip(rows.CARD_COLUMNS, rows.card_rows(round_tables, WORDS)[12]["cells"], strict=True))
        assert cells["strokes"] == cells["against_par"] == cells["putts"] == "–"


def test_a_club_stands_against_the_bag(round_tables):
    clubs = pd.DataFrame(
        {
            "club": ["8 iron"],
            "shots": [3],
            "median_distance_m": [109.728],
            "median_path_m": [float("nan")],
            "stated_distance_m": [118.872],
            "sources": ["marked,card"],
        }
    )
    row = rows.club_rows(dataclasses.replace(round_tables, clubs=clubs), WORDS)[0]
    # Derived: 120 yd against 130 yd.
    assert (text(row["distance"]), text(row["stated"]), text(row["difference"])) == ("120", "130", "−10")
    assert row["path"] == "–"
    assert row["sources"] == "marked, from the card"


def test_notes_are_sorted_by_what_was_done():
    groups = rows.note_groups(invented_notes(str), WORDS)
    assert [text(group["name"]) for group in groups] == ["Doubted", "Salvaged", "Mended", "Assumed", "Also"]
    assert text(groups[2]["texts"][0]) == "Hole 3: The line was drawn from green to tee and was turned."


def test_a_hole_in_words(round_tables):
    row = round_tables.holes.iloc[0].to_dict()
    assert text(rows.hole_facts(row, WORDS)) == (
        "Par 4, index 5, 385 yd, personal par 6, 4 shots to the green in regulation"
    )
    row |= {"strokes": 7, "shots": 4, "putts": 2, "penalties": 1}
    assert text(rows.hole_result(row, WORDS)) == "7 strokes: 4 shots to the green, 2 putts, 1 penalty stroke"
    row |= {"strokes": pd.NA, "putts": pd.NA, "penalties": 0, "shots": 1}
    assert text(rows.hole_result(row, WORDS)) == "picked up: 1 shot to the green"
