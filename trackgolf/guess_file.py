"""The file of guessed holes that a player looks over, and the course that comes of what was confirmed."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from geo.errors import raise_faults
from geo.files import decode_text, read_capped
from geo.frame import LocalFrame
from geo.geojson import geojson_geometry, geojson_text
from trackgolf.course import Course, read_course
from trackgolf.course_write import course_to_geojson
from trackgolf.errors import CourseError

__all__ = [
    "CONFIRMED",
    "GUESSED_FILE",
    "confirmed_course",
    "confirmed_holes",
    "guessed_geojson",
    "read_confirmed",
]

GUESSED_FILE = "holes_guessed.geojson"
# Values of the property `guessed` on the line of a hole.
GUESSED, CONFIRMED = "yes", "confirmed"
_ABOUT = (
    "Holes guessed from the track of a round. Look at each on its map: move its line (tee to green), green and tee, set "
    "ref, par and handicap right, and then set guessed to confirmed on its line. trackgolf course --from-round makes a "
    "course of the confirmed holes."
)
# The outline that carries a course's name runs this far around its holes [m].
_OUTLINE_M = 40.0
# No course numbers its holes higher; Python refuses to read thousands of digits.
_MOST_DIGITS = 3
# As `geo.shapes.MAX_BYTES`: what is larger is no map of a course.
_MOST_BYTES = 64_000_000


def guessed_geojson(course: Course, confidence: Mapping[int, float] | None = None) -> dict[str, Any]:
    """
    Put guessed holes into GeoJSON that a person can mend and confirm.

    Parameters
    ----------
    course : Course
        A guessed course.
    confidence : mapping of int to float, optional
        How sure each hole is, 0 to 1.

    Returns
    -------
    dict
        A FeatureCollection as a course file has it: a line, a green and a tee a hole, each with ``ref``, the number of
        its hole, and ``guessed``.
    """
    document: dict[str, Any] = {"type": "FeatureCollection", "about": _ABOUT, "features": []}
    for hole in course.holes:
        line = {"golf": "hole", "ref": str(hole.number), "par": str(hole.par)}
        if hole.stroke_index is not None:
            line["handicap"] = str(hole.stroke_index)
        if confidence is not None:
            line["confidence"] = f"{confidence[hole.number]:.2f}"
        mine = course.shapes[course.shapes["hole"] == hole.number]
        drawn = [(line, hole.line)]
        drawn += [
            ({"golf": kind, "ref": str(hole.number)}, geometry)
            for kind, geometry in zip(mine["kind"], mine.geometry, strict=True)
        ]
        for tags, geometry in drawn:
            properties = tags | {"guessed": GUESSED} | ({"invented": "yes"} if course.invented else {})
            feature = {"type": "Feature", "properties": properties, "geometry": geojson_geometry(geometry)}
            document["features"].append(feature)
    return document


def confirmed_holes(path: str | Path) -> tuple[int, ...]:
    """
    Read which guessed holes the player has confirmed.

    Parameters
    ----------
    path : str or pathlib.Path
        A file of guessed holes.

    Returns
    -------
    tuple of int
        Numbers of the holes whose line says ``guessed=confirmed``; none where the file is not there or is no file of
        guessed holes.

    Raises
    ------
    CourseError
        If it cannot be read, or cannot be understood but speaks of confirmed holes: work that is not to be lost
        for a comma.
    """
    try:
        if not Path(path).is_file():
            return ()
    except (OSError, ValueError):
        return ()
    text = decode_text(read_capped(path, _MOST_BYTES, "map", error=CourseError, if_large="Move it away"))
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as fault:
        if CONFIRMED not in text.lower():
            return ()
        line = f" at line {fault.lineno}" if isinstance(fault, json.JSONDecodeError) else ""
        what = f"the JSON breaks off or is damaged{line}, and speaks of confirmed holes"
        raise CourseError(what, str(path), "Mend it, or move it away") from fault
    features = document.get("features") if isinstance(document, dict) else None
    numbers = set()
    for feature in features if isinstance(features, list) else []:
        tags = feature.get("properties") if isinstance(feature, dict) else None
        if not isinstance(tags, dict) or tags.get("golf") != "hole":
            continue
        said, number = str(tags.get("guessed", "")).strip().lower(), str(tags.get("ref", "")).strip()
        if said == CONFIRMED and number.isdecimal() and len(number) <= _MOST_DIGITS:
            numbers.add(int(number))
    return tuple(sorted(numbers))


def read_confirmed(folder: str | Path, also: Collection[int] | None = ()) -> tuple[Course, tuple[int, ...]]:
    """
    Read the guessed holes of a round's folder and which of them are confirmed.

    Parameters
    ----------
    folder : str or pathlib.Path
        Folder that a round without a course was written to.
    also : collection of int or None, optional
        Holes confirmed beside those that the file marks; None confirms all.

    Returns
    -------
    course : Course
        All holes of the file, as mended by hand.
    confirmed : tuple of int
        The confirmed ones.

    Raises
    ------
    CourseError
        If the folder holds no guessed holes, none is confirmed, or one is named that is not there.
    """
    path = Path(folder) / GUESSED_FILE
    if not path.is_file():
        raise CourseError(
            f"there is no {GUESSED_FILE} in it",
            str(folder),
            "Give the --out folder of trackgolf reconstruct run without --course",
        )
    course = read_course(path)
    there = {hole.number for hole in course.holes}
    named = there if also is None else set(also)
    strange = sorted(named - there)
    raise_faults(
        CourseError,
        [f"there is no hole {number} among the guessed ones" for number in strange],
        str(path),
        f"Its holes are {', '.join(str(number) for number in sorted(there))}",
    )
    confirmed = tuple(sorted((named | set(confirmed_holes(path))) & there))
    if not confirmed:
        raise CourseError(
            "no hole is confirmed",
            str(path),
            "Check the holes in the report, then give --confirmed with their numbers, such as 1,2,5, or all",
        )
    return course, confirmed


def confirmed_course(course: Course, confirmed: Collection[int], name: str = "") -> Course:
    """
    Keep the confirmed holes of a course.

    Parameters
    ----------
    course : Course
        Guessed holes, as mended by hand.
    confirmed : collection of int
        Numbers of the holes to keep.
    name : str, optional
        Name for the course; it goes on an outline around the holes.

    Returns
    -------
    Course
        Those holes with their greens and tees, and nothing else.
    """
    holes = tuple(hole for hole in course.holes if hole.number in confirmed)
    shapes = course.shapes[course.shapes["hole"].isin(list(confirmed)).fillna(False).astype(bool)]
    if name:
        outline = gpd.GeoDataFrame(
            {"kind": ["course"], "hole": pd.array([pd.NA], dtype="Int64"), "name": [name]},
            geometry=[_outline(holes)],
            crs="EPSG:4326",
        )
        shapes = gpd.GeoDataFrame(pd.concat([shapes, outline], ignore_index=True), crs="EPSG:4326")
    return replace(course, name=name or course.name, holes=holes, shapes=shapes, warnings=())


def confirmed_geojson(course: Course) -> str:
    """
    Write a course made of confirmed holes as GeoJSON text.

    Parameters
    ----------
    course : Course
        The course.

    Returns
    -------
    str
        RFC 7946 GeoJSON with golf tags; each feature says where it comes from in the tag ``source``.
    """
    document = course_to_geojson(course)
    for feature in document["features"]:
        feature["properties"]["source"] = "guessed from a track, confirmed by the player"
    return geojson_text(document)


def _outline(holes: Collection[Any]) -> Any:
    lines = [hole.line for hole in holes if hole.line is not None]
    corners = shapely.get_coordinates(lines)
    frame = LocalFrame.around(corners[:, 0], corners[:, 1])
    around = shapely.union_all(
        [frame.geometry_to_metres(line).buffer(_OUTLINE_M, quad_segs=2) for line in lines]
    )
    return frame.geometry_to_degrees(around.simplify(2.0))
