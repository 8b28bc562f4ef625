"""
Time the computed plan and say how good it is: `python -m tests.benchmarks.bench_strategy [speed|lots|halving|compare]`.

`speed`: 18 holes at 5 m, all plans, and one hole; wall and processor seconds, most memory. `lots`: expected strokes
against 200,000 plays of each hole without the grid. `halving`: values on cells of 5 and of 2.5 m. `compare`: four ways
to play on courses and with players that no choice was made on, with true distances 12 % shorter to 5 % longer than
stated and mishits halved to doubled. Each prints a table.
"""

from __future__ import annotations

import math
import resource
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.simulator.courses import invented_course
from tests.simulator.players import invented_player
from trackgolf.bag import read_bag
from trackgolf.course import read_course
from trackgolf.strategy.make import make_model
from trackgolf.strategy.monte_carlo import Truth, picture, play_hole
from trackgolf.strategy.odds import hole_odds
from trackgolf.strategy.policies import longest_club, rule_of_thumb
from trackgolf.strategy.rounds import hole_tasks, run_tasks
from trackgolf.strategy.settings import FEWEST_STROKES
from trackgolf.strategy.value import follow, solve

# Settings were chosen on the demo's course and players; these seeds were never looked at before.
SEEDS = ((611, 71), (612, 72), (613, 73), (614, 74))
PLAYS = 200_000
COMPARED = 1_000
DISTANCES, MISHITS = (0.88, 0.94, 1.0, 1.05), (0.5, 1.0, 2.0)


def tasks_of(course_seed, player_seed, **options):
    """Invent a course and a player, and read them as files."""
    course = invented_course(course_seed)
    player = invented_player(player_seed, course)
    with tempfile.TemporaryDirectory() as folder:
        course.write_geojson(Path(folder) / "course.geojson")
        player.write_bag(Path(folder) / "bag.toml")
        read = read_course(Path(folder) / "course.geojson", tee=course.tee_names[1])
        bag = read_bag(Path(folder) / "bag.toml")
    return hole_tasks(read, bag, **options)


