"""Where the hole is cut today, as a player says it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import Point

from geo.frame import LocalFrame
from trackgolf.course import Course, Hole
from trackgolf.errors import CourseError

__all__ = ["PLACES", "set_pins"]

PLACES = {"front": 0.2, "middle": 0.5, "back": 0.8}
"""How far through the green along the line of play a pin is that is called so. Common practice, no source."""

_SAID = re.compile(r"^\s*(\d{1,2})\s*[:=]\s*(.+?)\s*$")
# A pin farther from the green than this is on another one [m].
_OFF_GREEN_M = 5.0


def set_pins(course: Course, pins: Sequence[str]) -> Course:
    """
    Put pins where a player says they are.

    Parameters
    ----------
    course : Course
        A course with positions.
    pins : sequence of str
        ``HOLE:front``, ``HOLE:middle``, ``HOLE:back`` or ``HOLE:LON,LAT``.

    Returns
    -------
    Course
        The same with those pins.

    Raises
    ------
    CourseError
        If a pin cannot be read, or is not on the green of its hole.
    """
    holes = {hole.number: hole for hole in course.holes}
    for text in pins:
        said = _SAID.match(text)
        if said is None:
            raise CourseError(
                f"{text[:40]!r} is no pin", None, "Write HOLE:front, HOLE:middle, HOLE:back or HOLE:LON,LAT"
            )
        hole = course.hole(int(said[1]))
        if hole.line is None or hole.green is None:
            raise CourseError(
                f"hole {hole.number} has no green to put a pin on", None, "Give a course with positions"
            )
        holes[hole.number] = replace(hole, pin=_pin(hole, said[2]))
    return replace(course, holes=tuple(holes[hole.number] for hole in course.holes))


def _pin(hole: Hole, text: str) -> Point:
    assert hole.line is not None  # noqa: S101 - for the type checker; checked before
    frame = LocalFrame(*hole.line.coords[-1][:2])
    green = frame.geometry_to_metres(hole.green)
    if text.lower() in PLACES:
        line = np.asarray(frame.geometry_to_metres(hole.line).coords)[:, :2]
        way = line[-1] - line[-2]
        way = way / max(float(np.hypot(*way)), 1e-9)
        middle = np.array([green.centroid.x, green.centroid.y])
        along = (shapely.get_coordinates(green) - middle) @ way
        spot = middle + way * (along.min() + PLACES[text.lower()] * (along.max() - along.min()))
        inside = shapely.Point(spot)
        if not green.intersects(inside):
            inside = shapely.ops.nearest_points(green, inside)[0]
        found = frame.geometry_to_degrees(inside)
        return Point(found.x, found.y)
    try:
        lon, lat = (float(part) for part in text.split(","))
        east, north = frame.to_metres(lon, lat)
        away = float(green.distance(shapely.Point(east, north)))
    except (ValueError, TypeError) as error:
        raise CourseError(
            f"the pin {text[:40]!r} of hole {hole.number} is neither front, middle, back nor LON,LAT",
            None,
            "Write longitude before latitude, in degrees",
        ) from error
    if not away <= _OFF_GREEN_M:
        raise CourseError(
            f"the pin {text[:40]!r} is {away:.0f} m from the green of hole {hole.number}",
            None,
            "Write longitude before latitude, in degrees",
        )
    return Point(lon, lat)
