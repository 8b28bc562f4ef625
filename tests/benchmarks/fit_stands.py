"""Fits what a stand that is a stroke looks like: ``python -m tests.benchmarks.fit_stands --cache FOLDER``.

Maximum likelihood of what every stand of the tuning rounds was, the rest of the decoder unchanged: the gradient of the
log-likelihood of a structured model is what was, less what all stories together expect (Lafferty, McCallum, Pereira,
Conditional random fields, ICML 2001), taken through the network by the chain rule. Rounds that the steps do not see say
when to stop. Seeds from 1000 on are for tuning alone.
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import shapely

import trackgolf
from tests.benchmarks.fit import labels
from tests.benchmarks.measure import card_of, plan_of, played_round
from tests.benchmarks.worlds import tuning_world
from tests.simulator.suite import ROWS
from trackgolf import reconstruct as chain
from trackgolf.decode import IMPOSSIBLE, Evidence, probabilities
from trackgolf.settings import RoundSettings
from trackgolf.stand_model import FEATURES
from trackgolf.stand_net import CONTEXT, KINDS, StandNet, stand_inputs, stand_net
from trackgolf.weigh import weigh_round

Parts = dict[str, np.ndarray]


def first_on_green(simulated, stands, ground) -> tuple[np.ndarray, np.ndarray]:
    """The hole whose green was first reached at each stand, else -1; and whether a stand is to be judged for it."""
    strokes = simulated.strokes[simulated.strokes["counts"].astype(bool)]
    begin, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    sigma = stands["sigma_m"].to_numpy()
    spots = shapely.points(stands["east_m"].to_numpy(), stands["north_m"].to_numpy())
    truth, judged = np.full(len(stands), -1), np.ones(len(stands), dtype=bool)
    for h, hole in enumerate(ground.holes):
        gap = shapely.distance(hole.green, spots)
        for _, mine in strokes[strokes["hole"] == hole.number].groupby("turn"):
            off = mine.loc[mine["shot"].notna(), "time"]
            last = float(off.max()) if len(off) else float(mine["time"].min())
            putts = mine.loc[mine["shot"].isna() & ~mine["conceded"].astype(bool), "time"]
            until = float(putts.min()) if len(putts) else last + 240.0
            found = np.flatnonzero(
                (end > last + 6.0) & (begin > last - 5.0) & (begin < until + 5.0) & (gap < 3.0 + 1.5 * sigma)
            )
            if found.size and len(putts):
                truth[found[0]] = h
            else:
                judged[(begin > last - 5.0) & (begin < until + 120.0)] = False
    return truth, judged


def prepare(row: str, seed: int, cache: Path) -> dict:
    """Inputs, evidence without and with a card, and what each stand was; kept in the cache."""
    path = cache / f"{row}-{seed}.pickle"
    if path.exists():
        return pickle.loads(path.read_bytes())
    settings = RoundSettings()
    world = tuning_world(seed + 7919 * ROWS.index(row))
    simulated, track, course, bag = played_round.__wrapped__(row, seed, **world)
    ground = chain.lay_ground(course)
    pars = chain._personal_pars(course, bag)
    points = chain.remove_jumps(chain._points_on_course(track, course, ground)).points
    walk, time_s, raw = chain._smooth(points, ground)
    stands = chain.find_stops(time_s, *raw, settings.stops)
    trail = walk.time_s, walk.east_m, walk.north_m
    inputs = stand_inputs(stands, trail, ground, settings)
    marks = chain._marks_in_metres(track.marks, ground)
    pieces = []
    for counts, plan in (
        (chain._counts(course, pars, None), None),
        (chain._counts(course, pars, card_of(simulated)), plan_of(simulated)),
    ):
        shooters = chain._shooters(bag, ground, plan, settings)
        evidence = weigh_round(stands, trail, ground, shooters, counts, marks, settings)
        small = {name: getattr(evidence, name) for name in Evidence.__slots__}
        pieces.append(
            {name: v.astype(np.float32) if isinstance(v, np.ndarray) else v for name, v in small.items()}
        )
    truth, first = labels(simulated, stands, ground)
    green, green_judged = first_on_green(simulated, stands, ground)
    made = {
        "inputs": inputs,
        "old": stand_net().scores(inputs),
        "pieces": pieces,
        "judged": truth > -2,
        "shot": (truth >= 0) & ~first,
        "tee": (truth >= 0) & first,
        "arrive": green >= 0,
        "arrive_judged": green_judged & (truth > -2),
        "truth": truth,
    }
    path.write_bytes(pickle.dumps(made))
    return made


def slope_of(job: tuple) -> tuple[np.ndarray, float, int]:
    """Slope of the log-likelihood for each stand and kind, cross-entropy, and number of stands."""
    row, seed, cache, piece, net = job
    made = prepare(row, seed, cache)
    evidence = Evidence(
        **{k: v.astype(float) if isinstance(v, np.ndarray) else v for k, v in made["pieces"][piece].items()}
    )
    changed = net.scores(made["inputs"]) - made["old"]
    fields = {}
    for index, kind in enumerate(KINDS):
        before = getattr(evidence, kind)
        fields[kind] = np.where(before > IMPOSSIBLE / 2, before + changed[:, index, None], IMPOSSIBLE)
    shot, green, opening = probabilities(replace(evidence, **fields).tempered(RoundSettings().temper))
    p_first, p_green = opening.sum(axis=1), green.sum(axis=1)
    p_later = np.clip(shot.sum(axis=1) - p_first, 0.0, 1.0)
    judged = made["judged"]
    slope = np.column_stack([made["shot"] - p_later, made["tee"] - p_first, made["arrive"] - p_green])
    slope[~judged] = 0.0
    slope[~made["arrive_judged"], 2] = 0.0
    truth = made["truth"]
    own = np.where(truth >= 0, shot[np.arange(len(truth)), np.maximum(truth, 0)], 1.0 - shot.sum(axis=1))
    loss = float(-np.sum(np.log(np.clip(own[judged], 1e-3, 1.0))))
    return slope, loss, int(judged.sum())


def back(net: StandNet, inputs: np.ndarray, slope: np.ndarray) -> Parts:
    """Take the slope of the scores back through the network."""
    scaled = np.column_stack([np.clip((inputs - net.mean) / net.scale, -4.0, 4.0), np.ones(len(inputs))])
    active = np.tanh(scaled @ net.hidden)
    return {
        "out": active.T @ slope,
        "straight": scaled.T @ slope,
        "hidden": scaled.T @ ((slope @ net.out.T) * (1.0 - active**2)),
    }


def fresh(net: StandNet, every: np.ndarray, units: int) -> StandNet:
    """The straight path of a network for inputs scaled anew, beside a hidden layer that adds nothing yet."""
    mean, scale = every.mean(axis=0), np.maximum(every.std(axis=0), 1e-3)
    straight = np.zeros((len(mean) + 1, len(KINDS)))
    straight[:-1] = net.straight[:-1] * (scale / net.scale)[:, None]
    straight[-1] = net.straight[-1] + ((mean - net.mean) / net.scale) @ net.straight[:-1]
    rng = np.random.default_rng(1)
    hidden = rng.normal(0.0, 1.0 / np.sqrt(len(mean)), (len(mean) + 1, units))
    return StandNet(mean, scale, hidden, np.zeros((units, len(KINDS))), straight)


def _ready(job: tuple) -> None:
    prepare(*job)


def main() -> None:
    """Climb the likelihood by Adam (Kingma, Ba, ICLR 2015), and keep the network that is best on unseen rounds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=24, help="tuning rounds a row")
    parser.add_argument("--held", type=int, default=4, help="rounds a row that say when to stop")
    parser.add_argument("--passes", type=int, default=15)
    parser.add_argument("--units", type=int, default=24)
    parser.add_argument("--first", type=int, default=1000, help="first seed")
    parser.add_argument("--decay", type=float, default=3e-4, help="pull of the weights towards zero, a step")
    parser.add_argument("--rate", type=float, default=4e-3)
    parser.add_argument("--cache", type=Path, required=True, help="folder for prepared rounds")
    parser.add_argument("--prepare", action="store_true", help="only prepare the rounds")
    parser.add_argument(
        "--out", type=Path, default=Path(trackgolf.__file__).parent / "data" / "stand_net.json"
    )
    parser.add_argument("--warm", action="store_true", help="go on from the network that is there")
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    options.cache.mkdir(parents=True, exist_ok=True)
    jobs = [(row, options.first + k, options.cache) for k in range(options.rounds) for row in ROWS]
    held = [(row, options.first + 400 + k, options.cache) for k in range(options.held) for row in ROWS]
    began = time.monotonic()
    with ProcessPoolExecutor(os.cpu_count() or 1) as pool:
        for _ in pool.map(_ready, [*held, *jobs], chunksize=4):
            pass
        print(f"rounds ready ({time.monotonic() - began:.0f} s)", flush=True)
        if options.prepare:
            return
        every = np.vstack([prepare(*job)["inputs"] for job in jobs])
        net = stand_net() if options.warm else fresh(stand_net(), every, options.units)
        names = ("hidden", "out", "straight")
        first = {name: np.zeros_like(getattr(net, name)) for name in names}
        second = {name: np.zeros_like(getattr(net, name)) for name in names}
        rng = np.random.default_rng(options.seed)
        best, step, batch = (np.inf, net), 0, 12

        def measured(one: StandNet) -> tuple[float, float]:
            losses = []
            for piece in (0, 1):
                found = list(pool.map(slope_of, [(*job, piece, one) for job in held], chunksize=2))
                losses.append(sum(f[1] for f in found) / sum(f[2] for f in found))
            return losses[0], losses[1]

        print("start", *(f"{value:.5f}" for value in measured(net)), flush=True)
        for number in range(options.passes):
            order, seen, count = rng.permutation(len(jobs)), 0.0, 0
            for low in range(0, len(jobs), batch):
                chosen = [jobs[k] for k in order[low : low + batch]]
                work = [(*job, int(rng.random() < 0.35), net) for job in chosen]
                slopes = {name: np.zeros_like(getattr(net, name)) for name in names}
                total = 0
                for job, (slope, loss, stands) in zip(chosen, pool.map(slope_of, work), strict=True):
                    for name, value in back(net, prepare(*job)["inputs"], slope).items():
                        slopes[name] += value
                    seen, count, total = seen + loss, count + stands, total + stands
                step += 1
                rate = (
                    options.rate
                    * 0.5
                    * (1.0 + np.cos(np.pi * step * batch / (options.passes * len(jobs) + batch)))
                )
                moved = {}
                for name in names:
                    slope = slopes[name] / total - options.decay * getattr(net, name)
                    first[name] = 0.9 * first[name] + 0.1 * slope
                    second[name] = 0.99 * second[name] + 0.01 * slope**2
                    ahead = first[name] / (1 - 0.9**step)
                    moved[name] = getattr(net, name) + rate * ahead / (
                        np.sqrt(second[name] / (1 - 0.99**step)) + 1e-8
                    )
                net = replace(net, **moved)
            losses = measured(net)
            if sum(losses) < best[0]:
                best = (sum(losses), net)
                write(options, net, losses)
            print(
                f"pass {number}: {seen / count:.5f}, unseen {losses[0]:.5f} {losses[1]:.5f} ({time.monotonic() - began:.0f} s)",
                flush=True,
            )


def write(options: argparse.Namespace, net: StandNet, losses: tuple[float, float]) -> None:
    """Write the network with where it comes from."""
    last = options.first + options.rounds - 1
    record = {
        "about": "what a stand that is a stroke looks like; see trackgolf/stand_net.py",
        "fitted_by": f"python -m tests.benchmarks.fit_stands --rounds {options.rounds} --passes {options.passes} --units {options.units}{' --warm' if options.warm else ''}",
        "fitted_on": f"simulated rounds of {len(ROWS)} kinds, seeds {options.first} to {last}, worlds of tests/benchmarks/worlds.py",
        "cross_entropy": [round(value, 5) for value in losses],
        "inputs": [*FEATURES, *CONTEXT],
        "kinds": list(KINDS),
    }
    for name in ("mean", "scale", "hidden", "out", "straight"):
        record[name] = np.round(getattr(net, name), 4).tolist()
    options.out.write_text(json.dumps(record) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
