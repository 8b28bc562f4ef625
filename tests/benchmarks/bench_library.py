"""
How long the library takes: ``python -m tests.benchmarks.bench_library [--rounds 5000] [--tracks 24]``.

A library of many rounds is filled from the demo's: listed, filtered, read. Then a folder of tracks, the demo's and the
same on other days, is imported by one worker and by two; both must give the same, and memory must stay flat. The time
for a thousand tracks is what those take, times as many; on an idle machine it is the time on all processors, shared
among the workers.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import pandas as pd

from tests.benchmarks.figures import show, table
from trackgolf.library import open_library, read_holes, read_round, read_rounds, read_shots
from trackgolf.library.gather import find_tracks
from trackgolf.library.importing import ImportOptions, import_tracks
from trackgolf.library.keeping import course_lines
from trackgolf.library.lists import rounds_table
from trackgolf.library.opening import writing
from trackgolf.library.rebuild import rebuild_round, result_of
from trackgolf.library.runners import cores, on_cores
from trackgolf.library.store import KeptRecording, NewRound, store_round

DEMO = Path(__file__).parents[2] / "demo_tracks"
PLAYERS = 10


def demo_rounds(folder: Path) -> list[NewRound]:
    """Rebuild the demo's rounds, ready to be stored."""
    place = folder / "demo.sqlite"
    connection = open_library(place, create=True)
    list(import_tracks(connection, find_tracks([DEMO / "nuala", DEMO / "corwin"])[0], _options()))
    rounds = []
    for number in read_rounds(connection)["round"]:
        line, materials, recordings = read_round(connection, number)
        played = rebuild_round(recordings, materials)
        rows = connection.execute("SELECT * FROM recording WHERE round = ?", (int(number),)).fetchall()
        ends = recordings[0].points["time"].iloc[[0, -1]]
        kept = tuple(
            KeptRecording(row["name"], row["digest"], *ends, row["points"], row["track"]) for row in rows
        )
        rounds.append(
            NewRound(line["player"], materials, course_lines(played.course), kept, result_of(played))
        )
    connection.close()
    return rounds


def _options() -> ImportOptions:
    from trackgolf.course import read_course
    from trackgolf.library.materials import CourseFiles

    path = DEMO / "course.geojson"
    return ImportOptions(course=CourseFiles(read_course(path).name, path.read_bytes(), None))


def filled(place: Path, rounds: list[NewRound], count: int) -> float:
    """Store many rounds of several players, and say how long it took [s]."""
    connection = open_library(place, create=True)
    begin = time.perf_counter()
    for number in range(count):
        new, days = rounds[number % len(rounds)], pd.Timedelta(days=number // PLAYERS)
        result = new.result
        later = replace(result, start_time=result.start_time + days, end_time=result.end_time + days)
        recordings = tuple(replace(one, digest=f"{one.digest}{number}") for one in new.recordings)
        with writing(connection):
            store_round(
                connection,
                replace(new, player=f"Invented {number % PLAYERS}", result=later, recordings=recordings),
            )
    taken = time.perf_counter() - begin
    connection.close()
    return taken


def timed(job: Callable[[], object]) -> float:
    """The best of three, in processor time, for the machine may be busy [s]."""
    best = float("inf")
    for _ in range(3):
        begin = time.process_time()
        job()
        best = min(best, time.process_time() - begin)
    return best


def folder_of(folder: Path, count: int) -> Path:
    """Write tracks of many days: the demo's whole rounds, each with its player's bag."""
    texts = [
        (player, path.read_text(encoding="utf-8"))
        for player in ("nuala", "corwin")
        for path in sorted((DEMO / player).glob("*/track.gpx"))
    ]
    for number in range(count):
        player, text = texts[number % len(texts)]
        days = timedelta(days=200 + number)
        moved = re.sub(
            r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)",
            lambda found, days=days: f"{datetime.fromisoformat(found[1]) + days:%Y-%m-%dT%H:%M:%S}",
            text,
        )
        place = folder / player / f"{number:04d}.gpx"
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(moved, encoding="utf-8")
        (place.parent / "bag.toml").write_bytes((DEMO / player / "bag.toml").read_bytes())
    return folder


