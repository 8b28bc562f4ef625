"""The grid of a hole: what each cell is made of, where a ball rolls on to, and where it is dropped."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from scipy import sparse

from trackgolf.strategy.settings import LIES, StrategySettings
from trackgolf.strategy.site import GROUND, HoleSite, lies_at

__all__ = ["HoleGrid", "make_grid", "roll_matrix"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# Cells are sampled so many times along each side for what they are made of.
_SAMPLES = 4
# Balls spread evenly over a cell, against its middle: a lattice, so that few are enough.
_INNER = 10
_INNER_ROW = (np.arange(_INNER) + 0.5) / _INNER - 0.5
_INNER_COLUMN = ((3 * np.arange(_INNER)) % _INNER + 0.5) / _INNER - 0.5
_ROLL_STEP = 0.5
# A ball that rolls into a cell of which this much is water or sand stays there.
_STOPS_SHARE = 0.4


@dataclass(frozen=True)
class HoleGrid:
    """
    A hole cut into square cells; arrays of cells have the shape (rows, columns), rows going up.

    Attributes
    ----------
    site : HoleSite
        The hole.
    cell_m : float
        Side of a cell [m].
    right_m, up_m : numpy.ndarray
        Middles of columns and rows [m]; the tee is the middle of a cell.
    tee : tuple of int
        Row and column of the tee.
    shares : numpy.ndarray, shape (7, rows, columns)
        What each cell is made of, shares as named in `GROUND`.
    lie_shares : numpy.ndarray, shape (3, rows, columns)
        Shares of fairway, rough and bunker from which a ball can be played on.
    green, water, gone : numpy.ndarray
        Shares of green and of penalty area; probability that a ball there is lost or out of bounds.
    yellow : numpy.ndarray of bool
        Whether the water of a cell is a yellow penalty area.
    to_hole_m : numpy.ndarray
        From the middle of each cell to the hole [m].
    """

    site: HoleSite
    cell_m: float
    right_m: Floats
    up_m: Floats
    tee: tuple[int, int]
    shares: Floats
    lie_shares: Floats
    green: Floats
    water: Floats
    gone: Floats
    yellow: npt.NDArray[np.bool_]
    to_hole_m: Floats

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.up_m), len(self.right_m)

    @property
    def dry(self) -> Floats:
        """Share of each cell that is green or can be played from, and not lost."""
        return np.asarray(self.green + self.lie_shares.sum(axis=0))

    def cell_at(self, right_m: npt.ArrayLike, up_m: npt.ArrayLike) -> tuple[Ints, Ints]:
        """
        Find the cells of places.

        Parameters
        ----------
        right_m, up_m : array_like, shape (n,)
            Places in the metres of the hole [m].

        Returns
        -------
        row, column : numpy.ndarray of int, shape (n,)
            Cells; may lie outside the grid.
        """
        row = np.rint((np.asarray(up_m) - self.up_m[0]) / self.cell_m).astype(np.int64)
        column = np.rint((np.asarray(right_m) - self.right_m[0]) / self.cell_m).astype(np.int64)
        return row, column


def make_grid(site: HoleSite, settings: StrategySettings) -> HoleGrid:
    """
    Cut a hole into cells.

    Parameters
    ----------
    site : HoleSite
        The hole.
    settings : StrategySettings
        Size of the cells and how far the grid reaches.

    Returns
    -------
    HoleGrid
        The cells.
    """
    cell = settings.cell_m
    low = site.line_m.min(axis=0) - np.array([settings.side_m, settings.behind_m])
    high = site.line_m.max(axis=0) + np.array([settings.side_m, settings.beyond_m])
    first = np.ceil(low / cell).astype(int)
    last = np.floor(high / cell).astype(int)
    right = np.arange(first[0], last[0] + 1) * cell
    up = np.arange(first[1], last[1] + 1) * cell
    rows, columns = len(up), len(right)

    inner = (np.arange(_SAMPLES) + 0.5) / _SAMPLES * cell - cell / 2
    fine_up, fine_right = (up[:, None] + inner).ravel(), (right[:, None] + inner).ravel()
    all_up, all_right = np.meshgrid(fine_up, fine_right, indexing="ij")
    lies = lies_at(site, all_right.ravel(), all_up.ravel(), settings)
    blocks = lies.reshape(rows, _SAMPLES, columns, _SAMPLES)
    shares = np.stack([(blocks == number).mean(axis=(1, 3)) for number in range(len(GROUND))])

    middle_up, middle_right = np.meshgrid(up, right, indexing="ij")
    away = shapely.distance(shapely.LineString(site.line_m), shapely.points(middle_right, middle_up))
    span = max(settings.lost_full_m - settings.lost_from_m, 1e-9)
    lost = settings.lost_share * np.clip((away - settings.lost_from_m) / span, 0.0, 1.0)
    rough = shares[GROUND.index("rough")]
    lie_shares = np.stack([shares[GROUND.index(name)] for name in LIES])
    lie_shares[LIES.index("rough")] = rough * (1.0 - lost)
    return HoleGrid(
        site=site,
        cell_m=cell,
        right_m=right,
        up_m=up,
        tee=(int(-first[1]), int(-first[0])),
        shares=shares,
        lie_shares=lie_shares,
        green=shares[GROUND.index("green")],
        water=shares[GROUND.index("water_red")] + shares[GROUND.index("water_yellow")],
        gone=shares[GROUND.index("out_of_bounds")] + rough * lost,
        yellow=shares[GROUND.index("water_yellow")] > shares[GROUND.index("water_red")],
        to_hole_m=np.hypot(middle_right - site.pin_m[0], middle_up - site.pin_m[1]),
    )


def roll_matrix(
    grid: HoleGrid, turn_rad: float, roll_cells: float, settings: StrategySettings
) -> sparse.csr_array:
    """
    Say where balls rest that land in each cell and roll on.

    Parameters
    ----------
    grid : HoleGrid
        The hole.
    turn_rad : float
        Direction they roll in, clockwise from up [rad].
    roll_cells : float
        How far they roll on a fairway [cells].
    settings : StrategySettings
        How far they roll on other ground.

    Returns
    -------
    scipy.sparse.csr_array, shape (cells, cells)
        Probability of coming to rest in each cell (columns) after landing in
        each cell (rows); a row that adds up to less than 1 leaves the grid.

    Notes
    -----
    Balls spread over each cell are rolled in steps of half a cell, slowed by
    what the cells on the way are made of, until they stop, or come to water
    or sand.
    """
    rows, columns = grid.shape
    cells = rows * columns
    number = np.arange(cells)
    slow = np.array([max(settings.roll_shares.get(name, 0.0), 1e-6) for name in GROUND])
    stops = ((grid.water > _STOPS_SHARE) | (grid.shares[GROUND.index("bunker")] > _STOPS_SHARE)).ravel()
    # The last one is off the grid.
    ease = np.append(np.tensordot(slow, grid.shares, axes=1).ravel(), 1.0)
    row = (number // columns)[:, None] + _INNER_ROW
    column = (number % columns)[:, None] + _INNER_COLUMN
    left = np.full(row.shape, roll_cells)
    here = np.broadcast_to(number[:, None], row.shape).copy()
    moving = ~stops[here]
    sin, cos = math.sin(turn_rad), math.cos(turn_rad)
    for _ in range(math.ceil(2.0 * roll_cells) + 1):
        share = ease[here]
        step = np.where(moving, np.minimum(_ROLL_STEP, left * share), 0.0)
        row, column = row + step * cos, column + step * sin
        left = left - step / share
        to_row, to_column = np.rint(row).astype(np.int64), np.rint(column).astype(np.int64)
        inside = (to_row >= 0) & (to_row < rows) & (to_column >= 0) & (to_column < columns)
        moving &= inside & (left > 1e-9)
        here = np.where(inside, to_row * columns + to_column, cells)
        moving[moving] = ~stops[here[moving]]
        if not moving.any():
            break
    samples = row.shape[1]
    start = np.repeat(number, samples)
    kept = here.ravel() < cells
    values = np.full(int(kept.sum()), 1.0 / samples)
    matrix = sparse.coo_array((values, (start[kept], here.ravel()[kept])), shape=(cells, cells))
    return matrix.tocsr()
