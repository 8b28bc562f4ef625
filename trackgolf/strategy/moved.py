"""A plan with a target moved: its odds at once, from a hole that was made ready before."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from trackgolf.strategy.at_hole import ROLL_UNIT
from trackgolf.strategy.kept import Kept, keep
from trackgolf.strategy.make import make_model
from trackgolf.strategy.next_shot import Spot, usual_spots
from trackgolf.strategy.odds import Odds, hole_odds
from trackgolf.strategy.outcomes import pattern_of
from trackgolf.strategy.plans import HoleTask, PlannedStroke, cell_of, lie_of, planned_strokes
from trackgolf.strategy.settings import FEWEST_STROKES
from trackgolf.strategy.site import GROUND, HoleSite
from trackgolf.strategy.value import Solution, solve, stroke_at

__all__ = [
    "Beside",
    "Ends",
    "MovedPlan",
    "ReadyHole",
    "beside",
    "bound",
    "ends_of",
    "make_ready",
    "plan_moved",
]

# What lies farther from a target than this is not told [m]. Common practice, no source.
_NEAR_M = 40.0
_TOLD = ("bunker", "water_red", "water_yellow", "out_of_bounds")


@dataclass(frozen=True)
class ReadyHole:
    """
    A hole planned from everywhere, so that a moved target is a matter of following the plan once more.

    Attributes
    ----------
    task : HoleTask
        What it was planned from.
    free : Solution
        The plan *on plan* with nothing kept.
    fewest : Solution
        The plan of fewest strokes.
    """

    task: HoleTask
    free: Solution
    fewest: Solution


@dataclass(frozen=True, slots=True)
class Beside:
    """
    What lies near a target.

    Attributes
    ----------
    ground : str
        One of `trackgolf.strategy.site.GROUND`.
    away_m : float
        How far from the target; 0 where the target lies in it [m].
    side : str
        ``left``, ``right``, ``short`` or ``past``, seen along the stroke; "" in it.
    """

    ground: str
    away_m: float
    side: str


@dataclass(frozen=True, slots=True)
class Ends:
    """
    Where a planned stroke ends.

    Attributes
    ----------
    shares : dict of str to float
        Probability of coming to rest on each of `trackgolf.strategy.site.GROUND`; what is missing to 1 leaves the
        map of the hole.
    low_m, high_m : float
        What its club goes from there at least and at most [m].
    wished_m : float
        What is asked of it [m].
    off_m : float
        How far from the target the stroke is aimed that the odds are for, where the club does not go as far or is
        not played so short [m].
    """

    shares: dict[str, float]
    low_m: float
    high_m: float
    wished_m: float
    off_m: float


@dataclass(frozen=True)
class MovedPlan:
    """
    A hole's plan around shots that are wanted.

    Attributes
    ----------
    strokes : tuple of PlannedStroke
        If all goes as meant.
    odds : Odds
        Where it leads.
    spots : tuple of Spot
        The usual spots after the tee shot, and what is played from them.
    """

    strokes: tuple[PlannedStroke, ...]
    odds: Odds
    spots: tuple[Spot, ...]


def make_ready(task: HoleTask) -> ReadyHole:
    """
    Plan a hole from everywhere.

    Parameters
    ----------
    task : HoleTask
        What to go by; shots kept in it are left aside.

    Returns
    -------
    ReadyHole
        The hole; it takes a second or two.
    """
    model = make_model(task.site, task.bag, task.settings, task.over_par)
    fewest = solve(model, task.goal, FEWEST_STROKES)
    return ReadyHole(task, solve(model, task.goal, task.prices, start=fewest), fewest)


def bound(solution: Solution, kept: tuple[Kept, ...]) -> Solution:
    """
    Put shots that are wanted into a plan.

    Parameters
    ----------
    solution : Solution
        The plan with nothing kept.
    kept : tuple of Kept
        The shots.

    Returns
    -------
    Solution
        The plan with these played wherever they are wanted; its values are
        those of the plan before.

    Notes
    -----
    Values are found backwards: what is best after a number of strokes does
    not depend on what was played before. So nothing but the wanted strokes
    differs from a plan that is searched anew around them, and its odds are
    the same.
    """
    stages = list(solution.stages)
    for strokes, forced in keep(solution.model, kept).items():
        # The last stage stands for all that follow; a stroke is wanted once.
        while len(stages) < strokes + 2:
            stages.append(stages[-1])
        stage = stages[strokes]
        stages[strokes] = replace(
            stage,
            choices=np.where(forced.where, forced.choices, stage.choices),
            tee_choice=stage.tee_choice if forced.tee_choice is None else forced.tee_choice,
        )
    return replace(solution, stages=tuple(stages))


def plan_moved(ready: ReadyHole, kept: tuple[Kept, ...] = ()) -> MovedPlan:
    """
    Plan a hole around wanted shots.

    Parameters
    ----------
    ready : ReadyHole
        From `make_ready`.
    kept : tuple of Kept
        The shots that are wanted as they are.

    Returns
    -------
    MovedPlan
        Strokes and odds, as `trackgolf.strategy.plans.plan_hole` gives them.
    """
    solution = bound(ready.free, kept)
    strokes = planned_strokes(solution, kept)
    spots = usual_spots(solution, ready.fewest, strokes[0].target_m)
    return MovedPlan(strokes, hole_odds(solution), tuple(spots))


def ends_of(ready: ReadyHole, kept: tuple[Kept, ...], shot: int) -> Ends:
    """
    Say on what ground the ball of a planned stroke comes to rest.

    Parameters
    ----------
    ready : ReadyHole
        The hole.
    kept : tuple of Kept
        The shots that are wanted.
    shot : int
        Number of the stroke, from 1.

    Returns
    -------
    Ends
        Where it ends.
    """
    model, grid = ready.free.model, ready.free.model.grid
    solution = bound(ready.free, kept)
    stroke = planned_strokes(solution, kept)[shot - 1]
    row, column = cell_of(model, stroke.start_m)
    lie = 0 if shot == 1 else lie_of(model, row, column)
    stage = solution.stage(shot - 1)
    choice = stage.tee_choice if shot == 1 else int(stage.choices[lie, row, column])
    played = stroke_at(model, lie, choice)
    goal = grid.site.pin_m
    if not played.at_hole:
        goal = np.array(stroke.start_m) + np.array([played.column, played.row]) * grid.cell_m
    swing = model.swings[lie][played.swing]
    turn = int(model.turn_of(goal[1] - stroke.start_m[1], goal[0] - stroke.start_m[0]))
    angle, steps = float(model.turns[turn]), int(model.steps[played.swing])
    place = ((goal[1] - grid.up_m[0]) / grid.cell_m, (goal[0] - grid.right_m[0]) / grid.cell_m)
    base = round(place[0]), round(place[1])
    roll = steps * ROLL_UNIT
    landing = (place[0] - base[0] - roll * math.cos(angle), place[1] - base[1] - roll * math.sin(angle))
    pattern = pattern_of(swing, angle, model.settings, landing)
    rows, columns = base[0] + pattern.row, base[1] + pattern.column
    inside = (rows >= 0) & (rows < grid.shape[0]) & (columns >= 0) & (columns < grid.shape[1])
    landed = rows[inside] * grid.shape[1] + columns[inside]
    mass = model.settled(pattern.weight[inside], landed, turn, steps)
    shares = {name: float(grid.shares[number].ravel() @ mass) for number, name in enumerate(GROUND)}
    mine = [one for one in model.swings[lie] if one.club == stroke.club]
    wished = math.dist(stroke.start_m, stroke.target_m)
    return Ends(
        shares,
        min(one.low_m for one in mine),
        max(one.high_m for one in mine),
        wished,
        math.dist(stroke.target_m, goal),
    )


def beside(site: HoleSite, start_m: tuple[float, float], target_m: tuple[float, float]) -> tuple[Beside, ...]:
    """
    Say what lies near a target.

    Parameters
    ----------
    site : HoleSite
        The hole.
    start_m, target_m : tuple of float
        From where to where, right and up in the hole's metres [m].

    Returns
    -------
    tuple of Beside
        The nearest of each kind of sand, water and out of bounds, nearest first.
    """
    point = shapely.Point(target_m)
    way = np.array(target_m) - np.array(start_m)
    way = way / max(float(np.hypot(*way)), 1e-9)
    found = []
    for name, shape in [*site.shapes, *([] if site.fence is None else [("out_of_bounds", site.fence)])]:
        away = float(shapely.distance(point, shape))
        if name not in _TOLD or not away <= _NEAR_M:
            continue
        near = shapely.get_coordinates(shapely.shortest_line(point, shape))[1] - np.array(target_m)
        long_m, right_m = float(near @ way), float(near @ np.array([way[1], -way[0]]))
        side = ("right" if right_m > 0 else "left") if abs(right_m) >= abs(long_m) else ""
        side = side or ("past" if long_m > 0 else "short")
        found.append(Beside(name, away, side if away > 0 else ""))
    return tuple(sorted(found, key=lambda one: one.away_m))
