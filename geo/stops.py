"""Stands: the spells in which a walker stood still, found from positions alone."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from geo._stands import (
    Steps,
    StopSettings,
    collect_stands,
    hidden_stands,
    join_stands,
    separate_stands,
    stand_table,
)
from geo.frame import LocalFrame

__all__ = ["StopSettings", "find_stops", "stops_of_track"]

_RAYLEIGH_MEDIAN = 1.1774  # radius that holds half of a circular normal, in standard deviations


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
        return stand_table([])
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
    rows = collect_stands(steps, standing, silent, time, east, north, settings)
    rows = join_stands(separate_stands(rows), settings)
    rows = [row for row in rows if row["dwell_s"] >= settings.shortest_s]
    rows += hidden_stands(steps, hidden, time, east, north, settings)
    return stand_table(sorted(rows, key=lambda row: row["start_s"]))


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


def _measure_steps(time: NDArray[np.float64], east: NDArray[np.float64], north: NDArray[np.float64]) -> Steps:
    duration = np.diff(time)
    moved = np.hypot(np.diff(east), np.diff(north))
    return Steps(time[:-1] + duration / 2, np.maximum(duration, 1e-3), moved)


def _choose_window(
    steps: Steps,
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


def _weights(steps: Steps) -> NDArray[np.int64]:
    return np.clip(np.rint(steps.duration_s), 1, 30).astype(np.int64)


def _noise_of(steps: Steps, standing: NDArray[np.bool_], before_mps: float) -> float:
    chosen = standing & (steps.duration_s < 30.0)
    if np.count_nonzero(chosen) < 20:
        return before_mps
    return max(float(np.median(steps.speed_mps[chosen])) / _RAYLEIGH_MEDIAN, 0.02)


def _standing_score(steps: Steps, noise_mps: float, settings: StopSettings) -> NDArray[np.float64]:
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
    # Only by how much the best sequence that ends standing leads the best one that ends moving matters. A step adds a
    # length to it; where it would pass a bound, one of the two is better off by coming from the other state.
    add = np.log1p(-to_move) - np.log1p(-to_stand)
    low, high = np.log(to_stand) - np.log1p(-to_stand), np.log1p(-to_move) - np.log(to_move)
    lead = float(score[0])
    leads: list[float] = []
    keep = leads.append
    steps = zip(add[1:].tolist(), low[1:].tolist(), high[1:].tolist(), score[1:].tolist(), strict=True)
    for more, least, most, value in steps:
        lead += more
        keep(lead)
        if lead < least:
            lead = least
        elif lead > most:
            lead = most
        lead += value
    before = np.array(leads)
    # Before a step the walker stood where the upper bound held, moved where the lower did, else was as after it.
    known = np.concatenate([np.where(before > high[1:], 1, np.where(before < low[1:], 0, -1)), [lead > 0.0]])
    following = np.minimum.accumulate(np.where(known >= 0, np.arange(known.size), known.size)[::-1])[::-1]
    return np.asarray(known[following] == 1)


def _cut_at_shifts(
    steps: Steps,
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
