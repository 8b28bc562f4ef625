"""What the library knows of players, courses, bags, plans and recordings, for rounds to come."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

import pandas as pd
import shapely

from trackgolf.bag import Bag
from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.keeping import lines_from_bytes
from trackgolf.library.keys import iso_time, player_key
from trackgolf.library.materials import CourseFiles, read_bag_bytes
from trackgolf.library.packing import unpack_bytes

__all__ = [
    "KnownCourse",
    "course_by_digest",
    "current_bag",
    "current_bag_bytes",
    "current_plan_bytes",
    "known_courses",
    "packed_recordings",
    "player_name",
    "read_players",
    "round_of_others",
    "round_of_recording",
    "rounds_near",
]


@dataclass(frozen=True, slots=True)
class KnownCourse:
    """
    A course of the library, as its current version has it.

    Attributes
    ----------
    course : int
        Its number; 0 for one that is not in the library yet.
    files : CourseFiles
        What it was read from.
    lines : shapely.MultiLineString
        Its lines of play.
    """

    course: int
    files: CourseFiles
    lines: shapely.MultiLineString


def read_players(connection: sqlite3.Connection) -> list[str]:
    """
    List the players.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    list of str
        Their names, in order.
    """
    return [str(row["name"]) for row in connection.execute(sql.PLAYERS)]


def player_name(connection: sqlite3.Connection, player: str | None, *, exact: bool = False) -> str:
    """
    Find the player that is meant.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str or None
        The name, in any case, or a part that only one name has; None if
        there is only one.
    exact : bool
        Whether the whole name is needed.

    Returns
    -------
    str
        The name as the library has it.

    Raises
    ------
    LibraryError
        If there is no such player, or several and none is named.
    """
    names = read_players(connection)
    if player is None:
        if len(names) == 1:
            return names[0]
        if not names:
            raise LibraryError("the library has no player yet", do="Import a round with --bag")
        raise LibraryError("the library has several players", do=f"Give --player: {_listed(names)}")
    wanted = player_key(player)
    for name in names:
        if player_key(name) == wanted:
            return name
    like = [name for name in names if wanted and wanted in player_key(name)]
    if len(like) == 1 and not exact:
        return like[0]
    raise LibraryError(
        f"the library has no player {player[:60]!r}", do=f"It knows {_listed(names) or 'nobody yet'}"
    )


def current_bag_bytes(connection: sqlite3.Connection, player: str) -> bytes:
    """
    Give the bag file a player named last.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player.

    Returns
    -------
    bytes
        The file.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    name = player_name(connection, player)
    row = connection.execute(sql.CURRENT_BAG, (player_key(name),)).fetchone()
    if row is None:
        raise LibraryError(f"the library has no bag of {name[:60]!r}", do="Give --bag")
    return unpack_bytes(row["content"])


def current_bag(connection: sqlite3.Connection, player: str) -> Bag:
    """
    Give the bag a player named last.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player.

    Returns
    -------
    Bag
        The bag.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    return read_bag_bytes(current_bag_bytes(connection, player))


def current_plan_bytes(connection: sqlite3.Connection, player: str, course: int) -> bytes | None:
    """
    Give the plan a player named last for a course.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player; need not be known.
    course : int
        Number of the course.

    Returns
    -------
    bytes or None
        The file; None if there is no plan.
    """
    row = connection.execute(sql.CURRENT_PLAN, (player_key(player), course)).fetchone()
    return None if row is None else unpack_bytes(row["content"])


def known_courses(connection: sqlite3.Connection) -> list[KnownCourse]:
    """
    List the courses.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    list of KnownCourse
        The current version of each, left out those that nobody has confirmed.
    """
    return [
        KnownCourse(
            int(row["course"]),
            CourseFiles(row["name"], _unpacked(row["map"]), _unpacked(row["scorecard"])),
            lines_from_bytes(row["lines"]),
        )
        for row in connection.execute(sql.CURRENT_COURSES, {"guessed": 0})
    ]


def course_by_digest(connection: sqlite3.Connection, digest: str) -> int | None:
    """
    Find a course by one of its versions.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    digest : str
        From `keys.course_digest`.

    Returns
    -------
    int or None
        Number of the course.
    """
    row = connection.execute(sql.COURSE_VERSION_BY_DIGEST, (digest,)).fetchone()
    return None if row is None else int(row["course"])


def round_of_recording(connection: sqlite3.Connection, player: str, digest: str) -> int | None:
    """
    Find the round a recording is part of.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        Whose it is; need not be known.
    digest : str
        From `packing.recording_digest`.

    Returns
    -------
    int or None
        Number of the round.
    """
    row = connection.execute(sql.RECORDING_BY_DIGEST, (player_key(player), digest)).fetchone()
    return None if row is None else int(row["round"])


def round_of_others(connection: sqlite3.Connection, player: str, digest: str) -> tuple[int, str] | None:
    """
    Find a round of somebody else that a recording is part of.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        Whose it is not.
    digest : str
        From `packing.recording_digest`.

    Returns
    -------
    tuple of int and str, or None
        Number of the round, and the other player's name.
    """
    row = connection.execute(sql.RECORDING_OF_OTHERS, (digest, player_key(player))).fetchone()
    return None if row is None else (int(row["round"]), str(row["name"]))


def rounds_near(
    connection: sqlite3.Connection,
    player: str,
    course: int,
    first_time: pd.Timestamp,
    last_time: pd.Timestamp,
    *,
    margin_s: float,
) -> list[int]:
    """
    Find rounds of a time.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        Whose; need not be known.
    course : int
        Number of the course.
    first_time, last_time : pandas.Timestamp
        The time.
    margin_s : float
        This much before and after counts too [s].

    Returns
    -------
    list of int
        Numbers of the rounds.
    """
    margin = pd.Timedelta(seconds=margin_s)
    values = {
        "player": player_key(player),
        "course": course,
        "since": iso_time(first_time - margin),
        "until": iso_time(last_time + margin),
    }
    return [int(row["round"]) for row in connection.execute(sql.RECORDINGS_NEAR, values)]


def packed_recordings(connection: sqlite3.Connection, number: int) -> list[bytes]:
    """
    Read the recordings of a round as they are kept.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    list of bytes
        For `packing.unpack_recording`.
    """
    return [bytes(row["track"]) for row in connection.execute(sql.RECORDINGS, (number,))]


def _listed(names: list[str]) -> str:
    return ", ".join(repr(name[:60]) for name in names[:8]) + (" and more" if len(names) > 8 else "")


def _unpacked(content: bytes | None) -> bytes | None:
    return None if content is None else unpack_bytes(content)
