"""The library's file: made, opened, refused."""

import contextlib
import re
import sqlite3
import stat
from pathlib import Path

import pytest

from trackgolf.errors import LibraryError
from trackgolf.library import opening, schema, sql
from trackgolf.library.opening import default_path, open_library, writing


class TestOpen:
    def test_makes_a_file_only_its_owner_reads(self, tmp_path):
        place = tmp_path / "new" / "library.sqlite"
        open_library(place, create=True).close()
        assert stat.S_IMODE(place.stat().st_mode) == 0o600
        # Source: SQLite, Database File Format, 1.3: the header, the application's number at 68, both file formats 2
        # for write-ahead logging at 18 and 19.
        content = place.read_bytes()
        assert content.startswith(b"SQLite format 3\x00")
        assert content[68:72] == b"TGLF"
        assert content[18:20] == b"\x02\x02"

    def test_holds_foreign_keys(self, connection):
        with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
            connection.execute("UPDATE round SET player = 99")

    def test_says_that_there_is_none(self, tmp_path):
        with pytest.raises(LibraryError, match="no library yet"):
            open_library(tmp_path / "library.sqlite")
        assert list(tmp_path.iterdir()) == []

    def test_looks_at_one_moment_while_another_makes_it(self, tmp_path):
        place = tmp_path / "library.sqlite"
        place.touch()
        # Source: SQLite, Isolation in SQLite: in write-ahead mode a reader goes on seeing the state it began with.
        with contextlib.closing(opening._connect(place, read_only=False)) as connection:
            opening._set_log(connection)
            made = []

            def meanwhile(statement):
                if statement == sql.COUNT_TABLES and not made:
                    made.append(statement)
                    open_library(place, create=True).close()

            connection.set_trace_callback(meanwhile)
            assert opening._look(connection, place) == (0, 0)
            assert made
            version, tables = opening._look(connection, place)
        assert version == schema.SCHEMA_VERSION
        assert tables > 0

    @pytest.mark.parametrize("read_only", [False, True])
    def test_does_not_write_into_an_empty_file(self, tmp_path, read_only):
        place = tmp_path / "library.sqlite"
        place.touch()
        with pytest.raises(LibraryError, match="empty, no library"):
            open_library(place, read_only=read_only)
        assert place.read_bytes() == b""

    @pytest.mark.parametrize("content", [b"hole,par\n" * 99, b"SQLite format 3\x00" + b"\xff" * 5000])
    def test_refuses_other_files(self, tmp_path, content):
        place = tmp_path / "library.sqlite"
        place.write_bytes(content)
        with pytest.raises(LibraryError, match=r"library\.sqlite"):
            open_library(place, create=True)
        assert place.read_bytes() == content

    def test_refuses_a_database_of_another_program(self, tmp_path):
        place = tmp_path / "library.sqlite"
        other = sqlite3.connect(place)
        other.execute("CREATE TABLE invented (x)")
        other.close()
        before = place.read_bytes()
        with pytest.raises(LibraryError, match="another program"):
            open_library(place, create=True)
        assert place.read_bytes() == before

    def test_refuses_a_folder(self, tmp_path):
        with pytest.raises(LibraryError, match="folder"):
            open_library(tmp_path, create=True)

    def test_refuses_one_of_a_newer_trackgolf(self, library):
        newer = sqlite3.connect(library)
        newer.execute(f"PRAGMA user_version = {schema.SCHEMA_VERSION + 1}")
        newer.close()
        with pytest.raises(LibraryError, match="newer trackgolf") as refused:
            open_library(library)
        assert refused.value.do == "Bring trackgolf up to date"

    def test_lies_where_the_person_or_the_platform_says(self, monkeypatch, tmp_path):
        monkeypatch.setenv("TRACKGOLF_LIBRARY", str(tmp_path / "mine"))
        assert default_path() == tmp_path / "mine"
        monkeypatch.delenv("TRACKGOLF_LIBRARY")
        monkeypatch.setenv("HOME", str(tmp_path))
        monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
        # Source: XDG Base Directory Specification 0.8, XDG_DATA_HOME; other platforms have places of their own.
        assert default_path().name == "library.sqlite"
        assert tmp_path in default_path().parents


class TestWriting:
    def test_all_or_nothing(self, connection):
        with pytest.raises(RuntimeError), writing(connection):  # noqa: PT012
            connection.execute("DELETE FROM shot")
            raise RuntimeError
        assert connection.execute("SELECT COUNT(*) FROM shot").fetchone()[0] > 0
        with writing(connection):
            connection.execute("DELETE FROM shot")
        assert connection.execute("SELECT COUNT(*) FROM shot").fetchone()[0] == 0


def test_all_statements_stand_in_two_modules():
    words = re.compile(r"\b(SELECT\s|INSERT INTO|UPDATE \w+ SET|DELETE FROM|CREATE TABLE)")
    package = Path(opening.__file__).parents[1]
    found = [path.name for path in package.rglob("*.py") if words.search(path.read_text(encoding="utf-8"))]
    assert sorted(found) == ["schema.py", "sql.py"]
