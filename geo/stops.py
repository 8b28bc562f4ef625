"""Stands: the spells in which a walker stood still, found from positions alone."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from geo.frame import LocalFrame

__all__ = ["StopSettings", "find_stops", "stops_of_track"]

_RAYLEIGH_MEDIAN = 1.1774  # radius that holds half of a circular normal, in standard deviations


@dataclass(frozen=True, slots=True)
class StopSettings:
    """
    What counts as standing.

    Speeds are those of people on foot outdoors: usual 1.31 m/s, slow 0.82, fast 1.72 (Murtagh et al.,
    Sports Medicine 51, 2021). Where no source is named the value was fitted on simulated rounds.
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
    # the means of so many seconds before and after: a step from the bag to the ball. Fitted.
    shift_m: float = 3.5
    shift_factor: float = 3.0
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
class _Steps:
    """The steps between consecutive points, with the displacement over a window around each."""

    time_s: NDArray[np.float64]
    duration_s: NDArray[np.float64]
    moved_m: NDArray[np.float64]
    speed_mps: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    window_s: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))


def find_stops(
    time_s: ArrayLike, east_m: ArrayLike, north_m: ArrayLike, settings: StopSettings | None = None
) -> pd.DataFrame:
    """
    Find the spells of standing in a walk.

    Each step between two points is weighed as standing or walking from the displacement over a window
    around it; a two-state hidden Markov model (Rabiner 1989 [1]_) with transition probabilities that
    follow the length of each step picks the best sequence. The noise of the recorder is estimated from the
    steps themselves, so a jittery phone gets longer windows. A long recording gap without movement is a
    stand; one with movement is unknown, and a stand inside it is reported only with a large error.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times, strictly increasing [s].
    east_m, north_m : array_like, shape (n,)
        Positions in a metric frame [m], without NaN.
    settings : StopSettings, optional
        Thresholds.

    Returns
    -------
    pandas.DataFrame
        One row a stand, in order of time, never overlapping:

        =========== ======= ==================================================
        start_s     s       arrival
        end_s       s       departure
        dwell_s     s       time stood; less than end - start where part of a
                            step was walked
        east_m      m       centre
        north_m     m       centre
        sigma_m     m       standard error of the centre, each axis
        spread_m    m       root mean square distance of the points from it
        restless            spread against that of somebody who does not move
        points              points seen during the stand
        hidden              True where the stand lies inside a gap with movement
        =========== ======= ==================================================

    Notes
    -----
    Fewer than two points give no stand. The first and the last stand count even though their beginning or
    end was not recorded.

    References
    ----------
    .. [1] L. R. Rabiner, "A tutorial on hidden Markov models," Proc. IEEE, vol. 77, no. 2, 1989.

    Examples
    --------
    >>> import numpy as np
    >>> time_s = np.arange(0.0, 120.0)
    >>> east_m = np.concatenate([np.arange(40) * 1.3, np.full(40, 52.0), 52.0 + np.arange(40) * 1.3])
    >>> stops = find_stops(time_s, east_m, np.zeros(120))
    >>> len(stops), float(round(stops["east_m"][0]))
    (1, 52.0)
    """
    settings = settings or StopSettings()
    time = np.asarray(time_s, dtype=float)
    east = np.asarray(east_m, dtype=float)
    north = np.asarray(north_m, dtype=float)
    if time.size < 2:
        return _table([])
    steps = _measure_steps(time, east, north)
    noise_mps = _choose_window(steps, time, east, north, settings)
    hidden = (steps.duration_s > settings.gap_s) & (steps.moved_m > settings.gap_moved_m)
    usual = float(np.median(steps.duration_s))
    silent = ~hidden & (steps.duration_s >= max(settings.silence_s, 3.0 * usual))
    silent &= steps.moved_m < settings.silence_mps * steps.duration_s
    for _ in range(2):
        score = _standing_score(steps, noise_mps, settings)
        score[hidden] = 0.0
        # A recorder that falls silent says by that alone that its wearer stands.
        score[silent] += settings.silence_score
        standing = _best_sequence(score, steps.duration_s, settings)
        noise_mps = _noise_of(steps, standing & ~hidden, noise_mps)
    standing &= ~hidden
    standing = _cut_at_shifts(steps, standing, time, east, north, noise_mps, settings)
    rows = _collect(steps, standing, silent, time, east, north, settings)
    rows = _join(_apart(rows), settings)
    rows = [row for row in rows if row["dwell_s"] >= settings.shortest_s]
    rows += _hidden_stands(steps, hidden, time, east, north, settings)
    return _table(sorted(rows, key=lambda row: row["start_s"]))


