"""Where shots finished against where the plan wanted them."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from pyproj import Geod

from tests.shapes import FRAME, lonlat, plan_of
from trackgolf.compare import COMPARISON_COLUMNS, compare_round, plan_starts_elsewhere

GEOD = Geod(ellps="WGS84")
PIN = (0, 300)
# What users of comparison.csv rely on (README), in this order; not an outside source.
CONTRACT = (
    "hole", "shot", "planned_club", "club", "club_source", "planned_distance_m", "distance_m", "path_m", "long_m",
    "right_m", "miss_m", "planned_leave_m", "leave_m", "tolerance_m", "within_tolerance", "followed", "end_lie",
)  # fmt: skip


def shot_of(hole, shot, start, end, *, club="5 wood", source="inferred", sigma_m=2.0, seen=True, visit=0):
    """Make a shot from start to end in metres; one not seen has no distance."""
    (lon0, lat0), (lon1, lat1) = lonlat(*start), lonlat(*end)
    _, _, length_m = GEOD.inv(lon0, lat0, lon1, lat1)
    pin_lon, pin_lat = lonlat(*PIN)
    return {
        "hole": hole,
        "shot": shot,
        "visit": visit,
        "club": club,
        "club_source": source,
        "distance_m": length_m if seen else math.nan,
        "path_m": 1.1 * length_m if seen else math.nan,
        "leave_m": GEOD.inv(lon1, lat1, pin_lon, pin_lat)[2] if seen else math.nan,
        "end_lie": "fairway" if seen else "lost",
        "end_sigma_m": sigma_m,
        "start_lon_deg": lon0,
        "start_lat_deg": lat0,
        "end_lon_deg": lon1,
        "end_lat_deg": lat1,
    }


def compare(shots, plan):
    return compare_round(pd.DataFrame(shots), plan, FRAME)


def one(start=(0, 0), target=(0, 160), end=(0, 160), *, tolerance_m=15.0, **options):
    plan = plan_of((1, 1, "5 wood", "tee", start, target, PIN), tolerance_m=tolerance_m)
    return compare([shot_of(1, 1, start, end, **options)], plan).iloc[0]


class TestOffsets:
    @pytest.mark.parametrize(
        ("end", "long_m", "right_m"),
        [((0, 170), 10, 0), ((0, 150), -10, 0), ((7, 160), 0, 7), ((-7, 160), 0, -7), ((-6, 152), -8, -6)],
    )
    def test_long_is_past_the_target_and_right_is_right(self, end, long_m, right_m):
        row = one(end=end)
        assert row["long_m"] == pytest.approx(long_m, abs=1e-3)
        assert row["right_m"] == pytest.approx(right_m, abs=1e-3)
        assert row["miss_m"] == pytest.approx(math.hypot(long_m, right_m), abs=1e-3)

    def test_right_stays_right_whichever_way_the_shot_goes(self):
        # Played south a finish to the west is right, played west one to the north is.
        assert one((0, 160), (0, 0), (-9, 0))["right_m"] == pytest.approx(9, abs=1e-3)
        assert one((0, 0), (-160, 0), (-160, 9))["right_m"] == pytest.approx(9, abs=1e-3)
        assert one((0, 0), (160, 0), (170, 9))["right_m"] == pytest.approx(-9, abs=1e-3)

    @hypothesis_settings(max_examples=40, deadline=None)
    @given(
        st.tuples(st.floats(-800, 800), st.floats(-800, 800)),
        st.floats(0, 2 * math.pi),
        st.floats(60, 230),
        st.floats(-60, 60),
        st.floats(-60, 60),
    )
    def test_offsets_are_those_of_the_geodesics(self, start, turn, length_m, ahead_m, aside_m):
        unit = np.array([math.sin(turn), math.cos(turn)])
        side = np.array([math.cos(turn), -math.sin(turn)])
        target = start + length_m * unit
        end = target + ahead_m * unit + aside_m * side
        row = one(start, tuple(target), tuple(end))
        (lon0, lat0), (lon1, lat1), (lon2, lat2) = lonlat(*start), lonlat(*target), lonlat(*end)
        # Derived: on the ellipsoid, from lengths and bearings alone, the triangle taken as flat: over 300 m its excess is
        # below 0.001 m.
        bearing, _, planned = GEOD.inv(lon0, lat0, lon1, lat1)
        other, _, played = GEOD.inv(lon0, lat0, lon2, lat2)
        _, _, missed = GEOD.inv(lon1, lat1, lon2, lat2)
        angle = math.radians(other - bearing)
        assert row["long_m"] == pytest.approx(played * math.cos(angle) - planned, abs=2e-3)
        assert row["right_m"] == pytest.approx(played * math.sin(angle), abs=2e-3)
        assert row["miss_m"] == pytest.approx(missed, abs=1e-3)
        assert row["long_m"] ** 2 + row["right_m"] ** 2 == pytest.approx(
            row["miss_m"] ** 2, rel=1e-9, abs=1e-9
        )

    def test_the_line_begins_where_the_shot_was_played_not_where_the_plan_had_it(self):
        # Planned up the line of play, played 30 m right of it: the line to the target leans to the left.
        plan = plan_of((1, 2, "5 wood", "layup", (0, 0), (0, 160), PIN))
        shots = [shot_of(1, 1, (0, -150), (30, 0)), shot_of(1, 2, (30, 0), (30, 160))]
        row = compare(shots, plan).iloc[0]
        lean = math.atan2(30, 160)
        # Derived: the finish is 30 m east of the target; along and across the leaning line that is 30 sin and 30 cos.
        assert row["long_m"] == pytest.approx(-30 * math.sin(lean), abs=1e-3)
        assert row["right_m"] == pytest.approx(30 * math.cos(lean), abs=1e-3)


class TestTolerance:
    @pytest.mark.parametrize(
        ("miss", "sigma_m", "within"),
        [
            (10, 2, "yes"),
            (20, 2, "no"),
            (13.5, 2, "unsure"),
            (16.5, 2, "unsure"),
            (12.9, 2, "yes"),
            (17.1, 2, "no"),
            (13.5, 1, "yes"),
            (16.5, 1, "no"),
            (1, 20, "unsure"),
        ],
    )
    def test_unsure_where_the_error_of_the_finish_decides(self, miss, sigma_m, within):
        # The tolerance is 15 m; the miss lies across the line, so that its length is exact.
        row = one(end=(miss, 160), sigma_m=sigma_m)
        assert row["within_tolerance"] == within
        assert row["tolerance_m"] == 15.0
        assert row["sigma_m"] == sigma_m


class TestFollowed:
    @pytest.mark.parametrize(
        ("degrees", "followed"),
        [(0, "yes"), (19.5, "yes"), (-19.5, "yes"), (20.5, "no"), (-20.5, "no"), (180, "no")],
    )
    def test_within_20_degrees_of_the_line(self, degrees, followed):
        angle = math.radians(degrees)
        assert one(end=(150 * math.sin(angle), 150 * math.cos(angle)))["followed"] == followed

    def test_another_club_does_not_follow(self):
        assert one(club="7 iron")["followed"] == "no"

    @pytest.mark.parametrize(
        ("source", "followed"),
        [("marked", "yes"), ("card", "yes"), ("inferred", "yes"), ("plan", ""), ("", "")],
    )
    def test_a_club_known_only_from_the_plan_proves_nothing(self, source, followed):
        assert one(source=source)["followed"] == followed

    def test_a_short_one_in_the_right_direction_follows(self):
        row = one(end=(0, 60))
        assert (row["followed"], row["within_tolerance"]) == ("yes", "no")


class TestRows:
    plan = plan_of(
        (1, 1, "5 wood", "tee", (0, 0), (0, 150), PIN),
        (1, 2, "7 iron", "layup", (0, 150), (0, 210), PIN),
        (1, 3, "sand wedge", "approach", (0, 210), (0, 300), PIN),
        (2, 1, "driver", "tee", (60, 0), (60, 180), (60, 300)),
    )

    def test_one_row_a_planned_shot_in_order(self):
        shots = [
            shot_of(2, 1, (60, 0), (60, 170), club="driver"),
            shot_of(1, 1, (0, 0), (0, 148)),
            shot_of(1, 2, (0, 148), (0, 212), club="7 iron"),
            shot_of(1, 3, (0, 212), (0, 299), club="sand wedge"),
        ]
        table = compare(shots, self.plan)
        assert tuple(table.columns) == COMPARISON_COLUMNS
        assert [name for name in table.columns if name in CONTRACT] == list(CONTRACT)
        assert list(zip(table["hole"], table["shot"], strict=True)) == [(1, 1), (1, 2), (1, 3), (2, 1)]
        assert table["long_m"].tolist() == pytest.approx([-2, 2, -1, -10], abs=1e-3)
        assert table["planned_club"].tolist() == ["5 wood", "7 iron", "sand wedge", "driver"]
        assert table["planned_distance_m"].tolist() == pytest.approx([150, 60, 90, 180])
        assert table["planned_leave_m"].tolist() == pytest.approx([150, 90, 0, 120])
        # Both lengths of the shot stand beside the planned one.
        assert table["distance_m"][0] == pytest.approx(148, abs=1e-3)
        assert table["path_m"][0] == pytest.approx(1.1 * 148, abs=1e-3)
        assert table["leave_m"].tolist()[:3] == pytest.approx([152, 88, 1], abs=1e-3)

    def test_a_plan_for_a_hole_not_played_has_no_measure(self):
        table = compare([shot_of(1, 1, (0, 0), (0, 148))], self.plan)
        assert table.loc[table["hole"] == 2, "miss_m"].notna().sum() == 0

    def test_on_the_green_early_says_so(self):
        table = compare([shot_of(1, 1, (0, 0), (0, 150)), shot_of(1, 2, (0, 150), (0, 299))], self.plan)
        assert table["note"][2] == "on the green before"
        assert table.loc[2, ["club", "distance_m", "miss_m"]].isna().all()
        assert (table["within_tolerance"][2], table["followed"][2]) == ("", "")

    def test_a_stroke_that_left_no_stop_is_not_the_green(self):
        table = compare([shot_of(1, 1, (0, 0), (0, 150)), shot_of(1, 3, (0, 210), (0, 299))], self.plan)
        assert table["note"].tolist()[:3] == ["", "not seen in the track", ""]

    def test_a_hole_picked_up_is_not_the_green(self):
        last = shot_of(1, 1, (0, 0), (0, 150), seen=False) | {"end_lie": "picked_up"}
        assert compare([last], self.plan)["note"].tolist()[1:3] == ["picked up before", "picked up before"]

    def test_off_the_plan_says_since_when_and_measures_no_more(self):
        # Topped: after 40 m the second target, 60 m beyond the first, is 170 m away and the third 260 m.
        shots = [
            shot_of(1, 1, (0, 0), (0, 40)),
            shot_of(1, 2, (0, 40), (0, 150), club="7 iron"),
            shot_of(1, 3, (0, 150), (0, 230), club="sand wedge"),
            shot_of(1, 4, (0, 230), (0, 299), club="sand wedge"),
        ]
        table = compare(shots, self.plan)
        first = table[table["hole"] == 1]
        assert first["miss_m"].notna().tolist() == [True, False, False]
        assert first["note"].tolist() == ["", "off the plan since shot 2", "off the plan since shot 2"]
        assert first["followed"].tolist() == ["yes", "no", "no"]
        assert first["club"].tolist() == ["5 wood", "7 iron", "sand wedge"]
        assert first["within_tolerance"].tolist() == ["no", "", ""]

    def test_off_the_plan_a_club_known_only_from_it_still_proves_nothing(self):
        shots = [
            shot_of(1, 1, (0, 0), (0, 40)),
            shot_of(1, 2, (0, 40), (0, 150), club="7 iron", source="plan"),
        ]
        assert compare(shots, self.plan)["followed"].tolist()[:2] == ["yes", ""]

    def test_a_lost_ball_has_no_finish(self):
        shots = [shot_of(1, 1, (0, 0), (40, 130), seen=False), shot_of(1, 2, (0, 0), (0, 150))]
        row = compare(shots, self.plan).iloc[0]
        assert row["note"] == "finish not seen"
        assert row["end_lie"] == "lost"
        assert row[["long_m", "right_m", "miss_m"]].isna().all()
        assert (row["within_tolerance"], row["followed"]) == ("", "")

    def test_a_hole_played_twice_is_compared_once_and_not_mixed(self):
        shots = [
            shot_of(1, 1, (0, 0), (0, 150)),
            shot_of(1, 2, (0, 150), (0, 299), club="7 iron"),
            shot_of(1, 1, (0, 0), (0, 100), visit=1),
            shot_of(1, 2, (0, 100), (0, 205), visit=1),
            shot_of(1, 3, (0, 205), (0, 299), club="sand wedge", visit=1),
        ]
        first = compare(shots, self.plan)
        assert first["distance_m"].notna().tolist()[:3] == [True, True, False]
        assert first["note"][2] == "on the green before"

    def test_a_plan_without_positions_compares_clubs_and_lengths_only(self):
        plan = self.plan.assign(target_lon_deg=math.nan, target_lat_deg=math.nan)
        row = compare([shot_of(1, 1, (0, 0), (0, 150))], plan).iloc[0]
        assert row["distance_m"] == pytest.approx(150, abs=1e-3)
        assert pd.isna(row["miss_m"])

    def test_the_input_stays(self):
        shots = pd.DataFrame([shot_of(1, 1, (0, 0), (0, 40))])
        before, plan = shots.copy(), self.plan.copy()
        compare_round(shots, plan, FRAME)
        pd.testing.assert_frame_equal(shots, before)
        pd.testing.assert_frame_equal(plan, self.plan)


class TestOtherTee:
    def test_counts_holes_begun_elsewhere_than_planned(self):
        plan = plan_of(
            (1, 1, "5 wood", "tee", (0, -40), (0, 160), PIN),
            (1, 2, "sand wedge", "approach", (0, 160), (0, 300), PIN),
            (2, 1, "5 wood", "tee", (90, 10), (90, 160), PIN),
            (4, 1, "5 wood", "tee", (200, 0), (200, 160), PIN),
        )
        shots = pd.DataFrame(
            [
                shot_of(1, 1, (0, 0), (0, 150)),
                shot_of(1, 2, (0, 150), (0, 299)),
                shot_of(2, 1, (90, 0), (90, 150)),
                shot_of(3, 1, (150, 0), (150, 150)),
            ]
        )
        elsewhere, holes, apart_m = plan_starts_elsewhere(shots, plan)
        # Derived: of the two holes in both, one begins 40 m and one 10 m away; the median is between.
        assert (elsewhere, holes) == (1, 2)
        assert apart_m == pytest.approx(25.0, abs=1e-3)

    def test_a_plan_without_positions_says_nothing(self):
        plan = plan_of((1, 1, "5 wood", "tee", (0, -40), (0, 160), PIN)).assign(start_lon_deg=math.nan)
        elsewhere, holes, apart_m = plan_starts_elsewhere(pd.DataFrame([shot_of(1, 1, (0, 0), (0, 9))]), plan)
        assert (elsewhere, holes) == (0, 0)
        assert math.isnan(apart_m)
