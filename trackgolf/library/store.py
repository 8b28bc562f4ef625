"""Rounds written to the library, with all that belongs to them."""

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

from trackgolf.library import sql
from trackgolf.library.columns import RESULTS
from trackgolf.library.keys import iso_time
from trackgolf.library.materials import Materials
from trackgolf.library.packing import pack_bytes
from trackgolf.library.rebuild import Result, local_time
from trackgolf.library.versions import add_bag, add_course, add_plan, add_player

__all__ = [
    "KeptRecording",
    "NewRound",
    "add_recordings",
    "set_corrections",
    "set_course_version",
    "set_materials",
    "store_result",
    "store_round",
]


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
    player = add_player(connection, new.player)
    result, files = new.result, new.materials.course
    version, course = add_course(connection, files, new.lines, result.course, result.time_zone, now)
    bag = add_bag(connection, player, new.materials.bag, now)
    plan = None
    if new.materials.plan is not None:
        plan = add_plan(connection, player, course, new.materials.plan, now)
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
        plan = add_plan(connection, player, course, materials.plan, iso_time(datetime.now(UTC)))
    connection.execute(sql.SET_PLAN, (plan, number))


def set_course_version(connection: sqlite3.Connection, number: int, version: int) -> None:
    """
    Put a round on another version of its course; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        From `opening.open_library`.
    number : int
        The round.
    version : int
        Number of the version.
    """
    connection.execute(sql.SET_COURSE_VERSION, (version, number))


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
