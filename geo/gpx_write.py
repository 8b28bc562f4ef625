"""Points, marks and a route out as GPX 1.1. Import it from `geo.gpx`."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import datetime
from typing import Any
from xml.sax.saxutils import escape

import gpxpy.gpx
import numpy as np
import pandas as pd

from geo._positions import wrapped_lon
from geo.errors import InputError
from geo.files import write_text

__all__ = ["write_gpx"]

# RFC 7946, 11.2, as common for any format: more says nothing, 7 decimals are 1 cm.
_DECIMALS = 7


def write_gpx(
    path: str | os.PathLike[str] | None,
    *,
    points: pd.DataFrame | None = None,
    marks: pd.DataFrame | None = None,
    route: pd.DataFrame | None = None,
    name: str | None = None,
    description: str | None = None,
    creator: str = "trackgolf",
) -> str:
    """
    Write points, marks and a route as GPX 1.1.

    Parameters
    ----------
    path : str or os.PathLike or None
        The file to write, in one step; None writes none.
    points : pandas.DataFrame, optional
        What was recorded, written as one track: ``lon_deg``, ``lat_deg``
        and, if there, ``time``, ``ele_m``, ``hdop``, ``segment`` (a new
        value begins a new segment).
    marks : pandas.DataFrame, optional
        Written as waypoints: ``lon_deg``, ``lat_deg`` and, if there,
        ``time``, ``name``.
    route : pandas.DataFrame, optional
        What is planned, written as one route: columns as of marks.
    name, description : str, optional
        Of the whole file; ``name`` is also that of the track and the route.
    creator : str
        Program that made it.

    Returns
    -------
    str
        The document.

    Raises
    ------
    InputError
        If a position is missing or outside the earth, or the file cannot be
        written.

    Notes
    -----
    Positions are rounded to 7 decimals (1 cm), times to microseconds. Longitude 180 is written as -180, which the
    schema asks for. Characters that XML forbids are left out of names.

    Examples
    --------
    >>> marks = pd.DataFrame({"lon_deg": [4.5], "lat_deg": [52.25], "name": ["7 iron"]})
    >>> print(write_gpx(None, marks=marks).partition("<wpt")[2].strip())
    lat="52.25" lon="4.5">
        <name>7 iron</name>
      </wpt>
    </gpx>
    """
    document = gpxpy.gpx.GPX()
    document.creator = escape(_legal(creator), {'"': "&quot;"})
    document.name = _legal(name) or None
    document.description = _legal(description) or None
    document.waypoints = [gpxpy.gpx.GPXWaypoint(**row) for row in _rows(marks, "marks")]
    if route is not None:
        planned = gpxpy.gpx.GPXRoute(name=document.name)
        planned.points = [gpxpy.gpx.GPXRoutePoint(**row) for row in _rows(route, "route")]
        document.routes.append(planned)
    if points is not None:
        document.tracks.append(_track(points, document.name))
    text = document.to_xml("1.1") + "\n"
    if path is not None:
        write_text(path, text)
    return text


def _track(points: pd.DataFrame, name: str | None) -> Any:
    track = gpxpy.gpx.GPXTrack(name=name)
    segments = points["segment"].to_numpy() if "segment" in points else np.zeros(len(points))
    last = None
    for segment, row in zip(segments.tolist(), _rows(points, "points"), strict=True):
        if segment != last:
            track.segments.append(gpxpy.gpx.GPXTrackSegment())
            last = segment
        track.segments[-1].points.append(gpxpy.gpx.GPXTrackPoint(**row))
    return track


def _rows(table: pd.DataFrame | None, what: str) -> Iterator[dict[str, Any]]:
    """Give each row as the arguments of a gpxpy point."""
    if table is None or table.empty:
        return
    lon = table["lon_deg"].to_numpy(dtype=np.float64)
    lat = table["lat_deg"].to_numpy(dtype=np.float64)
    bad = np.flatnonzero(~((np.abs(lat) <= 90.0) & (np.abs(lon) <= 360.0)))
    if bad.size:
        row = int(bad[0])
        text = f"row {row} of the {what} is nowhere on earth (longitude {lon[row]}, latitude {lat[row]})"
        raise InputError(text, do="Leave out rows without a position")
    # Rounding first: 179.99999999 would round up to 180.
    lon = wrapped_lon(np.round(lon, _DECIMALS))
    lat = np.round(lat, _DECIMALS)
    columns: dict[str, list[Any]] = {"longitude": lon.tolist(), "latitude": lat.tolist()}
    if "time" in table:
        columns["time"] = [_moment(time) for time in table["time"]]
    for column, argument in (("ele_m", "elevation"), ("hdop", "horizontal_dilution")):
        if column in table:
            columns[argument] = [_finite(value) for value in table[column].tolist()]
    if "name" in table:
        columns["name"] = [_legal(value) or None for value in table["name"]]
    for values in zip(*columns.values(), strict=True):
        yield dict(zip(columns, values, strict=True))


def _moment(time: pd.Timestamp) -> datetime | None:
    """Give a time as gpxpy takes it, UTC and without the nanoseconds that Python does not know."""
    if pd.isna(time):
        return None
    utc = time.tz_localize("UTC") if time.tzinfo is None else time.tz_convert("UTC")
    return utc.floor("us").to_pydatetime(warn=False)


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _legal(text: object) -> str:
    """Leave out what no XML document may hold, which gpxpy would write as it is."""
    # Source: XML 1.0, production 2 (Char).
    return "".join(
        char
        for char in ("" if text is None else str(text))
        if char in "\t\n\r" or " " <= char <= "\ud7ff" or "\ue000" <= char <= "\ufffd" or char > "\uffff"
    )
