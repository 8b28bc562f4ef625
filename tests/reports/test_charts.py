from __future__ import annotations

import math

import pandas as pd
import pytest

from geo.units import YARD_M
from reports.bundles import layup_rows
from reports.charts import club_chart, leave_chart, miss_chart, target_mark


def layups(*rows):
    """Rows of long, right and tolerance, each the first shot of its hole [m]."""
    return pd.DataFrame(
        {
            "hole": range(1, len(rows) + 1),
            "shot": 1,
            "long_m": [float(row[0]) for row in rows],
            "right_m": [float(row[1]) for row in rows],
            "tolerance_m": [float(row[2]) for row in rows],
            "within_tolerance": "yes",
            "club": "8 iron",
            "club_source": "marked",
            "planned_club": "8 iron",
        }
    )


class TestMissChart:
    def test_long_is_up_and_right_is_right(self):
        chart = miss_chart(layups((5.0, 3.0, 9.144)), {})
        point = chart.points[0]
        assert point["y"] < 0 < point["x"]

    def test_one_scale_for_both_axes_and_the_tolerance(self):
        # Derived: a finish exactly one tolerance long lies on the upper edge of the box.
        chart = miss_chart(layups((9.144, 0.0, 9.144), (0.0, -9.144, 9.144)), {})
        assert chart.points[0]["y"] == pytest.approx(-chart.tolerance, abs=0.1)
        assert chart.points[1]["x"] == pytest.approx(-chart.tolerance, abs=0.1)

    def test_the_grid_is_true_in_both_units(self):
        chart = miss_chart(layups((5.0, 3.0, 9.144)), {})
        scale = chart.tolerance / 9.144
        for units, size_m in (("yd", YARD_M), ("m", 1.0)):
            for line in chart.grid[units]:
                assert abs(line["at"]) == pytest.approx(float(line["label"]) * size_m * scale, abs=0.2)

    def test_a_far_miss_keeps_its_direction_at_the_edge(self):
        near = [(1.0, 1.0, 10.0)] * 12
        chart = miss_chart(layups(*near, (-80.0, 40.0, 10.0)), {})
        point = chart.points[-1]
        assert point["far"]
        assert max(abs(point["x"]), abs(point["y"])) <= chart.half
        assert point["x"] / point["y"] == pytest.approx(0.5, abs=0.02)
        assert not any(p["far"] for p in chart.points[:-1])

    def test_everything_is_within_the_picture(self, round_tables):
        chart = miss_chart(layup_rows(round_tables.comparison, round_tables.plan), {})
        for point in chart.points:
            assert abs(point["x"]) <= chart.half
            assert abs(point["y"]) <= chart.half

    def test_the_usual_tolerance_is_drawn_and_others_are_said(self):
        chart = miss_chart(layups((1, 1, 9.0), (1, 2, 9.0), (1, 3, 14.0)), {})
        alone = miss_chart(layups((1, 1, 9.0), (1, 2, 9.0)), {})
        assert chart.mixed
        assert not alone.mixed
        assert chart.tolerance == alone.tolerance

    def test_without_a_comparison_there_is_no_picture(self):
        assert miss_chart(layups((math.nan, math.nan, 9.0)), {}) is None
        assert miss_chart(layups(), {}) is None

    def test_doubt_is_marked(self):
        chart = miss_chart(layups((1, 1, 9.0), (2, 2, 9.0)), {(1, 1): 0.59, (2, 1): 0.6})
        assert [point["doubtful"] for point in chart.points] == [True, False]

    def test_a_verdict_nobody_knows_is_unsure(self):
        chart = miss_chart(layups((1, 1, 9.0)).assign(within_tolerance=""), {})
        assert chart.points[0]["sign"] == "unsure"

    def test_a_club_only_the_plan_names_is_a_stand_in(self):
        table = layups((1, 1, 9.0), (2, 2, 9.0), (3, 3, 9.0)).assign(planned_club="6 iron")
        table["club_source"], table["club"] = ["marked", "plan", ""], ["8 iron", "6 iron", ""]
        points = miss_chart(table, {}).points
        assert [(point["club"], point["stand_in"]) for point in points] == [
            ("8i", False),
            ("6i", True),
            ("6i", True),
        ]

    def test_the_middle_is_the_median_each_way(self):
        # Derived: long 2, 4, 30 and right -3, 0, 3 have the medians 4 and 0, on the scale of the tolerance.
        chart = miss_chart(layups((2.0, 3.0, 9.144), (4.0, -3.0, 9.144), (30.0, 0.0, 9.144)), {})
        assert chart.middle == pytest.approx((0.0, -4.0 * chart.tolerance / 9.144), abs=0.1)


