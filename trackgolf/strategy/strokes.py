"""One stroke from everywhere: what each way to play it is worth, and the best of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackgolf.strategy.aims import Ways
from trackgolf.strategy.model import HoleModel

__all__ = ["AtHole", "Fields", "Fixed", "best_from", "best_from_tee", "fixed_from", "value_at_hole"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Fields = npt.NDArray[np.float32]
Fixed = tuple[Ints, int]
"""Choices by lie and cell, and on the tee."""


@dataclass(frozen=True, slots=True)
class AtHole:
    """
    Strokes at the hole.

    Attributes
    ----------
    value : numpy.ndarray, shape (n,)
        What each is worth after the stroke.
    gone : numpy.ndarray, shape (n,)
        How often it is lost or out of bounds.
    """

    value: Floats
    gone: Floats


def value_at_hole(model: HoleModel, after: Floats, dropped: Floats, putts: Floats) -> AtHole:
    """
    Value the strokes at the hole.

    Parameters
    ----------
    model : HoleModel
        The hole.
    after, dropped : numpy.ndarray, shape (cells,)
        As `HoleModel.landed` has them.
    putts : numpy.ndarray, shape (4,)
        What 1 to 4 putts are worth.

    Returns
    -------
    AtHole
        A row each.
    """
    value = model.to_rest @ after + model.to_drop @ dropped + model.putt_error @ putts
    return AtHole(value, np.clip(1.0 - model.kept_rows, 0.0, 1.0))


def best_from(
    model: HoleModel,
    lie: int,
    hole: AtHole,
    fields: tuple[Fields, Fields] | None,
    costs: Floats,
    again: Floats,
) -> tuple[Floats, Ints]:
    """
    Try everything from the cells of a lie.

    Parameters
    ----------
    model : HoleModel
        The hole.
    lie : int
        Number of the lie.
    hole : AtHole
        Strokes at the hole.
    fields : tuple of numpy.ndarray, or None
        Expected value, and probability of stroke and distance, by pair and target; None where only the hole is
        aimed at.
    costs : numpy.ndarray, shape (k,)
        What each swing costs, its stroke included.
    again : numpy.ndarray, shape (rows, columns)
        What stroke and distance costs from each cell, besides that.

    Returns
    -------
    values : numpy.ndarray, shape (rows, columns)
        The least; infinite where nothing is possible.
    choices : numpy.ndarray of int, shape (rows, columns)
        What gives it, as in `Stage.choices`.
    """
    tries = model.tries(lie)
    best = np.full(again.size, np.inf, dtype=np.float32)
    # Where nothing is possible, nearest the hole, the shortest swing is played at it.
    shortest = min(range(len(model.swings[lie])), key=lambda number: model.swings[lie][number].length_m)
    choices = np.full(again.size, -1 - shortest, dtype=np.int64)
    flat_again = again.ravel().astype(np.float32)
    ways = tries.at_hole
    if len(ways.start):
        worth = costs[ways.what] + hole.value[ways.where]
        worth += hole.gone[ways.where] * again.ravel()[np.repeat(ways.start, _sizes(ways))]
        _take(ways, worth.astype(np.float32), -1 - ways.what, best, choices)
    if fields is not None:
        value, gone = fields
        some_gone = gone.reshape(len(gone), -1).max(axis=1, initial=0.0) > 1e-5
        _try_blocks(model, lie, (value, gone), some_gone, costs, flat_again, best, choices)
        ways = tries.near
        if len(ways.start):
            at = model.aims[lie].pair[ways.what] * best.size + ways.where
            start = np.repeat(ways.start, _sizes(ways))
            near = value.reshape(-1)[at] + gone.reshape(-1)[at] * flat_again[start]
            near += costs[model.aims[lie].swing[ways.what]].astype(np.float32)
            _take(ways, near, ways.what, best, choices)
    return best.astype(np.float64).reshape(again.shape), choices.reshape(again.shape)


def _sizes(ways: Ways) -> Ints:
    return np.diff(np.append(ways.begin, len(ways.what)))


def _take(ways: Ways, worth: Fields, named: Ints, best: Fields, choices: Ints) -> None:
    """Put the least of each cell's ways where it beats what is there, in place."""
    least = np.minimum.reduceat(worth, ways.begin)
    sizes = _sizes(ways)
    first = np.flatnonzero(worth == np.repeat(least, sizes))
    _, position = np.unique(np.repeat(ways.start, sizes)[first], return_index=True)
    better = least < best[ways.start]
    best[ways.start[better]] = least[better]
    choices[ways.start[better]] = named[first[position]][better]


