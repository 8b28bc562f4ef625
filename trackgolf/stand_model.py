"""What a stand looks like: measured features of the stand, the walk around it and its neighbours."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

__all__ = ["FEATURES", "stand_features"]

Floats = NDArray[np.float64]

# Name: meaning. Every one is a plain measurement on the stand, the walk around it, or its neighbours in time;
# logarithms are natural, lengths in metres and times in seconds before the logarithm is taken.
FEATURES: dict[str, str] = {
    "constant": "one",
    "dwell": "logarithm of the dwell against the usual dwell of a stroke",
    "dwell_short": "how far that lies below -1",
    "dwell_long": "how far it lies above 0.5",
    "restless": "logarithm of the spread against that of somebody who does not move",
    "restless_much": "how far that lies above 0.3",
    "near_before": "a stand just before and close by, 0 to 1",
    "near_after": "a stand just after and close by, 0 to 1",
    "longer_before": "the near stand before was longer (1) or shorter (-1)",
    "longer_after": "the near stand after was longer (1) or shorter (-1)",
    "straight_15": "cosine of the turn between the last and the next 15 s of the walk",
    "straight_40": "the same over 40 s",
    "turning": "product of these two",
    "apart_before": "logarithm of the distance from the stand before, over 30 m",
    "apart_before_far": "how far that lies above 1",
    "apart_after": "logarithm of the distance to the stand after, over 30 m",
    "apart_after_far": "how far that lies above 1",
    "into_40": "distance covered in the 40 s before, over 40 m",
    "out_40": "distance covered in the 40 s after, over 40 m",
    "pace_before": "straight speed from the stand before, over 1.25 m/s",
    "pace_after": "straight speed to the stand after, over 1.25 m/s",
    "dwell_near": "dwell where a stand is near on either side",
    "dwell_apart": "dwell by distance to the stand after",
    "dwell_straight": "dwell by the turn over 40 s",
    "restless_dwell": "restlessness by dwell",
    "pause_before": "logarithm of the time since the stand before, over 30 s",
    "pause_after": "logarithm of the time to the stand after, over 30 s",
    "dwell_before": "logarithm of the dwell before against the usual one",
    "dwell_after": "logarithm of the dwell after against the usual one",
}

# Two stands within about this distance [m] and time [s] belong to one errand, such as the bag and then the ball.
# Common practice, no source.
_NEAR_M, _NEAR_S = 15.0, 40.0
_WALK_MPS = 1.25


def stand_features(stands: pd.DataFrame, walk: tuple[Floats, Floats, Floats], usual_dwell_s: float) -> Floats:
    """
    Measure every stand and what surrounds it.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands as `geo.stops.find_stops` gives them, m rows.
    walk : tuple of numpy.ndarray, each shape (n,)
        Time [s], east and north [m] of the walk.
    usual_dwell_s : float
        Usual dwell of a stroke in this round [s].

    Returns
    -------
    numpy.ndarray, shape (m, f)
        A column for each of `FEATURES`, in its order; all within a few units of zero.
    """
    size = len(stands)
    if size == 0:
        return np.zeros((0, len(FEATURES)))
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    dwell = np.clip(np.log(np.maximum(stands["dwell_s"].to_numpy(), 1.0) / usual_dwell_s), -3.0, 2.5)
    restless = np.clip(np.log(np.maximum(stands["restless"].to_numpy(), 0.05)), -1.5, 1.5)
    # The first and the last stand have nothing on one side: far away, long ago.
    apart = np.minimum(np.hypot(np.diff(east), np.diff(north)), 200.0)
    pause = np.clip(start[1:] - end[:-1], 1.0, 400.0)
    near = np.exp(-((apart / _NEAR_M) ** 2)) * np.exp(-pause / _NEAR_S)
    longer = near * np.tanh(np.diff(dwell))
    before, after = np.r_[0.0, near], np.r_[near, 0.0]
    far_before, far_after = np.r_[200.0, apart], np.r_[apart, 200.0]
    pause_before, pause_after = np.r_[400.0, pause], np.r_[pause, 400.0]
    log_before, log_after = np.log((far_before + 3.0) / 30.0), np.log((far_after + 3.0) / 30.0)
    straight_15, _, _ = _course(stands, walk, 15.0)
    straight_40, into_40, out_40 = _course(stands, walk, 40.0)
    columns = {
        "constant": np.ones(size),
        "dwell": dwell,
        "dwell_short": np.minimum(dwell + 1.0, 0.0),
        "dwell_long": np.maximum(dwell - 0.5, 0.0),
        "restless": restless,
        "restless_much": np.maximum(restless - 0.3, 0.0),
        "near_before": before,
        "near_after": after,
        "longer_before": np.r_[0.0, -longer],
        "longer_after": np.r_[longer, 0.0],
        "straight_15": straight_15,
        "straight_40": straight_40,
        "turning": straight_15 * straight_40,
        "apart_before": log_before,
        "apart_before_far": np.maximum(log_before - 1.0, 0.0),
        "apart_after": log_after,
        "apart_after_far": np.maximum(log_after - 1.0, 0.0),
        "into_40": np.minimum(into_40 / 40.0, 2.0),
        "out_40": np.minimum(out_40 / 40.0, 2.0),
        "pace_before": np.minimum(far_before / pause_before / _WALK_MPS, 2.0),
        "pace_after": np.minimum(far_after / pause_after / _WALK_MPS, 2.0),
        "dwell_near": dwell * np.maximum(before, after),
        "dwell_apart": dwell * log_after,
        "dwell_straight": dwell * straight_40,
        "restless_dwell": restless * dwell,
        "pause_before": np.log(pause_before / 30.0),
        "pause_after": np.log(pause_after / 30.0),
        "dwell_before": np.r_[0.0, dwell[:-1]],
        "dwell_after": np.r_[dwell[1:], 0.0],
    }
    return np.column_stack([columns[name] for name in FEATURES])


def _course(
    stands: pd.DataFrame, walk: tuple[Floats, Floats, Floats], spell_s: float
) -> tuple[Floats, Floats, Floats]:
    """Cosine of the turn between the way in and the way out, zero where hardly moved, and both lengths [m]."""
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    time, walk_east, walk_north = walk
    before, after = stands["start_s"].to_numpy() - spell_s, stands["end_s"].to_numpy() + spell_s
    into = east - np.interp(before, time, walk_east), north - np.interp(before, time, walk_north)
    out = np.interp(after, time, walk_east) - east, np.interp(after, time, walk_north) - north
    length_in, length_out = np.hypot(*into), np.hypot(*out)
    lengths = length_in * length_out
    cosine = (into[0] * out[0] + into[1] * out[1]) / np.maximum(lengths, 25.0)
    return np.where(lengths > 25.0, cosine, 0.0), length_in, length_out
