"""What is set right by hand holds, is kept, and is laid over every rebuilding."""

import json
import re

import pandas as pd
import pytest
from click.testing import CliRunner

from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.cli import main
from trackgolf.cli.correct import _clock
from trackgolf.corrections import Correction
from trackgolf.errors import InputError, LibraryError
from trackgolf.library.correcting import (
    add_note,
    correct_round,
    read_corrections_of,
    read_notes,
    rebuild_older,
    remove_note,
)
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_holes, read_rounds, read_shots


def shot(connection, hole, number, round_=1):
    shots = read_shots(connection)
    (found,) = shots[
        (shots["round"] == round_) & (shots["hole"] == hole) & (shots["shot"] == number)
    ].to_dict("records")
    return found


def club_of(connection, hole, number, club):
    return Correction(
        id="c1", what="club", hole=hole, time=shot(connection, hole, number)["start_time"], club=club
    )


class TestCorrect:
    def test_holds_and_leaves_other_rounds_alone(self, connection):
        others = read_shots(connection).query("round != 1")
        before = shot(connection, 1, 2)
        assert before["club_source"] == "inferred"
        entry = club_of(connection, 1, 2, "5 wood")
        correct_round(connection, 1, lambda corrections: corrections.adding(entry))
        after = shot(connection, 1, 2)
        assert (after["club"], after["club_source"]) == ("5 wood", "corrected")
        assert read_corrections_of(connection, 1).entries == (entry,)
        assert read_shots(connection).query("round != 1").equals(others)

    def test_outlives_a_better_method(self, connection, monkeypatch):
        entry = club_of(connection, 1, 2, "5 wood")
        correct_round(connection, 1, lambda corrections: corrections.adding(entry))
        monkeypatch.setattr("trackgolf.library.rebuild.method_version", lambda: "9-later")
        monkeypatch.setattr("trackgolf.library.correcting.method_version", lambda: "9-later")
        assert list(rebuild_older(connection)) == [(1, ""), (2, ""), (3, "")]
        assert read_rounds(connection)["method"].tolist() == ["9-later"] * 3
        assert shot(connection, 1, 2)["club_source"] == "corrected"
        assert list(rebuild_older(connection)) == []

    def test_can_be_taken_back(self, connection):
        before = read_shots(connection)
        entry = club_of(connection, 1, 2, "5 wood")
        correct_round(connection, 1, lambda corrections: corrections.adding(entry))
        correct_round(connection, 1, lambda corrections: corrections.without("c1"))
        assert read_corrections_of(connection, 1).entries == ()
        assert read_shots(connection).equals(before)

    def test_two_at_once_lose_nothing(self, connection, library):
        # Somebody else corrects the round while this correction is worked out.
        mine, theirs = club_of(connection, 1, 2, "5 wood"), club_of(connection, 1, 1, "7 iron")
        calls = []

        def change(corrections):
            calls.append(len(corrections.entries))
            if len(calls) == 1:
                other = open_library(library)
                correct_round(other, 1, lambda their: their.adding(theirs))
                other.close()
            return corrections.adding(Correction(**{**vars_of(mine), "id": corrections.next_id()}))

        correct_round(connection, 1, change)
        assert calls == [0, 1]
        assert [entry.club for entry in read_corrections_of(connection, 1).entries] == ["7 iron", "5 wood"]
        assert {shot(connection, 1, number)["club"] for number in (1, 2)} == {"7 iron", "5 wood"}

    def test_what_cannot_be_rebuilt_changes_nothing(self, connection):
        before = read_shots(connection)
        with pytest.raises(InputError, match="14"):
            correct_round(connection, 1, lambda corrections: corrections, card=b"hole,strokes\n14,4\n")
        assert read_shots(connection).equals(before)
        assert not read_rounds(connection)["carded"].any()

    def test_a_card_can_come_later(self, connection):
        correct_round(connection, 1, lambda corrections: corrections, card=invented.CARD.encode())
        holes = read_holes(connection).query("round == 1")
        assert holes["strokes"].tolist() == [5, 3, 5]
        assert read_rounds(connection)["carded"].tolist() == [True, False, False]

    def test_a_round_that_is_not_there(self, connection):
        with pytest.raises(LibraryError, match="no round 8"):
            correct_round(connection, 8, lambda corrections: corrections)


