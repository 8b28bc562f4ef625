"""Forgotten is gone: no byte of it in any file of the library."""

import pytest
from click.testing import CliRunner

from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.cli import main
from trackgolf.errors import LibraryError
from trackgolf.library.forgetting import forget_player, forget_rounds
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_rounds, read_shots


@pytest.fixture
def guest(library, tmp_path):
    """The library of three rounds, with a round of a guest on a course of their own."""
    folder = tmp_path / "guest"
    folder.mkdir()
    (folder / "bag.toml").write_text(invented.bag("Olu Brackwater"))
    (folder / "course.geojson").write_text(invented.course("Invented Secret Park", lon=-30.5))
    (folder / "moor_walk.gpx").write_text(invented.moved_east(invented.track(days=8), 0.5))
    assert [outcome.kind for outcome in put_in(library, folder)] == ["new"]
    return library


def bytes_beside(place):
    return b"".join(path.read_bytes() for path in place.parent.glob(f"{place.name}*"))


def secrets(place, player):
    """Pieces of a player's data as they lie in the file: names, the packed track, bag, times of shots."""
    connection = open_library(place)
    row = "SELECT {} FROM recording JOIN round ON round.id = recording.round JOIN player ON player.id = round.player WHERE player.name = ?"
    tracks = [bytes(track[0])[100:160] for track in connection.execute(row.format("track"), (player,))]
    times = [time[0].encode() for time in connection.execute(row.format("recording.first_time"), (player,))]
    bags = connection.execute(
        "SELECT content FROM bag JOIN player ON player.id = bag.player WHERE name = ?", (player,)
    )
    found = [*tracks, *times, *(bytes(bag[0])[:60] for bag in bags), player.encode()]
    connection.close()
    return found


class TestPlayer:
    def test_is_gone_from_every_file(self, guest):
        told = [*secrets(guest, "Olu Brackwater"), b"Invented Secret Park", b"moor_walk"]
        backup = guest.with_name(guest.name + ".schema-0.backup")
        backup.write_bytes(guest.read_bytes())
        before = bytes_beside(guest)
        assert all(secret in before for secret in told)
        connection = open_library(guest)
        gone = forget_player(connection, guest, "olu brackwater")
        # Also while the library is still open: its log is empty.
        assert not [secret for secret in told if secret in bytes_beside(guest)]
        assert read_rounds(connection)["player"].unique().tolist() == ["Ines Okafor"]
        # Source: SQLite, PRAGMA integrity_check and foreign_key_check.
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        connection.close()
        assert gone == [backup]
        assert not backup.exists()
        assert not [secret for secret in told if secret in bytes_beside(guest)]

    def test_others_keep_everything(self, guest):
        connection = open_library(guest)
        before = read_shots(connection, "Ines Okafor")
        forget_player(connection, guest, "Olu Brackwater")
        assert read_shots(connection).equals(before)
        connection.close()

    def test_who_is_not_there(self, guest):
        connection = open_library(guest)
        with pytest.raises(LibraryError, match="no player 'Olu Brack'"):
            forget_player(connection, guest, "Olu Brack")
        connection.close()


class TestRound:
    def test_is_gone_and_the_others_stay(self, guest):
        told = [secret for secret in secrets(guest, "Olu Brackwater") if b"Olu" not in secret]
        connection = open_library(guest)
        with pytest.raises(LibraryError, match="no round 9"):
            forget_rounds(connection, guest, [4, 9])
        assert len(read_rounds(connection)) == 4
        forget_rounds(connection, guest, [4])
        assert read_rounds(connection)["round"].tolist() == [1, 2, 3]
        bag = connection.execute("SELECT COUNT(*) FROM bag").fetchone()[0]
        connection.close()
        # The bag is the player's, and stays until the player goes.
        assert bag == 2
        content = bytes_beside(guest)
        assert b"Invented Secret Park" not in content
        assert told[0] not in content
        assert told[1] not in content

    def test_its_number_is_not_given_again(self, guest, tmp_path):
        connection = open_library(guest)
        forget_rounds(connection, guest, [4])
        connection.close()
        (outcome,) = put_in(guest, tmp_path / "guest")
        assert (outcome.kind, outcome.round) == ("new", 5)

    def test_says_so_when_the_log_is_still_read(self, guest):
        connection, other = open_library(guest), open_library(guest)
        other.execute("BEGIN")
        other.execute("SELECT COUNT(*) FROM round").fetchone()
        connection.execute("PRAGMA busy_timeout = 50")
        with pytest.raises(LibraryError, match="another program has the library open"):
            forget_rounds(connection, guest, [4])
        other.close()
        connection.close()


class TestCommand:
    @pytest.fixture(autouse=True)
    def own_library(self, guest, monkeypatch):
        monkeypatch.setenv("TRACKGOLF_LIBRARY", str(guest))

    def test_asks_first(self):
        result = CliRunner().invoke(main, ["forget", "4"])
        assert result.exit_code == 2
        assert "this cannot be undone. Give --yes" in result.stderr
        assert "Olu Brackwater" in CliRunner().invoke(main, ["rounds"]).stdout

    def test_says_what_it_did(self):
        result = CliRunner().invoke(main, ["forget", "--player", "Olu Brackwater", "--yes"])
        assert result.exit_code == 0, result.output
        assert result.stdout == "Forgotten: Olu Brackwater with 1 round.\n"
        assert "Olu" not in CliRunner().invoke(main, ["rounds"]).stdout

    def test_one_or_the_other(self):
        for words in (["forget"], ["forget", "4", "--player", "Olu Brackwater"]):
            assert CliRunner().invoke(main, words).exit_code == 2
