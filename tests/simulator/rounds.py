"""One simulated round from a seed: course, player, truth and what a device recorded."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tests.simulator.courses import InventedCourse, invented_course
from tests.simulator.geometry import Array
from tests.simulator.golf import Day
from tests.simulator.moves import spot_near
from tests.simulator.plans import PlannedShot, make_plan
from tests.simulator.play import Game
from tests.simulator.players import Habits, InventedPlayer, calmed, habits_of_the_day, invented_player
from tests.simulator.recorders import Recorder, record
from tests.simulator.scenarios import Scenario
from tests.simulator.truth import card_table, merge_stands, stands_table, strokes_table
from tests.simulator.walker import Path as TruePath
from tests.simulator.walker import Walker

__all__ = ["SimulatedRound", "simulate_round"]


@dataclass(frozen=True)
class SimulatedRound:
    """What a round was and what was recorded of it."""

    seed: int
    scenario: Scenario
    recorder: Recorder
    course: InventedCourse
    player: InventedPlayer
    habits: Habits
    plan: list[PlannedShot]
    path: TruePath
    pins: dict[int, Array]
    points: pd.DataFrame  # time, lon_deg, lat_deg, ele_m, hdop, segment, file
    marks: pd.DataFrame  # time, lon_deg, lat_deg, name, file
    strokes: pd.DataFrame
    stands: pd.DataFrame
    card: pd.DataFrame

    def write(self, folder: Path, **options) -> None:
        """Write the round's files into a folder."""
        from tests.simulator.write import write_round

        write_round(self, folder, **options)


def simulate_round(
    seed: int,
    scenario: Scenario | None = None,
    recorder: Recorder | None = None,
    *,
    course: InventedCourse | None = None,
    player: InventedPlayer | None = None,
) -> SimulatedRound:
    """
    Play and record one round; the same arguments give the same round.

    Without a course or a player each is invented from the seed.
    """
    scenario = scenario or Scenario()
    recorder = recorder or Recorder()
    course = course or invented_course(seed)
    player = player or invented_player(seed, course)
    rng = np.random.default_rng([seed, 0x60])
    transport = scenario.transport or str(rng.choice(["carry", "trolley"], p=[0.35, 0.65]))
    habits = habits_of_the_day(rng, transport=transport, slow=scenario.slow, left_handed=player.left_handed)
    habits = calmed(habits, scenario.bustle)
    habits = replace(
        habits, dwell_s=habits.dwell_s * scenario.dwell, putt_dwell_s=habits.putt_dwell_s * scenario.dwell
    )
    if scenario.follow_plan is not None:
        habits = replace(habits, follow_plan=scenario.follow_plan)
    group = scenario.group or int(rng.choice([1, 2, 3, 4], p=[0.05, 0.3, 0.3, 0.35]))
    partners = [invented_player(seed * 17 + 1000 + k, course) for k in range(group - 1)]
    day = Day(
        float(rng.uniform(0.6, 1.4)), float(rng.uniform(0, 2 * np.pi)), float(abs(rng.normal(0, 0.025)))
    )
    plan = make_plan(player, course)
    numbers = scenario.holes or tuple(h.number for h in course.holes)
    start = _start_time(rng, scenario, course)
    walker = Walker(rng, course, habits, start, course.car_park, drives=transport == "buggy")
    game = Game(
        rng=rng,
        course=course,
        player=player,
        partners=partners,
        walker=walker,
        plan={n: [p for p in plan if p.hole == n] for n in numbers},
        day=day,
        pins={h.number: _pin(rng, h) for h in course.holes},
        searches=scenario.searches,
    )
    first_tee = course.hole(numbers[0]).tees[player.tee]
    begin = _before(game, scenario, first_tee)
    pauses: list[tuple[float, float]] = []
    death = float("inf")
    for turn, number in enumerate(numbers):
        if turn == 9 and len(numbers) > 9:
            _between(game, scenario, pauses)
        following = course.hole(numbers[turn + 1]).tees[player.tee] if turn + 1 < len(numbers) else None
        if scenario.late_start and turn == scenario.late_start:
            begin = walker.t
        game.play_hole(course.hole(number), turn, following)
        if turn + 1 == scenario.dies_after:
            death = walker.t
    finish = min(_after(game, scenario), death)
    path = walker.path()
    strokes = strokes_table(game.strokes, course)
    stands = stands_table(
        [s for s in merge_stands(walker.stands) if s.end > begin and s.start < finish], course
    )
    recording = record(
        np.random.default_rng([seed, 0x4E]),
        path,
        begin,
        finish,
        pauses,
        course,
        strokes,
        recorder,
        scenario.files,
    )
    strokes["recorded"] = _inside(strokes["time"].to_numpy(), recording.spans, pauses)
    return SimulatedRound(
        seed=seed,
        scenario=scenario,
        recorder=recorder,
        course=course,
        player=player,
        habits=habits,
        plan=plan,
        path=path,
        pins=game.pins,
        points=recording.points,
        marks=recording.marks,
        strokes=strokes,
        stands=stands,
        card=card_table(game.strokes, game.played),
    )


