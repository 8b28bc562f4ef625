"""How well holes are guessed without a course: ``python -m tests.benchmarks.bench_guess``.

Simulated rounds of seeds from 600 on, which nothing was tuned on, rebuilt from track and bag alone. A hole is found when
the centre of its green lies within 15 m and its tee within 25 m of the true ones. A shot is right when it is on the right
hole, by where the guessed hole lies, and its stroke is within 30 s of the true one, or it starts within 10 m and 90 s of it.
"""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import dataclass, field, replace

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import pandas as pd

from tests.benchmarks.figures import show, table
from tests.benchmarks.guessing import TrueHole, share_found, true_holes
from tests.benchmarks.measure import Measured, card_of, compare, played_round, summary
from tests.simulator.suite import ROWS
from trackgolf.errors import InputError
from trackgolf.guess_course import course_of_holes, guess_holes
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
    confidence: list[float] = field(default_factory=list)
    right: list[bool] = field(default_factory=list)


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
        guessed = guess_holes(track, bag, scorecard=scorecard, card=card)
    except InputError:
        return Found(len(holes), 0, 0, 0, 0, 0, None)
    course = course_of_holes(guessed)
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
        [hole.confidence for hole in guessed],
        [share_found(holes, tees[k : k + 1], greens[k : k + 1]) > 0 for k in range(len(guessed))],
    )


def replace_side(holes: list[TrueHole]) -> dict[str, list[TrueHole]]:
    """The same holes with the other end at the origin, so that one end alone is looked at."""
    return {
        "green": [replace(hole, tee_m=(0.0, 0.0)) for hole in holes],
        "tee": [replace(hole, green_m=(0.0, 0.0)) for hole in holes],
    }


def figures_of(found: list[Found]) -> list[object]:
    """One row of the table, without its name."""
    played, guessed, both = (sum(getattr(one, key) for one in found) for key in ("played", "guessed", "both"))
    greens, tees, pars = (sum(getattr(one, key) for one in found) for key in ("greens", "tees", "pars"))
    counted = [one.shots for one in found if one.shots is not None]
    shots = summary(counted)["f1"] if counted else ""
    right = float(np.mean([one.played == one.guessed for one in found]))
    shares = (
        both / played,
        both / max(guessed, 1),
        greens / played,
        tees / played,
        right,
        pars / max(both, 1),
    )
    return [*shares, shots]


def main() -> int:
    """Print the tables, and write them into DEVELOPERS.md if wanted."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10, help="measuring rounds a row")
    parser.add_argument("--first", type=int, default=600, help="first seed")
    parser.add_argument("--fewer", type=int, default=3, help="rounds of odd rows, and with a card")
    parser.add_argument("--write", action="store_true", help="put the tables into DEVELOPERS.md")
    options = parser.parse_args()
    everything: list[Found] = []
    rows, of_help = [], {help_: [] for help_ in ("nothing", "card", "scorecard")}
    for row in (*ROWS[:-1], *_ODD):
        mine = []
        for place in range(options.rounds if row in ROWS else options.fewer):
            seed = options.first + place
            mine.append(measure(row, seed, "nothing", shots=True))
            if place < options.fewer and row in ROWS:
                of_help["nothing"].append(mine[-1])
                of_help["card"].append(measure(row, seed, "card", shots=False))
                of_help["scorecard"].append(measure(row, seed, "scorecard", shots=False))
        rows.append([row, len(mine), "nothing", *figures_of(mine)])
        print(*rows[-1], file=sys.stderr, flush=True)
        everything += mine
    rows.append(["all of these", len(everything), "nothing", *figures_of(everything)])
    kinds = f"first {options.fewer} of {len(ROWS) - 1} kinds"
    for help_, found in of_help.items():
        rows.append([kinds, len(found), help_, *figures_of(found)[:-1], ""])
    head = ["rounds", "how many", "known", "found", "true", "greens", "tees", "number", "pars", "F1 of shots"]
    show("guesses", table(head, rows), write=options.write)
    confidence = np.concatenate([one.confidence for one in everything])
    right = np.concatenate([one.right for one in everything]).astype(float)
    groups = np.array_split(np.argsort(confidence), 8)
    said = [["said", *(float(confidence[group].mean()) for group in groups)]]
    said.append(["right", *(float(right[group].mean()) for group in groups)])
    head = ["holes, in groups of equal size", *(str(place + 1) for place in range(len(groups)))]
    show("confidence of guesses", table(head, said), write=options.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
