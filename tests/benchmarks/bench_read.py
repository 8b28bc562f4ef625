"""
How long it takes to read a round, against what reading cannot do without: one expat pass over the file.

Run as ``python -m tests.benchmarks.bench_read``. All rows are timed in one run, turn by turn, so that a busy machine slows
all of them; the best of the turns counts. The aim: our whole read of 16,200 points (four and a half hours at a point a
second) within 1.5 times the bare pass.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from array import array
from collections.abc import Callable
from pathlib import Path
from xml.parsers import expat

import gpxpy
import numpy as np
import pandas as pd

from geo.gpx import read_gpx, write_gpx
from geo.track import read_tracks

AIM = 1.5


def invented_round(count: int) -> str:
    """Give an invented walk as GPX, a point a second, with elevations, as a watch writes it."""
    rng = np.random.default_rng(2026)
    steps_deg = rng.normal(1e-5, 3e-6, (2, count))
    points = pd.DataFrame(
        {
            "time": pd.date_range("2026-05-03T07:00:00Z", periods=count, freq="s"),
            "lon_deg": -31.0 + np.cumsum(steps_deg[0]),
            "lat_deg": 47.0 + np.cumsum(steps_deg[1]),
            "ele_m": np.round(20 + np.cumsum(rng.normal(0, 0.1, count)), 1),
        }
    )
    return write_gpx(None, points=points, name="invented", description="Invented round for a benchmark")


def bare_pass(path: Path) -> tuple[array[float], array[float], list[str]]:
    """Collect latitude, longitude and the text of the time of every point: no checks, no table."""
    lats, lons, times = array("d"), array("d"), []
    pieces: list[str] = []
    inside = False

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal inside
        if name == "trkpt":
            lats.append(float(attributes["lat"]))
            lons.append(float(attributes["lon"]))
        elif name == "time":
            inside = True

    def end(name: str) -> None:
        nonlocal inside
        if name == "time":
            times.append("".join(pieces))
            pieces.clear()
            inside = False

    def text(piece: str) -> None:
        if inside:
            pieces.append(piece)

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = text
    parser.Parse(path.read_bytes(), True)
    return lats, lons, times


def gpxpy_read(path: Path) -> object:
    """Read with the usual library."""
    with path.open(encoding="utf-8") as file:
        return gpxpy.parse(file)


def best_times(readers: dict[str, Callable[[Path], object]], path: Path, turns: int) -> dict[str, float]:
    """Time every reader in turn, and give the best of each [s]."""
    best = dict.fromkeys(readers, np.inf)
    for turn in range(turns):
        for name, reader in readers.items():
            # The usual library takes seconds; three times is enough to know.
            if reader is gpxpy_read and turn >= 3:
                continue
            begin = time.perf_counter()
            reader(path)
            best[name] = min(best[name], time.perf_counter() - begin)
    return best


def main() -> int:
    """Print the table; 1 if the aim is missed."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--points", type=int, default=16_200)
    options.add_argument("--turns", type=int, default=9)
    given = options.parse_args()
    readers: dict[str, Callable[[Path], object]] = {
        "bare expat pass": bare_pass,
        "geo.gpx.read_gpx": read_gpx,
        "geo.track.read_tracks": lambda path: read_tracks([path]),
        "gpxpy.parse": gpxpy_read,
    }
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "round.gpx"
        path.write_text(invented_round(given.points), encoding="utf-8")
        print(f"{given.points} points, {path.stat().st_size / 1e6:.1f} MB, best of {given.turns} turns")
        best = best_times(readers, path, given.turns)
    bare = best["bare expat pass"]
    for name, seconds in best.items():
        print(f"{name:<22} {seconds * 1e3:8.1f} ms  {seconds / bare:6.2f} x the bare pass")
    return 0 if best["geo.gpx.read_gpx"] <= AIM * bare else 1


if __name__ == "__main__":
    sys.exit(main())
