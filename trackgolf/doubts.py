"""Why a shot is doubtful: what else the track may show there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

__all__ = ["DOUBT_COLUMNS", "DoubtSettings", "find_doubts"]

DOUBT_COLUMNS = ("hole", "shot", "visit", "reason", "distance_m", "time_s", "share")


@dataclass(frozen=True, slots=True)
class DoubtSettings:
    """
    When a shot is explained, and by what. Common practice, no source.

    Attributes
    ----------
    below : float
        Shots less likely than this are explained; reports draw them as doubtful.
    other_share : float
        Another stand is named where it is at least this likely to have been the shot.
    short_sigmas : float
        A shot shorter than this many standard errors of its two ends may be no more than their error.
    short_stand_s : float
        Who stands shorter than this hardly plays a stroke [s].
    """

    below: float = 0.6
    other_share: float = 0.15
    short_sigmas: float = 3.0
    short_stand_s: float = 12.0


def find_doubts(
    shots: pd.DataFrame, stands: pd.DataFrame, settings: DoubtSettings = DoubtSettings()
) -> pd.DataFrame:
    """
    Say why each doubtful shot is doubtful.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots of a round, as `trackgolf.shots` makes them.
    stands : pandas.DataFrame
        The stands they were chosen from, with `shot_probability`.
    settings : DoubtSettings, optional
        Which shots, and what counts as a reason.

    Returns
    -------
    pandas.DataFrame
        Columns `DOUBT_COLUMNS`. `reason` is ``other_stand`` (another stand may have been the shot instead:
        how far away, how likely), ``within_error`` (the shot is no longer than the error of its ends: its length
        and that error), ``short_stand`` (the player stood only so long) or ``no_shot`` (there may have been no
        stroke at all; stood so long). Up to two reasons a shot.
    """
    rows: list[dict[str, Any]] = []
    east, north = stands["east_m"].to_numpy(dtype=float), stands["north_m"].to_numpy(dtype=float)
    share = stands["shot_probability"].to_numpy(dtype=float)
    dwell = stands["dwell_s"].to_numpy(dtype=float)
    taken = shots["stand"].to_numpy(dtype=int)
    ends = shots["end_stand"].to_numpy(dtype=int)
    visits = shots["visit"].to_numpy(dtype=int)
    for place, shot in enumerate(shots.to_dict("records")):
        if not float(shot["confidence"]) < settings.below:
            continue
        stand = int(shot["stand"])
        key = {"hole": shot["hole"], "shot": shot["shot"], "visit": shot["visit"]}
        # Stands before it count from the shot before, or from where that finished if it was on another hole.
        low = 0 if not place else int((taken if visits[place] == visits[place - 1] else ends)[place - 1]) + 1
        high = max(int(ends[place]), stand + 1)
        others = [i for i in range(low, high) if i != stand and i not in taken]
        best = max(others, key=lambda i: share[i], default=None)
        found = []
        if best is not None and share[best] >= settings.other_share:
            apart_m = float(np.hypot(east[best] - east[stand], north[best] - north[stand]))
            found.append({"reason": "other_stand", "distance_m": apart_m, "share": float(share[best])})
        error_m = float(np.hypot(shot["sigma_m"], shot["end_sigma_m"]))
        if float(shot["distance_m"]) < settings.short_sigmas * error_m:
            found.append({"reason": "within_error", "distance_m": error_m})
        if dwell[stand] < settings.short_stand_s:
            found.append({"reason": "short_stand", "time_s": float(dwell[stand])})
        if not found:
            found.append({"reason": "no_shot", "time_s": float(dwell[stand])})
        rows += [{**key, **reason} for reason in found[:2]]
    return pd.DataFrame(rows, columns=list(DOUBT_COLUMNS))
