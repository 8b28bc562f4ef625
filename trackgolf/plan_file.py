"""Plans as files: read with every fault told, written in one step."""

from __future__ import annotations

import json
import math
import os
import re
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from geo.errors import raise_faults
from geo.files import decode_text, read_small_file, write_text
from geo.geodesic import distance_bearing
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import PlanError
from trackgolf.plan import PLAN_COLUMNS, ROLES, Plan, tolerance_m
from trackgolf.plan_ground import hole_place
from trackgolf.plan_text import plan_geojson_text, plan_gpx_text

__all__ = ["is_plan_mark", "read_plan", "write_plan", "write_plan_gpx"]

# A plan this far from its course belongs to another one [m].
_ELSEWHERE_M = 3_000.0
# A last target further than the one from its own green and nearer than the other to another hole's is that hole's [m].
_NOT_HERE_M, _THERE_M = 100.0, 40.0
# A stated length that differs from the drawn one by more than this was left behind by an edit [m].
_STALE_M = 1.0
# Shots named in one note at most.
_MOST_NAMED = 4
_LAST_SHOT = 30
_LONGEST_M = 600.0
_MARK = re.compile(rf"^\d+-\d+ ({'|'.join(ROLES)}) .|^\d+ tee$")


def read_plan(path: str | os.PathLike[str], course: Course, bag: Bag) -> Plan:
    """
    Read a plan and hold it against the course and the bag.

    Parameters
    ----------
    path : str or os.PathLike
        GeoJSON as `write_plan` writes it, or edited since.
    course : Course
        The course it must be for.
    bag : Bag
        The clubs it may name.

    Returns
    -------
    Plan
        Its shots in order, with club names as the bag has them. What the
        drawn line says wins over a stated length that disagrees with it;
        what is missing is measured or filled in. Both are told in the notes.

    Raises
    ------
    PlanError
        With all faults of the file: holes that the course does not have, an
        unknown club or role, positions that are none, a plan for a course
        elsewhere on earth.
    """
    document = _parse(path)
    faults: list[str] = []
    notes: list[str] = []
    rows: list[dict[str, Any]] = []
    for position, feature in enumerate(_features(document, str(path)), start=1):
        row = _row(feature, position, bag, faults)
        if row is not None:
            rows.append(row)
    if not rows and not faults:
        faults.append("there are no shots in it")
    faults += _holes_elsewhere(rows, course)
    faults += _shots_twice(rows)
    faults += _far_away(rows, course) or _at_other_greens(rows, course)
    raise_faults(PlanError, faults, str(path))

    rows.sort(key=lambda row: (row["hole"], row["shot"]))
    stale: dict[str, list[str]] = {}
    for row in rows:
        _complete(row, rows, course, bag, stale)
    for length, shots in stale.items():
        more = f" and {len(shots) - _MOST_NAMED} more" if len(shots) > _MOST_NAMED else ""
        notes.append(
            f"{length} disagrees with the line drawn, which counts: {', '.join(shots[:_MOST_NAMED])}{more}"
        )
    notes += _gaps_in_numbers(rows)
    name = document.get("name")
    return Plan(
        pd.DataFrame(rows, columns=list(PLAN_COLUMNS)).astype({"hole": "int64", "shot": "int64"}),
        tuple(notes),
        name if isinstance(name, str) and name else "plan",
    )


