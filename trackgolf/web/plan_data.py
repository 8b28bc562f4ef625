"""A kept plan read for its pages: with what it was made with, and which of its shots are the player's own."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from flask import abort

from geo.files import decode_text
from geo.geodesic import distance_bearing
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import InputError
from trackgolf.library.find import known_courses
from trackgolf.library.materials import CourseFiles, read_bag_bytes, read_course_files
from trackgolf.library.packing import digest_of
from trackgolf.library.shelf import PlanVersion, list_plans, plan_content, plans_mark, read_bags
from trackgolf.plan import Plan, tolerance_m
from trackgolf.plan_changes import read_changes
from trackgolf.plan_edit import MadeWith, made_with
from trackgolf.plan_file import read_plan
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.moved import ReadyHole, plan_moved
from trackgolf.strategy.plans import HoleTask
from trackgolf.strategy.rounds import hole_tasks, plan_rows

__all__ = ["KeptPlan", "kept_at", "load_plan", "round_tasks", "wanted_of"]

# Plays of each hole for players unlike the bag, as the command has it.
_TRIALS = 2_000
# A stroke of the plan that is no farther from the planner's is the planner's [m].
_SAME_M = 1.0
_MOST_SHOTS = 12


@dataclass(frozen=True)
class KeptPlan:
    """
    A plan of the library, read.

    Attributes
    ----------
    version : PlanVersion
        Whose it is, for what course.
    content : bytes
        The file.
    document : dict
        The same, parsed.
    course, bag : Course, Bag
        What it is for, and the bag it was made with, or the player's where that is not told.
    made : MadeWith
        Tee and bag as the file has them.
    key : tuple
        What the course and the bag were read from.
    tasks : dict of int to HoleTask
        The holes.
    plan : Plan
        Its shots.
    kept : dict of int to tuple of Kept
        By hole, the shots that are the player's own.
    current : bool
        Whether it is the one that the next round is compared with.
    seen : str
        Mark of all plans of this player for this course.
    """

    version: PlanVersion
    content: bytes
    document: dict[str, Any]
    course: Course
    bag: Bag
    made: MadeWith
    key: tuple[CourseFiles, str | None, bytes]
    tasks: dict[int, HoleTask]
    plan: Plan
    kept: dict[int, tuple[Kept, ...]]
    current: bool
    seen: str


def load_plan(connection: sqlite3.Connection, number: int) -> KeptPlan:
    """
    Read a plan of the library.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        Number of the plan; without such a plan there is no page.

    Returns
    -------
    KeptPlan
        The plan.

    Raises
    ------
    InputError
        If it does not fit its course or bag any more.
    """
    version = next((plan for plan in list_plans(connection) if plan.id == number), None)
    if version is None:
        abort(404)
    others = list_plans(connection, version.player, version.course)
    content = plan_content(connection, number)
    document = json.loads(decode_text(content))
    made = made_with(document)
    files = next(known.files for known in known_courses(connection) if known.course == version.course)
    bags = read_bags(connection, version.player)
    if not bags:
        raise InputError("the player has no bag", None, "Add a round with one")
    bag_bytes = next((bag.content for bag in bags if digest_of(bag.content) == made.bag), bags[0].content)
    key = (files, made.tee, bag_bytes)
    course, bag, tasks = round_tasks(*key)
    by_hole = {task.site.number: task for task in tasks}
    with TemporaryDirectory(prefix="trackgolf-") as folder:
        path = Path(folder) / "plan.geojson"
        path.write_bytes(content)
        try:
            plan = read_plan(path, course, bag)
            kept, _ = read_changes(path, course, bag, {hole: task.site for hole, task in by_hole.items()})
        except InputError as fault:
            # The folder is gone when this is read.
            raise type(fault)(fault.what, "this plan", fault.do, faults=fault.faults) from fault
    waiting = next((one.id for one in others if one.waits), others[0].id)
    return KeptPlan(
        version,
        content,
        document,
        course,
        bag,
        made,
        key,
        by_hole,
        plan,
        kept,
        waiting == number,
        plans_mark(others),
    )


@lru_cache(maxsize=4)
def round_tasks(
    files: CourseFiles, tee: str | None, bag_bytes: bytes
) -> tuple[Course, Bag, tuple[HoleTask, ...]]:
    """
    Lay out what a round is planned from, as the command does.

    Parameters
    ----------
    files : CourseFiles
        The course.
    tee : str or None
        The tee.
    bag_bytes : bytes
        The bag.

    Returns
    -------
    course : Course
        The course.
    bag : Bag
        The bag.
    tasks : tuple of HoleTask
        The holes.

    Raises
    ------
    InputError
        If they cannot be read or planned.
    """
    course, bag = read_course_files(files, tee), read_bag_bytes(bag_bytes)
    return course, bag, tuple(hole_tasks(course, bag, trials=_TRIALS, zones=True))


def kept_at(plan: KeptPlan, hole: int, ready: ReadyHole) -> tuple[Kept, ...]:
    """
    Say which shots of a hole are the player's, so that the page shows what the file has.

    Parameters
    ----------
    plan : KeptPlan
        The plan.
    hole : int
        The hole.
    ready : ReadyHole
        The same, made ready.

    Returns
    -------
    tuple of Kept
        Those that were changed and what leads there; all of them where the plan is not the one this planner
        makes around those.
    """
    kept = plan.kept.get(hole, ())
    shots = plan.plan.shots[plan.plan.shots["hole"] == hole].to_dict("records")
    rows = plan_rows(hole, ready.task.site, plan_moved(ready, kept).strokes)
    same = len(rows) == len(shots) and all(_same(row, shot) for row, shot in zip(rows, shots, strict=True))
    if same or not shots or any(not math.isfinite(shot["target_lon_deg"]) for shot in shots):
        return kept
    places = [(str(shot["club"]), shot["target_lon_deg"], shot["target_lat_deg"]) for shot in shots]
    return _kept(ready, plan.bag, places)


def _same(row: Mapping[Any, Any], shot: Mapping[Any, Any]) -> bool:
    if row["club"] != shot["club"]:
        return False
    ends = [row["target_lon_deg"], row["target_lat_deg"], shot["target_lon_deg"], shot["target_lat_deg"]]
    if not all(math.isfinite(float(end)) for end in ends):
        return abs(float(row["distance_m"]) - float(shot["distance_m"])) <= _SAME_M
    return float(distance_bearing(*ends)[0]) <= _SAME_M


def wanted_of(form: Mapping[str, str], ready: ReadyHole, bag: Bag) -> tuple[Kept, ...]:
    """
    Read which shots somebody wants.

    Parameters
    ----------
    form : mapping of str to str
        ``wanted``: JSON, a list of objects with ``club``, ``lon`` and ``lat``, from the first shot on. Without a
        script besides ``club``, ``distance`` and ``side`` for the last of them, in the units of the bag: along the
        line it has, and to the right of it.
    ready : ReadyHole
        The hole.
    bag : Bag
        The clubs.

    Returns
    -------
    tuple of Kept
        The shots.

    Raises
    ------
    InputError
        If they cannot be understood, or lie elsewhere.
    """
    try:
        said = json.loads(form.get("wanted", ""), parse_constant=lambda _: None)
        places = [(str(one["club"]), float(one["lon"]), float(one["lat"])) for one in said]
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError) as fault:
        raise InputError("the shots cannot be understood", "wanted", "Load the page again") from fault
    if not 0 < len(places) <= _MOST_SHOTS or not all(
        abs(lon) <= 180.0 and abs(lat) <= 90.0 for _, lon, lat in places
    ):
        raise InputError("the shots cannot be understood", "wanted", "Load the page again")
    if form.get("club", "").strip():
        places[-1] = (form["club"].strip(), *places[-1][1:])
    kept = _kept(ready, bag, places)
    if form.get("distance", "").strip() or form.get("side", "").strip():
        last = kept[-1]
        per = 0.9144 if bag.units == "yd" else 1.0
        length = math.dist(last.start_m, last.target_m)
        distance, side = _number(form, "distance", length / per) * per, _number(form, "side", 0.0) * per
        way = (np.array(last.target_m) - np.array(last.start_m)) / max(length, 1e-9)
        right, up = np.array(last.start_m) + distance * way + side * np.array([way[1], -way[0]])
        kept = (
            *kept[:-1],
            Kept(last.shot, last.club, last.start_m, (float(right), float(up)), last.tolerance_m),
        )
    grid = ready.free.model.grid
    for one in kept:
        right, up = one.target_m
        inside = grid.right_m[0] <= right <= grid.right_m[-1] and grid.up_m[0] <= up <= grid.up_m[-1]
        if not inside:
            raise InputError(
                f"the target of shot {one.shot} lies outside the hole",
                None,
                "Move it back towards the fairway",
            )
    return kept


def _number(form: Mapping[str, str], name: str, otherwise: float) -> float:
    text = form.get(name, "").strip()
    if not text:
        return otherwise
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not abs(value) <= 700.0:
        raise InputError(f"{text[:40]!r} is not a length", name, "Write a number such as 150 or -5")
    return value


def _kept(ready: ReadyHole, bag: Bag, places: Sequence[tuple[str, float, float]]) -> tuple[Kept, ...]:
    """Turn clubs and places into shots that follow each other from the tee."""
    site = ready.task.site
    if not site.placed or site.frame is None:
        raise InputError("this hole has no positions", None, "Plan with a map of the course to move targets")
    start = (float(site.line_m[0, 0]), float(site.line_m[0, 1]))
    found = []
    for number, (name, lon, lat) in enumerate(places, start=1):
        club = bag.find_club(name)
        if club is None:
            raise InputError(f"{name[:40]!r} is not in the bag", "club", "Choose one of the list")
        right, up = site.from_course(*site.frame.to_metres(lon, lat))
        target = (float(right), float(up))
        found.append(Kept(number, club.name, start, target, tolerance_m(club.spread_long_m)))
        start = target
    return tuple(found)
