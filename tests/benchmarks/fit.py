"""Fits the decoder's settings to simulated tuning rounds: ``python -m tests.benchmarks.fit``.

The aim is the cross-entropy of what every stand was, over rounds of every kind, with and without a card. Seeds from
1000 on are for tuning alone; the measuring rounds use others.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from tests.benchmarks.measure import card_of, plan_of, played_round
from tests.simulator.suite import ROWS
from trackgolf import reconstruct as chain
from trackgolf.decode import probabilities
from trackgolf.settings import RoundSettings
from trackgolf.stand_context import stand_inputs
from trackgolf.stand_net import stand_net
from trackgolf.weigh import weigh_round

# Name, and how it is moved: "log" for positive numbers, "logit" for shares, "plain" otherwise.
FREE = {
    "other_area_m2": "log",
    "short_share": "logit",
    "aim_green": "logit",
    "bag_factor": "log",
    "long_club_power": "plain",
    "around_share": "logit",
    "around_m": "log",
    "tee_wait_share": "logit",
    "shot_dwell_s": "log",
    "wait_dwell_s": "log",
    "halt_share": "logit",
    "green_dwell_s": "log",
    "count_power": "log",
    "named_tee_spread_m": "log",
    "tee_dwell_s": "log",
    "side_share": "log",
    "wild_probability": "logit",
    "stay_share": "logit",
    "green_share": "logit",
    "shot_dwell_spread": "log",
    "tee_dwell_spread": "log",
    "halt_dwell_s": "log",
    "halt_dwell_spread": "log",
    "wait_dwell_spread": "log",
    "tee_spread_m": "log",
    "tee_ahead_share": "logit",
    "wild_share": "log",
    "bag_spread": "log",
    "chip_spread_share": "log",
    "stray_share": "logit",
    "stray_radius_m": "log",
    "unseen_shot": "logit",
    "pick_up": "logit",
    "replay": "logit",
    "beside_green_m": "log",
    "green_ball_m": "log",
    "tee_wait_m": "log",
    "plan_share": "logit",
    "green_dwell_spread": "log",
}

_PREPARED: dict[Any, Any] = {}


def prepare(row: str, seed: int, settings: RoundSettings) -> Any:
    """Everything of a round that does not depend on the free settings, and what each stand really was."""
    key = row, seed
    if key not in _PREPARED:
        simulated, track, course, bag = played_round(row, seed)
        ground = chain.lay_ground(course)
        pars = chain._personal_pars(course, bag)
        points = chain.remove_jumps(chain._points_on_course(track, course, ground)).points
        walk, time_s, raw = chain._smooth(points, ground)
        stands = chain.find_stops(time_s, *raw, settings.stops)
        marks = chain._marks_in_metres(track.marks, ground)
        known = [
            (chain._counts(course, pars, None), None, 1.0),
            (chain._counts(course, pars, card_of(simulated)), plan_of(simulated), 0.5),
        ]
        truth, first = labels(simulated, stands, ground)
        _PREPARED[key] = (
            stands,
            (walk.time_s, walk.east_m, walk.north_m),
            ground,
            bag,
            known,
            marks,
            truth,
            first,
        )
    return _PREPARED[key]


def labels(simulated: Any, stands: Any, ground: Any) -> tuple[np.ndarray, np.ndarray]:
    """The hole index whose shot each stand was, -1 for none, -2 for not to be judged; and whether it was the first."""
    strokes = simulated.strokes
    shots = strokes[
        (strokes["shot"].notna() | ~strokes["counts"].astype(bool)) & ~strokes["air"].astype(bool)
    ]
    begin, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    truth = np.full(len(stands), -1)
    first = np.zeros(len(stands), dtype=bool)
    number = {hole.number: index for index, hole in enumerate(ground.holes)}
    for stroke in shots.itertuples():
        inside = np.flatnonzero((begin - 3.0 <= stroke.time) & (stroke.time <= end + 5.0))
        if inside.size:
            middle = np.abs(0.5 * (begin[inside] + end[inside]) - stroke.time)
            stand = inside[np.argmin(middle)]
            truth[stand] = number[stroke.hole] if stroke.counts else -2
            first[stand] |= bool(stroke.counts and stroke.shot == 1)
    return truth, first


def loss_of(job: tuple[str, int, RoundSettings]) -> tuple[float, int]:
    """Cross-entropy of a round's stands, without and with a card, and their number."""
    row, seed, settings = job
    stands, walk, ground, bag, variants, marks, truth, _ = prepare(row, seed, settings)
    judged = truth > -2
    total = 0.0
    for counts, plan, weight in variants:
        shooters = chain._shooters(bag, ground, plan, settings)
        looks = stand_net().scores(stand_inputs(stands, walk, ground, settings))
        evidence = weigh_round(stands, walk, ground, shooters, counts, marks, settings, looks)
        shot, _, _ = probabilities(evidence.tempered(settings.temper))
        own = np.where(truth >= 0, shot[np.arange(len(stands)), np.maximum(truth, 0)], 1.0 - shot.sum(axis=1))
        total += weight * float(-np.sum(np.log(np.clip(own[judged], 1e-3, 1.0))))
    return total, int(judged.sum())


def to_free(name: str, value: float) -> float:
    kind = FREE[name]
    return np.log(value) if kind == "log" else np.log(value / (1 - value)) if kind == "logit" else value


def from_free(name: str, value: float) -> float:
    kind = FREE[name]
    return float(np.exp(value) if kind == "log" else 1 / (1 + np.exp(-value)) if kind == "logit" else value)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=4, help="tuning rounds a row")
    parser.add_argument("--sweeps", type=int, default=3)
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--rows", default=",".join(ROWS))
    options = parser.parse_args()
    jobs = [(row, 1000 + k) for row in options.rows.split(",") for k in range(options.rounds)]
    # Each worker keeps its own rounds, so that none is prepared twice.
    pools = [ProcessPoolExecutor(1) for _ in range(os.cpu_count() or 1)]

    def loss(settings: RoundSettings) -> float:
        waiting = [pools[k % len(pools)].submit(loss_of, (*job, settings)) for k, job in enumerate(jobs)]
        results = [one.result() for one in waiting]
        return sum(value for value, _ in results) / sum(count for _, count in results)

    settings = RoundSettings()
    began = time.monotonic()
    best = loss(settings)
    print(f"start {best:.5f} ({time.monotonic() - began:.0f} s)", flush=True)
    step = dict.fromkeys(FREE, 0.25)
    for sweep in range(options.sweeps):
        for name in FREE:
            if time.monotonic() - began > 60 * options.minutes:
                break
            here = to_free(name, getattr(settings, name))
            for sign in (1.0, -1.0):
                trial = replace(settings, **{name: from_free(name, here + sign * step[name])})
                value = loss(trial)
                if value < best:
                    best, settings = value, trial
                    step[name] *= 1.4
                    break
            else:
                step[name] *= 0.45
        print(f"sweep {sweep}: {best:.5f} ({time.monotonic() - began:.0f} s)", flush=True)
        for name in FREE:
            print(f"    {name}: float = {getattr(settings, name):.4g}", flush=True)
    for pool in pools:
        pool.shutdown()


if __name__ == "__main__":
    sys.exit(main())
