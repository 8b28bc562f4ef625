"""The only writer of the library: players, courses, bags, plans by version, rounds with all that belongs to them."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
import shapely

from geo.geodesic import distance_bearing
from trackgolf.library import sql
from trackgolf.library.columns import RESULTS
from trackgolf.library.keeping import count_near, lines_bytes, lines_from_bytes
from trackgolf.library.materials import CourseFiles, Materials
from trackgolf.library.packing import digest_of, pack_bytes
from trackgolf.library.rebuild import Result, local_time

__all__ = [
    "KeptRecording",
    "NewRound",
    "add_recordings",
    "course_digest",
    "iso_time",
    "player_key",
    "set_corrections",
    "set_materials",
    "store_result",
    "store_round",
]

# A map of the same course lies over the older one: nearly all its corners are near the other's lines of play.
_SAME_COURSE_SHARE = 0.8
# Maps of one name are of one course if they lie this near [m]; chains have courses of one name in many towns.
_SAME_NAME_M = 3_000.0


@dataclass(frozen=True, slots=True)
class KeptRecording:
    """
    One recording of a round, cut to what is kept.

    Attributes
    ----------
    name : str
        Name of the file it came from, without its folder.
    digest : str
        Of the whole recording, from `packing.recording_digest`.
    first_time, last_time : pandas.Timestamp
        Of what is kept, UTC.
    points : int
        Points kept.
    track : bytes
        From `packing.pack_recording`.
    """

    name: str
    digest: str
    first_time: pd.Timestamp
    last_time: pd.Timestamp
    points: int
    track: bytes


@dataclass(frozen=True, slots=True)
class NewRound:
    """
    A round to be kept.

    Attributes
    ----------
    player : str
        Whose it is.
    materials : Materials
        Course, bag, plan, card.
    lines : shapely.MultiLineString
        The course's lines of play.
    recordings : tuple of KeptRecording
        What was recorded.
    result : Result
        The round rebuilt.
    """

    player: str
    materials: Materials
    lines: shapely.MultiLineString
    recordings: tuple[KeptRecording, ...]
    result: Result


def player_key(name: str) -> str:
    """
    Tell players apart by name, however it is written.

    Parameters
    ----------
    name : str
        A name.

    Returns
    -------
    str
        Without differences of case and white space.

    Examples
    --------
    >>> player_key(" Wilma  FARROWDENE")
    'wilma farrowdene'
    """
    return " ".join(name.split()).casefold()


def course_digest(files: CourseFiles) -> str:
    """
    Tell versions of courses apart.

    Parameters
    ----------
    files : CourseFiles
        A course.

    Returns
    -------
    str
        The same for the same map and scorecard.
    """
    return digest_of(files.map, files.scorecard)


def iso_time(time: pd.Timestamp | datetime) -> str:
    """
    Write a moment so that text sorts as time does.

    Parameters
    ----------
    time : pandas.Timestamp or datetime.datetime
        With a zone.

    Returns
    -------
    str
        ISO 8601, UTC, to the microsecond.

    Examples
    --------
    >>> iso_time(pd.Timestamp("2026-05-01T09:00+02:00"))
    '2026-05-01T07:00:00.000000Z'
    """
    return pd.Timestamp(time).tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def store_round(connection: sqlite3.Connection, new: NewRound) -> int:
    """
    Keep a round; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `opening.open_library`.
    new : NewRound
        The round.

    Returns
    -------
    int
        Its number.

    Raises
    ------
    sqlite3.IntegrityError
        If one of its recordings is in the library already.
    """
    now = iso_time(datetime.now(UTC))
    player = _player(connection, new.player)
    version, course = _course(connection, new, now)
    bag = _bag(connection, player, new.materials.bag, now)
    plan = None
    if new.materials.plan is not None:
        plan = _plan(connection, player, course, new.materials.plan, now)
    card = new.materials.card
    added = connection.execute(
        sql.ADD_ROUND,
        _result_values(new.result, now)
        | {
            "player": player,
            "course_version": version,
            "bag": bag,
            "plan": plan,
            "tee": new.materials.tee,
            "card": None if card is None else pack_bytes(card),
            "invented": int(new.result.invented),
        },
    )
    number = int(added.lastrowid or 0)
    if new.materials.corrections is not None:
        set_corrections(connection, number, None, new.materials.corrections)
    add_recordings(connection, number, new.recordings)
    _store_tables(connection, number, new.result)
    return number


def add_recordings(connection: sqlite3.Connection, number: int, recordings: Sequence[KeptRecording]) -> None:
    """
    Put recordings to a round; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `opening.open_library`.
    number : int
        The round.
    recordings : sequence of KeptRecording
        What was recorded of it.

    Raises
    ------
    sqlite3.IntegrityError
        If one of them is in the library already.
    """
    player = connection.execute(sql.ROUND_PLAYER, (number,)).fetchone()
    last = connection.execute(sql.LAST_POSITION, (number,)).fetchone()
    for position, recording in enumerate(recordings, start=int(last[0]) + 1):
        connection.execute(
            sql.ADD_RECORDING,
            {
                "round": number,
                "player": player["player"],
                "position": position,
                "name": recording.name,
                "digest": recording.digest,
                "first_time": iso_time(recording.first_time),
                "last_time": iso_time(recording.last_time),
                "points": recording.points,
                "track": recording.track,
            },
        )


def store_result(connection: sqlite3.Connection, number: int, result: Result) -> None:
    """
    Put a new result of a round in the place of the old; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `opening.open_library`.
    number : int
        The round.
    result : Result
        The round rebuilt.
    """
    for table in (*RESULTS, "remark"):
        connection.execute(sql.delete_results(table), (number,))
    now = iso_time(datetime.now(UTC))
    connection.execute(sql.SET_RESULT, _result_values(result, now) | {"round": number})
    _store_tables(connection, number, result)


def set_corrections(connection: sqlite3.Connection, number: int, old: str | None, new: str | None) -> bool:
    """
    Put corrections in the place of others; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `opening.open_library`.
    number : int
        The round.
    old, new : str or None
        The corrections that were read, and those to keep.

    Returns
    -------
    bool
        False, and nothing is changed, if others are there by now.
    """
    values = {"round": number, "old": old, "new": new}
    return connection.execute(sql.SET_CORRECTIONS, values).rowcount == 1


def set_materials(connection: sqlite3.Connection, number: int, materials: Materials) -> None:
    """
    Put another card and plan to a round; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `opening.open_library`.
    number : int
        The round.
    materials : Materials
        With the card and plan that belong to it from now on.
    """
    card = None if materials.card is None else pack_bytes(materials.card)
    connection.execute(sql.SET_CARD, (card, number))
    plan = None
    if materials.plan is not None:
        player = int(connection.execute(sql.ROUND_PLAYER, (number,)).fetchone()["player"])
        course = int(connection.execute(sql.ROUND_COURSE, (number,)).fetchone()["course"])
        plan = _plan(connection, player, course, materials.plan, iso_time(datetime.now(UTC)))
    connection.execute(sql.SET_PLAN, (plan, number))


def _result_values(result: Result, now: str) -> dict[str, Any]:
    return {
        "day": f"{local_time(result.start_time, result.time_zone):%Y-%m-%d}",
        "start_time": iso_time(result.start_time),
        "end_time": iso_time(result.end_time),
        "method": result.method,
        "now": now,
        "holes": len(result.holes),
    } | result.counts


def _store_tables(connection: sqlite3.Connection, number: int, result: Result) -> None:
    for name, table in (("shot", result.shots), ("hole", result.holes), ("comparison", result.comparison)):
        connection.executemany(sql.insert_result(name), _rows(number, name, table))
    remarks = [
        (number, position, note.kind, note.hole, note.text) for position, note in enumerate(result.notes)
    ]
    connection.executemany(sql.ADD_REMARK, remarks)


def _rows(number: int, name: str, table: pd.DataFrame) -> list[tuple[Any, ...]]:
    """Rows as SQLite takes them; what the schema has no column for goes along as JSON."""
    rows = []
    for position, row in enumerate(table.to_dict("records")):
        known = [_plain(row.pop(column, None)) for column in RESULTS[name]]
        more = {str(column): plain for column, value in row.items() if (plain := _plain(value)) is not None}
        rows.append((number, position, *known, json.dumps(more) if more else None))
    return rows


def _plain(value: Any) -> Any:
    """A value as SQLite and JSON know it."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, pd.Timestamp):
        return None if value is pd.NaT else iso_time(value)
    if isinstance(value, (bool, np.bool_)):
        return int(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    return None if pd.isna(value) else str(value)


def _player(connection: sqlite3.Connection, name: str) -> int:
    key = player_key(name)
    found = connection.execute(sql.PLAYER_BY_KEY, (key,)).fetchone()
    if found is not None:
        return int(found["id"])
    return int(connection.execute(sql.ADD_PLAYER, (" ".join(name.split()), key)).lastrowid or 0)


def _course(connection: sqlite3.Connection, new: NewRound, now: str) -> tuple[int, int]:
    """Find or add the version of the course; one that lies over another course is a new version of that."""
    files = new.materials.course
    digest = course_digest(files)
    found = connection.execute(sql.COURSE_VERSION_BY_DIGEST, (digest,)).fetchone()
    if found is not None:
        connection.execute(sql.NAME_COURSE_VERSION, (now, found["id"]))
        return int(found["id"]), int(found["course"])
    course = next(
        (
            int(row["course"])
            for row in connection.execute(sql.CURRENT_COURSES)
            if _is_same_course(new.result.course, new.lines, row["name"], lines_from_bytes(row["lines"]))
        ),
        None,
    )
    if course is None:
        added = connection.execute(sql.ADD_COURSE, (new.result.course, new.result.time_zone))
        course = int(added.lastrowid or 0)
    version = connection.execute(
        sql.ADD_COURSE_VERSION,
        {
            "course": course,
            "digest": digest,
            "map": None if files.map is None else pack_bytes(files.map),
            "scorecard": None if files.scorecard is None else pack_bytes(files.scorecard),
            "lines": lines_bytes(new.lines),
            "now": now,
        },
    )
    return int(version.lastrowid or 0), course


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


def _bag(connection: sqlite3.Connection, player: int, content: bytes, now: str) -> int:
    digest = digest_of(content)
    found = connection.execute(sql.BAG_BY_DIGEST, (player, digest)).fetchone()
    if found is not None:
        connection.execute(sql.NAME_BAG, (now, found["id"]))
        return int(found["id"])
    values = {"player": player, "digest": digest, "content": pack_bytes(content), "now": now}
    return int(connection.execute(sql.ADD_BAG, values).lastrowid or 0)


def _plan(connection: sqlite3.Connection, player: int, course: int, content: bytes, now: str) -> int:
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
