import time

import numpy as np
import pandas as pd
import pytest
import shapely

from geo.clean import CleanSettings, keep_near, remove_jumps, split_parts
from geo.errors import InputError
from geo.frame import LocalFrame
from geo.geodesic import destination, distance_bearing

# An invented place in the open sea.
FRAME = LocalFrame(-30.0, 45.0)


def table(time_s, east_m, north_m, **columns):
    lon, lat = FRAME.to_degrees(east_m, north_m)
    start = pd.Timestamp("2026-05-01T08:00:00Z")
    when = start + pd.to_timedelta(np.asarray(time_s), unit="s")
    return pd.DataFrame({"time": when, "lon_deg": lon, "lat_deg": lat, **columns})


def walk(seconds=600, speed_mps=1.3, rng=None):
    """An invented walk east, 1 Hz, with an error that wanders."""
    time_s = np.arange(float(seconds))
    east, north = speed_mps * time_s, np.zeros(seconds)
    if rng is not None:
        wander = np.zeros((seconds, 2))
        for row in range(1, seconds):
            wander[row] = 0.99 * wander[row - 1] + rng.normal(0.0, 3.0 * np.sqrt(1 - 0.99**2), 2)
        east, north = east + wander[:, 0], north + wander[:, 1]
    return time_s, east, north


def left_out(result, time_s):
    start = pd.Timestamp("2026-05-01T08:00:00Z")
    kept = set(np.round((result.points["time"] - start).dt.total_seconds(), 3))
    return [float(t) for t in time_s if round(float(t), 3) not in kept]


class TestNothingToDo:
    # Source: Murtagh et al., Sports Medicine 51 (2021): usual walk 1.31 m/s, fast 1.72. Buggies: common practice,
    # no source, up to 8 m/s.
    @pytest.mark.parametrize("speed_mps", [0.0, 1.31, 1.72, 8.0])
    def test_walks_and_buggies_are_left_alone(self, speed_mps):
        points = table(*walk(speed_mps=speed_mps, rng=np.random.default_rng(11)))
        result = remove_jumps(points)
        pd.testing.assert_frame_equal(result.points, points)
        assert result.dropped == {}
        assert result.notes == ()

    def test_a_drive_is_not_a_jump(self):
        walked = walk(300)
        driven_s = np.arange(300.0, 900.0)
        east = walked[1][-1] + np.cumsum(np.clip(np.arange(600.0), 0, 25))
        points = table(np.r_[walked[0], driven_s], np.r_[walked[1], east], np.zeros(900))
        assert remove_jumps(points).dropped == {}
        back = table(np.arange(900.0), np.r_[walked[1], east][::-1], np.zeros(900))
        assert remove_jumps(back).dropped == {}

    def test_a_short_drive_up_is_not_a_false_start(self):
        driven = -25.0 * np.arange(40.0, 0.0, -1.0)
        time_s = np.arange(340.0)
        east = np.r_[driven, walk(300)[1]]
        assert remove_jumps(table(time_s, east, np.zeros(340))).dropped == {}
        assert remove_jumps(table(time_s, -east[::-1], np.zeros(340))).dropped == {}

    def test_a_winding_drive_is_not_a_jump(self):
        time_s = np.arange(600.0)
        bearing = np.cumsum(np.random.default_rng(19).normal(0.0, 0.15, 600))
        pace = 16.0 + 8.0 * np.sin(time_s / 40.0)
        points = table(time_s, np.cumsum(pace * np.sin(bearing)), np.cumsum(pace * np.cos(bearing)))
        assert remove_jumps(points).dropped == {}
        assert remove_jumps(points).notes == ()

    def test_far_away_after_a_long_gap_is_possible(self):
        time_s, east, north = walk(200)
        time_s[100:] += 1200.0
        east[100:] += 9000.0
        assert remove_jumps(table(time_s, east, north)).dropped == {}

    def test_little_is_enough(self):
        for rows in (0, 1):
            result = remove_jumps(table(*walk(rows)))
            assert len(result.points) == rows
            assert result.dropped == {}


