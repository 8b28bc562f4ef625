"""
How much memory a process takes beyond what its imports take, for `bench_speed`: ``python -m tests.benchmarks.weigh_memory WHAT``.

``round`` reads the demo's round and goes on to its report, ``points N FOLDER`` reads N points, a second apart, and finds
their stops. One process a measure, since a peak is never given back. Prints MiB.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from geo.stops import stops_of_track
from geo.track import read_tracks
from reports.page import round_report
from trackgolf.bag import read_bag
from trackgolf.course import read_course
from trackgolf.reconstruct import reconstruct
from trackgolf.tables import round_tables

DEMO = Path(__file__).parents[2] / "demo_tracks"
# One file holds as many, by its cap on bytes.
A_FILE = 250_000


def memory_mib(what: str) -> float:
    """What the kernel counts of this process itself: ``VmRSS`` now, ``VmHWM`` the most since it was last forgotten."""
    # Source: proc(5), /proc/pid/status. The peak that getrusage(2) gives is as high as that of the parent was.
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(re.search(rf"^{what}:\s+(\d+) kB$", status, flags=re.MULTILINE)[1]) / 1024


def now_mib() -> float:
    """Memory in use, from which on a peak is counted."""
    # Source: proc(5), /proc/pid/clear_refs: 5 resets the peak.
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return memory_mib("VmRSS")


def write_points(path: Path, number: int, count: int) -> None:
    """Write an invented track: walks and stands of 200 seconds, the seconds of file after file."""
    rng = np.random.default_rng(number)
    walking = np.repeat(rng.random(count // 200 + 1) < 0.6, 200)[:count] * 1e-5
    turn = np.arange(count) / 3000
    lon = -31 + np.cumsum(rng.normal(0, 1e-6, count) + walking * np.sin(turn))
    lat = 47 + np.cumsum(rng.normal(0, 1e-6, count) + walking * np.cos(turn))
    start = pd.Timestamp("2026-05-03T08:00:00Z") + pd.Timedelta(seconds=number * A_FILE)
    times = pd.date_range(start, periods=count, freq="s").strftime("%Y-%m-%dT%H:%M:%SZ")
    with path.open("w", encoding="utf-8") as file:
        file.write(
            '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>\n'
        )
        for x, y, time in zip(lon, lat, times, strict=True):
            file.write(f'<trkpt lat="{y:.7f}" lon="{x:.7f}"><ele>12.5</ele><time>{time}</time></trkpt>\n')
        file.write("</trkseg></trk></gpx>\n")


def main() -> int:
    """Do one thing and print what it took."""
    if sys.argv[1] == "write":
        write_points(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
        return 0
    if sys.argv[1] == "round":
        before = now_mib()
        course = read_course(DEMO / "course.geojson", tee="short")
        bag = read_bag(DEMO / "nuala" / "bag.toml")
        played = reconstruct(read_tracks([DEMO / "nuala" / "may_watch" / "track.gpx"]), course, bag)
        round_report(round_tables(played))
    else:
        count, folder = int(sys.argv[2]), Path(sys.argv[3])
        files = [folder / f"{number}.gpx" for number in range(-(-count // A_FILE))]
        for number, path in enumerate(files):
            words = ["write", str(path), str(number), str(min(A_FILE, count - number * A_FILE))]
            subprocess.run([sys.executable, "-m", "tests.benchmarks.weigh_memory", *words], check=True)
        before = now_mib()
        stops_of_track(read_tracks(files).points)
    print(f"{memory_mib('VmHWM') - before:.0f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
