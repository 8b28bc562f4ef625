import math

import numpy as np
import pyproj
import pytest
import shapely

from geo.errors import InputError
from geo.frame import LocalFrame
from geo.geodesic import destination, distance_bearing
from geo.line import offsets_from_target
from tests.geo.test_geodesic import BUNINYONG, FLINDERS_BUNINYONG_M, FLINDERS_PEAK

CENTRES = [
    (0.0, 0.0),
    (-98.3, 31.2),
    (5.1, 52.0),
    (3.0, 60.0),
    (144.0, -38.0),
    (180.0, 52.0),
    (-179.9999, -17.0),
    (10.0, 78.0),
]


def shots_near(centre, rng, shots=500):
    """Invented shots of 50 to 300 m that start within 1.5 km of the centre."""
    start = destination(*centre, rng.uniform(0, 360, shots), 1500 * np.sqrt(rng.uniform(0, 1, shots)))
    length_m, bearing_deg = rng.uniform(50, 300, shots), rng.uniform(0, 360, shots)
    return start, destination(*start, bearing_deg, length_m), length_m


@pytest.mark.parametrize("centre", CENTRES)
def test_shots_are_as_long_as_the_geodesic(centre):
    start, end, length_m = shots_near(centre, np.random.default_rng(3))
    frame = LocalFrame(*centre)
    (start_e, start_n), (end_e, end_n) = frame.to_metres(*start), frame.to_metres(*end)
    np.testing.assert_allclose(np.hypot(end_e - start_e, end_n - start_n), length_m, rtol=0, atol=1e-3)


def test_the_pole_is_a_place_like_any_other():
    frame = LocalFrame(0.0, 90.0)
    lon, lat = destination(0.0, 90.0, np.arange(0.0, 360.0, 45.0), 200.0)
    np.testing.assert_allclose(np.hypot(*frame.to_metres(lon, lat)), 200.0, atol=1e-3)


@pytest.mark.parametrize("centre", CENTRES)
def test_there_and_back(centre):
    frame = LocalFrame(*centre)
    rng = np.random.default_rng(4)
    east, north = rng.uniform(-3000, 3000, (2, 200))
    np.testing.assert_allclose(frame.to_metres(*frame.to_degrees(east, north)), (east, north), atol=1e-6)
    lon, _ = frame.to_degrees(east, north)
    assert ((lon >= -180) & (lon < 180)).all()


def test_a_utm_length_is_not_the_length():
    # Source: ICSM, GDA Technical Manual v2.4 (2014): plane distance in MGA94 zone 55 of the test line 54 992.279 m.
    utm = pyproj.Transformer.from_crs("EPSG:4283", "EPSG:28355", always_xy=True)
    (east1, north1), (east2, north2) = utm.transform(*FLINDERS_PEAK), utm.transform(*BUNINYONG)
    plane_m = math.hypot(east2 - east1, north2 - north1)
    assert plane_m == pytest.approx(54_992.279, abs=1e-3)
    assert plane_m - FLINDERS_BUNINYONG_M == pytest.approx(20.008, abs=1e-3)
    frame = LocalFrame.around(*zip(FLINDERS_PEAK, BUNINYONG, strict=True))
    local = np.subtract(frame.to_metres(*BUNINYONG), frame.to_metres(*FLINDERS_PEAK))
    # Derived: 22 km either side of the central meridian, the mean of (e / R)^2 / 2 is 2.0e-6, so 0.11 m.
    assert math.hypot(*local) == pytest.approx(FLINDERS_BUNINYONG_M, abs=0.15)


