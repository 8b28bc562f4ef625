"""The rounds that figures are taken on: a row each for a recorder or a kind of round."""

from __future__ import annotations

import numpy as np

from tests.simulator.recorders import Recorder
from tests.simulator.rounds import SimulatedRound, simulate_round
from tests.simulator.scenarios import Scenario

__all__ = ["ROWS", "suite_round"]

ROWS = ("watch", "watch_marks", "silent", "sparse", "phone", "slow", "buggy", "odd_order", "bare_course")


def suite_round(row: str, seed: int, *, noise: float = 1.0) -> SimulatedRound:
    """
    Make a round of a named row, with a course and a player of its own.

    The same seed in two rows gives two different rounds.
    """
    place = ROWS.index(row)
    own = 100_000 * (place + 1) + seed
    rng = np.random.default_rng([own, 0x5E])
    device = {
        "fraction": bool(rng.random() < 0.2),
        "elevation": bool(rng.random() < 0.8),
        "hdop": bool(rng.random() < 0.2),
        "decimals": int(rng.choice([6, 7])),
        "noise": noise,
    }
    scenario, recorder = Scenario(), Recorder.watch(**device)
    if row == "watch_marks":
        recorder = Recorder.watch(marks=0.8, **device)
    elif row == "silent":
        recorder = Recorder.silent(**device)
    elif row == "sparse":
        recorder = Recorder.sparse(**device)
    elif row == "phone":
        recorder = Recorder.phone(**device)
    elif row == "slow":
        scenario = Scenario(slow=True, group=int(rng.integers(3, 5)), searches=3.0, warm_up=True)
    elif row == "buggy":
        scenario = Scenario(transport="buggy", group=int(rng.choice([2, 4])))
    elif row == "odd_order":
        scenario, recorder = _odd(seed, rng, device)
    return simulate_round(own, scenario, recorder)


def _odd(seed: int, rng: np.random.Generator, device: dict) -> tuple[Scenario, Recorder]:
    """Back nine first, drive home, halfway stop; paused; two files."""
    story = seed % 3
    if story == 0:
        return Scenario.back_first(drive_home=True, halfway=True, warm_up=True), Recorder.watch(**device)
    if story == 1:
        return Scenario(pause=True, drive_home=True), Recorder.watch(**device)
    return Scenario(files=2, halfway=True), Recorder.watch(overlap=bool(rng.random() < 0.5), **device)