def speed():
    tasks = tasks_of(*SEEDS[0])
    ten = replace(tasks[0].bag, clubs=tasks[0].bag.clubs[:10])
    names = {club.name for club in ten.clubs}
    ten = replace(
        ten,
        approaches=tuple(item for item in ten.approaches if item.club in names),
        part_swings=tuple(item for item in ten.part_swings if item.club in names),
    )
    tasks = [replace(task, bag=ten) for task in tasks]
    begun, used = time.perf_counter(), _processor_s()
    run_tasks(tasks)
    wall, used = time.perf_counter() - begun, _processor_s() - used
    memory = sum(
        resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(f"18 holes, 5 m, {len(ten.clubs)} clubs, three plans: {wall:.1f} s ({used:.1f} processor seconds)")
    print(f"most memory of this process and the largest other: {memory / 1024:.0f} MiB")
    for task in sorted(tasks, key=lambda task: task.site.pin_m[1])[:: len(tasks) // 3]:
        begun, used = time.perf_counter(), time.process_time()
        run_tasks([replace(task, names=("on plan",))], 1)
        wall, used = time.perf_counter() - begun, time.process_time() - used
        print(f"one hole of {task.site.pin_m[1]:.0f} m, on plan: {wall:.2f} s ({used:.2f} processor seconds)")


def _processor_s():
    return sum(
        usage.ru_utime + usage.ru_stime
        for usage in (resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN))
    )


def lots():
    print(f"| hole | expected | of {PLAYS:,} plays | difference | 0.02 + 3 s.e. |\n|---|---|---|---|---|")
    worst = 0.0
    for task in tasks_of(*SEEDS[0]):
        model = make_model(task.site, task.bag, task.settings, task.over_par)
        solution = solve(model, task.goal, task.prices)
        expected = hole_odds(solution).expected_strokes
        strokes = play_hole(solution, PLAYS, np.random.default_rng(task.site.number))["strokes"]
        allowed = 0.02 + 3 * strokes.std() / math.sqrt(PLAYS)
        off = strokes.mean() - expected
        worst = max(worst, abs(off) / allowed)
        print(
            f"| {task.site.number} | {expected:.3f} | {strokes.mean():.3f} | {off:+.3f} | {allowed:.3f} |",
            flush=True,
        )
    print(f"worst: {worst:.2f} of what is allowed")


def halving():
    print("| hole | 5 m | 2.5 m | difference |\n|---|---|---|---|")
    worst = 0.0
    for task in tasks_of(*SEEDS[0]):
        values = []
        for cell in (5.0, 2.5):
            settings = replace(task.settings, cell_m=cell)
            model = make_model(task.site, task.bag, settings, task.over_par)
            values.append(solve(model, task.goal, FEWEST_STROKES).value)
        worst = max(worst, abs(values[1] - values[0]))
        print(
            f"| {task.site.number} | {values[0]:.3f} | {values[1]:.3f} | {values[1] - values[0]:+.4f} |",
            flush=True,
        )
    print(f"worst: {worst:.4f}")


def compare(seeds=SEEDS):
    names = ("on plan", "fewest strokes", "rule of thumb", "longest club")
    rounds = {(d, m): {name: [] for name in names} for d in DISTANCES for m in MISHITS}
    greens = dict.fromkeys(names, 0.0)
    better, holes = 0, 0
    for course_seed, player_seed in seeds:
        total = {key: dict.fromkeys(names, 0.0) for key in rounds}
        for task in tasks_of(course_seed, player_seed):
            model = make_model(task.site, task.bag, task.settings, task.over_par)
            fewest = solve(model, task.goal, FEWEST_STROKES)
            thumb = rule_of_thumb(model, task.goal, task.bag, task.ground, task.rules)
            ways = {
                "on plan": solve(model, task.goal, task.prices, start=fewest),
                "fewest strokes": fewest,
                "rule of thumb": follow(model, task.goal, thumb),
                "longest club": follow(model, task.goal, longest_club(model, task.bag)),
            }
            ground = picture(fewest)
            for (distance, mishits), sums in total.items():
                for name, way in ways.items():
                    rng = np.random.default_rng([course_seed, player_seed, task.site.number])
                    played = play_hole(way, COMPARED, rng, Truth(distance, mishits), ground)
                    sums[name] += played["strokes"].mean()
                    if (distance, mishits) == (1.0, 1.0):
                        greens[name] += float(np.mean(played["to_green"] <= task.goal.regulation_shots))
            scored = {name: hole_odds(ways[name]).expected_strokes for name in ("on plan", "rule of thumb")}
            better += scored["rule of thumb"] < scored["on plan"]
            holes += 1
        for key, sums in total.items():
            for name in names:
                rounds[key][name].append(sums[name])
        print(f"course {course_seed}, player {player_seed}: done", file=sys.stderr, flush=True)
    print("| true distances | mishits | " + " | ".join(names) + " |\n|---|---|" + "---|" * len(names))
    for (distance, mishits), sums in rounds.items():
        means = " | ".join(f"{np.mean(sums[name]):.1f}" for name in names)
        print(f"| {distance - 1:+.0%} | × {mishits:g} | {means} |")
    print(
        "| greens in regulation | as stated | "
        + " | ".join(f"{greens[n] / len(seeds):.1f}" for n in names)
        + " |"
    )
    error = math.sqrt(2 * 18 * 1.2 / COMPARED / len(seeds))
    print(
        f"standard error of a difference about {error:.2f}; rule of thumb better on {better} of {holes} holes"
    )


def main():
    which = sys.argv[1:] or ["speed", "lots", "halving", "compare"]
    for name in which:
        print(f"\n{name}")
        {"speed": speed, "lots": lots, "halving": halving, "compare": compare}[name]()


if __name__ == "__main__":
    main()