def _inside(
    times: Array, spans: list[tuple[float, float]], pauses: list[tuple[float, float]]
) -> NDArray[np.bool_]:
    """Tell which moments some device was running at."""
    on = np.any([(times > a) & (times < b) for a, b in spans], axis=0)
    off = np.any([np.zeros(len(times), dtype=bool), *((times > a) & (times < b) for a, b in pauses)], axis=0)
    return on & ~off


def _start_time(rng: np.random.Generator, scenario: Scenario, course: InventedCourse) -> float:
    tee_time = scenario.tee_time or f"{int(rng.integers(7, 14)):02d}:{int(rng.integers(0, 6)) * 10:02d}"
    offset = timedelta(hours=round(course.plane.lon_deg / 15))
    local = datetime.fromisoformat(f"{scenario.day}T{tee_time}:00").replace(tzinfo=timezone(offset))
    return local.timestamp()


def _pin(rng: np.random.Generator, hole) -> Array:
    """Cut the hole somewhere on the green, at least 4 m from its edge."""
    inner = hole.green.buffer(-4.0)
    minx, miny, maxx, maxy = inner.bounds
    from shapely import Point

    for _ in range(200):
        xy = np.array([rng.uniform(minx, maxx), rng.uniform(miny, maxy)])
        if inner.contains(Point(xy)):
            return xy
    return hole.middle


def _before(game: Game, scenario: Scenario, first_tee: Array) -> float:
    """Warm up and walk to the first tee; returns when the recording starts."""
    w, rng, course = game.walker, game.rng, game.course
    warm_up = scenario.warm_up if scenario.warm_up is not None else rng.random() < 0.35
    early = scenario.early_start if scenario.early_start is not None else rng.random() < 0.5
    begin = w.t
    if warm_up:
        if rng.random() < 0.5:
            w.walk(course.driving_range)
            w.hold(float(rng.uniform(400, 1300)), "other", stroll_m=0.8)
        w.walk(course.practice_green)
        until = w.t + float(rng.uniform(200, 800))
        while w.t < until:
            w.walk(spot_near(rng, course.practice_green, 0, 8))
            w.hold(float(rng.uniform(6, 22)), "other", stroll_m=0.25)
    else:
        w.walk(course.clubhouse + rng.normal(0, 6, 2))
        w.hold(float(rng.uniform(30, 240)), "other", stroll_m=1.0)
    if np.hypot(*(first_tee - w.xy)) > 90:
        w.walk(w.xy + (first_tee - w.xy) * 0.8)
    if not early:
        begin = w.t - float(rng.uniform(0, 60))
    return begin


def _between(game: Game, scenario: Scenario, pauses: list[tuple[float, float]]) -> None:
    w, rng, course = game.walker, game.rng, game.course
    stop = scenario.halfway if scenario.halfway is not None else rng.random() < 0.3
    if not (stop or scenario.pause):
        return
    w.hole = 0
    w.walk(course.clubhouse + rng.normal(0, 7, 2))
    began = w.t
    seconds = float(rng.uniform(1500, 3000)) if scenario.pause else float(rng.uniform(180, 900))
    w.hold(seconds, "other", stroll_m=1.5)
    if scenario.pause:
        pauses.append((began + float(rng.uniform(10, 90)), w.t - float(rng.uniform(-60, 60))))


def _after(game: Game, scenario: Scenario) -> float:
    """Leave the course; returns when the recording stops."""
    w, rng, course = game.walker, game.rng, game.course
    w.hole = 0
    if rng.random() < 0.3 and not scenario.drive_home:
        w.hold(float(rng.uniform(5, 60)), "other")
        return w.t
    w.walk(course.clubhouse + rng.normal(0, 8, 2))
    w.hold(float(rng.uniform(20, 300)), "other", stroll_m=1.0)
    if not scenario.drive_home:
        return w.t
    w.hold(float(rng.uniform(300, 1800)), "other", stroll_m=1.5)
    w.walk(course.car_park)
    w.hold(float(rng.uniform(60, 240)), "other", stroll_m=0.8)
    heading = rng.uniform(0, 2 * np.pi)
    for _ in range(int(rng.integers(8, 20))):
        heading += rng.normal(0, 0.5)
        step = rng.uniform(150, 700)
        w._leg(w.xy + step * np.array([np.cos(heading), np.sin(heading)]), float(rng.uniform(8, 20)), True)
        if rng.random() < 0.25:
            w.hold(float(rng.uniform(5, 45)), "other", stroll_m=0.0)
    return w.t
