"""Tracks become rounds: what is found, kept, recognised, offered, refused."""

import json
import sqlite3
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from geo.clean import keep_near
from geo.gpx import read_gpx
from geo.track import read_tracks
from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.course import read_course
from trackgolf.errors import InputError
from trackgolf.library.find import current_bag, known_courses
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_comparisons, read_holes, read_round, read_rounds, read_shots
from trackgolf.library.runners import on_cores
from trackgolf.plan import plan_round
from trackgolf.plan_file import read_plan, write_plan
from trackgolf.reconstruct import reconstruct

DEMO = Path(__file__).parents[3] / "demo_tracks"


@pytest.fixture
def folder(tmp_path):
    """A folder for one round."""
    place = tmp_path / "in"
    place.mkdir()
    (place / "bag.toml").write_text(invented.bag(), encoding="utf-8")
    (place / "course.geojson").write_text(invented.course(), encoding="utf-8")
    return place


def write(folder, name, text):
    (folder / name).parent.mkdir(exist_ok=True, parents=True)
    (folder / name).write_text(text, encoding="utf-8")


def kinds(outcomes):
    return [outcome.kind for outcome in outcomes]


@pytest.fixture
def opened(tmp_path):
    def open_it():
        return open_library(tmp_path / "library.sqlite")

    return open_it


class TestResults:
    def test_are_those_of_reconstruct(self, tmp_path):
        # The library's way and the plain way must agree on a round with everything: plan, card, two files.
        nine = DEMO / "corwin" / "august_nine"
        place = tmp_path / "library.sqlite"
        demo = tmp_path / "demo"
        demo.mkdir()
        for path in (DEMO / "course.geojson", nine.parent / "bag.toml", *nine.iterdir()):
            (demo / path.name).write_bytes(path.read_bytes())
        outcomes = put_in(place, demo)
        assert kinds(outcomes) == ["new"]
        assert len(outcomes[0].names) == 2

        course, bag = read_course(DEMO / "course.geojson"), read_bag(nine.parent / "bag.toml")
        plan, card = read_plan(nine / "plan.geojson", course, bag), read_card(nine / "card.csv", bag)
        track = read_tracks(sorted(nine.glob("*.gpx")))
        played = reconstruct(track, course, bag, plan=plan.shots, card=card)
        connection = open_library(place)
        shots, holes = read_shots(connection), read_holes(connection)
        comparison = read_comparisons(connection)
        _, _, recordings = read_round(connection, 1)
        connection.close()
        columns = list(played.shots)
        # What a later version measures besides stands behind what the library has columns for.
        assert sorted(shots) == sorted([*columns, "round", "day", "course"])
        pd.testing.assert_frame_equal(
            shots[columns], played.shots, check_dtype=False, check_exact=False, rtol=1e-9, atol=1e-9
        )
        numbers = ["hole", "par", "strokes", "putts", "shots", "length_m", "first_time"]
        pd.testing.assert_frame_equal(holes[numbers], played.holes[numbers], check_dtype=False)
        assert comparison["long_m"].tolist() == pytest.approx(
            played.comparison["long_m"].astype(float).tolist(), nan_ok=True
        )
        assert comparison["followed"].tolist() == [
            "" if x is None else x for x in played.comparison["followed"]
        ]
        assert sum(len(file.points) for file in recordings) <= len(track.points)

    def test_do_not_depend_on_workers(self, season_folder, made_once, tmp_path):
        from trackgolf.library.gather import find_tracks
        from trackgolf.library.importing import ImportOptions, import_tracks

        with on_cores(2) as run:
            connection = open_library(tmp_path / "two.sqlite", create=True)
            sources, _ = find_tracks([season_folder])
            assert kinds(import_tracks(connection, sources, ImportOptions(), run=run)) == ["new"] * 3
        one = open_library(made_once)
        for query in (read_shots, read_holes, read_comparisons):
            pd.testing.assert_frame_equal(query(connection), query(one), check_exact=True)
        for table in ("recording", "remark", "course_version", "bag"):
            rows = [
                [
                    {key: value for key, value in dict(row).items() if key != "named"}
                    for row in db.execute(f"SELECT * FROM {table}")
                ]
                for db in (connection, one)
            ]
            assert rows[0] == rows[1]
        one.close()
        connection.close()


