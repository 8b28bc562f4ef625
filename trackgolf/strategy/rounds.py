"""A whole round planned hole by hole, in the form the rest of the program knows."""

from __future__ import annotations

import logging
import multiprocessing
import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from geo.geodesic import distance_bearing
from geo.units import YARD_M
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import BagError
from trackgolf.personal_par import personal_pars
from trackgolf.plan import (
    PLAN_COLUMNS,
    Plan,
    PlanSettings,
    check_lengths,
    plan_round,
    plan_rules,
    tolerance_m,
)
from trackgolf.plan_ground import plan_frame, plan_grounds
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.plans import PLAN_NAMES, HolePlan, HolePlans, HoleTask, PlannedStroke, plan_hole
from trackgolf.strategy.settings import Prices, StrategySettings
from trackgolf.strategy.site import HoleSite, hole_sites
from trackgolf.strategy.value import Goal

__all__ = ["RoundPlans", "hole_tasks", "plan_rows", "player_level", "run_tasks", "strategy_plans"]

_LOG = logging.getLogger(__name__)
# So few holes are not worth another process.
_ALONE = 3
_ROUND = 18


@dataclass(frozen=True)
class RoundPlans:
    """
    The plans of a round.

    Attributes
    ----------
    plans : dict of str to Plan
        By name, in the order of `PLAN_NAMES`.
    holes : dict of int to HolePlans
        Odds, zones and comparison, by hole.
    sites : dict of int to HoleSite
        The holes in their own metres.
    goals : dict of int to Goal
        Regulation shots and personal par.
    prices : Prices
        Of *on plan*.
    settings : StrategySettings
        What all went by.
    """

    plans: dict[str, Plan]
    holes: dict[int, HolePlans]
    sites: dict[int, HoleSite]
    goals: dict[int, Goal]
    prices: Prices
    settings: StrategySettings


def player_level(course: Course, bag: Bag) -> float:
    """
    Say what a player scores over par in 18 holes.

    Parameters
    ----------
    course : Course
        The course.
    bag : Bag
        Target or handicap.

    Returns
    -------
    float
        Strokes over par, by the target for these holes or the handicap.
    """
    if bag.playing_handicap is not None:
        return float(bag.playing_handicap)
    par = sum(hole.par for hole in course.holes)
    return (float(bag.target_score or par) - par) * _ROUND / len(course.holes)


def hole_tasks(
    course: Course,
    bag: Bag,
    *,
    settings: StrategySettings | None = None,
    prices: Prices | None = None,
    rules: PlanSettings | None = None,
    kept: Mapping[int, Sequence[Kept]] | None = None,
    trials: int = 0,
    zones: bool = False,
    names: tuple[str, ...] = PLAN_NAMES,
) -> list[HoleTask]:
    """
    Lay out what each hole is planned from.

    Parameters
    ----------
    course : Course
        The course, with or without positions.
    bag : Bag
        Clubs, preferred distances, target.
    settings : StrategySettings, optional
        What the plans go by.
    prices : Prices, optional
        Of *on plan*.
    rules : PlanSettings, optional
        Of the rule of thumb.
    kept : mapping of int to sequence of Kept, optional
        Shots that the player wants as they are, by hole.
    trials, zones, names : int, bool, tuple of str
        As in `HoleTask`.

    Returns
    -------
    list of HoleTask
        A task a hole.

    Raises
    ------
    BagError
        If the bag has neither target score nor playing handicap, or no clubs.
    CourseError
        If stroke indexes or lengths are missing.
    """
    settings, prices, rules = settings or StrategySettings(), prices or Prices(), rules or PlanSettings()
    if not bag.clubs:
        raise BagError("there are no clubs to plan with", None, "Give at least one [[club]] in the bag")
    pars = personal_pars(course.holes, target_score=bag.target_score, playing_handicap=bag.playing_handicap)
    check_lengths(course)
    unit_m = YARD_M if bag.units == "yd" else 1.0
    grounds = plan_grounds(
        course,
        plan_frame(course),
        unit_m,
        [approach.distance_m for approach in bag.approaches],
        (rules.water_corridor_m, rules.bunker_corridor_m),
    )
    level = player_level(course, bag)
    goals = {
        int(row["hole"]): Goal(int(row["regulation_shots"]), int(row["personal_par"]))
        for row in pars.to_dict("records")
    }
    if _LOG.isEnabledFor(logging.INFO):
        _log_goals(bag, pars, prices, settings)
    return [
        HoleTask(
            site,
            goals[number],
            bag,
            level,
            settings,
            prices,
            grounds[number],
            plan_rules(rules),
            tuple((kept or {}).get(number, ())),
            trials,
            zones,
            names,
        )
        for number, site in hole_sites(course, settings).items()
    ]


