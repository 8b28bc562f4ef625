"""Fits how holes are guessed where there is no course: ``python -m tests.benchmarks.fit_guess``.

Two steps. What a stand is likely to be, by a multinomial logistic law on its features, then once more with what its
neighbours are likely to be. After that, how much each kind of evidence for a hole counts, by a search along one weight at
a time for the most holes found with the true number of holes given. Seeds from 1000 on are for tuning alone.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import re
import sys
import time
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_softmax

import trackgolf
from tests.benchmarks.guessing import Unmapped, share_found, unmapped_round
from tests.simulator.suite import ROWS
from trackgolf import guess_stands
from trackgolf.guess_hints import bag_shooter, extra_shots_of
from trackgolf.guess_holes import HOLE_EVIDENCE, LINK_EVIDENCE, Guesses, weigh_guesses
from trackgolf.guess_search import score_holes_and_links, search_row
from trackgolf.guess_settings import GuessSettings
from trackgolf.guess_stands import context_features, kind_scores, own_features
from trackgolf.settings import RoundSettings

# Weights the search begins with.
_BEGIN = {
    "tee": 0.6, "green": 0.4, "green_more": 0.4, "cluster": 0.12, "play": 0.32, "pace": 0.4, "walk": 1.0, "short": 1.0,
    "long": 1.0, "green_time": 0.6, "wait": 0.3, "left_out": 0.3, "way": 0.5, "pause": 1.0, "between": 0.1,
}  # fmt: skip
_PATH = Path(trackgolf.__file__).parent / "data" / "guess_weights.json"


def kinds_of(round_: Unmapped) -> np.ndarray:
    """What each stand truly was: 1 the first stroke of a hole, 2 on its green at the time of its putts, 3 another stroke."""
    stands, kinds = round_.stands, np.zeros(len(round_.stands), dtype=int)
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()

    def stand_at(time_s: float) -> int:
        apart = np.maximum(np.maximum(start - time_s, time_s - end), 0.0)
        return int(np.argmin(apart)) if apart.size and apart.min() < 20.0 else -1

    for hole in round_.holes:
        mine = round_.strokes[round_.strokes["turn"] == hole.turn].sort_values("time")
        putts, others = mine[mine["kind"] == "putt"]["time"], mine[mine["kind"] != "putt"]["time"]
        if len(putts):
            near = np.hypot(stands["east_m"] - hole.green_m[0], stands["north_m"] - hole.green_m[1]) < 20.0
            kinds[near & (end > putts.min() - 60.0) & (start < putts.max() + 15.0)] = 2
        for place, time_s in enumerate(others):
            stand = stand_at(time_s)
            if stand >= 0 and (place == 0 or kinds[stand] == 0):
                kinds[stand] = 1 if place == 0 else 3
    return kinds


def fit_law(features: np.ndarray, kinds: np.ndarray, ridge: float) -> tuple[np.ndarray, float]:
    """Fit a multinomial logistic law; weights, and cross-entropy on the same stands."""
    truth = np.eye(len(guess_stands.KINDS))[kinds]
    shape = (features.shape[1], truth.shape[1])

    def cost(flat: np.ndarray) -> tuple[float, np.ndarray]:
        weights = flat.reshape(shape)
        log_p = log_softmax(features @ weights, axis=1)
        slope = features.T @ (np.exp(log_p) - truth) + ridge * weights
        return float(-np.sum(truth * log_p) + 0.5 * ridge * np.sum(weights**2)), slope.ravel()

    best = minimize(cost, np.zeros(shape).ravel(), jac=True, method="L-BFGS-B", options={"maxiter": 500})
    weights = best.x.reshape(shape)
    log_p = log_softmax(features @ weights, axis=1)
    return weights - weights[:, :1], float(-np.mean(np.sum(truth * log_p, axis=1)))


def fit_stands(rounds: list[Unmapped], settings: RoundSettings) -> dict:
    """Fit both laws of what a stand is."""
    kinds = [kinds_of(one) for one in rounds]
    everything = np.concatenate(kinds)
    shares = np.bincount(everything, minlength=len(guess_stands.KINDS)) / everything.size
    own = [own_features(one.stands, one.walk, settings) for one in rounds]
    first, _ = fit_law(np.vstack(own), everything, 3.0)
    both = []
    for one, features in zip(rounds, own, strict=True):
        scores = kind_scores(features, first, shares, guess_stands.CAPS[0])
        both.append(np.hstack([features, context_features(one.stands, scores)]))
    second, loss = fit_law(np.vstack(both), everything, 10.0)
    return {
        "cross_entropy": round(loss, 4),
        "shares": shares.round(4).tolist(),
        "own": first.round(3).tolist(),
        "with_neighbours": second.round(3).tolist(),
    }


def found_with(weights: dict[str, float], prepared: list[tuple[Unmapped, Guesses]]) -> float:
    """Share of holes found, near misses counting half, with the true number of holes given."""
    hits = total = 0.0
    hole_weights = np.array([weights[name] for name in HOLE_EVIDENCE])
    link_weights = np.array([weights[name] for name in LINK_EVIDENCE])
    for one, guesses in prepared:
        hole, link = score_holes_and_links(guesses, hole_weights, link_weights)
        prior = np.full(len(one.holes) + 1, -1e6)
        prior[-1] = 0.0
        row, _ = search_row(guesses, hole[None], link, prior)
        stands = one.stands[["east_m", "north_m"]].to_numpy()
        tees = stands[[tee for tee, _ in row]].reshape(-1, 2)
        greens = np.array([(guesses.east_m[green], guesses.north_m[green]) for _, green in row]).reshape(
            -1, 2
        )
        hits += 0.5 * share_found(one.holes, tees, greens)
        hits += 0.5 * share_found(one.holes, tees, greens, slack=1.5)
        total += len(one.holes)
    return hits / total


def main() -> None:
    """Fit and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=10, help="tuning rounds a row")
    parser.add_argument("--first", type=int, default=1000, help="first seed")
    parser.add_argument("--sweeps", type=int, default=2, help="passes over the weights of holes")
    options = parser.parse_args()
    began, settings, guess = time.monotonic(), RoundSettings(), GuessSettings()
    seeds = range(options.first, options.first + options.rounds)
    rounds = [unmapped_round(row, seed) for row in ROWS for seed in seeds]
    record = {
        "about": "how holes are guessed without a course; see trackgolf/guess_stands.py and trackgolf/guess_holes.py",
        "fitted_by": f"python -m tests.benchmarks.fit_guess --rounds {options.rounds} --sweeps {options.sweeps}",
        "fitted_on": f"simulated rounds of {len(ROWS)} kinds, seeds {seeds[0]} to {seeds[-1]}",
        "stands": fit_stands(rounds, settings),
        "holes": _BEGIN,
    }
    _write(record)
    print(
        f"stands: cross-entropy {record['stands']['cross_entropy']} ({time.monotonic() - began:.0f} s)",
        flush=True,
    )
    guess_stands.stand_laws.cache_clear()
    prepared = []
    for one in rounds:
        shooter = bag_shooter(one.bag, settings)
        guesses = weigh_guesses(one.stands, one.walk, shooter, extra_shots_of(one.bag), settings, guess)
        prepared.append((one, guesses))
    weights = dict(_BEGIN)
    best = found_with(weights, prepared)
    print(f"holes: {best:.4f} ({time.monotonic() - began:.0f} s)", flush=True)
    step = 1.5
    for _ in range(options.sweeps):
        for name, factor in itertools.product(_BEGIN, (step, 1.0 / step)):
            tried = weights | {name: weights[name] * factor}
            while (now := found_with(tried, prepared)) > best + 1e-4:
                weights, best = tried, now
                tried = weights | {name: weights[name] * factor}
        step **= 0.6
        print(f"holes: {best:.4f} ({time.monotonic() - began:.0f} s)", flush=True)
    record["holes"] = {name: round(value, 3) for name, value in weights.items()}
    record["holes_found"] = round(best, 4)
    _write(record)


def _write(record: dict) -> None:
    # A row of numbers on a line of its own.
    text = re.sub(
        r"\[\s+([^\[\]]*?)\s+\]", lambda row: f"[{' '.join(row[1].split())}]", json.dumps(record, indent=1)
    )
    _PATH.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
