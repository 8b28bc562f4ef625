"""How well holes are guessed without a course: ``python -m tests.benchmarks.bench_guess``.

Simulated rounds of seeds from 600 on, which nothing was tuned on, rebuilt from track and bag alone. A hole is found when
the centre of its green lies within 15 m and its tee within 25 m of the true ones. A shot is right when it is on the right
hole, by where the guessed hole lies, and its stroke is within 30 s of the true one, or it starts within 10 m and 90 s of it.
"""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import dataclass, replace

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import pandas as pd

from tests.benchmarks.guessing import TrueHole, share_found, true_holes
from tests.benchmarks.measure import Measured, card_of, compare, played_round, summary
from tests.simulator.suite import ROWS
from trackgolf.errors import InputError
from trackgolf.guess_course import guess_course
from trackgolf.guess_hints import bag_for_course
from trackgolf.reconstruct import Round, reconstruct

_ODD = ("nine", "nine_twice", "walked_off", "shotgun")


@dataclass
class Found:
    """Holes of one round: played, guessed, found with both ends, greens and tees found alone, pars right, and shots."""

    played: int
    guessed: int
    both: int
    greens: int
    tees: int
    pars: int
    shots: Measured | None


def scorecard_of(simulated) -> pd.DataFrame:
    """The course's card without positions, as the program would read it."""
    tee = simulated.player.tee
    rows = [
        (
            hole.number,
            hole.par,
            hole.stroke_index,
            float(np.hypot(*(np.asarray(hole.tees[tee]).ravel()[:2] - end))),
        )
        for hole in simulated.course.holes
        for end in [np.array([hole.green.centroid.x, hole.green.centroid.y])]
    ]
    table = pd.DataFrame(rows, columns=["hole", "par", "stroke_index", "length_m"])
    return table.astype({"par": "Int64", "stroke_index": "Int64"})


def renumbered(result: Round, simulated, holes: list[TrueHole]) -> Round:
    """Give each guessed hole the number of the true one its green and tee are nearest to, and each only once."""
    plane = simulated.course.plane
    numbers, pairs = {}, []
    for hole in result.course.holes:
        tee, green = plane.to_metres(np.array(hole.line.coords)[[0, -1]])
        for true in holes:
            gap = np.hypot(*(tee - true.tee_m)) + np.hypot(*(green - true.green_m))
            pairs.append((gap, hole.number, true.number))
    for _, guessed, true in sorted(pairs):
        if guessed not in numbers and true not in numbers.values():
            numbers[guessed] = true
    # Holes that are none keep numbers that no true hole has.
    mapping = {hole.number: numbers.get(hole.number, 1000 + hole.number) for hole in result.course.holes}
    return replace(
        result,
        shots=result.shots.assign(hole=result.shots["hole"].map(mapping)),
        holes=result.holes.assign(hole=result.holes["hole"].map(mapping)),
    )


def measure(row: str, seed: int, help_: str, *, shots: bool) -> Found:
    """Guess one round and hold it against the truth."""
    simulated, track, _, bag = played_round(row, seed)
    holes = [hole for hole in true_holes(simulated) if hole.recorded > 0.5]
    card = card_of(simulated) if help_ == "card" else None
    scorecard = scorecard_of(simulated) if help_ == "scorecard" else None
    try:
        course = guess_course(track, bag, scorecard=scorecard, card=card)
    except InputError:
        return Found(len(holes), 0, 0, 0, 0, 0, None)
    ends = np.array([np.array(hole.line.coords)[[0, -1]] for hole in course.holes])
    tees = simulated.course.plane.to_metres(ends[:, 0])
    greens = simulated.course.plane.to_metres(ends[:, 1])
    pars = 0
    for hole, tee, green in zip(course.holes, tees, greens, strict=True):
        same = [one for one in holes if share_found([one], tee[None], green[None])]
        pars += bool(same and simulated.course.hole(same[0].number).par == hole.par)
    far = np.full_like(tees, 1e9)
    unlike = replace_side(holes)
    measured = None
    if shots:
        fitted, _ = bag_for_course(bag, course)
        result = renumbered(reconstruct(track, course, fitted, card=card), simulated, holes)
        measured = compare(row, seed, simulated, result)
    return Found(
        len(holes),
        len(course.holes),
        share_found(holes, tees, greens),
        share_found(unlike["green"], np.zeros_like(far), greens),
        share_found(unlike["tee"], tees, np.zeros_like(far)),
        pars,
        measured,
    )


def replace_side(holes: list[TrueHole]) -> dict[str, list[TrueHole]]:
    """The same holes with the other end at the origin, so that one end alone is looked at."""
    return {
        "green": [replace(hole, tee_m=(0.0, 0.0)) for hole in holes],
        "tee": [replace(hole, green_m=(0.0, 0.0)) for hole in holes],
    }


def line(name: str, found: list[Found]) -> str:
    """One row of the table."""
    played, guessed, both = (sum(getattr(one, key) for one in found) for key in ("played", "guessed", "both"))
    greens, tees, pars = (sum(getattr(one, key) for one in found) for key in ("greens", "tees", "pars"))
    counted = [one.shots for one in found if one.shots is not None]
    figures = summary(counted) if counted else None
    f1 = f"{figures['f1']:6.3f} {figures['hole_right']:6.3f}" if figures else ""
    right = np.mean([one.played == one.guessed for one in found])
    return (
        f"{name:24s} {both / played:6.3f} {both / max(guessed, 1):6.3f} {greens / played:6.3f} {tees / played:6.3f} "
        f"{right:6.2f} {pars / max(both, 1):6.3f} {f1}"
    )


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10, help="measuring rounds a row")
    parser.add_argument("--rows", default=",".join((*ROWS[:-1], *_ODD)))
    parser.add_argument("--first", type=int, default=600, help="first seed")
    parser.add_argument(
        "--help-from", default="nothing,card,scorecard", help="what is known beside track and bag"
    )
    parser.add_argument("--no-shots", action="store_true", help="holes alone, which is quicker")
    options = parser.parse_args()
    for help_ in options.help_from.split(","):
        print(f"\nknown beside track and bag: {help_}")
        print(
            f"{'row':24s} {'found':>6s} {'prec.':>6s} {'greens':>6s} {'tees':>6s} {'number':>6s} {'par':>6s} "
            f"{'F1':>6s} {'hole':>6s}"
        )
        everything = []
        for row in options.rows.split(","):
            seeds = range(options.first, options.first + options.rounds)
            found = [measure(row, seed, help_, shots=not options.no_shots) for seed in seeds]
            everything += found
            print(line(row, found), flush=True)
        print(line("all", everything), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