def _log_goals(bag: Bag, pars: pd.DataFrame, prices: Prices, settings: StrategySettings) -> None:
    aim = (
        f"the target score {bag.target_score}"
        if bag.playing_handicap is None
        else f"the playing handicap {bag.playing_handicap}"
    )
    given = {int(row["hole"]): int(row["personal_par"] - row["par"]) for row in pars.to_dict("records")}
    listed = ", ".join(f"{number}: {strokes:+d}" for number, strokes in given.items() if strokes)
    _LOG.info(f"personal par: {aim} gives strokes by stroke index on holes {listed or 'none'}")
    for row in pars.to_dict("records"):
        _LOG.debug(
            f"hole {row['hole']}: par {row['par']}, personal par {row['personal_par']}, green in {row['regulation_shots']}"
        )
    for club in bag.clubs:
        _LOG.debug(
            f"{club.name}: {club.carry_m:.0f} m and {club.roll_m:.0f} m roll, spread {club.spread_long_m:.0f} m long and "
            f"{club.spread_side_m:.0f} m across, {club.mishit_share:.0%} mishits{', to be avoided' if club.avoid else ''}"
        )
    _LOG.info(
        f"prices in strokes: {prices.missed:g} a green missed in time, {prices.blowup:g} a score above personal par + 1, "
        f"{prices.avoided:g} an avoided club, {prices.leave:g} a leave not liked; cells of {settings.cell_m:g} m"
    )


def run_tasks(
    tasks: Sequence[HoleTask],
    processes: int | None = None,
    *,
    planned: Callable[[int, int], None] | None = None,
) -> list[HolePlans]:
    """
    Plan holes, several at a time where there are several.

    Parameters
    ----------
    tasks : sequence of HoleTask
        What each hole is planned from.
    processes : int, optional
        How many to use; as many as there are processors if left out.
    planned : callable, optional
        Told how many holes are planned, of how many, whenever one is.

    Returns
    -------
    list of HolePlans
        In the same order; the same however many processes there are.
    """
    usable = processes or len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    usable = min(processes or usable or 1, len(tasks))
    if usable <= 1 or len(tasks) <= _ALONE:
        made = []
        for task in tasks:
            made.append(plan_hole(task))
            if planned is not None:
                planned(len(made), len(tasks))
        return made
    # A new interpreter rather than a copy of this one: copies of a process with threads may hang.
    context = multiprocessing.get_context("spawn")
    # The longest holes first, so that no process is left with one at the end.
    order = sorted(range(len(tasks)), key=lambda number: -float(tasks[number].site.pin_m[1]))
    with ProcessPoolExecutor(usable - 1, mp_context=context) as pool:
        waiting = {number: pool.submit(plan_hole, tasks[number]) for number in order}
        done: dict[int, HolePlans] = {}
        # This process plans too, from the other end.
        for number in reversed(order):
            if waiting[number].cancel():
                done[number] = plan_hole(tasks[number])
                if planned is not None:
                    planned(len(done) + _finished(waiting), len(tasks))
        for number, future in waiting.items():
            if number not in done:
                done[number] = future.result()
                if planned is not None:
                    planned(len(tasks) - sum(not one.done() for one in waiting.values()), len(tasks))
    return [done[number] for number in range(len(tasks))]


def _finished(waiting: Mapping[int, Future[HolePlans]]) -> int:
    return sum(future.done() and not future.cancelled() for future in waiting.values())


def strategy_plans(
    course: Course,
    bag: Bag,
    tasks: Sequence[HoleTask],
    made: Sequence[HolePlans],
    *,
    rules: PlanSettings | None = None,
) -> RoundPlans:
    """
    Put the plans of the holes together.

    Parameters
    ----------
    course : Course
        The course.
    bag : Bag
        The bag.
    tasks : sequence of HoleTask
        As `hole_tasks` gave them.
    made : sequence of HolePlans
        As `run_tasks` gave them.
    rules : PlanSettings, optional
        Of the rule of thumb.

    Returns
    -------
    RoundPlans
        Tables of shots with notes, and the odds.
    """
    sites = {task.site.number: task.site for task in tasks}
    goals = {task.site.number: task.goal for task in tasks}
    holes = {plans.number: plans for plans in made}
    names = tasks[0].names
    plans: dict[str, Plan] = {}
    for name in names:
        if name == "rule of thumb":
            thumb = plan_round(course, bag, rules)
            plans[name] = replace(thumb, name=name)
            continue
        rows: list[dict[str, object]] = []
        notes: list[str] = []
        for number, site in sites.items():
            rows += plan_rows(number, site, holes[number].plans[name].strokes)
            notes += _notes(number, goals[number], holes[number].plans[name])
        plans[name] = Plan(pd.DataFrame(rows, columns=list(PLAN_COLUMNS)), (*notes, *_unknown(tasks)), name)
    if _LOG.isEnabledFor(logging.INFO):
        _log_choices(holes)
    return RoundPlans(plans, holes, sites, goals, tasks[0].prices, tasks[0].settings)


