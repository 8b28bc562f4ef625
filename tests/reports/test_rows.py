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

    def test_nothing_is_certain(self, round_tables):
        tables = dataclasses.replace(round_tables, shots=round_tables.shots.assign(confidence=0.997))
        assert "over 99 % sure" in map(text, rows.shot_items(tables, WORDS)[1][0]["facts"])
        tables = dataclasses.replace(round_tables, shots=round_tables.shots.assign(confidence=0.001))
        assert "doubtful, under 1 % sure" in map(text, rows.shot_items(tables, WORDS)[1][0]["facts"])

    def test_a_shot_off_the_plan_is_not_held_against_its_leave(self, round_tables):
        gone = dict.fromkeys(("long_m", "right_m", "miss_m", "leave_m"), float("nan"))
        tables = dataclasses.replace(round_tables, comparison=round_tables.comparison.assign(**gone))
        said = text(rows.shot_items(tables, WORDS)[1][0]["against"])
        assert "left to the hole" in said
        assert "instead of" not in said

    def test_a_finish_not_seen_is_said_in_words(self, round_tables):
        tables = dataclasses.replace(round_tables, shots=round_tables.shots.assign(distance_m=float("nan")))
        assert text(rows.shot_items(tables, WORDS)[1][0]["distance"]) == "distance not known"


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
