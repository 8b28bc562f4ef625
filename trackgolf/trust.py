"""How sure each found shot is: the weight of all stories that have the same stroke, made to keep its word."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trackgolf.decode import Story
from trackgolf.settings import RoundSettings

__all__ = ["same_stroke_weight", "trusted"]

Floats = NDArray[np.float64]


def same_stroke_weight(
    story: Story, shot_probability: Floats, stands: pd.DataFrame, settings: RoundSettings
) -> Floats:
    """
    Add up, for each shot of the story, the probabilities of the stands where the same stroke may have been played.

    Somebody who stands at the bag and then at the ball leaves two stands for one stroke: stories that take the one
    or the other agree on the shot.

    Parameters
    ----------
    story : Story
        What `trackgolf.decode.best_story` found.
    shot_probability : numpy.ndarray, shape (m, h)
        From `trackgolf.decode.probabilities`.
    stands : pandas.DataFrame
        The m stands.
    settings : RoundSettings
        How near two stands must be for one stroke.

    Returns
    -------
    numpy.ndarray, shape (m, h)
        The same table with the entries of the story's shots raised, at most to 1.
    """
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    stroke = np.maximum(end - settings.watch_s, 0.5 * (start + end))
    shots = [event for event in story.events if event.kind == "shot"]
    chosen = np.zeros(shot_probability.shape, dtype=bool)
    for event in shots:
        chosen[event.stand, event.hole] = True
    table = shot_probability.copy()
    for event in shots:
        i, h = event.stand, event.hole
        apart_s = np.abs(stroke - stroke[i])
        apart_m = np.hypot(east - east[i], north - north[i])
        same = (apart_s <= settings.same_stroke_s) | (
            (apart_m <= settings.same_stroke_m) & (apart_s <= 3.0 * settings.same_stroke_s)
        )
        same &= ~chosen[:, h]
        table[i, h] = min(1.0, shot_probability[i, h] + float(shot_probability[same, h].sum()))
    return table


def trusted(weight: Floats, settings: RoundSettings) -> Floats:
    """
    Turn the weight of the evidence into the share of such shots that are shots.

    Logistic recalibration: a straight line on the log-odds, below a most.

    Parameters
    ----------
    weight : numpy.ndarray
        Probabilities as the decoder adds them up.
    settings : RoundSettings
        The line, fitted on tuning rounds.

    Returns
    -------
    numpy.ndarray
        Probabilities of the same shape.

    References
    ----------
    .. [1] J. Platt, "Probabilistic outputs for support vector machines and comparisons to regularized likelihood
       methods," Advances in Large Margin Classifiers, 1999.
    """
    odds = np.clip(weight, 1e-4, 1.0 - 1e-4)
    line = settings.trust_offset + settings.trust_slope * np.log(odds / (1.0 - odds))
    sure: Floats = settings.trust_most / (1.0 + np.exp(-line))
    return sure
