"""Which points to keep where several recordings cover the same time."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from geo.geodesic import distance_bearing

__all__ = ["Overlap", "Recording", "choose", "split_recordings", "usual_interval_s"]

_SECOND_NS = 1_000_000_000
# A file with more recordings at one time than this is not several devices; the rest is sorted in together.
_MOST_AT_ONCE = 8
# A watch that pauses while its wearer stands is less dense than one that does not; a break for lunch is no fault.
_COUNTED_PAUSE_S = 120.0

_Ints = NDArray[np.int64]
_Floats = NDArray[np.float64]
_Bools = NDArray[np.bool_]


@dataclass(slots=True)
class Recording:
    """
    Points of one device in order of time, no two of the same instant.

    Parameters
    ----------
    file : int
        Which file, from 0.
    rows : numpy.ndarray of int64, shape (n,)
        Rows in the table of that file.
    time_ns : numpy.ndarray of int64, shape (n,)
        Their times [ns since 1970], strictly increasing.
    same_instant : int
        Points left out because another of the same recording has their
        time.
    backwards : int
        Places at which time ran backwards before sorting.
    """

    file: int
    rows: _Ints
    time_ns: _Ints
    same_instant: int = 0
    backwards: int = 0

    def rate_hz(self) -> float:
        """
        Tell how dense the recording is.

        Returns
        -------
        float
            Points a second, of a pause only the first two minutes counted;
            0 for a single point.
        """
        if self.time_ns.size < 2:
            return 0.0
        lasting_s = float(np.minimum(np.diff(self.time_ns) / _SECOND_NS, _COUNTED_PAUSE_S).sum())
        return (self.time_ns.size - 1) / lasting_s


@dataclass(frozen=True, slots=True)
class Overlap:
    """
    How one recording shared its time with denser ones.

    Parameters
    ----------
    file : int
        File of the recording that gave way.
    kept_files : tuple of int
        Files of the recordings that were kept instead.
    points, dropped : int
        Points it has; points of it that were dropped.
    start_ns, end_ns : int
        First and last dropped time [ns since 1970].
    apart_m : float
        Median distance of the dropped points from the kept recording [m].
    """

    file: int
    kept_files: tuple[int, ...]
    points: int
    dropped: int
    start_ns: int
    end_ns: int
    apart_m: float


@dataclass(slots=True)
class _Layer:
    """Pieces of one file that do not share any time."""

    starts: list[int] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    pieces: list[_Ints] = field(default_factory=list)
    late: int = 0

    def takes(self, start: int, end: int, tolerance: int) -> int | None:
        """Give the place at which a span fits in, None if it overlaps."""
        at = bisect_left(self.starts, start)
        if at > 0 and self.ends[at - 1] - tolerance > start:
            return None
        if at < len(self.starts) and self.starts[at] + tolerance < end:
            return None
        return at

    def put(self, at: int, start: int, end: int, rows: _Ints) -> None:
        self.late += at < len(self.starts)
        self.starts.insert(at, start)
        self.ends.insert(at, end)
        self.pieces.append(rows)


def usual_interval_s(time_ns: _Ints) -> float:
    """
    Give the usual time between points.

    Parameters
    ----------
    time_ns : numpy.ndarray of int64, shape (n,)
        Times in order [ns].

    Returns
    -------
    float
        The median interval [s]; 0 for fewer than two points.
    """
    return float(np.median(np.diff(time_ns))) / _SECOND_NS if time_ns.size > 1 else 0.0


def split_recordings(file: int, time_ns: _Ints, segment: _Ints, tolerance_s: float) -> list[Recording]:
    """
    Split the points of one file into recordings, each of which covers any moment once.

    A file that holds the tracks of two devices, or one track twice, gives
    two; segments that follow each other in any order give one.

    Parameters
    ----------
    file : int
        Which file, from 0.
    time_ns, segment : numpy.ndarray of int64, shape (n,)
        Time [ns] and segment of each point, in the order of the file.
    tolerance_s : float
        Time may run backwards by this, and pieces overlap by it, without
        being two recordings [s].

    Returns
    -------
    list of Recording
        At least one, if there are points.
    """
    if time_ns.size == 0:
        return []
    tolerance = round(tolerance_s * _SECOND_NS)
    step = np.diff(time_ns)
    breaks = np.flatnonzero((np.diff(segment) != 0) | (step < -tolerance)) + 1
    layers: list[_Layer] = []
    for rows in np.split(np.arange(time_ns.size), breaks):
        start, end = int(time_ns[rows].min()), int(time_ns[rows].max())
        for layer in layers:
            at = layer.takes(start, end, tolerance)
            if at is None and layer is layers[-1] and len(layers) == _MOST_AT_ONCE:
                at = bisect_left(layer.starts, start)
            if at is not None:
                layer.put(at, start, end, rows)
                break
        else:
            layers.append(_Layer([start], [end], [rows]))
    return [_sorted_recording(file, time_ns, layer) for layer in layers]


def _sorted_recording(file: int, time_ns: _Ints, layer: _Layer) -> Recording:
    rows = np.concatenate(layer.pieces)
    jitter = sum(int((np.diff(time_ns[piece]) < 0).sum()) for piece in layer.pieces)
    rows = rows[np.argsort(time_ns[rows], kind="stable")]
    time = time_ns[rows]
    first = np.concatenate([[True], np.diff(time) > 0])
    return Recording(file, rows[first], time[first], int((~first).sum()), jitter + layer.late)


def choose(
    recordings: Sequence[Recording], positions: Sequence[tuple[_Floats, _Floats]], gap_s: Sequence[float]
) -> tuple[list[_Bools], list[Overlap]]:
    """
    Choose the points to keep: the densest recording, and others where it is silent.

    Parameters
    ----------
    recordings : sequence of Recording
        All recordings of a round.
    positions : sequence of (lon_deg, lat_deg)
        Positions of the points of each recording [deg].
    gap_s : sequence of float
        From which interval on each recording counts as silent [s].

    Returns
    -------
    keep : list of numpy.ndarray of bool
        Which points of each recording are kept.
    overlaps : list of Overlap
        One for each recording that lost points.
    """
    keep: list[_Bools] = [np.ones(recording.time_ns.size, dtype=bool) for recording in recordings]
    overlaps: list[Overlap] = []
    order = sorted(
        range(len(recordings)), key=lambda at: (-recordings[at].rate_hz(), -recordings[at].rows.size, at)
    )
    base: _Base | None = None
    for at in order:
        recording = recordings[at]
        lon, lat = positions[at]
        if base is None:
            base = _Base(recording, lon, lat, gap_s[at])
            continue
        free = base.silent_at(recording.time_ns)
        if not free.all():
            keep[at] = free
            overlaps.append(base.overlap_of(recording, lon, lat, ~free))
        base.add(recording, lon, lat, gap_s[at], free)
    return keep, overlaps


class _Base:
    """What has been chosen so far, in order of time."""

    def __init__(self, recording: Recording, lon: _Floats, lat: _Floats, gap_s: float) -> None:
        self.time_ns = recording.time_ns
        self.lon = lon
        self.lat = lat
        self.gap_ns = np.full(self.time_ns.size, round(gap_s * _SECOND_NS), dtype=np.int64)
        self.file = np.full(self.time_ns.size, recording.file, dtype=np.int64)

    def silent_at(self, time_ns: _Ints) -> _Bools:
        after = np.searchsorted(self.time_ns, time_ns, side="left")
        before = np.searchsorted(self.time_ns, time_ns, side="right") - 1
        outside = (before < 0) | (after >= self.time_ns.size)
        low, high = np.maximum(before, 0), np.minimum(after, self.time_ns.size - 1)
        silent = self.time_ns[high] - self.time_ns[low] > np.maximum(self.gap_ns[low], self.gap_ns[high])
        # The same instant has the same point before and after it.
        silent_or_outside: _Bools = (
            (outside | silent) & (self.time_ns[high] != time_ns) & (self.time_ns[low] != time_ns)
        )
        return silent_or_outside

    def overlap_of(self, recording: Recording, lon: _Floats, lat: _Floats, lost: _Bools) -> Overlap:
        time = recording.time_ns[lost]
        near = np.clip(np.searchsorted(self.time_ns, time), 1, max(self.time_ns.size - 1, 1))
        near = np.minimum(near, self.time_ns.size - 1)
        low = np.maximum(near - 1, 0)
        span = np.maximum(self.time_ns[near] - self.time_ns[low], 1)
        share = np.clip((time - self.time_ns[low]) / span, 0.0, 1.0)
        # The short way round, should the two points lie on both sides of longitude 180.
        turn = np.mod(self.lon[near] - self.lon[low] + 180.0, 360.0) - 180.0
        there_lon = self.lon[low] + share * turn
        there_lat = self.lat[low] + share * (self.lat[near] - self.lat[low])
        apart_m, _ = distance_bearing(lon[lost], lat[lost], there_lon, there_lat)
        kept = tuple(sorted({int(file) for file in np.unique(self.file[near])}))
        return Overlap(
            recording.file,
            kept,
            int(recording.rows.size),
            int(lost.sum()),
            int(time[0]),
            int(time[-1]),
            float(np.median(apart_m)),
        )

    def add(self, recording: Recording, lon: _Floats, lat: _Floats, gap_s: float, free: _Bools) -> None:
        count = int(free.sum())
        time_ns = np.concatenate([self.time_ns, recording.time_ns[free]])
        order = np.argsort(time_ns, kind="stable")
        self.time_ns = time_ns[order]
        self.lon = np.concatenate([self.lon, lon[free]])[order]
        self.lat = np.concatenate([self.lat, lat[free]])[order]
        gap_ns = np.full(count, round(gap_s * _SECOND_NS), dtype=np.int64)
        self.gap_ns = np.concatenate([self.gap_ns, gap_ns])[order]
        self.file = np.concatenate([self.file, np.full(count, recording.file, dtype=np.int64)])[order]
