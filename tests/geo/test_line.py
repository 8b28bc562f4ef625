import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geo.errors import InputError
from geo.line import along_across, offsets_from_target, path_length_m, point_at

DOGLEG = np.array([(0.0, 0.0), (0.0, 200.0), (150.0, 350.0)])


class TestPathLength:
    time = np.array([0.0, 10.0, 20.0, 60.0, 70.0])
    east = np.array([0.0, 10.0, 10.0, 10.0, 20.0])
    north = np.array([0.0, 0.0, 10.0, 30.0, 30.0])

    def length(self, start, end, **more):
        return path_length_m(self.time, self.east, self.north, start, end, **more)

    def test_by_hand(self):
        # Derived: steps of 10, 10, 20 and 10 m; half of the first and a quarter of the third.
        assert self.length(0.0, 70.0) == pytest.approx(50.0)
        assert self.length(5.0, 30.0) == pytest.approx(5.0 + 10.0 + 5.0)

    def test_whole_is_the_sum_of_its_parts(self):
        cuts = np.array([0.0, 3.0, 10.0, 24.0, 61.5, 70.0])
        assert self.length(cuts[:-1], cuts[1:]).sum() == pytest.approx(50.0)

    def test_within_one_step(self):
        assert self.length(2.0, 4.0) == pytest.approx(2.0)
        assert self.length(4.0, 4.0) == 0.0

    def test_a_gap_with_movement_has_no_length(self):
        part = [0, 0, 0, 1, 1]
        start, end = (
            np.array([0.0, 0.0, 25.0, 60.0, 30.0, 20.0]),
            np.array([20.0, 25.0, 70.0, 70.0, 40.0, 60.0]),
        )
        unknown = np.isnan(self.length(start, end, part=part))
        assert unknown.tolist() == [False, True, True, False, True, True]

    def test_outside_backwards_and_unknown(self):
        assert math.isnan(self.length(-1.0, 20.0))
        assert math.isnan(self.length(0.0, 70.1))
        assert math.isnan(self.length(20.0, 10.0))
        assert math.isnan(self.length(np.nan, 10.0))
        assert math.isnan(path_length_m([], [], [], 0.0, 1.0))

    def test_an_unknown_position_only_spoils_its_own_steps(self):
        east = self.east.copy()
        east[2] = np.nan
        assert path_length_m(self.time, east, self.north, 0.0, 10.0) == pytest.approx(10.0)
        assert path_length_m(self.time, east, self.north, 60.0, 70.0) == pytest.approx(10.0)
        assert math.isnan(path_length_m(self.time, east, self.north, 0.0, 70.0))

    def test_times_must_increase(self):
        with pytest.raises(InputError, match="do not increase"):
            path_length_m([0.0, 0.0], [0.0, 1.0], [0.0, 1.0], 0.0, 0.0)
        with pytest.raises(InputError, match="differ in length"):
            path_length_m([0.0, 1.0], [0.0], [0.0, 1.0], 0.0, 0.0)
        with pytest.raises(InputError, match="part numbers"):
            self.length(0.0, 1.0, part=[0])


