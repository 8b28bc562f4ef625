"""Rounds on courses nobody has drawn: kept, told as guessed, and never taken for a course that is known."""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from geo.gpx import read_gpx
from geo.track import join_tracks
from tests.trackgolf.library.conftest import put_in
from trackgolf.bag import read_bag
from trackgolf.cli import main
from trackgolf.guess_round import reconstruct_unmapped
from trackgolf.library.find import known_courses
from trackgolf.library.guessed import hole_confidence
from trackgolf.library.materials import CourseFiles
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_holes, read_round, read_rounds, read_shots
from trackgolf.library.rebuild import rebuild_round

DEMO = Path(__file__).parents[3] / "demo_tracks" / "nuala"


@pytest.fixture(scope="module")
def guessed_once(tmp_path_factory):
    folder = tmp_path_factory.mktemp("guessed")
    (folder / "in").mkdir()
    shutil.copy(DEMO / "bag.toml", folder / "in")
    shutil.copy(DEMO / "may_watch" / "track.gpx", folder / "in")
    (outcome,) = put_in(folder / "library.sqlite", folder / "in", guess=True)
    assert outcome.kind == "new"
    return folder / "library.sqlite"


@pytest.fixture
def guessed(guessed_once, tmp_path):
    place = tmp_path / "library.sqlite"
    shutil.copy(guessed_once, place)
    connection = open_library(place)
    yield connection
    connection.close()


class TestKept:
    def test_as_without_a_library(self, guessed):
        played, holes = reconstruct_unmapped(
            join_tracks([read_gpx(DEMO / "may_watch" / "track.gpx")]), read_bag(DEMO / "bag.toml")
        )
        kept = read_shots(guessed)
        # The way there and home is cut off before the round is rebuilt from what is kept, so times may differ a little.
        assert len(kept) == len(played.shots)
        assert kept["hole"].tolist() == played.shots["hole"].tolist()
        assert read_holes(guessed)["note"].tolist() == played.holes["note"].tolist()
        _, materials, _ = read_round(guessed, 1)
        sure = hole_confidence(materials.course)
        # Derived: the file of guessed holes has two digits.
        assert sure == pytest.approx({hole.number: hole.confidence for hole in holes}, abs=0.005)

    def test_again_from_what_is_kept(self, guessed):
        _, materials, recordings = read_round(guessed, 1)
        assert materials.course.guessed
        played = rebuild_round(recordings, materials)
        assert played.shots["start_time"].tolist() == read_shots(guessed)["start_time"].tolist()
        assert any("guessed" in note.text for note in played.notes)
        assert not read_rounds(guessed)["planned"].any()


class TestNeverKnown:
    def test_the_next_round_is_guessed_anew(self, guessed, tmp_path):
        assert known_courses(guessed) == []
        (tmp_path / "in").mkdir()
        shutil.copy(DEMO / "july_phone" / "track.gpx", tmp_path / "in")
        (outcome,) = put_in(tmp_path / "library.sqlite", tmp_path / "in")
        assert outcome.kind == "fault"
        assert "--guess" in outcome.text
        (outcome,) = put_in(tmp_path / "library.sqlite", tmp_path / "in", guess=True)
        assert outcome.kind == "new"
        first, second = (read_round(guessed, number)[1].course for number in (1, 2))
        assert first.map != second.map

    def test_a_known_course_comes_first(self, tmp_path):
        (tmp_path / "in").mkdir()
        shutil.copy(DEMO / "bag.toml", tmp_path / "in")
        shutil.copy(DEMO / "may_watch" / "track.gpx", tmp_path / "in")
        course = CourseFiles("", (DEMO.parent / "course.geojson").read_bytes(), None)
        put_in(tmp_path / "library.sqlite", tmp_path / "in", guess=True, course=course)
        connection = open_library(tmp_path / "library.sqlite")
        assert not read_round(connection, 1)[1].course.guessed
        connection.close()


def test_the_command_says_what_to_do_and_does_it(tmp_path):
    words = ["import", str(DEMO / "may_watch" / "track.gpx"), "--bag", str(DEMO / "bag.toml"), "--library", str(tmp_path / "new.sqlite")]  # fmt: skip
    told = CliRunner().invoke(main, words)
    assert told.exit_code == 2
    assert "--guess" in told.stderr
    told = CliRunner().invoke(main, [*words, "--guess"])
    assert told.exit_code == 0, told.stderr
    assert "Holes guessed from the track, 18 holes" in told.stdout


def test_pars_of_a_card_are_taken(tmp_path):
    (tmp_path / "in").mkdir()
    shutil.copy(DEMO / "bag.toml", tmp_path / "in")
    shutil.copy(DEMO / "may_watch" / "track.gpx", tmp_path / "in")
    rows = (DEMO / "scorecard.csv").read_text().splitlines()
    card = "\n".join(",".join(row.split(",")[:4]) for row in rows).encode()
    (outcome,) = put_in(
        tmp_path / "library.sqlite", tmp_path / "in", guess=True, course=CourseFiles("", None, card)
    )
    assert outcome.kind == "new", outcome.text
    connection = open_library(tmp_path / "library.sqlite")
    # Source: the scorecard itself, column par.
    pars = {int(row.split(",")[0]): int(row.split(",")[1]) for row in rows[1:]}
    holes = read_holes(connection)
    assert holes["par"].tolist() == [pars[hole] for hole in holes["hole"]]
    connection.close()
