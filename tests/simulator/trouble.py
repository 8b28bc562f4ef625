"""What the Rules ask after a stroke: play it as it lies, drop, replay, look for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import Point

from tests.simulator import golf
from tests.simulator.geometry import Array, unit
from tests.simulator.moves import SEARCH_LIMIT_S, address, fetch_bag, go, search, spot_near
from tests.simulator.truth import Stroke

if TYPE_CHECKING:
    from tests.simulator.choices import Choice
    from tests.simulator.play import Game

__all__ = ["practice_ball", "settle"]

_TWO_CLUBS_M = (
    2.2  # from memory: a driver is about 1.1 m long; Rules of Golf 17.1d(3) allows two club-lengths
)
_NO_DROP = ("penalty_area", "out_of_bounds", "green", "bunker", "tee")


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
        if out.lie == "green" and not game.hole.green.intersects(Point(out.end)):
            _off_wrong_green(game)
        if out.wild and game.rng.random() < w.habits.provisional * 0.6:
            _provisional_given_up(game, stroke, choice)
    if stroke.penalty == 0 and np.hypot(*(mine.xy - game.pin)) < 0.06:
        stroke.in_hole, stroke.end_lie, mine.done = True, "holed", True
    elif stroke.penalty == 0 and mine.lie != "green" and mine.strokes >= game.pick_up_at():
        stroke.end_lie, mine.done = "picked_up", True
        fetch_bag(w)
        go(w, spot_near(w.rng, out.end, 0.3, 1.0, w.xy))


def _off_wrong_green(game: Game) -> None:
    """Rule 13.1f: free relief, off the green of another hole."""
    mine = game.mine
    step = unit(mine.xy - game.pin)
    while game.course.lie(mine.xy) in ("green", "bunker", "penalty_area"):
        mine.xy = mine.xy + step
    mine.lie = "rough"


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
    place = stroke.start + rng.normal(0, 0.4, 2)
    time = address(w, place, choice.target, float(rng.uniform(12, 30)), "full")
    void = _void(game, stroke, choice, place, time, "provisional given up")
    game.strokes.append(void)
    game.mine.seek, game.mine.seek_s = stroke.end.copy(), float(rng.exponential(40)) + 8
    game.void_end = void.end


def practice_ball(game: Game, stroke: Stroke, choice: Choice) -> None:
    """Play a second ball for practice, which never counts."""
    w, rng = game.walker, game.rng
    place = stroke.start + rng.normal(0, 1, 2)
    time = address(w, place, choice.target, float(rng.uniform(8, 20)), choice.kind)
    void = _void(game, stroke, choice, place, time, "practice ball")
    game.strokes.append(void)
    game.void_end = void.end


def _void(game: Game, stroke: Stroke, choice: Choice, place: Array, time: float, reason: str) -> Stroke:
    out = golf.full_stroke(
        game.rng, game.course, game.player, choice.club, place, stroke.lie, choice.target, game.day
    )
    return Stroke(
        time, stroke.hole, stroke.turn, None, choice.kind, choice.club, stroke.lie, place, out.end, out.lie,
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
    drop = _beside(game, edge) if red and rng.random() < 0.8 else None
    if drop is not None:
        stroke.reason = "lateral relief"
    else:
        stroke.reason = "back on the line"
        drop = edge + unit(edge - game.pin) * rng.uniform(1.0, 15.0)
    step = unit(drop - game.pin)
    for _ in range(60):
        if game.course.lie(drop) not in _NO_DROP:
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
    if mine.lie in _NO_DROP:
        mine.lie = "rough"


def _beside(game: Game, edge: Array) -> Array | None:
    """Find a dry place within two club-lengths of where the ball went in, no nearer the hole."""
    away = float(np.hypot(*(edge - game.pin)))
    for _ in range(40):
        drop = edge + _TWO_CLUBS_M * np.sqrt(game.rng.random()) * unit(game.rng.normal(0, 1, 2))
        if np.hypot(*(drop - game.pin)) >= away and game.course.lie(drop) not in _NO_DROP:
            return drop
    return None
