"""Plays simulated rounds through the whole chain and holds what comes out against the truth."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pandas as pd
from scipy.optimize import linear_sum_assignment

from geo.gpx import GpxFile, PointAccount
from geo.track import Track, join_tracks
from tests.simulator.suite import suite_round
from trackgolf.bag import read_bag
from trackgolf.course import read_course
from trackgolf.reconstruct import Round, reconstruct
from trackgolf.settings import RoundSettings

__all__ = ["Measured", "measure_round", "measure_rounds", "played_round", "track_of"]

# A found shot is right when its stroke is this near in time [s], or near in place and not far in time [m, s].
TIME_S, PLACE_M, PLACE_S = 30.0, 10.0, 90.0


@dataclass
class Measured:
    """What was found of one round: true, found and right shots, the pairs, and confidences with outcomes."""

    row: str
    seed: int
    true: int
    found: int
    right: int
    located: int
    hole_right: int
    long_true: int
    long_right: int
    long_found: int
    long_found_right: int
    confidence: np.ndarray
    outcome: np.ndarray
    distance_error_m: np.ndarray
    putts_error: np.ndarray
    two_error: np.ndarray
    missed: list = field(default_factory=list)
    extra: list = field(default_factory=list)


def track_of(simulated) -> Track:
    """The track of a simulated round, joined as its files would be."""
    files = []
    for number in sorted(simulated.points["file"].unique()):
        points = (
            simulated.points[simulated.points["file"] == number].drop(columns="file").reset_index(drop=True)
        )
        marks = simulated.marks[simulated.marks["file"] == number].drop(columns="file").reset_index(drop=True)
        if marks.empty:
            marks = pd.DataFrame(
                {
                    "time": pd.Series(dtype="datetime64[ns, UTC]"),
                    "lon_deg": [],
                    "lat_deg": [],
                    "name": pd.Series(dtype=str),
                }
            )
        points["time"] = points["time"].astype("datetime64[ns, UTC]")
        files.append(
            GpxFile(
                points=points,
                marks=marks,
                account=PointAccount(len(points), len(points), {}),
                warnings=(),
                name=None,
                description=None,
                creator=None,
                version="1.1",
            )
        )
    return join_tracks(files)


@lru_cache(maxsize=64)
def played_round(row: str, seed: int, noise: float = 1.0, **world):
    """A simulated round with its track, course and bag as the program reads them; `world` as in `suite_round`."""
    simulated = suite_round(row, seed, noise=noise, **world)
    with tempfile.TemporaryDirectory() as folder:
        course_path, bag_path = Path(folder) / "course.geojson", Path(folder) / "bag.toml"
        simulated.course.write_geojson(course_path, bare=row == "bare_course")
        simulated.player.write_bag(bag_path)
        course = read_course(course_path, tee=None if row == "bare_course" else simulated.player.tee)
        bag = read_bag(bag_path)
    return simulated, track_of(simulated), course, bag


def card_of(simulated, *, clubs: bool = False) -> pd.DataFrame:
    """The card as the program would read it: strokes and putts, nothing for a hole picked up."""
    card = simulated.card.copy()
    picked = card["picked_up"].astype(bool)
    table = pd.DataFrame({"hole": card["hole"].astype(int)})
    for name in ("strokes", "putts", "penalties"):
        table[name] = pd.array(card[name].where(~picked | (name == "penalties")), dtype="Int64")
    table["clubs"] = [()] * len(table)
    return table.drop_duplicates("hole", keep=False)


def plan_of(simulated) -> pd.DataFrame:
    """The player's plan as the program would read it."""
    rows = []
    for shot in simulated.plan:
        start, target = simulated.course.plane.to_degrees(np.array([shot.start, shot.target]))
        rows.append(
            {
                "hole": shot.hole,
                "shot": shot.shot,
                "club": shot.club,
                "role": shot.role,
                "distance_m": shot.distance_m,
                "leave_m": shot.leave_m,
                "tolerance_m": shot.tolerance_m,
                "start_lon_deg": start[0],
                "start_lat_deg": start[1],
                "target_lon_deg": target[0],
                "target_lat_deg": target[1],
            }
        )
    return pd.DataFrame(rows)


def rebuild(
    row: str,
    seed: int,
    *,
    card: bool,
    settings: RoundSettings,
    noise: float = 1.0,
    plan: bool = False,
    world: Mapping[str, float | bool] = MappingProxyType({}),
) -> tuple[object, Round]:
    """Rebuild one simulated round."""
    simulated, track, course, bag = played_round(row, seed, noise, **world)
    result = reconstruct(
        track,
        course,
        bag,
        card=card_of(simulated) if card else None,
        plan=plan_of(simulated) if plan else None,
        settings=settings,
    )
    return simulated, result


def measure_round(
    row: str,
    seed: int,
    card: bool,
    settings: RoundSettings,
    noise: float = 1.0,
    plan: bool = False,
    world: Mapping[str, float | bool] = MappingProxyType({}),
) -> Measured:
    """Rebuild one round and compare it with the truth, stroke by stroke."""
    simulated, result = rebuild(row, seed, card=card, settings=settings, noise=noise, plan=plan, world=world)
    return compare(row, seed, simulated, result)