class TestJumps:
    @pytest.mark.parametrize("away_m", [30.0, 300.0, 10_000.0, 4_000_000.0])
    @pytest.mark.parametrize(
        "wild", [[300], [100, 300, 302], [300, 301, 302, 303, 304], list(range(300, 360))]
    )
    def test_there_and_back(self, away_m, wild):
        time_s, east, north = walk(rng=np.random.default_rng(12))
        north[wild] += away_m
        result = remove_jumps(table(time_s, east, north))
        assert left_out(result, time_s) == [float(row) for row in wild]
        assert result.dropped == {"jump": len(wild)}
        assert f"left out {len(wild)} of 600 points" in result.notes[0]

    def test_null_island_and_the_other_side_of_the_earth(self):
        points = table(*walk())
        points.loc[200, ["lon_deg", "lat_deg"]] = (0.0, 0.0)
        points.loc[400, ["lon_deg", "lat_deg"]] = (150.0, 0.0)
        assert remove_jumps(points).dropped == {"jump": 2}

    def test_where_the_frame_has_no_number(self):
        points = pd.DataFrame(
            {
                "time": pd.Timestamp("2026-05-01T08:00:00Z") + pd.to_timedelta(np.arange(9), unit="s"),
                "lon_deg": [0.0, 0.0, 0.0, 0.0, 90.0, 0.0, 0.0, 0.0, 0.0],
                "lat_deg": [45.0, 45.0, 45.0, 45.0, 0.0, 45.0, 45.0, 45.0, 45.0],
            }
        )
        assert np.isnan(LocalFrame.around(points["lon_deg"], points["lat_deg"]).to_metres(90.0, 0.0)[0])
        assert remove_jumps(points).dropped == {"jump": 1}

    def test_a_jump_during_a_drive(self):
        time_s, east, north = walk(speed_mps=20.0)
        north[300] = 2000.0
        assert left_out(remove_jumps(table(time_s, east, north)), time_s) == [300.0]

    def test_every_third_point_is_wild(self):
        time_s, east, north = walk(rng=np.random.default_rng(13))
        rng = np.random.default_rng(14)
        wild = np.arange(1, 599, 3)
        east[wild] += rng.normal(0.0, 1000.0, wild.size)
        north[wild] += rng.choice([-500.0, 500.0], wild.size)
        assert left_out(remove_jumps(table(time_s, east, north)), time_s) == wild.astype(float).tolist()

    def test_a_slow_recorder(self):
        time_s = np.arange(0.0, 3000.0, 15.0)
        east, north = 1.3 * time_s, np.zeros(time_s.size)
        north[50] = 400.0
        assert left_out(remove_jumps(table(time_s, east, north)), time_s) == [750.0]

    def test_a_new_place_is_kept_whole(self):
        time_s, east, north = walk(rng=np.random.default_rng(15))
        north[200:] += 400.0
        result = remove_jumps(table(time_s, east, north))
        assert result.dropped == {}
        assert result.notes[0].startswith("kept a jump of 40")

    def test_a_long_stay_elsewhere_is_kept(self):
        # Derived: 200 s elsewhere are more than the 120 s a receiver is given to come back.
        time_s, east, north = walk()
        north[200:400] += 400.0
        assert remove_jumps(table(time_s, east, north)).dropped == {}
        assert remove_jumps(table(time_s, east, north), CleanSettings(excursion_s=300.0)).dropped == {
            "jump": 200
        }

    def test_a_false_start_and_a_false_end(self):
        time_s, east, north = walk()
        north[:5] += [900.0, 900.0, -500.0, 2000.0, 900.0]
        north[-2:] += 3000.0
        result = remove_jumps(table(time_s, east, north))
        assert left_out(result, time_s) == [0.0, 1.0, 2.0, 3.0, 4.0, 598.0, 599.0]

    def test_twice_is_once(self):
        rng = np.random.default_rng(16)
        time_s, east, north = walk(rng=rng)
        wild = rng.choice(600, 60, replace=False)
        north[wild] += rng.normal(0.0, 300.0, 60)
        once = remove_jumps(table(time_s, east, north))
        assert once.dropped["jump"] > 30
        assert set(left_out(once, time_s)) <= set(wild.astype(float))
        twice = remove_jumps(once.points)
        assert twice.dropped == {}
        pd.testing.assert_frame_equal(twice.points, once.points)

    def test_columns_ride_along_and_the_input_stays(self):
        time_s, east, north = walk()
        north[300] = 500.0
        points = table(time_s, east, north, ele_m=np.arange(600.0), hdop=np.nan)
        before = points.copy()
        result = remove_jumps(points)
        pd.testing.assert_frame_equal(points, before)
        assert result.points["ele_m"].tolist() == [row for row in np.arange(600.0) if row != 300.0]
        assert result.points.index.tolist() == list(range(599))
        assert result.points["time"].dtype == points["time"].dtype

    def test_points_without_a_position_are_not_judged(self):
        time_s, east, north = walk()
        north[301] = 500.0
        points = table(time_s, east, north)
        points.loc[[0, 300, 599], "lon_deg"] = np.nan
        result = remove_jumps(points)
        assert result.dropped == {"jump": 1}
        assert result.points["lon_deg"].isna().sum() == 3

    def test_the_worst_case_is_quick(self):
        time_s, east, north = walk(16_200)
        north[::2] = np.random.default_rng(17).uniform(-5000.0, 5000.0, 8100)
        points = table(time_s, east, north)
        begun = time.perf_counter()
        remove_jumps(points)
        assert time.perf_counter() - begun < 10.0


