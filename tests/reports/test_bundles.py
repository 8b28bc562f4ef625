from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from reports.bundles import RoundTables, layup_rows, layup_summary, rows_by_hole
from tests.reports.invented import invented_plan


def comparison(*rows):
    """Rows of hole, shot, within_tolerance, planned leave and leave; the rest does not matter here."""
    names = ["hole", "shot", "within_tolerance", "planned_leave_m", "leave_m"]
    return pd.DataFrame(rows, columns=names)


def roles(*rows):
    return pd.DataFrame(rows, columns=["hole", "shot", "role"])


class TestLayupRows:
    def test_takes_all_but_the_shot_at_the_green(self):
        table = comparison((1, 1, "yes", 96, 99), (1, 2, "yes", 0, 4), (2, 1, "no", 0, 9))
        plan = roles((1, 1, "tee"), (1, 2, "approach"), (2, 1, "tee"))
        rows = layup_rows(table, plan)
        assert list(zip(rows["hole"], rows["shot"], rows["role"], strict=True)) == [(1, 1, "tee")]

    def test_is_in_playing_order_whatever_order_it_got(self):
        table = comparison(
            (2, 1, "", 1, 1), (2, 3, "", 1, 1), (1, 2, "", 1, 1), (1, 1, "", 1, 1), (2, 2, "", 1, 1)
        )
        rows = layup_rows(table, roles())
        assert list(zip(rows["hole"], rows["shot"], strict=True)) == [(1, 1), (2, 1), (2, 2)]

    def test_leaves_its_input_alone(self, round_tables):
        before = round_tables.comparison.copy()
        layup_rows(round_tables.comparison, round_tables.plan)
        pd.testing.assert_frame_equal(round_tables.comparison, before)


class TestLayupSummary:
    def test_counts_what_could_be_compared(self):
        table = comparison(
            (1, 1, "yes", 100, 90),
            (1, 2, "no", 50, 80),
            (1, 3, "unsure", 50, np.nan),
            (1, 4, "", 50, 10),
            (1, 5, "yes", 0, 0),
        )
        # Derived: leave errors 10 and 30, median 20; the fourth was not compared, the last is no layup.
        assert layup_summary(table, roles()) == {
            "layups": 3,
            "layups_within": 1,
            "layups_unsure": 1,
            "median_leave_error_m": 20.0,
        }

    def test_has_no_median_of_nothing(self):
        assert layup_summary(comparison(), roles())["median_leave_error_m"] is None


class TestRoundTables:
    def test_copies_what_it_is_given(self, round_tables):
        holes = round_tables.holes.copy()
        made = RoundTables(header=round_tables.header, holes=holes)
        holes.loc[0, "par"] = 9
        assert made.holes.loc[0, "par"] == 4

    def test_needs_only_a_header_and_holes(self, round_tables):
        made = RoundTables(header=round_tables.header, holes=round_tables.holes)
        assert made.shots.empty
        assert made.track.empty

    def test_names_the_table_at_fault(self, round_tables):
        with pytest.raises(ValueError, match="shots: missing club"):
            dataclasses.replace(round_tables, shots=round_tables.shots.drop(columns="club"))

    @pytest.mark.parametrize("name", ["holes", "shots", "plan", "comparison"])
    def test_refuses_what_comes_twice_or_has_no_number(self, round_tables, name):
        table = getattr(round_tables, name)
        with pytest.raises(ValueError, match=f"{name}: hole 1.* comes twice"):
            dataclasses.replace(round_tables, **{name: pd.concat([table, table.iloc[:1]])})
        with pytest.raises(ValueError, match=f"{name}: a row without hole"):
            dataclasses.replace(round_tables, **{name: table.assign(hole=None)})

    def test_refuses_a_confidence_that_is_no_share(self, round_tables):
        with pytest.raises(ValueError, match="confidence"):
            dataclasses.replace(round_tables, shots=round_tables.shots.assign(confidence=80.0))


def test_a_plan_may_have_no_positions():
    assert invented_plan(positions=False).plan.geometry.isna().all()


class TestRowsByHole:
    def test_sorts_shots_and_drops_geometry(self, round_tables):
        holes = rows_by_hole(round_tables.shots.iloc[::-1].rename_geometry("line"))
        assert [row["shot"] for row in holes[4]] == sorted(row["shot"] for row in holes[4])
        assert "line" not in holes[4][0]

    def test_leaves_out_rows_of_no_hole(self):
        assert rows_by_hole(pd.DataFrame({"hole": [None, 2]})) == {2: [{"hole": 2.0}]}
