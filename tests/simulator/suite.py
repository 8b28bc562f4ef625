"""The rounds that figures are taken on: a row each for a recorder or a kind of round."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.simulator.courses import invented_course
from tests.simulator.recorders import Recorder
from tests.simulator.rounds import SimulatedRound, simulate_round
from tests.simulator.scenarios import Scenario

__all__ = ["ODD_ROWS", "ROWS", "suite_round"]

ROWS = ("watch", "watch_marks", "silent", "sparse", "phone", "slow", "buggy", "odd_order", "bare_course")

# Further kinds of round, for checks that each can be read.
ODD_ROWS = (
    "shotgun", "nine", "nine_twice", "shared_greens", "skipped", "walked_off", "late_start", "died", "twice",
    "mounted", "positions",
)  # fmt: skip


def suite_round(
    row: str,
    seed: int,
    *,
    noise: float = 1.0,
    dwell: float = 1.0,
    bustle: float = 1.0,
    alone: bool = False,
    follow_plan: float | None = None,
) -> SimulatedRound:
    """
    Make a round of a named row, with a course and a player of its own.

    The same seed in two rows gives two different rounds; `noise` and `dwell`
    scale the recorder's error and the time over the ball, `bustle` all standing
    about that belongs to no stroke; `alone` leaves out the rest of the
    group, `follow_plan` is the share of shots that follow the player's plan.
    """
    own = 100_000 * ((*ROWS, *ODD_ROWS).index(row) + 1) + seed
    rng = np.random.default_rng([own, 0x5E])
    device = {
        "fraction": bool(rng.random() < 0.2),
        "elevation": bool(rng.random() < 0.8),
        "hdop": bool(rng.random() < 0.2),
        "decimals": int(rng.choice([6, 7])),
        "noise": noise,
    }
    course = None
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
    elif row in ODD_ROWS:
        if row == "shared_greens":
            course = invented_course(own, holes=9, loops=2)
        scenario, recorder = _further(row, rng, recorder)
    scenario = replace(scenario, dwell=dwell, bustle=bustle, group=1 if alone else scenario.group)
    scenario = replace(scenario, follow_plan=follow_plan)
    return simulate_round(own, scenario, recorder, course=course)


def _odd(seed: int, rng: np.random.Generator, device: dict) -> tuple[Scenario, Recorder]:
    """Back nine first, drive home, halfway stop; paused; two files."""
    story = seed % 3
    if story == 0:
        return Scenario.back_first(drive_home=True, halfway=True, warm_up=True), Recorder.watch(**device)
    if story == 1:
        return Scenario(pause=True, drive_home=True), Recorder.watch(**device)
    return Scenario(files=2, halfway=True), Recorder.watch(overlap=bool(rng.random() < 0.5), **device)


def _further(row: str, rng: np.random.Generator, recorder: Recorder) -> tuple[Scenario, Recorder]:
    first = int(rng.choice([1, 10]))
    scenarios = {
        "shotgun": Scenario.shotgun(int(rng.integers(2, 19))),
        "nine": Scenario.nine(first),
        "nine_twice": Scenario.nine_twice(first),
        "skipped": Scenario.without(*(int(n) for n in rng.choice(np.arange(2, 18), 2, replace=False))),
        "walked_off": Scenario.walked_off(int(rng.integers(10, 16))),
        "late_start": Scenario(late_start=int(rng.integers(1, 4))),
        "died": Scenario(dies_after=int(rng.integers(12, 17))),
        "mounted": Scenario(transport=str(rng.choice(["buggy", "trolley"]))),
    }
    changes = {"twice": {"twice": True}, "mounted": {"mounted": True}}.get(row, {})
    return scenarios.get(row, Scenario()), replace(recorder, **changes)