class TestBadInput:
    def test_columns_times_and_positions(self):
        points = table(*walk(10))
        with pytest.raises(InputError, match="no column lat_deg"):
            remove_jumps(points.drop(columns="lat_deg"))
        with pytest.raises(InputError, match="do not increase"):
            remove_jumps(points.iloc[::-1])
        with pytest.raises(InputError, match="has no time"):
            remove_jumps(points.assign(time=pd.NaT))
        with pytest.raises(InputError, match="latitude 100"):
            remove_jumps(points.assign(lat_deg=100.0))

    def test_settings(self):
        with pytest.raises(InputError, match="speed_mps is 0"):
            CleanSettings(speed_mps=0.0)


class TestKeepNear:
    square = FRAME.geometry_to_degrees(shapely.box(-100.0, -100.0, 100.0, 100.0))

    def test_inside_beside_and_beyond(self):
        points = table(np.arange(5.0), [0.0, 149.0, 151.0, 134.0, 137.0], [0.0, 0.0, 0.0, 134.0, 137.0])
        near = keep_near(points, self.square, 50.0)
        # Derived: the margin is round at the corner: 34 m each way is 48 m from it, 37 m each way is 52 m.
        assert near["time"].dt.second.tolist() == [0, 1, 3]

    def test_no_point_further_than_the_margin_is_kept(self):
        rng = np.random.default_rng(18)
        line = shapely.LineString([(-30.0, 45.0), destination(-30.0, 45.0, 40.0, 350.0)])
        points = table(np.arange(2000.0), *rng.uniform(-800.0, 800.0, (2, 2000)))
        near = keep_near(points, [line, None], 100.0)
        assert 50 < len(near) < 1000
        # Source: the geodesic to the closest of many places along the line.
        along = shapely.get_coordinates(
            shapely.line_interpolate_point(line, np.linspace(0, 1, 400), normalized=True)
        )
        away_m, _ = distance_bearing(
            points["lon_deg"].to_numpy()[:, None],
            points["lat_deg"].to_numpy()[:, None],
            along[:, 0],
            along[:, 1],
        )
        closest_m = away_m.min(axis=1)
        kept = points["time"].isin(near["time"]).to_numpy()
        assert closest_m[kept].max() <= 100.01
        assert closest_m[~kept].min() >= 99.5

    def test_across_the_antimeridian(self):
        place = shapely.MultiPoint([(179.9999, 10.0), (-179.9999, 10.0)])
        points = pd.DataFrame(
            {"lon_deg": [180.0, -180.0, 179.99, 0.0, np.nan], "lat_deg": [10.0, 10.0, 10.0, 10.0, 10.0]}
        )
        assert len(keep_near(points, place, 50.0)) == 2

    def test_nothing_near_and_no_place(self):
        points = pd.DataFrame({"lon_deg": [150.0], "lat_deg": [10.0]})
        assert keep_near(points, self.square).empty
        with pytest.raises(InputError, match="no place"):
            keep_near(points, [None, shapely.Polygon()])


def test_parts_are_split_here_too():
    assert split_parts([0.0, 1.0, 2.0, 100.0], [0.0, 1.0, 2.0, 200.0], np.zeros(4)).tolist() == [0, 0, 0, 1]
