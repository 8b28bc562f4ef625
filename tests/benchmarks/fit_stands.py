"""Fits what features of a stand speak for a stroke: ``python -m tests.benchmarks.fit_stands``.

Maximum likelihood of what every stand of the tuning rounds was, the rest of the decoder unchanged: the gradient of the
log-likelihood of a structured model is the sum of each feature over the true strokes less its expectation over all
stories (Lafferty, McCallum, Pereira, Conditional random fields, ICML 2001). Seeds from 1000 on are for tuning alone.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

import trackgolf
from tests.benchmarks.fit import prepare
from tests.simulator.suite import ROWS
from trackgolf import reconstruct as chain
from trackgolf.decode import IMPOSSIBLE, probabilities
from trackgolf.settings import RoundSettings
from trackgolf.stand_model import FEATURES, stand_features, stand_weights
from trackgolf.weigh import weigh_round

_READY: dict = {}


def _ready(row: str, seed: int) -> tuple:
    """Evidence without the weights that are fitted, features, and what each stand was."""
    if (row, seed) not in _READY:
        settings = RoundSettings()
        stands, walk, ground, bag, variants, marks, truth, first = prepare(row, seed, settings)
        features = stand_features(stands, walk, settings.shot_dwell_s)
        old = features @ stand_weights("shot"), features @ stand_weights("tee")
        pieces = []
        for counts, plan, weight in variants:
            shooters = chain._shooters(bag, ground, plan, settings)
            pieces.append((weigh_round(stands, walk, ground, shooters, counts, marks, settings), weight))
        _READY[row, seed] = (pieces, features, old, truth, first, settings.temper)
    return _READY[row, seed]


def slope_of(job: tuple) -> tuple[np.ndarray, np.ndarray, float, int]:
    """Slopes for both kinds, cross-entropy, number of stands."""
    row, seed, shot_weights, tee_weights = job
    pieces, features, old, truth, first, temper = _ready(row, seed)
    judged = truth > -2
    extra_shot = np.clip(features @ shot_weights - old[0], -30, 30)[:, None]
    extra_tee = np.clip(features @ tee_weights - old[1], -30, 30)[:, None]
    later = (truth >= 0) & ~first
    shot_slope, tee_slope = np.zeros(len(FEATURES)), np.zeros(len(FEATURES))
    loss = 0.0
    for evidence, weight in pieces:
        changed = replace(
            evidence,
            shot=np.where(evidence.shot > IMPOSSIBLE / 2, evidence.shot + extra_shot, IMPOSSIBLE),
            tee=np.where(evidence.tee > IMPOSSIBLE / 2, evidence.tee + extra_tee, IMPOSSIBLE),
        )
        shot, _, opening = probabilities(changed.tempered(temper))
        p_first = opening.sum(axis=1)
        p_later = np.clip(shot.sum(axis=1) - p_first, 0.0, 1.0)
        shot_slope += weight * features[judged].T @ (later.astype(float) - p_later)[judged]
        tee_slope += weight * features[judged].T @ (((truth >= 0) & first).astype(float) - p_first)[judged]
        own = np.where(truth >= 0, shot[np.arange(len(truth)), np.maximum(truth, 0)], 1.0 - shot.sum(axis=1))
        loss += weight * float(-np.sum(np.log(np.clip(own[judged], 1e-3, 1.0))))
    return shot_slope, tee_slope, loss, int(judged.sum())


def main() -> None:
    """Climb the likelihood with step sizes of each weight's own (Duchi, Hazan, Singer 2011)."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=4, help="tuning rounds a row")
    parser.add_argument("--steps", type=int, default=40)
    parser.add_argument("--first", type=int, default=1000, help="first seed")
    parser.add_argument("--ridge", type=float, default=2.0)
    options = parser.parse_args()
    jobs = [(row, options.first + k) for row in ROWS for k in range(options.rounds)]
    pools = [ProcessPoolExecutor(1) for _ in range(os.cpu_count() or 1)]
    weights = [stand_weights("shot").copy(), stand_weights("tee").copy()]
    squares = [np.full(len(FEATURES), 1e-3), np.full(len(FEATURES), 1e-3)]
    best = (np.inf, weights)
    began = time.monotonic()
    for step in range(options.steps):
        waiting = [pools[k % len(pools)].submit(slope_of, (*job, *weights)) for k, job in enumerate(jobs)]
        results = [one.result() for one in waiting]
        count = sum(one[3] for one in results)
        loss = sum(one[2] for one in results) / count
        if loss < best[0]:
            best = (loss, [one.copy() for one in weights])
        for kind in (0, 1):
            slope = (sum(one[kind] for one in results) - options.ridge * weights[kind]) / count
            squares[kind] = 0.8 * squares[kind] + 0.2 * slope**2
            weights[kind] = weights[kind] + 0.12 * 0.97**step * slope / np.sqrt(squares[kind] + 1e-8)
        print(f"step {step}: {loss:.5f} ({time.monotonic() - began:.0f} s)", flush=True)
    record = {
        "about": "log-odds a unit of each feature adds for a stroke; see trackgolf/stand_model.py",
        "fitted_by": f"python -m tests.benchmarks.fit_stands --rounds {options.rounds} --steps {options.steps}",
        "fitted_on": f"simulated rounds of {len(ROWS)} kinds, seeds {options.first} to {options.first + options.rounds - 1}",
        "cross_entropy": round(best[0], 5),
        "shot": {name: round(float(w), 3) for name, w in zip(FEATURES, best[1][0], strict=True)},
        "tee": {name: round(float(w), 3) for name, w in zip(FEATURES, best[1][1], strict=True)},
    }
    path = Path(trackgolf.__file__).parent / "data" / "stand_weights.json"
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
