"""The rounds that are learned from: out of the library, or from the folders that rebuilt rounds were written to."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from geo.errors import raise_faults
from geo.files import decode_text, read_small_file
from trackgolf.csv_table import read_csv_table
from trackgolf.errors import InputError
from trackgolf.learn._cells import check_flags, check_numbers, check_texts
from trackgolf.learn.shot_evidence import with_leaves
from trackgolf.shots import SHOT_COLUMNS

__all__ = ["ManyRounds", "join_rounds", "read_folders", "read_library"]

_PLANNED = (
    "role",
    "planned_club",
    "planned_distance_m",
    "planned_leave_m",
    "long_m",
    "right_m",
    "miss_m",
    "tolerance_m",
    "within_tolerance",
    "followed",
)
_HOLE_NUMBERS = (
    "hole",
    "visit",
    "par",
    "length_m",
    "personal_par",
    "regulation_shots",
    "shots",
    "putts",
    "penalties",
    "strokes",
)
_HOLE_NEEDED = ("hole", "shots", "strokes")
_SHOT_TEXTS = ("club", "club_source", "start_time", "lie", "end_lie", "note")
_SHOT_FLAGS = ("detour", "corrected")
_SHOT_NEEDED = ("hole", "shot", "club", "club_source", "distance_m", "leave_m", "lie", "end_lie")


_FIRST_TIME, _LAST_TIME = pd.Timestamp("1900-01-01", tz="UTC"), pd.Timestamp("2200-01-01", tz="UTC")


@dataclass(frozen=True)
class ManyRounds:
    """
    Rounds of one player as three tables.

    Attributes
    ----------
    shots : pandas.DataFrame
        `trackgolf.shots.SHOT_COLUMNS` with `round`, `day`, `leave_before_m`, and from the plan, where there was
        one, `planned_club`, `planned_distance_m`, `right_m`, `followed` and the like.
    holes : pandas.DataFrame
        `trackgolf.scoring.HOLE_COLUMNS` with `round` and `day`.
    comparisons : pandas.DataFrame
        `trackgolf.compare.COMPARISON_COLUMNS` with `round` and `day`.
    """

    shots: pd.DataFrame
    holes: pd.DataFrame
    comparisons: pd.DataFrame

    @property
    def rounds(self) -> int:
        """How many rounds these are."""
        return int(self.holes["round"].nunique()) if len(self.holes) else int(self.shots["round"].nunique())


def join_rounds(shots: pd.DataFrame, holes: pd.DataFrame, comparisons: pd.DataFrame) -> ManyRounds:
    """
    Put beside each shot what the hole and the plan say of it.

    Parameters
    ----------
    shots, holes, comparisons : pandas.DataFrame
        Results of rounds, each with `round`.

    Returns
    -------
    ManyRounds
        The tables, with one row a shot as before.
    """
    table = shots.reset_index(drop=True)
    if "visit" not in table:
        table = table.assign(visit=table["hole"])
    if "length_m" in holes and "length_m" not in table and len(holes):
        lengths = holes.drop_duplicates(["round", "hole"])[["round", "hole", "length_m"]]
        table = table.merge(lengths, on=["round", "hole"], how="left")
    table = with_leaves(table)
    columns = [name for name in _PLANNED if name in comparisons and name not in table]
    if columns and len(comparisons):
        # Of a hole played twice the first time was compared.
        first = table.groupby(["round", "hole"])["visit"].transform("min") == table["visit"]
        planned = comparisons.drop_duplicates(["round", "hole", "shot"])[["round", "hole", "shot", *columns]]
        table = table.merge(planned, on=["round", "hole", "shot"], how="left")
        table.loc[~first.to_numpy(), columns] = np.nan
    return ManyRounds(table, holes, comparisons)


def read_library(connection: sqlite3.Connection, player: str | None, since: date | None = None) -> ManyRounds:
    """
    Take a player's rounds out of the library.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str or None
        Whose; None for all.
    since : datetime.date, optional
        Played on this day or later only.

    Returns
    -------
    ManyRounds
        The rounds.
    """
    from trackgolf.library import read_comparisons, read_holes, read_shots

    return join_rounds(
        read_shots(connection, player, since),
        read_holes(connection, player, since),
        read_comparisons(connection, player, since),
    )


def read_folders(folders: Sequence[str | Path], since: date | None = None) -> ManyRounds:
    """
    Read rounds from the folders they were written to.

    Parameters
    ----------
    folders : sequence of str or pathlib.Path
        Each a folder with `shots.geojson`, or a folder of such folders.
    since : datetime.date, optional
        Played on this day or later only.

    Returns
    -------
    ManyRounds
        The rounds, numbered from 1 in the order of play.

    Raises
    ------
    InputError
        If a folder holds no round, or a file of one cannot be read.
    """
    found = [place for folder in folders for place in _rounds_in(Path(folder))]
    rounds = sorted((_read_round(place) for place in dict.fromkeys(found)), key=lambda parts: str(parts[0]))
    kept = [parts for parts in rounds if since is None or parts[0] is None or parts[0] >= since]
    if not kept:
        raise InputError(f"no round was played on {since} or later", "--since", "Give an earlier day")
    tables: list[list[pd.DataFrame]] = [[], [], []]
    for number, (day, *parts) in enumerate(kept, start=1):
        for place, table in zip(tables, parts, strict=True):
            place.append(table.assign(round=number, day="" if day is None else day.isoformat()))
    return join_rounds(*(pd.concat(parts, ignore_index=True) for parts in tables))


def _rounds_in(folder: Path) -> list[Path]:
    if (folder / "shots.geojson").is_file():
        return [folder]
    try:
        found = sorted(path.parent for path in folder.glob("*/shots.geojson"))
    except OSError:
        found = []
    if not found:
        raise InputError(
            "no rebuilt round is here: no shots.geojson",
            str(folder),
            "Give a folder that trackgolf reconstruct wrote, or one that holds such folders",
        )
    return found


def _read_round(folder: Path) -> tuple[date | None, pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    shots = _read_shots(folder / "shots.geojson")
    times = pd.to_datetime(shots["start_time"], utc=True, errors="coerce", format="ISO8601")
    # A time of another age is none: calendars begin with the year 1, and a zone may put a moment before it.
    times = times[(times >= _FIRST_TIME) & (times < _LAST_TIME)]
    day = times.min().date() if len(times) else None
    return day, shots, _read_holes(folder / "holes.csv"), _read_comparison(folder / "comparison.csv")


def _read_shots(path: Path) -> pd.DataFrame:
    try:
        document = json.loads(decode_text(read_small_file(path, InputError, "file of shots")))
        rows: list[dict[str, Any]] = [dict(feature["properties"]) for feature in document["features"]]
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputError("this is no file of shots", str(path), "Rebuild the round anew") from error
    table = pd.DataFrame(
        {name: pd.Series([row.get(name) for row in rows], dtype=object) for name in SHOT_COLUMNS}
    )
    missing = [
        name for name in (*_SHOT_NEEDED, "start_time") if not rows or not any(name in row for row in rows)
    ]
    if missing:
        raise InputError(f"the shots have no {', '.join(missing)}", str(path), "Rebuild the round anew")
    table = table[[name for name in SHOT_COLUMNS if any(name in row for row in rows)]]
    faults: list[str] = []
    places = [f"shot {number} of the file" for number in range(1, len(rows) + 1)]
    numbers = [name for name in SHOT_COLUMNS if name not in (*_SHOT_TEXTS, *_SHOT_FLAGS)]
    table = check_numbers(table, numbers, places, faults, needed=("hole", "shot"))
    table = check_texts(table, _SHOT_TEXTS, places, faults)
    table = check_flags(table, _SHOT_FLAGS, places, faults)
    raise_faults(InputError, faults, str(path), "Rebuild the round anew")
    return table


def _read_holes(path: Path) -> pd.DataFrame:
    rows = read_csv_table(path, InputError, kind="table of holes", required=_HOLE_NEEDED)
    table = pd.DataFrame([cells for _, cells in rows])
    if table.empty:
        return _numeric(pd.DataFrame(columns=list(_HOLE_NUMBERS)), _HOLE_NUMBERS)
    return _checked(path, rows, table, _HOLE_NUMBERS, ("hole",))


def _read_comparison(path: Path) -> pd.DataFrame:
    if not path.is_file():
        return pd.DataFrame(columns=["hole", "shot", *_PLANNED])
    rows = read_csv_table(path, InputError, kind="comparison with a plan", required=("hole", "shot"))
    table = pd.DataFrame([cells for _, cells in rows])
    if table.empty:
        return pd.DataFrame(columns=["hole", "shot", *_PLANNED])
    numbers = ("hole", "shot", *(str(name) for name in table if str(name).endswith("_m")))
    return _checked(path, rows, table, numbers, ("hole", "shot"))


def _checked(
    path: Path,
    rows: Sequence[tuple[int, dict[str, str]]],
    table: pd.DataFrame,
    numbers: Sequence[str],
    needed: Sequence[str],
) -> pd.DataFrame:
    faults: list[str] = []
    table = check_numbers(table, numbers, [f"line {line}" for line, _ in rows], faults, needed=needed)
    raise_faults(InputError, faults, str(path), "Rebuild the round anew")
    return table


def _numeric(table: pd.DataFrame, names: Sequence[str]) -> pd.DataFrame:
    found = table.copy()
    for name in names:
        if name in found:
            found[name] = pd.to_numeric(found[name], errors="coerce")
    return found