def test_grid_north_would_turn_a_shot_sideways():
    # Source: UTM grid convergence 3 degrees off the central meridian at 52 N is 2.37 degrees (computed with
    # pyproj 3.7.2), so that mixing grid and true bearing puts a 150 m shot 6.2 m sideways.
    start, target = (6.0, 52.0), destination(6.0, 52.0, 0.0, 150.0)
    utm = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32631", always_xy=True)
    grid_start, grid_target = np.array(utm.transform(*start)), np.array(utm.transform(*target))
    due_grid_north = grid_start + np.array([0.0, 150.0])
    _, right_m, _ = offsets_from_target(grid_start, due_grid_north, grid_target)
    assert abs(right_m) == pytest.approx(6.2, abs=0.05)
    frame = LocalFrame(6.001, 52.001)
    local_start = np.array(frame.to_metres(*start))
    _, right_m, _ = offsets_from_target(
        local_start, local_start + np.array([0.0, 150.0]), np.array(frame.to_metres(*target))
    )
    assert right_m == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("centre", CENTRES[1:])
@pytest.mark.parametrize("side", [-90.0, 90.0])
def test_the_sign_of_right_against_the_geodesic(centre, side):
    # Derived: from the target, the bearing of the line plus 90 degrees is to the right, minus 90 to the left.
    frame = LocalFrame(*centre)
    start = destination(*centre, 200.0, 1200.0)
    for bearing_deg in np.arange(0.0, 360.0, 30.0):
        target = destination(*start, bearing_deg, 150.0)
        line_deg = (distance_bearing(*target, *start)[1] + 180.0) % 360.0
        end = destination(*target, line_deg + side, 12.0)
        xy = [np.array(frame.to_metres(*place)) for place in (start, target, end)]
        long_m, right_m, miss_m = offsets_from_target(*xy)
        assert long_m == pytest.approx(0.0, abs=1e-3)
        assert right_m == pytest.approx(math.copysign(12.0, side), abs=1e-3)
        assert miss_m == pytest.approx(12.0, abs=1e-3)


def test_web_mercator_must_not_measure():
    start, end = (5.0, 52.0), destination(5.0, 52.0, 90.0, 150.0)
    web = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    # Source: computed with pyproj 3.7.2: 150 m at 52 degrees read 243.13 m in EPSG:3857.
    assert math.dist(web.transform(*start), web.transform(*end)) == pytest.approx(243.13, abs=0.1)
    frame = LocalFrame(5.0, 52.0)
    assert math.dist(frame.to_metres(*start), frame.to_metres(*end)) == pytest.approx(150.0, abs=1e-3)


def test_longitude_comes_first_and_north_is_up():
    frame = LocalFrame(5.0, 52.0)
    # Source: WGS 84; one degree of longitude at 52 degrees is 68 677.475 m, of latitude 111 267.347 m.
    east_m, north_m = frame.to_metres(5.01, 52.0)
    assert east_m == pytest.approx(686.77, abs=0.02)
    assert abs(north_m) < 0.1
    east_m, north_m = frame.to_metres(5.0, 52.01)
    assert east_m == pytest.approx(0.0, abs=1e-6)
    assert north_m == pytest.approx(1112.67, abs=0.1)


@pytest.mark.parametrize("centre", CENTRES)
def test_scale_error_against_the_projection_library(centre):
    east_m = np.array([-20_000.0, -1500.0, 0.0, 1500.0, 20_000.0])
    frame = LocalFrame(*centre)
    lon, lat = frame.to_degrees(east_m, 0.0)
    projection = pyproj.Proj(f"+proj=tmerc +lat_0={centre[1]} +lon_0={centre[0]} +k=1 +ellps=WGS84")
    scale = projection.get_factors(lon, lat).meridional_scale
    np.testing.assert_allclose(frame.scale_error(east_m), np.asarray(scale) - 1.0, atol=1e-9)


def test_utm_scale_at_its_meridian():
    # Source: EPSG 16000 series, scale 0.9996: a 200 yd shot (182.88 m) reads 182.8068 m there, ours 182.88.
    utm = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32631", always_xy=True)
    start, end = (3.0, 52.0), destination(3.0, 52.0, 0.0, 182.88)
    assert math.dist(utm.transform(*start), utm.transform(*end)) == pytest.approx(182.8068, abs=1e-4)
    frame = LocalFrame(*start)
    assert math.dist(frame.to_metres(*start), frame.to_metres(*end)) == pytest.approx(182.88, abs=1e-4)