class TestKept:
    def test_only_what_lies_near_the_course_and_that_unchanged(self, folder, tmp_path, opened):
        write(folder, "track.gpx", invented.track(home=True))
        assert kinds(put_in(tmp_path / "library.sqlite", folder)) == ["new"]
        connection = opened()
        _, _, (kept,) = read_round(connection, 1)
        connection.close()
        whole = read_gpx(folder / "track.gpx").points
        course = read_course(folder / "course.geojson")
        near = keep_near(whole, [hole.line for hole in course.holes])
        pd.testing.assert_frame_equal(kept.points, near, check_exact=True)
        assert len(near) < len(whole)
        assert kept.account.dropped["off_course"] == len(whole) - len(near)

    def test_nothing_else_is_anywhere_in_the_file(self, folder, tmp_path):
        text = invented.track(home=True).replace(
            "<trk>", "<trk><name>From 12 Nowhere Lane</name><desc>Ines at home</desc>"
        )
        assert "Nowhere Lane" in text
        write(folder, "track.gpx", text)
        put_in(tmp_path / "library.sqlite", folder)
        content = (tmp_path / "library.sqlite").read_bytes()
        assert b"Nowhere" not in content
        connection = open_library(tmp_path / "library.sqlite")
        _, _, (kept,) = read_round(connection, 1)
        connection.close()
        # Derived: 150 m beside the outermost hole lines, x = 0 and 120; a degree of longitude is 76.1 km at 47 degrees.
        east_m = (kept.points["lon_deg"].to_numpy() + 31.0) * 76_100
        assert east_m.min() > -152
        assert east_m.max() < 272
        assert kept.name is None
        assert kept.description is None

    def test_all_of_it_where_that_was_asked_for(self, folder, tmp_path, opened):
        write(folder, "track.gpx", invented.track(home=True))
        put_in(tmp_path / "library.sqlite", folder, whole=True)
        connection = opened()
        _, _, (kept,) = read_round(connection, 1)
        shots = read_shots(connection)
        connection.close()
        whole = read_gpx(folder / "track.gpx")
        assert len(kept.points) == len(whole.points)
        # What people write about a track is not kept even then.
        assert whole.description is not None
        assert (kept.name, kept.description, kept.creator) == (None, None, None)
        assert len(shots) == 7


