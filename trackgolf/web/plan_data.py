"""A kept plan as its pages need it: with what it was made with, hole by hole, in numbers and words."""

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
from reports.show import whole_length
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
from trackgolf.plan_odds import SPOT_WORDS, spot_text
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.moved import Beside, MovedPlan, ReadyHole, beside, ends_of, plan_moved
from trackgolf.strategy.plans import HoleTask
from trackgolf.strategy.rounds import hole_tasks, plan_rows

__all__ = ["KeptPlan", "hole_shown", "kept_at", "load_plan", "round_tasks", "wanted_of"]

# Plays of each hole for players unlike the bag, as the command has it.
_TRIALS = 2_000
# A stroke of the plan that is no farther from the planner's is the planner's [m].
_SAME_M = 1.0
_MOST_SHOTS = 12
_GROUND = {
    "green": "green",
    "fairway": "fairway",
    "rough": "rough",
    "bunker": "sand",
    "water_red": "water",
    "water_yellow": "water",
    "out_of_bounds": "out of bounds",
}
_SIDES = {
    "left": "to the left",
    "right": "to the right",
    "short": "short of it",
    "past": "past it",
}
# A share too small to be told.
_TOLD_SHARE = 0.005


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


def hole_shown(
    plan: KeptPlan, ready: ReadyHole, kept: tuple[Kept, ...], shot: int | None = None
) -> dict[str, Any]:
    """
    Say a hole's plan in numbers and words, for the page and for its script.

    Parameters
    ----------
    plan : KeptPlan
        The plan it belongs to.
    ready : ReadyHole
        The hole.
    kept : tuple of Kept
        The shots that are wanted.
    shot : int, optional
        The shot that is looked at; the last wanted one, or the first, if left out.

    Returns
    -------
    dict
        Plain values, ready for JSON: ``shots``, ``odds``, ``ends``, ``near``, ``spots``, ``notes``, ``short``, ``said``, ``shot``
        and ``wanted``, how many shots are the player's own.
    """
    units, goal, site = plan.bag.units, ready.task.goal, ready.task.site
    moved = plan_moved(ready, kept)
    rows = plan_rows(site.number, site, moved.strokes)
    at = min(max(shot or len(kept) or 1, 1), len(rows))
    ends = ends_of(ready, kept, at)
    club, length = rows[at - 1]["club"], whole_length(float(str(rows[at - 1]["distance_m"])), units)
    odds = moved.odds
    share = f"{odds.regulation_probability:.0%}".replace("%", "\u00a0%")
    notes = []
    if ends.off_m > 1.5 * ready.task.settings.cell_m:
        bounds = f"{whole_length(ends.low_m, units)} to {whole_length(ends.high_m, units)} {units}"
        notes.append(f"The {club} goes {bounds} from there; the odds are for the nearest that it can do.")
    if len(rows) > goal.regulation_shots:
        notes.append(f"So the green is not reached in {goal.regulation_shots}, even if all goes as meant.")
    near = _near(beside(site, moved.strokes[at - 1].start_m, moved.strokes[at - 1].target_m), units)
    return {
        "shot": at,
        "wanted": len(kept),
        "shots": [_shot(row, units, plan.bag) for row in rows],
        "odds": _odds(moved, goal.regulation_shots, goal.personal_par),
        "ends": _ends(ends.shares),
        "near": near,
        "spots": [
            [
                SPOT_WORDS[spot.name],
                spot_text(spot, units),
                f"{spot.strokes_to_go:.1f}" if math.isfinite(spot.strokes_to_go) else "–",
            ]
            for spot in moved.spots
        ],
        "notes": notes,
        "short": f"{odds.expected_strokes:.2f} strokes, {share} in time",
        "said": f"Shot {at}, {club} {length} {units}: {odds.expected_strokes:.2f} strokes, {share} on the green in "
        f"{goal.regulation_shots}. {near}{' ' + notes[0] if notes else ''}",
    }


def _odds(moved: MovedPlan, regulation: int, personal: int) -> list[list[str]]:
    odds = moved.odds

    def share(value: float) -> str:
        return f"{value:.0%}".replace("%", "\u00a0%")

    return [
        ["Strokes on average", f"{odds.expected_strokes:.2f}"],
        [f"On the green in {regulation}", share(odds.regulation_probability)],
        [f"More than {personal + 1} strokes", share(odds.blowup_probability)],
        ["Water, out of bounds, lost", share(odds.penalty_probability)],
    ]


def _shot(row: Mapping[str, Any], units: str, bag: Bag) -> dict[str, Any]:
    placed = math.isfinite(float(row["target_lon_deg"]))
    club = bag.find_club(str(row["club"]))
    return {
        "shot": int(row["shot"]),
        "club": str(row["club"]),
        "avoid": bool(club is not None and club.avoid),
        "length": f"{whole_length(float(row['distance_m']), units)}\u00a0{units}",
        "distance": whole_length(float(row["distance_m"]), units),
        "leave": f"{whole_length(float(row['leave_m']), units)}\u00a0{units}",
        "radius_m": round(float(row["tolerance_m"]), 1),
        "start": [round(float(row["start_lon_deg"]), 7), round(float(row["start_lat_deg"]), 7)]
        if placed
        else None,
        "target": [round(float(row["target_lon_deg"]), 7), round(float(row["target_lat_deg"]), 7)]
        if placed
        else None,
    }


def _ends(shares: Mapping[str, float]) -> str:
    together: dict[str, float] = {}
    for name, share in shares.items():
        together[_GROUND[name]] = together.get(_GROUND[name], 0.0) + share
    together["off the map"] = 1.0 - sum(together.values())
    told = sorted(
        ((share, name) for name, share in together.items() if share >= _TOLD_SHARE), key=lambda one: -one[0]
    )
    return ", ".join(f"{name} {share:.0%}".replace("%", "\u00a0%") for share, name in told)


def _near(found: Sequence[Beside], units: str) -> str:
    """Say what lies near a target in one sentence."""
    told = []
    for one in found:
        name = _GROUND[one.ground]
        if not one.side:
            told.append(
                f"the target is in {name}" if name != "out of bounds" else "the target is out of bounds"
            )
            continue
        told.append(f"{name} {whole_length(one.away_m, units)}\u00a0{units} {_SIDES[one.side]}")
    if not told:
        return "Nothing to fear near the target."
    said = "; ".join(told)
    return f"{said[0].upper()}{said[1:]}."
