"""Left and right: how wide a club goes, and whether it leans."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trackgolf.learn.pooling import NormalBelief, update_normal
from trackgolf.learn.robust import huber_scale_and_location

__all__ = ["DirectionSettings", "Directions", "find_directions"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DirectionSettings:
    """
    What is believed about directions beforehand.

    Attributes
    ----------
    spread : float
        Standard deviation across the line, as a share of the distance, where the bag says nothing. From memory:
        Broadie 2014 gives 6.5 degrees for a 90-shooter.
    lean_weight : float
        How many shots of a club the lean of all clubs is worth; common practice, no source.
    spread_weight : float
        How many shots the believed spread is worth; common practice, no source.
    widest : float
        Beyond this share of the distance a shot was not played in that direction: a dogleg, a punch out. Common
        practice, no source.
    wild : float
        Beyond this many spreads a shot is a mishit and says nothing of the lean.
    """

    spread: float = 0.115
    lean_weight: float = 8.0
    spread_weight: float = 8.0
    widest: float = 0.7
    wild: float = 3.0


@dataclass(frozen=True)
class Directions:
    """
    What is known of left and right, as shares of the distance; c clubs.

    Attributes
    ----------
    spread : numpy.ndarray, shape (c,)
        Standard deviation across the line.
    right, right_low, right_high : numpy.ndarray, shape (c,)
        Lean, positive to the right, with its 80 % interval.
    shots : numpy.ndarray of int, shape (c,)
        Shots whose side is known.
    """

    spread: Floats
    right: Floats
    right_low: Floats
    right_high: Floats
    shots: NDArray[np.int64]


def find_directions(
    full: pd.DataFrame,
    club: NDArray[np.int64],
    stated_spread: Floats,
    settings: DirectionSettings | None = None,
) -> Directions:
    """
    Learn how far left and right each club goes.

    Where a plan had a target for the shot, the side is known (`right_m`). Where the shot was played at the pin, the
    three lengths before, of and after it give the angle without its side, which tells of the spread alone.

    Parameters
    ----------
    full : pandas.DataFrame
        Full swings as `trackgolf.learn.shot_evidence` sorts them.
    club : numpy.ndarray of int, shape (n,)
        Club of each, -1 to leave a shot out.
    stated_spread : numpy.ndarray, shape (c,)
        What the bag says of each club's spread across, as a share of its distance; NaN where it says nothing.
    settings : DirectionSettings, optional
        What is believed beforehand.

    Returns
    -------
    Directions
        A row a club.
    """
    rules = settings or DirectionSettings()
    distance = full["distance_m"].to_numpy(dtype=float)
    error = np.sqrt(full["variance_m2"].to_numpy(dtype=float)) / np.maximum(distance, 1.0)
    right = (
        pd.to_numeric(full["right_m"], errors="coerce").to_numpy(dtype=float, na_value=np.nan) / distance
        if "right_m" in full
        else np.full(len(full), np.nan)
    )
    if "planned_club" in full:
        right = np.where((full["planned_club"] == full["club"]).to_numpy(), right, np.nan)
    off = _angles(full, distance)
    with np.errstate(invalid="ignore"):
        sided = np.isfinite(right) & (np.abs(right) < rules.widest) & (club >= 0)
        unsided = ~sided & np.isfinite(off) & (off < rules.widest) & (club >= 0)
    believed = np.where(np.isfinite(stated_spread), stated_spread, rules.spread)
    # How much wider than stated the player is with all clubs; what is played at the pin has no side and so counts both.
    place = np.maximum(club, 0)
    lean = huber_scale_and_location(right[sided])[0] if sided.sum() >= 3 else 0.0
    lean *= sided.sum() / (sided.sum() + rules.lean_weight)
    wider = np.concatenate(
        [(right - lean)[sided] / believed[place[sided]], off[unsided] / believed[place[unsided]]]
    )
    wider = np.concatenate([wider, -wider])
    factor = huber_scale_and_location(wider)[1] if len(wider) else 1.0
    known = len(wider) / 2
    factor = float(np.exp(np.log(max(factor, 0.2)) * known / (known + rules.spread_weight)))
    believed = believed * factor
    limit = rules.wild * believed[place]
    sided &= np.abs(np.nan_to_num(right) - lean) < limit
    unsided &= np.nan_to_num(off) < limit
    rows = []
    for c, before in enumerate(believed):
        shape = 1 + rules.spread_weight / 2
        belief = NormalBelief(lean, rules.lean_weight, shape, (shape - 1) * before**2)
        mine = sided & (club == c)
        belief = update_normal(belief, right[mine])
        more = off[unsided & (club == c)]
        belief = NormalBelief(
            belief.mean,
            belief.weight,
            belief.shape + len(more) / 2,
            belief.scale + 0.5 * float((more**2).sum()),
        )
        both = mine | (unsided & (club == c))
        noise = float((error[both] ** 2).mean()) if both.any() else 0.0
        share = both.sum() / (both.sum() + rules.spread_weight)
        spread = np.sqrt(max(belief.variance - share * noise, 0.25 * belief.variance))
        low, high = belief.mean_interval(0.8)
        rows.append((float(spread), belief.mean, low, high, int(mine.sum())))
    table = np.array(rows, dtype=float).reshape(-1, 5)
    return Directions(table[:, 0], table[:, 1], table[:, 2], table[:, 3], table[:, 4].astype(np.int64))


def _angles(full: pd.DataFrame, distance: Floats) -> Floats:
    """Angle between shot and pin from the three lengths, without its side; NaN where the pin was out of reach."""
    if "leave_before_m" not in full:
        return np.full(len(full), np.nan)
    before = pd.to_numeric(full["leave_before_m"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    after = pd.to_numeric(full["leave_m"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        cosine = (before**2 + distance**2 - after**2) / (2 * before * distance)
        near = (before < 1.1 * distance) & (before > 30.0)
        found: Floats = np.where(near & (cosine > 0), np.arccos(np.clip(cosine, -1, 1)), np.nan)
    return found
