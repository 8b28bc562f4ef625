from __future__ import annotations

import dataclasses

import pandas as pd

from reports import rows
from reports.words import Words
from tests.reports.invented import invented_notes, invented_round
from tests.reports.reading import text

WORDS = Words("yd")


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
        assert text(cells["finish"]) == "not compared"
        assert cells["verdict"] == "–"
        assert cells["mark"] is None
        assert cells["distance"] == "–"


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


class TestCauseRows:
    def test_bars_share_a_scale_and_the_last_row_is_the_sum(self, round_tables):
        table = rows.cause_rows(round_tables, WORDS)
        causes, total = table[:-1], table[-1]
        sizes = {row["strokes"]: row["bar"] for row in causes}
        numbers = {int(strokes.replace("−", "-")): bar for strokes, bar in sizes.items()}
        assert max(map(abs, numbers.values())) == 40.0
        assert all((number > 0) == (bar > 0) for number, bar in numbers.items())
        assert total["total"]
        assert total["strokes"].replace("−", "-") == f"{sum(strokes_of(row) for row in causes):+d}"

    def test_without_a_plan_no_layup_is_blamed(self, round_tables):
        bare = dataclasses.replace(
            round_tables, plan=round_tables.plan.iloc[:0], comparison=round_tables.comparison.iloc[:0]
        )
        names = [text(row["name"]) for row in rows.cause_rows(bare, WORDS)]
        assert "Shots to the green" in names
        assert not any("layup" in name for name in names)

    def test_no_score_is_no_table(self, round_tables):
        unscored = dataclasses.replace(round_tables, holes=round_tables.holes.assign(strokes=pd.NA))
        assert rows.cause_rows(unscored, WORDS) == []

    def test_says_on_how_many_holes(self, round_tables):
        # Derived: eighteen holes, one picked up.
        assert text(rows.cause_caption(round_tables, WORDS)).endswith("on 17 holes with a score")


def strokes_of(row):
    return int(row["strokes"].replace("−", "-"))


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
