"""Path length between two times, position along and across a line, offsets from a target. All in metres."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from geo._positions import FloatArray, Floats, broadcast, like_input
from geo.errors import InputError

__all__ = ["along_across", "offsets_from_target", "path_length_m", "point_at"]


def path_length_m(
    time_s: npt.ArrayLike,
    east_m: npt.ArrayLike,
    north_m: npt.ArrayLike,
    start_s: npt.ArrayLike,
    end_s: npt.ArrayLike,
    *,
    part: npt.ArrayLike | None = None,
) -> Floats:
    """
    Measure the walked path between two times.

    Follows the positions from one to the next in straight steps; both ends
    are interpolated between the two positions around them. Give smoothed
    positions: the length of raw ones is far too long, because their error
    is walked too.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times of the positions, strictly increasing [s].
    east_m, north_m : array_like, shape (n,)
        Positions [m].
    start_s, end_s : array_like, shape (k,) or scalar
        From when to when [s], broadcast against each other.
    part : array_like of int, shape (n,), optional
        Part of the walked path each position belongs to, as made by
        `geo.gaps.split_parts`; the step from one part to the next is a gap
        with movement. Without it the whole is one part.

    Returns
    -------
    float or numpy.ndarray, shape (k,)
        Length [m]. NaN where a gap with movement lies between the two times,
        where a time is unknown or lies outside the recording, where the end
        comes before the start, and where a position on the way is NaN.

    Raises
    ------
    InputError
        If the times do not increase or the arrays differ in length.

    Examples
    --------
    >>> path_length_m([0.0, 10.0, 20.0], [0.0, 10.0, 10.0], [0.0, 0.0, 10.0], 5.0, 15.0)
    10.0
    """
    time, east, north = _columns(time_s, east_m, north_m)
    (start, end), shape = broadcast(start_s, end_s)
    if not time.size:
        return like_input(np.full(start.size, np.nan), shape)
    step_m = np.hypot(np.diff(east), np.diff(north))
    broken = np.isnan(step_m)
    if part is not None:
        parts = np.asarray(part)
        if parts.shape != time.shape:
            raise InputError(f"{parts.size} part numbers for {time.size} positions")
        broken |= np.diff(parts) != 0
    length_m = np.concatenate([[0.0], np.cumsum(np.where(broken, 0.0, step_m))])
    walked_m = np.interp(end, time, length_m) - np.interp(start, time, length_m)
    # A broken step lies between the two times if it begins before the end and ends after the start.
    begun = np.searchsorted(time[:-1][broken], end, side="left")
    ended = np.searchsorted(time[1:][broken], start, side="right")
    known = (start >= time[0]) & (end <= time[-1]) & (start <= end) & (begun <= ended)
    return like_input(np.where(known, walked_m, np.nan), shape)


def along_across(
    line_xy: npt.ArrayLike, east_m: npt.ArrayLike, north_m: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """
    Say how far along a line and how far to its side positions lie.

    Parameters
    ----------
    line_xy : array_like, shape (n, 2)
        Corners of the line in their order, metres east and north [m].
    east_m, north_m : array_like, shape (k,) or scalar
        Positions [m].

    Returns
    -------
    along_m : float or numpy.ndarray, shape (k,)
        Distance along the line to the place nearest to the position [m].
        Before the start it is negative, and past the end longer than the
        line, as if the first and the last leg went on for ever.
    across_m : float or numpy.ndarray, shape (k,)
        Distance from that place, positive to the right [m].

    Raises
    ------
    InputError
        If the line has fewer than two different corners.

    Notes
    -----
    NaN in a position gives NaN in its row. Where two places of the line are
    equally near, the earlier one counts.

    Examples
    --------
    >>> along_across([(0.0, 0.0), (0.0, 100.0), (100.0, 100.0)], 5.0, 40.0)
    (40.0, 5.0)
    """
    corners, leg_m, unit = _legs(line_xy)
    (east, north), shape = broadcast(east_m, north_m)
    along = np.full(east.size, np.nan)
    across = np.full(east.size, np.nan)
    nearest_m = np.full(east.size, np.inf)
    station = 0.0
    last = leg_m.size - 1
    for leg in range(leg_m.size):
        from_e, from_n = east - corners[leg, 0], north - corners[leg, 1]
        ahead = from_e * unit[leg, 0] + from_n * unit[leg, 1]
        right = from_e * unit[leg, 1] - from_n * unit[leg, 0]
        held = np.clip(ahead, 0.0, leg_m[leg])
        away_m = np.hypot(ahead - held, right)
        # Only a position whose nearest place is an end of the whole line goes on past that end.
        beyond = ((ahead < 0.0) & (leg == 0)) | ((ahead > leg_m[leg]) & (leg == last))
        better = away_m < nearest_m
        nearest_m = np.where(better, away_m, nearest_m)
        along = np.where(better, station + np.where(beyond, ahead, held), along)
        across = np.where(better, np.where(beyond, right, np.copysign(away_m, right)), across)
        station += leg_m[leg]
    return like_input(along, shape), like_input(across, shape)


def point_at(line_xy: npt.ArrayLike, along_m: npt.ArrayLike) -> tuple[Floats, Floats]:
    """
    Find the position a distance along a line.

    Parameters
    ----------
    line_xy : array_like, shape (n, 2)
        Corners of the line in their order, metres east and north [m].
    along_m : array_like, shape (k,) or scalar
        Distance from the start of the line [m]; beyond either end the first
        or last leg goes on.

    Returns
    -------
    east_m, north_m : float or numpy.ndarray, shape (k,)
        The position [m].

    Raises
    ------
    InputError
        If the line has fewer than two different corners.

    Examples
    --------
    >>> point_at([(0.0, 0.0), (0.0, 100.0), (100.0, 100.0)], 130.0)
    (30.0, 100.0)
    """
    corners, leg_m, unit = _legs(line_xy)
    (along,), shape = broadcast(along_m)
    station = np.concatenate([[0.0], np.cumsum(leg_m)])
    leg = np.clip(np.searchsorted(station, along, side="right") - 1, 0, leg_m.size - 1)
    ahead = along - station[leg]
    east = corners[leg, 0] + ahead * unit[leg, 0]
    north = corners[leg, 1] + ahead * unit[leg, 1]
    return like_input(east, shape), like_input(north, shape)


def offsets_from_target(
    start_xy: npt.ArrayLike, target_xy: npt.ArrayLike, end_xy: npt.ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """
    Split the way from a target to an end into along and across.

    Parameters
    ----------
    start_xy : array_like, shape (n, 2) or (2,)
        Where it began, metres east and north [m].
    target_xy : array_like, shape (n, 2) or (2,)
        Where it was meant to end [m].
    end_xy : array_like, shape (n, 2) or (2,)
        Where it ended [m].

    Returns
    -------
    long_m : float or numpy.ndarray, shape (n,)
        Along the line from start to target, positive past the target [m].
    right_m : float or numpy.ndarray, shape (n,)
        Across that line, positive to the right seen from the start [m].
    miss_m : float or numpy.ndarray, shape (n,)
        Distance from target to end [m].

    Notes
    -----
    NaN gives NaN in its row. Where start and target coincide there is no
    line: along and across are NaN, the distance is not.

    Examples
    --------
    >>> offsets_from_target((0.0, 0.0), (0.0, 100.0), (4.0, 97.0))
    (-3.0, 4.0, 5.0)
    """
    start = np.asarray(start_xy, dtype=np.float64)
    target = np.asarray(target_xy, dtype=np.float64)
    end = np.asarray(end_xy, dtype=np.float64)
    (line_e, line_n, off_e, off_n), shape = broadcast(
        target[..., 0] - start[..., 0],
        target[..., 1] - start[..., 1],
        end[..., 0] - target[..., 0],
        end[..., 1] - target[..., 1],
    )
    line_m = np.hypot(line_e, line_n)
    line_m = np.where(line_m > 0.0, line_m, np.nan)
    long_m = (off_e * line_e + off_n * line_n) / line_m
    right_m = (off_e * line_n - off_n * line_e) / line_m
    return like_input(long_m, shape), like_input(right_m, shape), like_input(np.hypot(off_e, off_n), shape)


def _columns(
    time_s: npt.ArrayLike, east_m: npt.ArrayLike, north_m: npt.ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    time, east, north = (np.asarray(values, dtype=np.float64) for values in (time_s, east_m, north_m))
    if not time.shape == east.shape == north.shape or time.ndim != 1:
        raise InputError(f"times and positions differ in length: {time.shape}, {east.shape}, {north.shape}")
    if not np.all(np.diff(time) > 0.0):
        raise InputError("the times of a path do not increase", do="Sort it and drop repeated times")
    return time, east, north


def _legs(line_xy: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give corners, length and direction of each leg; corners said twice in a row are one."""
    line = np.asarray(line_xy, dtype=np.float64)
    if line.ndim != 2 or line.shape[1] < 2 or not np.isfinite(line[:, :2]).all():
        raise InputError("a line needs corners with two finite numbers each")
    line = line[:, :2]
    moves = np.any(np.diff(line, axis=0) != 0.0, axis=1)
    corners = np.concatenate([line[:1], line[1:][moves]])
    if len(corners) < 2:
        raise InputError("a line needs two different corners")
    leg = np.diff(corners, axis=0)
    leg_m = np.hypot(leg[:, 0], leg[:, 1])
    return corners, leg_m, leg / leg_m[:, None]
