"""How much a stand looks like a stroke: a small network over the stand, what surrounds it, and its round."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from trackgolf.evidence import dwell_score
from trackgolf.ground import Ground
from trackgolf.settings import RoundSettings
from trackgolf.stand_model import FEATURES, stand_features

__all__ = ["CONTEXT", "KINDS", "StandNet", "stand_inputs", "stand_net"]

Floats = NDArray[np.float64]

# What a stand may be: a stroke from off the tee and off the green, the first of a hole, the first on the green.
KINDS = ("shot", "tee", "arrive")

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
}

_SAME_KIND_M = (
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
    away = green > _SAME_KIND_M / 20.0
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
        "restless_before": _shifted(place["restless"], 1),
        "restless_after": _shifted(place["restless"], -1),
        "dwell_before_2": _shifted(place["dwell"], 2),
        "dwell_after_2": _shifted(place["dwell"], -2),
        "straight_before": _shifted(place["straight_40"], 1),
        "straight_after": _shifted(place["straight_40"], -1),
        "apart_before_2": _shifted(place["apart_before"], 1),
        "apart_after_2": _shifted(place["apart_after"], -1),
        "green_before": _shifted(green, 1),
        "green_after": _shifted(green, -1),
        "tee_before": _shifted(tee, 1),
        "tee_after": _shifted(tee, -1),
        "rank": np.searchsorted(np.sort(dwell_s[away]), dwell_s) / np.count_nonzero(away) - 0.5,
    }
    columns |= _crowd(stands, away)
    columns |= {name: np.full(len(stands), value) for name, value in _round(place, walk, away).items()}
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


def _shifted(values: Floats, places: int) -> Floats:
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


@dataclass(frozen=True, slots=True)
class StandNet:
    """
    One hidden layer beside a straight path: log-odds that a stand is each of `KINDS`.

    Attributes are `mean` and `scale` of the inputs, shape (f,); `hidden`, shape (f + 1, q), the last row the
    constant; `out`, shape (q, 3); and `straight`, shape (f + 1, 3).
    """

    mean: Floats
    scale: Floats
    hidden: Floats
    out: Floats
    straight: Floats

    def scores(self, inputs: Floats) -> Floats:
        """
        Weigh stands by what they look like.

        Parameters
        ----------
        inputs : numpy.ndarray, shape (m, f)
            As `stand_inputs` gives them.

        Returns
        -------
        numpy.ndarray, shape (m, 3)
            Log-odds a kind, within 8 either way.
        """
        scaled = np.column_stack(
            [np.clip((inputs - self.mean) / self.scale, -4.0, 4.0), np.ones(len(inputs))]
        )
        found: Floats = np.tanh(scaled @ self.hidden) @ self.out + scaled @ self.straight
        return np.clip(found, -8.0, 8.0)


@cache
def stand_net() -> StandNet:
    """
    Give the network that comes with the program.

    Returns
    -------
    StandNet
        The file it is read from says which rounds it was fitted on, and by which command.
    """
    text = resources.files("trackgolf").joinpath("data/stand_net.json").read_text(encoding="utf-8")
    record = json.loads(text)
    names = (*FEATURES, *CONTEXT)
    order = [record["inputs"].index(name) for name in names]
    mean, scale = (np.array(record[key], dtype=float)[order] for key in ("mean", "scale"))
    rows = [*order, len(order)]
    hidden, straight = (np.array(record[key], dtype=float)[rows] for key in ("hidden", "straight"))
    return StandNet(mean, scale, hidden, np.array(record["out"], dtype=float), straight)
