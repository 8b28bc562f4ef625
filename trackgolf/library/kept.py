"""Bags and plans that are kept, to choose from for a round that comes in."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.packing import unpack_bytes

__all__ = ["Kept", "kept_bags", "kept_plans", "read_kept"]


@dataclass(frozen=True, slots=True)
class Kept:
    """
    A bag or plan of the library.

    Attributes
    ----------
    id : int
        Its number.
    player : str
        Whose it is.
    course : str
        Of a plan, which course it is for.
    version : int
        Its number among those of the player, and of the course.
    named : str
        When it was named or set last, ISO 8601 UTC.
    """

    id: int
    player: str
    course: str
    version: int
    named: str


def kept_bags(connection: sqlite3.Connection) -> list[Kept]:
    """
    List the bags of players who have several.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    list of Kept
        By player, the one named last first.
    """
    return [Kept(*row) for row in connection.execute(sql.KEPT_BAGS)]


def kept_plans(connection: sqlite3.Connection) -> list[Kept]:
    """
    List the plans.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    list of Kept
        By player, the one named last first.
    """
    return [Kept(*row) for row in connection.execute(sql.KEPT_PLANS)]


def read_kept(connection: sqlite3.Connection, kind: str, number: str) -> bytes:
    """
    Read a bag or plan that somebody chose.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    kind : {"bag", "plan"}
        Which of them.
    number : str
        Its number, as a form gives it.

    Returns
    -------
    bytes
        The file.

    Raises
    ------
    LibraryError
        If there is none of that number.
    """
    statement = {"bag": sql.BAG_CONTENT, "plan": sql.ANY_PLAN_CONTENT}[kind]
    row = None
    if number.isascii() and number.isdecimal() and len(number) < len(str(sql.LARGEST_NUMBER)):
        row = connection.execute(statement, (int(number),)).fetchone()
    if row is None:
        raise LibraryError(f"there is no such {kind} in the library", None, "Choose another")
    return unpack_bytes(row["content"])
