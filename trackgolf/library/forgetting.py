"""Players and rounds taken out for good: from the file, from what it keeps beside it, and from its backups."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable
from pathlib import Path

from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.find import player_name
from trackgolf.library.keys import player_key
from trackgolf.library.opening import backups_of, writing
from trackgolf.library.read import round_row

__all__ = ["forget_player", "forget_rounds"]


def forget_rounds(
    connection: sqlite3.Connection, place: str | os.PathLike[str], numbers: Iterable[int]
) -> list[Path]:
    """
    Take rounds out of a library for good.

    Everything that belongs to them goes: recordings, results, corrections,
    notes, what is told of their upload, and courses that no other round and no plan needs. What the file
    held of them is overwritten, and the backups beside it, which hold them
    too, are deleted.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    place : str or os.PathLike
        Its file.
    numbers : iterable of int
        The rounds.

    Returns
    -------
    list of pathlib.Path
        Backups that were deleted.

    Raises
    ------
    LibraryError
        If there is no such round, or another program has the library open.
    """
    wanted = list(numbers)
    for number in wanted:
        round_row(connection, number)
    gone = _delete_backups(place)
    with writing(connection):
        connection.executemany(sql.FORGET_ROUND, [(number,) for number in wanted])
        connection.execute(sql.FORGET_COURSES)
    _wipe(connection, place)
    return gone


def forget_player(connection: sqlite3.Connection, place: str | os.PathLike[str], player: str) -> list[Path]:
    """
    Take a player out of a library for good, with all rounds, bags, plans, notes and uploads, as `forget_rounds` does.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    place : str or os.PathLike
        Its file.
    player : str
        The player's whole name.

    Returns
    -------
    list of pathlib.Path
        Backups that were deleted.

    Raises
    ------
    LibraryError
        If there is no such player, or another program has the library open.
    """
    key = player_key(player_name(connection, player, exact=True))
    gone = _delete_backups(place)
    with writing(connection):
        number = connection.execute(sql.PLAYER_BY_KEY, (key,)).fetchone()["id"]
        connection.execute(sql.FORGET_PLAYER_ROUNDS, (number,))
        connection.execute(sql.FORGET_PLAYER, (number,))
        connection.execute(sql.FORGET_PLAYER_JOBS, (key,))
        connection.execute(sql.FORGET_COURSES)
    _wipe(connection, place)
    return gone


def _delete_backups(place: str | os.PathLike[str]) -> list[Path]:
    backups = backups_of(place)
    for backup in backups:
        try:
            backup.unlink()
        except OSError as fault:
            reason = (fault.strerror or str(fault)).lower()
            what = f"this backup holds what is to be forgotten, and cannot be deleted ({reason})"
            raise LibraryError(what, str(backup), "Delete it, then do it again") from fault
    return backups


def _wipe(connection: sqlite3.Connection, place: str | os.PathLike[str]) -> None:
    """Write the file anew without what was deleted, and empty the log that still shows it."""
    connection.execute("VACUUM")
    busy = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    if busy:
        what = "it is forgotten, but another program has the library open, and its log may still show it"
        raise LibraryError(what, str(place), "Close that program, then run any command on the library")
