"""The others in the group: where their balls go, and where the wearer stands meanwhile."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import Point

from tests.simulator import golf
from tests.simulator.geometry import along, point_at, unit
from tests.simulator.greens import arrive_on_green, partner_putt
from tests.simulator.moves import SEARCH_LIMIT_S, fetch_bag, go, search, spot_near

if TYPE_CHECKING:
    from tests.simulator.play import Game

__all__ = ["partner_stroke", "partner_turn"]


def partner_turn(game: Game, k: int) -> None:
    """Let a partner play, with the wearer beside the partner, at the own ball, or on the way."""
    w, rng, habits, ball, mine = game.walker, game.rng, game.walker.habits, game.balls[k], game.mine
    if ball.lie == "green":
        partner_putt(game, k)
        return
    ready = max(game.last_stroke + 6, ball.free_at + float(np.hypot(*(ball.xy - ball.last))) / 1.3)
    stroke_at = ready + float(rng.lognormal(np.log(game.partner_dwell_s[k]), 0.4))
    helped = ball.lie == "rough" and not mine.visited and rng.random() < 0.07 * game.searches
    if helped:
        # everybody looks for a partner's ball
        near = ball.xy + rng.normal(0, 6, 2)
        fetch_bag(w)
        go(w, near)
        search(w, near, min(SEARCH_LIMIT_S, float(rng.exponential(50)) + 10), float(rng.uniform(4, 10)))
        stroke_at = max(stroke_at, w.t + float(rng.uniform(10, 30)))
    if mine.lie == "green" or mine.done:
        near_green = np.hypot(*(game.pin - w.xy)) < 70
        if not game.green_ready and near_green:
            arrive_on_green(game)
        elif not game.green_ready and rng.random() < 0.5:
            go(w, spot_near(rng, ball.xy, 4, 12, w.xy))
        _wait_until(game, stroke_at, "partner" if not game.green_ready else "wait", habits.wander_m)
    elif mine.visited:
        _wait_until(game, stroke_at, "wait", habits.wander_m * 0.4)
        mine.resting += 10
    else:
        _on_the_way(game, k, stroke_at)
    game.last_stroke = max(w.t, stroke_at)
    partner_stroke(game, k)
    ball.free_at = game.last_stroke + 4


def _on_the_way(game: Game, k: int, stroke_at: float) -> None:
    w, rng, habits, ball, mine = game.walker, game.rng, game.walker.habits, game.balls[k], game.mine
    to_me = mine.xy - w.xy
    own, theirs = game.left_m(), float(np.hypot(*(ball.xy - game.pin)))
    watching = rng.random() < habits.with_partner
    if watching and np.hypot(*(ball.xy - w.xy)) < np.hypot(*to_me) + 60:
        fetch_bag(w)
        go(w, spot_near(rng, ball.xy, 3.0, 9.0, w.xy))
        _wait_until(game, stroke_at, "partner", 0.5)
    elif own >= theirs - 15:
        game.go_to_mine()
        _wait_until(game, stroke_at, "wait", 0.6)
        mine.resting += 10
    else:
        # level with the partner, on the way to the own ball farther on
        here = float(np.hypot(*(game.pin - w.xy)))
        share = float(np.clip((here - theirs) / max(1.0, here - own), 0, 1))
        fetch_bag(w)
        go(w, w.xy + to_me * share * rng.uniform(0.85, 1.0))
        _wait_until(game, stroke_at, "wait", 0.6)


def _wait_until(game: Game, t: float, why: str, stroll: float) -> None:
    if t - game.walker.t > 2.0:
        game.walker.hold(t - game.walker.t, why, stroll_m=stroll)


def partner_stroke(game: Game, k: int) -> None:
    """Move a partner's ball; a partner's trouble is a delay and a drop."""
    rng, ball, p = game.rng, game.balls[k], game.partners[k]
    left = float(np.hypot(*(ball.xy - game.pin)))
    ball.last = ball.xy.copy()
    ball.strokes += 1
    clubs = [c for c in p.clubs if ball.lie == "tee" or c.name != "driver"]
    club = min(clubs, key=lambda c: abs(c.distance_m - left))
    if left < 0.8 * p.clubs[-1].distance_m:
        out = golf.short_stroke(rng, game.course, p, ball.xy, ball.lie, game.pin, 0.12)
    else:
        line = game.hole.line_from(p.tee)
        station, _ = along(line, ball.xy)
        target = game.pin if club.distance_m > left - 15 else point_at(line, station + club.distance_m)[0]
        out = golf.full_stroke(rng, game.course, p, club.name, ball.xy, ball.lie, target, game.day)
    ball.xy, ball.lie = out.end, out.lie
    if ball.lie == "green" and not game.hole.green.intersects(Point(ball.xy)):
        ball.lie = "rough"  # the green of another hole
    if out.lie in ("penalty_area", "out_of_bounds"):
        back = out.entry + unit(ball.last - out.end) * 2 if out.entry is not None else None
        ball.xy = back if back is not None else out.end + unit(game.pin - out.end) * 20
        ball.lie, ball.strokes = "rough", ball.strokes + 1
        ball.free_at = game.walker.t + float(rng.uniform(20, 80))
    ball.done = ball.strokes > game.hole.par + 5
