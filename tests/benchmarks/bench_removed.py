"""Whether a shot taken out stays out, and what else is lost with it: ``python -m tests.benchmarks.bench_removed``.

Each shot found in a demo round, or with `--rows` in simulated ones, is taken out in turn. *Again* are those where another
shot appears on the same hole within 30 s and 10 m. Of the shots that were truly none it counts the true ones within 60 s
that were found before and are not any more, and those found only then. `--without` leaves the rule of pauses out.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import pandas as pd

from geo.geodesic import distance_bearing
from geo.track import read_tracks
from tests.benchmarks.figures import table
from tests.benchmarks.measure import played_round
from tests.simulator.demo import demo_rounds
from trackgolf import reconstruct as steps
from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.corrections import Correction, Corrections
from trackgolf.course import read_course
from trackgolf.reconstruct import Round, reconstruct

_AGAIN_S, _AGAIN_M = 30.0, 10.0
# The same shot as before; a true one found; near the one that was none [s].
_SAME_S, _TRUE_S, _NEAR_S = 2.0, 15.0, 60.0


def times(shots: pd.DataFrame) -> np.ndarray:
    """Moments of strokes [s]."""
    return np.array([time.timestamp() for time in shots["start_time"]])


def rounds(folder: Path, rows: list[str], seeds: range) -> Iterator[tuple[str, pd.DataFrame, dict]]:
    """Name, true strokes and what `reconstruct` is given, a round at a time."""
    for row in rows:
        for seed in seeds:
            simulated, track, course, bag = played_round(row, seed)
            yield f"{row} {seed}", simulated.strokes, {"track": track, "course": course, "bag": bag}
    if rows:
        return
    for name, simulated in demo_rounds().items():
        player, own = name.split("/")[0], folder / name
        bag, course = read_bag(folder / player / "bag.toml"), read_course(folder / "course.geojson")
        card = read_card(own / "card.csv", bag) if (own / "card.csv").exists() else None
        given = {"track": read_tracks(sorted(own.glob("track*"))), "course": course, "bag": bag, "card": card}
        yield name, simulated.strokes, given


def one_round(strokes: pd.DataFrame, given: dict) -> list[int]:
    """Shots taken out, again, others gone with them; those truly none, true ones lost near them, and won."""
    before = reconstruct(**given)
    true = strokes[strokes["counts"].astype(bool) & strokes["shot"].notna() & ~strokes["air"].astype(bool)]
    true_s = true["time"].to_numpy(dtype=float)
    old_s = times(before.shots)
    tally = np.zeros(6, dtype=int)
    for index, shot in enumerate(before.shots.to_dict("records")):
        entry = Correction("c1", "remove", hole=int(shot["hole"]), time=shot["start_time"])
        after: Round = reconstruct(**given, corrections=Corrections((entry,)))
        new_s = times(after.shots)
        fresh = np.abs(new_s[:, None] - old_s).min(axis=1) > _SAME_S
        gone = np.abs(old_s[:, None] - new_s).min(axis=1) > _SAME_S
        gone[index] = False
        apart_m, _ = distance_bearing(
            shot["start_lon_deg"],
            shot["start_lat_deg"],
            after.shots["start_lon_deg"].to_numpy(),
            after.shots["start_lat_deg"].to_numpy(),
        )
        near = (np.abs(new_s - old_s[index]) <= _AGAIN_S) & (apart_m <= _AGAIN_M)
        again = fresh & near & (after.shots["hole"] == shot["hole"]).to_numpy()
        tally[:3] += [1, bool(again.any()), int(gone.sum())]
        if np.abs(true_s - old_s[index]).min() <= _AGAIN_S:
            continue
        here = true_s[np.abs(true_s - old_s[index]) <= _NEAR_S]
        was = np.array([np.abs(old_s - moment).min() <= _TRUE_S for moment in here], dtype=bool)
        now = np.array([np.abs(new_s - moment).min() <= _TRUE_S for moment in here], dtype=bool)
        tally[3:] += [1, int((was & ~now).sum()), int((now & ~was).sum())]
    return [int(value) for value in tally]


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--demo", type=Path, default=Path("demo_tracks"))
    parser.add_argument("--rows", default="", help="simulated rounds instead, such as watch,phone")
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=500)
    parser.add_argument("--without", action="store_true")
    options = parser.parse_args()
    if options.without:
        steps.beside_removed = lambda pins: ()  # type: ignore[assignment]
    seeds = range(options.first_seed, options.first_seed + options.rounds)
    lines = []
    for name, strokes, given in rounds(options.demo, [row for row in options.rows.split(",") if row], seeds):
        lines.append([name, *one_round(strokes, given)])
    lines.append(["all", *(sum(line[column] for line in lines) for column in range(1, 7))])
    head = ("round", "taken out", "again", "others gone", "truly none", "true lost near", "true won near")
    print("\n".join(table(head, lines)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
