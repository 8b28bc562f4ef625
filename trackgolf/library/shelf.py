"""Players by number, and their bags and plans by version: listed, read, kept anew."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime

from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.keys import iso_time
from trackgolf.library.materials import read_bag_bytes
from trackgolf.library.opening import writing
from trackgolf.library.packing import unpack_bytes
from trackgolf.library.versions import add_bag

__all__ = ["BagVersion", "keep_bag", "player_numbers", "read_bags"]


@dataclass(frozen=True, slots=True)
class BagVersion:
    """
    A bag of a player as it was at some time.

    Attributes
    ----------
    id : int
        Its number in the library.
    version : int
        Its number among the player's, from 1.
    named : str
        When it was named last, ISO 8601 UTC; the player's bag is the one named last.
    content : bytes
        The file.
    """

    id: int
    version: int
    named: str
    content: bytes


def player_numbers(connection: sqlite3.Connection) -> dict[int, str]:
    """
    List the players by their numbers.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    dict of int to str
        Their names, in order.
    """
    return {int(row["id"]): str(row["name"]) for row in connection.execute(sql.PLAYERS)}


def read_bags(connection: sqlite3.Connection, player: int) -> list[BagVersion]:
    """
    Read the bags of a player.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : int
        Number of the player.

    Returns
    -------
    list of BagVersion
        The one named last first.
    """
    return [
        BagVersion(int(row["id"]), int(row["version"]), str(row["named"]), unpack_bytes(row["content"]))
        for row in connection.execute(sql.BAGS, (player,))
    ]


def keep_bag(connection: sqlite3.Connection, player: int, content: bytes, *, seen: int) -> int:
    """
    Make a bag the player's, as a version of its own.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : int
        Number of the player.
    content : bytes
        The file.
    seen : int
        Number of the bag that was the player's when this one was asked for.

    Returns
    -------
    int
        Its number in the library; 0, and nothing is changed, if the player has another bag by now.

    Raises
    ------
    InputError
        If it is no bag, or there is no such player.
    """
    read_bag_bytes(content)
    if player not in player_numbers(connection):
        raise LibraryError("the library has no such player", do="See who is in it")
    with writing(connection):
        now = connection.execute(sql.BAGS, (player,)).fetchone()
        if now is not None and int(now["id"]) != seen:
            return 0
        return add_bag(connection, player, content, iso_time(datetime.now(UTC)))
