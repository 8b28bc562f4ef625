"""Courses out again: RFC 7946 GeoJSON with OpenStreetMap golf tags, as the reader takes it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from geo.files import write_text
from geo.geojson import geojson_geometry, geojson_text
from trackgolf.course import Course
from trackgolf.course_tags import GOLF_TAG_OF_KIND
from trackgolf.errors import CourseError

__all__ = ["course_to_geojson", "write_course"]


def course_to_geojson(course: Course) -> dict[str, Any]:
    """
    Turn a course into GeoJSON.

    Parameters
    ----------
    course : Course
        The course; every hole must have a line.

    Returns
    -------
    dict
        A FeatureCollection: hole lines with ``ref``, ``par`` and
        ``handicap``, shapes with their golf tag and name, pins, all tags as
        strings; ``invented=yes`` on each feature of an invented course, and
        a member ``attribution`` with the credit the data ask for.

    Raises
    ------
    CourseError
        If a hole has no line.
    """
    faults = [hole.number for hole in course.holes if hole.line is None]
    if faults:
        listed = ", ".join(str(number) for number in faults)
        raise CourseError(f"holes without a position cannot be drawn: {listed}", course.name or None)
    drawn: list[tuple[dict[str, str], Any]] = []
    green_kinds = course.shapes["kind"] == "green"
    for kind, name, geometry in zip(
        course.shapes["kind"], course.shapes["name"], course.shapes.geometry, strict=True
    ):
        drawn.append((_tags(kind) | ({"name": name} if name else {}), geometry))
    for hole in course.holes:
        tags = {"golf": "hole", "ref": str(hole.number), "par": str(hole.par)}
        if hole.stroke_index is not None:
            tags["handicap"] = str(hole.stroke_index)
        drawn.append((tags, hole.line))
        if hole.pin is not None:
            drawn.append(({"golf": "pin", "ref": str(hole.number)}, hole.pin))
        if hole.green is not None and not course.shapes.geometry[green_kinds].geom_equals(hole.green).any():
            drawn.append((_tags("green"), hole.green))
    invented = {"invented": "yes"} if course.invented else {}
    document: dict[str, Any] = {"type": "FeatureCollection"}
    if course.credit is not None:
        document["attribution"] = course.credit
    document["features"] = [
        {"type": "Feature", "properties": tags | invented, "geometry": geojson_geometry(geometry)}
        for tags, geometry in drawn
    ]
    return document


def write_course(path: str | Path, course: Course) -> None:
    """
    Write a course as GeoJSON, in one step.

    Parameters
    ----------
    path : str or pathlib.Path
        The file; replaced if it is there.
    course : Course
        The course; every hole must have a line.

    Raises
    ------
    InputError
        If a hole has no line, or the file cannot be written.
    """
    write_text(path, geojson_text(course_to_geojson(course)))


def _tags(kind: str) -> dict[str, str]:
    if kind == "course":
        return {"leisure": "golf_course"}
    if kind == "water":
        return {"natural": "water"}
    return {"golf": GOLF_TAG_OF_KIND[kind]}
