"""Simulated rounds without their course, and the holes that were truly played."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd

from geo.clean import remove_jumps
from geo.smooth import smooth_positions
from geo.stops import find_stops
from tests.benchmarks.measure import played_round
from trackgolf.bag import Bag
from trackgolf.guess_stands import Walk
from trackgolf.settings import RoundSettings

__all__ = ["GREEN_M", "TEE_M", "TrueHole", "Unmapped", "share_found", "true_holes", "unmapped_round"]

# A hole is found when its green's centre and its tee lie this near the true ones [m].
GREEN_M, TEE_M = 15.0, 25.0


@dataclass(frozen=True)
class TrueHole:
    """One hole as it was played: when, its number, tee and centre of the green in the plane of the course [m]."""

    turn: int
    number: int
    tee_m: tuple[float, float]
    green_m: tuple[float, float]
    start_s: float
    end_s: float
    recorded: float


@dataclass(frozen=True)
class Unmapped:
    """A round as the guessing sees it, in the plane of the course, with its truth."""

    stands: pd.DataFrame
    walk: Walk
    bag: Bag
    holes: list[TrueHole]
    strokes: pd.DataFrame


def true_holes(simulated) -> list[TrueHole]:
    """List the holes of a simulated round in order of play."""
    holes = []
    for turn, mine in simulated.strokes.groupby("turn"):
        number = int(mine["hole"].iloc[0])
        drawn = simulated.course.hole(number)
        east, north = np.asarray(drawn.tees[simulated.player.tee], dtype=float).ravel()[:2]
        green = drawn.green.centroid
        holes.append(
            TrueHole(
                int(turn),
                number,
                (float(east), float(north)),
                (green.x, green.y),
                float(mine["time"].min()),
                float(mine["time"].max()),
                float(mine["recorded"].astype(bool).mean()),
            )
        )
    return holes


@lru_cache(maxsize=256)
def unmapped_round(row: str, seed: int) -> Unmapped:
    """Make a round of a named row as the guessing sees it."""
    simulated, track, _, bag = played_round(row, seed)
    points = remove_jumps(track.points).points
    time_s = points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    east, north = simulated.course.plane.to_metres(points[["lon_deg", "lat_deg"]].to_numpy()).T
    smooth = smooth_positions(time_s, east, north, hdop=points["hdop"].to_numpy())
    stands = find_stops(time_s, east, north, RoundSettings().stops)
    walk = (time_s, smooth.east_m, smooth.north_m)
    return Unmapped(stands, walk, bag, true_holes(simulated), simulated.strokes)


def share_found(
    holes: list[TrueHole], tees_m: np.ndarray, greens_m: np.ndarray, *, slack: float = 1.0
) -> int:
    """Count the true holes with a guessed one whose tee and green both lie near theirs."""
    found = 0
    for hole in holes:
        if len(tees_m):
            tee = np.hypot(*(tees_m - np.array(hole.tee_m)).T) < TEE_M * slack
            green = np.hypot(*(greens_m - np.array(hole.green_m)).T) < GREEN_M * slack
            found += bool(np.any(tee & green))
    return found