def stops_of_track(points: pd.DataFrame, settings: StopSettings | None = None) -> pd.DataFrame:
    """
    Find the stands of a recorded track, in longitude and latitude.

    Parameters
    ----------
    points : pandas.DataFrame
        Track table with `time` (UTC), `lon_deg` and `lat_deg`, strictly increasing in time.
    settings : StopSettings, optional
        Thresholds.

    Returns
    -------
    pandas.DataFrame
        Columns `start_time`, `end_time` (UTC), `dwell_s` [s], `lon_deg`, `lat_deg` [deg] and `sigma_m` [m],
        one row a stand.
    """
    if points.empty:
        return pd.DataFrame(columns=["start_time", "end_time", "dwell_s", "lon_deg", "lat_deg", "sigma_m"])
    frame = LocalFrame(float(points["lon_deg"].iloc[0]), float(points["lat_deg"].iloc[0]))
    east, north = frame.to_metres(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    time = points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    stops = find_stops(time, east, north, settings)
    lon_deg, lat_deg = frame.to_degrees(stops["east_m"].to_numpy(), stops["north_m"].to_numpy())
    return pd.DataFrame(
        {
            "start_time": pd.to_datetime(stops["start_s"], unit="s", utc=True),
            "end_time": pd.to_datetime(stops["end_s"], unit="s", utc=True),
            "dwell_s": stops["dwell_s"],
            "lon_deg": lon_deg,
            "lat_deg": lat_deg,
            "sigma_m": stops["sigma_m"],
        }
    )


def _measure_steps(
    time: NDArray[np.float64], east: NDArray[np.float64], north: NDArray[np.float64]
) -> _Steps:
    duration = np.diff(time)
    moved = np.hypot(np.diff(east), np.diff(north))
    return _Steps(time[:-1] + duration / 2, np.maximum(duration, 1e-3), moved)


def _choose_window(
    steps: _Steps,
    time: NDArray[np.float64],
    east: NDArray[np.float64],
    north: NDArray[np.float64],
    settings: StopSettings,
) -> float:
    """Measure speeds over the shortest window in which the recorder is quiet; return its noise [m/s]."""
    noise = math.inf
    for window_s in settings.windows_s:
        half = np.maximum(window_s, steps.duration_s) / 2
        begin, end = steps.time_s - half, steps.time_s + half
        moved = np.hypot(
            np.interp(end, time, east) - np.interp(begin, time, east),
            np.interp(end, time, north) - np.interp(begin, time, north),
        )
        steps.window_s = np.minimum(end, time[-1]) - np.maximum(begin, time[0])
        steps.speed_mps = moved / steps.window_s
        # A round is at least a third standing, so the slowest tenth are stands: 30 % of a Rayleigh law.
        slow = float(np.quantile(np.repeat(steps.speed_mps, _weights(steps)), 0.12))
        # In a track without stands the slowest tenth is walking: the noise is never taken to be that large.
        noise = min(max(slow / math.sqrt(-2.0 * math.log(0.70)), 0.02), settings.most_noise_mps)
        if noise <= settings.quiet_mps:
            break
    return noise


def _weights(steps: _Steps) -> NDArray[np.int64]:
    return np.clip(np.rint(steps.duration_s), 1, 30).astype(np.int64)


def _noise_of(steps: _Steps, standing: NDArray[np.bool_], before_mps: float) -> float:
    chosen = standing & (steps.duration_s < 30.0)
    if np.count_nonzero(chosen) < 20:
        return before_mps
    return max(float(np.median(steps.speed_mps[chosen])) / _RAYLEIGH_MEDIAN, 0.02)


def _standing_score(steps: _Steps, noise_mps: float, settings: StopSettings) -> NDArray[np.float64]:
    """Log-likelihood ratio of standing against moving, a step, tempered for overlapping windows."""
    speed = steps.speed_mps
    still = noise_mps**2 + settings.fidget_mps**2
    stand = np.log(np.maximum(speed, 0.02) / still) - speed**2 / (2.0 * still)
    var = settings.walk_spread_mps**2 + noise_mps**2
    on_foot = np.exp(-((speed - settings.walk_mps) ** 2) / (2.0 * var)) / math.sqrt(2.0 * math.pi * var)
    # Strolling and riding, up to a buggy's pace and beyond, so that neither is a stand; hardly ever at no speed.
    other = np.minimum((speed / 0.5) ** 2, 1.0) / 9.0
    move = np.log(0.9 * on_foot + 0.1 * other + 1e-6)
    share = np.minimum(steps.duration_s / steps.window_s, 1.0)
    return np.clip(stand - move, -8.0, 8.0) * share


def _best_sequence(
    score: NDArray[np.float64], duration_s: NDArray[np.float64], settings: StopSettings
) -> NDArray[np.bool_]:
    """Viterbi over two states, moving (0) and standing (1), with transitions by elapsed time."""
    leave, arrive = 1.0 / settings.stand_mean_s, 1.0 / settings.walk_mean_s
    total = leave + arrive
    decay = np.exp(-total * duration_s)
    # Closed form of the two-state chain in continuous time.
    to_stand = arrive / total * (1.0 - decay)
    to_move = leave / total * (1.0 - decay)
    stay_move, go_stand = np.log1p(-to_stand).tolist(), np.log(to_stand).tolist()
    stay_stand, go_move = np.log1p(-to_move).tolist(), np.log(to_move).tolist()
    values = score.tolist()
    move, stand = 0.0, values[0]
    from_move: list[bool] = []
    from_stand: list[bool] = []
    for index in range(1, len(values)):
        keep, turn = move + stay_move[index], stand + go_move[index]
        hold, begin = stand + stay_stand[index], move + go_stand[index]
        from_move.append(turn > keep)
        from_stand.append(hold >= begin)
        move = max(keep, turn)
        stand = max(hold, begin) + values[index]
    states = np.empty(len(values), dtype=bool)
    state = stand > move
    states[-1] = state
    for index in range(len(values) - 2, -1, -1):
        state = from_stand[index] if state else from_move[index]
        states[index] = state
    return states


def _cut_at_shifts(
    steps: _Steps,
    standing: NDArray[np.bool_],
    time: NDArray[np.float64],
    east: NDArray[np.float64],
    north: NDArray[np.float64],
    noise_mps: float,
    settings: StopSettings,
) -> NDArray[np.bool_]:
    """Cut stands at short moves that are too quick for the windows but shift the place."""
    if float(np.median(steps.duration_s)) > 2.0:
        return standing
    half = settings.shift_s
    total = np.vstack([np.zeros(2), np.cumsum(np.column_stack([east, north]), axis=0)])

    def mean_of(begin: NDArray[np.int64], past: NDArray[np.int64]) -> NDArray[np.float64]:
        return np.asarray((total[past] - total[begin]) / np.maximum(past - begin, 1)[:, None])

    low, here_low = np.searchsorted(time, time - half - 1.0), np.searchsorted(time, time - 1.0)
    here_high, high = (
        np.searchsorted(time, time + 1.0, "right"),
        np.searchsorted(time, time + half + 1.0, "right"),
    )
    shift = np.hypot(*(mean_of(here_high, high) - mean_of(low, here_low)).T)
    shift[(here_low - low < 3) | (high - here_high < 3)] = 0.0
    # The two means lie about half + 2 s apart; error moves like a random walk over such times.
    window = float(np.median(steps.window_s))
    error_m = noise_mps * math.sqrt(window * (half + 2.0))
    bar = max(settings.shift_m, settings.shift_factor * error_m)
    cut = standing.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], standing.astype(np.int8), [0]])))
    waiting = list(zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True))
    while waiting:
        first, past = waiting.pop()
        inside = np.flatnonzero(
            (time[first : past + 1] >= time[first] + half) & (time[first : past + 1] <= time[past] - half)
        )
        if inside.size == 0:
            continue
        best = first + int(inside[np.argmax(shift[first + inside])])
        if shift[best] < bar:
            continue
        begin, end = np.searchsorted(time, [time[best] - 1.5, time[best] + 1.5])
        begin, end = max(int(begin), first), min(int(end), past)
        cut[begin:end] = False
        waiting += [(first, begin), (end, past)]
    return cut


