"""
Says how true the learned clubs are, on simulated seasons that nothing was tuned on, and how long learning takes.

Run with ``python -m tests.benchmarks.bench_carries [seasons]``; ``speed`` times a player of 500 rounds and a library of
5,000 instead.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import pandas as pd

from tests.simulator.seasons import simulate_season
from trackgolf.learn.carries import learn_carries

__all__ = ["measure_season", "measure_seasons"]

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


def _tell(found: pd.DataFrame) -> None:
    error = found["distance_m"] / found["truth_m"] - 1
    many = found["shots"] >= 30
    print(f"{found['seed'].nunique()} seasons, {len(found)} clubs")
    print(f"80 % intervals hold the truth: {found['in_80'].mean():.1%}   95 %: {found['in_95'].mean():.1%}")
    print(f"80 % intervals of the share of mishits: {found['mishit_in_80'].mean():.1%}")
    print(f"bias with 30 shots and more: {error[many].mean():+.2%} of {many.sum()} clubs")
    print("shots      clubs   80 %   error   plain mean   median   stated")
    for low, high in ((0, 4), (4, 7), (7, 10), (10, 20), (20, 40), (40, 80), (80, 10_000)):
        part = found[(found["shots"] >= low) & (found["shots"] < high)]
        if part.empty:
            continue
        errors = [
            float(np.sqrt(((part[name] / part["truth_m"] - 1) ** 2).mean()))
            for name in ("distance_m", "plain_m", "median_m", "stated_m")
        ]
        cells = "   ".join(f"{value:7.2%}" for value in errors)
        print(f"{low:3d}-{high - 1:<6d} {len(part):5d}  {part['in_80'].mean():6.1%}  {cells}")


def _time() -> None:
    season = simulate_season(_FIRST_SEED - 1, rounds=500, named=0.5)
    begin = time.perf_counter()
    learn_carries(season.shots, season.bag)
    print(f"one player, 500 rounds, {len(season.shots)} shots: {time.perf_counter() - begin:.2f} s")
    players = [simulate_season(_FIRST_SEED - 2 - k, rounds=50, named=0.5) for k in range(10)]
    begin = time.perf_counter()
    for _ in range(10):
        for player in players:
            learn_carries(player.shots, player.bag)
    print(f"100 players, 5,000 rounds: {time.perf_counter() - begin:.2f} s")
    whole = pd.concat([season.shots.assign(round=season.shots["round"] + 500 * k) for k in range(10)])
    begin = time.perf_counter()
    learn_carries(whole, season.bag)
    print(f"one player, 5,000 rounds, {len(whole)} shots: {time.perf_counter() - begin:.2f} s")


if __name__ == "__main__":
    if sys.argv[1:] == ["speed"]:
        _time()
    else:
        _tell(measure_seasons(int(sys.argv[1]) if len(sys.argv) > 1 else 300))
