"""The tables every picture and page is drawn from: their columns, types and units, and the checks at the door."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from reports.header import HEADER_KEYS, is_missing

__all__ = [
    "CLUBS",
    "COMPARISON",
    "DOUBTFUL_BELOW",
    "DOUBTS",
    "HOLES",
    "HOLE_LINES",
    "NOTES",
    "NOTE_KINDS",
    "ONWARD",
    "PLAN",
    "SHAPES",
    "SHAPE_KINDS",
    "SHOTS",
    "TRACK",
    "Column",
    "TableSpec",
    "check_table",
    "describe_tables",
    "empty_table",
]

# A shot that is more likely than not, but not much more, is drawn as doubtful. Common practice, no source.
DOUBTFUL_BELOW = 0.6

SHAPE_KINDS = (
    "course",
    "rough",
    "driving_range",
    "out_of_bounds",
    "fairway",
    "cartpath",
    "water",
    "water_yellow",
    "water_red",
    "bunker",
    "tee",
    "green",
    "clubhouse",
    "pin",
)
"""Kinds of shape, in the order they are drawn: what comes later lies on top."""

NOTE_KINDS = ("doubted", "salvaged", "mended", "assumed")

Kind = Literal["whole", "number", "text", "time"]


@dataclass(frozen=True, slots=True)
class Column:
    """
    One column of a table.

    Parameters
    ----------
    name : str
        Name, with its unit last.
    kind : {"whole", "number", "text", "time"}
        Whole number that may be missing, number (NaN = unknown), text
        ("" = unknown) or zone-aware time (NaT = unknown).
    meaning : str
        What it says, with the unit in brackets.
    """

    name: str
    kind: Kind
    meaning: str


@dataclass(frozen=True, slots=True)
class TableSpec:
    """
    The columns a table must have; further columns are left alone.

    Parameters
    ----------
    name : str
        Name of the table in messages.
    columns : tuple of Column
        Its columns besides the geometry.
    geometry : tuple of str
        Types of geometry it may hold, WGS 84 longitude and latitude [deg];
        empty if the table has none.
    """

    name: str
    columns: tuple[Column, ...]
    geometry: tuple[str, ...] = ()


_HOLE = Column("hole", "whole", "Number of the hole; missing where it belongs to none.")
_SHOT = Column("shot", "whole", "Number of the shot within the hole, from 1.")

SHAPES = TableSpec(
    "shapes",
    (Column("kind", "text", f"One of {', '.join(SHAPE_KINDS)}; anything else is drawn plainly."), _HOLE),
    ("Polygon", "MultiPolygon", "LineString", "MultiLineString", "Point", "MultiPoint"),
)
HOLE_LINES = TableSpec("hole_lines", (_HOLE,), ("LineString",))
TRACK = TableSpec(
    "track",
    (
        Column("time", "time", "Time of the position."),
        Column("lon_deg", "number", "Longitude [deg]."),
        Column("lat_deg", "number", "Latitude [deg]."),
        Column("part", "whole", "Positions of one part are joined by a line, parts are not."),
        _HOLE,
    ),
)
SHOTS = TableSpec(
    "shots",
    (
        _HOLE,
        _SHOT,
        Column("club", "text", "Club played."),
        Column("club_source", "text", "marked, card, corrected, inferred or plan."),
        Column("start_time", "time", "Estimated moment of the stroke."),
        Column("distance_m", "number", "Straight from start to finish [m]."),
        Column("path_m", "number", "Along the walked path between the two stops [m]."),
        Column("progress_m", "number", "Gain along the line of play of the hole [m]."),
        Column("leave_m", "number", "From the finish to the hole [m]."),
        Column("lie", "text", "Where the ball lay when it was played."),
        Column("end_lie", "text", "Where it finished."),
        Column("confidence", "number", "Probability that this is a shot, 0 to 1."),
        Column("note", "text", "What else is to be said about it."),
    ),
    ("LineString",),
)
PLAN = TableSpec(
    "plan",
    (
        _HOLE,
        _SHOT,
        Column("club", "text", "Club planned."),
        Column("role", "text", "tee, layup or approach."),
        Column("distance_m", "number", "From where it is played to the target [m]."),
        Column("leave_m", "number", "From the target to the hole [m]."),
        Column("tolerance_m", "number", "Largest miss that still counts as on target [m]."),
    ),
    ("LineString",),
)
ONWARD = TableSpec(
    "onward",
    (
        _HOLE,
        Column("shot", "whole", "The shot from whose finish it is."),
        Column("club", "text", "Club the plan would have played next from there."),
        Column("role", "text", "layup or approach."),
        Column("distance_m", "number", "From there to the target [m]."),
        Column("leave_m", "number", "From the target to the hole [m]."),
    ),
)
DOUBTS = TableSpec(
    "doubts",
    (
        _HOLE,
        _SHOT,
        Column("reason", "text", "other_stand, within_error, short_stand or no_shot; why it is doubtful."),
        Column("distance_m", "number", "To the other stand; error of the shot's length [m]."),
        Column("time_s", "number", "How long the player stood [s]."),
        Column("share", "number", "Probability of the other stand, 0 to 1."),
    ),
)
COMPARISON = TableSpec(
    "comparison",
    (
        _HOLE,
        _SHOT,
        Column("planned_club", "text", "Club the plan named."),
        Column("club", "text", "Club played."),
        Column("club_source", "text", "marked, card, corrected, inferred or plan."),
        Column("planned_distance_m", "number", "Distance the plan wanted [m]."),
        Column("distance_m", "number", "Straight from start to finish [m]."),
        Column("path_m", "number", "Along the walked path between the two stops [m]."),
        Column("long_m", "number", "Finish past the target, along the line to it; short is negative [m]."),
        Column("right_m", "number", "Finish right of that line; left is negative [m]."),
        Column("miss_m", "number", "Length of the two together [m]."),
        Column("planned_leave_m", "number", "From the target to the hole [m]."),
        Column("leave_m", "number", "From the finish to the hole [m]."),
        Column("tolerance_m", "number", "Largest miss that still counts as on target [m]."),
        Column("within_tolerance", "text", "yes, no, unsure, or empty where not compared."),
        Column("followed", "text", "yes, no, or empty where that cannot be said."),
        Column("end_lie", "text", "Where the ball finished."),
    ),
)
HOLES = TableSpec(
    "holes",
    (
        _HOLE,
        Column("par", "whole", "Par."),
        Column("stroke_index", "whole", "Rank in the order in which handicap strokes are received."),
        Column("length_m", "number", "Length from the tee played [m]."),
        Column("personal_par", "whole", "Par plus the strokes received."),
        Column(
            "regulation_shots", "whole", "Shots to be on the green in: personal par less two, at least 1."
        ),
        Column("shots", "whole", "Shots from off the green."),
        Column("putts", "whole", "Putts."),
        Column("penalties", "whole", "Penalty strokes."),
        Column("strokes", "whole", "Shots, putts and penalties; missing for a hole picked up."),
        Column("note", "text", "What else is to be said about the hole."),
    ),
)
CLUBS = TableSpec(
    "clubs",
    (
        Column("club", "text", "Club."),
        Column("shots", "whole", "Shots it was played for."),
        Column("median_distance_m", "number", "Median of the straight distances [m]."),
        Column("median_path_m", "number", "Median along the walked path [m]."),
        Column("stated_distance_m", "number", "What the bag says, carry and roll together [m]."),
        Column("sources", "text", "Where the club was known from."),
    ),
)
NOTES = TableSpec(
    "notes",
    (
        Column("kind", "text", f"One of {', '.join(NOTE_KINDS)}; anything else is listed last."),
        _HOLE,
        Column("text", "text", "The note, one sentence."),
    ),
)


def check_table(frame: pd.DataFrame, spec: TableSpec) -> pd.DataFrame:
    """
    Check a table and bring its columns to one type each.

    Parameters
    ----------
    frame : pandas.DataFrame or geopandas.GeoDataFrame
        The table; never changed.
    spec : TableSpec
        The columns it must have.

    Returns
    -------
    pandas.DataFrame or geopandas.GeoDataFrame
        A copy with rows numbered from 0, whole numbers as ``Int64``, numbers
        as ``float64``, text as ``str`` objects ("" unknown) and times in UTC.

    Raises
    ------
    ValueError
        Naming every missing column, or the first that has the wrong type.

    Examples
    --------
    >>> check_table(pd.DataFrame({"kind": ["mended"], "text": ["Hole 3 was turned."]}), NOTES)
    Traceback (most recent call last):
        ...
    ValueError: notes: missing hole
    """
    missing = [column.name for column in spec.columns if column.name not in frame.columns]
    if missing:
        raise ValueError(f"{spec.name}: missing {', '.join(missing)}")
    checked = frame.copy().reset_index(drop=True)
    for column in spec.columns:
        try:
            checked[column.name] = _as_kind(checked[column.name], column.kind)
        except (TypeError, ValueError) as error:
            raise ValueError(
                f"{spec.name}: column {column.name} is not of kind {column.kind}: {error}"
            ) from error
    if spec.geometry:
        _check_geometry(checked, spec)
    return checked


def empty_table(spec: TableSpec) -> pd.DataFrame:
    """
    Make a table without rows.

    Parameters
    ----------
    spec : TableSpec
        Its columns.

    Returns
    -------
    pandas.DataFrame or geopandas.GeoDataFrame
        A GeoDataFrame where the table has a geometry.

    Examples
    --------
    >>> len(empty_table(NOTES))
    0
    """
    frame = pd.DataFrame({column.name: [] for column in spec.columns})
    if spec.geometry:
        return check_table(gpd.GeoDataFrame(frame, geometry=[], crs="EPSG:4326"), spec)
    return check_table(frame, spec)


def describe_tables() -> str:
    """
    List every table with its columns, their types and units.

    Returns
    -------
    str
        Plain text, a line a column.

    Examples
    --------
    >>> print(describe_tables().splitlines()[0])
    header
    """
    lines = ["header"]
    lines += [f"  {key}: {meaning}" for key, (_, _, meaning) in HEADER_KEYS.items()]
    for spec in (HOLES, SHOTS, PLAN, COMPARISON, ONWARD, DOUBTS, CLUBS, NOTES, TRACK, SHAPES, HOLE_LINES):
        lines.append(spec.name)
        lines += [f"  {column.name} ({column.kind}): {column.meaning}" for column in spec.columns]
        if spec.geometry:
            lines.append(f"  geometry ({', '.join(spec.geometry)}): WGS 84 longitude, latitude [deg].")
    return "\n".join(lines)


def _as_kind(values: pd.Series, kind: Kind) -> pd.Series:
    if kind == "text":
        words = {True: "yes", False: "no"}
        texts = [
            "" if is_missing(v) else words[bool(v)] if isinstance(v, (bool, np.bool_)) else str(v)
            for v in values
        ]
        return pd.Series(texts, index=values.index, dtype=object)
    if kind == "time":
        times = pd.Series(pd.to_datetime(values), index=values.index)
        if times.notna().any() and getattr(times.dt, "tz", None) is None:
            raise ValueError("times without a zone")
        return times.dt.tz_localize("UTC") if times.dt.tz is None else times.dt.tz_convert("UTC")
    numbers = pd.to_numeric(values)
    if kind == "whole":
        whole = numbers.astype("Float64")
        if (whole.dropna() % 1 != 0).any():
            raise ValueError("a number is not whole")
        return whole.astype("Int64")
    return pd.Series(numbers.astype("Float64").to_numpy(dtype=float, na_value=np.nan), index=values.index)


def _check_geometry(frame: pd.DataFrame, spec: TableSpec) -> None:
    if not isinstance(frame, gpd.GeoDataFrame):
        raise ValueError(f"{spec.name}: not a GeoDataFrame")  # noqa: TRY004 - one kind of error for all of these
    if frame.crs is not None and frame.crs.to_epsg() != 4326:
        raise ValueError(f"{spec.name}: positions are in {frame.crs.to_string()}, not in WGS 84 (EPSG:4326)")
    geometry = frame.geometry.to_numpy()
    known = geometry[~shapely.is_missing(geometry) & ~shapely.is_empty(geometry)]
    wrong = sorted({shape.geom_type for shape in known} - set(spec.geometry))
    if wrong:
        raise ValueError(f"{spec.name}: geometry {', '.join(wrong)}, expected {', '.join(spec.geometry)}")
    degrees = shapely.get_coordinates(known)
    if not np.isfinite(degrees).all() or (np.abs(degrees) > [180.0, 90.0]).any():
        raise ValueError(f"{spec.name}: a position is no longitude and latitude")
