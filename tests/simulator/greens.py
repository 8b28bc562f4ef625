"""On and around the green: the bag parked, balls marked, putts, the way off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.simulator import golf
from tests.simulator.moves import address, fetch_bag, go, spot_near
from tests.simulator.truth import Stroke

if TYPE_CHECKING:
    from tests.simulator.play import Game

__all__ = ["after_putt", "arrive_on_green", "leave_green", "park_at_green", "partner_putt"]


def park_at_green(game: Game) -> None:
    """Leave the bag beside the green, more often than not on the side of the next tee."""
    w, rng = game.walker, game.rng
    fetch_bag(w)
    toward = game.next_tee if game.next_tee is not None else game.course.clubhouse
    if rng.random() < 0.25:
        toward = w.xy
    radius = float(np.sqrt(game.hole.green.area / np.pi))
    spot = spot_near(rng, game.hole.middle, radius + 2, radius + 12, toward)
    go(w, spot)
    w.park()
    w.hold(float(rng.lognormal(np.log(8.0), 0.5)), "trolley", stroll_m=0.3)
    game.green_ready = True


def arrive_on_green(game: Game) -> None:
    """Park, go to one's ball, mark it, and step aside while others play."""
    w, rng, mine = game.walker, game.rng, game.mine
    if game.green_ready:
        if not mine.done and mine.lie == "green" and np.hypot(*(w.xy - mine.xy)) > 1.5:
            w.walk(spot_near(rng, mine.xy, 0.4, 1.2, w.xy))
            if rng.random() < 0.3:
                w.hold(float(rng.uniform(4, 10)), "mark", stroll_m=0.2)
        return
    park_at_green(game)
    if mine.done or mine.lie != "green":
        w.walk(spot_near(rng, game.pin, 3.0, 9.0))
        return
    w.walk(spot_near(rng, mine.xy, 0.4, 1.2, w.xy))
    if rng.random() < 0.75:
        w.hold(float(rng.uniform(4, 14)), "mark", stroll_m=0.2)
    if any(not b.done for b in game.balls) and rng.random() < 0.6:
        w.walk(spot_near(rng, mine.xy, 2.0, 5.0))


def read_line(game: Game) -> None:
    """Walk round to the far side of the hole and back, as some do for a long putt."""
    w, rng, mine = game.walker, game.rng, game.mine
    if game.left_m() < 2.5 or rng.random() > w.habits.reads_round:
        return
    beyond = game.pin + (game.pin - mine.xy) / game.left_m() * rng.uniform(0.8, 2.5) + rng.normal(0, 0.6, 2)
    w.walk(beyond)
    w.hold(float(rng.uniform(2, 8)), "other", stroll_m=0.2)
    w.walk(spot_near(rng, mine.xy, 0.5, 1.2, w.xy))


def after_putt(game: Game, stroke: Stroke) -> None:
    """See a putt end: holed, conceded, tapped in, picked up, or left for the next turn."""
    w, rng, mine = game.walker, game.rng, game.mine
    end, holed = golf.putt(rng, game.player, mine.xy, game.pin, rough=stroke.lie != "green")
    mine.last, mine.xy = mine.xy, end
    mine.resting = 0.0
    if holed:
        stroke.end, stroke.end_lie, stroke.in_hole, mine.done = end, "holed", True, True
        w.walk(spot_near(rng, game.pin, 0.3, 0.8, w.xy))
        w.hold(float(rng.uniform(2, 5)), "other", stroll_m=0.1)
        return
    mine.lie = game.course.lie(end)
    if mine.lie in ("penalty_area", "out_of_bounds"):  # a putt that would roll in stops on the bank
        mine.lie = "rough"
    stroke.end, stroke.end_lie = end, mine.lie
    if mine.lie != "green":
        mine.visited = bool(np.hypot(*(end - w.xy)) < 1.5)
        return
    left = game.left_m()
    if left < 0.75 and rng.random() < w.habits.concede:
        given = Stroke(
            w.t + 1, stroke.hole, stroke.turn, None, "putt", "putter", "green", end.copy(), game.pin.copy()
        )
        given.end_lie, given.in_hole, given.conceded = "holed", True, True
        game.strokes.append(given)
        mine.strokes, mine.done = mine.strokes + 1, True
    elif mine.strokes >= game.pick_up_at() and left > 0.8:
        stroke.end_lie, mine.done = "picked_up", True
    elif left < 0.8 and rng.random() < 0.75:
        w.walk(spot_near(rng, end, 0.4, 0.8, w.xy))
        time = address(w, end, game.pin, float(rng.uniform(4, 9)), "putt")
        again = Stroke(
            time, stroke.hole, stroke.turn, None, "putt", "putter", "green", end.copy(), end.copy()
        )
        game.strokes.append(again)
        mine.strokes += 1
        after_putt(game, again)


def partner_putt(game: Game, k: int) -> None:
    """Stand by while a partner putts."""
    w, rng, ball = game.walker, game.rng, game.balls[k]
    if not game.green_ready:
        arrive_on_green(game)
    elif rng.random() < 0.3:
        w.walk(spot_near(rng, game.pin, 2.5, 7.0))
    w.hold(float(rng.lognormal(np.log(game.partner_putt_s[k]), 0.4)), "wait", stroll_m=0.4)
    ball.xy, holed = golf.putt(rng, game.partners[k], ball.xy, game.pin)
    ball.strokes += 1
    close = float(np.hypot(*(ball.xy - game.pin))) < 0.6
    ball.done = holed or (close and rng.random() < 0.7) or ball.strokes > game.hole.par + 6
    ball.lie = "green"
    game.last_stroke = w.t


def leave_green(game: Game) -> None:
    """Put the flag back and go to the bag."""
    w, rng = game.walker, game.rng
    if not game.green_ready:
        park_at_green(game)
    elif rng.random() < 0.3:
        w.walk(spot_near(rng, game.pin, 0.4, 0.9, w.xy))
        w.hold(float(rng.uniform(3, 9)), "other", stroll_m=0.2)
    fetch_bag(w)
    if rng.random() < w.habits.card_at_green:
        w.hold(float(rng.lognormal(np.log(14.0), 0.5)), "card", stroll_m=0.3)
