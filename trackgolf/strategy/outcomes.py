"""Where a stroke may end: good strikes and mishits, as a pattern of cells around the target."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from trackgolf.strategy.putting import MOST_PUTTS, putt_shares
from trackgolf.strategy.settings import StrategySettings
from trackgolf.strategy.swings import Swing

__all__ = ["Part", "Pattern", "pattern_of", "pattern_parts", "pattern_putts", "sample_pattern"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# A pattern is cut off here, in standard deviations.
_CUT = 3.2
# On a grid no part of a pattern is narrower than this share of a cell, or it would fall between cells.
_NARROWEST = 0.42
# Points along one axis of a normal pattern, for the putts it leaves.
_PUTT_POINTS = 41


@dataclass(frozen=True, slots=True)
class Part:
    """
    One normal part of a pattern.

    Attributes
    ----------
    share : float
        How often a stroke belongs to it.
    long_m : float
        Its middle against the target, positive past it [m].
    long_sd_m, side_sd_m : float
        One standard deviation along and across [m].
    """

    share: float
    long_m: float
    long_sd_m: float
    side_sd_m: float


@dataclass(frozen=True, slots=True)
class Pattern:
    """
    A pattern on the grid.

    Attributes
    ----------
    row, column : numpy.ndarray of int, shape (n,)
        Cells against the cell of the target.
    weight : numpy.ndarray, shape (n,)
        Probability of each; they add up to 1.
    """

    row: Ints
    column: Ints
    weight: Floats


def pattern_parts(swing: Swing, settings: StrategySettings) -> tuple[Part, ...]:
    """
    Take a swing's pattern apart.

    Parameters
    ----------
    swing : Swing
        The swing, from its lie.
    settings : StrategySettings
        What mishits look like.

    Returns
    -------
    tuple of Part
        Good strikes, topped or fat ones, and the rest: crooked, or thin where
        the swing is short. The shares add up to 1.
    """
    length, mishits = swing.length_m, swing.mishit_share
    topped = Part(
        mishits * settings.topped_share,
        (settings.topped_long - 1.0) * length,
        settings.topped_long_spread * length,
        settings.topped_side_spread * length,
    )
    if length <= settings.thin_up_to_m:
        last = (settings.thin_long, settings.thin_long_spread, settings.thin_side_spread)
    else:
        last = (settings.crooked_long, settings.crooked_long_spread, settings.crooked_side_spread)
    rest = Part(
        mishits * (1.0 - settings.topped_share),
        (last[0] - 1.0) * length,
        last[1] * length,
        max(last[2] * length, swing.side_m),
    )
    good = Part(1.0 - mishits, 0.0, swing.long_m, swing.side_m)
    return tuple(part for part in (good, topped, rest) if part.share > 0.0)


def pattern_of(
    swing: Swing,
    turn_rad: float,
    settings: StrategySettings,
    target: tuple[float, float] = (0.0, 0.0),
) -> Pattern:
    """
    Lay a swing's pattern on the grid.

    Parameters
    ----------
    swing : Swing
        The swing, from its lie.
    turn_rad : float
        Direction of the stroke, clockwise from up [rad].
    settings : StrategySettings
        Size of the cells, what mishits look like.
    target : tuple of float
        The target against the middle of its cell, rows and columns [cells].

    Returns
    -------
    Pattern
        Where the ball comes to rest on even ground.

    Notes
    -----
    Values belong to whole cells, so each normal part is taken narrower by
    the variance of a cell, cell² / 12, and sampled at the middles: together
    they have the spread that was meant.
    """
    return _laid(pattern_parts(swing, settings), turn_rad, settings.cell_m, target)


# As many as a round's holes share: patterns in the fan of each, from each lie.
@lru_cache(maxsize=4000)
def _laid(parts: tuple[Part, ...], turn_rad: float, cell: float, target: tuple[float, float]) -> Pattern:
    sin, cos = math.sin(turn_rad), math.cos(turn_rad)
    pieces: list[tuple[Ints, Ints, Floats]] = []
    for part in parts:
        long_sd, side_sd = (
            max(math.sqrt(max((sd / cell) ** 2 - 1.0 / 12.0, 0.0)), _NARROWEST)
            for sd in (part.long_sd_m, part.side_sd_m)
        )
        middle_row = target[0] + part.long_m / cell * cos
        middle_column = target[1] + part.long_m / cell * sin
        reach_row = _CUT * math.hypot(long_sd * cos, side_sd * sin)
        reach_column = _CUT * math.hypot(long_sd * sin, side_sd * cos)
        rows = np.arange(math.floor(middle_row - reach_row), math.ceil(middle_row + reach_row) + 1)
        columns = np.arange(
            math.floor(middle_column - reach_column), math.ceil(middle_column + reach_column) + 1
        )
        by_row, by_column = (rows - middle_row)[:, None], (columns - middle_column)[None, :]
        along, across = by_row * cos + by_column * sin, by_column * cos - by_row * sin
        square = (along / long_sd) ** 2 + (across / side_sd) ** 2
        weight = np.where(square <= _CUT**2, np.exp(-0.5 * square), 0.0)
        keep = weight > 0.0
        row, column = np.broadcast_to(rows[:, None], weight.shape), np.broadcast_to(columns, weight.shape)
        pieces.append((row[keep], column[keep], weight[keep] * (part.share / weight.sum())))
    row, column, weight = (np.concatenate(values) for values in zip(*pieces, strict=True))
    return Pattern(row.astype(np.int64), column.astype(np.int64), weight)


def pattern_putts(swing: Swing, settings: StrategySettings, over_par: float, most_m: float) -> Floats:
    """
    Say how many putts a stroke at the hole would leave if all around were green.

    Parameters
    ----------
    swing : Swing
        The swing, from its lie.
    settings : StrategySettings
        What mishits look like.
    over_par : float
        Level of the player.
    most_m : float
        Balls farther from the hole are taken to lie so far [m].

    Returns
    -------
    numpy.ndarray, shape (4,)
        Probabilities of 1 to 4 putts.

    Notes
    -----
    It makes values around the hole independent of the grid, on which a pattern
    narrower than a cell cannot be told from one that fills it.
    """
    return _parts_putts(pattern_parts(swing, settings), over_par, most_m)


@lru_cache(maxsize=1000)
def _parts_putts(parts: tuple[Part, ...], over_par: float, most_m: float) -> Floats:
    total = np.zeros(MOST_PUTTS)
    # The middles of slices of equal probability.
    points = _normal_points()
    for part in parts:
        along = part.long_m + part.long_sd_m * points[:, None]
        away = np.hypot(along, part.side_sd_m * points[None, :])
        total += part.share * putt_shares(np.minimum(away, most_m), over_par).mean(axis=(0, 1))
    return total


def sample_pattern(
    swing: Swing,
    settings: StrategySettings,
    rng: np.random.Generator,
    distance_factor: Floats,
    mishit_factor: Floats,
) -> tuple[Floats, Floats]:
    """
    Play a swing many times on even ground.

    Parameters
    ----------
    swing : Swing
        The swing, from its lie.
    settings : StrategySettings
        What mishits look like.
    rng : numpy.random.Generator
        Chance.
    distance_factor, mishit_factor : numpy.ndarray, shape (n,)
        True distances and shares of mishits as parts of the stated ones, a stroke each.

    Returns
    -------
    long_m, right_m : numpy.ndarray, shape (n,)
        Where the balls rest against the target of the true distance [m].
    """
    count = len(distance_factor)
    # With half of the strokes mishit all three parts are there, in one order.
    parts = pattern_parts(replace(swing, mishit_share=0.5), settings)
    mishit = rng.random(count) < np.minimum(swing.mishit_share * mishit_factor, 0.95)
    topped = rng.random(count) < settings.topped_share
    which = np.where(mishit, np.where(topped, 1, 2), 0)
    values = np.array([(part.long_m, part.long_sd_m, part.side_sd_m) for part in parts])[which]
    # Cut off like the pattern, by drawing the far ones again at a radius within.
    radius = np.sqrt(-2.0 * np.log(1.0 - rng.random(count) * (1.0 - math.exp(-0.5 * _CUT**2))))
    angle = rng.random(count) * 2.0 * math.pi
    long = values[:, 0] * distance_factor + values[:, 1] * radius * np.cos(angle)
    return long, values[:, 2] * radius * np.sin(angle)


def _normal_points() -> Floats:
    from scipy.special import ndtri

    return np.asarray(ndtri((np.arange(_PUTT_POINTS) + 0.5) / _PUTT_POINTS), dtype=np.float64)
