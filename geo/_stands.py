"""What a stand measures: its place, its length, its error, from the steps that belong to it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

__all__ = [
    "Steps",
    "StopSettings",
    "collect_stands",
    "hidden_stands",
    "join_stands",
    "separate_stands",
    "stand_table",
]


@dataclass(frozen=True, slots=True)
class StopSettings:
    """
    What counts as standing.

    Speeds are those of people on foot outdoors: usual 1.31 m/s, slow 0.82, fast 1.72 (Murtagh et al.,
    Sports Medicine 51, 2021). Where no source is named the value was
    chosen by hand, by how many true stands of simulated rounds were found.
    """

    # Mean and spread of walking speed [m/s]; Murtagh et al. 2021, widened for slopes and rough ground.
    walk_mps: float = 1.25
    walk_spread_mps: float = 0.38
    # Movement of the body within a stand: practice swings, shifting feet [m/s].
    fidget_mps: float = 0.12
    # Mean length of a stand and of a walk [s]: only sets how readily the state changes.
    stand_mean_s: float = 25.0
    walk_mean_s: float = 45.0
    # Windows over which a displacement is measured, shortest first [s]; the first quiet enough is taken.
    windows_s: tuple[float, ...] = (4.0, 6.0, 9.0, 13.0)
    quiet_mps: float = 0.30
    most_noise_mps: float = 0.45
    # A stand shorter than this is not reported [s].
    shortest_s: float = 4.0
    # A stand is two where the place shifts by this much [m], and this many times what error alone would, between
    # the means of so many seconds before and after: a step from the bag to the ball.
    shift_m: float = 6.0
    shift_factor: float = 4.0
    shift_s: float = 6.0
    # Two stands this close in place [m] and time [s] are one: the practice swing beside the ball.
    join_m: float = 2.5
    join_s: float = 12.0
    # Correlation time of position error [s] (measured on a watch: correlation 0.52 to 0.87 at 5 to 10 s,
    # an upper bound for the fast part; published fits for slow error are longer).
    error_time_s: float = 110.0
    # Smallest standard error of one position, each axis [m]: gps.gov, 4.9 m radius under open sky
    # (van Diggelen & Enge 2015) taken as 95 %.
    least_sigma_m: float = 2.4
    # A silence of this length [s], and of three usual steps, with less movement than this [m/s], is a stand of a
    # recorder that writes nothing while still: in a real watch walk 70 such gaps moved 3.7 m at most.
    silence_s: float = 4.0
    silence_mps: float = 0.75
    silence_score: float = 4.0
    # With this many silences the recorder counts as one of that kind. Common practice, no source.
    silences: int = 30
    # A recording gap that lasted longer than this [s] and moved further than the next [m] hides where one stood.
    gap_s: float = 20.0
    gap_moved_m: float = 12.0
    # Where the time lost in such a gap is at least this long [s] a stand somewhere inside it is reported.
    hidden_s: float = 12.0


@dataclass(slots=True)
class Steps:
    """The steps between consecutive points, with the displacement over a window around each."""

    time_s: NDArray[np.float64]
    duration_s: NDArray[np.float64]
    moved_m: NDArray[np.float64]
    speed_mps: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    window_s: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))


def collect_stands(
    steps: Steps,
    standing: NDArray[np.bool_],
    silent: NDArray[np.bool_],
    time: NDArray[np.float64],
    east: NDArray[np.float64],
    north: NDArray[np.float64],
    settings: StopSettings,
) -> list[dict[str, float]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], standing.astype(np.int8), [0]])))
    sigma_point = _point_sigma(steps, standing, silent, settings)
    rows = []
    for first, past in zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True):
        # Steps first..past-1 stand, so points first..past do; in a long step only part of the time was stood.
        lost_s = float(
            np.sum(np.minimum(steps.moved_m[first:past] / settings.walk_mps, steps.duration_s[first:past]))
        )
        dense = _median(steps.duration_s[first:past]) < 4.0
        begin, end = float(time[first]), float(time[past])
        dwell = end - begin if dense else max(end - begin - lost_s, 0.0)
        if not dense:
            begin, end, dwell = _sparse_ends(steps, first, past, begin, end, dwell, settings)
        x, y = east[first : past + 1], north[first : past + 1]
        centre = _median(x), _median(y)
        off = np.hypot(x - centre[0], y - centre[1])
        near = off <= max(3.0 * _median(off), 1.0)
        # A point counts for the time around it: that of a silent recorder for all of its silence, not as much as those
        # that it wrote a second apart while the walker came and went.
        spell = np.zeros(near.size)
        spell[:-1] += steps.duration_s[first:past]
        spell[1:] += steps.duration_s[first:past]
        weight = spell[near]
        total = float(np.sum(weight))
        centre = float(weight @ x[near]) / total, float(weight @ y[near]) / total
        spread = float(np.sqrt(np.mean(np.hypot(x - centre[0], y - centre[1]) ** 2)))
        rows.append(
            {
                "start_s": begin,
                "end_s": end,
                "dwell_s": dwell,
                "east_m": centre[0],
                "north_m": centre[1],
                "sigma_m": sigma_point * _mean_factor(dwell, settings.error_time_s),
                "spread_m": spread,
                "restless": spread / _still_spread(sigma_point, dwell, settings.error_time_s),
                "points": past - first + 1,
                "hidden": False,
            }
        )
    return rows


def _median(values: NDArray[np.float64]) -> float:
    """Give the median of a few values, many times quicker than for any array there may be."""
    ordered = np.sort(values)
    middle = ordered.size // 2
    return float(ordered[middle] if ordered.size % 2 else 0.5 * (ordered[middle - 1] + ordered[middle]))


def _sparse_ends(
    steps: Steps, first: int, past: int, begin: float, end: float, dwell: float, settings: StopSettings
) -> tuple[float, float, float]:
    """Add the part stood in the long steps on both sides, as far as their speed shows one."""
    for side in (first - 1, past):
        if 0 <= side < steps.duration_s.size and 4.0 <= steps.duration_s[side] <= settings.gap_s:
            stood = float(steps.duration_s[side] - steps.moved_m[side] / settings.walk_mps)
            if stood > 0.0:
                dwell += stood
                if side < first:
                    begin -= stood
                else:
                    end += stood
    return begin, end, dwell


def _point_sigma(
    steps: Steps, standing: NDArray[np.bool_], silent: NDArray[np.bool_], settings: StopSettings
) -> float:
    """
    Standard error of one position, each axis, from how far positions wander while the walker stands [m].

    Of an error with correlation time T the step over a time t has the variance 2 s^2 (1 - exp(-t / T)) on each
    axis, and the median of a squared Rayleigh length is 2 ln 2 times that.
    """
    if np.count_nonzero(standing) < 5:
        return settings.least_sigma_m
    silences = standing & silent
    if np.count_nonzero(silences) >= settings.silences:
        # A recorder that is silent while still writes only the ends of a stand, where the walker moves: what the
        # place shifts over the silences themselves is error, what surrounds them is not.
        window, moved = steps.duration_s[silences], steps.moved_m[silences]
    else:
        window = steps.window_s[standing]
        moved = steps.speed_mps[standing] * window
    share = -np.expm1(-window / settings.error_time_s)
    return max(float(np.sqrt(np.median(moved**2 / (4.0 * math.log(2.0) * share)))), settings.least_sigma_m)


def _mean_factor(dwell_s: float, error_time_s: float) -> float:
    """Shrinking of the error of a mean over a time, for exponentially correlated noise."""
    ratio = max(dwell_s, 1e-6) / error_time_s
    return math.sqrt(2.0 / ratio * (1.0 - (1.0 - math.exp(-ratio)) / ratio)) if ratio > 1e-3 else 1.0


def _still_spread(sigma_m: float, dwell_s: float, error_time_s: float) -> float:
    """Spread of the positions of somebody who does not move at all, from correlated error alone [m]."""
    within = 1.0 - _mean_factor(dwell_s, error_time_s) ** 2
    return float(np.hypot(sigma_m * math.sqrt(2.0 * max(within, 0.0)), 0.3))


def separate_stands(rows: list[dict[str, float]]) -> list[dict[str, float]]:
    """Where two stands both claim part of the long step between them, give each its half."""
    for one, two in pairwise(rows):
        if one["end_s"] > two["start_s"]:
            middle = 0.5 * (one["end_s"] + two["start_s"])
            one["dwell_s"] = min(one["dwell_s"], middle - one["start_s"])
            two["dwell_s"] = min(two["dwell_s"], two["end_s"] - middle)
            one["end_s"] = two["start_s"] = middle
    return rows


def join_stands(rows: list[dict[str, float]], settings: StopSettings) -> list[dict[str, float]]:
    joined: list[dict[str, float]] = []
    for row in rows:
        if joined:
            last = joined[-1]
            apart = math.hypot(row["east_m"] - last["east_m"], row["north_m"] - last["north_m"])
            if apart <= settings.join_m and row["start_s"] - last["end_s"] <= settings.join_s:
                joined[-1] = _merged(last, row)
                continue
        joined.append(row)
    return joined


def _merged(one: dict[str, float], two: dict[str, float]) -> dict[str, float]:
    weight = two["dwell_s"] / max(one["dwell_s"] + two["dwell_s"], 1e-9)
    return {
        "start_s": one["start_s"],
        "end_s": two["end_s"],
        "dwell_s": one["dwell_s"] + two["dwell_s"] + two["start_s"] - one["end_s"],
        "east_m": one["east_m"] * (1 - weight) + two["east_m"] * weight,
        "north_m": one["north_m"] * (1 - weight) + two["north_m"] * weight,
        "sigma_m": min(one["sigma_m"], two["sigma_m"]),
        "spread_m": max(one["spread_m"], two["spread_m"]),
        "restless": max(one["restless"], two["restless"]),
        "points": one["points"] + two["points"],
        "hidden": False,
    }


def hidden_stands(
    steps: Steps,
    hidden: NDArray[np.bool_],
    time: NDArray[np.float64],
    east: NDArray[np.float64],
    north: NDArray[np.float64],
    settings: StopSettings,
) -> list[dict[str, float]]:
    rows = []
    for index in np.flatnonzero(hidden).tolist():
        stood = float(steps.duration_s[index] - steps.moved_m[index] / settings.walk_mps)
        if stood < settings.hidden_s:
            continue
        slack = float(steps.duration_s[index] - stood) / 2
        rows.append(
            {
                "start_s": float(time[index]) + slack,
                "end_s": float(time[index + 1]) - slack,
                "dwell_s": stood,
                "east_m": float(east[index] + east[index + 1]) / 2,
                "north_m": float(north[index] + north[index + 1]) / 2,
                # Anywhere between the two points: a uniform law over that length.
                "sigma_m": float(steps.moved_m[index]) / math.sqrt(12.0) + settings.least_sigma_m,
                "spread_m": float(steps.moved_m[index]) / 2,
                "restless": 1.0,
                "points": 2,
                "hidden": True,
            }
        )
    return rows


def stand_table(rows: list[dict[str, float]]) -> pd.DataFrame:
    columns = {
        "start_s": float,
        "end_s": float,
        "dwell_s": float,
        "east_m": float,
        "north_m": float,
        "sigma_m": float,
        "spread_m": float,
        "restless": float,
        "points": int,
        "hidden": bool,
    }
    return pd.DataFrame(rows, columns=list(columns)).astype(columns)
