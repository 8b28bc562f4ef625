"""Where a ball is dropped that lies in water, by the Rules of Golf."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from trackgolf.strategy.grid import HoleGrid

__all__ = ["drop_cells"]

Ints = npt.NDArray[np.int64]

# Ground a ball can be dropped on is at least this part of its cell.
_DRY_SHARE = 0.3


def drop_cells(grid: HoleGrid, turn_rad: float) -> Ints:
    """
    Say where a ball is dropped that came down in each cell.

    Parameters
    ----------
    grid : HoleGrid
        The hole.
    turn_rad : float
        Direction the ball came in, clockwise from up [rad].

    Returns
    -------
    numpy.ndarray of int, shape (rows, columns)
        Flat number of the cell it is played from next; -1 where there is no
        such place, so that only stroke and distance is left.

    Notes
    -----
    The ball last crossed the edge of the water where the way back from it
    first reaches dry ground. Relief from a red penalty area is beside that
    point; from a yellow one on the line from the hole through it, farther
    back, on the first dry cell [1]_. Each costs one stroke.

    References
    ----------
    .. [1] Rules of Golf 2023, 17.1d.
    """
    columns = grid.shape[1]
    dry = grid.dry > _DRY_SHARE
    drops = np.full(grid.shape, -1, dtype=np.int64)
    wet_row, wet_column = np.nonzero(grid.water > 0)
    if len(wet_row) == 0:
        return drops
    entry = _walk(grid, dry, wet_row.astype(float), wet_column.astype(float), turn_rad + math.pi, first=0)
    found = entry >= 0
    place = entry.copy()

    hole_row = (grid.site.pin_m[1] - grid.up_m[0]) / grid.cell_m
    hole_column = (grid.site.pin_m[0] - grid.right_m[0]) / grid.cell_m
    back = np.flatnonzero(found & grid.yellow[wet_row, wet_column])
    if len(back):
        row, column = np.divmod(entry[back], columns)
        away = np.arctan2(column - hole_column, row - hole_row)
        place[back] = _walk(grid, dry, row.astype(float), column.astype(float), away, first=1)
    drops[wet_row[found], wet_column[found]] = place[found]
    return drops


def _walk(
    grid: HoleGrid,
    dry: npt.NDArray[np.bool_],
    row: npt.NDArray[np.float64],
    column: npt.NDArray[np.float64],
    turn_rad: npt.ArrayLike,
    *,
    first: int,
) -> Ints:
    """Walk from cells in a direction to the first dry one; -1 where the grid ends before."""
    rows, columns = grid.shape
    turn = np.broadcast_to(np.asarray(turn_rad, dtype=float), row.shape)
    place = np.full(len(row), -1, dtype=np.int64)
    open_spots = np.ones(len(row), dtype=bool)
    for step in range(first, max(rows, columns)):
        to_row = np.rint(row + step * np.cos(turn)).astype(np.int64)
        to_column = np.rint(column + step * np.sin(turn)).astype(np.int64)
        inside = (to_row >= 0) & (to_row < rows) & (to_column >= 0) & (to_column < columns)
        open_spots &= inside
        if not open_spots.any():
            break
        here = open_spots.copy()
        here[open_spots] = dry[to_row[open_spots], to_column[open_spots]]
        place[here] = to_row[here] * columns + to_column[here]
        open_spots &= ~here
    return place
