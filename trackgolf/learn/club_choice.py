"""Which clubs a shot may have been played with where nobody named one, before its length is looked at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["ChoiceSettings", "Choices", "lay_out_choices"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Where a shot is played from: the tee with the hole out of reach, elsewhere out of reach, the hole in reach.
TEE, AWAY, REACH = 0, 1, 2


@dataclass(frozen=True, slots=True)
class ChoiceSettings:
    """
    How players choose clubs; all common practice, no source.

    Attributes
    ----------
    reach : float
        The hole is in reach up to this share of the longest club's stated distance.
    asked, asked_sd : float
        Logarithm of what is asked over what the chosen club is stated to go, and its spread: players take a club
        that is a little more than enough.
    whim : float
        Least weight of any club: people lay up, and choose oddly.
    long_power : float
        Out of reach long clubs are likelier: by the distance to this power.
    worth : float
        How many shots that belief is worth against what the player is seen to do.
    avoided : float
        Weight of clubs the player would rather not use.
    length_sd, failed, negligible : float
        A club is passed over where its likelihood is less than this share of the best one's, lengths of good strikes
        being this wide and mishits of any length this dense.
    """

    reach: float = 1.03
    asked: float = -0.05
    asked_sd: float = 0.09
    whim: float = 0.03
    long_power: float = 4.0
    worth: float = 6.0
    avoided: float = 0.15
    length_sd: float = 0.13
    failed: float = 0.15
    negligible: float = 0.02


@dataclass(frozen=True)
class Choices:
    """
    A row for every shot and club it may have been played with, shot by shot; r rows, n shots, c clubs.

    Attributes
    ----------
    shot, club : numpy.ndarray of int, shape (r,)
        Which shot, which club.
    begin : numpy.ndarray of int, shape (n,)
        First row of each shot.
    situation : numpy.ndarray of int, shape (r,)
        Where it was played from.
    log_fit : numpy.ndarray, shape (r,)
        How well the club suits what was asked, as a logarithm.
    base : numpy.ndarray, shape (3, c)
        What is believed beforehand about how often each club is taken in each situation, in shots.
    named : numpy.ndarray of bool, shape (r,)
        Whether the club was named.
    """

    shot: Ints
    club: Ints
    begin: Ints
    situation: Ints
    log_fit: Floats
    base: Floats
    named: NDArray[np.bool_]


def lay_out_choices(
    stated_m: Floats,
    avoid: NDArray[np.bool_],
    club: Ints,
    distance_m: Floats,
    aim_m: Floats,
    tee: NDArray[np.bool_],
    settings: ChoiceSettings,
) -> Choices:
    """
    Lay out the clubs that each shot may have been played with.

    Parameters
    ----------
    stated_m, avoid : numpy.ndarray, shape (c,)
        What the bag states for each club [m], and which clubs the player avoids.
    club, distance_m, aim_m, tee : numpy.ndarray, shape (n,)
        Of each shot the named club or -1, how far it went and was asked to go [m, NaN unknown], and whether it was a
        tee shot.
    settings : ChoiceSettings
        How players choose.

    Returns
    -------
    Choices
        One row for a named shot, one a possible club for others. A club is possible where it can have gone so far
        and a full swing with it was not far more than was asked.
    """
    count, clubs = len(club), len(stated_m)
    longest = float(stated_m.max()) if clubs else 0.0
    reach = np.nan_to_num(aim_m, nan=np.inf) <= settings.reach * longest
    situation = np.where(reach, REACH, np.where(tee, TEE, AWAY))
    named = club >= 0
    with np.errstate(invalid="ignore", divide="ignore"):
        asked = np.where(reach, aim_m, np.nan)[:, None] / stated_m
        suits = np.exp(-0.5 * ((np.log(asked) - settings.asked) / settings.asked_sd) ** 2)
    suits = np.where(reach[:, None], settings.whim + np.nan_to_num(suits), 1.0) * np.where(
        avoid, settings.avoided, 1.0
    )
    possible = (distance_m[:, None] < 1.45 * stated_m) & (suits > 0)
    with np.errstate(invalid="ignore"):
        possible &= ~(asked < 0.7)
    # What is most unlikely beforehand, be it a good strike or not, is not looked at: it costs time and tells nothing.
    went = distance_m[:, None] / np.maximum(stated_m, 1e-9)
    chance = suits * (
        np.exp(-0.5 * ((went - 0.965) / settings.length_sd) ** 2) + settings.failed * (went < 1.0)
    )
    if clubs:
        possible &= chance >= settings.negligible * chance.max(axis=1, keepdims=True)
    # The longest club is there for what no other can have done.
    if clubs:
        possible[~possible.any(axis=1), int(np.argmax(stated_m))] = True
    possible[named] = False
    possible[np.flatnonzero(named), club[named]] = True
    shot, which = np.nonzero(possible)
    begin = np.searchsorted(shot, np.arange(count))
    away = (stated_m / max(longest, 1e-9)) ** settings.long_power * np.where(avoid, settings.avoided, 1.0)
    on_ground = away.copy()
    if clubs > 1:
        # The longest club of a bag is seldom played off the ground.
        on_ground[int(np.argmax(stated_m))] *= 0.1
    base = np.stack([away, on_ground, np.ones(clubs)]) if clubs else np.zeros((3, 0))
    base = settings.worth * base / np.maximum(base.sum(axis=1, keepdims=True), 1e-9)
    return Choices(
        shot=shot.astype(np.int64),
        club=which.astype(np.int64),
        begin=begin.astype(np.int64),
        situation=situation[shot].astype(np.int64),
        log_fit=np.where(named[shot], 0.0, np.log(suits[shot, which])),
        base=base,
        named=named[shot],
    )
