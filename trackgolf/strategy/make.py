"""Makes a hole ready for planning: its grid, the swings worth weighing on it, and where they are aimed."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy import fft, sparse

from trackgolf.bag import Bag
from trackgolf.strategy.aims import list_aims
from trackgolf.strategy.at_hole import MOST_PUTT_M, ROLL_UNIT, add_rows_to_hole
from trackgolf.strategy.grid import HoleGrid, make_grid
from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.putting import MOST_PUTTS, putt_shares
from trackgolf.strategy.settings import LIES, StrategySettings
from trackgolf.strategy.site import HoleSite
from trackgolf.strategy.swings import Swing, bag_swings, swing_from

__all__ = ["make_model"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# Aims farther than this beyond the hole are not tried [m].
_PAST_HOLE_M = 30.0
# Places a side of a cell that putts are averaged over.
_SUB = 4


def make_model(site: HoleSite, bag: Bag, settings: StrategySettings, over_par: float) -> HoleModel:
    """
    Make a hole ready.

    Parameters
    ----------
    site : HoleSite
        The hole.
    bag : Bag
        The clubs.
    settings : StrategySettings
        What the plan goes by.
    over_par : float
        Level of the player, strokes over par in 18 holes.

    Returns
    -------
    HoleModel
        The model; nothing in it depends on prices.
    """
    grid = make_grid(site, settings)
    fairway = bag_swings(bag, settings)
    swings = tuple(tuple(swing_from(swing, lie, settings) for swing in fairway) for lie in LIES)
    count = round(360.0 / settings.turn_deg)
    turns: Floats = np.arange(count, dtype=np.float64) * (2 * math.pi / count)
    steps = np.array([round(swing.roll_m / settings.cell_m / ROLL_UNIT) for swing in fairway], dtype=np.int64)
    pairs = _pairs(grid, fairway, turns, settings)
    reach = max((_reach(swings, swing, settings) for swing in {swing for swing, _ in pairs}), default=0)
    pads = tuple(fft.next_fast_len(size + reach, real=True) for size in grid.shape)
    model = HoleModel(
        grid=grid,
        settings=settings,
        swings=swings,
        over_par=over_par,
        turns=turns,
        steps=steps,
        pairs=pairs,
        aims=tuple(list_aims(grid.cell_m, swings[lie], pairs, count, settings) for lie in range(len(LIES))),
        putts=_cell_putts(grid, over_par),
        leave_off=_leave_off(grid, bag, fairway, settings),
        row_of=np.full((len(LIES), len(fairway), count), -1, dtype=np.int64),
        to_rest=sparse.csr_array((0, grid.dry.size)),
        to_drop=sparse.csr_array((0, grid.dry.size)),
        putt_error=np.zeros((0, MOST_PUTTS)),
        pads=(pads[0], pads[1]),
        hole_turns=_hole_turns(grid, count),
        last_row=int(np.searchsorted(grid.up_m, grid.site.pin_m[1] + _PAST_HOLE_M)) - 1,
    )
    add_rows_to_hole(model)
    return model


def _pairs(
    grid: HoleGrid, swings: tuple[Swing, ...], turns: Floats, settings: StrategySettings
) -> tuple[tuple[int, int], ...]:
    """Say which swings in which directions have a field: longer ones, in the fan of the hole."""
    legs = np.diff(grid.site.line_m, axis=0)
    bends = np.abs(np.arctan2(legs[:, 0], legs[:, 1]))
    widest = min(float(bends.max(initial=0.0)) + math.radians(settings.fan_deg), math.radians(120.0))
    signed = (turns + math.pi) % (2 * math.pi) - math.pi
    inside = [int(turn) for turn in np.flatnonzero(np.abs(signed) <= widest + 1e-9)]
    tall = float(grid.up_m[-1] - grid.up_m[0])
    return tuple(
        (number, turn)
        for number, swing in enumerate(swings)
        if swing.high_m > settings.short_m and swing.low_m < tall
        for turn in inside
    )


def _reach(swings: tuple[tuple[Swing, ...], ...], swing: int, settings: StrategySettings) -> int:
    """Say how many cells a pattern may reach to one side, so that it does not come round the other."""
    widest = max((lies[swing] for lies in swings), key=lambda s: s.long_m)
    length = widest.length_m
    topped = (1 - settings.topped_long + 3.2 * settings.topped_long_spread) * length
    crooked = 3.2 * max(settings.crooked_side_spread * length, widest.side_m, widest.long_m)
    return math.ceil((max(topped, crooked) + widest.roll_m) / settings.cell_m) + 1


def _cell_putts(grid: HoleGrid, over_par: float) -> Floats:
    """Average the putts over each cell."""
    inner = ((np.arange(_SUB) + 0.5) / _SUB - 0.5) * grid.cell_m
    up = grid.up_m[:, None] + inner - grid.site.pin_m[1]
    right = grid.right_m[:, None] + inner - grid.site.pin_m[0]
    away = np.hypot(up[:, None, :, None], right[None, :, None, :])
    shares = putt_shares(np.minimum(away, MOST_PUTT_M), over_par)
    return np.asarray(np.moveaxis(shares.mean(axis=(2, 3)), -1, 0))


def _hole_turns(grid: HoleGrid, count: int) -> Ints:
    """Find the turn of a stroke at the hole from each cell."""
    pin = grid.site.pin_m
    angle = np.arctan2(pin[0] - grid.right_m[None, :], pin[1] - grid.up_m[:, None])
    return np.asarray(np.rint(angle / (2 * math.pi) * count).astype(np.int64) % count)


def _leave_off(grid: HoleGrid, bag: Bag, swings: tuple[Swing, ...], settings: StrategySettings) -> Floats:
    """Say how far the places to play from are from a distance the player likes."""
    if not bag.approaches:
        return np.zeros(grid.shape)
    liked = np.array([approach.distance_m for approach in bag.approaches])
    off = np.abs(grid.to_hole_m[..., None] - liked).min(axis=-1)
    longest = max((swing.high_m for swing in swings if not swing.tee_only), default=0.0)
    inside = (grid.to_hole_m >= settings.leave_from_m) & (grid.to_hole_m <= longest)
    return np.where(inside, np.minimum(off / settings.leave_span_m, 1.0), 0.0)