class TestFound:
    def test_course_by_place_and_the_current_bag(self, library, tmp_path, connection):
        write(tmp_path / "more", "later.gpx", invented.track(days=10))
        assert kinds(put_in(library, tmp_path / "more")) == ["new"]
        rounds = read_rounds(connection)
        assert rounds["course"].unique().tolist() == ["Invented Links"]
        assert len(rounds) == 4
        assert len(known_courses(connection)) == 1

    def test_of_several_courses_the_one_at_the_track(self, library, tmp_path, connection):
        write(tmp_path / "other", "course.geojson", invented.course("Invented Park", lon=-30.5))
        write(tmp_path / "other", "track.gpx", invented.moved_east(invented.track(days=5), 0.5))
        write(tmp_path / "other", "again.gpx", invented.track(days=6))
        assert kinds(put_in(library, tmp_path / "other")) == ["new", "new"]
        assert sorted(read_rounds(connection)["course"]) == [*["Invented Links"] * 4, "Invented Park"]

    def test_no_course_at_the_track(self, library, tmp_path):
        write(tmp_path / "other", "track.gpx", invented.moved_east(invented.track(days=5), 0.5))
        (outcome,) = put_in(library, tmp_path / "other")
        assert outcome.kind == "fault"
        # Derived: half a degree of longitude at 47 degrees is 38 km.
        assert "no course known here lies at this track; 'Invented Links' is 38 km away" in outcome.text
        # Where the track lies is never said: it may be somebody's home.
        assert "30.5" not in outcome.text

    def test_another_bag_is_another_version(self, library, tmp_path, connection):
        write(tmp_path / "more", "bag.toml", invented.bag(carry_m=180))
        write(tmp_path / "more", "later.gpx", invented.track(days=10))
        put_in(library, tmp_path / "more")
        versions = connection.execute("SELECT version FROM bag ORDER BY version").fetchall()
        assert [row[0] for row in versions] == [1, 2]
        assert current_bag(connection, "ines  OKAFOR").clubs[0].carry_m == 180
        # A round keeps the bag it was played with.
        bags = [row[0] for row in connection.execute("SELECT bag FROM round ORDER BY id")]
        assert bags == [1, 1, 1, 2]

    def test_a_better_map_is_a_version_of_the_same_course(self, library, tmp_path, connection):
        write(tmp_path / "more", "course.geojson", invented.course().replace('"par": "3"', '"par": "4"'))
        write(tmp_path / "more", "later.gpx", invented.track(days=10))
        assert kinds(put_in(library, tmp_path / "more")) == ["new"]
        assert [row[0] for row in connection.execute("SELECT version FROM course_version ORDER BY id")] == [
            1,
            2,
        ]
        assert read_rounds(connection)["par"].tolist() == [12, 12, 12, 13]

    def test_the_current_plan_if_it_fits(self, folder, tmp_path, opened):
        course, bag = read_course(folder / "course.geojson"), read_bag(folder / "bag.toml")
        write_plan(folder / "plan.geojson", plan_round(course, bag), course, bag)
        write(folder, "a.gpx", invented.track())
        place = tmp_path / "library.sqlite"
        assert kinds(put_in(place, folder)) == ["new"]
        write(tmp_path / "b", "b.gpx", invented.track(days=1))
        write(tmp_path / "c", "c.gpx", invented.track(days=2))
        assert kinds(put_in(place, tmp_path / "b")) == ["new"]
        assert kinds(put_in(place, tmp_path / "c", find_plan=False)) == ["new"]
        # A bag without a club that the plan names: the round is worth more than the plan.
        gone = min(set(plan_round(course, bag).shots["club"]))
        blocks = [block for block in invented.bag().split("[[club]]") if f'name = "{gone}"' not in block]
        text = "[[club]]".join(blocks).replace(f'club = "{gone}"', 'club = "7 iron"')
        write(tmp_path / "d", "bag.toml", text)
        write(tmp_path / "d", "d.gpx", invented.track(days=3))
        (outcome,) = put_in(place, tmp_path / "d")
        assert outcome.kind == "new"
        assert any("current plan does not fit and was left out" in note for note in outcome.notes)
        connection = opened()
        assert read_rounds(connection)["planned"].tolist() == [True, True, False, False]
        connection.close()

    def test_a_current_plan_from_another_tee_is_left_out(self, folder, tmp_path, opened):
        course, bag = read_course(folder / "course.geojson"), read_bag(folder / "bag.toml")
        write_plan(folder / "plan.geojson", plan_round(course, bag), course, bag)
        document = json.loads((folder / "plan.geojson").read_text())
        for feature in document["features"]:
            if feature["properties"]["shot"] == 1 and feature["properties"]["hole"] != 2:
                lon, lat = feature["geometry"]["coordinates"][0]
                # Derived: 0.0004 degrees of latitude are 44 m.
                feature["geometry"]["coordinates"][0] = [lon, lat - 0.0004]
        write(folder, "plan.geojson", json.dumps(document))
        write(folder, "a.gpx", invented.track())
        write(tmp_path / "b", "b.gpx", invented.track(days=1))
        # Named, it is compared with and doubted; only found, it is left out.
        (named,) = put_in(tmp_path / "library.sqlite", folder)
        (found,) = put_in(tmp_path / "library.sqlite", tmp_path / "b")
        assert any("it is likely for another tee" in note for note in named.notes)
        assert any("was left out: it begins at another tee" in note for note in found.notes)
        connection = opened()
        assert read_rounds(connection)["planned"].tolist() == [True, False]
        connection.close()

    def test_whose_it_is_must_be_clear(self, library, tmp_path):
        write(tmp_path / "guest", "bag.toml", invented.bag("Olu Brackwater"))
        write(tmp_path / "guest", "track.gpx", invented.track(days=20))
        assert kinds(put_in(library, tmp_path / "guest")) == ["new"]
        write(tmp_path / "whose", "track.gpx", invented.track(days=30))
        (outcome,) = put_in(library, tmp_path / "whose")
        assert outcome.kind == "fault"
        assert "Give --player: 'Ines Okafor', 'Olu Brackwater'" in outcome.text
        assert kinds(put_in(library, tmp_path / "whose", player="olu")) == ["new"]


