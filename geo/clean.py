"""Impossible jumps and far-away points taken out of a track, with a word on what was changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from geo._positions import FloatArray
from geo.errors import InputError
from geo.frame import LocalFrame
from geo.gaps import split_parts

__all__ = ["CleanResult", "CleanSettings", "keep_near", "remove_jumps", "split_parts"]

# Stands for a distance the frame has no number for: a quarter of the earth away.
_FAR_M = 2e7
# Three times the speed of a jump, 36 m/s, is no drive on a road either, and worth a word. Common practice, no source.
_DRIVE = 3.0


@dataclass(frozen=True, slots=True)
class CleanSettings:
    """
    What counts as an impossible jump.

    Parameters
    ----------
    speed_mps : float, default 12
        Steps faster than this are jumps, unless the track goes on like that
        [m/s]. A cart does about 8 m/s, a sprinter's mean over 100 m is 10.4
        (9.58 s); common practice, no source.
    slack_m : float, default 10
        Added to what the speed allows in a step [m]: both ends err. Two
        positions each good to 3 m a side are rarely further apart by their
        error alone, 2.4477 * sqrt(2) * 3 = 10.4 m (chi-square).
    excursion_s : float, default 120
        Recorded time for which a receiver may be elsewhere and still be held
        to be wrong when it comes back [s]; what stays longer is kept.
        Common practice, no source.
    detour : float, default 0.5
        An excursion at a speed above the limit leads back: the way past it is
        shorter than this share of the way there and back. A vehicle driving
        off never is. Common practice, no source.

    Raises
    ------
    InputError
        If a value is not a positive number.
    """

    speed_mps: float = 12.0
    slack_m: float = 10.0
    excursion_s: float = 120.0
    detour: float = 0.5
    shortcut: float = 0.8

    def __post_init__(self) -> None:
        for name in self.__slots__:
            if not getattr(self, name) > 0.0:
                raise InputError(
                    f"{name} is {getattr(self, name)!r}", "clean settings", "Give a positive number"
                )


@dataclass(frozen=True, slots=True)
class CleanResult:
    """
    A cleaned track and what was done to it.

    Parameters
    ----------
    points : pandas.DataFrame
        The points that were kept, in their order, with all their columns.
    dropped : dict of str to int
        Points taken out, by reason: ``jump``.
    notes : tuple of str
        What was changed or doubted, a sentence each.
    """

    points: pd.DataFrame
    dropped: dict[str, int]
    notes: tuple[str, ...]


_DEFAULT = CleanSettings()


def remove_jumps(points: pd.DataFrame, settings: CleanSettings = _DEFAULT) -> CleanResult:
    """
    Take out the points where the receiver was briefly somewhere else.

    The track is cut at every step that is too fast. Of the pieces, the ones
    are kept that cost least: a second of track left out costs a second, a
    step kept that is too fast costs half of `excursion_s`. So a short
    excursion goes, there and back; a piece that lasts stays, wherever it
    lies, because a receiver that finds itself anew was wrong before.

    Parameters
    ----------
    points : pandas.DataFrame
        Columns ``time`` (zone-aware), ``lon_deg`` and ``lat_deg`` [deg],
        strictly increasing in time; other columns are carried along.
    settings : CleanSettings, optional
        What counts as a jump.

    Returns
    -------
    CleanResult
        The points kept, how many were not, and notes.

    Raises
    ------
    InputError
        If a column is missing, times do not increase or are unknown, or a
        position is not on earth.

    Notes
    -----
    Gradual excursions at walking speed cannot be told from walking here;
    `geo.smooth` gives them less weight. Points without a position are kept.
    """
    missing = [name for name in ("time", "lon_deg", "lat_deg") if name not in points.columns]
    if missing:
        raise InputError(f"a track table has no column {', '.join(missing)}")
    lon = points["lon_deg"].to_numpy(dtype=np.float64)
    lat = points["lat_deg"].to_numpy(dtype=np.float64)
    rows = np.flatnonzero(np.isfinite(lon) & np.isfinite(lat))
    if points["time"].isna().any():
        raise InputError("a point of a track table has no time")
    since = points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64)
    time = (since - since[:1]).astype(np.float64) / 1e9
    if not np.all(np.diff(time) > 0.0):
        raise InputError("the times of a track do not increase", do="Sort it and drop repeated times")
    if rows.size < 2:
        return CleanResult(points.reset_index(drop=True), {}, ())
    east, north = LocalFrame.around(lon[rows], lat[rows]).to_metres(lon[rows], lat[rows])
    xy = np.column_stack([np.nan_to_num(east, nan=_FAR_M), np.nan_to_num(north, nan=_FAR_M)])
    keep, left_m = _without_excursions(time[rows], xy, settings)

    kept = np.ones(len(points), dtype=bool)
    kept[rows[~keep]] = False
    dropped = int(np.sum(~keep))
    notes = []
    if dropped:
        notes.append(
            f"left out {dropped} of {len(points)} points where the receiver jumped away and came back or began elsewhere"
        )
    if left_m.size:
        longest = _length(float(left_m.max()))
        jumps = f"a jump of {longest}" if left_m.size == 1 else f"{left_m.size} jumps of up to {longest}"
        notes.append(f"kept {jumps} after which the track went on from the new place")
    return CleanResult(
        points[kept].reset_index(drop=True), {"jump": dropped} if dropped else {}, tuple(notes)
    )


def keep_near(points: pd.DataFrame, geometry: Any, margin_m: float = 150.0) -> pd.DataFrame:
    """
    Keep the points within a margin of a place; the way home is nobody's business.

    Parameters
    ----------
    points : pandas.DataFrame
        Columns ``lon_deg`` and ``lat_deg`` [deg]; others are carried along.
    geometry : shapely.Geometry or iterable of shapely.Geometry
        What the place consists of, longitude and latitude [deg]; None and
        empty ones are skipped.
    margin_m : float, default 150
        How far from it a point may lie [m]. Common practice, no source.

    Returns
    -------
    pandas.DataFrame
        The points that lie near, in their order, renumbered; points without a
        position are not near.

    Raises
    ------
    InputError
        If there is no geometry or a position is not on earth.
    """
    shapes = [
        shape for shape in np.atleast_1d(np.asarray(geometry, dtype=object)).ravel() if shape is not None
    ]
    corners = shapely.get_coordinates(shapes)
    if not len(corners):
        raise InputError("there is no place to keep points near")
    frame = LocalFrame.around(corners[:, 0], corners[:, 1])
    area = shapely.union_all(shapely.buffer(frame.geometry_to_metres(np.array(shapes)), margin_m))
    shapely.prepare(area)
    east, north = frame.to_metres(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    known = np.isfinite(east) & np.isfinite(north)
    near = known & shapely.intersects_xy(area, np.where(known, east, 0.0), np.where(known, north, 0.0))
    kept: pd.DataFrame = points[near].reset_index(drop=True)
    return kept


def _without_excursions(
    time: FloatArray, xy: FloatArray, settings: CleanSettings
) -> tuple[npt.NDArray[np.bool_], FloatArray]:
    """Tell which rows to keep, and the length of the steps that stay and are too fast even for a drive."""
    step_s = np.diff(time)
    step_m = np.hypot(*np.diff(xy, axis=0).T)
    fast = step_m > settings.speed_mps * step_s + settings.slack_m
    if not fast.any():
        return np.ones(time.size, dtype=bool), np.empty(0)
    first = np.concatenate([[0], np.flatnonzero(fast) + 1])
    last = np.concatenate([first[1:] - 1, [time.size - 1]])
    # A point stands for the usual step, so that a piece of one point is not worth nothing.
    weight = (last - first + 1) * float(np.median(step_s))
    keep = _cheapest(time, xy, first, last, weight=weight, settings=settings)
    row = np.repeat(keep, last - first + 1)
    chosen = np.flatnonzero(keep)
    hop_s = time[first[chosen[1:]]] - time[last[chosen[:-1]]]
    hop_m = np.hypot(*(xy[first[chosen[1:]]] - xy[last[chosen[:-1]]]).T)
    return row, hop_m[hop_m > _DRIVE * settings.speed_mps * hop_s + settings.slack_m]


def _cheapest(
    time: FloatArray,
    xy: FloatArray,
    first: npt.NDArray[np.int64],
    last: npt.NDArray[np.int64],
    *,
    weight: FloatArray,
    settings: CleanSettings,
) -> npt.NDArray[np.bool_]:
    """Choose the pieces to keep: least cost over all chains of pieces, each looking back at most one excursion."""
    pieces = weight.size
    crossing = settings.excursion_s / 2.0
    total = np.concatenate([[0.0], np.cumsum(weight)])
    gone_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    hops_m = np.concatenate([[0.0], gone_m[first[1:]] - gone_m[last[:-1]]])

    def loose(begin: int, end: int, kept: int) -> bool:
        """Tell whether pieces at an end of the track, with nothing beyond to judge them by, are a false start."""
        left_out = total[end] - total[begin]
        if left_out > crossing or left_out >= weight[kept]:
            return False
        # A vehicle driving up is many pieces in one line; a receiver without a fix is here and there.
        walked_m = hops_m[begin + 1 : end + 1].sum() if kept == end else hops_m[begin:end].sum()
        outer = xy[first[begin]] if kept == end else xy[last[end - 1]]
        inner = xy[first[kept]] if kept == end else xy[last[kept]]
        return end - begin == 1 or bool(np.hypot(*(outer - inner)) < settings.detour * walked_m)

    cost = np.zeros(pieces)
    before = np.full(pieces, -1)
    for piece in range(1, pieces):
        # What lies between a piece of `back` and this one is left out: no more than one excursion.
        least = int(np.searchsorted(total, total[piece] - settings.excursion_s, side="left"))
        back = np.arange(max(min(least, piece) - 1, 0), piece)
        hop_m = np.hypot(*(xy[first[piece]] - xy[last[back]]).T)
        fast = hop_m > settings.speed_mps * (time[first[piece]] - time[last[back]]) + settings.slack_m
        left_out = total[piece] - total[back + 1]
        led_back = hop_m < settings.detour * (hops_m[back + 1] + hops_m[piece])
        # Where the walk went on meanwhile, its own length counts: the way past is still clearly shorter.
        led_back |= ~fast & (hop_m < settings.shortcut * (gone_m[first[piece]] - gone_m[last[back]]))
        allowed = (back == piece - 1) | led_back
        allowed &= left_out <= settings.excursion_s
        price = np.where(allowed, cost[back] + left_out + crossing * fast, np.inf)
        choice = int(np.argmin(price))
        cost[piece], before[piece] = price[choice], back[choice]
        if loose(0, piece, piece) and total[piece] < cost[piece]:
            cost[piece], before[piece] = total[piece], -1

    end, least_cost = pieces - 1, cost[-1]
    for piece in range(pieces - 2, -1, -1):
        left_out = total[-1] - total[piece + 1]
        if left_out > crossing:
            break
        if loose(piece + 1, pieces, piece) and cost[piece] + left_out < least_cost:
            end, least_cost = piece, cost[piece] + left_out
    keep = np.zeros(pieces, dtype=bool)
    while end >= 0:
        keep[end] = True
        end = int(before[end])
    return keep


def _length(length_m: float) -> str:
    return f"{length_m:.0f} m" if length_m < 10_000.0 else f"{length_m / 1000.0:.0f} km"
