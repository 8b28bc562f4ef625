"""
How long everything takes, against what others take for a part of it: ``python -m tests.benchmarks.bench_speed``.

One run on a simulated round of 16,200 points (four and a half hours at a point a second): a bare expat pass over the
file, the usual GPX library, our reading, our stops, file to shots as a whole, and two trajectory libraries that find
the stops alone. Turn by turn, in processor time of one core, so that whatever else the machine does counts little; the
median of the turns counts. Then the same for 1, 5 and 20 hours, to show that the time grows as the points do. Last what a
user waits for and what it weighs, each in processes of their own, beside the aims.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import gpxpy
import numpy as np
import pandas as pd
from gpxpy.parser import GPXParser

from geo.frame import LocalFrame
from geo.stops import find_stops
from geo.track import read_tracks
from tests.benchmarks.bench_read import bare_pass
from tests.benchmarks.figures import show, table
from tests.benchmarks.peers import MISSING, PEERS, missing_peers, prepare_peer, versions
from tests.simulator.suite import suite_round
from tests.simulator.write import gpx_text
from trackgolf.bag import read_bag
from trackgolf.course import read_course
from trackgolf.reconstruct import reconstruct

HOURS = (1, 5, 20)


def round_of(folder: Path, seed: int, points: int) -> Path:
    """Write the first points of a simulated round as GPX, with its course and bag; as many as there are."""
    simulated = suite_round("watch", seed)
    simulated.course.write_geojson(folder / "course.geojson")
    simulated.player.write_bag(folder / "bag.toml")
    (folder / "tee").write_text(simulated.player.tee, encoding="utf-8")
    table = simulated.points
    # A longer recording plays the round again and again, with a minute between.
    span = table["time"].iloc[-1] - table["time"].iloc[0] + pd.Timedelta(minutes=1)
    parts = [table.assign(time=table["time"] + turn * span) for turn in range(-(-points // len(table)))]
    path = folder / f"{points}.gpx"
    whole = pd.concat(parts, ignore_index=True).iloc[:points]
    path.write_text(gpx_text(whole, simulated.marks.iloc[:0], "invented"), encoding="utf-8")
    return path


def in_metres(points: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times and positions of a track as `find_stops` takes them."""
    frame = LocalFrame(float(points["lon_deg"].iloc[0]), float(points["lat_deg"].iloc[0]))
    east, north = frame.to_metres(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    return points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9, east, north


def usual_library(path: Path, *, lxml: bool) -> None:
    """Read with gpxpy, by the parser of the standard library or by lxml's."""
    text = path.read_text(encoding="utf-8")
    if lxml:
        gpxpy.parse(text)
        return
    # gpxpy takes lxml wherever it is installed.
    parser = sys.modules[GPXParser.__module__]
    kept, parser.mod_etree = parser.mod_etree, __import__("xml.etree.ElementTree").etree.ElementTree
    try:
        gpxpy.parse(text)
    finally:
        parser.mod_etree = kept


def medians(runs: dict[str, Callable[[], object]], turns: int) -> dict[str, float]:
    """Time every run in turn, and give the median of each [s]."""
    taken: dict[str, list[float]] = {name: [] for name in runs}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for run in runs.values():
            run()  # the first call imports and fills caches
        for _ in range(turns):
            for name, run in runs.items():
                begin = time.process_time()
                run()
                taken[name].append(time.process_time() - begin)
    return {name: statistics.median(values) for name, values in taken.items()}


def our_runs(folder: Path, path: Path) -> dict[str, Callable[[], object]]:
    """Our reading, our stops, and everything."""
    tee = (folder / "tee").read_text(encoding="utf-8")
    course, bag = read_course(folder / "course.geojson", tee=tee), read_bag(folder / "bag.toml")
    metres = in_metres(read_tracks([path]).points)
    return {
        "read_tracks": lambda: read_tracks([path]),
        "find_stops": lambda: find_stops(*metres),
        "file to shots": lambda: reconstruct(read_tracks([path]), course, bag),
    }


def seconds_of(*words: str, turns: int) -> float:
    """Processor time of a process and its own, the median of some turns [s]."""
    taken = []
    for _ in range(turns):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, *words], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return statistics.median(taken)


