"""A library that SQLite finds sound, with values in it that no trackgolf writes: one clear line, whatever the column."""

import contextlib
import shutil
import sqlite3

import pytest
from click.testing import CliRunner

from trackgolf.cli import main
from trackgolf.errors import LibraryError
from trackgolf.library.columns import RESULTS
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_comparisons, read_holes, read_rounds, read_shots
from trackgolf.library.schema import MIGRATIONS

BYTES = b"\x00\xff"
# Source: SQLite, "Datatypes In SQLite", 3: any column may hold any of these, but for one that is a key of whole numbers.
WRONG = ("words", BYTES, float("inf"), 2**63 - 1, "9999-12-31T00:00:00.000000Z")
READ = {"shot": read_shots, "hole": read_holes, "comparison": read_comparisons}


def columns():
    """Every column of every table, as the schema of today has them."""
    with contextlib.closing(sqlite3.connect(":memory:")) as base:
        for step in MIGRATIONS:
            for statement in step:
                base.execute(statement)
        tables = [row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return [
            (table, row[1], row[2])
            for table in tables
            if not table.startswith("sqlite_")
            for row in base.execute(f"PRAGMA table_info({table})")
        ]


def put(place, table, column, value):
    """Put a value where it does not belong; False where SQLite itself will not have it."""
    with contextlib.closing(sqlite3.connect(place)) as base:
        base.execute("PRAGMA ignore_check_constraints = ON")
        try:
            changed = base.execute(
                f"UPDATE {table} SET {column} = ? WHERE rowid = (SELECT MIN(rowid) FROM {table})", (value,)
            )
            base.commit()
        except (sqlite3.IntegrityError, sqlite3.OperationalError):
            return False
        return changed.rowcount > 0


def run(*words):
    """Run a command that ends well or is refused in one clear line."""
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), (words, result.exception)
    assert result.exit_code in (0, 2)
    if result.exit_code == 2:
        told = [line for line in result.stderr.splitlines() if not line.startswith("note: ")]
        assert told[0].startswith("trackgolf: ")
        assert all(line.startswith("  ") for line in told[1:])
    shown = result.stderr if "--json" in words else result.stdout + result.stderr
    assert all(line.isprintable() for line in shown.splitlines()), words
    return result


@pytest.fixture(scope="module")
def full(made_once, tmp_path_factory):
    """A library with something in every table but those of imports that are under way."""
    place = tmp_path_factory.mktemp("full") / "library.sqlite"
    shutil.copy(made_once, place)
    run("correct", 1, "--note", "into the wind", "--library", place)
    run("correct", 1, "--hole", 1, "--putts", 3, "--library", place)
    with contextlib.closing(sqlite3.connect(place)) as base:
        base.execute("INSERT INTO comparison (round, position, hole, shot) VALUES (1, 0, 1, 1)")
        base.commit()
    return place


@pytest.fixture
def place(full, tmp_path):
    shutil.copy(full, tmp_path / "library.sqlite")
    return tmp_path / "library.sqlite"


@pytest.mark.parametrize("table", dict.fromkeys(table for table, _, _ in columns()))
def test_whatever_is_read_of_it(full, tmp_path, table):
    """Opening and reading all tables, for each column and each value, says what is damaged or gives a table."""
    refused = tried = 0
    told = set()
    for _, column, _ in (row for row in columns() if row[0] == table):
        for value in WRONG:
            copy = tmp_path / "library.sqlite"
            shutil.copy(full, copy)
            if not put(copy, table, column, value):
                continue
            tried += 1
            try:
                with contextlib.closing(open_library(copy)) as connection:
                    read_rounds(connection)
                    for read in READ.values():
                        read(connection)
            except LibraryError as error:
                refused += 1
                told.add(error.what)
    assert all("damaged" in what and "'" in what for what in told)
    if not table.startswith("job") and table not in ("player_note", "plan"):
        assert tried
    if table in READ:
        # Each of its columns is held to its kind.
        assert refused >= len(RESULTS[table])


@pytest.mark.parametrize(("table", "column", "kind"), columns())
def test_bytes_where_something_else_is_due(place, table, column, kind):
    if not put(place, table, column, BYTES) or kind == "BLOB" or table == "remark":
        return
    told = run("carries" if table in RESULTS else "rounds", "--library", place)
    if table in ("shot", "hole") and column not in ("round", "position"):
        assert told.exit_code == 2
        assert f"'{column} of a {table}'" in told.stderr
    elif table not in RESULTS:
        assert told.exit_code == 2
        assert repr(column) in told.stderr


@pytest.mark.parametrize(
    ("table", "column"), [("shot", "club"), ("shot", "start_time"), ("round", "day"), ("player", "name")]
)
def test_a_text_that_is_none(place, table, column):
    with contextlib.closing(sqlite3.connect(place)) as base:
        base.execute(f"UPDATE {table} SET {column} = CAST(x'ff1b5b324aff' AS TEXT)")
        base.commit()
    for words in (("carries",), ("rounds",), ("export", 1, "--out", place.with_name("e.csv"))):
        assert run(*words, "--library", place).exit_code == (
            0 if table == "shot" and words == ("rounds",) else 2
        )


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("course", "time_zone", ""),
        ("course", "time_zone", "Europe"),
        ("course", "time_zone", "../../etc/passwd"),
        ("course", "time_zone", "\x00"),
        ("course", "name", "é\x1b[2J\u202e"),
        ("bag", "id", -1),
        ("bag", "content", b"x\x9c"),
        ("recording", "track", b"PK\x03\x04"),
        ("course_version", "map", b""),
        ("course_version", "lines", b"\x01"),
        ("round", "corrections", "{"),
        ("round", "corrections", "[1]"),
        ("round", "card", b"\x00"),
        ("round", "tee", "nowhere"),
        ("round", "start_time", "words"),
        ("round", "end_time", "9999-12-31T00:00:00.000000Z"),
        ("round", "day", "\u202e"),
        ("round", "holes", 2**63 - 1),
        ("shot", "more", "{"),
        ("shot", "more", '{"round": 1, "x": [1]}'),
        ("shot", "lie", "moon"),
        ("shot", "distance_m", 1e308),
        ("shot", "start_lat_deg", 1e308),
        ("hole", "par", -1),
        ("hole", "personal_par", 2**63 - 1),
        ("note", "hole", 2**63 - 1),
        ("note", "text", "\x1b[2J"),
    ],
)
def test_no_command_fails(place, tmp_path, table, column, value):
    assert put(place, table, column, value)
    for number, words in enumerate(
        [
            ("rounds",),
            ("rounds", "--json"),
            ("carries",),
            ("approaches",),
            ("players",),
            ("export", 1, "--out", tmp_path / "e.geojson"),
            ("correct", 1),
            ("explain", 1, "--hole", 1),
            ("report", 1, "--out", tmp_path / "r"),
            ("correct", 1, "--hole", 2, "--putts", 3),
            ("forget", 1, "--yes"),
        ]
    ):
        copy = tmp_path / f"{number}.sqlite"
        shutil.copy(place, copy)
        run(*words, "--library", copy)