def vars_of(entry):
    return {name: getattr(entry, name) for name in entry.__slots__}


class TestImported:
    def test_corrections_beside_the_track_or_named(self, tmp_path):
        document = {
            "format": "trackgolf corrections", "version": 1, "corrections": [{"id": "a", "what": "putts", "hole": 2, "putts": 4}]
        }  # fmt: skip
        folder = invented.season(tmp_path / "in", 1)
        (folder / "corrections.json").write_text(json.dumps(document))
        put_in(tmp_path / "beside.sqlite", folder)
        words = [
            folder / "round_000.gpx",
            "--bag",
            folder / "bag.toml",
            "--course",
            folder / "course.geojson",
        ]
        words += ["--corrections", folder / "corrections.json", "--library", tmp_path / "named.sqlite"]
        result = CliRunner().invoke(main, ["import", *map(str, words)])
        assert result.exit_code == 0, result.output
        for name in ("beside", "named"):
            connection = open_library(tmp_path / f"{name}.sqlite")
            assert read_holes(connection)["putts"].tolist()[1] == 4
            assert [entry.id for entry in read_corrections_of(connection, 1).entries] == ["a"]
            connection.close()


class TestNotes:
    def test_are_kept_by_hole_and_shot(self, connection):
        add_note(connection, 1, " wind\n against ", hole=2, shot=1)
        add_note(connection, 1, "first round with the new clubs")
        notes = read_notes(connection, 1)
        assert [(note.hole, note.shot, note.text) for note in notes] == [
            (None, None, "first round with the new clubs"), (2, 1, "wind against"),
        ]  # fmt: skip
        assert read_notes(connection, 2) == []
        remove_note(connection, 1, notes[0].id)
        assert [note.hole for note in read_notes(connection, 1)] == [2]
        with pytest.raises(LibraryError, match="has no note"):
            remove_note(connection, 2, notes[1].id)

    @pytest.mark.parametrize(("text", "of"), [("  ", {}), ("x", {"shot": 1})])
    def test_must_say_something_about_something(self, connection, text, of):
        with pytest.raises(LibraryError):
            add_note(connection, 1, text, **of)


