"""Three plans of a hole, each scored in the same model: on plan, fewest strokes, rule of thumb."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from trackgolf.bag import Bag
from trackgolf.plan_ground import PlanGround
from trackgolf.plan_rules import PlanRules
from trackgolf.strategy.kept import Kept, keep
from trackgolf.strategy.make import make_model
from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.monte_carlo import Truth, picture, play_hole
from trackgolf.strategy.next_shot import NextShots, next_shots
from trackgolf.strategy.odds import Odds, hole_odds
from trackgolf.strategy.policies import rule_of_thumb
from trackgolf.strategy.settings import FEWEST_STROKES, LIES, Prices, StrategySettings
from trackgolf.strategy.site import HoleSite
from trackgolf.strategy.value import Goal, Solution, follow, solve, stroke_at

__all__ = [
    "PLAN_NAMES",
    "HolePlan",
    "HolePlans",
    "HoleTask",
    "PlannedStroke",
    "cell_of",
    "lie_of",
    "plan_hole",
    "planned_strokes",
]

Floats = npt.NDArray[np.float64]

PLAN_NAMES = ("on plan", "fewest strokes", "rule of thumb")
"""The plans, in the order they are told."""

_MOST_SHOTS = 12
# A planned ball on a cell with this much green is on it.
_ON_GREEN = 0.5
# Range of true distances and mishits against the stated ones that a comparison must hold for. Common practice, no
# source: golfers say what a good strike goes, and few know how often they fail.
_DISTANCES, _MISHITS = (0.88, 1.05), (0.5, 2.0)


@dataclass(frozen=True)
class HoleTask:
    """
    Everything a hole is planned from; small enough to send to another process.

    Attributes
    ----------
    site : HoleSite
        The hole.
    goal : Goal
        What it is to be played in.
    bag : Bag
        The clubs.
    over_par : float
        Level of the player, strokes over par in 18 holes.
    settings : StrategySettings
        What the plans go by.
    prices : Prices
        Of the plan *on plan*.
    ground : PlanGround
        Stations for the rule of thumb.
    rules : PlanRules
        Rules of the rule of thumb.
    kept : tuple of Kept
        Shots that the player wants as they are, by number.
    trials : int
        Plays in which plans are compared for players unlike the bag; 0 for none.
    zones : bool
        Whether to say what is played next from everywhere.
    names : tuple of str
        Plans wanted.
    """

    site: HoleSite
    goal: Goal
    bag: Bag
    over_par: float
    settings: StrategySettings
    prices: Prices
    ground: PlanGround
    rules: PlanRules
    kept: tuple[Kept, ...] = ()
    trials: int = 0
    zones: bool = False
    names: tuple[str, ...] = PLAN_NAMES


@dataclass(frozen=True, slots=True)
class PlannedStroke:
    """
    A stroke of a plan, if all before went as meant.

    Attributes
    ----------
    club : str
        Name of the club.
    start_m, target_m : tuple of float
        From where to where, right and up in the hole's metres [m].
    long_m : float
        One standard deviation along the line [m].
    avoided, part : bool
        Whether the player would rather not use the club, and whether it is less than a full swing.
    """

    club: str
    start_m: tuple[float, float]
    target_m: tuple[float, float]
    long_m: float
    avoided: bool
    part: bool


@dataclass(frozen=True)
class HolePlan:
    """
    One plan of a hole.

    Attributes
    ----------
    name : str
        One of `PLAN_NAMES`.
    strokes : tuple of PlannedStroke
        If all goes as meant; empty for the rule of thumb, whose strokes `plan_round` gives.
    odds : Odds
        Where it leads.
    """

    name: str
    strokes: tuple[PlannedStroke, ...]
    odds: Odds


@dataclass(frozen=True)
class HolePlans:
    """
    The plans of a hole.

    Attributes
    ----------
    number : int
        Number of the hole.
    plans : dict of str to HolePlan
        By name.
    trial : tuple of float or None
        How many strokes more the rule of thumb takes than *on plan* for players unlike the bag, and the standard
        error of that.
    next_shots : NextShots or None
        What *on plan* plays from everywhere.
    """

    number: int
    plans: dict[str, HolePlan] = field(default_factory=dict)
    trial: tuple[float, float] | None = None
    next_shots: NextShots | None = None


def plan_hole(task: HoleTask) -> HolePlans:
    """
    Plan a hole in every way asked for.

    Parameters
    ----------
    task : HoleTask
        What to go by.

    Returns
    -------
    HolePlans
        The plans with their odds.
    """
    model = make_model(task.site, task.bag, task.settings, task.over_par)
    made: dict[str, Solution] = {}
    forced = keep(model, task.kept)
    fewest = solve(model, task.goal, FEWEST_STROKES)
    if "fewest strokes" in task.names:
        made["fewest strokes"] = fewest
    if "on plan" in task.names:
        made["on plan"] = solve(model, task.goal, task.prices, start=fewest, forced=forced)
    if "rule of thumb" in task.names:
        policy = rule_of_thumb(model, task.goal, task.bag, task.ground, task.rules)
        made["rule of thumb"] = follow(model, task.goal, policy)
    plans = {}
    for name in task.names:
        kept = task.kept if name == "on plan" else ()
        strokes = () if name == "rule of thumb" else planned_strokes(made[name], kept)
        plans[name] = HolePlan(name, strokes, hole_odds(made[name]))
    trial = None
    if task.trials and {"on plan", "rule of thumb"} <= set(task.names):
        trial = _trial(made["rule of thumb"], made["on plan"], task.trials, task.site.number)
    zones = None
    if task.zones and "on plan" in task.names:
        zones = next_shots(made["on plan"], fewest, [stroke.target_m for stroke in plans["on plan"].strokes])
    return HolePlans(task.site.number, plans, trial, zones)


def planned_strokes(solution: Solution, kept: tuple[Kept, ...] = ()) -> tuple[PlannedStroke, ...]:
    """
    Follow a plan as if every stroke went as meant.

    Parameters
    ----------
    solution : Solution
        The plan of a hole.
    kept : tuple of Kept, optional
        Shots whose targets are the player's, to the metre.

    Returns
    -------
    tuple of PlannedStroke
        From the tee to the green.
    """
    model = solution.model
    grid = model.grid
    pin = (float(grid.site.pin_m[0]), float(grid.site.pin_m[1]))
    place = (float(grid.site.line_m[0, 0]), float(grid.site.line_m[0, 1]))
    lie, choice = 0, solution.stages[0].tee_choice
    strokes: list[PlannedStroke] = []
    while True:
        stroke = stroke_at(model, lie, choice)
        swing = model.swings[lie][stroke.swing]
        away = (stroke.column * grid.cell_m, stroke.row * grid.cell_m)
        target = pin if stroke.at_hole else (place[0] + away[0], place[1] + away[1])
        wanted = next(
            (shot for shot in kept if shot.shot == len(strokes) + 1 and shot.club == swing.club), None
        )
        target = target if wanted is None else wanted.target_m
        strokes.append(PlannedStroke(swing.club, place, target, swing.long_m, swing.avoided, swing.part))
        row, column = cell_of(model, target)
        if stroke.at_hole or grid.green[row, column] >= _ON_GREEN or len(strokes) == _MOST_SHOTS:
            return tuple(strokes)
        place = target
        lie = lie_of(model, row, column)
        choice = int(solution.stage(len(strokes)).choices[lie, row, column])


def cell_of(model: HoleModel, place_m: tuple[float, float]) -> tuple[int, int]:
    """
    Find the cell of a place.

    Parameters
    ----------
    model : HoleModel
        The hole.
    place_m : tuple of float
        Right and up [m].

    Returns
    -------
    tuple of int
        Row and column, the nearest there is.
    """
    row, column = model.grid.cell_at(place_m[0], place_m[1])
    rows, columns = model.grid.shape
    return int(np.clip(row, 0, rows - 1)), int(np.clip(column, 0, columns - 1))


def lie_of(model: HoleModel, row: int, column: int) -> int:
    """
    Say what most of a cell is.

    Parameters
    ----------
    model : HoleModel
        The hole.
    row, column : int
        The cell.

    Returns
    -------
    int
        Number of the lie; a target in the water is planned from like rough.
    """
    shares = model.grid.lie_shares[:, row, column]
    return int(np.argmax(shares)) if shares.any() else LIES.index("rough")


def _trial(one: Solution, other: Solution, count: int, seed: int) -> tuple[float, float]:
    """Play two plans with players unlike the bag: mean difference in strokes, and its standard error."""
    totals, ground = [], picture(one)
    for solution in (one, other):
        rng = np.random.default_rng([seed, 6])
        distance = rng.uniform(*_DISTANCES, count)
        mishits = np.exp(rng.uniform(np.log(_MISHITS[0]), np.log(_MISHITS[1]), count))
        totals.append(play_hole(solution, count, rng, Truth(distance, mishits), ground)["strokes"])
    error = float(np.sqrt(sum(total.var() for total in totals) / count))
    return float(totals[0].mean() - totals[1].mean()), error
