"""Fits how far the decoder's own probabilities can be trusted: ``python -m tests.benchmarks.fit_trust``.

Maximum likelihood of a logistic law with a most, from the log-odds of the found shots of tuning rounds, without and with a card. Seeds
from 1000 on are for tuning alone; the command prints what `trackgolf/settings.py` should hold.
"""

from __future__ import annotations

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from scipy.optimize import minimize

from tests.benchmarks.measure import measure_round
from tests.benchmarks.worlds import tuning_world
from tests.simulator.suite import ROWS
from trackgolf.settings import RoundSettings


def found(job: tuple[str, int, bool, bool]) -> tuple[np.ndarray, np.ndarray]:
    """Weights of the found shots of a tuning round, and which are right."""
    row, seed, card, plain = job
    settings = replace(RoundSettings(), trust_offset=0.0, trust_slope=1.0, trust_most=1.0)
    world = {} if plain else dict(tuning_world(seed + 7919 * ROWS.index(row)))
    one = measure_round(row, seed, card, settings, float(world.pop("noise", 1.0)), world=world)
    return one.confidence, one.outcome.astype(float)


def main() -> None:
    """Print the line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=8, help="tuning rounds a row")
    parser.add_argument("--first", type=int, default=1500, help="first seed")
    options = parser.parse_args()
    jobs = [
        (row, options.first + k, card, k % 2 == 0)
        for row in ROWS
        for k in range(options.rounds)
        for card in (False, True)
    ]
    with ProcessPoolExecutor(os.cpu_count() or 1) as pool:
        pairs = list(pool.map(found, jobs, chunksize=4))
    said = np.clip(np.concatenate([one for one, _ in pairs]), 1e-4, 1 - 1e-4)
    right = np.concatenate([one for _, one in pairs])
    odds = np.log(said / (1.0 - said))

    def law(line: np.ndarray) -> np.ndarray:
        return 1.0 / (1.0 + np.exp(-(line[0] + line[1] * odds))) / (1.0 + np.exp(-line[2]))

    def loss(line: np.ndarray) -> float:
        given = np.clip(law(line), 1e-6, 1.0 - 1e-6)
        return float(-np.mean(right * np.log(given) + (1.0 - right) * np.log(1.0 - given)))

    best = minimize(loss, np.array([0.0, 1.0, 4.0]), method="BFGS").x
    fitted = law(best)
    for name, value in (
        ("as decoded", said),
        ("fitted", fitted),
        ("one constant", np.full_like(right, right.mean())),
    ):
        print(f"{name:14s} Brier score {np.mean((value - right) ** 2):.4f}")
    order = np.argsort(fitted)
    print("said  " + " ".join(f"{fitted[part].mean():.2f}" for part in np.array_split(order, 10)))
    print("right " + " ".join(f"{right[part].mean():.2f}" for part in np.array_split(order, 10)))
    print(f"trust_offset: float = {best[0]:.4g}\ntrust_slope: float = {best[1]:.4g}")
    print(f"trust_most: float = {1.0 / (1.0 + np.exp(-best[2])):.4g}")


if __name__ == "__main__":
    sys.exit(main())