def weight_mib(*words: str) -> float:
    """Memory beyond the imports of a process of its own [MiB]."""
    command = [sys.executable, "-m", "tests.benchmarks.weigh_memory", *words]
    return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def aims(taken: dict[str, float], folder: Path) -> list[tuple[str, float, float]]:
    """What was promised: a name, the figure, and the most it may be."""
    rows = [("read_tracks, times the bare expat pass", taken["read_tracks"] / taken["bare expat pass"], 1.5)]
    rows.append(("read_tracks, times gpxpy", taken["read_tracks"] / taken["gpxpy"], 1 / 3))
    if "movingpandas, stops alone" in taken:
        share = taken["file to shots"] / taken["movingpandas, stops alone"]
        rows.append(("file to shots, times movingpandas, stops alone", share, 0.5))
    bare = seconds_of("-c", "pass", turns=9)
    rows.append(
        (
            "`trackgolf --help` beyond bare Python, s",
            seconds_of("-m", "trackgolf", "--help", turns=9) - bare,
            0.1,
        )
    )
    demo = seconds_of("-m", "trackgolf", "demo", "--out", str(folder / "demo"), turns=1)
    rows.append(("`trackgolf demo`, s", demo, 10.0))
    rows.append(("memory beyond the imports, a round from file to report, MiB", weight_mib("round"), 60.0))
    million = weight_mib("points", "1000000", str(folder))
    rows.append(("memory beyond the imports, a million points and their stops, MiB", million, 400.0))
    return rows


def main() -> int:
    """Print the tables; 1 if an aim is missed."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--points", type=int, default=16_200)
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--seed", type=int, default=500)
    parser.add_argument("--write", action="store_true", help="put the tables into DEVELOPERS.md")
    options = parser.parse_args()
    missing = missing_peers()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        path = round_of(folder, options.seed, options.points)
        points = read_tracks([path]).points
        runs: dict[str, Callable[[], object]] = {"bare expat pass": lambda: bare_pass(path)}
        runs["gpxpy"] = lambda: usual_library(path, lxml=False)
        if find_spec("lxml"):
            runs["gpxpy with lxml"] = lambda: usual_library(path, lxml=True)
        runs |= our_runs(folder, path)
        for peer in PEERS:
            if peer not in missing:
                runs[f"{peer}, stops alone"] = prepare_peer(peer, points)
        print(
            f"{len(points)} points, {path.stat().st_size / 1e6:.1f} MB, median of {options.turns}; {versions()}"
        )
        if missing:
            print(f"not installed: {', '.join(missing)}; for their rows: {MISSING}")
        taken = medians(runs, options.turns)
        against = [name for name in ("bare expat pass", "movingpandas, stops alone") if name in taken]
        rows = [
            [name, f"{seconds * 1e3:.0f}", *(f"{seconds / taken[other]:.2f}" for other in against)]
            for name, seconds in taken.items()
        ]
        show("speed", table(["", "ms", *(f"times {name}" for name in against)], rows), write=options.write)
        grown = [
            (hours * 3600, medians(our_runs(folder, round_of(folder, options.seed, hours * 3600)), 3))
            for hours in HOURS
        ]
        rows = [
            [name, *(f"{one[name] / count * 1e6:.1f}" for count, one in grown)]
            for name in ("read_tracks", "find_stops", "file to shots")
        ]
        head = ["at 1 Hz", *(f"{hours} h" for hours in HOURS)]
        print()
        show("growth", table(head, rows), write=options.write)
        found = aims(taken, folder)
        print()
        rows = [[name, f"{value:.2f}", f"{most:.2f}"] for name, value, most in found]
        show("aims", table(["", "measured", "at most"], rows), write=options.write)
    good = all(value <= most for _, value, most in found)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