def _try_blocks(
    model: HoleModel,
    lie: int,
    fields: tuple[Fields, Fields],
    some_gone: npt.NDArray[np.bool_],
    costs: Floats,
    again: Fields,
    best: Fields,
    choices: Ints,
) -> None:
    """Try the aims that are tried from everywhere, in place."""
    value, gone = (field.reshape(len(field), -1) for field in fields)
    for block in model.tries(lie).blocks:
        flat = np.append(value[block.pair], np.float32(np.inf))
        worth = flat[block.first]
        lost = None
        if some_gone[block.pair]:
            lost = np.append(gone[block.pair], np.float32(0.0))
            worth += lost[block.first] * again[block.cells]
        if len(block.between):
            other = flat[block.then]
            if lost is not None:
                other += lost[block.then] * again[block.cells]
            here = worth[block.between]
            allowed = np.isfinite(other)
            np.subtract(other, here, out=other, where=allowed)
            worth[block.between] = np.where(allowed, here + block.part * other, np.inf)
        number = worth.argmin(axis=0)
        least = worth[number, np.arange(len(block.cells))] + np.float32(costs[block.swing])
        better = least < best[block.cells]
        cells = block.cells[better]
        best[cells] = least[better]
        choices[cells] = block.aims[number[better]]


def fixed_from(
    model: HoleModel,
    lie: int,
    hole: AtHole,
    fields: tuple[Fields, Fields] | None,
    costs: Floats,
    again: Floats,
    chosen: Ints,
) -> Floats:
    """
    Value given choices from a lie.

    Parameters
    ----------
    model, lie, hole, fields, costs, again
        As in `best_from`.
    chosen : numpy.ndarray of int, shape (rows, columns)
        The choices.

    Returns
    -------
    numpy.ndarray, shape (rows, columns)
        Their values; infinite where a choice is not possible.
    """
    values = np.full(again.shape, np.inf)
    row, column = np.divmod(np.flatnonzero(chosen < 0), model.grid.shape[1])
    swing = -1 - chosen[row, column]
    known = swing < len(costs)
    row, column, swing = row[known], column[known], swing[known]
    number = model.row_of[lie, swing, model.hole_turns[row, column]]
    there = number >= 0
    row, column, swing, number = row[there], column[there], swing[there], number[there]
    values[row, column] = costs[swing] + hole.value[number] + hole.gone[number] * again[row, column]
    if fields is None:
        return values
    value, gone = fields
    aims = model.aims[lie]
    rows, columns = model.grid.shape
    row, column = np.divmod(np.flatnonzero(chosen >= 0), columns)
    aim = chosen[row, column]
    pair, worth = aims.pair[aim], np.zeros(len(aim))
    for down, across, part in (
        (aims.row[aim], aims.column[aim], 1.0 - aims.part[aim]),
        (aims.next_row[aim], aims.next_column[aim], aims.part[aim]),
    ):
        to_row, to_column = np.clip(row + down, 0, rows - 1), np.clip(column + across, 0, columns - 1)
        worth += part * (value[pair, to_row, to_column] + gone[pair, to_row, to_column] * again[row, column])
    values[row, column] = worth + costs[aims.swing[aim]]
    return values


def best_from_tee(
    model: HoleModel,
    hole: AtHole,
    fields: tuple[Fields, Fields] | None,
    costs: Floats,
    again: float,
    fixed: int | None,
) -> tuple[float, int]:
    """
    Try everything from the tee.

    Parameters
    ----------
    model, hole, fields, costs
        As in `best_from`.
    again : float
        What stroke and distance costs from the tee, besides the stroke.
    fixed : int, optional
        The choice, instead of the best.

    Returns
    -------
    value : float
        The least; infinite where nothing is possible.
    choice : int
        What gives it.
    """
    best, choice = np.inf, 0
    to_hole = float(model.grid.to_hole_m[model.grid.tee])
    turn = int(model.hole_turns[model.grid.tee])
    for number, swing in enumerate(model.swings[0]):
        row = int(model.row_of[0, number, turn])
        allowed = swing.low_m <= to_hole <= swing.high_m if fixed is None else fixed == -1 - number
        if row < 0 or not allowed:
            continue
        worth = costs[number] + float(hole.value[row]) + float(hole.gone[row]) * again
        if worth < best:
            best, choice = worth, -1 - number
    if fields is None:
        return best, choice
    value, gone = fields
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
        inside &= np.arange(len(inside)) == fixed
    spots = np.flatnonzero(inside)
    if len(spots) == 0:
        return best, choice
    pair = aims.pair[spots]
    total = costs[aims.swing[spots]].copy()
    for to_row, to_column, part in ends:
        at = (pair, to_row[spots], to_column[spots])
        total += part[spots] * (value[at] + gone[at] * again)
    first = int(np.argmin(total))
    if total[first] < best:
        return float(total[first]), int(spots[first])
    return best, choice
