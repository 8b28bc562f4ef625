"""
Rebuilds the invented demo files byte for byte.

Run ``python -m tests.simulator.demo demo_tracks`` from the root of the
repository. Nothing in it is real.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from tests.simulator.courses import InventedCourse, invented_course
from tests.simulator.players import InventedPlayer
from tests.simulator.recorders import Recorder
from tests.simulator.rounds import SimulatedRound, simulate_round
from tests.simulator.scenarios import Scenario

__all__ = ["DEMO", "demo_course", "demo_rounds"]

COURSE_SEED = 7


@dataclass(frozen=True)
class DemoRound:
    """One round of the demo: who, what, how recorded."""

    player: str
    folder: str
    seed: int
    scenario: Scenario
    recorder: Recorder
    card: bool
    clubs: bool
    text: str


DEMO = (
    DemoRound(
        "isolde", "may_watch", 1, Scenario(group=3, transport="trolley", day="2026-05-16", tee_time="09:20"),
        Recorder.watch(), True, False, "18 holes, watch with a point a second, card with strokes, putts and penalties",
    ),
    DemoRound(
        "isolde", "july_phone", 2, Scenario(group=2, transport="carry", day="2026-07-04", tee_time="13:10"),
        Recorder.phone(elevation=False), True, True, "18 holes, phone with excursions and gaps, card with clubs",
    ),
    DemoRound(
        "bram", "june_silent", 3, Scenario(group=4, transport="trolley", day="2026-06-13", tee_time="08:40", halfway=True),
        Recorder.silent(decimals=6), False, False, "18 holes, watch that writes nothing while its wearer stands, no card",
    ),
    DemoRound(
        "bram", "august_nine", 4, Scenario.nine(10, group=2, transport="trolley", day="2026-08-22", tee_time="17:00", files=2),
        Recorder.watch(marks=0.8), True, False, "nine holes from the tenth, two files, marks at most shots",
    ),
    DemoRound(
        "bram", "september_sparse", 5, Scenario.back_first(group=2, transport="buggy", drive_home=True, day="2026-09-19", tee_time="10:30"),
        Recorder.sparse(), True, False, "back nine first, buggy, a point every 5 to 15 s, drive home at the end",
    ),
)  # fmt: skip


def demo_course() -> InventedCourse:
    """Return the demo course."""
    return replace(invented_course(COURSE_SEED), name="Tarrowmere Links")


def demo_players(course: InventedCourse) -> dict[str, InventedPlayer]:
    """Return the demo players by folder."""
    return {}


def demo_rounds() -> dict[str, SimulatedRound]:
    """Return every demo round with its truth, by folder."""
    course = demo_course()
    players = demo_players(course)
    return {
        f"{d.player}/{d.folder}": simulate_round(
            d.seed, d.scenario, d.recorder, course=course, player=players[d.player]
        )
        for d in DEMO
    }
