"""How much higher or lower each shot ended than it began, where the recording's heights are worth something."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from geo.heights import find_height_error, heights_of_stands
from trackgolf.shots import Walk

__all__ = ["add_rises"]


def add_rises(shots: pd.DataFrame, stands: pd.DataFrame, walk: Walk, ele_m: ArrayLike) -> pd.DataFrame:
    """
    Put beside each shot how much higher it ended, and how sure that is.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots as `trackgolf.shots.lay_out_shots` makes them.
    stands : pandas.DataFrame
        The stands they were played from.
    walk : Walk
        The walk, with times and places of the points.
    ele_m : array_like, shape (n,)
        Recorded height of each point [m]; NaN unknown.

    Returns
    -------
    pandas.DataFrame
        The shots with `rise_m`, height of the end above the start [m], and `rise_sigma_m`, its standard error [m];
        both NaN where there are no heights, where the end was not seen, or where nothing tells how wrong they are.
    """
    table = shots.assign(rise_m=np.nan, rise_sigma_m=np.nan)
    if table.empty or not np.isfinite(np.asarray(ele_m, dtype=float)).any():
        return table
    error = find_height_error(walk.time_s, walk.east_m, walk.north_m, ele_m)
    if not error.meetings:
        return table
    height = heights_of_stands(walk.time_s, ele_m, stands["start_s"], stands["end_s"])
    middle = 0.5 * (stands["start_s"] + stands["end_s"]).to_numpy(dtype=float)
    start, end = table["stand"].to_numpy(dtype=int), table["end_stand"].to_numpy(dtype=int)
    rise = height[end] - height[start]
    sigma = error.of_rise(np.abs(middle[end] - middle[start]))
    known = np.isfinite(rise) & np.isfinite(sigma) & np.isfinite(table["distance_m"].to_numpy(dtype=float))
    return table.assign(rise_m=np.where(known, rise, np.nan), rise_sigma_m=np.where(known, sigma, np.nan))
