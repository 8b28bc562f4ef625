"""A plan played many times on the ground itself, without a grid: a check of the model, and other players' luck."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from trackgolf.strategy.outcomes import sample_pattern
from trackgolf.strategy.putting import MOST_PUTTS, putt_shares
from trackgolf.strategy.settings import LIES
from trackgolf.strategy.site import GROUND, lies_at
from trackgolf.strategy.value import Solution, stroke_at

__all__ = ["Picture", "Truth", "picture", "play_hole"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_MOST_STROKES = 40
# The ground is looked up on a picture of it with pixels of this size [m].
_PIXEL_M = 1.0
_STEP_M = 1.0


@dataclass(frozen=True, slots=True)
class Truth:
    """
    How a player differs from the bag.

    Attributes
    ----------
    distance_factor : float or numpy.ndarray
        True distances as a share of those in the bag; one for all plays or one for each.
    mishit_factor : float or numpy.ndarray
        True shares of mishits likewise.
    """

    distance_factor: float | Floats = 1.0
    mishit_factor: float | Floats = 1.0


@dataclass(frozen=True)
class Picture:
    """
    A picture of a hole's ground.

    Attributes
    ----------
    lies : numpy.ndarray of int, shape (rows, columns)
        Numbers into `GROUND`.
    right_m, up_m : float
        Its lower left corner [m].
    """

    lies: npt.NDArray[np.int8]
    right_m: float
    up_m: float

    def at(self, right_m: Floats, up_m: Floats) -> npt.NDArray[np.int8]:
        """
        Look places up.

        Parameters
        ----------
        right_m, up_m : numpy.ndarray, shape (n,)
            Places [m].

        Returns
        -------
        numpy.ndarray of int, shape (n,)
            Numbers into `GROUND`; -1 off the picture.
        """
        row = np.floor((up_m - self.up_m) / _PIXEL_M).astype(np.int64)
        column = np.floor((right_m - self.right_m) / _PIXEL_M).astype(np.int64)
        inside = (row >= 0) & (row < self.lies.shape[0]) & (column >= 0) & (column < self.lies.shape[1])
        found = np.full(len(row), -1, dtype=np.int8)
        found[inside] = self.lies[row[inside], column[inside]]
        return found


def play_hole(
    solution: Solution,
    count: int,
    rng: np.random.Generator,
    truth: Truth | None = None,
    ground: Picture | None = None,
) -> dict[str, Floats]:
    """
    Play a hole many times.

    Parameters
    ----------
    solution : Solution
        What is played from where.
    count : int
        How many times.
    rng : numpy.random.Generator
        Chance.
    truth : Truth, optional
        How the player differs from the bag the plan was made with.
    ground : Picture, optional
        Of the hole, where several plans of it are played.

    Returns
    -------
    dict of str to numpy.ndarray, shape (count,)
        ``strokes`` in all, ``to_green`` strokes until the green, ``penalties``
        and ``putts``.

    Notes
    -----
    The ball is where it is, to the centimetre; the plan is read where the
    middle of its cell is nearest. Turns, rolls and drops follow the rules of
    the grid, in steps of one metre.
    """
    truth = truth or Truth()
    truth = Truth(
        np.broadcast_to(np.asarray(truth.distance_factor, dtype=float), (count,)),
        np.broadcast_to(np.asarray(truth.mishit_factor, dtype=float), (count,)),
    )
    model = solution.model
    ground = ground or picture(solution)
    tee = model.grid.site.line_m[0]
    right, up = np.full(count, tee[0]), np.full(count, tee[1])
    lie = np.full(count, -1)
    strokes, penalties = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    to_green, putts = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    playing = np.arange(count)
    while len(playing):
        playing = _stroke(solution, ground, truth, rng, playing, (right, up, lie, strokes, penalties))
        arrived = playing[lie[playing] == GROUND.index("green")]
        to_green[arrived] = strokes[arrived]
        away = np.hypot(right[arrived] - model.grid.site.pin_m[0], up[arrived] - model.grid.site.pin_m[1])
        shares = putt_shares(away, model.over_par).cumsum(axis=1)
        putts[arrived] = 1 + (rng.random(len(arrived))[:, None] > shares[:, : MOST_PUTTS - 1]).sum(axis=1)
        playing = playing[(lie[playing] != GROUND.index("green")) & (strokes[playing] < _MOST_STROKES)]
    return {
        "strokes": (strokes + putts).astype(float),
        "to_green": to_green.astype(float),
        "penalties": penalties.astype(float),
        "putts": putts.astype(float),
    }


def picture(solution: Solution) -> Picture:
    """
    Draw the ground of a hole.

    Parameters
    ----------
    solution : Solution
        Any plan of it.

    Returns
    -------
    Picture
        To play on.
    """
    grid, settings = solution.model.grid, solution.model.settings
    up = np.arange(grid.up_m[0] - grid.cell_m / 2, grid.up_m[-1] + grid.cell_m / 2, _PIXEL_M)
    right = np.arange(grid.right_m[0] - grid.cell_m / 2, grid.right_m[-1] + grid.cell_m / 2, _PIXEL_M)
    all_up, all_right = np.meshgrid(up + _PIXEL_M / 2, right + _PIXEL_M / 2, indexing="ij")
    lies = lies_at(grid.site, all_right.ravel(), all_up.ravel(), settings)
    return Picture(lies.reshape(all_up.shape), float(right[0]), float(up[0]))


def _stroke(
    solution: Solution,
    ground: Picture,
    truth: Truth,
    rng: np.random.Generator,
    playing: Ints,
    state: tuple[Floats, Floats, Ints, Ints, Ints],
) -> Ints:
    """Play one stroke of every ball that is still in play, in place."""
    model = solution.model
    grid, settings = model.grid, model.settings
    right, up, lie, strokes, _ = state
    row, column = grid.cell_at(right[playing], up[playing])
    row, column = np.clip(row, 0, grid.shape[0] - 1), np.clip(column, 0, grid.shape[1] - 1)
    teed = lie[playing] < 0
    kind = np.where(
        teed, 0, [LIES.index(GROUND[max(value, 0)]) if value in _PLAYED else 0 for value in lie[playing]]
    )
    # Ground too small for the grid to see is planned like most of its cell, or of the nearest that can be played from.
    nowhere = np.asarray(grid.lie_shares.sum(axis=0) <= 0)
    if nowhere.any():
        _, near = ndimage.distance_transform_edt(nowhere, return_indices=True)
        row, column = near[0][row, column], near[1][row, column]
    unseen = (grid.lie_shares[kind, row, column] <= 0) & ~teed
    kind = np.where(unseen, grid.lie_shares[:, row, column].argmax(axis=0), kind)
    choice = np.empty(len(playing), dtype=np.int64)
    for number in np.unique(strokes[playing]):
        here = strokes[playing] == number
        stage = solution.stage(int(number))
        choice[here] = stage.choices[kind[here], row[here], column[here]]
        choice[here & teed] = stage.tee_choice
    keys = np.stack([kind, choice], axis=1)
    unique, which = np.unique(keys, axis=0, return_inverse=True)
    for number, (kind_of, choice_of) in enumerate(unique):
        group = playing[which.ravel() == number]
        stroke = stroke_at(model, int(kind_of), int(choice_of))
        swing = model.swings[int(kind_of)][stroke.swing]
        factor = np.asarray(truth.distance_factor)[group]
        start_right, start_up = right[group].copy(), up[group].copy()
        if stroke.at_hole:
            aim_right, aim_up = grid.site.pin_m[0] - start_right, grid.site.pin_m[1] - start_up
        else:
            aim_right = np.full(len(group), stroke.column * grid.cell_m)
            aim_up = np.full(len(group), stroke.row * grid.cell_m)
        turn = np.arctan2(aim_right, aim_up)
        length = np.hypot(aim_right, aim_up) * factor
        mishits = np.asarray(truth.mishit_factor)[group]
        long, side = sample_pattern(swing, settings, rng, factor, mishits)
        roll = swing.roll_m * factor
        flown = length + long - roll
        sin, cos = np.sin(turn), np.cos(turn)
        land_right = start_right + flown * sin + side * cos
        land_up = start_up + flown * cos - side * sin
        rest_right, rest_up, found = _roll(ground, land_right, land_up, sin, cos, roll, settings.roll_shares)
        strokes[group] += 1
        _come_to_rest(
            solution, ground, rng, group, state, (rest_right, rest_up, found), turn, (start_right, start_up)
        )
    return playing


_PLAYED = tuple(GROUND.index(name) for name in LIES)


def _roll(
    ground: Picture,
    right: Floats,
    up: Floats,
    sin: Floats,
    cos: Floats,
    roll_m: Floats,
    shares: dict[str, float],
) -> tuple[Floats, Floats, npt.NDArray[np.int8]]:
    """Roll balls on in small steps, as far as the ground lets them."""
    right, up = right.copy(), up.copy()
    found = ground.at(right, up)
    slow = np.array([shares.get(name, 0.0) for name in GROUND] + [0.0])
    left = roll_m.copy()
    moving = left > 0
    while moving.any():
        share = slow[found]
        moving &= (share > 0) & (left > 1e-9)
        step = np.minimum(_STEP_M, left * share)
        right = np.where(moving, right + step * sin, right)
        up = np.where(moving, up + step * cos, up)
        left = np.where(moving, left - step / np.maximum(share, 1e-9), left)
        found = np.where(moving, ground.at(right, up), found)
    return right, up, found


def _come_to_rest(
    solution: Solution,
    ground: Picture,
    rng: np.random.Generator,
    group: Ints,
    state: tuple[Floats, Floats, Ints, Ints, Ints],
    rest: tuple[Floats, Floats, npt.NDArray[np.int8]],
    turn: Floats,
    start: tuple[Floats, Floats],
) -> None:
    """Put balls where they are played from next, with what the Rules make of it, in place."""
    right, up, lie, strokes, penalties = state
    rest_right, rest_up, found = rest
    grid, settings = solution.model.grid, solution.model.settings
    line = np.asarray(grid.site.line_m)
    away = _from_line(line, rest_right, rest_up)
    span = max(settings.lost_full_m - settings.lost_from_m, 1e-9)
    lost = settings.lost_share * np.clip((away - settings.lost_from_m) / span, 0.0, 1.0)
    gone = (found == -1) | (found == GROUND.index("out_of_bounds"))
    gone |= (found == GROUND.index("rough")) & (rng.random(len(found)) < lost)
    wet = np.isin(found, [GROUND.index("water_red"), GROUND.index("water_yellow")])
    if wet.any():
        new_right, new_up, new_found = _drop(
            ground, rest_right[wet], rest_up[wet], found[wet], turn[wet], grid.site.pin_m
        )
        rest_right, rest_up, found = rest_right.copy(), rest_up.copy(), found.copy()
        rest_right[wet], rest_up[wet], found[wet] = new_right, new_up, new_found
        gone[wet] = new_found == -1
    right[group] = np.where(gone, start[0], rest_right)
    up[group] = np.where(gone, start[1], rest_up)
    lie[group] = np.where(gone, lie[group], found)
    strokes[group] += gone | wet
    penalties[group] += gone | wet


def _drop(
    ground: Picture, right: Floats, up: Floats, found: npt.NDArray[np.int8], turn: Floats, pin_m: Floats
) -> tuple[Floats, Floats, npt.NDArray[np.int8]]:
    """Walk back to dry ground; from yellow water then away from the hole."""
    bad = np.array([GROUND.index(name) for name in ("water_red", "water_yellow", "out_of_bounds")])
    yellow = found == GROUND.index("water_yellow")
    right, up, found = right.copy(), up.copy(), found.copy()
    back = turn + math.pi
    for _ in range(2):
        open_balls = np.isin(found, bad)
        while open_balls.any():
            right[open_balls] += _STEP_M * np.sin(back[open_balls])
            up[open_balls] += _STEP_M * np.cos(back[open_balls])
            found[open_balls] = ground.at(right[open_balls], up[open_balls])
            open_balls = np.isin(found, bad)
        back = np.arctan2(right - pin_m[0], up - pin_m[1])
        step = yellow & (found != -1)
        right[step] += _STEP_M * np.sin(back[step])
        up[step] += _STEP_M * np.cos(back[step])
        found[step] = ground.at(right[step], up[step])
        yellow = np.zeros_like(yellow)
    return right, up, found


def _from_line(line: Floats, right: Floats, up: Floats) -> Floats:
    """Measure from the line of play."""
    best = np.full(len(right), np.inf)
    for (x0, y0), (x1, y1) in itertools.pairwise(line.tolist()):
        dx, dy = x1 - x0, y1 - y0
        share = np.clip(((right - x0) * dx + (up - y0) * dy) / max(dx * dx + dy * dy, 1e-9), 0.0, 1.0)
        best = np.minimum(best, np.hypot(right - x0 - share * dx, up - y0 - share * dy))
    return best
