"""What is believed of golfers and clubs before any shot is seen, and the shots as the model takes them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trackgolf.learn.club_choice import ChoiceSettings
from trackgolf.learn.club_holding import HoldingSettings

__all__ = ["ModelSettings", "Swings", "swings_of"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class ModelSettings:
    """
    What is believed about golfers and clubs before any shot, as shares of what the bag states.

    Attributes
    ----------
    bias, bias_sd : float
        How far good strikes of a whole bag go against what is stated, less 1. True distances lie -12 % to +5 %
        from what players state (common practice, no source); this is the middle of it, and wider.
    scatter_sd : float
        How clubs of one bag scatter about that (half-normal). Common practice, no source.
    spread, spread_log_sd, club_log_sd : float
        Standard deviation of good strikes along the line; how players differ in it, how clubs of a player do
        (logarithms). Source: Broadie, Every Shot Counts (2014): 11.5 % for all shots of a 90-shooter; good strikes
        alone are narrower. The differences: common practice, no source.
    mishit, mishit_weight : float
        Share of mishits, and how many shots that belief is worth; common practice, no source.
    club_mishit_weight : float
        How many shots of a club its player's share of mishits is worth. Common practice, no source.
    short_means, short_sds, short_shares : tuple of float
        Kinds of mishits, from topped to thin: how far they go as a share of a good strike, and the belief in each.
        Common practice, no source: anything from a topped shot to a thin one, which is hardly told from a good one.
    short_weight : float
        How many mishits that belief is worth.
    stray : float
        Share of shots of any length at all: a wrong club, a wrong stop.
    rough, rough_sd, rough_spread : float
        What rough takes off a shot, how players differ in it, how shots do. Common practice, no source.
    ease, ease_sd : float
        Of what a shot is asked to go less than the club's full distance, the share that is really taken off.
        Common practice, no source.
    full_from : float
        Least share of the stated distance that still is a full swing, as in the sorting of shots.
    unnamed_weight : float
        What a shot counts whose club had to be inferred. Tuned on simulated seasons, for true intervals.
    doubt : float
        By how much intervals are wider than the model says: wind, ground and form differ from day to day. Tuned likewise.
    choice : ChoiceSettings
        How players choose clubs.
    holding : HoldingSettings
        How swings are held back for targets nobody told.
    most_sweeps, fewest_sweeps, sweep_budget : int
        How long the sampler runs: sweeps, and rows times sweeps. The more shots there are, the fewer sweeps it takes.
    seed : int
        Of the sampler's random numbers, so that the same shots give the same answer.
    """

    bias: float = -0.035
    bias_sd: float = 0.06
    scatter_sd: float = 0.05
    spread: float = 0.085
    spread_log_sd: float = 0.35
    club_log_sd: float = 0.2
    mishit: float = 0.18
    mishit_weight: float = 12.0
    club_mishit_weight: float = 75.0
    short_means: tuple[float, ...] = (0.25, 0.45, 0.65, 0.80)
    short_sds: tuple[float, ...] = (0.12, 0.12, 0.11, 0.08)
    short_shares: tuple[float, ...] = (0.2, 0.25, 0.3, 0.25)
    short_weight: float = 20.0
    stray: float = 0.01
    rough: float = 0.05
    rough_sd: float = 0.04
    rough_spread: float = 0.05
    ease: float = 0.7
    ease_sd: float = 0.35
    full_from: float = 0.85
    unnamed_weight: float = 0.45
    doubt: float = 1.12
    choice: ChoiceSettings = field(default_factory=ChoiceSettings)
    holding: HoldingSettings = field(default_factory=HoldingSettings)
    most_sweeps: int = 480
    fewest_sweeps: int = 40
    sweep_budget: int = 280_000
    seed: int = 20_260_101


@dataclass(frozen=True)
class Swings:
    """
    Full swings as arrays of n.

    Attributes
    ----------
    distance_m, variance_m2 : numpy.ndarray
        Measured distance and the variance of its error.
    club : numpy.ndarray of int
        Place of the club in the bag; -1 where nobody named it.
    aim_m : numpy.ndarray
        What the shot was asked to go [m]; NaN unknown.
    weight : numpy.ndarray
        How much a shot counts, in (0, 1].
    rough, tee : numpy.ndarray of bool
        Whether it was played from rough, from the tee.
    place : numpy.ndarray of int
        Number of the place it was played from, hole by hole and shot by shot; -1 where a plan tells its target.
    """

    distance_m: Floats
    variance_m2: Floats
    club: Ints
    aim_m: Floats
    weight: Floats
    rough: NDArray[np.bool_]
    tee: NDArray[np.bool_]
    place: Ints


def swings_of(full: pd.DataFrame) -> Swings:
    """
    Take the arrays of the model from a table of full swings.

    Parameters
    ----------
    full : pandas.DataFrame
        Full swings as `trackgolf.learn.shot_evidence` sorts them.

    Returns
    -------
    Swings
        The arrays.
    """
    names = [name for name in ("course", "hole", "shot") if name in full]
    place = full.groupby(names, sort=False, dropna=False).ngroup().to_numpy(dtype=np.int64)
    return Swings(
        distance_m=full["distance_m"].to_numpy(dtype=float),
        variance_m2=full["variance_m2"].to_numpy(dtype=float),
        club=full["club_index"].to_numpy(dtype=int),
        aim_m=full["aim_m"].to_numpy(dtype=float),
        weight=full["weight"].to_numpy(dtype=float),
        rough=full["rough"].to_numpy(dtype=bool),
        tee=(full["lie"] == "tee").to_numpy(),
        place=np.where(full["is_told"].to_numpy(dtype=bool), -1, place),
    )