def write_plan(path: str | os.PathLike[str], plan: Plan, course: Course, bag: Bag) -> None:
    """
    Write a plan as GeoJSON, in one step.

    Parameters
    ----------
    path : str or os.PathLike
        The file; replaced if it is there.
    plan : Plan
        The plan.
    course : Course
        The course it is for.
    bag : Bag
        The bag it was made with.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    write_text(path, plan_geojson_text(plan, course, bag))


def write_plan_gpx(path: str | os.PathLike[str], plan: Plan, course: Course, bag: Bag) -> None:
    """
    Write a plan as GPX, in one step.

    Parameters
    ----------
    path : str or os.PathLike
        The file; replaced if it is there.
    plan : Plan
        The plan.
    course : Course
        The course it is for.
    bag : Bag
        The bag it was made with.

    Raises
    ------
    InputError
        If the plan has no positions, or the file cannot be written.
    """
    write_text(path, plan_gpx_text(plan, course, bag))


def is_plan_mark(name: str) -> bool:
    """
    Tell a target that a plan put on a device from a mark that the player made there.

    Devices keep both among their waypoints.

    Parameters
    ----------
    name : str
        Name of a waypoint.

    Returns
    -------
    bool
        Whether it is named as `write_plan_gpx` names targets and tees.

    Examples
    --------
    >>> is_plan_mark("7-2 layup 8 iron"), is_plan_mark("8 iron")
    (True, False)
    """
    return _MARK.match(name) is not None


def _parse(path: str | os.PathLike[str]) -> dict[str, Any]:
    """Read the JSON of a plan."""
    text = decode_text(read_small_file(path, PlanError, "plan"))
    try:
        document = json.loads(text)
    except json.JSONDecodeError as fault:
        raise PlanError(
            f"not valid JSON: {fault.msg} (line {fault.lineno}, column {fault.colno})",
            str(path),
            "A plan is GeoJSON, as trackgolf plan writes it",
        ) from fault
    except (RecursionError, ValueError) as fault:
        raise PlanError("not valid JSON: nested too deeply or a number too long", str(path)) from fault
    if not isinstance(document, dict):
        raise PlanError(
            "not GeoJSON", str(path), "A plan is a FeatureCollection, as trackgolf plan writes it"
        )
    return document


def _features(document: dict[str, Any], where: str) -> list[Any]:
    """Take the features out, and tell a course from a plan."""
    features = [document] if document.get("type") == "Feature" else document.get("features")
    if not isinstance(features, list):
        raise PlanError("not a GeoJSON FeatureCollection", where, "Make a plan with trackgolf plan")
    tags = [
        properties
        for item in features
        if isinstance(item, dict) and isinstance(properties := item.get("properties"), dict)
    ]
    if any("golf" in tag or "leisure" in tag for tag in tags) and not any("shot" in tag for tag in tags):
        raise PlanError("this is a course, not a plan", where, "Give it as --course")
    return features


def _row(feature: Any, position: int, bag: Bag, faults: list[str]) -> dict[str, Any] | None:
    """Read one shot; faults are noted and give None."""
    properties = feature.get("properties") if isinstance(feature, dict) else None
    if not isinstance(properties, dict):
        faults.append(f"feature {position}: it has no properties")
        return None
    before = len(faults)
    where = f"feature {position}"
    hole = _number(properties, "hole", (1, 99), where, faults, whole=True)
    shot = _number(properties, "shot", (1, _LAST_SHOT), where, faults, whole=True)
    if hole is not None and shot is not None:
        where = f"feature {position} (hole {hole:.0f}, shot {shot:.0f})"
    for name, value in (("hole", hole), ("shot", shot)):
        if value is None and properties.get(name) is None:
            faults.append(f"{where}: no {name!r}")

    said = properties.get("club")
    club = bag.find_club(said) if isinstance(said, str) else None
    if club is None:
        names = ", ".join(item.name for item in bag.clubs)
        wrong = "no club" if said is None else f"{str(said)[:40]!r} is no club of the bag, or not one alone"
        faults.append(f"{where}: {wrong} ({names})")
    role = properties.get("role")
    if role is not None:
        role = role.strip().lower() if isinstance(role, str) else role
        if role not in ROLES:
            faults.append(f"{where}: role {str(role)[:40]!r} is none of {', '.join(ROLES)}")
    lengths = {
        name: _number(properties, name, (low, _LONGEST_M), where, faults)
        for name, low in (("distance_m", 0.1), ("leave_m", 0.0), ("tolerance_m", 0.1))
    }
    ends = _ends(feature.get("geometry"), where, faults)
    if ends is None and lengths["distance_m"] is None and len(faults) == before:
        faults.append(f"{where}: neither a line nor a distance_m")
    if len(faults) > before or hole is None or shot is None or club is None:
        return None
    places = dict(zip(PLAN_COLUMNS[-4:], ends or [math.nan] * 4, strict=True))
    return {"hole": int(hole), "shot": int(shot), "club": club.name, "role": role, **lengths, **places}


def _number(
    properties: dict[str, Any],
    name: str,
    limits: tuple[float, float],
    where: str,
    faults: list[str],
    *,
    whole: bool = False,
) -> float | None:
    """Read a number in a range; text that is one will do, as other programs write it."""
    value = properties.get(name)
    if value is None or value == "":
        return None
    try:
        number = (
            float(value) if isinstance(value, int | float | str) and not isinstance(value, bool) else math.nan
        )
    except (ValueError, OverflowError):
        number = math.nan
    if not limits[0] <= number <= limits[1] or (whole and number != int(number)):
        kind = "whole number" if whole else "number"
        faults.append(
            f"{where}: {name} {str(value)[:40]!r} is not a {kind} from {limits[0]:g} to {limits[1]:g}"
        )
        return None
    return number


def _ends(geometry: Any, where: str, faults: list[str]) -> list[float] | None:
    """Take start and target out of a line; None without a geometry."""
    if geometry is None:
        return None
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    places = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if kind == "MultiLineString" and isinstance(places, list):
        # A line cut at the antimeridian.
        places = [place for part in places if isinstance(part, list) for place in part]
    elif kind != "LineString":
        faults.append(f"{where}: its geometry is not a LineString")
        return None
    if not isinstance(places, list) or len(places) < 2:
        faults.append(f"{where}: its line has less than two positions")
        return None
    ends: list[float] = []
    for place in (places[0], places[-1]):
        if not (
            isinstance(place, list)
            and len(place) >= 2
            and all(isinstance(value, int | float) and not isinstance(value, bool) for value in place[:2])
            and abs(place[0]) <= 180.0
            and abs(place[1]) <= 90.0
        ):
            faults.append(f"{where}: {str(place)[:60]} is not longitude, latitude")
            return None
        ends += [float(place[0]), float(place[1])]
    return ends


def _holes_elsewhere(rows: Sequence[dict[str, Any]], course: Course) -> list[str]:
    """Say which holes the course does not have."""
    numbers = {hole.number for hole in course.holes}
    other = sorted({row["hole"] for row in rows} - numbers)
    if not other:
        return []
    listed = ", ".join(str(number) for number in other)
    return [f"a plan for other holes: {listed} not on the course (it has {min(numbers)} to {max(numbers)})"]


def _shots_twice(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Say which shots are there more than once."""
    counts = Counter((row["hole"], row["shot"]) for row in rows)
    return [
        f"hole {hole}, shot {shot}: there {count} times"
        for (hole, shot), count in counts.items()
        if count > 1
    ]