def _collect(
    steps: _Steps,
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
        dense = float(np.median(steps.duration_s[first:past])) < 4.0
        begin, end = float(time[first]), float(time[past])
        dwell = end - begin if dense else max(end - begin - lost_s, 0.0)
        if not dense:
            begin, end, dwell = _sparse_ends(steps, first, past, begin, end, dwell, settings)
        x, y = east[first : past + 1], north[first : past + 1]
        centre = float(np.median(x)), float(np.median(y))
        off = np.hypot(x - centre[0], y - centre[1])
        near = off <= max(3.0 * float(np.median(off)), 1.0)
        centre = float(np.mean(x[near])), float(np.mean(y[near]))
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


def _sparse_ends(
    steps: _Steps, first: int, past: int, begin: float, end: float, dwell: float, settings: StopSettings
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
    steps: _Steps, standing: NDArray[np.bool_], silent: NDArray[np.bool_], settings: StopSettings
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


def _apart(rows: list[dict[str, float]]) -> list[dict[str, float]]:
    """Where two stands both claim part of the long step between them, give each its half."""
    for one, two in pairwise(rows):
        if one["end_s"] > two["start_s"]:
            middle = 0.5 * (one["end_s"] + two["start_s"])
            one["dwell_s"] = min(one["dwell_s"], middle - one["start_s"])
            two["dwell_s"] = min(two["dwell_s"], two["end_s"] - middle)
            one["end_s"] = two["start_s"] = middle
    return rows


def _join(rows: list[dict[str, float]], settings: StopSettings) -> list[dict[str, float]]:
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


def _hidden_stands(
    steps: _Steps,
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


def _table(rows: list[dict[str, float]]) -> pd.DataFrame:
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
