"""What a coach keeps of a player: notes, and the plan set for the next round on a course."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime

from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.find import current_bag_bytes, known_courses, player_name
from trackgolf.library.keys import iso_time, player_key
from trackgolf.library.materials import Materials, read_materials
from trackgolf.library.opening import writing
from trackgolf.library.packing import unpack_bytes
from trackgolf.library.versions import add_plan

__all__ = [
    "PlayerNote",
    "SetPlan",
    "add_player_note",
    "note_text",
    "read_player_notes",
    "read_set_plan",
    "read_set_plans",
    "remove_player_note",
    "set_plan",
    "unset_plan",
]

# The most that is kept of one note, in characters. Common practice, no source.
_LONGEST = 2_000


@dataclass(frozen=True, slots=True)
class PlayerNote:
    """
    What somebody noted about a player.

    Attributes
    ----------
    id : int
        Its number.
    player : str
        About whom.
    text : str
        The note, in one line.
    made : str
        When, ISO 8601 UTC.
    """

    id: int
    player: str
    text: str
    made: str


@dataclass(frozen=True, slots=True)
class SetPlan:
    """
    A plan that was set for a player's next round on a course.

    Attributes
    ----------
    id : int
        Its number.
    course : int
        Number of the course.
    course_name : str
        What the course is called.
    made : str
        When it was set, ISO 8601 UTC.
    round : int or None
        The first round that was kept with it since; None while it waits.
    """

    id: int
    course: int
    course_name: str
    made: str
    round: int | None


def note_text(text: str) -> str:
    r"""
    Bring a note into the form it is kept in.

    Parameters
    ----------
    text : str
        What somebody wrote.

    Returns
    -------
    str
        One line of printable characters, not too long; "" if nothing is left.

    Examples
    --------
    >>> note_text("  slower on  the\nway back ")
    'slower on the way back'
    """
    plain = "".join(char if char.isprintable() else " " for char in text)
    return " ".join(plain.split())[:_LONGEST]


def read_player_notes(connection: sqlite3.Connection, player: str | None = None) -> list[PlayerNote]:
    """
    Read the notes on players.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str, optional
        On this player only.

    Returns
    -------
    list of PlayerNote
        By player, oldest first.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    key = None if player is None else player_key(player_name(connection, player))
    return [PlayerNote(*row) for row in connection.execute(sql.PLAYER_NOTES, {"player": key})]


def add_player_note(connection: sqlite3.Connection, player: str, text: str) -> int:
    """
    Note something about a player.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        About whom.
    text : str
        The note; kept in one line.

    Returns
    -------
    int
        Number of the note, never given twice.

    Raises
    ------
    LibraryError
        If there is no such player, or the note is empty.
    """
    key = player_key(player_name(connection, player))
    said = note_text(text)
    if not said:
        raise LibraryError("the note is empty", None, "Write what is to be remembered")
    with writing(connection):
        added = connection.execute(sql.ADD_PLAYER_NOTE, (said, iso_time(datetime.now(UTC)), key))
    return int(added.lastrowid or 0)


def remove_player_note(connection: sqlite3.Connection, player: str, note: int) -> None:
    """
    Take a note on a player out again.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player.
    note : int
        Number of the note.

    Raises
    ------
    LibraryError
        If there is no such player, or no such note on them.
    """
    name = player_name(connection, player)
    gone = 0
    if 0 < note <= sql.LARGEST_NUMBER:
        with writing(connection):
            gone = connection.execute(sql.DELETE_PLAYER_NOTE, (note, player_key(name))).rowcount
    if not gone:
        raise LibraryError(
            f"there is no note {str(note)[:20]} on {name[:60]!r}", None, "See the notes there are"
        )


def set_plan(connection: sqlite3.Connection, player: str, course: int, content: bytes) -> int:
    """
    Set a plan for a player's next round on a course.

    The import compares the next round there with it unless another plan is
    named, however many other plans came in meanwhile.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player.
    course : int
        Number of the course.
    content : bytes
        The plan, GeoJSON.

    Returns
    -------
    int
        Number of the plan.

    Raises
    ------
    InputError
        If there is no such player or course, or the plan cannot be read or
        does not fit the course and the player's bag.
    """
    name = player_name(connection, player)
    files = next((known.files for known in known_courses(connection) if known.course == course), None)
    if files is None:
        raise LibraryError(
            f"the library has no course {str(course)[:20]}", None, "Import a round there, or choose another"
        )
    read_materials(Materials(files, None, current_bag_bytes(connection, name), content))
    now = iso_time(datetime.now(UTC))
    with writing(connection):
        number = int(connection.execute(sql.PLAYER_BY_KEY, (player_key(name),)).fetchone()["id"])
        plan = add_plan(connection, number, course, content, now)
        connection.execute(sql.SET_PLAN_TIME, (now, plan))
    return plan


def read_set_plans(connection: sqlite3.Connection, player: str) -> list[SetPlan]:
    """
    List the plans that were set for a player.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player.

    Returns
    -------
    list of SetPlan
        The one set last first; those already played too.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    key = player_key(player_name(connection, player))
    return [SetPlan(*row) for row in connection.execute(sql.SET_PLANS, (key,))]


def read_set_plan(connection: sqlite3.Connection, player: str, plan: int) -> bytes:
    """
    Read a plan of a player.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player.
    plan : int
        Number of the plan.

    Returns
    -------
    bytes
        The file.

    Raises
    ------
    LibraryError
        If there is no such player, or no such plan of theirs.
    """
    name = player_name(connection, player)
    row = None
    if 0 < plan <= sql.LARGEST_NUMBER:
        row = connection.execute(sql.PLAN_CONTENT, (player_key(name), plan)).fetchone()
    if row is None:
        raise _no_plan(plan, name)
    return unpack_bytes(row["content"])


def unset_plan(connection: sqlite3.Connection, player: str, plan: int) -> None:
    """
    Take back that a plan is set; rounds that were compared with it keep it.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        The player.
    plan : int
        Number of the plan.

    Raises
    ------
    LibraryError
        If there is no such player, or the plan is not set for them.
    """
    name = player_name(connection, player)
    done = 0
    if 0 < plan <= sql.LARGEST_NUMBER:
        with writing(connection):
            done = connection.execute(sql.UNSET_PLAN, (plan, player_key(name))).rowcount
            if done:
                connection.execute(sql.DELETE_UNUSED_PLAN, (plan,))
    if not done:
        raise _no_plan(plan, name)


def _no_plan(plan: int, name: str) -> LibraryError:
    return LibraryError(f"no plan {str(plan)[:20]} is set for {name[:60]!r}", None, "See the plans there are")
