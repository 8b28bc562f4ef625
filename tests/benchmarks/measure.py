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

from geo.frame import LocalFrame
from geo.gpx import GpxFile, PointAccount
from geo.line import offsets_from_target
from geo.track import Track, join_tracks
from tests.benchmarks.variants import changed
from tests.simulator.suite import suite_round
from trackgolf.bag import read_bag
from trackgolf.compare import compare_round
from trackgolf.course import read_course
from trackgolf.reconstruct import Round, reconstruct
from trackgolf.settings import RoundSettings

__all__ = ["Measured", "measure_round", "measure_rounds", "played_round", "track_of"]

# A found shot is right when its stroke is this near in time [s], or near in place and not far in time [m, s].
TIME_S, PLACE_M, PLACE_S = 30.0, 10.0, 90.0
# Shots that matter most to a plan are longer than this [m].
FAR_M = 60.0


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
    # Of the shots found: what a distance is off from true, and what it would be with the true times of address.
    own_error_m: np.ndarray
    knowing_error_m: np.ndarray
    # Of shots over 60 m: true, found, and right of both.
    far_true: int
    far_right: int
    far_found: int
    far_found_right: int
    # Against the plan's targets: long and right of the shots found, of the true ones, and of the former less the latter.
    off_found_m: np.ndarray
    off_true_m: np.ndarray
    off_paired_m: np.ndarray
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
    variant: str = "",
) -> tuple[object, Round]:
    """Rebuild one simulated round, by the program as it is or by a variant of `tests.benchmarks.variants`."""
    simulated, track, course, bag = played_round(row, seed, noise, **world)
    with changed(variant, simulated, course, bag, settings) as (bag_used, settings_used):
        result = reconstruct(
            track,
            course,
            bag_used,
            card=card_of(simulated) if card else None,
            plan=plan_of(simulated) if plan else None,
            settings=settings_used,
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
    variant: str = "",
) -> Measured:
    """Rebuild one round and compare it with the truth, stroke by stroke."""
    simulated, result = rebuild(
        row, seed, card=card, settings=settings, noise=noise, plan=plan, world=world, variant=variant
    )
    _, track, *_ = played_round(row, seed, noise, **world)
    return compare(row, seed, simulated, result, track)


def compare(row: str, seed: int, simulated, result: Round, track: Track | None = None) -> Measured:
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
    knowing_m = np.abs(known_distances_m(simulated, truth, track or track_of(simulated)) - true_m)[of_true]
    own_m = np.abs(found_m[of_found] - true_m[of_true])
    both = np.isfinite(knowing_m) & np.isfinite(own_m)
    # By the number that the shot truly had, whatever number it was given.
    really = true_shots(simulated, truth)
    numbers = truth["shot"].iloc[of_true]
    paired = offsets_from_targets_m(simulated, shots.iloc[of_found], numbers)
    paired -= offsets_from_targets_m(simulated, really.iloc[of_true], numbers)
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
        distance_error_m=own_m,
        putts_error=np.abs(holes["putts"].to_numpy(dtype=float) - putts_true),
        two_error=np.abs(2.0 - putts_true),
        own_error_m=own_m[both],
        knowing_error_m=knowing_m[both],
        far_true=int(np.sum(true_m > FAR_M)),
        far_right=int(np.sum(was_found & (true_m > FAR_M))),
        far_found=int(np.sum(found_m > FAR_M)),
        far_found_right=int(np.sum(is_right & (found_m > FAR_M))),
        off_found_m=reported_offsets_m(simulated, shots, result.ground.frame),
        off_true_m=reported_offsets_m(simulated, really, result.ground.frame),
        off_paired_m=paired[np.isfinite(paired[:, 0])],
        missed=truth.loc[~was_found, ["hole", "shot", "kind", "time", "distance_m", "lie", "reason"]].to_dict(
            "records"
        ),
        extra=shots.loc[
            ~is_right, ["hole", "shot", "start_time", "distance_m", "confidence", "stand"]
        ].to_dict("records"),
    )


def known_distances_m(simulated, truth: pd.DataFrame, track: Track) -> np.ndarray:
    """
    Distances by somebody who knows when each ball was addressed, and averages the recorded positions meanwhile.

    NaN where the next stroke was not played from where the ball came to rest, as after a drop.
    """
    east, north = simulated.course.plane.to_metres(
        track.points[["lon_deg", "lat_deg"]].to_numpy(dtype=float)
    ).T
    time = track.points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    strokes = simulated.strokes[simulated.strokes["counts"].astype(bool)].reset_index(drop=True)
    stands = simulated.stands[simulated.stands["why"].isin(["shot", "putt"])]
    begin, end = stands["start"].to_numpy(), stands["end"].to_numpy()
    place = np.full((len(strokes), 2), np.nan)
    for number, moment in enumerate(strokes["time"].to_numpy(dtype=float)):
        inside = np.flatnonzero((begin <= moment + 0.5) & (moment <= end + 0.5))
        if inside.size and time[0] <= moment <= time[-1]:
            clock = np.arange(begin[inside[0]], end[inside[0]] + 1.0)
            place[number] = np.interp(clock, time, east).mean(), np.interp(clock, time, north).mean()
    follow = strokes.shift(-1)
    rest = np.hypot(
        follow["start_east_m"] - strokes["end_east_m"], follow["start_north_m"] - strokes["end_north_m"]
    )
    known = (strokes["turn"] == follow["turn"]) & (rest < 3.0)
    length_m = np.where(known, np.hypot(*np.diff(place, axis=0, append=np.nan).T), np.nan)
    by_time = dict(zip(strokes["time"], length_m, strict=True))
    return np.array([by_time[moment] for moment in truth["time"]], dtype=float)


