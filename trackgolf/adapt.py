"""A player's own pace: what the decoder believes, moved towards what this round shows."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trackgolf.settings import RoundSettings

__all__ = ["adapt_pace"]

Floats = NDArray[np.float64]


def adapt_pace(
    stands: pd.DataFrame, shot_probability: Floats, tee_probability: Floats, settings: RoundSettings
) -> RoundSettings:
    """
    Move the usual lengths of stands towards those of this round.

    One step of expectation and maximisation with a prior: the medians in the settings count as much as
    `pace_weight` stands, every stand as much as it is likely to be a stroke from the tee, another stroke, or none.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands with `dwell_s`, m rows.
    shot_probability : numpy.ndarray, shape (m,)
        Probability that a stand is a stroke off the green.
    tee_probability : numpy.ndarray, shape (m,)
        Probability that it is the first of a hole, at most the former.
    settings : RoundSettings
        What was believed before.

    Returns
    -------
    RoundSettings
        The same with other medians of dwell.
    """
    dwell = np.log(np.maximum(stands["dwell_s"].to_numpy(dtype=float), 1.0))
    later = np.clip(shot_probability - tee_probability, 0.0, 1.0)
    shots = _median(dwell, later, settings.shot_dwell_s, settings)
    # Waiting belongs to others: only stands long enough not to be a halt at the bag, and unlikely to be strokes.
    rest = np.clip(1.0 - shot_probability, 0.0, 1.0) * (dwell > math.log(settings.halt_dwell_s) + 0.5)
    return replace(
        settings,
        shot_dwell_s=shots,
        tee_dwell_s=_median(dwell, tee_probability, settings.tee_dwell_s, settings),
        wait_dwell_s=_median(dwell, rest * 0.5, settings.wait_dwell_s, settings),
    )


def _median(log_dwell: Floats, weight: Floats, prior_s: float, settings: RoundSettings) -> float:
    total = settings.pace_weight + float(weight.sum())
    return math.exp((settings.pace_weight * math.log(prior_s) + float(weight @ log_dwell)) / total)
