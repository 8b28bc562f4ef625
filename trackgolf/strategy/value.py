"""Backward induction: the least strokes and prices from every cell, with the strokes played in the state."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from trackgolf.strategy.kept import Forced
from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.putting import MOST_PUTTS
from trackgolf.strategy.settings import LIES, Prices
from trackgolf.strategy.strokes import Fields, Fixed, best_from, best_from_tee, fixed_from, value_at_hole

__all__ = ["Goal", "Policy", "Solution", "Stage", "Stroke", "follow", "solve", "stroke_at", "sweep"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# Where no swing reaches what a cell needs, the ball is worth this much more than far away [strokes].
_NOWHERE = 20.0


@dataclass(frozen=True, slots=True)
class Goal:
    """
    What a hole is to be played in.

    Attributes
    ----------
    regulation_shots : int
        Strokes, penalties included, to be on the green in.
    personal_par : int
        Personal par of the hole.
    """

    regulation_shots: int
    personal_par: int


@dataclass(frozen=True, slots=True)
class Stroke:
    """
    A planned stroke.

    Attributes
    ----------
    swing : int
        Number of the swing.
    at_hole : bool
        Whether it is aimed at the hole.
    row, column : float
        Target against the cell of the ball; 0 where it is aimed at the hole.
    """

    swing: int
    at_hole: bool
    row: float = 0.0
    column: float = 0.0


@dataclass(frozen=True)
class Stage:
    """
    Values once a number of strokes have been played.

    Attributes
    ----------
    values : numpy.ndarray, shape (3, rows, columns)
        From each of `LIES`, all that is still to come [strokes].
    tee : float
        The same with the ball on the tee.
    green : numpy.ndarray, shape (rows, columns)
        The same with the ball on the green.
    choices : numpy.ndarray of int, shape (3, rows, columns)
        What to play: number of an aim, or -1 less the number of a swing at the hole.
    tee_choice : int
        The same on the tee.
    """

    values: Floats
    tee: float
    green: Floats
    choices: Ints
    tee_choice: int


@dataclass(frozen=True)
class Solution:
    """
    Values and choices for every number of strokes played.

    Attributes
    ----------
    model : HoleModel
        The hole.
    goal : Goal
        What it is to be played in.
    prices : Prices
        What the values hold besides strokes.
    stages : tuple of Stage
        By strokes played; the last one stands for all that follow.
    """

    model: HoleModel
    goal: Goal
    prices: Prices
    stages: tuple[Stage, ...]

    def stage(self, strokes: int) -> Stage:
        """
        Give the stage of a number of strokes.

        Parameters
        ----------
        strokes : int
            Strokes played, penalties included.

        Returns
        -------
        Stage
            Its values and choices.
        """
        return self.stages[min(strokes, len(self.stages) - 1)]

    @property
    def value(self) -> float:
        """What the whole hole is worth from the tee [strokes and prices]."""
        return self.stages[0].tee


Policy = Callable[[int], tuple[Ints, int]]


def stroke_at(model: HoleModel, lie: int, choice: int) -> Stroke:
    """
    Say what a choice means.

    Parameters
    ----------
    model : HoleModel
        The hole.
    lie : int
        Number of the lie.
    choice : int
        As in `Stage.choices`.

    Returns
    -------
    Stroke
        Swing and target.
    """
    if choice < 0:
        return Stroke(-1 - choice, at_hole=True)
    aims = model.aims[lie]
    return Stroke(int(aims.swing[choice]), False, *aims.target(choice))


def solve(
    model: HoleModel,
    goal: Goal,
    prices: Prices | None = None,
    start: Solution | None = None,
    policy: Policy | None = None,
    forced: dict[int, Forced] | None = None,
) -> Solution:
    """
    Find the best plan from everywhere, or value a given one.

    Parameters
    ----------
    model : HoleModel
        The hole.
    goal : Goal
        What it is to be played in.
    prices : Prices, optional
        What to pay for besides strokes.
    start : Solution, optional
        Of the same grid, to begin from.
    policy : callable, optional
        Gives the choices for a number of strokes played; the best ones are taken if left out.
    forced : dict of int to Forced, optional
        Strokes that are not free, by strokes played before.

    Returns
    -------
    Solution
        Values and choices.

    Notes
    -----
    Once a score above personal par + 1 is certain nothing depends on the
    strokes played, and the values are those of a stochastic shortest path,
    found by repeating sweeps until they stand still. Before that, a sweep a
    stroke.
    """
    settings = model.settings
    prices = prices or Prices()
    late = prices.missed + prices.blowup
    last = goal.personal_par + 1 if late > 0.0 or policy is not None or forced else 0

    stage = start.stages[-1] if start is not None else _guess(model)
    stage = replace(stage, green=_green(model, np.arange(1.0, MOST_PUTTS + 1)))
    for _ in range(settings.most_sweeps):
        before = stage
        putts = np.arange(1.0, MOST_PUTTS + 1)
        stage = sweep(model, (before, before), putts, prices, policy and policy(last), rounds=2)
        if float(np.abs(stage.values - before.values).max()) < settings.tolerance_strokes:
            break
    if last == 0:
        return Solution(model, goal, prices, (stage,))
    if late:
        stage = replace(stage, values=stage.values + late, tee=stage.tee + late)
        stage = replace(stage, green=stage.green + late)
    stages = [stage, stage]
    for strokes in range(last - 1, -1, -1):
        putts = _putt_values(goal, prices, strokes + 1)
        after = (stages[0], stages[1])
        made = sweep(model, after, putts, prices, policy and policy(strokes), tee_only=strokes == 0)
        if forced and strokes in forced:
            made = _force(model, made, after, putts, prices, forced[strokes])
        green = _green(model, _putt_values(goal, prices, strokes))
        green += prices.missed * (strokes > goal.regulation_shots)
        stages.insert(0, replace(made, green=green))
    return Solution(model, goal, prices, tuple(stages[:-1]))


def follow(model: HoleModel, goal: Goal, policy: Policy) -> Solution:
    """
    Put given choices into the form of a solution, without values.

    Parameters
    ----------
    model : HoleModel
        The hole.
    goal : Goal
        What it is to be played in.
    policy : callable
        Gives the choices for a number of strokes played.

    Returns
    -------
    Solution
        Enough to follow or play the plan; its values are 0.
    """
    nothing = np.zeros((len(LIES), *model.grid.shape))
    stages = [
        Stage(nothing, 0.0, nothing[0], *policy(strokes)) for strokes in range(goal.regulation_shots + 1)
    ]
    return Solution(model, goal, Prices(0.0, 0.0, 0.0, 0.0), tuple(stages))


def sweep(
    model: HoleModel,
    after: tuple[Stage, Stage],
    putts: Floats,
    prices: Prices,
    fixed: Fixed | None = None,
    *,
    tee_only: bool = False,
    rounds: int = 0,
) -> Stage:
    """
    Value one stroke from everywhere.

    Parameters
    ----------
    model : HoleModel
        The hole.
    after : tuple of Stage
        Values one stroke later, and two: a stroke and a penalty.
    putts : numpy.ndarray, shape (4,)
        What 1 to 4 putts are worth one stroke later.
    prices : Prices
        Of avoided clubs and of leaves.
    fixed : tuple, optional
        Choices by lie and on the tee, instead of the best.
    tee_only : bool
        Whether only the tee is asked for.
    rounds : int
        How often strokes at the hole are valued again with their own result; for values that stand still only.

    Returns
    -------
    Stage
        Values and choices; its green is that of one stroke later.
    """
    shape = model.grid.shape
    one, two = after
    lies = (0,) if tee_only else model.played_lies
    rested, dropped = _rested(model, one), 1.0 + _dropped(model, two)
    hole = value_at_hole(model, rested, dropped, putts)
    costs = np.array([1.0 + prices.avoided * swing.avoided for swing in model.swings[0]])
    values = np.full((len(LIES), *shape), np.inf)
    choices = np.zeros((len(LIES), *shape), dtype=np.int64)
    tee, tee_choice = np.inf, 0

    def play(lie: int, fields: tuple[Fields, Fields] | None) -> None:
        nonlocal tee, tee_choice
        again = 1.0 + two.values[lie]
        if not tee_only and fixed is None:
            values[lie], choices[lie] = best_from(model, lie, hole, fields, costs, again)
        elif not tee_only and fixed is not None:
            values[lie] = fixed_from(model, lie, hole, fields, costs, again, fixed[0][lie])
            choices[lie] = fixed[0][lie]
        if lie == 0:
            given = None if fixed is None else fixed[1]
            tee, tee_choice = best_from_tee(model, hole, fields, costs, 1.0 + two.tee, given)

    far = tuple(lie for lie in lies if lie in model.far_lies)
    wanted = None if fixed is None else {lie: _pairs_of(model, lie, fixed) for lie in far}
    for lie, field in model.fields(rested, dropped, far, wanted):
        play(lie, (field, model.gone(lie)))
    for lie in lies:
        if lie not in far:
            play(lie, None)
    values = np.where(np.isfinite(values), values, _NOWHERE)
    values += prices.leave * model.leave_off
    stage = Stage(values, tee, one.green, choices, tee_choice)
    for _ in range(rounds):
        stage = _again_at_hole(model, stage, putts, costs, prices, lies)
    return stage


def _force(
    model: HoleModel, free: Stage, after: tuple[Stage, Stage], putts: Floats, prices: Prices, forced: Forced
) -> Stage:
    """Put forced choices in place of the best ones, and value those."""
    tee = free.tee_choice if forced.tee_choice is None else forced.tee_choice
    choices = np.where(forced.where, forced.choices, free.choices)
    bound = sweep(model, after, putts, prices, (choices, tee))
    values = np.where(forced.where, bound.values, free.values)
    return replace(free, values=values, tee=bound.tee, choices=choices, tee_choice=bound.tee_choice)


def _pairs_of(model: HoleModel, lie: int, fixed: tuple[Ints, int]) -> Ints:
    """Say which fields given choices need."""
    chosen = fixed[0][lie]
    used = model.aims[lie].pair[np.unique(chosen[chosen >= 0])]
    if lie == 0 and fixed[1] >= 0:
        used = np.append(used, model.aims[0].pair[fixed[1]])
    return np.unique(used)


def _again_at_hole(
    model: HoleModel, stage: Stage, putts: Floats, costs: Floats, prices: Prices, lies: tuple[int, ...]
) -> Stage:
    """Value the strokes at the hole once more, where they are what is played."""
    hole = value_at_hole(model, _rested(model, stage), 1.0 + _dropped(model, stage), putts)
    values = stage.values.copy()
    for lie in lies:
        fresh = fixed_from(model, lie, hole, None, costs, 1.0 + stage.values[lie], stage.choices[lie])
        # Cells of another lie have no choice of their own.
        played = np.isfinite(fresh) & (model.grid.lie_shares[lie] > 0)
        values[lie][played] = fresh[played] + prices.leave * model.leave_off[played]
    return replace(stage, values=values)


def _rested(model: HoleModel, stage: Stage) -> Floats:
    """Value resting in each cell, times the part of it where one can."""
    grid = model.grid
    return np.asarray((grid.green * stage.green + (grid.lie_shares * stage.values).sum(axis=0)).ravel())


def _dropped(model: HoleModel, stage: Stage) -> Floats:
    """Value a drop on each cell."""
    dry = model.grid.dry.ravel()
    return np.where(dry > 0, _rested(model, stage) / np.maximum(dry, 1e-9), 0.0)


def _putt_values(goal: Goal, prices: Prices, strokes: int) -> Floats:
    """Say what 1 to 4 putts are worth after so many strokes."""
    count = np.arange(1.0, MOST_PUTTS + 1)
    return np.asarray(count + prices.blowup * (strokes + count > goal.personal_par + 1))


def _green(model: HoleModel, putts: Floats) -> Floats:
    """Value each cell of the green."""
    return np.asarray(np.tensordot(putts, model.putts, axes=1))


def _guess(model: HoleModel) -> Stage:
    """Begin with a stroke for every full one and the putts."""
    longest = max((swing.high_m for swing in model.swings[0] if not swing.tee_only), default=100.0)
    far = 2.6 + 1.25 * model.grid.to_hole_m / longest
    values = np.stack([far, far + 0.2, far + 0.4])
    tee = float(far[model.grid.tee])
    nothing = np.zeros(values.shape, dtype=np.int64)
    return Stage(values, tee, np.zeros(model.grid.shape), nothing, 0)