class TestLeaveChart:
    def rows(self, *leaves):
        return pd.DataFrame(
            [(hole, shot, float(p), float(a), "yes") for hole, shot, p, a in leaves],
            columns=["hole", "shot", "planned_leave_m", "leave_m", "within_tolerance"],
        )

    def test_the_last_layup_of_a_hole_counts(self):
        chart = leave_chart(self.rows((1, 1, 200, 210), (1, 2, 90, 95), (2, 1, 90, 80)))
        assert [(row["hole"], row["planned_m"]) for row in chart.rows] == [(1, 90.0), (2, 90.0)]

    def test_marks_and_grid_share_a_scale(self):
        chart = leave_chart(self.rows((1, 1, 50.0, 100.0)))
        ticks = {float(line["label"]): line["at"] for line in chart.grid["m"]}
        assert chart.rows[0]["planned"] == pytest.approx(ticks[50.0], abs=0.2)
        assert chart.rows[0]["actual"] == pytest.approx(ticks[100.0], abs=0.2)
        yards = {float(line["label"]): line["at"] for line in chart.grid["yd"]}
        # Derived: 100 yd are 91.44 m, which is 0.8288 of the way from 50 m to 100 m.
        assert yards[100.0] == pytest.approx(ticks[50.0] + 0.8288 * (ticks[100.0] - ticks[50.0]), abs=0.3)

    def test_an_unknown_leave_leaves_a_gap(self):
        chart = leave_chart(self.rows((1, 1, 90, math.nan), (2, 1, 90, 95)))
        assert chart.rows[0]["actual"] is None

    def test_everything_lies_on_the_scale(self, round_tables):
        chart = leave_chart(layup_rows(round_tables.comparison, round_tables.plan))
        for row in chart.rows:
            assert chart.left <= row["planned"] <= chart.right
            assert row["actual"] is None or chart.left <= row["actual"] <= chart.right

    def test_nothing_planned_is_no_picture(self):
        assert leave_chart(self.rows()) is None


class TestClubChart:
    def chart(self, *shots, **stated):
        columns = ["club", "club_source", "distance_m", "confidence"]
        clubs = pd.DataFrame({"club": list(stated), "stated_distance_m": list(stated.values())})
        return club_chart(pd.DataFrame(shots, columns=columns), clubs)

    def test_shots_and_the_bag_share_a_scale(self):
        chart = self.chart(("iron", "marked", 100.0, 0.9), ("iron", "card", 50.0, 0.5), iron=100.0)
        ticks = {float(line["label"]): line["at"] for line in chart.grid["m"]}
        row = chart.rows[0]
        assert row["stated"] == pytest.approx(ticks[100.0], abs=0.2)
        assert [shot["x"] for shot in row["shots"]] == pytest.approx([ticks[100.0], ticks[50.0]], abs=0.2)
        assert [shot["doubtful"] for shot in row["shots"]] == [False, True]

    def test_what_only_the_plan_names_or_nobody_measured_is_left_out(self):
        chart = self.chart(
            ("iron", "plan", 90.0, 0.9), ("wood", "marked", math.nan, 0.9), iron=100.0, wood=150.0
        )
        assert chart is None

    def test_a_club_the_bag_does_not_know_has_no_mark(self):
        chart = self.chart(("iron", "marked", 90.0, 0.9), iron=math.nan)
        assert chart.rows[0]["stated"] is None


class TestTargetMark:
    def test_the_edge_of_the_tolerance_is_one(self):
        assert target_mark(0.0, 10.0, 10.0) == {"x": 1.0, "y": 0.0, "far": False}

    def test_far_out_it_stops_at_two(self):
        assert target_mark(-300.0, 0.0, 10.0) == {"x": 0.0, "y": 2.0, "far": True}

    @pytest.mark.parametrize("values", [(math.nan, 0.0, 10.0), (0.0, 0.0, math.nan), (0.0, 0.0, 0.0)])
    def test_the_unknown_has_none(self, values):
        assert target_mark(*values) is None
