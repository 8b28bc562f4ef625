"""Where a ball may be aimed: targets of every swing, and all ways to try them from the cells of a lie."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackgolf.strategy.grid import HoleGrid
from trackgolf.strategy.settings import StrategySettings
from trackgolf.strategy.swings import Swing

__all__ = ["Aims", "Block", "Tries", "Ways", "list_aims", "list_tries"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Small = npt.NDArray[np.int32]

# From this length on every second row and column is aimed at: neighbours of a wide pattern differ by nothing [m].
_THIN_FROM_M = 60.0
# Places around the hole that are aimed at from everywhere, besides the green [m].
_AROUND_HOLE_M = 12.0


@dataclass(frozen=True)
class Aims:
    """
    Full and longer part swings at other places than the hole, from one lie.

    Attributes
    ----------
    swing, turn, pair : numpy.ndarray of int, shape (n,)
        Number of the swing, of the turn, and of the field of the two.
    row, column : numpy.ndarray of int, shape (n,)
        Target against the cell of the ball, or the nearer one of two.
    next_row, next_column : numpy.ndarray of int, shape (n,)
        The other one, where the target lies between two neighbours.
    part : numpy.ndarray, shape (n,)
        How far it lies towards that, from 0 to 1.
    wide : numpy.ndarray of bool, shape (n,)
        Whether it is tried from everywhere; if not, from the tee and at places around the green.
    """

    swing: Ints
    turn: Ints
    pair: Ints
    row: Ints
    column: Ints
    next_row: Ints
    next_column: Ints
    part: Floats
    wide: npt.NDArray[np.bool_]

    @property
    def none(self) -> Aims:
        """No aim at all."""
        empty = np.empty(0, dtype=np.int64)
        nowhere = np.empty(0, dtype=np.bool_)
        return Aims(empty, empty, empty, empty, empty, empty, empty, part=np.empty(0), wide=nowhere)

    def target(self, aim: int) -> tuple[float, float]:
        """
        Give a target exactly.

        Parameters
        ----------
        aim : int
            Its number.

        Returns
        -------
        tuple of float
            Rows and columns from the ball.
        """
        part = float(self.part[aim])
        return (
            float(self.row[aim]) * (1 - part) + float(self.next_row[aim]) * part,
            float(self.column[aim]) * (1 - part) + float(self.next_column[aim]) * part,
        )


@dataclass(frozen=True)
class Ways:
    """
    Ways to play from cells, ordered by the cell.

    Attributes
    ----------
    start : numpy.ndarray of int, shape (m,)
        Flat numbers of the cells, each once.
    begin : numpy.ndarray of int, shape (m,)
        Where those of each begin in the arrays below.
    what, where : numpy.ndarray of int, shape (n,)
        Number of the swing or the aim; row of the stroke at the hole, or flat number of the cell it leads to.
    """

    start: Ints
    begin: Ints
    what: Ints
    where: Ints


@dataclass(frozen=True)
class Block:
    """
    All aims of one pair from all cells they can be tried from.

    Attributes
    ----------
    pair, swing : int
        Numbers of the pair and its swing.
    aims : numpy.ndarray of int, shape (n,)
        Numbers of the aims.
    cells : numpy.ndarray of int, shape (m,)
        Flat numbers of the cells of the ball.
    first : numpy.ndarray of int, shape (n, m)
        Flat number of the target's cell; the number of all cells where it is not allowed.
    between : numpy.ndarray of int, shape (k,)
        Which of the aims lie between two cells.
    then : numpy.ndarray of int, shape (k, m)
        The other cell of those.
    part : numpy.ndarray, shape (k, 1)
        How far towards it.
    """

    pair: int
    swing: int
    aims: Ints
    cells: Ints
    first: Small
    between: Ints
    then: Small
    part: npt.NDArray[np.float32]


@dataclass(frozen=True)
class Tries:
    """
    Everything that is tried from one lie.

    Attributes
    ----------
    at_hole, near : Ways
        Swings at the hole, and aims around the green that are not tried from everywhere.
    blocks : tuple of Block
        Aims that are.
    """

    at_hole: Ways
    near: Ways
    blocks: tuple[Block, ...]


def list_aims(
    cell_m: float,
    swings: Sequence[Swing],
    pairs: tuple[tuple[int, int], ...],
    count: int,
    settings: StrategySettings,
) -> Aims:
    """
    List the targets of every swing from a lie, against the ball.

    Parameters
    ----------
    cell_m : float
        Side of a cell [m].
    swings : sequence of Swing
        From the lie.
    pairs : tuple of (int, int)
        Swings and turns that have a field.
    count : int
        How many turns there are.
    settings : StrategySettings
        Below which length only the hole is aimed at.

    Returns
    -------
    Aims
        Ordered by pair.
    """
    number_of = {pair: number for number, pair in enumerate(pairs)}
    rows: list[tuple[int, int, int, int, int, int, int, float, bool]] = []
    for number in sorted({swing for swing, _ in pairs}):
        swing = swings[number]
        targets = _gripped_down(swing, cell_m, settings)
        if not swing.part:
            targets += _in_full(swing.high_m / cell_m)
        for row, column, next_row, next_column, part, wide in targets:
            turn = round(math.atan2(column, row) / (2 * math.pi) * count) % count
            if (number, turn) in number_of:
                pair = number_of[number, turn]
                rows.append((number, turn, pair, row, column, next_row, next_column, part, wide))
    rows.sort(key=lambda aim: aim[2])
    whole = np.array([row[:7] for row in rows], dtype=np.int64).reshape(-1, 7)
    swing_of, turn_of, pair_of, row_of, column_of, next_row_of, next_column_of = whole.T
    parts = np.array([row[7] for row in rows], dtype=np.float64)
    wides = np.array([row[8] for row in rows], dtype=np.bool_)
    return Aims(
        swing_of, turn_of, pair_of, row_of, column_of, next_row_of, next_column_of, part=parts, wide=wides
    )


_Target = tuple[int, int, int, int, float, bool]


def _gripped_down(swing: Swing, cell_m: float, settings: StrategySettings) -> list[_Target]:
    """List the cells a swing is aimed at with less than its full length."""
    widest = math.floor(swing.high_m / cell_m)
    row, column = (axis.ravel() for axis in np.mgrid[-widest : widest + 1, -widest : widest + 1])
    length = np.hypot(row, column) * cell_m
    band = (length >= swing.low_m) & (length <= swing.high_m) & (length > settings.short_m - cell_m)
    wide = (length < _THIN_FROM_M) | ((row % 2 == 0) & (column % 2 == 0))
    spots = [(int(row[i]), int(column[i]), bool(wide[i])) for i in np.flatnonzero(band)]
    return [(down, across, down, across, 0.0, everywhere) for down, across, everywhere in spots]


def _in_full(length: float) -> list[_Target]:
    """
    List targets at exactly the full length, where its circle crosses rows or columns of cells [cells].

    On a grid alone a full swing would lose half a cell, and a hole is several full swings.
    """
    targets: list[_Target] = []
    most = math.floor(length)
    for whole in range(-most, most + 1):
        other = math.sqrt(length * length - whole * whole)
        if abs(whole) > other:
            continue
        for exact in (other, -other):
            near = math.floor(exact)
            part = exact - near
            targets += [
                (near, whole, near + 1, whole, part, True),
                (whole, near, whole, near + 1, part, True),
            ]
    return targets


def list_tries(
    grid: HoleGrid,
    swings: Sequence[Swing],
    aims: Aims,
    rows_at_hole: Ints,
    last_row: int,
) -> Tries:
    """
    List everything that is tried from the cells of a lie.

    Parameters
    ----------
    grid : HoleGrid
        The hole.
    swings : sequence of Swing
        From the lie.
    aims : Aims
        From the lie; none where only the hole is aimed at.
    rows_at_hole : numpy.ndarray of int, shape (swings, rows, columns)
        Row of each stroke at the hole, -1 where there is none, -2 off the lie.
    last_row : int
        The last row that is aimed at.

    Returns
    -------
    Tries
        The ways to play.
    """
    low = np.array([swing.low_m for swing in swings])[:, None, None]
    high = np.array([swing.high_m for swing in swings])[:, None, None]
    grounded = np.array([not swing.tee_only for swing in swings])
    on_lie: npt.NDArray[np.bool_] = np.any(rows_at_hole > -2, axis=0, keepdims=False)
    fits = (rows_at_hole >= 0) & (grid.to_hole_m >= low) & (grid.to_hole_m <= high)
    fits &= grounded[:, None, None]
    swing, row, column = np.nonzero(fits)
    at_hole = _ordered(row * grid.shape[1] + column, swing, rows_at_hole[swing, row, column])
    cells = np.flatnonzero(on_lie.ravel())
    usable = grounded[aims.swing] if len(aims.swing) else np.zeros(0, dtype=bool)
    near = _near(grid, aims, np.flatnonzero(~aims.wide & usable), on_lie)
    blocks = []
    wide = np.flatnonzero(aims.wide & usable)
    for pair in np.unique(aims.pair[wide]):
        block = _block(grid, aims, wide[aims.pair[wide] == pair], cells, last_row)
        if len(block.cells):
            blocks.append(block)
    return Tries(at_hole, near, tuple(blocks))


def _ordered(start: Ints, what: Ints, where: Ints) -> Ways:
    order = np.argsort(start, kind="stable")
    unique, begin = np.unique(start[order], return_index=True)
    return Ways(unique, begin, what[order], where[order])


def _near(grid: HoleGrid, aims: Aims, number: Ints, on_lie: npt.NDArray[np.bool_]) -> Ways:
    """List every way to aim at a place around the green."""
    rows, columns = grid.shape
    green = np.flatnonzero((grid.green > 0).ravel() | (grid.to_hole_m.ravel() < _AROUND_HOLE_M))
    to_row, to_column = np.divmod(green, columns)
    row, column = to_row[:, None] - aims.row[number], to_column[:, None] - aims.column[number]
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    inside[inside] = on_lie[row[inside], column[inside]]
    start = (row * columns + column)[inside]
    aim = np.broadcast_to(number, inside.shape)[inside]
    return _ordered(start, aim, np.broadcast_to(green[:, None], inside.shape)[inside])


def _block(grid: HoleGrid, aims: Aims, number: Ints, cells: Ints, last_row: int) -> Block:
    """Lay out the aims of one pair."""
    rows, columns = grid.shape
    row, column = np.divmod(cells, columns)

    def targets(down: Ints, across: Ints) -> tuple[Ints, npt.NDArray[np.bool_]]:
        to_row, to_column = row + down[:, None], column + across[:, None]
        allowed = (to_row >= 0) & (to_row <= min(last_row, rows - 1))
        allowed &= (to_column >= 0) & (to_column < columns)
        return to_row * columns + to_column, allowed

    first, allowed = targets(aims.row[number], aims.column[number])
    then, also = targets(aims.next_row[number], aims.next_column[number])
    allowed &= also
    some = allowed.any(axis=0)
    outside = rows * columns
    first, then = np.where(allowed, first, outside)[:, some], np.where(allowed, then, outside)[:, some]
    between = np.flatnonzero(aims.part[number] > 0)
    return Block(
        int(aims.pair[number[0]]),
        int(aims.swing[number[0]]),
        number,
        cells[some],
        first.astype(np.int32),
        between,
        then[between].astype(np.int32),
        aims.part[number][between, None].astype(np.float32),
    )
