"""Golf courses: holes with their lines and greens, and the shapes around them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely
from pyproj import Geod
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from trackgolf.errors import CourseError

__all__ = ["SHAPE_KINDS", "Course", "Hole", "course_from_scorecard", "read_course"]

SHAPE_KINDS = (
    "tee",
    "fairway",
    "green",
    "rough",
    "bunker",
    "water_yellow",
    "water_red",
    "water",
    "out_of_bounds",
    "cartpath",
    "driving_range",
    "clubhouse",
    "course",
)

_KIND_OF_GOLF_TAG = {
    "water_hazard": "water_yellow",
    "lateral_water_hazard": "water_red",
} | {kind: kind for kind in SHAPE_KINDS if kind not in {"water", "water_yellow", "water_red", "course"}}
_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True)
class Hole:
    """
    One hole of a course.

    Parameters
    ----------
    number : int
        Number on the course, from 1.
    par : int
        Par, 3 to 6.
    stroke_index : int or None
        Rank in the order in which handicap strokes are received; None unknown.
    length_m : float
        Length from the chosen tee along the line of play [m].
    line : shapely.LineString or None
        Line of play, tee to green [deg], longitude first; None without positions.
    green : shapely.Polygon or shapely.MultiPolygon or None
        The putting green [deg]; None without positions.
    pin : shapely.Point or None
        Where the hole is cut [deg]; None unknown.
    """

    number: int
    par: int
    stroke_index: int | None
    length_m: float
    line: LineString | None = None
    green: Polygon | MultiPolygon | None = None
    pin: Point | None = None


@dataclass(frozen=True)
class Course:
    """
    A golf course as read, mended and checked.

    Parameters
    ----------
    name : str
        Name of the course, "" unknown.
    holes : tuple of Hole
        The holes by number.
    shapes : geopandas.GeoDataFrame
        Columns ``kind`` (one of `SHAPE_KINDS`), ``hole`` (Int64, missing where a
        shape serves no single hole), ``name`` and ``geometry``, in EPSG:4326.
    credit : str or None
        Credit the data ask for; None where they ask for none.
    tee : str or None
        Name of the tee the lengths are measured from; None where not chosen.
    tees : tuple of str
        Names of the tees known.
    warnings : tuple of str
        What was mended, assumed or doubted, one line each.
    invented : bool
        Whether the data say that the course is invented.
    """

    name: str
    holes: tuple[Hole, ...]
    shapes: gpd.GeoDataFrame
    credit: str | None = None
    tee: str | None = None
    tees: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    invented: bool = False

    @property
    def has_positions(self) -> bool:
        """Whether every hole has a line and a green."""
        return all(hole.line is not None and hole.green is not None for hole in self.holes)

    def hole(self, number: int) -> Hole:
        """
        Look up a hole by its number.

        Parameters
        ----------
        number : int
            Number of the hole.

        Returns
        -------
        Hole
            The hole.

        Raises
        ------
        CourseError
            If the course has no such hole.
        """
        for hole in self.holes:
            if hole.number == number:
                return hole
        numbers = ", ".join(str(hole.number) for hole in self.holes)
        raise CourseError(f"there is no hole {number}", self.name or None, f"Its holes are {numbers}")


def read_course(path: str | Path, *, scorecard: str | Path | None = None, tee: str | None = None) -> Course:
    """
    Read a course.

    Parameters
    ----------
    path : str or pathlib.Path
        File with the course.
    scorecard : str or pathlib.Path, optional
        Card that fills in or replaces what the shapes lack.
    tee : str, optional
        Name of the tee to measure from.

    Returns
    -------
    Course
        The course.

    Raises
    ------
    CourseError
        If the file cannot be used.
    """
    del scorecard
    features: Sequence[dict[str, Any]] = json.loads(Path(path).read_text("utf-8"))["features"]
    holes: list[Hole] = []
    rows: list[dict[str, Any]] = []
    name, invented = "", False
    greens = [_geometry(item) for item in features if item["properties"].get("golf") == "green"]
    pins = [_geometry(item) for item in features if item["properties"].get("golf") == "pin"]
    for item in features:
        tags = item["properties"]
        invented = invented or tags.get("invented") == "yes"
        geometry = _geometry(item)
        golf = tags.get("golf", "")
        if golf == "hole":
            end = Point(geometry.coords[-1])
            green = min(greens, key=end.distance, default=None)
            inside = [pin for pin in pins if green is not None and green.covers(pin)]
            length_m = _GEOD.geometry_length(geometry)
            index = int(tags["handicap"]) if "handicap" in tags else None
            holes.append(
                Hole(int(tags["ref"]), int(tags["par"]), index, length_m, geometry, green, *inside[:1])
            )
            continue
        kind = _KIND_OF_GOLF_TAG.get(golf)
        if tags.get("leisure") == "golf_course":
            kind, name = "course", tags.get("name", "")
        elif kind is None and tags.get("natural") == "water":
            kind = "water"
        if kind is not None:
            rows.append({"kind": kind, "name": tags.get("name", ""), "geometry": geometry})
    holes.sort(key=lambda hole: hole.number)
    for row in rows:
        lines = [hole for hole in holes if hole.line is not None]
        row["hole"] = min(lines, key=lambda hole: hole.line.distance(row["geometry"])).number  # type: ignore[union-attr]  # noqa: B023
        if row["kind"] == "course":
            row["hole"] = pd.NA
    shapes = gpd.GeoDataFrame(rows, columns=["kind", "hole", "name", "geometry"], crs="EPSG:4326")
    shapes["hole"] = shapes["hole"].astype("Int64")
    return Course(name, tuple(holes), shapes, tee=tee, invented=invented)


def course_from_scorecard(path: str | Path) -> Course:
    """
    Make a course from a scorecard alone.

    Parameters
    ----------
    path : str or pathlib.Path
        Scorecard.

    Returns
    -------
    Course
        The course.

    Raises
    ------
    CourseError
        If the card cannot be used.
    """
    raise CourseError("scorecards are not read yet", str(path))


def _geometry(feature: dict[str, Any]) -> Any:
    return shapely.from_geojson(json.dumps(feature["geometry"]))
