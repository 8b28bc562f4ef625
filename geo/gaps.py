"""Recording gaps: the ones that are a rest, and the ones in which the path is unknown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from geo.errors import InputError

__all__ = ["GapSettings", "find_gaps", "split_parts"]


@dataclass(frozen=True, slots=True)
class GapSettings:
    """
    When a step between two positions counts as a gap, and as which kind.

    Parameters
    ----------
    still_gap_s : float, default 10
        A longer step with little movement is a rest [s]. Many watches stop
        logging while the wearer stands: in a real 1 Hz walk 70 gaps of more
        than 5 s moved 3.7 m at most. Common practice, no source.
    moving_gap_s : float, default 30
        A longer step with movement is a gap in the path [s]; shorter ones are
        joined by a straight line. Common practice, no source.
    steps : float, default 3
        Neither kind is shorter than this many median steps of the recording,
        so that a slow recorder is not all gaps. Common practice, no source.
    still_move_m : float, default 10
        Little movement is at most this far [m]: two positions of one place,
        each good to 3 m a side, lie within 2.4477 * sqrt(2) * 3 = 10.4 m of
        each other 95 times in 100 (chi-square, two degrees of freedom).
    still_speed_mps : float, default 0.4
        And at most this fast [m/s]: half of a slow walk, 0.82 m/s (Murtagh et
        al., Sports Medicine 51, 2021).

    Raises
    ------
    InputError
        If a value is not a positive number.
    """

    still_gap_s: float = 10.0
    moving_gap_s: float = 30.0
    steps: float = 3.0
    still_move_m: float = 10.0
    still_speed_mps: float = 0.4

    def __post_init__(self) -> None:
        for name in self.__slots__:
            if not getattr(self, name) > 0.0:
                raise InputError(
                    f"{name} is {getattr(self, name)!r}", "gap settings", "Give a positive number"
                )


_DEFAULT = GapSettings()


def find_gaps(
    time_s: npt.ArrayLike,
    east_m: npt.ArrayLike,
    north_m: npt.ArrayLike,
    *,
    segment: npt.ArrayLike | None = None,
    settings: GapSettings = _DEFAULT,
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """
    Tell for each step between two positions whether it is a gap.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times, strictly increasing [s].
    east_m, north_m : array_like, shape (n,)
        Positions [m]; a row with NaN is looked through, from the known
        position before it to the one after.
    segment : array_like of int, shape (n,), optional
        Segment of the recording. A new one begins where reception was lost,
        so that any step into one that is no rest is a gap with movement.
    settings : GapSettings, optional
        The thresholds.

    Returns
    -------
    still : numpy.ndarray of bool, shape (n - 1,)
        The step belongs to a gap with little movement: a rest.
    moving : numpy.ndarray of bool, shape (n - 1,)
        The step belongs to a gap with movement: the path is unknown.

    Raises
    ------
    InputError
        If the times do not increase or the arrays differ in length.

    Examples
    --------
    >>> still, moving = find_gaps([0, 1, 2, 62, 63, 123], [0, 1, 2, 4, 5, 90], [0, 0, 0, 0, 0, 0])
    >>> still.tolist()
    [False, False, True, False, False]
    >>> moving.tolist()
    [False, False, False, False, True]
    """
    time, east, north = (np.asarray(values, dtype=np.float64) for values in (time_s, east_m, north_m))
    if not time.shape == east.shape == north.shape or time.ndim != 1:
        raise InputError(f"times and positions differ in length: {time.shape}, {east.shape}, {north.shape}")
    if not np.all(np.diff(time) > 0.0):
        raise InputError("the times of a recording do not increase", do="Sort it and drop repeated times")
    steps = max(time.size - 1, 0)
    rows = np.flatnonzero(np.isfinite(east) & np.isfinite(north))
    if rows.size < 2:
        return np.zeros(steps, dtype=bool), np.zeros(steps, dtype=bool)
    step_s = np.diff(time[rows])
    moved_m = np.hypot(np.diff(east[rows]), np.diff(north[rows]))
    usual_s = settings.steps * float(np.median(step_s))
    little = (moved_m <= settings.still_move_m) & (moved_m <= settings.still_speed_mps * step_s)
    long = step_s > max(settings.moving_gap_s, usual_s)
    if segment is not None:
        long |= np.diff(np.asarray(segment)[rows]) != 0
    still = little & (step_s > max(settings.still_gap_s, usual_s))
    moving = ~little & long
    # Steps before the first and after the last known position belong to no gap.
    owner = np.searchsorted(rows, np.arange(steps), side="right") - 1
    inside = (owner >= 0) & (owner < rows.size - 1)
    owner = np.where(inside, owner, 0)
    return still[owner] & inside, moving[owner] & inside


def split_parts(
    time_s: npt.ArrayLike,
    east_m: npt.ArrayLike,
    north_m: npt.ArrayLike,
    *,
    segment: npt.ArrayLike | None = None,
    settings: GapSettings = _DEFAULT,
) -> npt.NDArray[np.int64]:
    """
    Number the parts of a walked path between its gaps with movement.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times, strictly increasing [s].
    east_m, north_m : array_like, shape (n,)
        Positions [m].
    segment : array_like of int, shape (n,), optional
        Segment of the recording, as in `find_gaps`.
    settings : GapSettings, optional
        The thresholds.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Number of the part each position belongs to, from 0. A rest does not
        begin a new part.

    Raises
    ------
    InputError
        If the times do not increase or the arrays differ in length.

    Examples
    --------
    >>> split_parts([0, 1, 2, 62, 63, 123], [0, 1, 2, 4, 5, 90], [0, 0, 0, 0, 0, 0]).tolist()
    [0, 0, 0, 0, 0, 1]
    """
    _, moving = find_gaps(time_s, east_m, north_m, segment=segment, settings=settings)
    # Of the steps through unknown rows only the last one counts, else one gap would begin several parts.
    begins = moving & np.isfinite(np.asarray(east_m, dtype=np.float64)[1:])
    begins &= np.isfinite(np.asarray(north_m, dtype=np.float64)[1:])
    if not np.size(time_s):
        return np.zeros(0, dtype=np.int64)
    return np.concatenate([[0], np.cumsum(begins)]).astype(np.int64)