class TestTwice:
    def test_the_same_track_is_one_round(self, library, season_folder, connection):
        outcomes = put_in(library, season_folder)
        assert kinds(outcomes) == ["known"] * 3
        assert outcomes[1].text == "the same track is round 2 already"
        assert len(read_rounds(connection)) == 3

    def test_also_under_another_name_in_the_same_call(self, folder, tmp_path):
        write(folder, "a.gpx", invented.track())
        write(folder, "b.gpx", invented.track().replace("\n", "\n\n"))
        outcomes = put_in(tmp_path / "library.sqlite", folder)
        assert sorted(kinds(outcomes)) == ["known", "new"]

    def test_of_two_players_it_is_two_rounds_and_doubted(self, library, season_folder, tmp_path):
        write(tmp_path / "guest", "bag.toml", invented.bag("Olu Brackwater"))
        write(tmp_path / "guest", "track.gpx", (season_folder / "round_001.gpx").read_text())
        (outcome,) = put_in(library, tmp_path / "guest")
        assert outcome.kind == "new"
        assert "the same track is also round 2, of Ines Okafor; whose is it?" in outcome.notes

    def test_the_rest_of_a_round_is_put_to_it(self, folder, tmp_path, opened):
        text = invented.track()
        points = text.count("<trkpt")
        parts = text.split("<trkpt")
        half = points // 2
        write(folder, "a.gpx", "<trkpt".join(parts[: half + 1]) + "</trkseg></trk></gpx>")
        write(folder, "b.gpx", parts[0] + "<trkpt" + "<trkpt".join(parts[half + 1 :]))
        (outcome,) = put_in(tmp_path / "library.sqlite", folder)
        assert (outcome.kind, len(outcome.names)) == ("new", 2)
        connection = opened()
        assert len(read_shots(connection)) == 7
        connection.close()

    def test_two_recordings_of_a_time_are_offered_as_one(self, library, tmp_path, connection):
        # A second device, 2 m beside the first, is no second round; nor is it taken for the first without a word.
        write(tmp_path / "more", "phone.gpx", invented.track(shift_m=2))
        (outcome,) = put_in(library, tmp_path / "more")
        assert (outcome.kind, outcome.round) == ("offered", 1)
        assert "--join" in outcome.text
        assert len(read_rounds(connection)) == 3
        before = read_shots(connection)
        (outcome,) = put_in(library, tmp_path / "more", together="join")
        assert (outcome.kind, outcome.round) == ("joined", 1)
        assert len(read_rounds(connection)) == 3
        _, _, recordings = read_round(connection, 1)
        assert len(recordings) == 2
        assert len(read_shots(connection)) == len(before)
        assert kinds(put_in(library, tmp_path / "more")) == ["known"]

    def test_or_kept_apart(self, library, tmp_path, connection):
        write(tmp_path / "more", "phone.gpx", invented.track(shift_m=2))
        assert kinds(put_in(library, tmp_path / "more", together="apart")) == ["new"]
        assert len(read_rounds(connection)) == 4

    def test_within_one_call_too(self, folder, tmp_path):
        write(folder, "a.gpx", invented.track())
        write(folder, "b.gpx", invented.track(shift_m=2))
        assert sorted(kinds(put_in(tmp_path / "one.sqlite", folder))) == ["new", "offered"]
        (outcome,) = put_in(tmp_path / "two.sqlite", folder, together="join")
        assert (outcome.kind, len(outcome.names)) == ("new", 2)


