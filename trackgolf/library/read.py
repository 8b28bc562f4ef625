"""What the library holds, as tables."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from geo.gpx import GpxFile
from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.columns import COUNTS, RESULTS
from trackgolf.library.find import packed_recordings, player_name
from trackgolf.library.keys import player_key
from trackgolf.library.materials import CourseFiles, Materials
from trackgolf.library.packing import unpack_bytes, unpack_recording

__all__ = [
    "materials_of",
    "read_comparisons",
    "read_holes",
    "read_round",
    "read_rounds",
    "read_shots",
    "round_row",
]

# No length in metres, angle or share comes near it; squares of what does overflow.
_LARGEST = 1e9
_FIRST_DAY, _LAST_DAY = np.datetime64("1900-01-01"), np.datetime64("2200-01-01")
# As `trackgolf.library.columns.RESULTS`; a name is a text that may be missing, a day a date in ISO 8601.
_ROUND_KINDS = {
    "round": "int",
    "player": "name",
    "course": "name",
    "time_zone": "name",
    "day": "day",
    "start_time": "time",
    "end_time": "time",
    "tee": "name",
    "holes": "int",
    **dict.fromkeys(COUNTS, "whole"),
    "planned": "bool",
    "carded": "bool",
    "invented": "bool",
    "method": "name",
}


def read_rounds(
    connection: sqlite3.Connection,
    player: str | None = None,
    *,
    course: str | None = None,
    since: str | date | None = None,
    until: str | date | None = None,
) -> pd.DataFrame:
    """
    List rounds.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str, optional
        Of this player only.
    course : str, optional
        On courses with this in their name only.
    since, until : str or datetime.date, optional
        Played on these days or between them only.

    Returns
    -------
    pandas.DataFrame
        One row a round in order of time: ``round``, ``player``, ``course``,
        ``time_zone``, ``day`` (local date of play), ``start_time`` and
        ``end_time`` (UTC), ``tee``, ``holes``, the counts of
        `trackgolf.library.columns.COUNTS`, ``planned``, ``carded``,
        ``invented``, ``method``.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    table = _round_table(connection.execute(sql.ROUNDS, _choice(connection, player, since, until)).fetchall())
    if course is None:
        return table
    wanted = player_key(course)
    chosen = [wanted in player_key(name) for name in table["course"]]
    return table[chosen].reset_index(drop=True)


def read_shots(
    connection: sqlite3.Connection, player: str | None = None, since: str | date | None = None
) -> pd.DataFrame:
    """
    Read the shots of many rounds.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str, optional
        Of this player only.
    since : str or datetime.date, optional
        Played on this day or later only.

    Returns
    -------
    pandas.DataFrame
        Columns `trackgolf.shots.SHOT_COLUMNS`, and ``round`` (its number),
        ``day`` (local date of play) and ``course`` (its name); in order of
        play.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    return _results(connection, "shot", _choice(connection, player, since))


def read_holes(
    connection: sqlite3.Connection, player: str | None = None, since: str | date | None = None
) -> pd.DataFrame:
    """
    Read the holes of many rounds.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str, optional
        Of this player only.
    since : str or datetime.date, optional
        Played on this day or later only.

    Returns
    -------
    pandas.DataFrame
        Columns `trackgolf.scoring.HOLE_COLUMNS`, and ``round``, ``day`` and
        ``course`` as of `read_shots`.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    return _results(connection, "hole", _choice(connection, player, since))


def read_comparisons(
    connection: sqlite3.Connection, player: str | None = None, since: str | date | None = None
) -> pd.DataFrame:
    """
    Read how many rounds compare with their plans.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str, optional
        Of this player only.
    since : str or datetime.date, optional
        Played on this day or later only.

    Returns
    -------
    pandas.DataFrame
        Columns `trackgolf.compare.COMPARISON_COLUMNS`, text "" and numbers
        NaN where unknown, and ``round``, ``day`` and ``course`` as of
        `read_shots`.

    Raises
    ------
    LibraryError
        If there is no such player.
    """
    return _results(connection, "comparison", _choice(connection, player, since))


def round_row(connection: sqlite3.Connection, number: int) -> pd.Series:
    """
    Read the line of one round.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    pandas.Series
        As a row of `read_rounds`.

    Raises
    ------
    LibraryError
        If there is no such round.
    """
    wanted = _choice(connection, None, None) | {"round": number}
    found = connection.execute(sql.ROUNDS, wanted).fetchall() if number <= sql.LARGEST_NUMBER else []
    if not found:
        last = connection.execute(sql.LAST_ROUND).fetchone()[0]
        do = "Import a round first" if last is None else "See the numbers with: trackgolf rounds"
        raise LibraryError(f"the library has no round {number}", do=do)
    return _round_table(found).iloc[0]


def read_round(connection: sqlite3.Connection, number: int) -> tuple[pd.Series, Materials, list[GpxFile]]:
    """
    Read one round whole.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    row : pandas.Series
        As a row of `read_rounds`.
    materials : Materials
        What it is rebuilt from.
    recordings : list of geo.gpx.GpxFile
        What is kept of its recordings.

    Raises
    ------
    LibraryError
        If there is no such round.
    """
    line = round_row(connection, number)
    materials = materials_of(connection, number)
    recordings = [unpack_recording(content) for content in packed_recordings(connection, number)]
    return line, materials, recordings