def reported_offsets_m(simulated, shots: pd.DataFrame, frame: LocalFrame) -> np.ndarray:
    """Long and right of the target as the program's comparison with the plan has them, a row a shot it measures [m]."""
    table = compare_round(shots, plan_of(simulated), frame)
    return table[["long_m", "right_m"]].astype(float).dropna().to_numpy()


def true_shots(simulated, truth: pd.DataFrame) -> pd.DataFrame:
    """The true strokes as the program would give them, had it found all and measured them without error."""
    lost = (truth["penalty"] > 0) | truth["end_lie"].isin(["lost", "picked_up"])
    table = truth[["hole", "shot", "end_lie", "start_lon_deg", "start_lat_deg", "end_lon_deg", "end_lat_deg"]]
    return table.assign(
        visit=truth["turn"],
        distance_m=truth["distance_m"].where(~lost),
        path_m=np.nan,
        leave_m=np.nan,
        club="",
        club_source="",
        end_sigma_m=0.0,
    )


def offsets_from_targets_m(simulated, shots: pd.DataFrame, numbers: pd.Series) -> np.ndarray:
    """Long and right of the planned targets of the given shot numbers [m], NaN without a target or a finish."""
    targets = {(one.hole, one.shot): np.asarray(one.target) for one in reversed(simulated.plan)}
    plane = simulated.course.plane
    start = plane.to_metres(shots[["start_lon_deg", "start_lat_deg"]].to_numpy(dtype=float))
    finish = plane.to_metres(shots[["end_lon_deg", "end_lat_deg"]].to_numpy(dtype=float))
    offsets = np.full((len(shots), 2), np.nan)
    known = shots["distance_m"].notna().to_numpy()
    for row, key in enumerate(zip(shots["hole"], numbers, strict=True)):
        if known[row] and key in targets:
            offsets[row] = offsets_from_target(start[row], targets[key], finish[row])[:2]
    return offsets


_WORKERS: list[ProcessPoolExecutor] = []


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
    variant: str = "",
) -> list[Measured]:
    """Rebuild many rounds on several cores."""
    jobs = [(row, seed, card, settings, noise, plan, dict(world), variant) for row in rows for seed in seeds]
    if workers == 1:
        return [_one(job) for job in jobs]
    while len(_WORKERS) < workers:
        _WORKERS.append(ProcessPoolExecutor(1))
    # A round always goes to the same worker, which keeps it: playing one takes longer than rebuilding it.
    waiting = [_WORKERS[(job[1] + len(job[0])) % workers].submit(_one, job) for job in jobs]
    return [one.result() for one in waiting]


def summary(measured: list[Measured]) -> dict[str, float]:
    """Precision, recall, F1 and more over several rounds."""
    true, found, right = (sum(getattr(m, name) for m in measured) for name in ("true", "found", "right"))
    long_true, long_right = sum(m.long_true for m in measured), sum(m.long_right for m in measured)
    long_found, long_found_right = (
        sum(m.long_found for m in measured),
        sum(m.long_found_right for m in measured),
    )
    errors, own, knowing = (
        np.concatenate([getattr(m, name) for m in measured])
        for name in ("distance_error_m", "own_error_m", "knowing_error_m")
    )
    far = [
        sum(getattr(m, f"far_{name}") for m in measured) for name in ("true", "right", "found", "found_right")
    ]
    far_recall, far_precision = far[1] / max(far[0], 1), far[3] / max(far[2], 1)
    return {
        "rounds": len(measured),
        "recall": right / true,
        "precision": right / max(found, 1),
        "f1": 2 * right / max(true + found, 1),
        "hole_right": sum(m.hole_right for m in measured) / max(sum(m.located for m in measured), 1),
        "recall_over_20_m": long_right / max(long_true, 1),
        "precision_over_20_m": long_found_right / max(long_found, 1),
        "f1_over_60_m": 2 * far_recall * far_precision / max(far_recall + far_precision, 1e-9),
        "distance_ratio": float(np.median(own) / np.median(knowing)) if own.size else float("nan"),
        "median_distance_error_m": float(np.nanmedian(errors)) if errors.size else float("nan"),
        "putts_error": float(np.mean(np.concatenate([m.putts_error for m in measured]))),
        "two_putts_error": float(np.mean(np.concatenate([m.two_error for m in measured]))),
    }
