"""How the wearer goes to a ball, stands over it, searches, parks and waits."""

from __future__ import annotations

import numpy as np

from tests.simulator.geometry import Array, unit
from tests.simulator.walker import Walker

__all__ = ["SEARCH_LIMIT_S", "address", "fetch_bag", "go", "go_to_ball", "search", "spot_near"]

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


def go(w: Walker, to: Array) -> None:
    """Walk, or drive where a buggy is at hand and the way is long enough."""
    distance = float(np.hypot(*(to - w.xy)))
    drive = w.drives and w.parked_at is None and distance > 35
    w.walk(to, speed=float(w.rng.uniform(3.0, 5.8)) if drive else None)


def fetch_bag(w: Walker, *, stop: float = 0.8) -> None:
    """Go back to the bag, trolley or buggy and put the club away."""
    if w.parked_at is None:
        return
    w.walk(w.parked_at)
    w.unpark()
    if w.rng.random() < stop:
        w.hold(float(w.rng.lognormal(np.log(6.0), 0.5)), "trolley", stroll_m=0.3)


def go_to_ball(w: Walker, ball: Array, *, bag: bool = True) -> None:
    """Go to a ball and leave the bag beside it, unless the bag already stands by the green."""
    rng, habits = w.rng, w.habits
    low, high = habits.bag_beside_m
    if bag and w.parked_at is not None and np.hypot(*(ball - w.parked_at)) > 20:
        fetch_bag(w)
    distance = float(np.hypot(*(ball - w.xy)))
    if bag and w.parked_at is None and distance > 12 and rng.random() < habits.bag_stop:
        # beside the way one came, at times beyond the ball
        side = w.xy + rng.normal(0, 0.6 * distance, 2)
        park = spot_near(rng, ball, low, min(high, max(low, 0.6 * distance)), side)
        if w.course.lie(park) in ("bunker", "penalty_area", "green"):
            park = ball + (w.xy - ball) / distance * min(high, distance * 0.5)
        go(w, park)
        w.park()
        w.hold(float(rng.lognormal(np.log(9.0), 0.5)), "trolley", stroll_m=0.3)
    go(w, spot_near(rng, ball, 0.6, 2.0, w.xy))


def address(w: Walker, ball: Array, target: Array, dwell_s: float, kind: str) -> float:
    """Stand over a ball and strike it `dwell_s` after coming to it; returns the time of the stroke."""
    rng, habits = w.rng, w.habits
    began = w.t
    line = unit(target - ball)
    body = np.array([-line[1], line[0]]) * (-1.0 if habits.left_handed else 1.0)
    stance = ball + body * rng.uniform(0.45, 0.95) + line * rng.normal(0, 0.15)
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
    watch = habits.watch_s * (0.6 if kind == "putt" else 1.0)
    w.fidget(float(rng.lognormal(np.log(watch), 0.5)), 0.15)
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
            w.stroll(to, speed, until)
            break
        w.stroll(to, speed, until)
        w.fidget(min(float(rng.exponential(5.0)), until - w.t), 0.2)
    w.fidget(max(0.0, until - w.t), 0.2)
    w.note(began, centre, "search")