def _far_away(rows: Sequence[dict[str, Any]], course: Course) -> list[str]:
    """Say how far the plan lies from the course, or which shots lie far from their holes."""
    places = {hole.number: place for hole in course.holes if (place := hole_place(hole)) is not None}
    placed = [row for row in rows if row["hole"] in places and math.isfinite(row["target_lon_deg"])]
    if not placed:
        return []
    ends = np.array([[row["target_lon_deg"], row["target_lat_deg"], *places[row["hole"]]] for row in placed])
    away_m, _ = distance_bearing(*ends.T)
    away_m = np.atleast_1d(away_m)
    if np.median(away_m) > _ELSEWHERE_M:
        return [f"a plan for another place: it lies {np.median(away_m) / 1000:,.0f} km from the course"]
    return [
        f"hole {row['hole']}, shot {row['shot']}: its target lies {away / 1000:,.1f} km from the hole"
        for row, away in zip(placed, away_m, strict=True)
        if away > _ELSEWHERE_M
    ]


def _at_other_greens(rows: Sequence[dict[str, Any]], course: Course) -> list[str]:
    """Say that most of the plan ends at greens of other holes, as when holes were numbered anew."""
    places = {hole.number: place for hole in course.holes if (place := hole_place(hole)) is not None}
    ends = {row["hole"]: row for row in sorted(rows, key=lambda row: (row["hole"], row["shot"]))}
    placed = [row for row in ends.values() if row["hole"] in places and math.isfinite(row["target_lon_deg"])]
    moved = []
    for row in placed:
        target = np.array([[row["target_lon_deg"], row["target_lat_deg"]]] * len(places))
        away_m, _ = distance_bearing(*target.T, *np.array(list(places.values())).T)
        nearest = int(np.argmin(away_m))
        if away_m[list(places).index(row["hole"])] > _NOT_HERE_M and away_m[nearest] < _THERE_M:
            moved.append((row["hole"], list(places)[nearest]))
    if len(moved) <= len(placed) / 2:
        return []
    listed = ", ".join(
        f"hole {said} ends at the green of hole {found}" for said, found in moved[:_MOST_NAMED]
    )
    more = f" and {len(moved) - _MOST_NAMED} more" if len(moved) > _MOST_NAMED else ""
    return [f"a plan for other holes: {listed}{more}"]


def _complete(
    row: dict[str, Any],
    rows: Sequence[dict[str, Any]],
    course: Course,
    bag: Bag,
    stale: dict[str, list[str]],
) -> None:
    """Measure or fill in what a shot lacks, in place; what is drawn wins over what is stated."""
    place = hole_place(course.hole(row["hole"]))
    drawn: dict[str, float] = {}
    if math.isfinite(row["target_lon_deg"]):
        target = (row["target_lon_deg"], row["target_lat_deg"])
        drawn["distance_m"] = float(distance_bearing(row["start_lon_deg"], row["start_lat_deg"], *target)[0])
        if place is not None:
            drawn["leave_m"] = float(distance_bearing(*target, *place)[0])
    for name, measured_m in drawn.items():
        stated_m = row[name]
        if stated_m is not None and abs(stated_m - measured_m) > _STALE_M:
            where = f"hole {row['hole']} shot {row['shot']} ({stated_m:.1f} m, drawn {measured_m:.1f} m)"
            stale.setdefault(name, []).append(where)
        if stated_m is None or abs(stated_m - measured_m) > _STALE_M:
            row[name] = measured_m
    last = max(other["shot"] for other in rows if other["hole"] == row["hole"])
    if row["role"] is None:
        row["role"] = "approach" if row["shot"] == last else ("tee" if row["shot"] == 1 else "layup")
    if row["leave_m"] is None:
        row["leave_m"] = math.nan
    if row["tolerance_m"] is None:
        club = bag.find_club(row["club"])
        row["tolerance_m"] = tolerance_m(0.0 if club is None else club.spread_long_m)


def _gaps_in_numbers(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Say where the shots of a hole are not numbered from 1 on."""
    notes = []
    for hole in sorted({row["hole"] for row in rows}):
        shots = [row["shot"] for row in rows if row["hole"] == hole]
        if shots != list(range(1, len(shots) + 1)):
            notes.append(f"Hole {hole}: its shots are numbered {', '.join(map(str, shots))}")
    return notes
