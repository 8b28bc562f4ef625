"""What a stand is likely to be where no course is known: a tee shot, a place on a green, a later shot, or neither."""

from __future__ import annotations

import json
from functools import cache
from importlib import resources

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import log_softmax

from trackgolf.settings import RoundSettings
from trackgolf.stand_model import FEATURES, stand_features

__all__ = ["CAPS", "KINDS", "context_features", "kind_scores", "own_features", "stand_kinds", "stand_laws"]

Floats = NDArray[np.float64]
Walk = tuple[Floats, Floats, Floats]

# What a stand may be; the first is the one the others are weighed against.
KINDS = ("other", "tee", "green", "shot")
# Circles around a stand whose visit is measured [m], with the usual time in them [s] and way walked in them [m]: the
# medians on tuning rounds, so that the logarithms lie around zero.
_CIRCLES = ((15.0, 120.0, 45.0), (35.0, 180.0, 90.0))
# A visit is looked for this far before and after the stand [s].
_VISIT_S = 420.0
# Neighbours in time that are looked at, and the distances at which one is beside, near or far [m]. Chosen by hand.
_NEIGHBOURS = (-3, -2, -1, 1, 2, 3)
_BESIDE_M, _NEAR_M, _NEAR_WIDTH_M, _FAR_M = 12.0, 50.0, 30.0, 85.0
_ERRAND_S = 300.0
# Most that one stand may say, by itself and with its neighbours, log units.
CAPS = (4.0, 6.0)


def own_features(stands: pd.DataFrame, walk: Walk, settings: RoundSettings) -> Floats:
    """
    Measure every stand, what surrounds it, and the visit to its place.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands as `geo.stops.find_stops` gives them, m rows.
    walk : tuple of numpy.ndarray, each shape (n,)
        Time [s], east and north [m] of the walk.
    settings : RoundSettings
        The usual dwell of a stroke.

    Returns
    -------
    numpy.ndarray, shape (m, f)
        `trackgolf.stand_model.FEATURES`, then time and way within two circles around the stand, as logarithms
        against usual ones, then how far the first two of these lie above zero.
    """
    visits = [
        np.clip(np.log(np.maximum(value, 1.0) / usual), -2.5, 2.5)
        for radius_m, usual_s, usual_m in _CIRCLES
        for value, usual in zip(_visit(stands, walk, radius_m), (usual_s, usual_m), strict=True)
    ]
    columns = [*visits, np.maximum(visits[0], 0.0), np.maximum(visits[1], 0.0)]
    return np.column_stack([stand_features(stands, walk, settings.shot_dwell_s), *columns])


def context_features(stands: pd.DataFrame, scores: Floats) -> Floats:
    """
    Measure what the neighbours of every stand are likely to be, by how far they lie.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands, m rows.
    scores : numpy.ndarray, shape (m, 4)
        What each is likely to be by itself, as `kind_scores` gives it.

    Returns
    -------
    numpy.ndarray, shape (m, c)
        Own scores, then for each neighbour its scores, parted by distance, and the distance.
    """
    size = len(stands)
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    columns = [scores[:, kind] for kind in (1, 2, 3)]
    for offset in _NEIGHBOURS:
        other = np.arange(size) + offset
        there = (other >= 0) & (other < size)
        other = np.clip(other, 0, size - 1)
        apart = np.where(there, np.hypot(east[other] - east, north[other] - north), 400.0)
        pause = np.where(there, start - end[other] if offset < 0 else start[other] - end, 600.0)
        beside = np.exp(-((apart / _BESIDE_M) ** 2))
        near = np.exp(-(((apart - _NEAR_M) / _NEAR_WIDTH_M) ** 2)) * (pause < _ERRAND_S)
        far = (apart > _FAR_M).astype(float)
        for kind in (1, 2, 3):
            score = np.where(there, scores[other, kind], -2.0) / 2.0
            columns += [score * beside, score * near, score * far] if abs(offset) < 3 else [score]
        columns += [beside, near, far]
    return np.column_stack(columns)


def kind_scores(features: Floats, weights: Floats, shares: Floats, cap: float) -> Floats:
    """
    Weigh features of stands by a multinomial logistic law.

    Parameters
    ----------
    features : numpy.ndarray, shape (m, f)
        What was measured.
    weights : numpy.ndarray, shape (f, 4)
        Log-odds a unit of each adds for each of `KINDS`.
    shares : numpy.ndarray, shape (4,)
        How common each kind is.
    cap : float
        Most that one stand may say.

    Returns
    -------
    numpy.ndarray, shape (m, 4)
        Log-likelihood ratio of each kind against the first.
    """
    score = log_softmax(features @ weights, axis=1) - np.log(shares)
    return np.asarray(np.clip(score - score[:, :1], -cap, cap))


def stand_kinds(stands: pd.DataFrame, walk: Walk, settings: RoundSettings) -> Floats:
    """
    Say what every stand of a round is likely to be.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands as `geo.stops.find_stops` gives them, m rows.
    walk : tuple of numpy.ndarray, each shape (n,)
        Time [s], east and north [m] of the walk.
    settings : RoundSettings
        The usual dwell of a stroke.

    Returns
    -------
    numpy.ndarray, shape (m, 4)
        Log-likelihood ratio of each of `KINDS` against the first.
    """
    own, both, shares = stand_laws()
    features = own_features(stands, walk, settings)
    first = kind_scores(features, own, shares, CAPS[0])
    return kind_scores(np.hstack([features, context_features(stands, first)]), both, shares, CAPS[1])


def _visit(stands: pd.DataFrame, walk: Walk, radius_m: float) -> tuple[Floats, Floats]:
    """How long the player stayed within a circle around each stand [s], and the way walked in it [m]."""
    time, east, north = walk
    gone = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(east), np.diff(north)))])
    spans = np.empty((len(stands), 2))
    columns = ("start_s", "end_s", "east_m", "north_m")
    for row, (start, end, x, y) in enumerate(stands[list(columns)].to_numpy(dtype=float)):
        low, high = np.searchsorted(time, [start - _VISIT_S, start])
        before = np.flatnonzero(np.hypot(east[low:high] - x, north[low:high] - y) > radius_m)
        spans[row, 0] = time[low + before[-1]] if before.size else time[min(low, time.size - 1)]
        low, high = np.searchsorted(time, [end, end + _VISIT_S])
        after = np.flatnonzero(np.hypot(east[low:high] - x, north[low:high] - y) > radius_m)
        spans[row, 1] = time[low + after[0]] if after.size else time[max(high - 1, 0)]
    way = np.interp(spans, time, gone)
    return spans[:, 1] - spans[:, 0], way[:, 1] - way[:, 0]


@cache
def stand_laws() -> tuple[Floats, Floats, Floats]:
    """Weights by a stand's own features, by these and its neighbours, and how common each kind is."""
    text = resources.files("trackgolf").joinpath("data/guess_weights.json").read_text(encoding="utf-8")
    record = json.loads(text)["stands"]
    own, both, shares = (np.array(record[name], dtype=float) for name in ("own", "with_neighbours", "shares"))
    if len(own) != len(FEATURES) + 6:
        raise ValueError("the weights of guessed stands do not fit the features")
    return own, both, shares
