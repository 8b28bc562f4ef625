"""What was understood of a course, a row a hole."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import shapely

from geo.frame import LocalFrame
from geo.units import to_yards
from trackgolf.course import Course
from trackgolf.course_place import NEAR_LINE_M

__all__ = ["course_gaps", "course_table"]


def course_table(course: Course) -> pd.DataFrame:
    """
    Sum up a course, a row a hole.

    Parameters
    ----------
    course : Course
        The course.

    Returns
    -------
    pandas.DataFrame
        ``hole``, ``par``, ``stroke_index`` (Int64, missing unknown),
        ``length_m`` [m], ``length_yd`` [yd], ``green_m2`` (area of the green
        [m2], NaN without one), ``bunkers`` (those nearest its line),
        ``water`` (water and penalty areas within 30 m of its line, Int64,
        missing without a line), ``pin`` (bool: whether its place is known)
        and ``notes`` (what was mended or doubted about the hole, parted by
        semicolons).
    """
    frame = _frame(course)
    water = []
    if frame is not None:
        mask = course.shapes["kind"].isin(["water", "water_red", "water_yellow"])
        water = list(frame.geometry_to_metres(course.shapes.geometry[mask].to_numpy()))
    notes = _notes(course)
    bunkers = course.shapes["hole"].where(course.shapes["kind"] == "bunker").value_counts()
    rows = []
    for hole in course.holes:
        line = None if frame is None or hole.line is None else frame.geometry_to_metres(hole.line)
        green = None if frame is None or hole.green is None else frame.geometry_to_metres(hole.green)
        rows.append(
            {
                "hole": hole.number,
                "par": hole.par,
                "stroke_index": hole.stroke_index,
                "length_m": hole.length_m,
                "length_yd": to_yards(hole.length_m),
                "green_m2": np.nan if green is None else green.area,
                "bunkers": int(bunkers.get(hole.number, 0)),
                "water": None if line is None else int((shapely.distance(line, water) <= NEAR_LINE_M).sum()),
                "pin": hole.pin is not None,
                "notes": "; ".join(notes.get(hole.number, ())),
            }
        )
    return pd.DataFrame(rows).astype({"stroke_index": "Int64", "water": "Int64"})


def course_gaps(course: Course) -> dict[str, tuple[str, ...]]:
    """
    Say what a course lacks for each use of it.

    Parameters
    ----------
    course : Course
        The course.

    Returns
    -------
    dict
        For ``plan`` (a table of shots), ``map`` (a plan with targets on the
        map) and ``rebuild`` (a round from its track), what is missing; an
        empty tuple where nothing is.
    """
    indexes = tuple(
        f"hole {hole.number} has no stroke index" for hole in course.holes if hole.stroke_index is None
    )
    if len(indexes) == len(course.holes):
        indexes = ("no hole has a stroke index",)
    lines = tuple(f"hole {hole.number} has no position" for hole in course.holes if hole.line is None)
    if len(lines) == len(course.holes):
        lines = ("no hole has a position",)
    return {"plan": indexes, "map": indexes + lines, "rebuild": lines}


def _frame(course: Course) -> LocalFrame | None:
    xy = shapely.get_coordinates([hole.line for hole in course.holes])
    return LocalFrame.around(xy[:, 0], xy[:, 1]) if len(xy) else None


def _notes(course: Course) -> dict[int, list[str]]:
    """Sort the warnings that begin with hole numbers by hole."""
    notes: dict[int, list[str]] = {}
    for warning in course.warnings:
        match = re.match(r"holes? (\d+(?:, \d+)*): (.*)", warning)
        for number in match[1].split(", ") if match else ():
            notes.setdefault(int(number), []).append(match[2] if match else "")
    return notes
