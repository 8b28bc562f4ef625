"""A coach's notes and plans: kept, told, taken along, forgotten."""

import json

import pytest
from click.testing import CliRunner

from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.bag import read_bag
from trackgolf.cli import main
from trackgolf.course import read_course
from trackgolf.errors import InputError, LibraryError
from trackgolf.library import sql
from trackgolf.library.coaching import (
    add_player_note,
    read_player_notes,
    read_set_plan,
    read_set_plans,
    remove_player_note,
    set_plan,
    unset_plan,
)
from trackgolf.library.correcting import add_note
from trackgolf.library.exporting import export_rounds, write_export
from trackgolf.library.forgetting import forget_player
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_round
from trackgolf.plan import plan_round
from trackgolf.plan_file import write_plan


@pytest.fixture(scope="module")
def plans(season_folder, tmp_path_factory):
    """Two plans of the invented course: as computed, and with another target."""
    folder = tmp_path_factory.mktemp("plans")
    course, bag = read_course(season_folder / "course.geojson"), read_bag(season_folder / "bag.toml")
    write_plan(folder / "plan.geojson", plan_round(course, bag), course, bag)
    first = (folder / "plan.geojson").read_bytes()
    document = json.loads(first)
    document["features"][0]["properties"]["tolerance_m"] = 25.0
    return first, json.dumps(document).encode()


class TestNotes:
    def test_are_kept_in_order_and_numbers_never_come_back(self, connection):
        first = add_player_note(connection, "ines okafor", " aims left\n of greens\x1b[31m ")
        second = add_player_note(connection, "Ines", "x" * 5000)
        notes = read_player_notes(connection)
        assert [(note.id, note.player) for note in notes] == [
            (first, invented.PLAYER),
            (second, invented.PLAYER),
        ]
        # Derived: what is not printable is a blank, blanks next to each other are one.
        assert notes[0].text == "aims left of greens [31m"
        assert len(notes[1].text) == 2000
        remove_player_note(connection, invented.PLAYER, second)
        # Source: SQLite, "SQLite Autoincrement": with AUTOINCREMENT a number is not given again.
        assert add_player_note(connection, invented.PLAYER, "again") == second + 1

    @pytest.mark.parametrize("number", [0, -1, 99, sql.LARGEST_NUMBER + 1])
    def test_what_is_not_there(self, connection, number):
        for change in (remove_player_note, unset_plan, read_set_plan):
            with pytest.raises(LibraryError, match=str(number)[:20]):
                change(connection, invented.PLAYER, number)

    def test_nothing_said_and_nobody(self, connection):
        with pytest.raises(LibraryError, match="the note is empty"):
            add_player_note(connection, invented.PLAYER, " \n\x07 ")
        with pytest.raises(LibraryError, match="no player 'nobody'"):
            add_player_note(connection, "nobody", "x")
        assert read_player_notes(connection) == []

    def test_of_somebody_else_stay(self, library, connection, tmp_path):
        folder = tmp_path / "guest"
        folder.mkdir()
        (folder / "bag.toml").write_text(invented.bag("Olu Brackwater"))
        (folder / "course.geojson").write_text(invented.course())
        (folder / "a.gpx").write_text(invented.track(days=30))
        put_in(library, folder)
        mine = add_player_note(connection, invented.PLAYER, "mine, quite secret")
        add_player_note(connection, "Olu Brackwater", "a word nobody else shall read")
        with pytest.raises(LibraryError, match=f"no note {mine} on 'Olu"):
            remove_player_note(connection, "Olu Brackwater", mine)
        forget_player(connection, library, "Olu Brackwater")
        assert [note.text for note in read_player_notes(connection)] == ["mine, quite secret"]
        content = b"".join(path.read_bytes() for path in library.parent.glob("library.sqlite*"))
        assert b"quite secret" in content
        assert b"nobody else shall read" not in content


class TestExport:
    def test_takes_notes_along_and_a_share_none(self, connection, tmp_path):
        add_player_note(connection, invented.PLAYER, "a secret on the player")
        add_note(connection, 2, "a secret on the round", hole=3)
        for share in (False, True):
            export = export_rounds(connection, [1, 2], share=share)
            for ending in (".geojson", ".gpkg", ".csv"):
                place = tmp_path / f"{share}{ending}"
                write_export(export, place, "notes")
                content = place.read_bytes()
                for secret in (b"a secret on the player", b"a secret on the round"):
                    assert (secret in content) is not share
        # Source: RFC 4180, 2.4: each record has as many fields as the header.
        lines = (tmp_path / "False.csv").read_text().splitlines()
        assert lines[0] == "player,round,hole,shot,made,text"
        assert [line.split(",")[:4] for line in lines[1:]] == [
            [invented.PLAYER, "", "", ""],
            [invented.PLAYER, "2", "3", ""],
        ]

    def test_of_other_rounds_and_players_are_not_in_it(self, connection):
        add_note(connection, 2, "of the second round")
        assert export_rounds(connection, [1]).notes.empty


