import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo.errors import InputError
from geo.geodesic import line_length_m
from geo.gpx import GpxFile, PointAccount, write_gpx
from geo.track import JoinSettings, find_gaps, join_tracks, read_tracks
from tests.geo.test_gpx import DATA, WALK

DEGREE_M = 111_173.0
"""Length of a degree of latitude at 47 degrees, to within 20 m."""


def invented_file(times_s, *, north_m=None, east_m=0.0, segment=0, source="", marks=(), dropped=None):
    """An invented recording in the open Atlantic; walks north at 1 m/s unless told where it was."""
    times = np.asarray(times_s, dtype=float)
    north = times if north_m is None else np.broadcast_to(np.asarray(north_m, dtype=float), times.shape)
    points = pd.DataFrame(
        {
            "time": pd.to_datetime(
                np.round(times * 1e3).astype("int64") + 1_777_795_200_000, unit="ms", utc=True
            ),
            "lon_deg": -31.0 + np.full(times.size, east_m) / (DEGREE_M * 0.684),
            "lat_deg": 47.0 + north / DEGREE_M,
            "ele_m": np.nan,
            "hdop": np.nan,
            "segment": np.broadcast_to(np.asarray(segment), times.shape),
        }
    )
    points["time"] = points["time"].dt.as_unit("ns")
    table = pd.DataFrame(list(marks), columns=["time", "lon_deg", "lat_deg", "name"])
    table["time"] = pd.to_datetime(table["time"], utc=True).astype("datetime64[ns, UTC]")
    dropped = dropped or {}
    account = PointAccount(len(points) + sum(dropped.values()), len(points), dropped)
    return GpxFile(points, table, account, (), None, None, "invented", "1.1", source)


def seconds(track):
    return ((track.points["time"].astype("int64") - 1_777_795_200 * 10**9) / 1e9).tolist()


def assert_sound(track, files):
    account = track.account
    assert account.seen == account.kept + sum(account.dropped.values())
    assert account.seen == sum(file.account.seen for file in files)
    assert account.kept == len(track.points)
    assert (track.points["time"].diff().dropna() > pd.Timedelta(0)).all()


def test_the_real_walk():
    track = read_tracks([WALK])
    # Source: gpxpy 1.6.2 test_files/cerknicko-jezero.gpx, second track; length computed with pyproj 3.7.2: 1 913.756 m.
    assert track.account == PointAccount(173, 173, {})
    assert line_length_m(track.points["lon_deg"], track.points["lat_deg"]) == pytest.approx(
        1913.756, abs=1e-2
    )
    assert track.points["file"].unique().tolist() == [0]
    assert track.warnings == ()


def test_the_longest_gap_of_a_real_hike():
    gaps = read_tracks([DATA / "korita-zbevnica.gpx"]).gaps
    # Source: gpxpy 1.6.2 test_files/korita-zbevnica.gpx: the longest gap is 2 041 s.
    assert gaps["duration_s"].max() == 2041
    assert gaps.loc[gaps["duration_s"].idxmax(), "moved_m"] < 10


def test_files_join_by_time_whatever_their_order():
    front, back = (
        invented_file(range(100), source="front.gpx"),
        invented_file(range(200, 300), source="back.gpx"),
    )
    track = join_tracks([back, front])
    assert seconds(track) == [*range(100), *range(200, 300)]
    assert track.points["file"].tolist() == [1] * 100 + [0] * 100
    assert track.gaps[["duration_s"]].to_numpy().tolist() == [[101.0]]
    # Derived: it walks north at 1 m/s, so 101 m in the 101 s between the last point and the next.
    assert track.gaps["moved_m"].tolist() == [pytest.approx(101.0, abs=0.1)]
    assert track.warnings == ()
    assert_sound(track, [front, back])


def test_segments_in_any_order_are_one_recording_and_said():
    times = [*range(50, 100), *range(50)]
    file = invented_file(times, segment=[0] * 50 + [1] * 50, source="round.gpx")
    track = join_tracks([file])
    assert seconds(track) == list(range(100))
    assert track.warnings == ("round.gpx: time runs backwards in one place; put in order of time",)
    assert_sound(track, [file])


def test_small_steps_back_are_sorted_and_said():
    file = invented_file([0, 1, 3, 2, 4, 6, 5, 7], source="round.gpx")
    track = join_tracks([file])
    assert seconds(track) == list(range(8))
    assert track.warnings == ("round.gpx: time runs backwards in 2 places; put in order of time",)


