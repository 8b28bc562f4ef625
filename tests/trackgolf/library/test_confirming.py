"""A course made of guessed holes that somebody confirmed: what it holds, who lies on it, and what is refused."""

import json
import shutil

import pytest

from tests.trackgolf.library.conftest import put_in
from tests.trackgolf.library.test_guessed import DEMO, guessed, guessed_once  # noqa: F401
from trackgolf.errors import InputError
from trackgolf.library.confirming import (
    HoleAsConfirmed,
    confirm_course,
    drawn_meanwhile,
    guessed_holes,
    guessed_rounds,
    move_round,
)
from trackgolf.library.correcting import correct_round
from trackgolf.library.find import known_courses
from trackgolf.library.materials import read_course_files
from trackgolf.library.read import read_holes, read_round, read_rounds


def every(connection, **changes):
    holes, _ = guessed_holes(connection, 1)
    return {
        hole.number: HoleAsConfirmed(hole.number, hole.par, hole.stroke_index) for hole in holes
    } | changes


class TestAll:
    def test_the_round_moves_and_the_next_finds_it(self, guessed, tmp_path):  # noqa: F811
        before = read_holes(guessed)
        holes = every(guessed)
        holes[3] = HoleAsConfirmed(3, 5, None)
        course, moved = confirm_course(guessed, 1, " Invented  Park ", holes)
        assert moved
        assert guessed_rounds(guessed) == frozenset()
        (known,) = known_courses(guessed)
        assert (known.course, known.files.name) == (course, "Invented Park")
        assert read_rounds(guessed)["course"].tolist() == ["Invented Park"]
        now = read_holes(guessed)
        # Derived: only what was said of hole 3 is another par, and nothing is called a guess any more.
        assert now["par"].tolist() == [5 if hole == 3 else par for hole, par in zip(before["hole"], before["par"], strict=True)]  # fmt: skip
        assert not now["note"].str.contains("guessed").any()
        (tmp_path / "in").mkdir()
        shutil.copy(DEMO / "july_phone" / "track.gpx", tmp_path / "in")
        (outcome,) = put_in(tmp_path / "library.sqlite", tmp_path / "in")
        assert outcome.kind == "new"
        assert read_rounds(guessed)["course"].tolist() == ["Invented Park"] * 2

    def test_of_a_file_mended_by_hand(self, guessed):  # noqa: F811
        _, files = guessed_holes(guessed, 1)
        document = json.loads(files.map)
        for feature in document["features"]:
            if feature["properties"]["golf"] == "hole" and feature["properties"]["ref"] in ("2", "4"):
                feature["properties"]["guessed"] = "confirmed"
        course, moved = confirm_course(guessed, 1, "Invented Park", {}, json.dumps(document).encode())
        assert not moved
        (known,) = known_courses(guessed)
        assert [hole.number for hole in read_course_files(known.files).holes] == [2, 4]
        assert known.course == course
        _, moved = confirm_course(guessed, 1, "Invented Park", {}, files.map)
        assert moved


class TestMeanwhile:
    def test_another_round_of_the_course_moves_to_it(self, guessed, tmp_path):  # noqa: F811
        (tmp_path / "in").mkdir()
        shutil.copy(DEMO / "july_phone" / "track.gpx", tmp_path / "in")
        put_in(tmp_path / "library.sqlite", tmp_path / "in", guess=True)
        assert drawn_meanwhile(guessed, 2) is None
        with pytest.raises(InputError, match="no course to rebuild round 2 on"):
            move_round(guessed, 2)
        course, _ = confirm_course(guessed, 1, "Invented Park", every(guessed))
        assert guessed_rounds(guessed) == {2}
        assert drawn_meanwhile(guessed, 2).course == course
        move_round(guessed, 2)
        assert guessed_rounds(guessed) == frozenset()
        first, second = (read_round(guessed, number)[1].course for number in (1, 2))
        assert first == second
        with pytest.raises(InputError, match="no course to rebuild round 2 on"):
            move_round(guessed, 2)


class TestSome:
    def test_the_round_stays_and_only_these_are_in_the_course(self, guessed):  # noqa: F811
        shots = read_holes(guessed)
        some = {hole: as_is for hole, as_is in every(guessed).items() if hole in (1, 2, 5)}
        some[5] = HoleAsConfirmed(7, 3, 1)
        _, moved = confirm_course(guessed, 1, "Invented Park", some)
        assert not moved
        assert guessed_rounds(guessed) == {1}
        assert read_holes(guessed).equals(shots.assign(course="Invented Park"))
        (known,) = known_courses(guessed)
        course = read_course_files(known.files)
        assert [(hole.number, hole.par, hole.stroke_index) for hole in course.holes if hole.number == 7] == [
            (7, 3, 1)
        ]
        assert len(course.holes) == 3
        # Source: README, "No map of the course?": nothing of the way there or home goes into it.
        kinds = {feature["properties"].get("golf") for feature in json.loads(known.files.map)["features"]}
        assert kinds <= {"hole", "tee", "green", None}


class TestRefused:
    @pytest.mark.parametrize(
        ("name", "holes", "said"),
        [
            (" ", {1: HoleAsConfirmed(1, 4, 1)}, "the course has no name"),
            ("Park", {}, "no hole is confirmed"),
            ("Park", {1: HoleAsConfirmed(1, 4, 1), 2: HoleAsConfirmed(1, 4, 2)}, "two holes have the number 1"),
            ("Park", {1: HoleAsConfirmed(1, 4, 1), 2: HoleAsConfirmed(2, 4, 1)}, "two holes have stroke index 1"),
        ],
    )  # fmt: skip
    def test_and_nothing_is_kept(self, guessed, name, holes, said):  # noqa: F811
        with pytest.raises(InputError, match=said):
            confirm_course(guessed, 1, name, holes)
        assert known_courses(guessed) == []

    @pytest.mark.parametrize("content", [b"", b"no course", b'{"type": "FeatureCollection", "features": []}'])
    def test_a_file_that_is_none(self, guessed, content):  # noqa: F811
        with pytest.raises(InputError) as caught:
            confirm_course(guessed, 1, "Park", {}, content)
        assert "/tmp" not in str(caught.value)
        assert known_courses(guessed) == []

    def test_a_round_on_a_drawn_course(self, connection):
        with pytest.raises(InputError, match="are not guessed"):
            confirm_course(connection, 1, "Park", {1: HoleAsConfirmed(1, 4, 1)})

    def test_a_round_corrected_meanwhile(self, guessed, monkeypatch):  # noqa: F811
        from trackgolf.corrections import Correction
        from trackgolf.library import confirming

        putts = Correction(id="c1", what="putts", hole=1, putts=1)

        real = confirming.rebuild_round

        def meanwhile(recordings, materials):
            played = real(recordings, materials)
            correct_round(guessed, 1, lambda corrections: corrections.adding(putts))
            return played

        monkeypatch.setattr(confirming, "rebuild_round", meanwhile)
        with pytest.raises(InputError, match="changed meanwhile"):
            confirm_course(guessed, 1, "Park", every(guessed))
        assert known_courses(guessed) == []
        assert read_round(guessed, 1)[1].corrections is not None
