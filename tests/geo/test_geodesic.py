import math

import numpy as np
import pytest
from geographiclib.test import test_geodesic as published

from geo.errors import InputError
from geo.geodesic import _bearing, destination, distance_bearing, line_length_m

# Source: C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013), test set as shipped with geographiclib;
# columns: latitude, longitude, azimuth at both ends, length, and more.
KARNEY = np.array(published.GeodesicTest.testcases)


def degrees(sign, degree, minute, second):
    return sign * (degree + minute / 60 + second / 3600)


# Source: ICSM, GDA Technical Manual v2.4 (2014), test line Flinders Peak to Buninyong, on GRS 80; WGS 84 differs
# from it by less than 1e-7 m over this length.
FLINDERS_PEAK = (degrees(1, 144, 25, 29.52440), degrees(-1, 37, 57, 3.72030))
BUNINYONG = (degrees(1, 143, 55, 35.38390), degrees(-1, 37, 39, 10.15610))
FLINDERS_BUNINYONG_M = 54_972.271


class TestDistanceBearing:
    def test_the_australian_test_line(self):
        distance_m, bearing_deg = distance_bearing(*FLINDERS_PEAK, *BUNINYONG)
        _, back_deg = distance_bearing(*BUNINYONG, *FLINDERS_PEAK)
        assert distance_m == pytest.approx(FLINDERS_BUNINYONG_M, abs=1e-3)
        # Source: as the length, 306 deg 52' 05.37" and back 127 deg 10' 25.07".
        assert bearing_deg == pytest.approx(degrees(1, 306, 52, 5.37), abs=0.01 / 3600)
        assert back_deg == pytest.approx(degrees(1, 127, 10, 25.07), abs=0.01 / 3600)

    def test_all_rows_of_karney(self):
        assert len(KARNEY) == 20
        lat1, lon1, azimuth1, lat2, lon2, _, length_m = KARNEY[:, :7].T
        distance_m, bearing_deg = distance_bearing(lon1, lat1, lon2, lat2)
        np.testing.assert_allclose(distance_m, length_m, rtol=0, atol=1e-6)
        turn = (bearing_deg - azimuth1 + 180) % 360 - 180
        np.testing.assert_allclose(turn, 0, atol=1e-10)
        assert ((bearing_deg >= 0) & (bearing_deg < 360)).all()

    @pytest.mark.parametrize(
        ("lat_deg", "north_m", "east_m"),
        [
            # Source: WGS 84 defining parameters; one degree of latitude centred at, and one of longitude along, each
            # latitude, computed with pyproj 3.7.2 and geographiclib 2.1.
            (0.0, 110_574.304, 111_319.491),
            (45.0, 111_131.778, 78_846.335),
            (52.0, 111_267.347, 68_677.475),
        ],
    )
    def test_lengths_of_a_degree(self, lat_deg, north_m, east_m):
        assert distance_bearing(5, lat_deg - 0.5, 5, lat_deg + 0.5)[0] == pytest.approx(north_m, abs=0.01)
        assert distance_bearing(5, lat_deg, 6, lat_deg)[0] == pytest.approx(east_m, abs=0.01)

    def test_quarter_meridian(self):
        # Source: Karney (2011), WGS 84: 10 001 965.729 m from equator to pole.
        assert distance_bearing(0, 0, 0, 90)[0] == pytest.approx(10_001_965.729, abs=1e-3)

    def test_a_sphere_is_not_enough(self):
        # Derived: 150 m north at the equator is 0.84 m longer on the sphere of radius 6 371 008.8 m.
        lat_deg = math.degrees(150.84 / 6_371_008.8)
        assert distance_bearing(0, 0, 0, lat_deg)[0] == pytest.approx(150.0, abs=0.01)

    def test_a_point_has_no_bearing_to_itself(self):
        for lon, lat in [(5.0, 52.0), (0.0, 0.0), (180.0, 0.0)]:
            distance_m, bearing_deg = distance_bearing(lon, lat, lon, lat)
            assert distance_m == 0.0
            assert math.isnan(bearing_deg)
        assert math.isnan(distance_bearing(180.0, 10.0, -180.0, 10.0)[1])

    def test_north_is_zero_and_never_360(self):
        assert distance_bearing(5, 52, 5, 52.001)[1] == 0.0
        # A hair west of north is the case where a plain remainder answers 360.
        assert np.mod(-1e-15, 360.0) == 360.0
        assert _bearing(np.array([-1e-15, -0.0, -90.0, 180.0])).tolist() == [0.0, 0.0, 270.0, 180.0]
        assert math.copysign(1.0, _bearing(np.array([-0.0]))[0]) == 1.0

    def test_scalars_arrays_and_shapes(self):
        assert isinstance(distance_bearing(0, 0, 1, 0)[0], float)
        assert distance_bearing([0], [0], [1], [0])[0].shape == (1,)
        assert distance_bearing(np.zeros((2, 3)), 0, 1, 0)[1].shape == (2, 3)
        assert distance_bearing([], [], [], [])[0].shape == (0,)

    def test_unknown_stays_unknown(self):
        distance_m, bearing_deg = distance_bearing(
            [np.nan, 0, 0, 0, 0], [0, np.nan, 0, 0, 0], [1, 1, np.nan, 1, 1], [0, 0, 0, np.nan, 0]
        )
        assert np.isnan(distance_m).tolist() == [True] * 4 + [False]
        assert np.isnan(bearing_deg).tolist() == [True] * 4 + [False]
        assert math.isnan(distance_bearing(np.nan, 0, 1, 0)[0])

    @pytest.mark.parametrize("position", [(0, 90.5), (0, -100), (0, math.inf), (400, 0), (math.inf, 0)])
    def test_nowhere_on_earth(self, position):
        with pytest.raises(InputError, match="is not on earth"):
            distance_bearing(*position, 0, 0)
        with pytest.raises(InputError, match="is not on earth"):
            distance_bearing(0, 0, *position)

    def test_the_message_quotes_the_number(self):
        with pytest.raises(InputError) as caught:
            distance_bearing(0, [10, 100], 0, 0)
        assert str(caught.value).startswith("latitude 100.0 is not on earth.")
        assert "\n" not in str(caught.value)