def _log_choices(holes: Mapping[int, HolePlans]) -> None:
    for number, made in holes.items():
        first, second = (made.plans.get(name) for name in PLAN_NAMES[:2])
        if first is None or second is None:
            continue
        clubs, fewest = (", ".join(stroke.club for stroke in plan.strokes) for plan in (first, second))
        costs = first.odds.expected_strokes - second.odds.expected_strokes
        other = "as for fewest strokes" if clubs == fewest else f"rather than {fewest}"
        _LOG.info(
            f"hole {number}: {clubs}, {other}: {costs:+.2f} strokes expected, green in time "
            f"{first.odds.regulation_probability:.0%} against {second.odds.regulation_probability:.0%}"
        )


def plan_rows(number: int, site: HoleSite, strokes: Sequence[PlannedStroke]) -> list[dict[str, object]]:
    """
    Turn strokes into rows of a plan.

    Parameters
    ----------
    number : int
        The hole.
    site : HoleSite
        The hole in its own metres.
    strokes : sequence of PlannedStroke
        Its strokes, in order.

    Returns
    -------
    list of dict
        As `trackgolf.plan.PLAN_COLUMNS`; with positions all lengths are geodesics.
    """
    xy = np.array([strokes[0].start_m, *(stroke.target_m for stroke in strokes)])
    lon, lat = site.to_degrees(xy[:, 0], xy[:, 1])
    legs, leaves = np.hypot(*np.diff(xy, axis=0).T), np.hypot(*(xy[1:] - site.pin_m).T)
    if site.placed:
        pin_lon, pin_lat = site.to_degrees(site.pin_m[:1], site.pin_m[1:])
        legs = np.atleast_1d(distance_bearing(lon[:-1], lat[:-1], lon[1:], lat[1:])[0])
        ends = np.full(len(strokes), float(pin_lon[0])), np.full(len(strokes), float(pin_lat[0]))
        leaves = np.atleast_1d(distance_bearing(lon[1:], lat[1:], *ends)[0])
    return [
        {
            "hole": number,
            "shot": index + 1,
            "club": stroke.club,
            "role": "approach" if index == len(strokes) - 1 else ("tee" if index == 0 else "layup"),
            "distance_m": float(legs[index]),
            "leave_m": float(leaves[index]),
            "tolerance_m": tolerance_m(stroke.long_m),
            "start_lon_deg": lon[index],
            "start_lat_deg": lat[index],
            "target_lon_deg": lon[index + 1],
            "target_lat_deg": lat[index + 1],
        }
        for index, stroke in enumerate(strokes)
    ]


def _notes(number: int, goal: Goal, plan: HolePlan) -> list[str]:
    """Say what is not as one would like on a hole."""
    odds = plan.odds
    notes = []
    shots = f"{goal.regulation_shots} shot{'s' if goal.regulation_shots > 1 else ''}"
    if len(plan.strokes) > goal.regulation_shots:
        notes.append(
            f"Hole {number}: the green is out of reach in {shots}, even if all goes as meant; "
            f"{odds.regulation_probability:.0%} get there all the same, planned in {len(plan.strokes)}"
        )
    elif odds.regulation_probability < 0.5:
        notes.append(
            f"Hole {number}: on the green in {shots} in {odds.regulation_probability:.0%} of all tries"
        )
    avoided = list(dict.fromkeys(stroke.club for stroke in plan.strokes if stroke.avoided))
    if avoided:
        notes.append(f"Hole {number}: uses a club you would rather not ({', '.join(avoided)})")
    if odds.penalty_probability >= 0.1:
        notes.append(
            f"Hole {number}: water, out of bounds or a lost ball in {odds.penalty_probability:.0%} of all tries"
        )
    return notes


def _unknown(tasks: Sequence[HoleTask]) -> list[str]:
    """Say what the plans do not know."""
    notes = []
    if not any(task.site.placed for task in tasks):
        notes.append(
            "Planned from lengths alone: holes are taken to be straight and bare. Bends, water, bunkers, out of "
            "bounds and the size of the greens are not known"
        )
    elif not any(task.site.fairways_drawn for task in tasks):
        half = tasks[0].settings.fairway_half_m
        notes.append(f"The map draws no fairways: they are taken to be {2 * half:.0f} m wide along the line")
    notes.append("Wind, slope and the ground of the day are not known to any plan")
    return notes