def test_two_points_of_one_instant_keep_the_first():
    file = invented_file([0, 1, 1, 2], north_m=[0, 1, 9, 2], source="round.gpx", dropped={"no_time": 2})
    track = join_tracks([file])
    assert track.account == PointAccount(6, 3, {"no_time": 2, "same_instant": 1})
    assert (track.points["lat_deg"].to_numpy()[1] - 47.0) * DEGREE_M == pytest.approx(1.0, abs=1e-3)
    assert track.warnings == ("round.gpx: dropped one point of an instant that has one already",)


def test_the_same_file_twice_is_one_round():
    once = read_tracks([WALK])
    twice = read_tracks([WALK, WALK])
    pd.testing.assert_frame_equal(once.points, twice.points)
    pd.testing.assert_frame_equal(once.marks, twice.marks)
    assert twice.account == PointAccount(346, 173, {"second_recording": 173})
    assert twice.warnings == (
        "walk.gpx (2): dropped 173 of 173 points from 14:23:59 to 15:05:08 UTC; that time is covered by walk.gpx (1)",
    )


def test_one_track_twice_in_one_file():
    file = invented_file([*range(100), *range(100)], segment=[0] * 100 + [1] * 100, source="round.gpx")
    track = join_tracks([file])
    assert seconds(track) == list(range(100))
    assert track.account == PointAccount(200, 100, {"second_recording": 100})
    assert "covered by another recording in the same file" in track.warnings[0]
    # The same in one segment, where only the time tells.
    flat = join_tracks([invented_file([*range(100), *range(100)])])
    assert flat.account == track.account


def test_the_denser_of_two_devices_is_kept_and_the_other_fills_in():
    # The watch has a point a second until its battery dies at 600 s; the phone one every 5 s, 4 m to the side.
    watch = invented_file(range(601), source="watch.gpx")
    phone = invented_file(range(2, 1200, 5), east_m=4.0, source="phone.gpx")
    for files in ([watch, phone], [phone, watch]):
        track = join_tracks(files)
        assert seconds(track) == [*range(601), *range(602, 1200, 5)]
        assert track.account.dropped == {"second_recording": 120}
        assert track.warnings == (
            "phone.gpx: dropped 120 of 240 points from 08:00:02 to 08:09:57 UTC; that time is covered by watch.gpx",
        )
        assert_sound(track, files)


def test_the_other_device_speaks_where_the_first_paused():
    times = np.array([*range(100), *range(200, 300)])
    watch = invented_file(times, source="watch.gpx")
    phone = invented_file(np.arange(0, 300, 10) + 0.5, source="phone.gpx")
    track = join_tracks([watch, phone])
    # Derived: from 99 to 200 s the phone has 100.5, 110.5 ... 190.5.
    assert [time for time in seconds(track) if 99 < time < 200] == [100.5 + 10 * n for n in range(10)]
    assert track.account.dropped == {"second_recording": 20}


def test_a_short_pause_of_the_first_is_not_filled():
    watch = invented_file([*range(100), *range(105, 200)], source="watch.gpx")
    phone = invented_file(np.arange(0, 200, 2) + 0.5, source="phone.gpx")
    assert join_tracks([watch, phone]).points["file"].unique().tolist() == [0]


def test_tracks_of_two_players_are_doubted():
    mine = invented_file(range(300), source="mine.gpx")
    hers = invented_file(np.arange(0, 300, 3) + 0.5, east_m=180.0, source="hers.gpx")
    warning = join_tracks([mine, hers]).warnings[0]
    # Derived: 180 m to the east all the time (the length of a degree of longitude at 47 degrees is 0.684 of that used).
    assert "180 m apart, are they of one player?" in warning


def test_overlap_across_the_antimeridian_is_measured_the_short_way():
    mine, other = invented_file(range(60)), invented_file(np.arange(0, 60, 2) + 0.5)
    mine.points["lon_deg"] = np.where(np.arange(60) % 2, 179.99999, -179.99999)
    other.points["lon_deg"] = 180.0
    assert "apart" not in join_tracks([mine, other]).warnings[0]


def test_a_few_repeated_points_between_segments_are_one_recording():
    file = invented_file([*range(100), *range(95, 200)], segment=[0] * 100 + [1] * 105, source="round.gpx")
    track = join_tracks([file])
    assert seconds(track) == list(range(200))
    assert track.account.dropped == {"same_instant": 5}


def test_marks_of_all_files_each_once():
    first = [("2026-05-03T08:00:05Z", -31.0, 47.0, "7 iron"), (None, -31.0, 47.1, "tee")]
    second = [("2026-05-03T08:00:01Z", -31.0, 47.0, "driver"), *first]
    track = join_tracks([invented_file(range(5), marks=first), invented_file(range(10, 15), marks=second)])
    assert track.marks["name"].tolist() == ["driver", "7 iron", "tee"]


