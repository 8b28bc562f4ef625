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
    fixed: tuple[Ints, int] | None = None,
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
    values = np.full((len(LIES), *shape), np.inf)
    choices = np.zeros((len(LIES), *shape), dtype=np.int64)
    hole = _at_hole(model, rested, dropped, putts)
    costs = np.array([1.0 + prices.avoided * swing.avoided for swing in model.swings[0]])
    for lie in lies:
        again = 1.0 + two.values[lie]
        _play_at_hole(model, lie, hole, costs, again, values[lie], choices[lie], fixed)
    tee, tee_choice = _tee_at_hole(model, hole, costs, 1.0 + two.tee, fixed)

    far = tuple(lie for lie in lies if lie in model.far_lies)
    wanted = None if fixed is None else {lie: _pairs_of(model, lie, fixed) for lie in far}
    for lie, fields in model.fields(rested, dropped, far, wanted):
        gone = model.gone(lie)
        if not tee_only:
            again = 1.0 + two.values[lie]
            if fixed is None:
                _play_aims(model, lie, fields, gone, costs, again, values[lie], choices[lie])
            else:
                _play_fixed(model, lie, fields, gone, costs, again, values[lie], fixed[0][lie])
                choices[lie] = fixed[0][lie]
        if lie == 0:
            best = (tee, tee_choice)
            tee, tee_choice = _play_tee(model, fields, gone, costs, 1.0 + two.tee, best, fixed)
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
    hole = _at_hole(model, _rested(model, stage), 1.0 + _dropped(model, stage), putts)
    values = stage.values.copy()
    for lie in lies:
        fresh = np.full(model.grid.shape, np.inf)
        scratch = np.zeros(model.grid.shape, dtype=np.int64)
        fixed = (stage.choices, 0)
        _play_at_hole(model, lie, hole, costs, 1.0 + stage.values[lie], fresh, scratch, fixed)
        played = np.isfinite(fresh)
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


@dataclass(frozen=True, slots=True)
class _AtHole:
    """Strokes at the hole: what each row is worth, and how often it is gone."""

    value: Floats
    gone: Floats


def _at_hole(model: HoleModel, after: Floats, dropped: Floats, putts: Floats) -> _AtHole:
    value = model.to_rest @ after + model.to_drop @ dropped + model.putt_error @ putts
    return _AtHole(value, np.clip(1.0 - model.kept_rows, 0.0, 1.0))


def _play_at_hole(
    model: HoleModel,
    lie: int,
    hole: _AtHole,
    costs: Floats,
    again: Floats,
    values: Floats,
    choices: Ints,
    fixed: tuple[Ints, int] | None,
) -> None:
    """Try every swing at the hole from a lie, in place."""
    if len(hole.value) == 0:
        return
    to_hole, turn = model.grid.to_hole_m, model.hole_turns
    for number, swing in enumerate(model.swings[lie]):
        if swing.tee_only:
            continue
        rows = model.row_of[lie, number][turn]
        if fixed is None:
            inside = (rows >= 0) & (to_hole >= swing.low_m) & (to_hole <= swing.high_m)
        else:
            inside = (rows >= 0) & (fixed[0][lie] == -1 - number)
        spots = np.nonzero(inside)
        if len(spots[0]) == 0:
            continue
        row = rows[spots]
        worth = costs[number] + hole.value[row] + hole.gone[row] * again[spots]
        better = worth < values[spots]
        spots = (spots[0][better], spots[1][better])
        values[spots] = worth[better]
        choices[spots] = -1 - number


def _tee_at_hole(
    model: HoleModel, hole: _AtHole, costs: Floats, again: float, fixed: tuple[Ints, int] | None
) -> tuple[float, int]:
    """Try every swing at the hole from the tee."""
    best, choice = np.inf, 0
    to_hole = float(model.grid.to_hole_m[model.grid.tee])
    turn = int(model.hole_turns[model.grid.tee])
    for number, swing in enumerate(model.swings[0]):
        row = int(model.row_of[0, number, turn])
        allowed = swing.low_m <= to_hole <= swing.high_m if fixed is None else fixed[1] == -1 - number
        if row < 0 or not allowed:
            continue
        worth = costs[number] + float(hole.value[row]) + float(hole.gone[row]) * again
        if worth < best:
            best, choice = worth, -1 - number
    return best, choice


