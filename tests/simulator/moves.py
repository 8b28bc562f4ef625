"""How the wearer goes to a ball, stands over it, searches, parks and waits."""

from __future__ import annotations

import numpy as np

from tests.simulator.geometry import Array, unit
from tests.simulator.walker import Walker

__all__ = ["address", "go_to_ball", "leave_ball", "search", "spot_near"]

SEARCH_LIMIT_S = 180.0  # Source: Rules of Golf 2023, 18.2a: three minutes from the start of the search


def spot_near(
    rng: np.random.Generator, xy: Array, low: float, high: float, toward: Array | None = None
) -> Array:
    """Choose a place at some distance from another, roughly in a direction if one is given."""
    if toward is None:
        angle = rng.uniform(0, 2 * np.pi)
    else:
        way = toward - xy
        angle = float(np.arctan2(way[1], way[0])) + rng.normal(0, 0.7)
    return xy + rng.uniform(low, high) * np.array([np.cos(angle), np.sin(angle)])


def go_to_ball(w: Walker, ball: Array, *, drive: bool, bag: bool = True) -> Array | None:
    """Go to a ball, leaving the bag beside it; returns the bag's place if it is away from the ball."""
    rng, habits = w.rng, w.habits
    low, high = habits.bag_beside_m
    distance = float(np.hypot(*(ball - w.xy)))
    if bag and distance > 12 and rng.random() < habits.bag_stop:
        side = w.xy + rng.normal(0, 0.6 * distance, 2)
        park = spot_near(rng, ball, low, high, side)
        if w.course.lie(park) in ("bunker", "penalty_area"):
            park = ball + (w.xy - ball) / distance * min(high, distance * 0.5)
        w.walk(park, speed=float(rng.uniform(3.2, 5.8)) if drive and distance > 25 else None)
        w.hold(float(rng.lognormal(np.log(9.0), 0.5)), "trolley", stroll_m=0.3)
        w.walk(spot_near(rng, ball, 0.6, 1.8, w.xy))
        return park
    w.walk(
        spot_near(rng, ball, 0.7, 2.2, w.xy),
        speed=float(rng.uniform(3.2, 5.8)) if drive and distance > 60 else None,
    )
    return None


def leave_ball(w: Walker, park: Array | None) -> None:
    """Put the club back where the bag stands."""
    if park is not None:
        w.walk(park)
        w.hold(float(w.rng.lognormal(np.log(6.0), 0.5)), "trolley", stroll_m=0.3)


def address(w: Walker, ball: Array, target: Array, dwell_s: float, kind: str) -> float:
    """Stand over a ball and strike it `dwell_s` after coming to it; returns the time of the stroke."""
    rng, habits = w.rng, w.habits
    began = w.t
    line = unit(target - ball)
    left = np.array([-line[1], line[0]])
    stance = ball + left * rng.uniform(0.5, 0.9) + line * rng.normal(0, 0.12)
    strike_at = began + dwell_s
    settle = float(rng.uniform(3.5, 9.0)) if kind != "putt" else float(rng.uniform(3.0, 8.0))
    if kind in ("full", "part") and rng.random() < habits.behind_ball:
        w.step(ball - line * rng.uniform(1.5, 3.5))
        w.fidget(min(float(rng.uniform(2, 6)), max(0.0, strike_at - settle - w.t)), 0.2)
    for _ in range(int(rng.poisson(habits.practice_swings * (0.6 if kind == "putt" else 1.0)))):
        if w.t + settle + 4 > strike_at:
            break
        w.step(stance + rng.normal(0, 1, 2) * habits.practice_step_m * (0.4 if kind == "putt" else 0.75))
        w.fidget(float(rng.uniform(2.0, 5.0)), 0.12)
    w.fidget(max(0.0, strike_at - settle - w.t - 1.5), 0.3)
    w.step(stance)
    w.fidget(max(1.5, strike_at - w.t), 0.06)
    stroke_time = w.t
    w.fidget(float(rng.lognormal(np.log(habits.watch_s * (0.6 if kind == "putt" else 1.0)), 0.5)), 0.15)
    w.note(began, stance, "putt" if kind == "putt" else "shot")
    return stroke_time


def search(w: Walker, centre: Array, seconds: float, radius_m: float) -> None:
    """Look for a ball: slow short walks with halts, three minutes at most."""
    rng = w.rng
    began, until = w.t, w.t + min(seconds, SEARCH_LIMIT_S)
    while w.t < until:
        to = centre + rng.normal(0, radius_m * 0.6, 2)
        moved = float(np.hypot(*(to - w.xy)))
        speed = float(rng.uniform(0.5, 1.0))
        if w.t + moved / speed > until:
            to = w.xy + (to - w.xy) * max(0.0, (until - w.t) * speed / max(moved, 0.01))
            w.walk(to, speed=speed, straight=True)
            w.fidget(max(0.0, until - w.t), 0.2)
            break
        w.walk(to, speed=speed, straight=True)
        w.fidget(min(float(rng.exponential(5.0)), until - w.t), 0.2)
    w.note(began, centre, "search")
