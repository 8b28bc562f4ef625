"""
Rebuilds the invented demo files byte for byte.

Run ``python -m tests.simulator.demo demo_tracks`` from the root of the
repository. Nothing in it is real.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass, replace
from pathlib import Path

from tests.simulator.courses import InventedCourse, invented_course
from tests.simulator.players import InventedPlayer, invented_player
from tests.simulator.recorders import Recorder
from tests.simulator.rounds import SimulatedRound, simulate_round
from tests.simulator.scenarios import Scenario
from tests.simulator.write import write_round

__all__ = ["DEMO", "demo_course", "demo_players", "demo_rounds", "write_demo"]

COURSE_SEED = 28


@dataclass(frozen=True)
class DemoRound:
    """One round of the demo: whose, what kind, how recorded, what the player kept."""

    player: str
    folder: str
    seed: int
    scenario: Scenario
    recorder: Recorder
    card: bool
    clubs: bool
    text: str

    @property
    def key(self) -> str:
        """Folder of the round below that of the demo."""
        return f"{self.player}/{self.folder}"


DEMO = (
    DemoRound(
        "nuala", "may_watch", 104, Scenario(group=3, transport="trolley", day="2026-05-16", tee_time="09:20"),
        Recorder.watch(), True, False, "18 holes, a watch with a point a second; card",
    ),
    DemoRound(
        "nuala", "july_phone", 5, Scenario(group=2, transport="carry", day="2026-07-04", tee_time="13:10"),
        Recorder.phone(elevation=False), True, True, "18 holes, a phone with excursions and gaps; card with clubs",
    ),
    DemoRound(
        "corwin", "june_silent", 122,
        Scenario(group=4, transport="trolley", day="2026-06-13", tee_time="08:40", halfway=True),
        Recorder.silent(decimals=6), False, False, "18 holes, a watch that writes nothing while its wearer stands; no card",
    ),
    DemoRound(
        "corwin", "august_nine", 41,
        Scenario.nine(10, group=2, transport="trolley", day="2026-08-22", tee_time="17:00", files=2),
        Recorder.watch(marks=0.8, named=0.85), True, False, "holes 10 to 18 in two files, marks at most shots, most with the club; card",
    ),
    DemoRound(
        "corwin", "september_sparse", 83,
        Scenario.back_first(group=2, transport="buggy", drive_home=True, day="2026-09-19", tee_time="10:30"),
        Recorder.sparse(), True, False, "18 holes, back nine first, by buggy, a point every 5 to 15 s, drive home; card",
    ),
)  # fmt: skip


def demo_course() -> InventedCourse:
    """Return the demo course."""
    return replace(invented_course(COURSE_SEED), name="Tarrowmere Links")


def demo_players(course: InventedCourse) -> dict[str, InventedPlayer]:
    """Return the demo players by folder; both a little steadier than most players of their handicap."""
    nuala = _steadier(invented_player(190, course), units="yd", strokes=30)
    corwin = _steadier(invented_player(171, course), units="m", strokes=28)
    return {
        "nuala": replace(nuala, name="Nuala Greyhatch"),
        "corwin": replace(corwin, name="Corwin Saltmarrow", target_score=None),
    }


def _steadier(player: InventedPlayer, *, units: str, strokes: int) -> InventedPlayer:
    long_game = 0.75 * player.clubs[0].distance_m
    clubs = tuple(
        replace(
            c,
            true_mishit_share=max(0.1, 0.8 * c.true_mishit_share),
            true_side_deg=5.4 if c.distance_m > long_game else 4.6,
            true_long_share=0.058,
        )
        for c in player.clubs
    )
    target = None if player.target_score is None else player.target_score - player.strokes_received + strokes
    return replace(
        player,
        units=units,
        strokes_received=strokes,
        target_score=target,
        clubs=clubs,
        touch=0.85,
        bias_deg=0.8,
    )


def demo_rounds() -> dict[str, SimulatedRound]:
    """Return every demo round with its truth, by folder."""
    course = demo_course()
    players = demo_players(course)
    return {
        d.key: simulate_round(d.seed, d.scenario, d.recorder, course=course, player=players[d.player])
        for d in DEMO
    }


def write_demo(folder: Path) -> None:
    """Write all invented demo files; nothing else in the folder is touched."""
    rounds = demo_rounds()
    course = next(iter(rounds.values())).course
    players = {d.player: rounds[d.key].player for d in DEMO}
    folder.mkdir(parents=True, exist_ok=True)
    course.write_geojson(folder / "course.geojson")
    for d in DEMO:
        r = rounds[d.key]
        write_round(
            r, folder / d.player / d.folder, card=d.card, clubs=d.clubs, truth=False, course=False,
            name=f"Invented round of {r.player.name}, {r.scenario.day}",
        )  # fmt: skip
    for key, player in players.items():
        player.write_bag(folder / key / "bag.toml")
        course.write_scorecard(folder / key / "scorecard.csv", player.tee, units=player.units)
    with (folder / "rounds.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["player", "round", "tee", "card", "what"])
        for d in DEMO:
            writer.writerow([d.player, d.folder, players[d.player].tee, "yes" if d.card else "no", d.text])
    (folder / "README.md").write_text(_readme(course, players), encoding="utf-8", newline="\n")


def _readme(course: InventedCourse, players: dict[str, InventedPlayer]) -> str:
    lines = [
        "# Demo data",
        "",
        f"Everything here but `walk.gpx` is invented: the course {course.name} lies in the open ocean, the players",
        "do not exist, and nobody played these rounds. `walk.gpx` is a real walk; see `NOTICE`.",
        "",
        "| file | what |",
        "|---|---|",
        f"| `course.geojson` | the invented course, from seed {COURSE_SEED}, with OpenStreetMap's golf tags |",
        "| `rounds.csv` | the rounds, the tee each was played from, and whether there is a card |",
        "| `PLAYER/bag.toml` | an invented player's bag, as the player believes it to be |",
        "| `PLAYER/scorecard.csv` | the course from that player's tee |",
        "| `PLAYER/ROUND/plan.geojson` | the plan taken on the round: the invented player's own, not what `trackgolf plan` makes of the bag |",
        "| `PLAYER/ROUND/track*.gpx` | what the device wrote |",
        "| `PLAYER/ROUND/card.csv` | what the player wrote down, where there is a card |",
        "| `report.png` | a picture of a report on one of the rounds, by `python -m tests.picture` |",
        "",
        "CSV has no comments: all `.csv` files here are invented too.",
        "",
        "| round | seed | player | tee | what |",
        "|---|---|---|---|---|",
    ]
    for d in DEMO:
        p = players[d.player]
        lines.append(f"| `{d.key}` | {d.seed} | {p.name} | {p.tee} | {d.text} |")
    lines += ["", "Rebuild them all, byte for byte, from the root of the repository:", "", "```"]
    lines += ["python -m tests.simulator.demo demo_tracks", "```"]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    write_demo(Path(sys.argv[1]))
