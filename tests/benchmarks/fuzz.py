"""
A longer fuzz of every reader than the test run has time for, one reader after another.

Run as ``python -m tests.benchmarks.fuzz --minutes 60``. With atheris installed the coverage of our own modules leads the way;
without it files are damaged at random. What breaks a reader is kept in ``--out``, a file a fault, with its traceback beside
it, and the run goes on. Each becomes a test. Ends with 1 if there was any.
"""

from __future__ import annotations

import argparse
import contextlib
import gzip
import hashlib
import io
import json
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

try:
    import atheris
except ImportError:
    atheris = None

with atheris.instrument_imports(include=["geo", "trackgolf"]) if atheris else contextlib.nullcontext():
    from geo.errors import InputError
    from geo.gpx import GpxFile, parse_gpx
    from geo.track import read_tracks
    from tests.benchmarks.bench_read import invented_round
    from tests.geo.gpx_texts import GPX10, GPX11, invented_gpx, invented_point
    from tests.trackgolf import test_reader_properties as seeds
    from tests.trackgolf.invented_course import osm_xml, overpass_json
    from tests.trackgolf.library.conftest import put_in
    from tests.trackgolf.library.invented import season
    from trackgolf.bag import read_bag
    from trackgolf.card import read_card
    from trackgolf.corrections import read_corrections, write_corrections
    from trackgolf.course import read_course
    from trackgolf.guess_file import confirmed_holes
    from trackgolf.learn.many_rounds import read_folders
    from trackgolf.library import (
        library_faults,
        open_library,
        read_comparisons,
        read_holes,
        read_round,
        read_rounds,
        read_shots,
    )
    from trackgolf.library.correcting import read_corrections_of, read_notes
    from trackgolf.library.gather import find_tracks
    from trackgolf.plan_file import read_plan
    from trackgolf.scorecard import read_scorecard

# A reader that takes longer than this for a file of a few thousand bytes has a fault, too [s].
SLOW_S = 10.0
MOST_BYTES = 200_000


@dataclass(frozen=True)
class Reader:
    """How a reader is fed: whole files to begin with, what reads and checks one, and how a file is changed."""

    seeds: Callable[[], list[bytes]]
    read: Callable[[Path], object]
    change: Callable[[bytes, random.Random], bytes]
    name: str = "file"


def damage(content: bytes, rng: random.Random) -> bytes:
    """Put what breaks readers anywhere, take bytes out, double a part."""
    data = bytearray(content)
    for _ in range(rng.randint(1, 4)):
        at = rng.randint(0, len(data))
        kind = rng.random()
        if kind < 0.5:
            data[at : at + rng.choice([0, 0, 1, 3, 10])] = rng.choice(seeds.NASTY).encode("utf-8", "replace")[
                :500
            ]
        elif kind < 0.7:
            del data[at : at + rng.choice([1, 2, 5, 40])]
        elif kind < 0.85 and data:
            data[at : at + 1] = bytes([rng.randrange(256)])
        else:
            begin = rng.randint(0, len(data))
            data[at:at] = data[begin : begin + rng.choice([5, 40, 200])]
    if rng.random() < 0.05:
        data = data[: rng.randint(0, len(data))]
    return bytes(data[:MOST_BYTES])


def change_json(content: bytes, rng: random.Random) -> bytes:
    """Put any value in place of one of a JSON document; damage what is none."""
    try:
        document = json.loads(content)
    except (ValueError, RecursionError):
        return damage(content, rng)
    place, key, holder = document, None, None
    while isinstance(place, dict | list) and place and (key is None or rng.random() < 0.85):
        holder = place
        key = rng.choice(list(place)) if isinstance(place, dict) else rng.randrange(len(place))
        place = holder[key]
    if holder is None or rng.random() < 0.2:
        return damage(content, rng)
    values = [None, True, 0, -1, 1e300, 10**400, float("nan"), [], {}, [[]], *seeds.NASTY]
    kind = rng.random()
    if kind < 0.15:
        del holder[key]
    elif kind < 0.25 and isinstance(holder, dict):
        holder[rng.choice(seeds.NASTY)] = place
    else:
        holder[key] = rng.choice(values)
    return json.dumps(document).encode()[:MOST_BYTES]


