"""A hole played twice: two holes of the report, one after the other."""

import geopandas as gpd
import pandas as pd
from shapely.geometry import Point

from trackgolf.playings import (
    holes_by_playing,
    lines_by_playing,
    number_playings,
    shots_by_playing,
    walk_by_playing,
)

START = pd.Timestamp("2026-05-03T08:00:00Z")


def invented_holes(*numbers):
    """Holes in order of play, ten minutes each."""
    return pd.DataFrame(
        {
            "hole": list(numbers),
            "visit": range(len(numbers)),
            "first_time": [START + pd.Timedelta(minutes=10 * visit) for visit in range(len(numbers))],
            "note": ["", *["a stroke left no stop"] * (len(numbers) - 1)],
        }
    )


def test_a_nine_played_twice_reads_as_eighteen():
    holes = invented_holes(*range(1, 10), *range(1, 10))
    # Derived: the second nine of a nine-hole course is counted 10 to 18.
    assert list(number_playings(holes, 9).values()) == list(range(1, 19))


def test_holes_played_once_keep_their_numbers():
    holes = invented_holes(10, 11, 1, 2)
    numbers = number_playings(holes, 18)
    assert list(numbers.values()) == [10, 11, 1, 2]
    pd.testing.assert_frame_equal(holes_by_playing(holes, numbers), holes)


def test_a_third_time_has_a_number_of_its_own_too():
    assert number_playings(invented_holes(2, 2, 2), 9) == {0: 2, 1: 11, 2: 20}


def test_the_note_says_which_hole_it_was():
    holes = invented_holes(1, 1)
    told = holes_by_playing(holes, number_playings(holes, 9))
    assert told["hole"].tolist() == [1, 10]
    assert told["note"].tolist() == ["", "hole 1 played again; a stroke left no stop"]


def test_shots_follow_their_playing():
    shots = pd.DataFrame({"hole": [1, 1, 1], "visit": [0, 0, 1], "shot": [1, 2, 1]})
    numbered = shots_by_playing(shots, number_playings(invented_holes(1, 1), 9))
    assert numbered["hole"].tolist() == [1, 1, 10]
    assert shots["hole"].tolist() == [1, 1, 1]


def test_the_walk_changes_number_with_the_walk_to_the_tee():
    holes = invented_holes(1, 1)
    minutes = [0, 8, 9, 10, 19]
    walk = pd.DataFrame(
        {
            "time": [START + pd.Timedelta(minutes=minute) for minute in minutes],
            "hole": pd.array([1, 1, 1, 1, pd.NA], dtype="Int64"),
        }
    )
    numbered = walk_by_playing(walk, holes, number_playings(holes, 9))
    assert numbered["hole"].tolist() == [1, 1, 10, 10, pd.NA]


def test_what_belongs_to_a_hole_is_drawn_for_both():
    holes = invented_holes(1, 2, 1)
    table = gpd.GeoDataFrame(
        {"kind": ["pin", "pin", "water"], "hole": pd.array([1, 2, pd.NA], dtype="Int64")},
        geometry=[Point(-31.0, 47.0), Point(-31.001, 47.0), Point(-31.002, 47.0)],
        crs="EPSG:4326",
    )
    both = lines_by_playing(table, holes, number_playings(holes, 9))
    assert both["hole"].tolist() == [1, 2, pd.NA, 10]
    assert both.geometry.iloc[3].equals(table.geometry.iloc[0])
    assert both.crs == table.crs