class TestCommand:
    @pytest.fixture(autouse=True)
    def own_library(self, library, monkeypatch):
        monkeypatch.setenv("TRACKGOLF_LIBRARY", str(library))

    @staticmethod
    def call(*words, status=0):
        result = CliRunner().invoke(main, ["correct", *(str(word) for word in words)])
        assert result.exit_code == status, result.output
        return result

    def test_lists_sets_right_and_takes_back(self):
        listed = self.call(1, "--hole", 1).stdout
        assert len(re.findall(r"^ +1 +\d ", listed, flags=re.MULTILINE)) == 3
        self.call(1, "--hole", 1, "--shot", 2, "--club", "5w", "--note", "choked down")
        listed = self.call(1, "--hole", 1).stdout
        assert "corrected" in listed
        assert re.search(r"correction 'c1' \(club at \d\d:\d\d:\d\d UTC\), hole 1: choked down", listed)
        self.call(1, "--take-back", "c1")
        assert "corrected" not in self.call(1, "--hole", 1).stdout

    def test_says_what_changed(self):
        before = self.call(1, "--hole", 2).stdout
        assert "Set right" not in before
        told = self.call(1, "--hole", 2, "--putts", 1).stdout
        # Derived: one shot to a par 3, then one putt.
        assert re.search(r"hole 2: 2 strokes, 1 shots?, 1 putts?, 0 penalties \(was ", told)

    def test_a_hole_that_goes_leaves_the_others_alone(self):
        told = self.call(1, "--hole", 1, "--not-played").stdout
        assert told == "hole 1: not played any more\nSet right.\n"

    def test_a_place_west_of_greenwich(self):
        self.call(1, "--hole", 1, "--shot", 3, "--move=-30.99995,47.00236")
        listed = self.call(1, "--hole", 1).stdout
        assert "(move at " in listed

    def test_remove_and_add(self, library):
        connection = open_library(library)
        zone = read_rounds(connection)["time_zone"].iloc[0]
        chip = shot(connection, 1, 3)
        connection.close()
        told = self.call(1, "--hole", 1, "--shot", 3, "--remove").stdout
        assert re.search(r"hole 1: .*2 shots, .*was .*3 shots", told)
        clock = f"{chip['start_time'].tz_convert(zone):%H:%M:%S}"
        self.call(1, "--take-back", "c1")
        self.call(1, "--hole", 1, "--shot", 3, "--remove")
        told = self.call(1, "--hole", 1, "--add", clock).stdout
        assert re.search(r"hole 1: .*3 shots, .*was .*2 shots", told)

    def test_a_file_of_corrections(self, tmp_path):
        path = tmp_path / "corrections.json"
        path.write_text(json.dumps({
            "format": "trackgolf corrections", "version": 1,
            "corrections": [{"id": "a", "what": "putts", "hole": 1, "putts": 3}, {"id": "b", "what": "putts", "hole": 2, "putts": 3}],
        }))  # fmt: skip
        told = self.call(1, "--from", path).stdout
        assert told.count("3 putts") == 2

    def test_a_note_is_shown_in_the_report(self, tmp_path):
        self.call(1, "--hole", 2, "--note", "{{7*7}} <b>wind</b>")
        result = CliRunner().invoke(main, ["report", "1", "--out", str(tmp_path / "out")])
        assert result.exit_code == 0, result.output
        page = (tmp_path / "out" / "report.html").read_text()
        assert "noted: {{7*7}} &lt;b&gt;wind&lt;/b&gt;" in page or "noted: {{7*7}} \\u003cb" in page
        assert "<b>wind" not in page
        listed = self.call(1).stdout
        assert "n1 (hole 2): {{7*7}} <b>wind</b>" in listed
        assert self.call(1, "--take-back", "n1").stdout == "Taken back.\n"

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            ((9,), "no round 9"),
            ((1, "--putts", "2"), "--hole"),
            ((1, "--hole", "1", "--club", "7i"), "--shot"),
            ((1, "--hole", "1", "--shot", "8", "--club", "7i"), "no shot 8"),
            ((1, "--hole", "1", "--shot", "1", "--lie", "tree"), "'tree'"),
            ((1, "--hole", "1", "--add", "late"), "'late' is not a time"),
            ((1, "--hole", "1", "--shot", "1", "--move", "here"), "longitude"),
            ((1, "--take-back", "c7"), "'c7'"),
            ((1, "--take-back", "n7"), "no note 7"),
            ((1, "--hole", "1", "--shot", "1", "--playing", "2", "--confirm"), "no such playing"),
        ],
    )
    def test_refuses_in_one_line(self, words, said):
        result = self.call(*words, status=2)
        assert said in result.stderr
        assert "Traceback" not in result.stderr


class TestClock:
    def test_is_that_of_the_course(self):
        row = pd.Series(
            {
                "start_time": pd.Timestamp("2026-07-04T13:49Z"),
                "time_zone": "Europe/London",
                "day": "2026-07-04",
            }
        )
        # Source: IANA tz database: British Summer Time is an hour ahead of UTC in July.
        assert _clock("15:00:10", row) == pd.Timestamp("2026-07-04T14:00:10Z")
        assert _clock("2026-07-04T15:00:10+02:00", row) == pd.Timestamp("2026-07-04T13:00:10Z")

    def test_goes_on_past_midnight(self):
        row = pd.Series(
            {"start_time": pd.Timestamp("2026-06-20T20:30Z"), "time_zone": "UTC", "day": "2026-06-20"}
        )
        assert _clock("00:10:00", row) == pd.Timestamp("2026-06-21T00:10:00Z")