class TestAlongAcross:
    def test_by_hand(self):
        # Derived: beside the first leg, beside the second (45 degrees), before the start, past the end.
        root = math.sqrt(0.5)
        east = [5.0, 100.0 + 10.0 * root, -3.0, 150.0 + 20.0 * root + 2.0 * root]
        north = [80.0, 300.0 - 10.0 * root, -12.0, 350.0 + 20.0 * root - 2.0 * root]
        along_m, across_m = along_across(DOGLEG, east, north)
        whole = 200.0 + 150.0 * math.sqrt(2.0)
        np.testing.assert_allclose(
            along_m, [80.0, 200.0 + 100.0 * math.sqrt(2.0), -12.0, whole + 20.0], atol=1e-9
        )
        np.testing.assert_allclose(across_m, [5.0, 10.0, -3.0, 2.0], atol=1e-9)

    def test_outside_of_the_corner(self):
        along_m, across_m = along_across(DOGLEG, -4.0, 203.0)
        assert along_m == pytest.approx(200.0)
        assert across_m == pytest.approx(-5.0)

    def test_nearest_place_against_shapely(self):
        rng = np.random.default_rng(5)
        line = np.cumsum(rng.uniform(20, 100, (6, 2)), axis=0)
        east, north = rng.uniform(0, 400, (2, 300))
        along_m, across_m = along_across(line, east, north)
        points, shape = shapely.points(east, north), shapely.LineString(line)
        inside = (along_m > 0) & (along_m < shape.length)
        assert inside.sum() > 150
        # Source: shapely 2 (GEOS) linear referencing and distance.
        np.testing.assert_allclose(
            along_m[inside], shapely.line_locate_point(shape, points)[inside], atol=1e-9
        )
        np.testing.assert_allclose(
            np.abs(across_m[inside]), shapely.distance(shape, points)[inside], atol=1e-9
        )

    def test_a_line_that_comes_back_keeps_its_legs(self):
        # A long first leg going on for ever would take the positions beside the last one.
        hook = [(0.0, 0.0), (0.0, 100.0), (30.0, 100.0), (30.0, -100.0)]
        along_m, across_m = along_across(hook, 25.0, -50.0)
        assert along_m == pytest.approx(280.0)
        assert across_m == pytest.approx(5.0)

    @given(st.floats(-300, 700), st.floats(-1, 1))
    def test_a_place_on_the_line_comes_back(self, along, side):
        east_m, north_m = point_at(DOGLEG, along)
        back_m, across_m = along_across(DOGLEG, east_m, north_m)
        assert back_m == pytest.approx(along, abs=1e-6)
        assert across_m == pytest.approx(0.0, abs=1e-6)
        east_m, north_m = point_at(DOGLEG[:2], along)
        assert along_across(DOGLEG[:2], east_m + side, north_m) == pytest.approx((along, side), abs=1e-6)

    def test_repeated_corners_are_one(self):
        repeated = np.repeat(DOGLEG, 2, axis=0)
        assert along_across(repeated, 5.0, 80.0) == along_across(DOGLEG, 5.0, 80.0)

    def test_scalars_arrays_and_unknowns(self):
        assert isinstance(along_across(DOGLEG, 1.0, 1.0)[0], float)
        along_m, across_m = along_across(DOGLEG, [np.nan, 1.0], [1.0, np.nan])
        assert np.isnan(along_m).all()
        assert np.isnan(across_m).all()
        assert along_across(DOGLEG, [], [])[0].shape == (0,)

    @pytest.mark.parametrize(
        "line", [[], [(0.0, 0.0)], [(1.0, 1.0), (1.0, 1.0)], [(0.0, 0.0), (np.nan, 1.0)]]
    )
    def test_no_line(self, line):
        with pytest.raises(InputError, match="a line needs"):
            along_across(line, 0.0, 0.0)
        with pytest.raises(InputError, match="a line needs"):
            point_at(line, 0.0)


class TestPointAt:
    def test_by_hand(self):
        east_m, north_m = point_at(DOGLEG, [-10.0, 0.0, 200.0, 200.0 + 150.0 * math.sqrt(2.0)])
        np.testing.assert_allclose(east_m, [0.0, 0.0, 0.0, 150.0], atol=1e-9)
        np.testing.assert_allclose(north_m, [-10.0, 0.0, 200.0, 350.0], atol=1e-9)

    def test_against_shapely(self):
        line = shapely.LineString(DOGLEG)
        along = np.linspace(0.0, line.length, 50)
        # Source: shapely 2 (GEOS), line_interpolate_point.
        expected = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
        np.testing.assert_allclose(np.column_stack(point_at(DOGLEG, along)), expected, atol=1e-9)

    def test_unknown(self):
        assert math.isnan(point_at(DOGLEG, math.nan)[0])


class TestOffsetsFromTarget:
    @given(st.floats(0, 360), st.floats(-50, 50), st.floats(-50, 50))
    def test_turning_everything_changes_nothing(self, bearing, long_m, right_m):
        ahead = np.array([math.sin(math.radians(bearing)), math.cos(math.radians(bearing))])
        beside = np.array([ahead[1], -ahead[0]])
        start = np.array([300.0, -200.0])
        target = start + 150.0 * ahead
        out = offsets_from_target(start, target, target + long_m * ahead + right_m * beside)
        # Derived: along and across are perpendicular, so their squares add up to the miss.
        assert out == pytest.approx((long_m, right_m, math.hypot(long_m, right_m)), abs=1e-9)

    def test_rows(self):
        long_m, right_m, miss_m = offsets_from_target(
            (0.0, 0.0), [(100.0, 0.0), (0.0, 0.0)], [(110.0, -5.0), (3.0, 4.0)]
        )
        assert long_m[0] == pytest.approx(10.0)
        # South of an eastward line is to its right.
        assert right_m[0] == pytest.approx(5.0)
        assert math.isnan(long_m[1])
        assert math.isnan(right_m[1])
        assert miss_m[1] == pytest.approx(5.0)

    def test_unknown(self):
        assert np.isnan(offsets_from_target((0.0, 0.0), (0.0, 100.0), (math.nan, 1.0))).all()
