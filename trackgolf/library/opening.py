"""The library's one file: where it lies, opened, made, brought to the schema of today."""

from __future__ import annotations

import contextlib
import os
import re
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import platformdirs

from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.schema import APPLICATION_ID, MIGRATIONS, SCHEMA_VERSION

__all__ = ["backups_of", "default_path", "library_faults", "open_library", "writing"]

# Another program writing is waited for as long as this [s].
_PATIENCE_S = 60.0
_NAMES = re.compile("[a-z_]+")


def default_path() -> Path:
    """
    Say where the library lies if nobody names a place.

    Returns
    -------
    pathlib.Path
        What ``TRACKGOLF_LIBRARY`` says, else ``library.sqlite`` in the data
        folder that the platform has for programs of one person.
    """
    named = os.environ.get("TRACKGOLF_LIBRARY")
    if named:
        return Path(named)
    return platformdirs.user_data_path("trackgolf", appauthor=False) / "library.sqlite"


def backups_of(path: str | os.PathLike[str]) -> list[Path]:
    """
    List the copies that were made of a library before its schema changed.

    Parameters
    ----------
    path : str or os.PathLike
        The library.

    Returns
    -------
    list of pathlib.Path
        Beside it, oldest schema first.
    """
    whole = Path(path).absolute()
    return sorted(whole.parent.glob(f"{_escaped(whole.name)}.schema-*.backup*"))


def open_library(
    path: str | os.PathLike[str] | None = None, *, create: bool = False, read_only: bool = False
) -> sqlite3.Connection:
    """
    Open a library, and bring an older one to the schema of today.

    Before that a copy of it is put beside it. All of a change is made or
    none of it.

    Parameters
    ----------
    path : str or os.PathLike, optional
        The file; without one, `default_path`.
    create : bool
        Whether to make a library where there is none.
    read_only : bool
        Whether it is only looked at; then a place that cannot be written to
        will do.

    Returns
    -------
    sqlite3.Connection
        With foreign keys on, and in autocommit: write within `writing`.

    Raises
    ------
    LibraryError
        If there is none, the file is something else or was written by a
        newer trackgolf, or it cannot be opened.
    """
    place = Path(path) if path is not None else default_path()
    with library_faults(place), _file_faults(place):
        if place.is_dir():
            raise LibraryError("this is a folder, not a library", str(place), "Name the library's file")
        if not place.exists():
            if not create:
                raise LibraryError(
                    "there is no library yet", str(place), "Import a round first: trackgolf import"
                )
            _make_file(place)
        elif not create and place.stat().st_size == 0:
            # SQLite takes an empty file for an empty database, and would write into one that is somebody else's.
            raise LibraryError("the file is empty, no library", str(place), "Name the library's file")
        connection = _connect(place, read_only=read_only)
        try:
            _bring_up_to_date(connection, place, read_only=read_only)
            _check_kinds(connection, place)
        except BaseException:
            connection.close()
            raise
    return connection


