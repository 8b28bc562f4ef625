"""Heights along a walk: how wrong the differences between two moments are, told by places that were visited again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from geo.errors import InputError

__all__ = ["HeightError", "HeightSettings", "find_height_error", "heights_of_stands"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class HeightSettings:
    """
    How the error of heights is found.

    Attributes
    ----------
    step_s : float
        The walk is looked at in steps this long, each with the mean of its positions and heights [s]. Common practice, no source.
    near_m : float
        Two positions no farther apart are the same place [m]: the error of two positions of a watch or phone.
    edges_s : tuple of float
        Edges of the spells between two visits to a place [s]: from a wait at a ball to a whole round.
    meeting_s : float
        Pairs of steps within the same two spells this long are one meeting [s], for neighbours have the same error.
    fewest : int
        Meetings that a spell needs to be judged by. Common practice, no source: the standard error of a standard
        deviation of eight is a quarter of it.
    floor_m : float
        No height is taken to be truer [m]: how high a wrist or a bag hangs.
    lowest_m, highest_m : float
        Heights beyond these are none [m]; wider than the land of the earth.
    """

    step_s: float = 10.0
    near_m: float = 5.0
    edges_s: tuple[float, ...] = (60.0, 180.0, 600.0, 1800.0, 5400.0, 28800.0)
    meeting_s: float = 120.0
    fewest: int = 8
    floor_m: float = 0.5
    lowest_m: float = -500.0
    highest_m: float = 9000.0


@dataclass(frozen=True)
class HeightError:
    """
    How wrong differences of heights are, by the time between them.

    Attributes
    ----------
    until_s : numpy.ndarray, shape (k,)
        Ends of the spells that could be judged, ascending [s].
    sigma_m : numpy.ndarray, shape (k,)
        Standard error of a difference over no more than so long [m].
    meetings : int
        How many meetings it rests on.
    """

    until_s: Floats
    sigma_m: Floats
    meetings: int

    def of_rise(self, apart_s: ArrayLike) -> Floats:
        """
        Say how wrong differences are.

        Parameters
        ----------
        apart_s : array_like, shape (n,)
            Time between the two moments [s].

        Returns
        -------
        numpy.ndarray, shape (n,)
            Standard errors [m]; NaN where nothing was seen over so long or longer.
        """
        apart = np.asarray(apart_s, dtype=float)
        # An error that drifts grows with time, so that a longer spell is never too bold a judge of a shorter one.
        place = np.searchsorted(self.until_s, apart, side="left")
        found: Floats = np.append(self.sigma_m, np.nan)[
            np.where(np.isfinite(apart), place, len(self.sigma_m))
        ]
        return found


def find_height_error(
    time_s: ArrayLike,
    east_m: ArrayLike,
    north_m: ArrayLike,
    ele_m: ArrayLike,
    settings: HeightSettings | None = None,
) -> HeightError:
    """
    Find how wrong the height differences of a recording are.

    Nobody knows whether a file's heights come from a barometer, from satellites or from a map. Where the walker came
    back to a place they should be the same, and what they differ by is the error, with what the ground rises within
    `near_m` on top, so that it is never thought too small.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times, ascending [s].
    east_m, north_m : array_like, shape (n,)
        Positions in a metric frame [m].
    ele_m : array_like, shape (n,)
        Recorded heights [m]; NaN unknown.
    settings : HeightSettings, optional
        How it is found.

    Returns
    -------
    HeightError
        Nothing in it where too few places were visited again.

    Raises
    ------
    InputError
        If the arrays differ in length.

    Examples
    --------
    >>> import numpy as np
    >>> time_s = np.arange(0.0, 3600.0, 5.0)
    >>> east_m = 100.0 * np.abs((time_s / 300.0) % 2 - 1)
    >>> error = find_height_error(time_s, east_m, 0 * east_m, 20 + 0.02 * east_m)
    >>> error.of_rise([240.0]).round(1).tolist()
    [0.7]
    """
    rules = settings or HeightSettings()
    time, east, north, ele = (np.asarray(one, dtype=float) for one in (time_s, east_m, north_m, ele_m))
    if not time.shape == east.shape == north.shape == ele.shape:
        raise InputError("times, positions and heights differ in length")
    known = _known(ele, rules) & np.isfinite(time) & np.isfinite(east) & np.isfinite(north)
    nothing = HeightError(np.empty(0), np.empty(0), 0)
    if known.sum() < 2 * rules.fewest:
        return nothing
    step = np.floor(time[known] / rules.step_s).astype(np.int64)
    begin = np.flatnonzero(np.append(True, np.diff(step) != 0))
    size = np.diff(np.append(begin, len(step)))
    places = np.column_stack([np.add.reduceat(one[known], begin) / size for one in (time, east, north, ele)])
    pairs = cKDTree(places[:, 1:3]).query_pairs(rules.near_m, output_type="ndarray")
    apart = np.abs(places[pairs[:, 1], 0] - places[pairs[:, 0], 0])
    pairs, apart = pairs[apart >= rules.edges_s[0]], apart[apart >= rules.edges_s[0]]
    if not len(pairs):
        return nothing
    square = (places[pairs[:, 1], 3] - places[pairs[:, 0], 3]) ** 2
    spell = np.digitize(apart, rules.edges_s) - 1
    when = np.sort(np.floor(places[pairs, 0] / rules.meeting_s).astype(np.int64), axis=1)
    _, meeting = np.unique(np.column_stack([spell, when]), axis=0, return_inverse=True)
    meeting = meeting.reshape(-1)
    size = np.bincount(meeting)
    mean = np.bincount(meeting, square) / size
    of_meeting = np.zeros(len(size), dtype=np.int64)
    of_meeting[meeting] = spell
    until, sigma, used = [], [], 0
    for place, end in enumerate(rules.edges_s[1:]):
        mine = mean[of_meeting == place]
        if len(mine) < rules.fewest:
            continue
        until.append(end)
        used += len(mine)
        # Few meetings may all have been lucky: what the variance is likely to be at most by one standard error.
        sigma.append(float(np.sqrt(mine.mean() * (1 + np.sqrt(2 / len(mine))) + 2 * rules.floor_m**2)))
    return HeightError(np.array(until), np.maximum.accumulate(np.array(sigma)), used)


def heights_of_stands(
    time_s: ArrayLike,
    ele_m: ArrayLike,
    start_s: ArrayLike,
    end_s: ArrayLike,
    settings: HeightSettings | None = None,
) -> Floats:
    """
    Take the height of each spell of standing.

    Parameters
    ----------
    time_s, ele_m : array_like, shape (n,)
        Times, ascending [s], and recorded heights [m]; NaN unknown.
    start_s, end_s : array_like, shape (m,)
        Beginnings and ends of the spells [s].
    settings : HeightSettings, optional
        Which heights are none.

    Returns
    -------
    numpy.ndarray, shape (m,)
        Median height of each spell, of the points nearest to it within `step_s` where it has none; NaN unknown [m].
    """
    rules = settings or HeightSettings()
    ele = np.asarray(ele_m, dtype=float)
    known = _known(ele, rules)
    time, ele = np.asarray(time_s, dtype=float)[known], ele[known]
    found = []
    for start, end in zip(np.asarray(start_s, dtype=float), np.asarray(end_s, dtype=float), strict=True):
        mine = slice(np.searchsorted(time, start, "left"), np.searchsorted(time, end, "right"))
        if mine.start == mine.stop:
            mine = slice(
                np.searchsorted(time, start - rules.step_s, "left"),
                np.searchsorted(time, end + rules.step_s, "right"),
            )
        found.append(float(np.median(ele[mine])) if mine.stop > mine.start else np.nan)
    return np.array(found)


def _known(ele: Floats, rules: HeightSettings) -> NDArray[np.bool_]:
    with np.errstate(invalid="ignore"):
        return (ele >= rules.lowest_m) & (ele <= rules.highest_m)
