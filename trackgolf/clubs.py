"""Which club a shot was played with, and from which source that is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trackgolf.bag import Bag
from trackgolf.settings import RoundSettings

__all__ = ["ClubGuess", "choose_club", "club_probabilities"]

Floats = NDArray[np.float64]

# An inferred club is named alone above the first probability; below the second a planned one is not believed.
_SURE = 0.60
_POSSIBLE = 0.08
_NAMED = 0.30


@dataclass(frozen=True, slots=True)
class ClubGuess:
    """A club's `name` ("" unknown), its `source` ("" where unknown) and the probability that it is right."""

    name: str
    source: str
    probability: float


def club_probabilities(
    distance_m: float, leave_before_m: float, lie: str, bag: Bag, settings: RoundSettings
) -> Floats:
    """
    Weigh the clubs of a bag for one shot by how far it went.

    Parameters
    ----------
    distance_m : float
        Straight distance of the shot [m].
    leave_before_m : float
        Distance to the hole before it [m].
    lie : str
        Lie it was played from; a driver is not played from a bunker.
    bag : Bag
        The player's clubs.
    settings : RoundSettings
        How far truth may be from the bag.

    Returns
    -------
    numpy.ndarray, shape (c,)
        Probability of each club, in the order of the bag; they add up to 1.
    """
    weights = np.zeros(len(bag.clubs))
    for index, club in enumerate(bag.clubs):
        full = club.distance_m * settings.club_factor
        spread = float(np.hypot(club.spread_long_m, club.distance_m * settings.club_spread))
        good = np.exp(-0.5 * ((distance_m - full) / spread) ** 2) / spread
        poor = 1.0 / full if distance_m < full else 0.0
        part = 0.0
        for swing in bag.part_swings:
            if swing.club == club.name and swing.from_m <= leave_before_m <= swing.to_m:
                part = 1.0 / max(swing.to_m - swing.from_m, 10.0)
        # A player out of reach takes long clubs, one in reach the club that reaches.
        needed = min(leave_before_m, max(c.distance_m for c in bag.clubs))
        fit = np.exp(-0.5 * ((full - needed) / (0.35 * needed + 10.0)) ** 2)
        weights[index] = (0.75 * good + 0.25 * club.mishit_share * poor + part) * (0.05 + fit)
        if club.avoid:
            weights[index] *= 0.1
        if lie != "tee" and index == 0 and club.distance_m >= needed and "driver" in club.name.lower():
            weights[index] *= 0.1
    total = float(weights.sum())
    if total <= 0.0:
        return np.full(len(bag.clubs), 1.0 / max(len(bag.clubs), 1))
    return weights / total


def choose_club(
    marked: str | None, carded: str | None, planned: str | None, weights: Floats, bag: Bag
) -> ClubGuess:
    """
    Name the club of a shot from the best source there is.

    Parameters
    ----------
    marked, carded, planned : str or None
        The club named by a mark in the track, by the card, and by the plan for this shot.
    weights : numpy.ndarray, shape (c,)
        Probabilities from `club_probabilities`.
    bag : Bag
        The player's clubs.

    Returns
    -------
    ClubGuess
        The mark counts before the card, the card before the track, and the plan only where the track allows
        its club and cannot tell on its own.
    """
    if marked:
        return ClubGuess(marked, "marked", 0.98)
    if carded:
        return ClubGuess(carded, "card", 0.95)
    if not len(bag.clubs):
        return ClubGuess("", "", 0.0)
    names = [club.name for club in bag.clubs]
    best = int(np.argmax(weights))
    if weights[best] >= _SURE:
        return ClubGuess(names[best], "inferred", float(weights[best]))
    if planned in names and weights[names.index(planned)] >= _POSSIBLE:
        return ClubGuess(planned, "plan", float(weights[names.index(planned)]))
    if weights[best] >= _NAMED:
        return ClubGuess(names[best], "inferred", float(weights[best]))
    return ClubGuess("", "", 0.0)
