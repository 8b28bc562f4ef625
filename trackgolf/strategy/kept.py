"""Shots the player wants as they are: the plan is made around them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.settings import LIES

__all__ = ["Forced", "Kept", "keep"]

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Kept:
    """
    A shot that the player wants as it is.

    Attributes
    ----------
    shot : int
        Its number on the hole, from 1.
    club : str
        Name of the club.
    start_m, target_m : tuple of float
        From where to where, right and up in the hole's metres [m].
    tolerance_m : float
        A ball so near the start is played so [m].
    """

    shot: int
    club: str
    start_m: tuple[float, float]
    target_m: tuple[float, float]
    tolerance_m: float


@dataclass(frozen=True)
class Forced:
    """
    Choices that are not free, for one number of strokes played.

    Attributes
    ----------
    choices : numpy.ndarray of int, shape (3, rows, columns)
        As in `Stage.choices`, where they are forced.
    where : numpy.ndarray of bool, shape (3, rows, columns)
        Where they are.
    tee_choice : int or None
        The same on the tee.
    """

    choices: Ints
    where: npt.NDArray[np.bool_]
    tee_choice: int | None


def keep(model: HoleModel, kept: tuple[Kept, ...]) -> dict[int, Forced]:
    """
    Find the strokes of the model that are nearest to wanted shots.

    Parameters
    ----------
    model : HoleModel
        The hole.
    kept : tuple of Kept
        Wanted shots.

    Returns
    -------
    dict of int to Forced
        By strokes played before.
    """
    grid = model.grid
    forced: dict[int, Forced] = {}
    up, right = np.meshgrid(grid.up_m, grid.right_m, indexing="ij")
    for shot in kept:
        choices = np.zeros((len(LIES), *grid.shape), dtype=np.int64)
        where = np.zeros((len(LIES), *grid.shape), dtype=bool)
        if shot.shot == 1:
            tee_choice = _choice(model, 0, shot, np.array([grid.site.line_m[0]]), np.array([grid.tee]))
            if tee_choice is not None:
                forced[0] = Forced(choices, where, int(tee_choice[0]))
            continue
        near = np.hypot(right - shot.start_m[0], up - shot.start_m[1]) <= max(shot.tolerance_m, grid.cell_m)
        spots = np.argwhere(near)
        for lie in range(len(LIES)):
            places = np.column_stack([right[near], up[near]])
            found = _choice(model, lie, shot, places, spots)
            if found is not None:
                choices[lie][near] = found
                where[lie][near] = True
        forced[shot.shot - 1] = Forced(choices, where, None)
    return forced


def _choice(
    model: HoleModel, lie: int, shot: Kept, places: npt.NDArray[np.float64], cells: Ints
) -> Ints | None:
    """Find the choices that bring the ball from places nearest to the target with the club."""
    grid, aims = model.grid, model.aims[lie]
    numbers = [number for number, swing in enumerate(model.swings[lie]) if swing.club == shot.club]
    way = np.array(shot.target_m) - places
    length = np.hypot(*way.T)
    pin = np.hypot(shot.target_m[0] - grid.site.pin_m[0], shot.target_m[1] - grid.site.pin_m[1])
    turn = model.hole_turns[cells[:, 0], cells[:, 1]]
    result = np.full(len(places), np.iinfo(np.int64).min)
    if pin <= grid.cell_m / 2:
        for number in numbers:
            swing = model.swings[lie][number]
            fits = (length >= swing.low_m) & (length <= swing.high_m * 1.01)
            fits &= model.row_of[lie, number, turn] >= 0
            result[fits & (result < -1000)] = -1 - number
    mine = np.flatnonzero(np.isin(aims.swing, numbers))
    rest = np.flatnonzero(result < -1000)
    if len(rest) and len(mine) == 0:
        return None
    if len(rest):
        part = aims.part[mine]
        row = aims.row[mine] * (1 - part) + aims.next_row[mine] * part
        column = aims.column[mine] * (1 - part) + aims.next_column[mine] * part
        for spot in rest:
            off = np.hypot(column * grid.cell_m - way[spot, 0], row * grid.cell_m - way[spot, 1])
            result[spot] = mine[int(np.argmin(off))]
    return result
