"""
How big a report is, how long it takes to write, and how long a browser takes to draw it.

Run as ``python -m tests.benchmarks.bench_report``; needs Chromium. Written: the time of `reports.page.round_report` in this
process, its tables ready, the median of several turns, by the clock and by the processor (a busy machine slows the clock
alone). Drawn: what the page itself says through the Performance API, from the first byte read to the end of the load
event, map and all, and to the first paint, on a fresh page each turn, offline, as wide as a phone and as a desk.
The aims: under 1 MB, written in under 0.5 s, drawn in under 1 s.
"""

from __future__ import annotations

import argparse
import csv
import platform
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from geo.track import read_tracks
from reports.bundles import RoundTables
from reports.page import round_report
from tests.reports.invented import invented_round
from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.course import read_course
from trackgolf.plan_file import read_plan
from trackgolf.reconstruct import reconstruct
from trackgolf.tables import round_tables

DEMO = Path(__file__).parents[2] / "demo_tracks"
MOST_BYTES, WRITTEN_S, DRAWN_MS = 1_000_000, 0.5, 1_000.0
WIDTHS = (390, 1280)

# The navigation's own account of itself, and when something was first seen [ms].
TIMES = """() => {
  const [page] = performance.getEntriesByType("navigation");
  const paint = performance.getEntriesByName("first-contentful-paint")[0];
  return [page.loadEventEnd - page.responseEnd, paint ? paint.startTime - page.responseEnd : NaN];
}"""


def demo_round(name: str) -> RoundTables:
    """Rebuild one round of the demo."""
    with (DEMO / "rounds.csv").open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if f"{row['player']}-{row['round']}" == name)
    player = DEMO / row["player"]
    folder = player / row["round"]
    bag = read_bag(player / "bag.toml")
    course = read_course(DEMO / "course.geojson", tee=row["tee"])
    plan = read_plan(folder / "plan.geojson", course, bag).shots
    card = read_card(folder / "card.csv", bag) if row["card"] == "yes" else None
    track = read_tracks(sorted(folder.glob("track*.gpx*")))
    return round_tables(reconstruct(track, course, bag, plan=plan, card=card))


def written(tables: RoundTables, turns: int) -> tuple[str, float, float]:
    """Write a report several times: the page, and seconds by the clock and by the processor."""
    page = round_report(tables)
    clock, processor = [], []
    for _ in range(turns):
        begin = time.perf_counter(), time.process_time()
        page = round_report(tables)
        clock.append(time.perf_counter() - begin[0])
        processor.append(time.process_time() - begin[1])
    return page, statistics.median(clock), statistics.median(processor)


def drawn(browser: Any, path: Path, width: int, turns: int) -> tuple[float, float]:
    """Open a page several times: milliseconds until it is loaded, and until something is seen."""
    times = []
    for _ in range(turns):
        page = browser.new_page(viewport={"width": width, "height": 844}, offline=True)
        page.goto(path.as_uri(), wait_until="load")
        # The load event must be over for its end to be known.
        page.wait_for_timeout(150)
        times.append(page.evaluate(TIMES))
        page.close()
    loaded, seen = (statistics.median(column) for column in zip(*times, strict=True))
    return loaded, seen


def main() -> int:
    """Print the table; 1 if an aim is missed."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--turns", type=int, default=7)
    given = options.parse_args()
    rounds = {"invented, 18 holes": invented_round()}
    rounds |= {name: demo_round(name) for name in ("nuala-may_watch", "corwin-september_sparse")}
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))))
    missed = False
    print(f"{platform.machine()}, Python {platform.python_version()}, median of {given.turns} turns")
    head = "".join(f"{f'loaded {width}':>13}{f'seen {width}':>11}" for width in WIDTHS)
    print(f"{'round':<26}{'kB':>6}{'written':>10}{'processor':>11}{head}")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        print(f"Chromium {browser.version}")
        for name, tables in rounds.items():
            page, clock_s, processor_s = written(tables, given.turns)
            path = Path(folder) / "report.html"
            path.write_text(page, encoding="utf-8")
            size = path.stat().st_size
            times = [drawn(browser, path, width, given.turns) for width in WIDTHS]
            shown = "".join(f"{loaded:>10.0f} ms{seen:>8.0f} ms" for loaded, seen in times)
            print(f"{name:<26}{size / 1e3:>6.0f}{clock_s:>8.2f} s{processor_s:>9.2f} s{shown}")
            missed |= size >= MOST_BYTES or processor_s >= WRITTEN_S
            missed |= any(max(pair) >= DRAWN_MS for pair in times)
        browser.close()
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
