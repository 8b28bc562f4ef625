"""Players by number, and their bags and plans by version: listed, read, kept anew."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.keys import iso_time
from trackgolf.library.materials import read_bag_bytes
from trackgolf.library.opening import writing
from trackgolf.library.packing import unpack_bytes
from trackgolf.library.versions import add_bag, add_plan

__all__ = [
    "BagVersion",
    "PlanVersion",
    "keep_bag",
    "keep_plan",
    "list_plans",
    "plan_content",
    "plans_mark",
    "player_numbers",
    "read_bags",
    "round_states",
    "set_next_plan",
]


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


@dataclass(frozen=True, slots=True)
class PlanVersion:
    """
    A plan of a player for a course as it was at some time.

    Attributes
    ----------
    id : int
        Its number in the library.
    version : int
        Its number among the player's plans for the course, from 1.
    player, course : int
        Numbers of the player and the course.
    player_name, course_name : str
        What they are called.
    named : str
        When it was named last, ISO 8601 UTC.
    rounds : int
        How many rounds were compared with it.
    waits : bool
        Whether it is set for the next round.
    """

    id: int
    version: int
    player: int
    player_name: str
    course: int
    course_name: str
    named: str
    rounds: int
    waits: bool


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


def round_states(connection: sqlite3.Connection) -> dict[int, tuple[int, int, str]]:
    """
    Tell whether rounds are still those that were looked at.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    dict of int to tuple
        By number of the player; another tuple once a round of theirs came, went, or was rebuilt.
    """
    return {
        int(row[0]): (int(row[1]), int(row[2]), str(row[3])) for row in connection.execute(sql.ROUND_STATES)
    }


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


def list_plans(
    connection: sqlite3.Connection, player: int | None = None, course: int | None = None
) -> list[PlanVersion]:
    """
    List the plans.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player, course : int, optional
        Those of this player, for this course.

    Returns
    -------
    list of PlanVersion
        By player and course, the one named last first.
    """
    found = [
        PlanVersion(
            int(row["id"]),
            int(row["version"]),
            int(row["player"]),
            str(row["player_name"]),
            int(row["course"]),
            str(row["course_name"]),
            str(row["named"]),
            int(row["rounds"]),
            bool(row["waits"]),
        )
        for row in connection.execute(sql.PLANS)
    ]
    return [plan for plan in found if player in (None, plan.player) and course in (None, plan.course)]


def plan_content(connection: sqlite3.Connection, plan: int) -> bytes:
    """
    Read a plan.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    plan : int
        Its number in the library.

    Returns
    -------
    bytes
        The file.

    Raises
    ------
    LibraryError
        If there is none of this number.
    """
    row = connection.execute(sql.PLAN_BY_ID, (plan,)).fetchone()
    if row is None:
        raise LibraryError("the library has no such plan", do="See which there are")
    return unpack_bytes(row["content"])


def plans_mark(plans: Sequence[PlanVersion]) -> str:
    """
    Tell states of a player's plans for a course apart.

    Parameters
    ----------
    plans : sequence of PlanVersion
        From `list_plans`, of one player and course.

    Returns
    -------
    str
        Hexadecimal digits.
    """
    text = ";".join(f"{plan.id},{plan.named},{plan.waits}" for plan in plans)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def keep_plan(
    connection: sqlite3.Connection, player: int, course: int, content: bytes, *, seen: str, set_next: bool
) -> int:
    """
    Make a plan the player's for a course, as a version of its own.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player, course : int
        Numbers of the player and the course.
    content : bytes
        The file.
    seen : str
        From `plans_mark`, when the plan was asked for.
    set_next : bool
        Whether it is set for the next round; if not, another one that is set stays so.

    Returns
    -------
    int
        Its number in the library; 0, and nothing is changed, if there are other plans by now.
    """
    with writing(connection):
        if plans_mark(list_plans(connection, player, course)) != seen:
            return 0
        now = iso_time(datetime.now(UTC))
        plan = add_plan(connection, player, course, content, now)
        if set_next:
            connection.execute(sql.UNSET_WAITING_PLANS, (player, course))
            connection.execute(sql.SET_PLAN_TIME, (now, plan))
    return plan


def set_next_plan(connection: sqlite3.Connection, plan: PlanVersion, *, seen: str, wanted: bool) -> bool:
    """
    Set a kept plan for the player's next round on its course, or take that back.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    plan : PlanVersion
        The plan.
    seen : str
        From `plans_mark`, when it was asked for.
    wanted : bool
        Whether it is set; no other plan for the course is then, and the plan itself stays in any case.

    Returns
    -------
    bool
        False, and nothing is changed, if there are other plans by now.
    """
    with writing(connection):
        if plans_mark(list_plans(connection, plan.player, plan.course)) != seen:
            return False
        connection.execute(sql.UNSET_WAITING_PLANS, (plan.player, plan.course))
        if wanted:
            connection.execute(sql.SET_PLAN_TIME, (iso_time(datetime.now(UTC)), plan.id))
    return True