@contextlib.contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """
    Write in one transaction: all of it is kept, or on any error none.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `open_library`.

    Yields
    ------
    sqlite3.Connection
        The same, holding the right to write.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield connection
        connection.execute("COMMIT")
    except BaseException:
        # SQLite has rolled back by itself after some faults, a full disk among them.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextlib.contextmanager
def library_faults(path: str | os.PathLike[str] | None = None) -> Iterator[None]:
    """
    Tell what SQLite refuses as something the user can act on.

    Parameters
    ----------
    path : str or os.PathLike, optional
        The library, for the message.

    Raises
    ------
    LibraryError
        In place of any error of SQLite but a broken rule of ours.
    """
    where = str(path if path is not None else default_path())
    try:
        yield
    except sqlite3.IntegrityError:
        # Ours, not the user's.
        raise
    except UnicodeDecodeError as fault:
        # What SQLite quotes of a damaged schema need not be text.
        raise LibraryError("the library is damaged", where, "Take a backup copy in its place") from fault
    except sqlite3.DatabaseError as fault:
        raise LibraryError(*_in_words(fault, where)) from fault


def _in_words(fault: sqlite3.DatabaseError, where: str) -> tuple[str, str, str]:
    """Say what is wrong, where, and what to do."""
    text = str(fault).lower()
    for sign, what, do in (
        ("full", "the disk is full, nothing of this step was kept", "Make room and do it again"),
        ("disk i/o", "the disk refuses to write or read", "Check its room and rights, then do it again"),
        ("readonly", "the library cannot be written", "Check its rights, or name another with --library"),
        ("unable to open", "the library cannot be opened", "Check the name and rights of its folder"),
        ("locked", "another program has been writing to it for a long time", "Wait for it, then do it again"),
        ("not a database", "this is no library of trackgolf", "Name the library's file"),
        ("malformed", "the library is damaged", "Take a backup copy in its place"),
        # Quotes a text that is none.
        ("could not decode", "the library is damaged", "Take a backup copy in its place"),
    ):
        if sign in text:
            return what, where, do
    return f"the library cannot be used ({fault})", where, "Check the file, or name another with --library"


@contextlib.contextmanager
def _file_faults(place: Path) -> Iterator[None]:
    """Tell what the file system refuses."""
    try:
        yield
    except OSError as fault:
        reason = (fault.strerror or str(fault)).lower()
        do = "Choose another place with --library, or check its rights"
        raise LibraryError(f"the library cannot be opened ({reason})", str(place), do) from fault


def _make_file(place: Path) -> None:
    """Make an empty file that only its owner reads: it will hold where people were, and when."""
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with contextlib.suppress(FileExistsError):
        os.close(os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


def _connect(place: Path, *, read_only: bool) -> sqlite3.Connection:
    uri = place.absolute().as_uri()
    if read_only and not os.access(place.parent, os.W_OK) and not _log_of(place).exists():
        # A log for shared reading cannot be made there, and nobody can be writing either.
        uri += "?mode=ro&immutable=1"
    elif read_only and not os.access(place, os.W_OK):
        uri += "?mode=ro"
    else:
        uri += "?mode=rw"
    connection = sqlite3.connect(uri, uri=True, timeout=_PATIENCE_S, isolation_level=None)
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA secure_delete = ON")
    return connection


def _log_of(place: Path) -> Path:
    return place.with_name(place.name + "-wal")


def _bring_up_to_date(connection: sqlite3.Connection, place: Path, *, read_only: bool) -> None:
    version, tables = _look(connection, place)
    if version == SCHEMA_VERSION:
        return
    if read_only and not os.access(place, os.W_OK):
        what = f"the library is of an older trackgolf (schema {version}) and cannot be written"
        raise LibraryError(what, str(place), "Copy it to a place where it can be, and name it with --library")
    if tables:
        _back_up(connection, place, version)
    else:
        _set_log(connection)
    with writing(connection):
        # Another process may have done it meanwhile.
        version, _ = _look(connection, place)
        for number, step in enumerate(MIGRATIONS[version:], start=version + 1):
            for statement in step:
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {number:d}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID:d}")


def _set_log(connection: sqlite3.Connection) -> None:
    """Write ahead into a log; changing to it needs the file alone, and SQLite does not wait for that."""
    until = time.monotonic() + _PATIENCE_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as fault:
            if "locked" not in str(fault) or time.monotonic() > until:
                raise
            time.sleep(0.05)
        else:
            return


def _look(connection: sqlite3.Connection, place: Path) -> tuple[int, int]:
    """Give the version of the schema and the number of tables, and refuse what is not ours or of tomorrow."""
    # At one moment: another process may be making the library between one answer and the next.
    alone = not connection.in_transaction
    if alone:
        connection.execute("BEGIN")
    try:
        version = int(connection.execute("PRAGMA user_version").fetchone()[0])
        owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
        tables = int(connection.execute(sql.COUNT_TABLES).fetchone()[0])
    finally:
        if alone:
            connection.execute("ROLLBACK")
    if tables and owner != APPLICATION_ID:
        raise LibraryError(
            "this is a database of another program", str(place), "Name a library of trackgolf, or a new file"
        )
    if version > SCHEMA_VERSION:
        what = f"the library was written by a newer trackgolf (schema {version}, this one knows {SCHEMA_VERSION})"
        raise LibraryError(what, str(place), "Bring trackgolf up to date")
    return version, tables


def _check_kinds(connection: sqlite3.Connection, place: Path) -> None:
    """Refuse a library that SQLite finds whole while its cells hold what no trackgolf writes."""
    for (table,) in connection.execute(sql.TABLES).fetchall():
        declared = {
            name: kind for name, kind in connection.execute(sql.COLUMNS, (table,)) if kind in sql.STORED_AS
        }
        known = _NAMES.fullmatch(table) and all(map(_NAMES.fullmatch, declared))
        if not known or not declared:
            continue
        counts = connection.execute(sql.count_strange(table, declared)).fetchone()
        strange = [name for name, count in zip(declared, counts, strict=True) if count]
        if strange:
            what = f"the library is damaged: {strange[0]!r} of a {table.replace('_', ' ')} is nothing that trackgolf writes"
            raise LibraryError(what, str(place), "Take a backup copy in its place")


def _back_up(connection: sqlite3.Connection, place: Path, version: int) -> None:
    """Copy the whole library beside it; the copy has its name only once it is whole."""
    whole = place.absolute()
    target = whole.with_name(f"{whole.name}.schema-{version}.backup")
    part = whole.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        os.close(os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600))
        with contextlib.closing(sqlite3.connect(part)) as copy:
            connection.backup(copy)
            # The copy is a file by itself, without a log beside it.
            copy.execute("PRAGMA journal_mode = DELETE")
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def _escaped(name: str) -> str:
    return "".join(f"[{char}]" if char in "*?[" else char for char in name)