def compare(row: str, seed: int, simulated, result: Round) -> Measured:
    """Match found shots with true ones, one to one."""
    strokes = simulated.strokes
    truth = strokes[
        strokes["counts"].astype(bool)
        & strokes["shot"].notna()
        & ~strokes["air"].astype(bool)
        & strokes["recorded"].astype(bool)
    ]
    truth = truth.reset_index(drop=True)
    shots = result.shots.reset_index(drop=True)
    found_s = shots["start_time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    place = simulated.course.plane.to_metres(
        shots[["start_lon_deg", "start_lat_deg"]].to_numpy(dtype=float)
    ).T
    time_gap = np.abs(truth["time"].to_numpy()[:, None] - found_s[None, :])
    apart = np.hypot(
        truth["start_east_m"].to_numpy()[:, None] - np.asarray(place[0])[None, :],
        truth["start_north_m"].to_numpy()[:, None] - np.asarray(place[1])[None, :],
    )
    near = (time_gap <= TIME_S) | ((apart <= PLACE_M) & (time_gap <= PLACE_S))
    same_hole = truth["hole"].to_numpy()[:, None] == shots["hole"].to_numpy()[None, :]
    right = near & same_hole
    pairs = linear_sum_assignment(np.where(right, time_gap / 1000.0, 10.0))
    good = right[pairs]
    of_true, of_found = pairs[0][good], pairs[1][good]
    loose = linear_sum_assignment(np.where(near, time_gap / 1000.0, 10.0))
    located = near[loose]
    hole_right = int(np.sum(same_hole[loose][located]))
    is_right = np.zeros(len(shots), dtype=bool)
    is_right[of_found] = True
    was_found = np.zeros(len(truth), dtype=bool)
    was_found[of_true] = True
    true_m = truth["distance_m"].to_numpy(dtype=float)
    found_m = shots["distance_m"].to_numpy(dtype=float)
    holes = result.holes.merge(simulated.card, on="hole", suffixes=("", "_true"))
    holes = holes[holes["putts"].notna() & ~holes["picked_up"].astype(bool)]
    putts_true = holes["putts_true"].to_numpy(dtype=float)
    return Measured(
        row=row,
        seed=seed,
        true=len(truth),
        found=len(shots),
        right=int(good.sum()),
        located=int(np.sum(located)),
        hole_right=hole_right,
        long_true=int(np.sum(true_m > 20.0)),
        long_right=int(np.sum(was_found & (true_m > 20.0))),
        long_found=int(np.sum(found_m > 20.0)),
        long_found_right=int(np.sum(is_right & (found_m > 20.0))),
        confidence=shots["confidence"].to_numpy(dtype=float),
        outcome=is_right,
        distance_error_m=np.abs(found_m[of_found] - true_m[of_true]),
        putts_error=np.abs(holes["putts"].to_numpy(dtype=float) - putts_true),
        two_error=np.abs(2.0 - putts_true),
        missed=truth.loc[~was_found, ["hole", "shot", "kind", "time", "distance_m", "lie", "reason"]].to_dict(
            "records"
        ),
        extra=shots.loc[
            ~is_right, ["hole", "shot", "start_time", "distance_m", "confidence", "stand"]
        ].to_dict("records"),
    )


def _one(arguments):
    return measure_round(*arguments)


def measure_rounds(
    rows: list[str],
    seeds: list[int],
    *,
    card: bool,
    settings: RoundSettings,
    noise: float = 1.0,
    plan: bool = False,
    workers: int = 2,
    world: Mapping[str, float | bool] = MappingProxyType({}),
) -> list[Measured]:
    """Rebuild many rounds on several cores."""
    jobs = [(row, seed, card, settings, noise, plan, dict(world)) for row in rows for seed in seeds]
    if workers == 1:
        return [_one(job) for job in jobs]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(_one, jobs, chunksize=1))


def summary(measured: list[Measured]) -> dict[str, float]:
    """Precision, recall, F1 and more over several rounds."""
    true, found, right = (sum(getattr(m, name) for m in measured) for name in ("true", "found", "right"))
    long_true, long_right = sum(m.long_true for m in measured), sum(m.long_right for m in measured)
    long_found, long_found_right = (
        sum(m.long_found for m in measured),
        sum(m.long_found_right for m in measured),
    )
    errors = np.concatenate([m.distance_error_m for m in measured])
    return {
        "rounds": len(measured),
        "recall": right / true,
        "precision": right / max(found, 1),
        "f1": 2 * right / max(true + found, 1),
        "hole_right": sum(m.hole_right for m in measured) / max(sum(m.located for m in measured), 1),
        "recall_over_20_m": long_right / max(long_true, 1),
        "precision_over_20_m": long_found_right / max(long_found, 1),
        "median_distance_error_m": float(np.nanmedian(errors)) if errors.size else float("nan"),
        "putts_error": float(np.mean(np.concatenate([m.putts_error for m in measured]))),
        "two_putts_error": float(np.mean(np.concatenate([m.two_error for m in measured]))),
    }
