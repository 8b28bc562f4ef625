"""Plans as texts for files: GeoJSON and GPX."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd
from shapely.geometry import LineString

from geo.geojson import geojson_geometry, geojson_text
from geo.gpx import write_gpx
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import PlanError
from trackgolf.plan import Plan

__all__ = [
    "PLANNED_PROPERTIES",
    "PLAN_PROPERTIES",
    "plan_geojson",
    "plan_geojson_text",
    "plan_gpx_text",
    "planned_properties",
    "shot_geometry",
    "shot_properties",
]

PLAN_PROPERTIES = ("hole", "shot", "club", "role", "distance_m", "leave_m", "tolerance_m")
PLANNED_PROPERTIES = ("planned_club", "planned_lon_deg", "planned_lat_deg")
_POSITIONS = ("start_lon_deg", "start_lat_deg", "target_lon_deg", "target_lat_deg")
_LENGTH_DECIMALS = 2


def plan_geojson(plan: Plan, course: Course, bag: Bag, *, remember: bool = False) -> dict[str, Any]:
    """
    Turn a plan into GeoJSON.

    Parameters
    ----------
    plan : Plan
        The plan.
    course : Course
        The course it is for.
    bag : Bag
        The bag it was made with.
    remember : bool
        Whether each shot says what was planned, in `PLANNED_PROPERTIES`, so
        that a change made later can be told from the plan.

    Returns
    -------
    dict
        A FeatureCollection by RFC 7946: a feature a shot, its geometry the
        line from where it is played to its target (null without positions),
        its properties `PLAN_PROPERTIES` with lengths in metres. Further
        members: ``name``, ``player``, ``course``, ``attribution`` (the credit
        that map data ask for), ``invented``, ``notes``.
    """
    invented = course.invented or bag.invented
    document: dict[str, Any] = {
        "type": "FeatureCollection",
        "name": plan.name,
        "player": bag.player,
        "course": course.name,
    }
    if course.credit is not None:
        document["attribution"] = course.credit
    if invented:
        document["invented"] = "yes"
    if plan.notes:
        document["notes"] = list(plan.notes)
    document["features"] = [
        {
            "type": "Feature",
            "properties": shot_properties(row)
            | (planned_properties(row) if remember else {})
            | ({"invented": "yes"} if invented else {}),
            "geometry": shot_geometry(row),
        }
        for row in plan.shots.to_dict("records")
    ]
    return document


def planned_properties(row: Mapping[Any, Any]) -> dict[str, Any]:
    """
    Say what a shot is before anybody changes it.

    Parameters
    ----------
    row : mapping
        A row of `Plan.shots`.

    Returns
    -------
    dict
        `PLANNED_PROPERTIES`; places None where unknown.
    """
    places = [row["target_lon_deg"], row["target_lat_deg"]]
    known = all(math.isfinite(place) for place in places)
    lon, lat = (round(float(place), 7) if known else None for place in places)
    return dict(zip(PLANNED_PROPERTIES, (row["club"], lon, lat), strict=True))


def plan_geojson_text(plan: Plan, course: Course, bag: Bag, *, remember: bool = False) -> str:
    """
    Write a plan as GeoJSON text, one feature a line.

    Parameters
    ----------
    plan : Plan
        The plan.
    course : Course
        The course it is for.
    bag : Bag
        The bag it was made with.
    remember : bool
        As in `plan_geojson`.

    Returns
    -------
    str
        The document.
    """
    return geojson_text(plan_geojson(plan, course, bag, remember=remember))


def plan_gpx_text(plan: Plan, course: Course, bag: Bag) -> str:
    """
    Write a plan as GPX text, for a watch or phone.

    Parameters
    ----------
    plan : Plan
        The plan.
    course : Course
        The course it is for.
    bag : Bag
        The bag it was made with.

    Returns
    -------
    str
        GPX 1.1: each target is a waypoint with a name such as ``7-2 layup
        8 iron`` (hole, shot, role, club); the route goes from each tee
        through the targets of its hole.

    Raises
    ------
    PlanError
        If the plan has no positions.
    """
    placed = plan.shots[plan.shots[list(_POSITIONS)].notna().all(axis=1)]
    if placed.empty:
        raise PlanError(
            "the plan has no positions to write as GPX",
            None,
            "Give a course with lines of play; a scorecard without positions makes a table only",
        )
    targets: list[dict[str, Any]] = []
    route: list[dict[str, Any]] = []
    for row in placed.to_dict("records"):
        name = f"{row['hole']}-{row['shot']} {row['role']} {row['club']}"
        target = {"lon_deg": row["target_lon_deg"], "lat_deg": row["target_lat_deg"], "name": name}
        if row["shot"] == 1:
            route.append(
                {
                    "lon_deg": row["start_lon_deg"],
                    "lat_deg": row["start_lat_deg"],
                    "name": f"{row['hole']} tee",
                }
            )
        route.append(target)
        targets.append(target)
    invented = "Invented plan; no real course, player or round. " if course.invented or bag.invented else ""
    credit = f" Map data: {course.credit}." if course.credit else ""
    return write_gpx(
        None,
        marks=pd.DataFrame(targets),
        route=pd.DataFrame(route),
        name=f"Plan {course.name}".strip(),
        description=f"{invented}Targets of {bag.player}, where each ball should come to rest.{credit}",
    )


def shot_properties(row: Mapping[Any, Any]) -> dict[str, Any]:
    """
    Give the properties of a planned shot as in the files.

    Parameters
    ----------
    row : mapping
        A row of `Plan.shots`.

    Returns
    -------
    dict
        `PLAN_PROPERTIES`; lengths to the centimetre [m], None where unknown.
    """
    properties: dict[str, Any] = {}
    for name in PLAN_PROPERTIES:
        value = row[name]
        if name.endswith("_m"):
            properties[name] = round(float(value), _LENGTH_DECIMALS) if math.isfinite(value) else None
        else:
            properties[name] = value if isinstance(value, str) else int(value)
    return properties


def shot_geometry(row: Mapping[Any, Any]) -> dict[str, Any] | None:
    """
    Give the geometry of a planned shot as in the files.

    Parameters
    ----------
    row : mapping
        A row of `Plan.shots`.

    Returns
    -------
    dict or None
        A LineString from start to target; None without positions.
    """
    ends = [float(row[name]) for name in _POSITIONS]
    if not all(math.isfinite(value) for value in ends):
        return None
    return geojson_geometry(LineString([ends[:2], ends[2:]]))
