"""The course's own scorecard (CSV): par, stroke index, lengths, and positions where it has them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import pandas as pd

from geo.errors import raise_faults
from geo.units import to_metres
from trackgolf.csv_table import parse_number, read_csv_table
from trackgolf.errors import CourseError

__all__ = ["read_scorecard", "scan_scorecard"]

# The documented names, and what clubs and spreadsheets write for them.
_COLUMNS = {
    "hole": ("hole", "hole_no", "hole_no.", "hole_number", "no", "no.", "#"),
    "par": ("par",),
    "stroke_index": ("stroke_index", "si", "s.i.", "s_i", "index", "handicap", "hcp"),
    "length_m": ("length_m", "metres", "meters", "length_metres", "length_meters", "m"),
    "length_yd": ("length_yd", "length_yds", "yards", "length_yards", "yds", "yd"),
    "tee_lat": ("tee_lat",),
    "tee_lon": ("tee_lon",),
    "green_lat": ("green_lat",),
    "green_lon": ("green_lon",),
}
_TOTAL_ROWS = re.compile(r"(out|in|total|totals|sum|front|back|front nine|back nine)", re.IGNORECASE)
# A hole number takes two digits at most; longer than the longest hole anybody laid out is a slip of the unit.
_MOST_HOLES = 99
_LONGEST_M = 1500.0
_PARS = range(3, 7)
_INDEXES = range(1, 19)


def read_scorecard(path: str | Path) -> pd.DataFrame:
    """
    Read a scorecard.

    Parameters
    ----------
    path : str or pathlib.Path
        CSV file with a column ``hole`` and any of ``par``, ``stroke_index``,
        ``length_m`` or ``length_yd``, ``tee_lat``, ``tee_lon``,
        ``green_lat`` and ``green_lon``. Others are passed over, and so are
        rows of totals.

    Returns
    -------
    pandas.DataFrame
        A row a hole, by number: ``hole`` (int), ``par`` and ``stroke_index``
        (Int64, missing unknown), ``length_m`` [m], ``tee_lon``, ``tee_lat``,
        ``green_lon`` and ``green_lat`` [deg], NaN unknown.

    Raises
    ------
    CourseError
        If the file cannot be used: all its faults at once, with their lines.
    """
    return scan_scorecard(path)[0]


def scan_scorecard(path: str | Path) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """
    Read a scorecard and say what is doubtful about it.

    Parameters
    ----------
    path : str or pathlib.Path
        CSV file as `read_scorecard` takes it.

    Returns
    -------
    card : pandas.DataFrame
        As `read_scorecard` returns it.
    warnings : tuple of str
        What is unusual, one line each.

    Raises
    ------
    CourseError
        If the file cannot be used: all its faults at once, with their lines.
    """
    where = str(path)
    rows = read_csv_table(path, CourseError, kind="scorecard")
    header = set(rows[0][1]) if rows else set()
    columns = {name: [alias for alias in aliases if alias in header] for name, aliases in _COLUMNS.items()}
    faults: list[str] = []
    if not rows:
        faults.append("there is no row below the header")
    elif not columns["hole"]:
        faults.append(f"there is no column hole in the header ({', '.join(sorted(header)) or 'empty'})")
    elif not columns["par"] and header & {"strokes", "putts", "penalties"}:
        faults.append("this is a card as played, not the course's scorecard: give it as --card")
    elif "length" in header and not (columns["length_m"] or columns["length_yd"]):
        faults.append("the column length has no unit: call it length_m or length_yd")
    raise_faults(CourseError, faults, where, "Begin with a line such as hole,par,stroke_index,length_m")

    holes: list[dict[str, float | int | None]] = []
    warnings: list[str] = []
    first_line: dict[tuple[str, int], int] = {}
    for line, cells in rows:
        named = {
            name: next((cells[alias] for alias in found if cells[alias]), "")
            for name, found in columns.items()
        }
        if _TOTAL_ROWS.fullmatch(named["hole"]) or not any(named.values()):
            continue
        if not named["hole"] and not named["stroke_index"]:
            warnings.append(f"scorecard line {line}: no hole number; passed over as a line of totals")
            continue
        row, complaints, doubts = _hole(named)
        faults += [f"line {line}: {text}" for text in complaints]
        warnings += [f"scorecard line {line}: {text}" for text in doubts]
        for key, what in (("hole", "hole"), ("stroke_index", "stroke index")):
            value = row[key]
            if value is None:
                continue
            earlier = first_line.setdefault((key, int(value)), line)
            if earlier != line:
                faults.append(f"line {line}: {what} {value} is on line {earlier} already")
        holes.append(row)
    if not holes and not faults:
        faults.append("there is no hole in it")
    raise_faults(CourseError, faults, where)
    card = pd.DataFrame(
        holes,
        columns=["hole", "par", "stroke_index", "length_m", "tee_lon", "tee_lat", "green_lon", "green_lat"],
    )
    card = card.astype(
        dict.fromkeys(card.columns, "float64") | {"hole": "int64", "par": "Int64", "stroke_index": "Int64"}
    )
    return card.sort_values("hole", ignore_index=True), tuple(warnings)


def _hole(cells: dict[str, str]) -> tuple[dict[str, float | int | None], list[str], list[str]]:
    """Read the cells of one row; faults and doubts come back as texts."""
    faults: list[str] = []
    doubts: list[str] = []

    def number(column: str, allowed: Callable[[float], bool], meaning: str) -> float | None:
        try:
            value = parse_number(cells[column])
        except ValueError:
            value = math.nan
        if value is None or allowed(value):
            return value
        faults.append(f"{column} {cells[column]!r} is not {meaning}")
        return None

    def whole(column: str, allowed: range) -> int | None:
        value = number(column, lambda x: x in allowed, f"a whole number from {allowed[0]} to {allowed[-1]}")
        return None if value is None else int(value)

    row: dict[str, float | int | None] = {
        "hole": whole("hole", range(1, _MOST_HOLES + 1)),
        "par": whole("par", _PARS),
        "stroke_index": whole("stroke_index", _INDEXES),
    }
    if not cells["hole"]:
        faults.append("the hole has no number")
    longest_yd = _LONGEST_M / to_metres(1.0)
    length_m = number("length_m", lambda x: 0.0 < x <= _LONGEST_M, f"a length up to {_LONGEST_M:.0f} m")
    length_yd = number("length_yd", lambda x: 0.0 < x <= longest_yd, f"a length up to {longest_yd:.0f} yd")
    if length_yd is not None:
        converted_m = to_metres(length_yd)
        if length_m is None:
            length_m = converted_m
        elif abs(converted_m - length_m) > 0.02 * length_m:
            doubts.append(f"{length_m:.0f} m and {length_yd:.0f} yd are not the same length; metres are used")
    row["length_m"] = length_m
    for end in ("tee", "green"):
        for axis, limit in (("lat", 90.0), ("lon", 180.0)):
            column = f"{end}_{axis}"
            row[column] = number(column, _within(limit), f"within {limit:.0f} degrees")
        if bool(cells[f"{end}_lat"]) != bool(cells[f"{end}_lon"]):
            faults.append(f"only one of {end}_lat and {end}_lon is there")
    return row, faults, doubts


def _within(limit: float) -> Callable[[float], bool]:
    return lambda value: abs(value) <= limit
