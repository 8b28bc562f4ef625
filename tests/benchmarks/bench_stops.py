"""
How well stops are found, against true stands and against two trajectory libraries: ``python -m tests.benchmarks.bench_stops``.

Easy tracks are walks from place to place with stands of 20 s and more, at least 30 m apart; hard ones are whole simulated
rounds. Both are recorded by every kind of device. True stands less than 6 m and 10 s apart count as one, and those under
15 s do not count, found or not. A found stop is right when it shares half of its time and half of the stand's; one to one.
The libraries run with the settings that were best on tuning seeds (`--tune` looks for them); all rows use measuring seeds.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from itertools import product
from pathlib import Path as FilePath

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import pandas as pd
from scipy.optimize import linear_sum_assignment

from geo.frame import LocalFrame
from geo.stops import find_stops
from geo.track import read_tracks
from tests.benchmarks.figures import show, table
from tests.benchmarks.measure import track_of
from tests.benchmarks.peers import MISSING, PEERS, missing_peers, peer_stops, versions
from tests.simulator.courses import invented_course
from tests.simulator.recorders import Recorder, record
from tests.simulator.suite import suite_round
from tests.simulator.walker import Path

EASY = ("watch", "silent", "sparse", "phone")
HARD = ("watch", "silent", "sparse", "phone", "slow", "buggy")
JOIN_M, JOIN_S, LEAST_S = 6.0, 10.0, 15.0
WALK = FilePath("demo_tracks/walk.gpx")
# What a stop may measure [m] and must last [s]: the settings tried for the libraries.
EXTENTS_M, LEASTS_S = (4.0, 6.0, 8.0, 10.0, 15.0, 20.0), (12.0, 18.0, 25.0, 35.0)

Stands = list[tuple[float, float, float, float]]  # start, end [s], east, north [m]


@lru_cache(maxsize=32)
def easy_walk(kind: str, seed: int) -> tuple[pd.DataFrame, Stands]:
    """Points of a walk with sixty stands well apart, and the stands."""
    rng = np.random.default_rng([seed, 0xEA])
    course = invented_course(1000 + seed % 7)
    clock, place = 1.78e9, np.zeros(2)
    knots, stands = [(clock, *place)], []
    heading = rng.uniform(0, 2 * np.pi)
    for _ in range(60):
        stood = float(rng.uniform(20, 90))
        stands.append((clock, clock + stood, float(place[0]), float(place[1])))
        clock += stood
        knots.append((clock, *place))
        heading += rng.normal(0, 0.8)
        way = float(rng.uniform(30, 160))
        place = place + way * np.array([np.cos(heading), np.sin(heading)])
        clock += way / float(rng.uniform(1.05, 1.45))
        knots.append((clock, *place))
    time, east, north = np.array(knots).T
    recorder = {
        "watch": Recorder.watch,
        "silent": Recorder.silent,
        "sparse": Recorder.sparse,
        "phone": Recorder.phone,
    }
    recording = record(
        rng, Path(time, east, north), time[0], time[-1], [], course, pd.DataFrame(), recorder[kind](), 1
    )
    return recording.points, stands


@lru_cache(maxsize=32)
def round_stands(row: str, seed: int) -> tuple[pd.DataFrame, Stands]:
    """Points of a simulated round, and the stands of the one who played it."""
    simulated = suite_round(row, seed)
    told = simulated.stands.sort_values("start")
    return track_of(simulated).points, list(
        told[["start", "end", "east_m", "north_m"]].itertuples(index=False, name=None)
    )


def joined(stands: Stands) -> Stands:
    """Make one of stands that no recording tells apart."""
    out: Stands = []
    for start, end, east, north in stands:
        if out:
            before = out[-1]
            if start - before[1] < JOIN_S and np.hypot(east - before[2], north - before[3]) < JOIN_M:
                longer = before if before[1] - before[0] > end - start else (start, end, east, north)
                out[-1] = (before[0], max(before[1], end), longer[2], longer[3])
                continue
        out.append((start, end, east, north))
    return out


def counts(points: pd.DataFrame, stands: Stands, found: pd.DataFrame) -> np.ndarray:
    """True stands, found stops and right ones."""
    time = points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    true = np.array([(s, e) for s, e, *_ in joined(stands)])
    true = np.clip(true, time[0], time[-1])
    length = true[:, 1] - true[:, 0]
    got = found[["start_s", "end_s"]].to_numpy(dtype=float)
    if not len(got):
        return np.array([np.sum(length >= LEAST_S), 0, 0])
    shared = np.minimum(true[:, 1:], got[:, 1]) - np.maximum(true[:, :1], got[:, 0])
    lasted = np.maximum(got[:, 1] - got[:, 0], 1e-9)
    right = (shared >= 0.5 * length[:, None]) & (shared >= 0.5 * lasted)
    wanted = length >= LEAST_S
    pairs = linear_sum_assignment(-(right & wanted[:, None]).astype(float))
    good = (right & wanted[:, None])[pairs]
    # Stops at stands too short to be asked for count neither way.
    unasked = np.any((shared >= 0.5 * lasted) & ~wanted[:, None], axis=0)
    unasked[pairs[1][good]] = False
    return np.array([wanted.sum(), len(got) - unasked.sum(), good.sum()])


def our_stops(points: pd.DataFrame) -> pd.DataFrame:
    """The stops as the program finds them, in metres."""
    frame = LocalFrame(float(points["lon_deg"].iloc[0]), float(points["lat_deg"].iloc[0]))
    east, north = frame.to_metres(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    return find_stops(points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9, east, north)


def _job(job: tuple[str, str, int, str, tuple[float, float] | None]) -> np.ndarray:
    kind, row, seed, finder, given = job
    make: Callable[[str, int], tuple[pd.DataFrame, Stands]] = easy_walk if kind == "easy" else round_stands
    points, stands = make(row, seed)
    points = points.sort_values("time").drop_duplicates("time").reset_index(drop=True)
    if finder == "ours":
        found = our_stops(points)
    else:
        settings = {} if given is None else {"extent_m": given[0], "least_s": given[1]}
        found = peer_stops(finder, points, **settings)
    return counts(points, stands, found)


def f1(tallies: list[np.ndarray]) -> float:
    """Twice the right ones over true and found together."""
    true, found, right = np.sum(tallies, axis=0)
    return float(2 * right / max(true + found, 1))


def tune(pool: ProcessPoolExecutor, rounds: int, peers: list[str]) -> None:
    """Try every setting of the libraries on tuning rounds."""
    tracks = [("easy", row) for row in EASY] + [("hard", row) for row in HARD[:4]]
    for peer in peers:
        tried = {}
        for given in product(EXTENTS_M, LEASTS_S):
            jobs = [(*track, 1000 + number, peer, given) for track in tracks for number in range(rounds)]
            tallies = list(pool.map(_job, jobs))
            parts = [tallies[place : place + rounds] for place in range(0, len(tallies), rounds)]
            tried[given] = float(np.mean([f1(part) for part in parts]))
            print(f"{peer} {given[0]:.0f} m {given[1]:.0f} s: {tried[given]:.3f}", flush=True)
        best = max(tried, key=lambda given: tried[given])
        print(f"{peer}: best {best[0]:.0f} m, {best[1]:.0f} s, mean F1 {tried[best]:.3f}")


def real_walk(finders: list[str]) -> list[list[object]]:
    """Stops of a minute and more on the real walk: how many, and how much of their time each other finder shares."""
    points = read_tracks([WALK]).points
    found = {"ours": our_stops(points)} | {
        peer: peer_stops(peer, points, extent_m=20.0, least_s=60.0) for peer in finders if peer != "ours"
    }
    long = {name: one[one["end_s"] - one["start_s"] >= 60.0] for name, one in found.items()}
    rows: list[list[object]] = []
    for name, mine in long.items():
        shares = []
        for theirs in long.values():
            start, end = theirs["start_s"].to_numpy()[:, None], theirs["end_s"].to_numpy()[:, None]
            begun, ended = found[name]["start_s"].to_numpy(), found[name]["end_s"].to_numpy()
            both = np.maximum(np.minimum(end, ended) - np.maximum(start, begun), 0.0)
            seen = both.sum(axis=1) / (end - start)[:, 0]
            shares.append(f"{int(np.sum(seen >= 0.5))} of {len(theirs)}")
        rows.append([name, len(mine), *shares])
    return rows


def main() -> int:
    """Print the tables; 1 if a library is better somewhere."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=4, help="tracks a row")
    parser.add_argument("--first", type=int, default=500, help="first seed")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument(
        "--tune", action="store_true", help="look for the libraries' best settings on seeds from 1000"
    )
    parser.add_argument("--write", action="store_true", help="put the tables into DEVELOPERS.md")
    options = parser.parse_args()
    missing = missing_peers()
    peers = [peer for peer in PEERS if peer not in missing]
    print(versions())
    if missing:
        print(f"not installed: {', '.join(missing)}; for their columns: {MISSING}")
    rows: list[list[object]] = []
    good = True
    with ProcessPoolExecutor(options.workers) as pool:
        if options.tune:
            tune(pool, options.rounds, peers)
            return 0
        for kind, row in [("easy", row) for row in EASY] + [("hard", row) for row in HARD]:
            seeds = range(options.first, options.first + options.rounds)
            scores = [
                f1(list(pool.map(_job, [(kind, row, seed, finder, None) for seed in seeds])))
                for finder in ("ours", *peers)
            ]
            rows.append([f"{kind}, {row}", *scores])
            print(rows[-1], flush=True)
            good &= scores[0] >= max(scores)
    print()
    show("stops", table(["tracks", "ours", *peers], rows), write=options.write)
    print()
    walk = real_walk(["ours", *peers])
    head = ["finder", "stops", *(f"finds of {name}" for name in ("ours", *peers))]
    show("stops of a real walk", table(head, walk), write=options.write)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
