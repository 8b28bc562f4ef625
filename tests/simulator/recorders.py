"""From the true path to what a device writes: correlated error, silence, gaps, marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.signal import lfilter

from tests.simulator.courses import InventedCourse
from tests.simulator.geometry import Array
from tests.simulator.walker import Path

BoolArray = NDArray[np.bool_]

__all__ = ["Recorder", "Recording", "gps_error", "record"]


@dataclass(frozen=True)
class Recorder:
    """A device; ranges are drawn anew for each round."""

    kind: str = "watch"  # watch, silent, sparse, phone
    sigma_m: tuple[float, float] = (2.0, 3.5)  # total error on each axis, one standard deviation
    rho: tuple[float, float] = (0.98, 0.995)  # correlation of the error from one second to the next
    interval_s: tuple[float, float] = (1.0, 1.0)
    marks: float = 0.0  # share of shots that the player marks
    named: float | None = None  # share of marks that carry the club's name; None: drawn
    fraction: bool = False  # times with fractions of a second
    elevation: bool = True
    hdop: bool = False
    decimals: int = 7
    noise: float = 1.0  # scales the error, for checks of robustness
    overlap: bool = False  # with several files: the devices run side by side for a while
    twice: bool = False  # two devices record the whole round, a file each
    mounted: bool = False  # the recorder stays with the bag, trolley or buggy

    @classmethod
    def watch(cls, **changes) -> Recorder:
        """Write a point every second."""
        return cls(**changes)

    @classmethod
    def silent(cls, **changes) -> Recorder:
        """Write nothing while the wearer stands still."""
        return cls(kind="silent", **changes)

    @classmethod
    def sparse(cls, **changes) -> Recorder:
        """Write a point every 5 to 15 s."""
        return cls(kind="sparse", interval_s=(5.0, 15.0), **changes)

    @classmethod
    def phone(cls, **changes) -> Recorder:
        """Write a point every second or few, 6 m, with excursions and gaps."""
        return cls(kind="phone", sigma_m=(5.0, 7.0), rho=(0.985, 0.996), interval_s=(1.0, 4.0), **changes)


@dataclass(frozen=True)
class Recording:
    """Points and marks as they were written."""

    points: pd.DataFrame
    marks: pd.DataFrame
    spans: list[tuple[float, float]]  # when each device ran


def gps_error(rng: np.random.Generator, seconds: int, sigma_m: float, rho: float) -> Array:
    """
    Draw the error of a receiver, one row a second, shape (seconds, 2).

    Most of the variance is a first-order autoregression, a quarter or so a
    bias that drifts over many minutes, and a little is white. Its size
    wanders, as under trees and in the open.
    """
    bias_share = rng.uniform(0.1, 0.3)
    white = rng.uniform(0.1, 0.3)
    slow_rho = float(np.exp(-1.0 / rng.uniform(500, 1500)))
    fast_var = max(0.05, 1.0 - bias_share) * sigma_m**2 - white**2
    out = _ar1(rng, seconds, rho) * np.sqrt(fast_var)
    canopy = _ar1(rng, seconds, float(np.exp(-1 / 180.0)))[:, :1]
    spread = rng.uniform(0.1, 0.3)
    out *= np.exp(spread * canopy - spread**2)
    out += _ar1(rng, seconds, slow_rho) * np.sqrt(bias_share) * sigma_m
    return out + rng.normal(0, white, (seconds, 2))


def _ar1(rng: np.random.Generator, n: int, rho: float) -> Array:
    """Unit variance autoregression of two axes."""
    shocks = rng.normal(0, 1, (n, 2))
    shocks[1:] *= np.sqrt(1 - rho**2)
    return lfilter([1.0], [1.0, -rho], shocks, axis=0)


def record(
    rng: np.random.Generator,
    path: Path,
    begin: float,
    finish: float,
    pauses: Sequence[tuple[float, float]],
    course: InventedCourse,
    strokes: pd.DataFrame,
    recorder: Recorder,
    files: int,
) -> Recording:
    """Record a path with one device, or with one after another."""
    spans = _spans(rng, begin, finish, recorder, files)
    tables, marks = [], []
    for i, (start, end) in enumerate(spans):
        points, place = _device(rng, path, start, end, pauses, course, recorder)
        points["file"] = i
        tables.append(points)
        found = _marks(
            rng, place, start, end, course, strokes, recorder if i == 0 or not recorder.twice else Recorder()
        )
        found["file"] = i
        marks.append(found)
    return Recording(pd.concat(tables, ignore_index=True), pd.concat(marks, ignore_index=True), spans)


def _spans(
    rng: np.random.Generator, begin: float, finish: float, recorder: Recorder, files: int
) -> list[tuple[float, float]]:
    """When each device ran."""
    if recorder.twice:
        return [(begin, finish), (begin + float(rng.uniform(-90, 400)), finish + float(rng.uniform(-200, 0)))]
    cuts = np.linspace(begin, finish, files + 1)
    cuts[1:-1] += rng.uniform(-0.1, 0.1, files - 1) * (finish - begin)
    spans = [(float(a), float(b)) for a, b in pairwise(cuts)]
    # the next device starts a little after the last one died, or before
    shift = [
        -float(rng.uniform(60, 600)) if recorder.overlap else float(rng.uniform(5, 90)) for _ in spans[1:]
    ]
    return [spans[0], *((a + d, b) for (a, b), d in zip(spans[1:], shift, strict=True))]


def _device(
    rng: np.random.Generator,
    path: Path,
    begin: float,
    finish: float,
    pauses: Sequence[tuple[float, float]],
    course: InventedCourse,
    recorder: Recorder,
) -> tuple[pd.DataFrame, tuple[Array, Array]]:
    """Points one device wrote, and all it saw: seconds and places."""
    offset = float(rng.random()) if recorder.fraction else 0.0
    seconds = np.arange(np.ceil(begin), np.floor(finish)) + offset
    truth = path.at(seconds, mounted=recorder.mounted)
    still = _standing(truth)
    seen = path.at(seconds - rng.uniform(0.0, 1.2), mounted=recorder.mounted)
    seen = seen + _slower_when_still(rng, still, recorder)
    if rng.random() < 0.5:
        seen = _receiver_filter(seen, float(rng.uniform(0.6, 3.0)))
    segment = np.zeros(len(seconds), dtype=int)
    keep = np.ones(len(seconds), dtype=bool)
    if recorder.kind == "phone":
        seen += _excursions(rng, len(seconds))
        keep &= _gaps(rng, len(seconds))
    for start, end in pauses:
        keep &= (seconds < start) | (seconds > end)
        segment[seconds > end] += 1
    keep &= _schedule(rng, truth, recorder)
    lonlat = course.plane.to_degrees(seen)
    ele = np.full(len(seconds), np.nan)
    if recorder.elevation:
        ele = 40 + 0.012 * truth @ rng.normal(0, 1, 2) + _ar1(rng, len(seconds), 0.999)[:, 0] * 2.5
    hdop = np.full(len(seconds), np.nan)
    if recorder.hdop:
        hdop = np.round(np.clip(0.9 + 0.25 * np.abs(_ar1(rng, len(seconds), 0.99)[:, 0]), 0.6, 6), 1)
    frame = pd.DataFrame(
        {
            "time": pd.to_datetime(np.round(seconds * 1000).astype("int64"), unit="ms", utc=True).as_unit(
                "ns"
            ),
            "lon_deg": np.round(lonlat[:, 0], recorder.decimals),
            "lat_deg": np.round(lonlat[:, 1], recorder.decimals),
            "ele_m": np.round(ele, 1),
            "hdop": hdop,
            "segment": segment,
        }
    )
    return frame[keep].reset_index(drop=True), (seconds, seen)


def _standing(truth: Array) -> BoolArray:
    """Tell where the wearer hardly moves."""
    speed = np.hypot(*np.gradient(truth, axis=0).T)
    return np.convolve(speed, np.full(7, 1 / 7), mode="same") < 0.3


def _slower_when_still(rng: np.random.Generator, still: BoolArray, recorder: Recorder) -> Array:
    """Draw the error; many receivers hold on to a place while they think they stand."""
    sigma = float(rng.uniform(*recorder.sigma_m)) * recorder.noise
    error = gps_error(rng, len(still), sigma, float(rng.uniform(*recorder.rho)))
    pace = 1.0 if rng.random() < 0.6 else float(rng.uniform(0.15, 0.7))
    clock = np.cumsum(np.where(still, pace, 1.0))
    seconds = np.arange(1, len(still) + 1)
    return np.column_stack([np.interp(clock, seconds, error[:, axis]) for axis in (0, 1)])


def _receiver_filter(seen: Array, lag_s: float) -> Array:
    """Smooth as a receiver does on the way: one pole, so it also follows late."""
    keep = float(np.exp(-1.0 / lag_s))
    start = seen[:1] * keep
    out, _ = lfilter([1 - keep], [1.0, -keep], seen, axis=0, zi=start)
    return np.asarray(out)


def _schedule(rng: np.random.Generator, truth: Array, recorder: Recorder) -> BoolArray:
    """Which seconds a device writes."""
    n = len(truth)
    keep = np.zeros(n, dtype=bool)
    if recorder.kind == "silent":
        # moving = the last few seconds covered ground, so starts and stops are noticed late
        window = int(rng.integers(3, 6))
        limit = rng.uniform(0.35, 0.6)
        moved = np.hypot(*(truth[window:] - truth[:-window]).T) / window
        keep[:] = np.concatenate([np.full(window, True), moved > limit])
        if rng.random() < 0.35:
            keep[:: int(rng.integers(30, 150))] = True  # a sign of life now and then
        keep[0] = keep[-1] = True
        return keep
    low, high = recorder.interval_s
    if high <= 1.0:
        keep[:] = True
        return keep
    base = float(rng.uniform(low, high))
    fixed = rng.random() < 0.5
    at = 0.0
    while at < n:
        keep[int(at)] = True
        step = base if fixed else float(np.clip(base * rng.lognormal(0, 0.35), low, high))
        at += max(1.0, round(step))
    return keep


def _excursions(rng: np.random.Generator, n: int) -> Array:
    """Reflections: the fix runs off up to 25 m for up to a minute and comes back."""
    out = np.zeros((n, 2))
    for _ in range(int(rng.poisson(n / 3600 * rng.uniform(4, 10)))):
        length = int(rng.uniform(8, 70))
        start = int(rng.integers(0, max(1, n - length)))
        size = min(25.0, float(rng.exponential(9)) + 5)
        angle = rng.uniform(0, 2 * np.pi)
        shape = np.sin(np.pi * np.arange(length) / length) ** rng.uniform(0.3, 1.2)
        out[start : start + length] += size * shape[:, None] * np.array([np.cos(angle), np.sin(angle)])
    return out


def _gaps(rng: np.random.Generator, n: int) -> BoolArray:
    """Seconds a phone kept no record, up to 90 s at a time."""
    keep = np.ones(n, dtype=bool)
    for _ in range(int(rng.poisson(n / 3600 * rng.uniform(2, 6)))):
        start = int(rng.integers(0, n))
        keep[start : start + int(rng.uniform(10, 90))] = False
    return keep


def _marks(
    rng: np.random.Generator,
    place: tuple[Array, Array],
    begin: float,
    finish: float,
    course: InventedCourse,
    strokes: pd.DataFrame,
    recorder: Recorder,
) -> pd.DataFrame:
    """Marks the player set a few seconds before or after a shot; forgotten at times, twice at times."""
    rows: list[tuple[float, float, float, str]] = []
    if recorder.marks > 0:
        drawn = float(rng.choice([0.0, 0.5, 0.95]))
        named = drawn if recorder.named is None else recorder.named
        numbered = rng.random() < 0.4
        before = rng.random() < 0.6
        shots = strokes[strokes["shot"].notna() & ~strokes["conceded"]]
        for stroke in shots.itertuples():
            if rng.random() > recorder.marks:
                continue
            for _ in range(1 + int(rng.random() < 0.02)):
                time = stroke.time + (-float(rng.uniform(3, 25)) if before else float(rng.uniform(2, 20)))
                if not begin < time < finish:
                    continue
                xy = np.array([np.interp(time, place[0], place[1][:, axis]) for axis in (0, 1)])
                lon, lat = course.plane.to_degrees(xy)
                name = stroke.club if rng.random() < named else str(len(rows) + 1) if numbered else ""
                rows.append((round(time), round(float(lon), 7), round(float(lat), 7), name))
    frame = pd.DataFrame(rows, columns=["time", "lon_deg", "lat_deg", "name"])
    frame["time"] = pd.to_datetime(frame["time"].astype("int64"), unit="s", utc=True).astype(
        "datetime64[ns, UTC]"
    )
    return frame
