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
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
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
from trackgolf.decode import Evidence, probabilities
from trackgolf.settings import RoundSettings
from trackgolf.stand_context import stand_inputs
from trackgolf.stand_net import INPUTS, KINDS, StandNet, stand_net
from trackgolf.weigh import weigh_round

Parts = dict[str, np.ndarray]

# Share of the inputs left out of a step.
_DROPPED = 0.1
# Inputs beyond these shares of those fitted on are taken to lie there.
_BOUNDS = (0.002, 0.998)
# What is fitted of a network.
PARTS = ("hidden", "out", "straight", "deep", "deep_out")


@dataclass(frozen=True)
class Ready:
    """A tuning round: evidence and inputs without and with a card, what each stand was, and where it is judged."""

    evidence: tuple[dict, ...]
    inputs: np.ndarray
    wanted: np.ndarray
    judged: np.ndarray
    truth: np.ndarray


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
    """Stands, evidence without and with a card but without looks, and what each stand was; kept in the cache."""
    path = cache / f"{row}-{seed}.pickle"
    if path.exists():
        made: dict = pickle.loads(path.read_bytes())
        return made
    settings = RoundSettings()
    world = tuning_world(seed + 7919 * ROWS.index(row))
    simulated, track, course, bag = played_round.__wrapped__(row, seed, **world)
    ground = chain.lay_ground(course)
    pars = chain._personal_pars(course, bag)
    points = chain.remove_jumps(chain._points_on_course(track, course, ground)).points
    walk, time_s, raw = chain._smooth(points, ground)
    stands = chain.find_stops(time_s, *raw, settings.stops)
    trail = walk.time_s, walk.east_m, walk.north_m
    nothing = np.zeros((len(stands), len(KINDS)))
    marks = chain._marks_in_metres(track.marks, ground)
    pieces = []
    for counts, plan in (
        (chain._counts(course, pars, None), None),
        (chain._counts(course, pars, card_of(simulated)), plan_of(simulated)),
    ):
        shooters = chain._shooters(bag, ground, plan, settings)
        evidence = weigh_round(stands, trail, ground, shooters, counts, marks, settings, nothing)
        small = {name: getattr(evidence, name) for name in Evidence.__slots__}
        pieces.append(
            {name: v.astype(np.float32) if isinstance(v, np.ndarray) else v for name, v in small.items()}
        )
    truth, first = labels(simulated, stands, ground)
    green, green_judged = first_on_green(simulated, stands, ground)
    made = {
        "around": (stands, trail, ground),
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


def wide(piece: dict) -> Evidence:
    """Evidence as kept in the cache, in the width it is reckoned in."""
    return Evidence(**{k: v.astype(float) if isinstance(v, np.ndarray) else v for k, v in piece.items()})


@cache
def ready(row: str, seed: int, cache: Path) -> Ready:
    """A tuning round as a fit needs it, kept in the memory of each process."""
    made = prepare(row, seed, cache)
    wanted = np.column_stack([made["shot"], made["tee"], made["arrive"]]).astype(float)
    judged = np.column_stack([made["judged"], made["judged"], made["arrive_judged"]])
    inputs = stand_inputs(*made["around"], RoundSettings())
    return Ready(tuple(made["pieces"]), inputs, wanted, judged, made["truth"])


def slope_of(job: tuple[str, int, Path, int, StandNet, int]) -> tuple[Parts, float, int]:
    """
    Slope of the log-likelihood of a round by all parts of the network, cross-entropy, and number of stands.

    The last of the job is a seed, by which inputs are dropped (Srivastava and others, Dropout, JMLR 15, 2014): for
    some rounds, a tenth of the inputs is what it is on average, so that nothing rests on one of them; 0 drops none.
    """
    row, seed, cache, piece, net, drop = job
    known = ready(row, seed, cache)
    inputs = known.inputs
    if drop:
        left_out = np.random.default_rng(drop).random(inputs.shape[1]) < _DROPPED
        inputs = np.where(left_out, net.mean, inputs)
    evidence = wide(known.evidence[piece]).looked_at(net.scores(inputs))
    shot, green, opening = probabilities(evidence.tempered(RoundSettings().temper))
    p_first, p_green = opening.sum(axis=1), green.sum(axis=1)
    p_later = np.clip(shot.sum(axis=1) - p_first, 0.0, 1.0)
    slope = np.where(known.judged, known.wanted - np.column_stack([p_later, p_first, p_green]), 0.0)
    truth, judged = known.truth, known.judged[:, 0]
    own = np.where(truth >= 0, shot[np.arange(len(truth)), np.maximum(truth, 0)], 1.0 - shot.sum(axis=1))
    loss = float(-np.sum(np.log(np.clip(own[judged], 1e-3, 1.0))))
    return back(net, inputs, slope), loss, int(judged.sum())


def back(net: StandNet, inputs: np.ndarray, slope: np.ndarray) -> Parts:
    """Take the slope of the scores back through the network."""
    one = np.ones((len(inputs), 1))
    scaled = np.hstack([net.scaled(inputs), one])
    active = np.tanh(scaled @ net.hidden)
    wide = np.hstack([active, one])
    deeper = np.tanh(wide @ net.deep)
    of_deeper = (slope @ net.deep_out.T) * (1.0 - deeper**2)
    of_active = (slope @ net.out.T + of_deeper @ net.deep[:-1].T) * (1.0 - active**2)
    return {
        "out": active.T @ slope,
        "straight": scaled.T @ slope,
        "hidden": scaled.T @ of_active,
        "deep": wide.T @ of_deeper,
        "deep_out": deeper.T @ slope,
    }


def grown(
    net: StandNet, names: Sequence[str], every: np.ndarray, wanted: Sequence[str], units: int, deep_units: int
) -> StandNet:
    """
    Give a network more inputs and units that change nothing yet.

    `names` are its inputs, `wanted` those it is to have, `every` values of these to scale the new ones by.
    """
    rng = np.random.default_rng(1)
    known = [names.index(name) if name in names else None for name in wanted]
    mean, scale = every.mean(axis=0), np.maximum(every.std(axis=0), 1e-3)
    low, high = np.quantile(every, _BOUNDS, axis=0)
    for place, old in enumerate(known):
        if old is not None:
            mean[place], scale[place] = net.mean[old], net.scale[old]

    def rows(part: np.ndarray) -> np.ndarray:
        taken = [np.zeros(part.shape[1]) if old is None else part[old] for old in known]
        return np.vstack([*taken, part[-1]])

    more, deeper = units - net.out.shape[0], deep_units - net.deep_out.shape[0]
    hidden = np.hstack([rows(net.hidden), _small(rng, (len(wanted) + 1, more))])
    deep = np.vstack([net.deep[:-1], np.zeros((more, net.deep.shape[1])), net.deep[-1:]])
    return StandNet(
        mean,
        scale,
        low,
        high,
        hidden,
        np.vstack([net.out, np.zeros((more, len(KINDS)))]),
        rows(net.straight),
        np.hstack([deep, _small(rng, (units + 1, deeper))]),
        np.vstack([net.deep_out, np.zeros((deeper, len(KINDS)))]),
    )


def _small(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    return rng.normal(0.0, 1.0 / np.sqrt(max(shape[0], 1)), shape)


def _ready(job: tuple) -> None:
    prepare(*job)


def main() -> None:
    """Climb the likelihood by Adam (Kingma, Ba, ICLR 2015), and keep the network that is best on unseen rounds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=50, help="tuning rounds a row")
    parser.add_argument("--held", type=int, default=6, help="rounds a row that say when to stop")
    parser.add_argument("--passes", type=int, default=40)
    parser.add_argument("--units", type=int, default=80)
    parser.add_argument("--deep", type=int, default=32, help="units of the second layer")
    parser.add_argument("--first", type=int, default=1000, help="first seed")
    parser.add_argument("--decay", type=float, default=2e-4, help="pull of the weights towards zero, a step")
    parser.add_argument("--rate", type=float, default=5e-3)
    parser.add_argument("--cache", type=Path, required=True, help="folder for prepared rounds")
    parser.add_argument("--prepare", action="store_true", help="only prepare the rounds")
    parser.add_argument("--out", type=Path, help="file to write instead of the one that is there")
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
        some = np.vstack([ready(*job).inputs for job in jobs[::3]])
        net = grown(stand_net(), INPUTS, some, INPUTS, options.units, options.deep)
        first = {name: np.zeros_like(getattr(net, name)) for name in PARTS}
        second = {name: np.zeros_like(getattr(net, name)) for name in PARTS}
        rng = np.random.default_rng(options.seed)
        best, step, batch = np.inf, 0, 12
        steps = options.passes * (len(jobs) // batch + 1)

        def measured(one: StandNet) -> tuple[float, float]:
            losses = []
            for piece in (0, 1):
                work = [(*job, piece, one, 0) for job in held]
                found = list(pool.map(slope_of, work, chunksize=3))
                losses.append(sum(f[1] for f in found) / sum(f[2] for f in found))
            return losses[0], losses[1]

        print("start", *(f"{value:.5f}" for value in measured(net)), flush=True)
        for number in range(options.passes):
            order, seen, count = rng.permutation(len(jobs)), 0.0, 0
            for low in range(0, len(jobs), batch):
                # A card is known of one round in three.
                work = [
                    (*jobs[k], int(rng.random() < 0.35), net, int(rng.integers(0, 2**31)))
                    for k in order[low : low + batch]
                ]
                slopes = {name: np.zeros_like(getattr(net, name)) for name in PARTS}
                total = 0
                for parts, loss, stands in pool.map(slope_of, work):
                    for name, value in parts.items():
                        slopes[name] += value
                    seen, count, total = seen + loss, count + stands, total + stands
                step += 1
                rate = options.rate * 0.5 * (1.0 + np.cos(np.pi * min(step / steps, 1.0)))
                moved = {}
                for name in PARTS:
                    slope = slopes[name] / total - options.decay * getattr(net, name)
                    first[name] = 0.9 * first[name] + 0.1 * slope
                    second[name] = 0.99 * second[name] + 0.01 * slope**2
                    ahead = first[name] / (1 - 0.9**step)
                    moved[name] = getattr(net, name) + rate * ahead / (
                        np.sqrt(second[name] / (1 - 0.99**step)) + 1e-8
                    )
                net = replace(net, **moved)
            losses = measured(net)
            if sum(losses) < best:
                best = sum(losses)
                write(options, net, losses)
            print(
                f"pass {number}: {seen / count:.5f}, unseen {losses[0]:.5f} {losses[1]:.5f} ({time.monotonic() - began:.0f} s)",
                flush=True,
            )


def write(options: argparse.Namespace, net: StandNet, losses: tuple[float, float]) -> None:
    """Write the network with where it comes from."""
    last = options.first + options.rounds - 1
    place = options.out or Path(trackgolf.__file__).parent / "data" / "stand_net.json"
    record = {
        "about": "what a stand that is a stroke looks like; see trackgolf/stand_net.py",
        "fitted_by": f"python -m tests.benchmarks.fit_stands --rounds {options.rounds} --held {options.held} --passes {options.passes} --units {options.units} --deep {options.deep} --rate {options.rate} --decay {options.decay}, from the network before",
        "fitted_on": f"simulated rounds of {len(ROWS)} kinds, seeds {options.first} to {last}, worlds of tests/benchmarks/worlds.py",
        "cross_entropy": [round(value, 5) for value in losses],
        "inputs": list(INPUTS),
        "kinds": list(KINDS),
    }
    for name in ("mean", "scale", "low", "high", *PARTS):
        record[name] = np.round(getattr(net, name), 4).tolist()
    place.write_text(json.dumps(record) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
