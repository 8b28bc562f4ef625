"""What the Rules ask after a stroke: play it as it lies, drop, replay, look for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import Point

from tests.simulator import golf
from tests.simulator.geometry import unit
from tests.simulator.moves import SEARCH_LIMIT_S, address, fetch_bag, go, search, spot_near
from tests.simulator.truth import Stroke

if TYPE_CHECKING:
    from tests.simulator.choices import Choice
    from tests.simulator.play import Game

__all__ = ["practice_ball", "settle"]


def settle(game: Game, stroke: Stroke, out: golf.Outcome, choice: Choice) -> None:
    """Put the ball where the next stroke will be played from."""
    mine, w = game.mine, game.walker
    mine.last, mine.visited, mine.resting = stroke.start, False, 0.0
    gone = out.lie == "out_of_bounds" or out.lost
    if gone:
        _stroke_and_distance(game, stroke, out, choice)
    elif out.lie == "penalty_area":
        _relief(game, stroke, out)
    else:
        mine.xy, mine.lie = out.end, out.lie
        if out.wild and game.rng.random() < w.habits.provisional * 0.6:
            _provisional_given_up(game, stroke, choice)
    if stroke.penalty == 0 and np.hypot(*(mine.xy - game.pin)) < 0.06:
        stroke.in_hole, stroke.end_lie, mine.done = True, "holed", True
    elif stroke.penalty == 0 and mine.lie != "green" and mine.strokes >= game.pick_up_at():
        stroke.end_lie, mine.done = "picked_up", True
        fetch_bag(w)
        go(w, spot_near(w.rng, out.end, 0.3, 1.0, w.xy))


def _stroke_and_distance(game: Game, stroke: Stroke, out: golf.Outcome, choice: Choice) -> None:
    """Rule 18.1: one stroke, and play again from where the last stroke was made."""
    w, rng, mine = game.walker, game.rng, game.mine
    out_of_bounds = out.lie == "out_of_bounds"
    stroke.penalty, stroke.reason = 1, "stroke and distance"
    stroke.end_lie = "out_of_bounds" if out_of_bounds else "lost"
    mine.strokes += 1
    near = out.end + rng.normal(0, 5, 2)
    if out_of_bounds:
        near = out.end + unit(stroke.start - out.end) * rng.uniform(0, 8)
    seconds = float(rng.uniform(10, 90)) if out_of_bounds else float(rng.uniform(60, SEARCH_LIMIT_S))
    mine.xy, mine.lie, mine.visited = stroke.start + rng.normal(0, 0.4, 2), stroke.lie, True
    if choice.kind == "full" and rng.random() < w.habits.provisional:
        # the provisional ball, at once and from the same place, becomes the ball in play
        if rng.random() < 0.7 or not out_of_bounds:
            mine.seek, mine.seek_s = near, seconds
        return
    fetch_bag(w)
    go(w, near)
    search(w, near, seconds, float(rng.uniform(4, 10)))
    w.walk(mine.xy + rng.normal(0, 1, 2), speed=w.habits.walk_mps * 1.1 if not w.drives else 4.0)


def _provisional_given_up(game: Game, stroke: Stroke, choice: Choice) -> None:
    """Rule 18.3: a second ball in case; the first is found, so the second never counts."""
    w, rng = game.walker, game.rng
    time = address(w, stroke.start + rng.normal(0, 0.5, 2), choice.target, float(rng.uniform(12, 30)), "full")
    void = _void(game, stroke, choice, time, "provisional given up")
    game.strokes.append(void)
    game.mine.seek, game.mine.seek_s = stroke.end.copy(), float(rng.exponential(40)) + 8
    game.void_end = void.end


def practice_ball(game: Game, stroke: Stroke, choice: Choice) -> None:
    """Play a second ball for practice, which never counts."""
    w, rng = game.walker, game.rng
    time = address(
        w, stroke.start + rng.normal(0, 1, 2), choice.target, float(rng.uniform(8, 20)), choice.kind
    )
    void = _void(game, stroke, choice, time, "practice ball")
    game.strokes.append(void)
    game.void_end = void.end


def _void(game: Game, stroke: Stroke, choice: Choice, time: float, reason: str) -> Stroke:
    out = golf.full_stroke(
        game.rng, game.course, game.player, choice.club, stroke.start, stroke.lie, choice.target, game.day
    )
    return Stroke(
        time, stroke.hole, stroke.turn, None, choice.kind, choice.club, stroke.lie, stroke.start, out.end, out.lie,
        counts=False, reason=reason, mishit=out.mishit,
    )  # fmt: skip


def _relief(game: Game, stroke: Stroke, out: golf.Outcome) -> None:
    """Rule 17.1d: one stroke; back on the line, or two club-lengths to the side of red water."""
    w, rng, mine = game.walker, game.rng, game.mine
    assert out.entry is not None
    stroke.penalty = 1
    mine.strokes += 1
    wet = game.course.near(Point(out.end), ("penalty_area",))
    red = bool(wet) and wet[0].kind == "water_red"
    edge = out.entry
    if not red and rng.random() < 0.15:
        stroke.reason = "stroke and distance"
        mine.xy, mine.lie, mine.visited = stroke.start + rng.normal(0, 0.4, 2), stroke.lie, True
        return
    if red and rng.random() < 0.8:
        # Source: Rules of Golf, definition of club-length: the longest club but the putter, about 1.1 m; two of them
        stroke.reason = "lateral relief"
        drop = edge + unit(edge - out.end) * rng.uniform(0.4, 2.2)
    else:
        stroke.reason = "back on the line"
        drop = edge + unit(edge - game.pin) * rng.uniform(1.0, 15.0)
    step = unit(stroke.start - drop)
    for _ in range(40):
        if game.course.lie(drop) not in ("penalty_area", "out_of_bounds", "green", "bunker"):
            break
        drop = drop + step * 1.5
    fetch_bag(w)
    look = edge + rng.normal(0, 1.5, 2) + unit(edge - out.end) * 1.5
    go(w, look)
    if rng.random() < 0.6:
        search(w, look, float(rng.exponential(30)) + 5, 3.0)
    go(w, drop + rng.normal(0, 0.8, 2))
    w.hold(float(rng.uniform(5, 20)), "wait")
    mine.xy, mine.lie, mine.visited, mine.resting = drop, game.course.lie(drop), True, 0.0
    if mine.lie in ("penalty_area", "out_of_bounds", "green", "bunker", "tee"):
        mine.lie = "rough"
