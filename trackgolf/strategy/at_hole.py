"""Strokes at the hole, from every direction and every lie, as rows of a sparse matrix."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from scipy import sparse

from trackgolf.strategy.outcomes import pattern_of, pattern_putts
from trackgolf.strategy.putting import MOST_PUTTS
from trackgolf.strategy.settings import LIES

if TYPE_CHECKING:
    from trackgolf.strategy.model import HoleModel

__all__ = ["MOST_PUTT_M", "ROLL_UNIT", "add_rows_to_hole"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

MOST_PUTT_M = 40.0
"""Balls farther from the hole than this putt as from here [m]."""
ROLL_UNIT = 0.5
"""Rolls are told apart by this [cells]."""


def add_rows_to_hole(model: HoleModel) -> None:
    """
    Fill in the strokes at the hole, in place.

    Parameters
    ----------
    model : HoleModel
        The hole; `row_of`, `to_rest`, `to_drop` and `putt_error` are set.

    Notes
    -----
    They are sparse rows rather than fields, since there is one target, and
    may be finer than the grid: the target is the hole itself, and what the
    grid gets wrong about short putts is worked out without it.
    """
    grid, settings = model.grid, model.settings
    cells = grid.dry.size
    columns = grid.shape[1]
    tall = float(grid.to_hole_m.max())
    pin_row = (grid.site.pin_m[1] - grid.up_m[0]) / grid.cell_m
    pin_column = (grid.site.pin_m[0] - grid.right_m[0]) / grid.cell_m
    base_row, base_column = round(pin_row), round(pin_column)
    within = (pin_row - base_row, pin_column - base_column)
    putts = model.putts.reshape(MOST_PUTTS, -1)
    rest_rows: list[Floats] = []
    indexes: list[Ints] = []
    drop_rows: list[Floats] = []
    drop_indexes: list[Ints] = []
    errors = []
    number = 0
    water = grid.water.ravel()
    for lie, swings in enumerate(model.swings):
        # Sand is where it is; fairway and rough may be anywhere, if only between the samples of a cell.
        sand = LIES[lie] == "bunker"
        playable = grid.lie_shares[lie] > 0 if sand else np.ones(grid.shape, dtype=bool)
        for swing_number, swing in enumerate(swings):
            if swing.low_m > tall:
                continue
            near = playable & (grid.to_hole_m >= swing.low_m * 0.99) & (grid.to_hole_m <= swing.high_m * 1.01)
            smooth = pattern_putts(swing, settings, model.over_par, MOST_PUTT_M)
            for turn in np.unique(model.hole_turns[near]):
                pattern = pattern_of(swing, float(model.turns[turn]), settings, within)
                row, column = base_row + pattern.row, base_column + pattern.column
                inside = (row >= 0) & (row < grid.shape[0]) & (column >= 0) & (column < columns)
                flat = row[inside] * columns + column[inside]
                seen = putts[:, flat] @ pattern.weight[inside]
                # Off the grid putts as from far away, like the far cells.
                seen += putts[:, 0] * pattern.weight[~inside].sum()
                errors.append(smooth - seen)
                steps = int(model.steps[swing_number])
                roll, angle = steps * ROLL_UNIT, float(model.turns[turn])
                landing = (within[0] - roll * math.cos(angle), within[1] - roll * math.sin(angle))
                pattern = pattern_of(swing, angle, settings, landing)
                row, column = base_row + pattern.row, base_column + pattern.column
                inside = (row >= 0) & (row < grid.shape[0]) & (column >= 0) & (column < columns)
                landed = row[inside] * columns + column[inside]
                mass = model.settled(pattern.weight[inside], landed, int(turn), steps)
                at = np.flatnonzero(mass)
                rest_rows.append(mass[at])
                indexes.append(at)
                drop = model.drop(int(turn)).ravel()
                wet = at[(water[at] > 0) & (drop[at] >= 0)]
                drop_rows.append(mass[wet] * water[wet])
                drop_indexes.append(drop[wet])
                model.row_of[lie, swing_number, turn] = number
                number += 1
    model.to_rest = _csr(rest_rows, indexes, cells)
    model.to_drop = _csr(drop_rows, drop_indexes, cells)
    model.putt_error = np.array(errors).reshape(-1, MOST_PUTTS)


def _csr(values: list[Floats], columns: list[Ints], cells: int) -> sparse.csr_array:
    ends = np.concatenate([[0], np.cumsum([len(row) for row in values])]).astype(np.int64)
    data = np.concatenate([*values, np.empty(0)])
    where = np.concatenate([*columns, np.empty(0, dtype=np.int64)])
    return sparse.csr_array((data, where, ends), shape=(len(values), cells))
