"""What a player has changed in a plan file: shots to keep when the plan is made anew around them."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping
from typing import Any

from geo.files import decode_text, read_small_file
from geo.geodesic import distance_bearing
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import PlanError
from trackgolf.plan_file import read_plan
from trackgolf.plan_text import PLANNED_PROPERTIES
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.site import HoleSite

__all__ = ["read_changes"]

# A target moved by less than this was not moved: map editors round [m].
_MOVED_M = 1.0


def read_changes(
    path: str | os.PathLike[str], course: Course, bag: Bag, sites: Mapping[int, HoleSite]
) -> tuple[dict[int, tuple[Kept, ...]], tuple[str, ...]]:
    """
    Find the shots of a plan file that the player has changed.

    Parameters
    ----------
    path : str or os.PathLike
        A plan as ``trackgolf plan`` writes it, edited since.
    course : Course
        The course it must be for.
    bag : Bag
        The clubs it may name.
    sites : mapping of int to HoleSite
        The holes in their own metres.

    Returns
    -------
    kept : dict of int to tuple of Kept
        By hole, each shot up to the last one that was changed: what leads
        there is part of it. A file that does not say what was planned is the
        player's own as a whole.
    notes : tuple of str
        Which they are, one line a hole.

    Raises
    ------
    PlanError
        With all faults of the file, or if it has no positions.
    """
    plan = read_plan(path, course, bag)
    planned = _planned(path)
    kept: dict[int, tuple[Kept, ...]] = {}
    notes: list[str] = []
    for hole in sorted({int(number) for number in plan.shots["hole"]}):
        shots = plan.shots[plan.shots["hole"] == hole].to_dict("records")
        changed = [row["shot"] for row in shots if _changed(row, planned.get((hole, int(row["shot"]))), bag)]
        if not changed:
            continue
        mine = [row for row in shots if row["shot"] <= max(changed)]
        if any(not math.isfinite(row["target_lon_deg"]) for row in mine):
            raise PlanError(
                f"hole {hole} has no positions to plan around",
                str(path),
                "Plan with a course that has lines of play, then move its targets",
            )
        kept[hole] = tuple(_kept(row, sites[hole]) for row in mine)
        told = ", ".join(f"shot {row['shot']} {row['club']}" for row in mine)
        notes.append(f"Hole {hole}: kept as you have it: {told}")
    return kept, tuple(notes)


def _planned(path: str | os.PathLike[str]) -> dict[tuple[int, int], dict[str, Any]]:
    """Read what each shot was before it was changed; `read_plan` has checked the file."""
    document = json.loads(decode_text(read_small_file(path, PlanError, "plan")))
    features = [document] if document.get("type") == "Feature" else document["features"]
    found = {}
    for feature in features:
        properties = feature["properties"]
        if all(name in properties for name in PLANNED_PROPERTIES):
            found[int(float(properties["hole"])), int(float(properties["shot"]))] = properties
    return found


def _changed(row: Mapping[Any, Any], planned: Mapping[str, Any] | None, bag: Bag) -> bool:
    """Whether a shot is not what was planned."""
    if planned is None:
        return True
    club_name, lon, lat = (planned[name] for name in PLANNED_PROPERTIES)
    club = bag.find_club(str(club_name))
    if club is None or club.name != row["club"]:
        return True
    if not isinstance(lon, (int, float)) or not isinstance(lat, (int, float)):
        return math.isfinite(row["target_lon_deg"])
    if not math.isfinite(row["target_lon_deg"]):
        return True
    moved, _ = distance_bearing(row["target_lon_deg"], row["target_lat_deg"], lon, lat)
    return float(moved) > _MOVED_M


def _kept(row: Mapping[Any, Any], site: HoleSite) -> Kept:
    def place(end: str) -> tuple[float, float]:
        if site.frame is None:
            raise PlanError(f"hole {site.number} has no positions to plan around")
        east, north = site.frame.to_metres(row[f"{end}_lon_deg"], row[f"{end}_lat_deg"])
        right, up = site.from_course(east, north)
        return float(right), float(up)

    return Kept(
        int(row["shot"]), str(row["club"]), place("start"), place("target"), float(row["tolerance_m"])
    )
