"""Says how true the learned clubs are, on simulated seasons that nothing was tuned on, and how long learning takes.

Seasons are tables of shots with their errors, or, with `--chain`, recordings that were rebuilt with and without the plan
that was played.
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np
import pandas as pd

from tests.benchmarks.figures import show, table
from tests.benchmarks.seasons_chain import play_season
from tests.simulator.seasons import simulate_season
from trackgolf.learn.carries import learn_carries

__all__ = ["is_good", "measure_season", "measure_seasons", "summarise"]

# Settings were tuned on seeds below 1 000.
_FIRST_SEED = 100_000


def measure_season(seed: int, **options) -> pd.DataFrame:
    """Learn one season; a row a club with truth, estimate, bounds, and how many shots there were."""
    season = simulate_season(seed, **options)
    learned = learn_carries(season.shots, season.bag)
    full = learned.shots
    clubs = learned.clubs
    true_club = full["true_club"].to_numpy()
    named = full["club_index"].to_numpy()
    rows = []
    for place, club in enumerate(clubs.to_dict("records")):
        mine = full.loc[true_club == place, "distance_m"]
        rows.append(
            {
                "seed": seed,
                "truth_m": season.true_mean_m[place],
                "distance_m": club["distance_m"],
                "in_80": club["distance_80_low_m"] <= season.true_mean_m[place] <= club["distance_80_high_m"],
                "in_95": club["distance_95_low_m"] <= season.true_mean_m[place] <= club["distance_95_high_m"],
                "mishit_in_80": club["mishit_80_low"] <= season.true_mishit[place] <= club["mishit_80_high"],
                "half_width": 0.5
                * (club["distance_80_high_m"] - club["distance_80_low_m"])
                / club["distance_m"],
                "shots": len(mine),
                "named": int((named == place).sum()),
                "plain_m": mine.mean() if len(mine) else np.nan,
                "median_m": mine.median() if len(mine) else np.nan,
                "stated_m": club["stated_distance_m"],
            }
        )
    return pd.DataFrame(rows)


def measure_seasons(seasons: int, first_seed: int = _FIRST_SEED, **options) -> pd.DataFrame:
    """Learn many seasons; rows as of `measure_season`."""
    return pd.concat(
        [measure_season(seed, **options) for seed in range(first_seed, first_seed + seasons)],
        ignore_index=True,
    )


def summarise(found: pd.DataFrame) -> list[list[object]]:
    """Rows of the table of figures: all clubs, then by how many shots a club had."""
    rows = []
    for low, high in ((0, 100_000), (0, 4), (4, 7), (7, 10), (10, 20), (20, 30), (30, 80), (80, 100_000)):
        part = found[(found["shots"] >= low) & (found["shots"] < high)]
        if part.empty:
            continue
        error = part["distance_m"] / part["truth_m"] - 1
        errors = [
            f"{np.sqrt(((part[name] / part['truth_m'] - 1) ** 2).mean()):.2%}"
            for name in ("distance_m", "plain_m", "median_m", "stated_m")
        ]
        name = (
            "all"
            if high - low == 100_000
            else f"{low} to {high - 1}"
            if high < 100_000
            else f"{low} and more"
        )
        inside = [f"{part[column].mean():.1%}" for column in ("in_80", "in_95", "mishit_in_80")]
        rows.append([name, len(part), *inside, f"{error.mean():+.2%}", *errors])
    return rows


def measure_chain(seasons: int, first_seed: int = _FIRST_SEED) -> pd.DataFrame:
    """Learn seasons that went through recording and rebuilding; a row a club, with `plan` given to the program or not."""
    rows = []
    for seed in range(first_seed, first_seed + seasons):
        season = play_season(seed)
        for plan, rounds in season.rounds.items():
            clubs = learn_carries(rounds.shots, season.bag).clubs
            truth = season.true_mean_m
            mishit = season.true_mishit
            rows.append(
                pd.DataFrame(
                    {
                        "seed": seed,
                        "plan": plan,
                        "shots": clubs["shots"],
                        "error": clubs["distance_m"] / truth - 1,
                        "in_80": (clubs["distance_80_low_m"] <= truth)
                        & (truth <= clubs["distance_80_high_m"]),
                        "in_95": (clubs["distance_95_low_m"] <= truth)
                        & (truth <= clubs["distance_95_high_m"]),
                        "half_width": (clubs["distance_80_high_m"] - clubs["distance_80_low_m"])
                        / clubs["distance_m"]
                        / 2,
                        "mishit_in_80": (clubs["mishit_80_low"] <= mishit)
                        & (mishit <= clubs["mishit_80_high"]),
                        "mishit_error": clubs["mishit_share"] - mishit,
                        "stated_error": clubs["stated_distance_m"] / truth - 1,
                    }
                )
            )
    return pd.concat(rows, ignore_index=True)


def summarise_chain(found: pd.DataFrame) -> list[list[object]]:
    """Rows of the table of figures: with the plan given and without."""
    rows: list[list[object]] = []
    for plan, part in found.groupby("plan", sort=False):
        shares = [f"{part[name].mean():.1%}" for name in ("in_80", "in_95")]
        rows.append(
            [
                plan,
                int(part["seed"].nunique()),
                len(part),
                *shares,
                f"{part['half_width'].mean():.2%}",
                f"{part['error'].mean():+.2%}",
                f"{part.loc[part['shots'] >= 30, 'error'].mean():+.2%}",
                f"{np.sqrt((part['error'] ** 2).mean()):.2%}",
                f"{np.sqrt((part['stated_error'] ** 2).mean()):.2%}",
                f"{part['mishit_in_80'].mean():.1%}",
                f"{100 * part['mishit_error'].mean():+.1f}",
            ]
        )
    return rows


def is_good(found: pd.DataFrame) -> bool:
    """Whether intervals, bias and error are within what is asked of them."""
    error = found["distance_m"] / found["truth_m"] - 1
    eight = found[(found["shots"] >= 7) & (found["shots"] < 10)]
    ours, plain = (
        np.sqrt(((eight[name] / eight["truth_m"] - 1) ** 2).mean()) for name in ("distance_m", "plain_m")
    )
    return bool(
        0.77 <= found["in_80"].mean() <= 0.83
        and abs(error[found["shots"] >= 30].mean()) < 0.01
        and ours <= 2 / 3 * plain
    )


def _time() -> list[list[object]]:
    """Processor seconds of one player, of a library of many, and of one player with as many rounds."""
    one = simulate_season(_FIRST_SEED - 1, rounds=500, named=0.5)
    many = [simulate_season(_FIRST_SEED - 2 - k, rounds=50, named=0.5) for k in range(10)] * 10
    whole = pd.concat([one.shots.assign(round=one.shots["round"] + 500 * k) for k in range(10)])
    rows: list[list[object]] = []
    for name, tables in (
        ("one player, 500 rounds", [(one.shots, one.bag)]),
        ("one player, 5,000 rounds", [(whole, one.bag)]),
        ("100 players of 50 rounds", [(season.shots, season.bag) for season in many]),
    ):
        begin = time.process_time()
        for shots, bag in tables:
            learn_carries(shots, bag)
        rows.append([name, sum(len(shots) for shots, _ in tables), f"{time.process_time() - begin:.1f}"])
        print(rows[-1], flush=True)
    return rows


def main() -> int:
    """Measure, print, and write if wanted; 1 where the figures are not what is asked."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0].strip())
    parser.add_argument("--seasons", type=int, default=300)
    parser.add_argument(
        "--named", type=float, help="share of shots whose club is named; any from 0.4 to 1 without"
    )
    parser.add_argument(
        "--chain", type=int, metavar="SEASONS", help="seasons through the whole chain instead"
    )
    parser.add_argument("--speed", action="store_true", help="time it instead")
    parser.add_argument("--write", action="store_true", help="put the figures into DEVELOPERS.md")
    options = parser.parse_args()
    if options.speed:
        show("time of carries", table(["rounds", "shots", "seconds"], _time()), write=options.write)
        return 0
    if options.chain:
        found = measure_chain(options.chain)
        head = [
            "plan",
            "seasons",
            "clubs",
            "80 %",
            "95 %",
            "half width of 80 %",
            "bias",
            "bias from 30 shots",
        ]
        head += ["error", "bag", "80 % of mishits", "mishits too many, per cent"]
        show("carries through the chain", table(head, summarise_chain(found)), write=options.write)
        inside = found.groupby("plan")["in_80"].mean()
        return 0 if bool(inside.between(0.77, 0.83).all()) else 1
    found = measure_seasons(options.seasons, named=options.named)
    head = [
        "shots",
        "clubs",
        "80 %",
        "95 %",
        "80 % of mishits",
        "bias",
        "error",
        "plain mean",
        "median",
        "bag",
    ]
    show("carries", table(head, summarise(found)), write=options.write)
    return 0 if is_good(found) else 1


if __name__ == "__main__":
    sys.exit(main())