class TestPlans:
    def test_a_set_plan_is_for_the_next_round_whatever_was_named_since(
        self, library, connection, plans, season_folder, tmp_path
    ):
        later, usual = plans
        put_in(library, self.track(tmp_path / "a", season_folder, 10), plan=usual)
        number = set_plan(connection, invented.PLAYER, 1, later)
        (waiting,) = read_set_plans(connection, invented.PLAYER)
        assert (waiting.id, waiting.course_name, waiting.round) == (number, "Invented Links", None)
        assert read_set_plan(connection, "ines okafor", number) == later
        # An older round comes in with its own plan: that makes it the one named last, and not the one that is set.
        put_in(library, self.track(tmp_path / "b", season_folder, 11), plan=usual)
        (outcome,) = put_in(library, self.track(tmp_path / "c", season_folder, 12))
        assert read_round(connection, outcome.round)[1].plan == later
        (played,) = read_set_plans(connection, invented.PLAYER)
        assert played.round == outcome.round
        put_in(library, self.track(tmp_path / "d", season_folder, 13), plan=usual)
        (outcome,) = put_in(library, self.track(tmp_path / "e", season_folder, 14))
        assert read_round(connection, outcome.round)[1].plan == usual

    def test_taken_back(self, connection, plans):
        number = set_plan(connection, invented.PLAYER, 1, plans[0])
        unset_plan(connection, invented.PLAYER, number)
        assert read_set_plans(connection, invented.PLAYER) == []
        with pytest.raises(LibraryError, match=f"no plan {number}"):
            read_set_plan(connection, invented.PLAYER, number)

    def test_what_cannot_be_set(self, connection, plans):
        with pytest.raises(LibraryError, match="no course 7"):
            set_plan(connection, invented.PLAYER, 7, plans[0])
        with pytest.raises(InputError):
            set_plan(connection, invented.PLAYER, 1, b"no plan")
        assert read_set_plans(connection, invented.PLAYER) == []

    def track(self, folder, season_folder, days):
        folder.mkdir()
        (folder / "bag.toml").write_bytes((season_folder / "bag.toml").read_bytes())
        (folder / "a.gpx").write_text(invented.track(days=days))
        return folder


class TestCommand:
    def run(self, library, *words):
        return CliRunner().invoke(main, ["players", "--library", str(library), *words])

    def test_adds_shows_and_takes_out(self, library, tmp_path):
        told = self.run(library, "--player", "ines", "--note", "aims left")
        assert (told.exit_code, told.stdout) == (0, "Noted about Ines Okafor as note 1.\n")
        shown = self.run(library)
        assert "note 1, " in shown.stdout
        assert "aims left" in shown.stdout
        assert json.loads(self.run(library, "--json").stdout)["players"][0]["notes"][0]["text"] == "aims left"
        notes = tmp_path / "notes.toml"
        notes.write_text(f'[[note]]\nplayer = "{invented.PLAYER}"\ntext = "from the file"\n')
        written = self.run(library, "--out", str(tmp_path / "coach"), "--notes", str(notes))
        assert written.exit_code == 0, written.output
        page = (tmp_path / "coach" / "index.html").read_text()
        assert page.index("aims left") < page.index("from the file")
        assert self.run(library, "--player", "ines", "--remove-note", "1").exit_code == 0
        assert "aims left" not in self.run(library).stdout

    def test_faults(self, library):
        assert self.run(library, "--player", "nobody", "--note", "x").exit_code == 2
        assert self.run(library, "--note", "x", "--remove-note", "1").exit_code == 2
        assert "no player 'nobody'" in self.run(library, "--player", "nobody").stderr


def test_an_older_library_gets_the_new_tables(library, tmp_path):
    from tests.trackgolf.library.victims import older

    old = older(library, tmp_path / "old.sqlite", steps=3)
    connection = open_library(old)
    add_player_note(connection, invented.PLAYER, "kept")
    assert [note.text for note in read_player_notes(connection)] == ["kept"]
    connection.close()
