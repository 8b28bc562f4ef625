"""Seasons of an invented player through the whole chain: recordings on a course, rebuilt with and without a plan."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from tests.benchmarks.measure import plan_of, track_of
from tests.simulator.courses import invented_course
from tests.simulator.players import InventedPlayer, invented_player
from tests.simulator.recorders import Recorder
from tests.simulator.rounds import simulate_round
from tests.simulator.scenarios import Scenario
from trackgolf.bag import Bag, read_bag
from trackgolf.course import read_course
from trackgolf.learn.many_rounds import ManyRounds, join_rounds
from trackgolf.reconstruct import reconstruct

__all__ = ["ChainSeason", "play_season"]


@dataclass(frozen=True)
class ChainSeason:
    """Who played, and the rounds as the program found them, rebuilt with the plan and without one."""

    seed: int
    player: InventedPlayer
    bag: Bag
    rounds: dict[str, ManyRounds]  # "plan", "no plan"
    strokes: pd.DataFrame  # the truth, with `round`

    @property
    def true_mean_m(self) -> np.ndarray:
        """What a good full strike of each club goes on average, in the order of the bag."""
        return np.array([self.player.club(club.name).true_distance_m for club in self.bag.clubs])

    @property
    def true_mishit(self) -> np.ndarray:
        """Share of the full swings of each club that were to fail, from the lies they were played from."""
        full = self.strokes[(self.strokes["kind"] == "full") & self.strokes["counts"].astype(bool)]
        # As in `tests.simulator.golf.full_stroke`.
        worse = np.where(full["lie"].isin(["rough", "bunker"]), 1.35, 1.0)
        mean = full.assign(worse=worse).groupby("club")["worse"].mean()
        own = [self.player.club(club.name).true_mishit_share for club in self.bag.clubs]
        return np.array(own) * mean.reindex([club.name for club in self.bag.clubs]).fillna(1.0).to_numpy()


def play_season(seed: int, *, rounds: int | None = None, follow_plan: float | None = None) -> ChainSeason:
    """Play and rebuild a season on one course; most shots are marked with their club, the others are inferred."""
    rng = np.random.default_rng([seed, 0xC4A1])
    rounds = int(rng.integers(3, 13)) if rounds is None else rounds
    course = invented_course(seed)
    player = invented_player(seed, course)
    recorder = Recorder.watch(
        marks=float(rng.uniform(0.5, 1.0)), named=0.95, elevation=bool(rng.random() < 0.8)
    )
    with tempfile.TemporaryDirectory() as folder:
        course_path, bag_path = Path(folder) / "course.geojson", Path(folder) / "bag.toml"
        course.write_geojson(course_path)
        player.write_bag(bag_path)
        drawn, bag = read_course(course_path, tee=player.tee), read_bag(bag_path)
    parts: dict[str, list[list[pd.DataFrame]]] = {"plan": [[], [], []], "no plan": [[], [], []]}
    strokes = []
    for number in range(rounds):
        day = date(2026, 3, 1) + timedelta(days=9 * number)
        scenario = Scenario(day=day.isoformat(), follow_plan=follow_plan)
        played = simulate_round(1000 * seed + number, scenario, recorder, course=course, player=player)
        track, plan = track_of(played), plan_of(played)
        strokes.append(played.strokes.assign(round=number))
        for name, given in (("plan", plan), ("no plan", None)):
            found = reconstruct(track, drawn, bag, plan=given)
            for place, table in zip(parts[name], (found.shots, found.holes, found.comparison), strict=True):
                place.append(table.assign(round=number, day=day.isoformat()))
    joined = {
        name: join_rounds(
            *(pd.concat([t for t in place if len(t)] or place, ignore_index=True) for place in tables)
        )
        for name, tables in parts.items()
    }
    return ChainSeason(seed, player, bag, joined, pd.concat(strokes, ignore_index=True))