class TestFaults:
    def test_bad_tracks_do_not_stop_the_others(self, folder, tmp_path, opened):
        write(folder, "a.gpx", "")
        write(folder, "b.gpx", invented.track())
        write(folder, "c.gpx", "<gpx><trk><trkseg/></trk></gpx>")
        write(folder, "d.gpx", invented.moved_east(invented.track(days=9), 3.0))
        outcomes = put_in(tmp_path / "library.sqlite", folder)
        assert sorted(kinds(outcomes)) == ["fault", "fault", "fault", "new"]
        for outcome in outcomes:
            if outcome.kind == "fault":
                assert outcome.names[0] in outcome.text
        connection = opened()
        assert len(read_rounds(connection)) == 1
        connection.close()

    def test_one_card_for_several_rounds(self, season_folder, tmp_path):
        with pytest.raises(InputError, match="one card was given for 3 rounds"):
            put_in(tmp_path / "library.sqlite", season_folder, card=invented.CARD.encode())

    def test_a_round_that_fails_leaves_nothing(self, folder, tmp_path, opened, monkeypatch):
        write(folder, "a.gpx", invented.track())
        from trackgolf.library import store

        def broken(*_):
            raise sqlite3.OperationalError("database or disk is full")

        monkeypatch.setattr(store, "_store_tables", broken)
        with pytest.raises(sqlite3.OperationalError):
            put_in(tmp_path / "library.sqlite", folder)
        connection = opened()
        tables = ("player", "course", "bag", "round", "recording", "shot")
        counts = [connection.execute(f"SELECT COUNT(*) FROM {table}").fetchone()[0] for table in tables]
        assert counts == [0] * 6
        connection.close()


class TestRead:
    def test_filters(self, connection):
        rounds = read_rounds(connection)
        days = rounds["day"].tolist()
        assert np.all(np.diff(pd.to_datetime(rounds["day"])) == np.timedelta64(1, "D"))
        assert read_rounds(connection, since=days[1])["day"].tolist() == days[1:]
        assert read_rounds(connection, until=days[1])["day"].tolist() == days[:2]
        assert len(read_rounds(connection, "ines okafor", course="LINKS")) == 3
        assert read_rounds(connection, course="park").empty
        with pytest.raises(InputError, match="no player 'Nobody'"):
            read_rounds(connection, "Nobody")

    def test_days_and_kinds_of_shots(self, connection):
        shots = read_shots(connection, "Ines Okafor")
        assert shots.groupby("round").size().tolist() == [7, 7, 7]
        assert shots["start_time"].dt.tz is not None
        assert shots["detour"].dtype == bool
        assert shots["shot"].dtype == "int64"
        since = read_shots(connection, since=shots["day"].max())
        assert since["round"].unique().tolist() == [3]

    def test_what_a_later_method_adds_is_kept(self, connection):
        from dataclasses import replace

        from trackgolf.library.opening import writing
        from trackgolf.library.rebuild import rebuild_round, result_of
        from trackgolf.library.store import store_result

        _, materials, recordings = read_round(connection, 2)
        result = result_of(rebuild_round(recordings, materials))
        shots = result.shots.assign(height_m=1.25, seen_by="watch")
        with writing(connection):
            store_result(connection, 2, replace(result, shots=shots))
        again = read_shots(connection)
        assert again.loc[again["round"] == 2, "height_m"].tolist() == [1.25] * 7
        assert again.loc[again["round"] == 1, "seen_by"].isna().all()

    def test_sqlite_finds_nothing_amiss(self, connection):
        # Source: SQLite, PRAGMA integrity_check gives one row "ok", foreign_key_check none.
        assert [tuple(row) for row in connection.execute("PRAGMA integrity_check")] == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
