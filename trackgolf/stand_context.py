"""What surrounds a stand and what its round is like: the inputs of the network that weighs it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from trackgolf.evidence import dwell_score
from trackgolf.ground import Ground
from trackgolf.settings import RoundSettings
from trackgolf.stand_model import FEATURES, stand_features

__all__ = ["CONTEXT", "LONG_S", "SAME_KIND_M", "shifted", "stand_inputs"]

Floats = NDArray[np.float64]

# Beyond the features of the stand itself; lengths and times as in `stand_model.FEATURES`.
CONTEXT: dict[str, str] = {
    "score_shot": "dwell as a stroke against dwell as anything else, log-likelihood ratio",
    "score_tee": "the same for a tee shot",
    "score_green": "the same for a stand on the green",
    "green": "distance to the nearest green, negative on it, over 20 m",
    "tee": "distance to the nearest tee or start of a line of play, over 20 m",
    "line": "distance to the nearest line of play, over 20 m",
    "spread": "logarithm of the spread of the positions",
    "sigma": "logarithm of the standard error of the place",
    "restless_before": "restlessness of the stand before",
    "restless_after": "of the stand after",
    "dwell_before_2": "dwell two stands before",
    "dwell_after_2": "dwell two stands after",
    "straight_before": "straightness of the walk through the stand before",
    "straight_after": "through the stand after",
    "apart_before_2": "distance from the stand before to the one before it",
    "apart_after_2": "distance from the stand after to the one after it",
    "green_before": "distance of the stand before to the nearest green",
    "green_after": "of the stand after",
    "tee_before": "distance of the stand before to the nearest tee",
    "tee_after": "of the stand after",
    "rank": "share of the stands of the round, away from greens, that are shorter, less a half",
    "since_green": "logarithm of the stands since the last near a green",
    "until_green": "logarithm of the stands until the next near a green",
    "crowd_before": "stands of 10 s and more in the three minutes before, over 4",
    "crowd_after": "the same in the three minutes after",
    "round_rate": "logarithm of the stands for each 100 m walked between greens",
    "round_dwell": "mean dwell of stands away from greens",
    "round_dwell_spread": "its standard deviation",
    "round_short": "share of these that are halts of a moment",
    "round_lone": "share of these that are long and far from their neighbours",
    "round_near": "share of these close to a neighbour",
    "round_straight": "mean straightness of the walk through them",
    "round_pace": "logarithm of the seconds for each metre walked",
    "round_interval": "logarithm of the seconds between points",
    "long_before": "logarithm of the distance to the long stand before, over 30 m",
    "long_after": "to the long stand after",
    "long_turn": "cosine of the turn between these two",
    "long_detour": "how much longer the way over this stand is than from the one to the other, in shares",
    "long_dwell_before": "dwell of the long stand before",
    "long_dwell_after": "of the long stand after",
    "stretch_rate": "logarithm of the long stands for each 100 m walked since the last green and until the next",
    "stretch_long": "logarithm of their number",
    "stretch_rank": "share of these that are shorter than this stand, less a half",
    "stretch_place": "share of these that came before it, less a half",
    "round_long": "logarithm of the long stands for each 100 m walked between greens, over the round",
    "round_detour": "mean detour over them",
    "round_restless": "their mean restlessness",
    "round_low": "lower quartile of their dwells",
    "round_high": "upper quartile",
}

# A stand of this time is no halt of a moment [s]; common practice, no source.
LONG_S = 8.0
SAME_KIND_M = (
    15.0  # stands nearer a green than this are left out of what a round is like [m]; common practice
)


def stand_inputs(
    stands: pd.DataFrame, walk: tuple[Floats, Floats, Floats], ground: Ground, settings: RoundSettings
) -> Floats:
    """
    Measure every stand, what surrounds it, and what the stands of its round are like.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands as `geo.stops.find_stops` gives them, m rows.
    walk : tuple of numpy.ndarray, each shape (n,)
        Time [s], east and north [m] of the walk.
    ground : Ground
        The course.
    settings : RoundSettings
        Usual dwells.

    Returns
    -------
    numpy.ndarray, shape (m, f)
        A column for each of `FEATURES` and then of `CONTEXT`, in their order; all within a few units of zero.
    """
    own = stand_features(stands, walk, settings.shot_dwell_s)
    if len(stands) == 0:
        return np.zeros((0, len(FEATURES) + len(CONTEXT)))
    place = {name: own[:, index] for index, name in enumerate(FEATURES)}
    dwell_s = stands["dwell_s"].to_numpy(dtype=float)
    green, tee, line = _gaps(stands, ground)
    away = green > SAME_KIND_M / 20.0
    if np.count_nonzero(away) < 3:
        away = np.ones(len(stands), dtype=bool)
    columns = {
        "score_shot": dwell_score(dwell_s, settings),
        "score_tee": dwell_score(dwell_s, settings, kind="tee"),
        "score_green": dwell_score(dwell_s, settings, kind="green"),
        "green": green,
        "tee": tee,
        "line": line,
        "spread": np.clip(np.log(np.maximum(stands["spread_m"].to_numpy(dtype=float), 0.1)), -2.0, 3.0),
        "sigma": np.log(np.clip(stands["sigma_m"].to_numpy(dtype=float), 0.5, 30.0)),
        "restless_before": shifted(place["restless"], 1),
        "restless_after": shifted(place["restless"], -1),
        "dwell_before_2": shifted(place["dwell"], 2),
        "dwell_after_2": shifted(place["dwell"], -2),
        "straight_before": shifted(place["straight_40"], 1),
        "straight_after": shifted(place["straight_40"], -1),
        "apart_before_2": shifted(place["apart_before"], 1),
        "apart_after_2": shifted(place["apart_after"], -1),
        "green_before": shifted(green, 1),
        "green_after": shifted(green, -1),
        "tee_before": shifted(tee, 1),
        "tee_after": shifted(tee, -1),
        "rank": np.searchsorted(np.sort(dwell_s[away]), dwell_s) / np.count_nonzero(away) - 0.5,
    }
    columns |= _crowd(stands, away)
    columns |= {name: np.full(len(stands), value) for name, value in _round(place, walk, away).items()}
    columns |= _long_stands(stands, place, walk, away)
    return np.column_stack([own, *(columns[name] for name in CONTEXT)])


def _gaps(stands: pd.DataFrame, ground: Ground) -> tuple[Floats, Floats, Floats]:
    """Distances to the nearest green, tee and line of play, over 20 m."""
    spots = shapely.points(stands["east_m"].to_numpy(), stands["north_m"].to_numpy())
    greens = shapely.union_all([hole.green for hole in ground.holes])
    edge = shapely.distance(shapely.boundary(greens), spots)
    green = np.where(shapely.contains(greens, spots), -edge, edge)
    tees: list[shapely.Geometry] = [tee for hole in ground.holes for tee in hole.tees]
    tees += [shapely.Point(hole.line[0]) for hole in ground.holes]
    tee = shapely.distance(shapely.union_all(tees), spots)
    lines = shapely.union_all([shapely.LineString(hole.line) for hole in ground.holes])
    line = shapely.distance(lines, spots)
    return np.clip(green, -20.0, 80.0) / 20.0, np.minimum(tee, 80.0) / 20.0, np.minimum(line, 80.0) / 20.0


def shifted(values: Floats, places: int) -> Floats:
    """The values of the stand some places before (positive) or after; zero beyond the ends."""
    moved = np.zeros_like(values)
    if abs(places) < values.size:
        if places > 0:
            moved[places:] = values[:-places]
        else:
            moved[:places] = values[-places:]
    return moved


def _crowd(stands: pd.DataFrame, away: NDArray[np.bool_]) -> dict[str, Floats]:
    """How many stands there are around each, by time and by turns at greens."""
    size = len(stands)
    start, end = stands["start_s"].to_numpy(dtype=float), stands["end_s"].to_numpy(dtype=float)
    place = np.arange(size)
    at_green = np.flatnonzero(~away)
    last = np.searchsorted(at_green, place) - 1
    coming = np.searchsorted(at_green, place, "right")
    since = (
        np.where(last >= 0, place - at_green[np.maximum(last, 0)], place + 1) if at_green.size else place + 1
    )
    until = (
        np.where(
            coming < at_green.size, at_green[np.minimum(coming, at_green.size - 1)] - place, size - place
        )
        if at_green.size
        else size - place
    )
    long = np.flatnonzero(end - start >= 10.0)
    before = np.searchsorted(end[long], start) - np.searchsorted(end[long], start - 180.0)
    after = np.searchsorted(start[long], end + 180.0) - np.searchsorted(start[long], end)
    return {
        "since_green": np.log(np.minimum(since, 30.0)),
        "until_green": np.log(np.minimum(until, 30.0)),
        "crowd_before": np.minimum(before / 4.0, 3.0),
        "crowd_after": np.minimum(after / 4.0, 3.0),
    }


def _round(
    place: dict[str, Floats], walk: tuple[Floats, Floats, Floats], away: NDArray[np.bool_]
) -> dict[str, float]:
    """What the stands of a round are like, away from greens."""
    time, east, north = walk
    length_m = max(float(np.sum(np.hypot(np.diff(east), np.diff(north)))), 100.0)
    near = np.maximum(place["near_before"], place["near_after"])[away]
    dwell = place["dwell"][away]
    lone = (
        (dwell > -1.2)
        & (dwell < 0.3)
        & (place["apart_before"][away] > 0.0)
        & (place["apart_after"][away] > 0.0)
    )
    return {
        "round_rate": float(np.log((np.count_nonzero(away) + 1.0) / length_m * 100.0)),
        "round_dwell": float(np.mean(dwell)),
        "round_dwell_spread": float(np.std(dwell)),
        "round_short": float(np.mean(dwell < -1.6)),
        "round_lone": float(np.mean(lone)),
        "round_near": float(np.mean(near)),
        "round_straight": float(np.mean(place["straight_40"][away])),
        "round_pace": float(np.log(max(float(time[-1] - time[0]), 60.0) / length_m)),
        "round_interval": float(np.log(np.clip(np.median(np.diff(time)), 0.2, 60.0)))
        if time.size > 1
        else 0.0,
    }


def _long_stands(
    stands: pd.DataFrame,
    place: dict[str, Floats],
    walk: tuple[Floats, Floats, Floats],
    away: NDArray[np.bool_],
) -> dict[str, Floats]:
    """Each stand among the long ones: a wearer who goes from ball to ball makes few, and no detours."""
    size = len(stands)
    east, north = stands["east_m"].to_numpy(dtype=float), stands["north_m"].to_numpy(dtype=float)
    start = stands["start_s"].to_numpy(dtype=float)
    long = (stands["dwell_s"].to_numpy(dtype=float) >= LONG_S) & away
    turn = np.arange(size)
    marks = np.flatnonzero(long)
    last = np.searchsorted(marks, turn) - 1
    coming = np.searchsorted(marks, turn, "right")
    known_last, known_coming = last >= 0, coming < marks.size
    before = marks[np.maximum(last, 0)] if marks.size else turn
    after = marks[np.minimum(coming, max(marks.size - 1, 0))] if marks.size else turn
    into = east - east[before], north - north[before]
    out = east[after] - east, north[after] - north
    length_in = np.where(known_last, np.minimum(np.hypot(*into), 300.0), 300.0)
    length_out = np.where(known_coming, np.minimum(np.hypot(*out), 300.0), 300.0)
    both = known_last & known_coming
    lengths = np.maximum(np.hypot(*into) * np.hypot(*out), 100.0)
    cosine = np.where(both, (into[0] * out[0] + into[1] * out[1]) / lengths, 0.0)
    direct = np.hypot(east[after] - east[before], north[after] - north[before])
    detour = np.where(both, np.minimum((length_in + length_out - direct) / (direct + 20.0), 3.0), 0.0)
    # A stretch is what lies between two greens.
    stretch = np.cumsum(away & ~np.r_[False, away[:-1]])
    time, walk_east, walk_north = walk
    gone = np.r_[0.0, np.cumsum(np.hypot(np.diff(walk_east), np.diff(walk_north)))]
    at = np.interp(start, time, gone)
    numbers = int(stretch.max(initial=0)) + 1
    count = np.bincount(stretch[long], minlength=numbers)
    first, final = np.full(numbers, np.inf), np.full(numbers, -np.inf)
    np.minimum.at(first, stretch[away], at[away])
    np.maximum.at(final, stretch[away], at[away])
    metres = np.where(np.isfinite(first), np.maximum(final - first, 100.0), 100.0)
    rate = np.log((count + 1.0) / metres * 100.0)
    dwell = place["dwell"]
    rank, order = np.zeros(size), np.zeros(size)
    for number in range(numbers):
        mine, of = np.flatnonzero(stretch == number), np.flatnonzero((stretch == number) & long)
        if of.size:
            rank[mine] = np.searchsorted(np.sort(dwell[of]), dwell[mine]) / of.size - 0.5
            order[mine] = np.searchsorted(of, mine) / of.size - 0.5
    some = long if long.any() else np.ones(size, dtype=bool)
    walked = max(float(np.sum(metres[np.isfinite(first)])), 100.0)
    low, high = np.quantile(dwell[some], [0.25, 0.75])
    of_round = {
        "round_long": float(np.log((np.count_nonzero(long) + 1.0) / walked * 100.0)),
        "round_detour": float(np.mean(detour[some])),
        "round_restless": float(np.mean(place["restless"][some])),
        "round_low": float(low),
        "round_high": float(high),
    }
    return {
        "long_before": np.log((length_in + 3.0) / 30.0),
        "long_after": np.log((length_out + 3.0) / 30.0),
        "long_turn": cosine,
        "long_detour": detour,
        "long_dwell_before": np.where(known_last, dwell[before], 0.0),
        "long_dwell_after": np.where(known_coming, dwell[after], 0.0),
        "stretch_rate": rate[stretch],
        "stretch_long": np.log(count[stretch] + 1.0),
        "stretch_rank": rank,
        "stretch_place": order,
    } | {name: np.full(size, value) for name, value in of_round.items()}
