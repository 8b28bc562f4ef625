"""Players, and their courses, bags and plans by version: each is kept once, and the one named last is the current one."""

from __future__ import annotations

import sqlite3

import pandas as pd
import shapely

from geo.geodesic import distance_bearing
from trackgolf.library import sql
from trackgolf.library.keeping import count_near, lines_bytes, lines_from_bytes
from trackgolf.library.keys import course_digest, player_key
from trackgolf.library.materials import CourseFiles
from trackgolf.library.packing import digest_of, pack_bytes

__all__ = ["add_bag", "add_course", "add_course_version", "add_plan", "add_player"]

# A map of the same course lies over the older one: nearly all its corners are near the other's lines of play.
_SAME_COURSE_SHARE = 0.8
# Maps of one name are of one course if they lie this near [m]; chains have courses of one name in many towns.
_SAME_NAME_M = 3_000.0


def add_player(connection: sqlite3.Connection, name: str) -> int:
    """
    Find a player or add them; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    name : str
        The name.


    Returns
    -------
    int
        Number of the player.
    """
    key = player_key(name)
    found = connection.execute(sql.PLAYER_BY_KEY, (key,)).fetchone()
    if found is not None:
        return int(found["id"])
    return int(connection.execute(sql.ADD_PLAYER, (" ".join(name.split()), key)).lastrowid or 0)


def add_course(
    connection: sqlite3.Connection,
    files: CourseFiles,
    lines: shapely.MultiLineString,
    name: str,
    time_zone: str,
    now: str,
) -> tuple[int, int]:
    """
    Find or add a version of a course; one that lies over another course is a new version of that.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    files : CourseFiles
        What it is read from.
    lines : shapely.MultiLineString
        Its lines of play.
    name : str
        What it is called.
    time_zone : str
        IANA name of its zone.
    now : str
        The time, from `keys.iso_time`; the version named last is the current one.


    Returns
    -------
    version, course : int
        Numbers of the version and of the course.
    """
    digest = course_digest(files)
    found = connection.execute(sql.COURSE_VERSION_BY_DIGEST, (digest,)).fetchone()
    if found is not None:
        connection.execute(sql.NAME_COURSE_VERSION, (now, found["id"]))
        return int(found["id"]), int(found["course"])
    course = next(
        (
            int(row["course"])
            for row in connection.execute(sql.CURRENT_COURSES, {"guessed": 1})
            if _is_same_course(name, lines, row["name"], lines_from_bytes(row["lines"]))
        ),
        None,
    )
    if course is None:
        added = connection.execute(sql.ADD_COURSE, (name, time_zone))
        course = int(added.lastrowid or 0)
    return add_course_version(connection, course, files, lines, now), course


def add_course_version(
    connection: sqlite3.Connection,
    course: int,
    files: CourseFiles,
    lines: shapely.MultiLineString,
    now: str,
) -> int:
    """
    Find or add a version of a course that is known to be this one; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    course : int
        Number of the course.
    files : CourseFiles
        What the version is read from.
    lines : shapely.MultiLineString
        Its lines of play.
    now : str
        The time, from `keys.iso_time`; the version named last is the current one.

    Returns
    -------
    int
        Number of the version.
    """
    digest = course_digest(files)
    found = connection.execute(sql.COURSE_VERSION_BY_DIGEST, (digest,)).fetchone()
    if found is not None:
        connection.execute(sql.NAME_COURSE_VERSION, (now, found["id"]))
        return int(found["id"])
    version = connection.execute(
        sql.ADD_COURSE_VERSION,
        {
            "course": course,
            "digest": digest,
            "map": None if files.map is None else pack_bytes(files.map),
            "scorecard": None if files.scorecard is None else pack_bytes(files.scorecard),
            "lines": lines_bytes(lines),
            "guessed": int(files.guessed),
            "now": now,
        },
    )
    return int(version.lastrowid or 0)


def add_bag(connection: sqlite3.Connection, player: int, content: bytes, now: str) -> int:
    """
    Find or add a bag; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : int
        Number of its player.
    content : bytes
        The file.
    now : str
        The time, from `keys.iso_time`; the version named last is the current one.


    Returns
    -------
    int
        Number of the bag.
    """
    digest = digest_of(content)
    found = connection.execute(sql.BAG_BY_DIGEST, (player, digest)).fetchone()
    if found is not None:
        connection.execute(sql.NAME_BAG, (now, found["id"]))
        return int(found["id"])
    values = {"player": player, "digest": digest, "content": pack_bytes(content), "now": now}
    return int(connection.execute(sql.ADD_BAG, values).lastrowid or 0)


def add_plan(connection: sqlite3.Connection, player: int, course: int, content: bytes, now: str) -> int:
    """
    Find or add a plan; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player, course : int
        Numbers of its player and its course.
    content : bytes
        The file.
    now : str
        The time, from `keys.iso_time`; the version named last is the current one.


    Returns
    -------
    int
        Number of the plan.
    """
    digest = digest_of(content)
    found = connection.execute(sql.PLAN_BY_DIGEST, (player, course, digest)).fetchone()
    if found is not None:
        connection.execute(sql.NAME_PLAN, (now, found["id"]))
        return int(found["id"])
    values = {
        "player": player,
        "course": course,
        "digest": digest,
        "content": pack_bytes(content),
        "now": now,
    }
    return int(connection.execute(sql.ADD_PLAN, values).lastrowid or 0)


def _is_same_course(
    name: str, lines: shapely.MultiLineString, other_name: str, other_lines: shapely.MultiLineString
) -> bool:
    if lines.is_empty or other_lines.is_empty:
        return False
    (lon, lat), (other_lon, other_lat) = (
        (where.x, where.y) for where in (lines.centroid, other_lines.centroid)
    )
    apart_m, _ = distance_bearing(lon, lat, other_lon, other_lat)
    if player_key(name) == player_key(other_name) and float(apart_m) < _SAME_NAME_M:
        return True
    corners = shapely.get_coordinates(lines)
    table = pd.DataFrame({"lon_deg": corners[:, 0], "lat_deg": corners[:, 1]})
    return (
        count_near(table, other_lines) >= _SAME_COURSE_SHARE * len(table)
        and float(apart_m) < _SAME_NAME_M / 10
    )
