"""What of a recording is kept: the course and a margin, for tracks show where people live."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import shapely

from geo.clean import keep_near
from geo.errors import InputError
from geo.gpx import GpxFile, PointAccount
from trackgolf.course import Course
from trackgolf.errors import LibraryError
from trackgolf.library.packing import DAMAGED

__all__ = ["count_near", "course_lines", "keep_recording", "lines_bytes", "lines_from_bytes"]

# Added to the box of a course before points are measured one by one [deg]; 2 km, where the margin kept is 150 m.
_BOX_DEG = 0.02


def course_lines(course: Course) -> shapely.MultiLineString:
    """
    Say where a course lies: its lines of play.

    Parameters
    ----------
    course : Course
        The course.

    Returns
    -------
    shapely.MultiLineString
        Longitude and latitude; empty for a course without positions.
    """
    return shapely.MultiLineString([hole.line for hole in course.holes if hole.line is not None])


def lines_bytes(lines: shapely.MultiLineString) -> bytes:
    """
    Put lines into bytes.

    Parameters
    ----------
    lines : shapely.MultiLineString
        The lines.

    Returns
    -------
    bytes
        Well-known binary (OGC 06-103r4), little-endian.
    """
    return shapely.to_wkb(lines, byte_order=1)


def lines_from_bytes(content: bytes) -> shapely.MultiLineString:
    """
    Give back lines.

    Parameters
    ----------
    content : bytes
        From `lines_bytes`.

    Returns
    -------
    shapely.MultiLineString
        The lines.

    Raises
    ------
    LibraryError
        If they were damaged meanwhile.
    """
    try:
        lines = shapely.from_wkb(content)
    except (shapely.errors.ShapelyError, TypeError) as fault:
        raise LibraryError(*DAMAGED) from fault
    if not isinstance(lines, shapely.MultiLineString):
        raise LibraryError(*DAMAGED)
    return lines


def keep_recording(file: GpxFile, lines: shapely.MultiLineString | None) -> GpxFile:
    """
    Keep of a recording what lies near a course, unchanged, and nothing else of it.

    Parameters
    ----------
    file : geo.gpx.GpxFile
        The recording.
    lines : shapely.MultiLineString or None
        The course's lines of play; None to keep points and marks wherever
        they lie.

    Returns
    -------
    geo.gpx.GpxFile
        Points and marks near the lines, as far as `geo.clean.keep_near` has
        it; points left out are counted as ``off_course``. Its title and
        description are left out, for people write into them what they like,
        and what recorded it.
    """
    file = replace(file, name=None, description=None, creator=None)
    if lines is None:
        return file
    points = keep_near(file.points, lines)
    away = len(file.points) - len(points)
    dropped = file.account.dropped | ({"off_course": away} if away else {})
    return replace(
        file,
        points=points,
        marks=keep_near(file.marks, lines) if len(file.marks) else file.marks,
        account=PointAccount(file.account.seen, len(points), dropped),
    )


def count_near(points: pd.DataFrame, lines: shapely.MultiLineString) -> int:
    """
    Count the points that would be kept.

    Parameters
    ----------
    points : pandas.DataFrame
        ``lon_deg`` and ``lat_deg``.
    lines : shapely.MultiLineString
        The course's lines of play.

    Returns
    -------
    int
        Points near them.
    """
    if not _may_be_near(points, lines):
        return 0
    try:
        return len(keep_near(points, lines))
    except InputError:
        return 0


def _may_be_near(points: pd.DataFrame, lines: shapely.MultiLineString) -> bool:
    """Tell quickly whether a recording may lie on a course, by the box of its lines and well more than the margin."""
    if lines.is_empty:
        return False
    west, south, east, north = lines.bounds
    lat, lon = points["lat_deg"].to_numpy(), points["lon_deg"].to_numpy()
    # Degrees of longitude shrink towards the poles, and meet at 180.
    wide = _BOX_DEG / max(np.cos(np.radians(0.5 * (south + north))), 0.01)
    turned = np.mod(lon - 0.5 * (west + east) + 180.0, 360.0) - 180.0
    inside = (
        (lat > south - _BOX_DEG) & (lat < north + _BOX_DEG) & (np.abs(turned) < 0.5 * (east - west) + wide)
    )
    return bool(inside.any())