def _play_aims(
    model: HoleModel,
    lie: int,
    fields: npt.NDArray[np.float32],
    gone: npt.NDArray[np.float32],
    costs: Floats,
    again: Floats,
    values: Floats,
    choices: Ints,
) -> None:
    """Try every aim from a lie, in place."""
    aims = model.aims[lie]
    best = values.astype(np.float32)
    rows, columns = best.shape
    highest = model.last_row
    again = again.astype(np.float32)
    usable = [not swing.tee_only for swing in model.swings[lie]]
    some_gone = gone.reshape(len(gone), -1).max(axis=1, initial=0.0) > 1e-5
    steps = zip(
        *(column.tolist() for column in (aims.swing, aims.pair, aims.row, aims.column)),
        *(column.tolist() for column in (aims.next_row, aims.next_column, aims.part, aims.wide)),
        strict=True,
    )
    for number, (swing, pair, down, across, next_down, next_across, part, wide) in enumerate(steps):
        if not usable[swing] or not wide:
            continue
        top, bottom = max(down, next_down), min(down, next_down)
        first, last = max(0, -bottom), min(rows, min(rows, highest + 1) - max(0, top))
        left, right = max(0, -min(across, next_across)), columns - max(0, across, next_across)
        if last <= first or right <= left:
            continue
        here = (slice(first, last), slice(left, right))
        there = (slice(first + down, last + down), slice(left + across, right + across))
        worth = (
            fields[pair][there] + gone[pair][there] * again[here] if some_gone[pair] else fields[pair][there]
        )
        if part:
            there = (
                slice(first + next_down, last + next_down),
                slice(left + next_across, right + next_across),
            )
            other = fields[pair][there]
            if some_gone[pair]:
                other = other + gone[pair][there] * again[here]
            worth = worth + np.float32(part) * (other - worth)
        worth = worth + np.float32(costs[swing])
        better = worth < best[here]
        if better.any():
            np.copyto(best[here], worth, where=better)
            choices[here][better] = number
    _play_near(model, lie, fields, gone, costs, again, best, choices)
    np.copyto(values, best)


def _play_near(
    model: HoleModel,
    lie: int,
    fields: npt.NDArray[np.float32],
    gone: npt.NDArray[np.float32],
    costs: Floats,
    again: Floats,
    best: npt.NDArray[np.float32],
    choices: Ints,
) -> None:
    """Try every place around the green from a lie, in place."""
    near, aims = model.near(lie), model.aims[lie]
    if len(near.start) == 0:
        return
    sizes = np.diff(np.append(near.begin, len(near.aim)))
    at = aims.pair[near.aim] * best.size + near.target
    start = np.repeat(near.start, sizes)
    worth = fields.reshape(-1)[at] + gone.reshape(-1)[at] * again.astype(np.float32).reshape(-1)[start]
    worth += costs[aims.swing[near.aim]].astype(np.float32)
    least = np.minimum.reduceat(worth, near.begin)
    first = np.flatnonzero(worth == np.repeat(least, sizes))
    _, position = np.unique(start[first], return_index=True)
    better = least < best.reshape(-1)[near.start]
    best.reshape(-1)[near.start[better]] = least[better]
    choices.reshape(-1)[near.start[better]] = near.aim[first[position]][better]


def _play_fixed(
    model: HoleModel,
    lie: int,
    fields: npt.NDArray[np.float32],
    gone: npt.NDArray[np.float32],
    costs: Floats,
    again: Floats,
    values: Floats,
    chosen: Ints,
) -> None:
    """Value given aims from a lie, in place."""
    aims = model.aims[lie]
    rows, columns = values.shape
    row, column = np.nonzero(chosen >= 0)
    aim = chosen[row, column]
    pair, worth = aims.pair[aim], np.zeros(len(aim))
    for down, across, part in (
        (aims.row[aim], aims.column[aim], 1.0 - aims.part[aim]),
        (aims.next_row[aim], aims.next_column[aim], aims.part[aim]),
    ):
        to_row, to_column = np.clip(row + down, 0, rows - 1), np.clip(column + across, 0, columns - 1)
        worth += part * (fields[pair, to_row, to_column] + gone[pair, to_row, to_column] * again[row, column])
    values[row, column] = worth + costs[aims.swing[aim]]


def _play_tee(
    model: HoleModel,
    fields: npt.NDArray[np.float32],
    gone: npt.NDArray[np.float32],
    costs: Floats,
    again: float,
    best: tuple[float, int],
    fixed: tuple[Ints, int] | None,
) -> tuple[float, int]:
    """Try every aim from the tee."""
    aims = model.aims[0]
    rows, columns = model.grid.shape
    ends = [
        (model.grid.tee[0] + aims.row, model.grid.tee[1] + aims.column, 1.0 - aims.part),
        (model.grid.tee[0] + aims.next_row, model.grid.tee[1] + aims.next_column, aims.part),
    ]
    inside = np.ones(len(aims.part), dtype=bool)
    for to_row, to_column, _ in ends:
        inside &= (to_row >= 0) & (to_row < min(rows, model.last_row + 1))
        inside &= (to_column >= 0) & (to_column < columns)
    if fixed is not None:
        inside &= np.arange(len(inside)) == fixed[1]
    spots = np.flatnonzero(inside)
    if len(spots) == 0:
        return best
    pair = aims.pair[spots]
    worth = costs[aims.swing[spots]].copy()
    for to_row, to_column, part in ends:
        at = (pair, to_row[spots], to_column[spots])
        worth += part[spots] * (fields[at] + gone[at] * again)
    first = int(np.argmin(worth))
    if worth[first] < best[0]:
        return float(worth[first]), int(spots[first])
    return best


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