class TestShapesOfInput:
    def test_scalars_arrays_and_empty(self):
        frame = LocalFrame(5.0, 52.0)
        assert isinstance(frame.to_metres(5.0, 52.0)[0], float)
        assert isinstance(frame.to_degrees(0.0, 0.0)[0], float)
        assert isinstance(frame.scale_error(100.0), float)
        assert frame.to_metres(np.full((2, 3), 5.0), 52.0)[0].shape == (2, 3)
        assert frame.to_metres([], [])[0].shape == (0,)

    def test_unknown_stays_unknown(self):
        frame = LocalFrame(5.0, 52.0)
        for axis in frame.to_metres([np.nan, 5.0, 5.0], [52.0, np.nan, 52.0]):
            assert np.isnan(axis).tolist() == [True, True, False]
        for axis in frame.to_degrees([np.nan, 1.0, 1.0], [1.0, np.nan, 1.0]):
            assert np.isnan(axis).tolist() == [True, True, False]

    def test_where_the_projection_has_no_value_is_no_number(self):
        # The library says inf there.
        east_m, north_m = LocalFrame(5.0, 52.0).to_metres([95.0, 5.0], [0.0, 52.0])
        assert np.isnan(east_m).tolist() == [True, False]
        assert np.isnan(north_m).tolist() == [True, False]
        assert np.isfinite(LocalFrame(5.0, 52.0).to_metres(-175.0, -50.0)).all()

    @pytest.mark.parametrize("position", [(5.0, 100.0), (5.0, -90.01), (361.0, 52.0), (math.inf, 52.0)])
    def test_nowhere_on_earth(self, position):
        with pytest.raises(InputError, match="is not on earth"):
            LocalFrame(5.0, 52.0).to_metres(*position)
        with pytest.raises(InputError):
            LocalFrame(*position)

    def test_the_centre_must_be_known(self):
        with pytest.raises(InputError, match="centre of a frame"):
            LocalFrame(math.nan, 52.0)
        with pytest.raises(InputError, match="no position is known"):
            LocalFrame.around([math.nan], [52.0])


class TestAround:
    def test_both_sides_of_the_antimeridian(self):
        frame = LocalFrame.around([179.9, -179.9], [52.0, 52.0])
        assert abs(frame.lon_deg) == pytest.approx(180.0, abs=1e-9)

    def test_wild_positions_do_not_pull(self):
        frame = LocalFrame.around([5.0, 5.001, 5.002, 0.0], [52.0, 52.001, 52.002, 0.0])
        assert abs(frame.lat_deg - 52.001) < 0.001
        assert abs(frame.lon_deg - 5.001) < 0.001


class TestGeometries:
    def test_there_and_back(self):
        frame = LocalFrame(-180.0, 10.0)
        ring = shapely.Polygon([(179.999, 10), (-179.999, 10), (-179.999, 10.001), (179.999, 10.001)])
        metres = frame.geometry_to_metres(ring)
        # Derived: 0.002 degrees of longitude at 10 degrees, 0.001 of latitude: 219.3 m by 110.6 m.
        assert metres.area == pytest.approx(219.3 * 110.6, rel=1e-3)
        assert shapely.equals_exact(frame.geometry_to_degrees(metres), ring, tolerance=1e-9)

    def test_arrays_none_empty_and_heights(self):
        frame = LocalFrame(5.0, 52.0)
        out = frame.geometry_to_metres(np.array([shapely.Point(5, 52, 30), None, shapely.LineString()]))
        assert out[0].coords[0] == pytest.approx((0.0, 0.0))
        assert not out[0].has_z
        assert out[1] is None
        assert out[2].is_empty

    def test_nowhere_on_earth(self):
        with pytest.raises(InputError, match="latitude 152"):
            LocalFrame(5.0, 52.0).geometry_to_metres(shapely.Point(5, 152))


def test_a_frame_of_numpy_numbers_is_the_same_frame():
    # numpy 2 writes np.float64(14.35), which the projection library would read as nothing.
    frame = LocalFrame(np.float64(14.35), np.float64(45.77))
    assert frame.to_metres(14.35, 45.77) == pytest.approx((0.0, 0.0), abs=1e-6)