def change_zip(content: bytes, rng: random.Random) -> bytes:
    """Damage a member and pack it again, or the archive itself."""
    if rng.random() < 0.5:
        return damage(content, rng)
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = {name: archive.read(name) for name in archive.namelist()[:5]}
    except Exception:  # noqa: BLE001 - a damaged archive is what is wanted
        return damage(content, rng)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", rng.choice([0, 8, 8, 12, 14])) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, member in members.items():
            archive.writestr(name + rng.choice(["", "", "/", "\n.gpx", "/../../x.gpx"]), damage(member, rng))
    return packed.getvalue()[:MOST_BYTES]


def change_library(content: bytes, rng: random.Random) -> bytes:
    """Put any value into a cell of the library, or damage the file."""
    if rng.random() < 0.2:
        return damage(content, rng)
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as base:
        try:
            base.deserialize(content)
            base.execute("PRAGMA ignore_check_constraints = ON")
            tables = [row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            table = rng.choice(tables)
            column = rng.choice([row[1] for row in base.execute(f"PRAGMA table_info({table})")])
            rows = [row[0] for row in base.execute(f"SELECT rowid FROM {table}")]
            old = base.execute(f"SELECT {column} FROM {table} LIMIT 1").fetchone()[0]
            values = [
                None,
                0,
                -1,
                2**63 - 1,
                1e308,
                float("inf"),
                "",
                "{",
                "[]",
                "null",
                b"",
                b"\x00\xff",
                *seeds.NASTY,
            ]
            new = rng.choice(values)
            if isinstance(old, bytes) and rng.random() < 0.7:
                new = damage(old, rng)
            elif isinstance(old, str) and rng.random() < 0.5:
                new = damage(old.encode(), rng).decode("utf-8", "replace")
            base.execute(f"UPDATE {table} SET {column} = ? WHERE rowid = ?", (new, rng.choice(rows)))
            return base.serialize()
        except (sqlite3.Error, IndexError, TypeError, UnicodeError, OverflowError, MemoryError):
            return damage(content, rng)


def read_one_track(path: Path) -> GpxFile:
    """Read a track; its points add up, and none is nowhere."""
    file = parse_gpx(path.read_bytes(), str(path))
    assert file.account.seen == file.account.kept + sum(file.account.dropped.values())
    assert file.account.kept == len(file.points) > 0
    assert file.points["lat_deg"].abs().le(90).all()
    assert file.points["lon_deg"].abs().le(180).all()
    assert file.points["time"].notna().all()
    track = read_tracks([path])
    assert track.account.seen == len(track.points) + sum(track.account.dropped.values())
    return file


def read_archive(path: Path) -> None:
    """Read every track of an archive."""
    sources, faults = find_tracks([path])
    for fault in faults:
        told(str(fault))
    for source in sources:
        with contextlib.suppress(InputError):
            source.load()


def read_library(path: Path) -> None:
    """Read all of a library."""
    with library_faults(path), contextlib.closing(open_library(path, read_only=True)) as connection:
        rounds = read_rounds(connection)
        for read in (read_shots, read_holes, read_comparisons):
            with contextlib.suppress(InputError):
                read(connection)
        for number in rounds["round"].tolist()[:2]:
            for read_its in (read_round, read_corrections_of, read_notes):
                with contextlib.suppress(InputError):
                    read_its(connection, int(number))


def read_back_corrections(path: Path) -> None:
    """Read corrections, and read what is written of them."""
    found = read_corrections(path)
    path.write_text(write_corrections(found), encoding="utf-8")
    assert read_corrections(path) == found


def read_shots_folder(path: Path) -> None:
    """Read a folder of rebuilt rounds."""
    path.with_name("holes.csv").write_text(seeds.HOLES)
    read_folders([path.parent])


def tracks() -> list[bytes]:
    """Whole tracks of every kind, small enough to be changed thousands of times a second."""
    points = [invented_point(number, inner="<ele>3.5</ele><hdop>1.2</hdop>") for number in range(6)]
    marks = '<wpt lat="47" lon="-31"><time>2026-05-03T08:00:03Z</time><name>driver</name></wpt>'
    whole = invented_gpx(*points, head="<metadata><desc>Invented</desc></metadata>", marks=marks)
    old = invented_gpx(*points, root=GPX10).replace("gpx", "g:gpx", 1)
    entity = f'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "&#49;"><!ENTITY b "&a;&a;">]><gpx {GPX11}><trk><trkseg>'
    return [
        whole.encode(),
        old.encode(),
        whole.encode("utf-16"),
        whole.replace("UTF-8", "ISO-8859-1").encode("latin-1"),
        (entity + points[0].replace("3.5", "&b;") + points[1] + "</trkseg></trk></gpx>").encode(),
        invented_round(20).encode(),
        gzip.compress(whole.encode()),
    ]


def archives() -> list[bytes]:
    """One archive of two tracks."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.gpx", tracks()[0])
        archive.writestr("b/c.gpx.gz", tracks()[-1])
    return [packed.getvalue()]


def libraries() -> list[bytes]:
    """One library of a round."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "library.sqlite"
        put_in(place, season(Path(folder) / "season", 1))
        with contextlib.closing(sqlite3.connect(place)) as base:
            base.execute("PRAGMA journal_mode = DELETE")
            base.execute("VACUUM")
            return [base.serialize()]


def readers(folder: Path) -> dict[str, Reader]:
    """Every reader of files, by what it reads."""
    bag_file, course_file = folder / "bag.toml", folder / "course.geojson"
    bag_file.write_text(seeds.BAG)
    course_file.write_text(json.dumps(seeds.MAP))
    bag, course = read_bag(bag_file), read_course(course_file)

    def of_json(document: object, read: Callable[[Path], object], name: str = "file") -> Reader:
        return Reader(lambda: [json.dumps(document).encode()], read, change_json, name)

    def of_text(text: str, read: Callable[[Path], object]) -> Reader:
        return Reader(lambda: [text.encode()], read, damage)

    return {
        "track": Reader(tracks, read_one_track, damage),
        "archive": Reader(archives, read_archive, change_zip, "file.zip"),
        "map": of_json(seeds.MAP, read_course),
        "map of OpenStreetMap": of_text(osm_xml(seeds.FEATURES), read_course),
        "map of Overpass": of_json(overpass_json(seeds.FEATURES), read_course),
        "guessed holes": of_json(seeds.MAP, confirmed_holes),
        "scorecard": of_text(seeds.SCORECARD, read_scorecard),
        "bag": of_text(seeds.BAG, read_bag),
        "plan": of_json(seeds.PLAN, lambda path: read_plan(path, course, bag)),
        "card": of_text(seeds.CARD, lambda path: read_card(path, bag)),
        "corrections": of_json(seeds.CORRECTIONS, read_back_corrections),
        "folder of a round": of_json(seeds.SHOTS, read_shots_folder, "shots.geojson"),
        "library": Reader(libraries, read_library, change_library, "library.sqlite"),
    }


def told(message: str) -> None:
    """Hold a message to what a terminal can show."""
    lines = message.split("\n")
    assert all(line.isprintable() for line in lines), "a message that a terminal cannot show"
    assert max(map(len, lines)) < 1000, "a message without end"


class Trial:
    """Feeds one reader and keeps what breaks it, each fault once."""

    def __init__(self, reader: Reader, folder: Path, out: Path, name: str) -> None:
        self.reader, self.out, self.name = reader, out, name
        self.path = folder / reader.name
        self.tries, self.known = 0, set[str]()

    def __call__(self, content: bytes) -> None:
        self.tries += 1
        for beside in self.path.parent.glob(f"{self.reader.name}-*"):
            beside.unlink()
        self.path.write_bytes(content)
        begin = time.process_time()
        try:
            self.reader.read(self.path)
        except InputError as error:
            try:
                told(str(error))
            except AssertionError as fault:
                self.keep(content, fault)
        except Exception as fault:  # noqa: BLE001 - whatever it is, it is a finding
            self.keep(content, fault)
        took_s = time.process_time() - begin
        if took_s > SLOW_S:
            self.keep(content, TimeoutError(f"took {took_s:.1f} s"))

    def keep(self, content: bytes, fault: BaseException) -> None:
        """Write the file and its traceback down, unless the fault came up at this line before."""
        frames = traceback.extract_tb(fault.__traceback__)
        ours = [frame for frame in frames if "/geo/" in frame.filename or "/trackgolf/" in frame.filename]
        at = ours[-1] if ours else (frames[-1] if frames else None)
        mark = f"{type(fault).__name__} {at.filename if at else ''}:{at.lineno if at else ''}"
        if mark in self.known:
            return
        self.known.add(mark)
        digest = hashlib.sha256(mark.encode()).hexdigest()[:8]
        stem = self.out / f"{self.name.replace(' ', '_')}-{digest}"
        stem.with_suffix(".input").write_bytes(content)
        stem.with_suffix(".txt").write_text("".join(traceback.format_exception(fault)), encoding="utf-8")
        print(f"{self.name}: {mark}: {str(fault)[:200]!r}", flush=True)


def at_random(reader: Reader, trial: Trial, seconds: float, rng: random.Random) -> None:
    """Feed changed files without any lead but chance."""
    whole = reader.seeds()
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        content = rng.choice(whole)
        for _ in range(rng.randint(1, 3)):
            content = reader.change(content, rng)
        trial(content)


def led_by_coverage(reader: Reader, trial: Trial, seconds: float, corpus: Path) -> None:
    """Let atheris choose which files to go on with; it ends the process by itself."""
    corpus.mkdir(parents=True, exist_ok=True)
    for number, content in enumerate(reader.seeds()):
        (corpus / f"seed-{number}").write_bytes(content)

    def mutate(content: bytes, most: int, seed: int) -> bytes:
        rng = random.Random(seed)
        changed = atheris.Mutate(content, most) if rng.random() < 0.3 else reader.change(content, rng)
        return changed[:most]

    atheris.Setup(
        [sys.argv[0], f"-max_total_time={seconds:.0f}", f"-max_len={MOST_BYTES}", "-rss_limit_mb=6000",
         "-timeout=120", f"-artifact_prefix={trial.out}/", "-print_final_stats=1", "-verbosity=0", str(corpus)],
        trial,
        custom_mutator=mutate,
    )  # fmt: skip
    atheris.Fuzz()


@contextlib.contextmanager
def scratch() -> Iterator[Path]:
    """Give a folder in memory where there is one."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        yield Path(folder)


def main() -> int:
    """Fuzz one reader, or all in turn, each in a process of its own."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--minutes", type=float, default=60.0, help="in all")
    options.add_argument("--out", type=Path, default=Path("fuzz"), help="where faults are kept")
    options.add_argument("--only", help="one reader, or several with commas")
    options.add_argument("--in-this-process", action="store_true", help=argparse.SUPPRESS)
    given = options.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    with scratch() as folder:
        known = readers(folder)
        names = given.only.split(",") if given.only else list(known)
        if given.in_this_process:
            reader = known[names[0]]
            trial = Trial(reader, folder, given.out, names[0])
            if atheris is not None:
                led_by_coverage(reader, trial, given.minutes * 60, given.out / "corpus" / names[0])
            else:
                at_random(reader, trial, given.minutes * 60, random.Random(time.time_ns()))
                print(f"{names[0]}: {trial.tries} files", flush=True)
            return 0
    before = set(given.out.glob("*.txt"))
    for name in names:
        own = ["--in-this-process", "--only", name, "--minutes", str(given.minutes / len(names))]
        command = [sys.executable, "-m", "tests.benchmarks.fuzz", *own, "--out", str(given.out)]
        ended = subprocess.run(command, check=False, env=os.environ)
        if ended.returncode:
            print(f"{name}: the process ended with {ended.returncode}", flush=True)
    found = sorted(set(given.out.glob("*.txt")) - before)
    print(f"{'led by coverage' if atheris else 'at random'}, {given.minutes:g} minutes, {len(found)} faults")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