def materials_of(connection: sqlite3.Connection, number: int) -> Materials:
    """
    Read what a round is rebuilt from, besides its recordings.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    Materials
        As they were given.

    Raises
    ------
    LibraryError
        If there is no such round.
    """
    row = connection.execute(sql.MATERIALS, (number,)).fetchone() if number <= sql.LARGEST_NUMBER else None
    if row is None:
        raise LibraryError(f"the library has no round {number}", do="See the numbers with: trackgolf rounds")
    return Materials(
        course=CourseFiles(
            row["course"], _unpacked(row["map"]), _unpacked(row["scorecard"]), bool(row["guessed"])
        ),
        tee=row["tee"],
        bag=unpack_bytes(row["bag"]),
        plan=_unpacked(row["plan"]),
        card=_unpacked(row["card"]),
        corrections=row["corrections"],
    )


def _choice(
    connection: sqlite3.Connection,
    player: str | None,
    since: str | date | None,
    until: str | date | None = None,
) -> dict[str, Any]:
    return {
        "player": None if player is None else player_key(player_name(connection, player)),
        "since": None if since is None else str(since)[:10],
        "until": None if until is None else str(until)[:10],
        "round": None,
    }


def _round_table(rows: Sequence[sqlite3.Row]) -> pd.DataFrame:
    names = [*_ROUND_KINDS]
    columns = zip(*(tuple(row) for row in rows), strict=True) if rows else ((),) * len(names)
    return pd.DataFrame(
        {
            name: _column(values, _ROUND_KINDS[name], f"{name} of a round")
            for name, values in zip(names, columns, strict=True)
        }
    )


def _results(connection: sqlite3.Connection, name: str, choice: dict[str, Any]) -> pd.DataFrame:
    kinds = RESULTS[name]
    cursor = connection.cursor()
    # Plain tuples, for there may be hundreds of thousands.
    cursor.row_factory = None
    rows = cursor.execute(sql.select_result(name), choice).fetchall()
    names = [*kinds, "more", "round", "day", "course"]
    columns = dict(zip(names, zip(*rows, strict=True) if rows else ((),) * len(names), strict=True))
    more = columns.pop("more")
    kinds = kinds | {"round": "int", "day": "day", "course": "text"}
    table = pd.DataFrame(
        {
            column: _column(values, kinds[column], f"{column} of a {name}")
            for column, values in columns.items()
        }
    )
    if not any(more):
        return table
    added = pd.DataFrame([_added(text, name) for text in more])
    return pd.concat([table, added[[column for column in added if column not in table]]], axis=1)


def _added(text: str | None, name: str) -> dict[str, Any]:
    """Read the columns of a row that the schema does not have."""
    try:
        found = json.loads(text) if text else {}
    except (ValueError, TypeError, RecursionError) as fault:
        raise _damaged(f"more of a {name}") from fault
    if not isinstance(found, dict):
        raise _damaged(f"more of a {name}")
    return found


def _damaged(what: str) -> LibraryError:
    text = f"what is kept of rounds is damaged: '{what}' is nothing that trackgolf writes"
    return LibraryError(text, "the library", "Take a backup copy in its place")


def _column(values: Sequence[Any], kind: str, what: str) -> Any:
    """Turn cells into a column; SQLite keeps whatever it is given, so what no library holds is found here."""
    try:
        return _typed(values, kind)
    except (ValueError, TypeError, OverflowError) as fault:
        raise _damaged(what) from fault


def _typed(values: Sequence[Any], kind: str) -> Any:
    if kind == "time":
        return _times(values)
    if kind == "day":
        for day in set(values):
            date.fromisoformat(day)
        return pd.array(list(values), dtype=str)
    if kind in ("text", "name"):
        if not set(map(type, values)) <= {str, type(None)}:
            raise TypeError(kind)
        unknown = "" if kind == "text" else None
        dtype: Any = str if kind == "text" else object
        return pd.array([unknown if value is None else value for value in values], dtype=dtype)
    if kind == "bool":
        if not set(values) <= {0, 1, None}:
            raise ValueError(kind)
        return np.array([bool(value) for value in values], dtype=bool)
    if kind == "float":
        # SQLite's NULL is None here, and becomes NaN.
        numbers = np.array(values, dtype=np.float64)
        if (np.abs(numbers) > _LARGEST).any():
            raise ValueError(kind)
        return numbers
    if kind == "int":
        if not set(map(type, values)) <= {int}:
            raise TypeError(kind)
        return np.array(values, dtype=np.int64)
    return pd.array([pd.NA if value is None else value for value in values], dtype="Int64")


def _times(values: Sequence[str | None]) -> pd.DatetimeIndex:
    """Read times as the library writes them: UTC to the microsecond, without asking of each how it is written."""
    moments = np.array(["NaT" if value is None else value[:-1] for value in values], dtype="datetime64[us]")
    known = moments[[value is not None for value in values]]
    # Not a time is neither, nor is one of another age, which no calendar here would show.
    if not ((known >= _FIRST_DAY) & (known < _LAST_DAY)).all():
        raise ValueError("time")
    return pd.DatetimeIndex(moments, tz="UTC")


def _unpacked(content: bytes | None) -> bytes | None:
    return None if content is None else unpack_bytes(content)
