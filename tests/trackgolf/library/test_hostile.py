"""Commands on the library, given numbers, names, places and bytes that nobody means well."""

import shutil
import sqlite3

import pytest
from click.testing import CliRunner

from trackgolf.cli import main

# More than the eight bytes that SQLite has for a number.
HUGE = "9" * 30


def refused(*words):
    """Run a command that must end in one clear line, or one with a count and indented lines."""
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 2, result.output
    told = [line for line in result.stderr.splitlines() if not line.startswith("note: ")]
    assert told[0].startswith("trackgolf: ")
    assert all(line.startswith("  ") for line in told[1:])
    assert all(line.isprintable() for line in told)
    return told[0]


class TestNumbersTooLarge:
    @pytest.mark.parametrize(
        "words",
        [
            ("report", HUGE, "--out", "nowhere"),
            ("correct", HUGE),
            ("correct", HUGE, "--note", "x"),
            ("explain", HUGE, "--hole", "1"),
            ("export", HUGE, "--out", "nowhere.csv"),
            ("forget", HUGE, "--yes"),
        ],
    )
    def test_of_a_round(self, library, words, tmp_path, monkeypatch):
        monkeypatch.chdir(tmp_path)
        assert f"the library has no round {HUGE}" in refused(*words, "--library", library)
        assert not list(tmp_path.glob("nowhere*"))

    @pytest.mark.parametrize("words", [("--hole", HUGE), ("--hole", "1", "--shot", HUGE)])
    def test_of_what_a_note_is_about(self, library, words):
        message = refused("correct", 1, "--note", "x", *words, "--library", library)
        assert "no such hole or shot" in message

    @pytest.mark.parametrize("name", ["n" + "9" * 19, f"n{HUGE}", "n²", "n٣", "n", "n-1"])
    def test_of_a_note(self, library, name):
        refused("correct", 1, "--take-back", name, "--library", library)


class TestPlacesToWrite:
    @pytest.mark.parametrize("name", ["e.gpkg", "e.csv", "e.geojson"])
    def test_below_a_file(self, library, tmp_path, name):
        (tmp_path / "file").write_text("mine")
        message = refused("export", 1, "--out", tmp_path / "file" / name, "--library", library)
        assert "cannot be written" in message
        assert (tmp_path / "file").read_text() == "mine"

    def test_a_folder_called_like_a_file(self, library, tmp_path):
        (tmp_path / "e.gpkg").mkdir()
        assert "folder" in refused("export", 1, "--out", tmp_path / "e.gpkg", "--library", library)

    def test_a_name_that_is_no_text(self, library, tmp_path):
        """Names of files are bytes on many systems, and need not be UTF-8."""
        result = CliRunner().invoke(
            main, ["export", "1", "--out", str(tmp_path / "\udcff.csv"), "--library", str(library)]
        )
        assert result.exit_code == 0, result.output
        assert "\\udcff.csv" in result.stdout


class TestDamagedContents:
    """A file that SQLite finds whole, with bytes in it that say nothing."""

    @pytest.mark.parametrize(
        ("table", "column", "command"),
        [
            ("recording", "track", ("report", 1, "--out", "r")),
            ("bag", "content", ("report", 1, "--out", "r")),
            ("bag", "content", ("carries",)),
            ("course_version", "map", ("explain", 1, "--hole", 1)),
            ("course_version", "lines", ("import", "again.gpx", "--workers", 1)),
        ],
    )
    @pytest.mark.parametrize("bytes_", [b"", b"junk", b"PK\x03\x04junk", b"x\x9cjunk"])
    def test_is_told(self, library, season_folder, tmp_path, monkeypatch, table, column, command, bytes_):
        monkeypatch.chdir(tmp_path)
        shutil.copy(season_folder / "round_000.gpx", tmp_path / "again.gpx")
        changed = sqlite3.connect(library)
        changed.execute(f"UPDATE {table} SET {column} = ?", (bytes_,))
        changed.commit()
        changed.close()
        message = refused(*command, "--library", library)
        assert "damaged" in message
        assert not (tmp_path / "r").exists()


@pytest.mark.parametrize(
    ("words", "option"),
    [(("carries", "--tee", "white"), "--tee"), (("correct", 1, "--at", "1,2"), "--at")],
)
def test_an_option_that_would_be_passed_over(library, words, option):
    assert f"{option}: " in refused(*words, "--library", library)


def test_a_schema_that_is_no_text(library):
    content = library.read_bytes()
    assert b"CREATE TABLE player (" in content
    library.write_bytes(content.replace(b"CREATE TABLE player (", b"CREATE \xe9ABLE player ("))
    assert "the library is damaged" in refused("rounds", "--library", library)
