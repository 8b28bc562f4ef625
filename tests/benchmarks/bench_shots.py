"""How well shots are found, on simulated rounds and on the demo: ``python -m tests.benchmarks.bench_shots``.

The fits use seeds from 1000 on. Seeds 1 to 10 were looked at while the decoder was built, and the demo chose between two
sets of weights, so neither is free of choice; the default seeds begin at 500 and are for figures only. A found shot is right when it is on the right
hole and its stroke is within 30 s of the true one, or it starts within 10 m and 90 s of it; one to one.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from geo.track import read_tracks
from tests.benchmarks.measure import compare, measure_rounds, summary
from tests.simulator.demo import demo_rounds
from tests.simulator.suite import ROWS
from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.course import read_course
from trackgolf.plan_file import read_plan
from trackgolf.reconstruct import reconstruct
from trackgolf.settings import RoundSettings

_HEAD = f"{'row':28s} {'F1':>6s} {'recall':>6s} {'prec.':>6s} {'hole':>6s} | over 20 m: {'recall':>6s} {'prec.':>6s}"


def _line(name: str, figures: dict[str, float]) -> str:
    return (
        f"{name:28s} {figures['f1']:6.3f} {figures['recall']:6.3f} {figures['precision']:6.3f} "
        f"{figures['hole_right']:6.3f} |            {figures['recall_over_20_m']:6.3f} {figures['precision_over_20_m']:6.3f}"
    )


def measure_demo(folder: Path) -> list:
    """Rebuild the demo rounds from their files as a user would, and hold them against the truth."""
    tees = {"nuala": "short", "corwin": "middle"}
    measured = []
    for name, simulated in demo_rounds().items():
        player, _ = name.split("/")
        bag = read_bag(folder / player / "bag.toml")
        course = read_course(
            folder / "course.geojson", scorecard=folder / player / "scorecard.csv", tee=tees[player]
        )
        own = folder / name
        card = read_card(own / "card.csv", bag) if (own / "card.csv").exists() else None
        plan = read_plan(own / "plan.geojson", course, bag).shots
        result = reconstruct(read_tracks(sorted(own.glob("track*"))), course, bag, plan=plan, card=card)
        measured.append((name, compare(name, 0, simulated, result)))
    return measured


def reliability(measured: list) -> tuple[np.ndarray, float, float]:
    """Ten groups of equal size: mean confidence and share right; Brier score, and that of one constant."""
    confidence = np.concatenate([one.confidence for one in measured])
    outcome = np.concatenate([one.outcome for one in measured]).astype(float)
    order = np.argsort(confidence)
    groups = np.array([(confidence[part].mean(), outcome[part].mean()) for part in np.array_split(order, 10)])
    brier = float(np.mean((confidence - outcome) ** 2))
    return groups, brier, float(np.mean((outcome.mean() - outcome) ** 2))


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10, help="measuring rounds a row")
    parser.add_argument("--rows", default=",".join(ROWS))
    parser.add_argument("--noise", type=float, default=1.0)
    parser.add_argument("--first", type=int, default=500, help="first seed")
    options = parser.parse_args()
    demo = measure_demo(Path("demo_tracks"))
    print("demo rounds, as a user would rebuild them\n" + _HEAD)
    for name, one in demo:
        print(_line(name, summary([one])))
    whole = summary([one for _, one in demo])
    print(_line("all", whole), flush=True)
    seeds = list(range(options.first, options.first + options.rounds))
    everything = []
    for card in (False, True):
        print(f"\nsimulated rounds, {'strokes and putts on the card' if card else 'no card'}\n{_HEAD}")
        for row in options.rows.split(","):
            one_row = measure_rounds(
                [row],
                seeds,
                card=card,
                settings=RoundSettings(),
                noise=options.noise,
                workers=os.cpu_count() or 1,
            )
            everything += one_row
            print(_line(row, summary(one_row)), flush=True)
    groups, brier, constant = reliability(everything)
    print("\nconfidence against outcome, ten groups of equal size")
    print("  said  " + " ".join(f"{value:5.2f}" for value in groups[:, 0]))
    print("  right " + " ".join(f"{value:5.2f}" for value in groups[:, 1]))
    print(f"Brier score {brier:.4f}, of one constant {constant:.4f}")
    good = whole["recall_over_20_m"] >= 0.9 and whole["precision_over_20_m"] >= 0.9
    print(f"demo rounds: nine in ten found and true over 20 m: {'yes' if good else 'no'}")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