def _processor_s() -> float:
    """Processor time of this process and of those it has waited for [s]."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def imported(place: Path, folder: Path, workers: int) -> tuple[float, float, float]:
    """Import a folder: the time it took [s], on all processors together [s], the most memory of a process [MB]."""
    begin, spent = time.perf_counter(), _processor_s()
    connection = open_library(place, create=True)
    with on_cores(workers) as run:
        kinds = [
            outcome.kind
            for outcome in import_tracks(connection, find_tracks([folder])[0], _options(), run=run)
        ]
    connection.close()
    if set(kinds) != {"new"}:
        raise SystemExit(f"not all tracks became rounds: {kinds}")
    who = resource.RUSAGE_CHILDREN if workers > 1 else resource.RUSAGE_SELF
    return time.perf_counter() - begin, _processor_s() - spent, resource.getrusage(who).ru_maxrss / 1024


def same(one: Path, two: Path) -> bool:
    """Whether two libraries hold the same rounds, to the last digit."""
    tables = []
    for place in (one, two):
        connection = open_library(place)
        rows = [
            [tuple(row) for row in connection.execute(f"SELECT * FROM {name}")]
            for name in ("recording", "shot", "hole", "comparison", "remark")
        ]
        tables.append(rows)
        connection.close()
    return tables[0] == tables[1]


def main() -> int:
    """Measure, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5000)
    parser.add_argument("--tracks", type=int, default=24)
    parser.add_argument("--write", action="store_true", help="put the figures into DEVELOPERS.md")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        top = Path(name)
        # First, for memory once taken is never given back.
        folder = folder_of(top / "tracks", given.tracks)
        few = folder_of(top / "few", max(given.tracks // 4, 2))
        *_, memory_few_mb = imported(top / "few.sqlite", few, 1)
        *one, memory_mb = imported(top / "one.sqlite", folder, 1)
        *two, _ = imported(top / "two.sqlite", folder, 2)
        equal = same(top / "one.sqlite", top / "two.sqlite")
        rows = [
            [
                str(workers),
                *(f"{value / given.tracks * 1000 / 60:.1f} min" for value in (taken_s, processor_s)),
            ]
            for workers, (taken_s, processor_s) in ((1, one), (2, two))
        ]
        imports = table(["workers", "1,000 tracks, by the clock", "on all processors together"], rows)
        busy = f"By the clock at a load of {os.getloadavg()[1]:.0f} on {cores()} cores, most of it others'."
        place = top / "many.sqlite"
        stored_s = filled(place, demo_rounds(top), given.rounds)
        connection = open_library(place, read_only=True)
        day = read_rounds(connection)["day"].iloc[-100]
        jobs = {
            "list all": lambda: rounds_table(read_rounds(connection)),
            "list a player's": lambda: rounds_table(read_rounds(connection, "Invented 3")),
            "list since a day, by course": lambda: rounds_table(
                read_rounds(connection, course="tarrow", since=day)
            ),
            "shots of a player": lambda: read_shots(connection, "Invented 3"),
            "shots of all": lambda: read_shots(connection),
            "holes of all": lambda: read_holes(connection),
        }
        rows = [[what, f"{timed(job):.3f} s"] for what, job in jobs.items()]
        connection.close()
        size_mb = place.stat().st_size / 1e6
        about = f"A library of {given.rounds} rounds, {size_mb:.0f} MB; {1000 * stored_s / given.rounds:.1f} ms to store one."
        lines = [about, "", *table(["what", "processor time"], rows), ""]
        lines += imports
        said = f"Results {'the same' if equal else 'NOT the same'} on one worker and on two."
        counted = len(list(few.rglob("*.gpx")))
        most = f"Most memory of a process: {memory_few_mb:.0f} MB after {counted} tracks, {memory_mb:.0f} MB after {given.tracks} more."
        lines += ["", f"{busy} {said} {most}"]
        show("library", lines, write=given.write)
    return 0 if equal else 1


if __name__ == "__main__":
    sys.exit(main())