def test_gaps_are_measured_against_the_usual_interval():
    settled = invented_file([*range(0, 600, 15), 660]).points
    assert find_gaps(settled)["duration_s"].tolist() == [75.0]
    quick = invented_file([*range(30), 39, *range(50, 60)]).points
    # Derived: the usual interval is 1 s, so the least gap is the 10 s of the settings; 9 s is none, 11 s is.
    assert find_gaps(quick)["duration_s"].tolist() == [11.0]
    assert find_gaps(quick, JoinSettings(gap_s=5.0))["duration_s"].tolist() == [10.0, 11.0]
    assert find_gaps(quick.iloc[:1]).empty
    assert find_gaps(quick.iloc[:0]).empty


def test_a_gap_without_movement_says_so():
    file = invented_file([*range(30), *range(90, 120)], north_m=[*range(30), *range(29, 59)])
    gap = join_tracks([file]).gaps.iloc[0]
    assert gap["start_time"] == pd.Timestamp("2026-05-03T08:00:29Z")
    assert gap["end_time"] == pd.Timestamp("2026-05-03T08:01:30Z")
    assert (gap["duration_s"], gap["moved_m"]) == (61.0, 0.0)


def test_points_from_before_the_clock_was_set_are_dropped():
    # A recorder that woke up in 2009, as its battery had been out, and knew the date after a few points.
    woke = np.arange(3) - 17 * 365 * 86_400.0
    file = invented_file([*woke, *range(3, 200)], source="round.gpx")
    track = join_tracks([file])
    assert seconds(track) == list(range(3, 200))
    assert track.account == PointAccount(200, 197, {"stray_time": 3})
    assert track.warnings == ("round.gpx: dropped 3 of 200 points: more than 7 days from the others",)
    # Two halves that far apart are nobody's stray, but hardly one round.
    halves = join_tracks([invented_file(range(100)), invented_file(np.arange(100) + 30 * 86_400.0)])
    assert halves.account.dropped == {}
    assert halves.warnings == (
        "nothing was recorded for 720 hours after 2026-05-03 08:01 UTC; is all of this one round?",
    )


@pytest.mark.parametrize(
    "bad", [{"gap_s": 0.0}, {"gap_intervals": 0.5}, {"overlap_s": -1.0}, {"stray_share": -0.1}]
)
def test_settings_that_make_no_sense(bad):
    with pytest.raises(ValueError, match="not usable"):
        JoinSettings(**bad)


def test_inputs_are_not_changed():
    file = invented_file([3, 1, 2, 1])
    points, marks = file.points.copy(), file.marks.copy()
    join_tracks([file, file])
    pd.testing.assert_frame_equal(file.points, points)
    pd.testing.assert_frame_equal(file.marks, marks)


def test_joining_what_was_joined_changes_nothing(tmp_path):
    first = join_tracks(
        [invented_file([*range(50), *range(20, 70)]), invented_file(np.arange(0, 100, 3) + 0.25)]
    )
    write_gpx(tmp_path / "joined.gpx", points=first.points)
    again = read_tracks([tmp_path / "joined.gpx"])
    assert seconds(again) == seconds(first)
    assert again.account.dropped == {}


def test_no_file_and_bad_files():
    with pytest.raises(InputError, match="no track file given"):
        read_tracks([])
    with pytest.raises(InputError, match="dated before 1980") as caught:
        read_tracks([WALK, DATA / "Mojstrovka.gpx"])
    assert "\n" not in str(caught.value)
    with pytest.raises(InputError, match="2 of 3 track files cannot be used") as caught:
        read_tracks([WALK, DATA / "Mojstrovka.gpx", DATA / "route.gpx"])
    assert len(str(caught.value).split("\n")) == 3


@settings(max_examples=150, deadline=None)
@given(
    files=st.lists(
        st.lists(st.tuples(st.integers(0, 400), st.integers(0, 3)), min_size=1, max_size=60),
        min_size=1,
        max_size=4,
    )
)
def test_whatever_the_files_hold_the_account_adds_up(files):
    tables = [
        invented_file([time / 2 for time, _ in rows], segment=[segment for _, segment in rows])
        for rows in files
    ]
    track = join_tracks(tables)
    assert_sound(track, tables)
    # Nothing is invented, and the ends of the round are never lost.
    given_times = {time / 2 for rows in files for time, _ in rows}
    assert set(seconds(track)) <= given_times
    assert (seconds(track)[0], seconds(track)[-1]) == (min(given_times), max(given_times))