class TestDestination:
    def test_all_rows_of_karney(self):
        lat1, lon1, azimuth1, lat2, lon2, _, length_m = KARNEY[:, :7].T
        lon_deg, lat_deg = destination(lon1, lat1, azimuth1, length_m)
        np.testing.assert_allclose(lat_deg, lat2, atol=1e-10)
        np.testing.assert_allclose((lon_deg - lon2 + 180) % 360, 180, atol=1e-10)

    def test_there_and_back(self):
        rng = np.random.default_rng(1)
        lon, lat = rng.uniform(-180, 180, 200), rng.uniform(-85, 85, 200)
        bearing, distance = rng.uniform(0, 360, 200), rng.uniform(1, 300, 200)
        distance_m, bearing_deg = distance_bearing(lon, lat, *destination(lon, lat, bearing, distance))
        np.testing.assert_allclose(distance_m, distance, atol=1e-6)
        np.testing.assert_allclose((bearing_deg - bearing + 180) % 360, 180, atol=1e-4)

    def test_backwards_is_the_other_way(self):
        np.testing.assert_allclose(destination(5, 52, 30, -200), destination(5, 52, 210, 200), atol=1e-12)

    def test_across_the_antimeridian(self):
        lon_deg, _ = destination(179.999, 52, 90, 137)
        assert lon_deg == pytest.approx(-179.999, abs=1e-4)

    def test_longitude_180_is_written_as_minus_180(self):
        # Source: GPX 1.1 schema, longitudeType: -180 inclusive to 180 exclusive.
        assert destination(180.0, 10.0, 0.0, 100.0)[0] == -180.0

    def test_scalars_and_unknowns(self):
        assert isinstance(destination(0, 0, 90, 100)[0], float)
        assert destination([], [], [], [])[0].shape == (0,)
        for row in np.where(np.eye(4) > 0, np.nan, 1.0):
            lon_deg, lat_deg = destination(*row)
            assert math.isnan(lon_deg)
            assert math.isnan(lat_deg)

    def test_nowhere_on_earth(self):
        with pytest.raises(InputError, match="latitude 91"):
            destination(0, 91, 0, 1)


class TestLineLength:
    def test_the_parts_add_up(self):
        rng = np.random.default_rng(2)
        lon, lat = 5 + rng.normal(0, 1e-3, 50), 52 + rng.normal(0, 1e-3, 50)
        whole = line_length_m(lon, lat)
        assert whole == pytest.approx(
            line_length_m(lon[:20], lat[:20]) + line_length_m(lon[19:], lat[19:]), abs=1e-6
        )

    def test_one_leg_is_the_geodesic(self):
        lon, lat = zip(FLINDERS_PEAK, BUNINYONG, strict=True)
        assert line_length_m(lon, lat) == pytest.approx(FLINDERS_BUNINYONG_M, abs=1e-3)

    def test_too_short_and_unknown(self):
        assert line_length_m([], []) == 0.0
        assert line_length_m([5.0], [52.0]) == 0.0
        assert math.isnan(line_length_m([0, np.nan, 1], [0, 0, 0]))
