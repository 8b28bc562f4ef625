"""The wearer's true path: walks that sway, stands that fidget, and why each stand was made."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point

from tests.simulator.courses import InventedCourse
from tests.simulator.geometry import Array
from tests.simulator.players import Habits

__all__ = ["Path", "Stand", "Walker"]


@dataclass
class Stand:
    """The wearer stood here from `start` to `end` (seconds since 1970)."""

    start: float
    end: float
    xy: Array
    why: str
    hole: int


@dataclass(frozen=True)
class Path:
    """True positions of the wearer at knots, straight in between."""

    t: Array
    x: Array
    y: Array
    parked: tuple[tuple[float, float, Array], ...] = ()  # from, to, where the bag or buggy stood

    def at(self, times: Array, *, mounted: bool = False) -> Array:
        """Positions of the wearer at any times, or of the bag, trolley or buggy."""
        xy = np.column_stack([np.interp(times, self.t, self.x), np.interp(times, self.t, self.y)])
        for start, end, place in self.parked if mounted else ():
            xy[(times >= start) & (times <= end)] = place
        return xy


class Walker:
    """Moves through a round and remembers where it was, when and why."""

    def __init__(
        self,
        rng: np.random.Generator,
        course: InventedCourse,
        habits: Habits,
        start_time: float,
        xy: Array,
        *,
        drives: bool = False,
    ) -> None:
        self.rng, self.course, self.habits = rng, course, habits
        self.t = start_time
        self.xy = np.asarray(xy, dtype=float)
        self.hole = 0
        self.drives = drives
        self.parked_at: Array | None = None
        self._parked_since = start_time
        self._parked: list[tuple[float, float, Array]] = []
        self._knots: list[tuple[float, float, float]] = [(self.t, float(self.xy[0]), float(self.xy[1]))]
        self.stands: list[Stand] = []

    def path(self) -> Path:
        """Return the path so far."""
        knots = np.array(self._knots)
        keep = np.concatenate([[True], np.diff(knots[:, 0]) > 1e-6])
        parked = tuple(self._parked)
        if self.parked_at is not None:
            parked = (*parked, (self._parked_since, self.t, self.parked_at))
        return Path(knots[keep, 0], knots[keep, 1], knots[keep, 2], parked)

    def park(self) -> None:
        """Leave bag, trolley or buggy here."""
        self.unpark()
        self.parked_at, self._parked_since = self.xy.copy(), self.t

    def unpark(self) -> None:
        """Take it along again."""
        if self.parked_at is not None:
            self._parked.append((self._parked_since, self.t, self.parked_at))
        self.parked_at = None

    def _knot(self, t: float, xy: Array) -> None:
        self.t, self.xy = t, np.asarray(xy, dtype=float)
        self._knots.append((t, float(xy[0]), float(xy[1])))

    def walk(self, to: Array, *, speed: float | None = None, straight: bool = False) -> None:
        """Walk to a place, round water, swaying."""
        to = self._dry(np.asarray(to, dtype=float))
        for via in self._round_water(self.xy, to):
            self._dawdle(via, speed)
            self._leg(via, speed, straight)

    def _dawdle(self, to: Array, speed: float | None) -> None:
        """Halt now and then on a long walk: to look, talk, drink or tie a shoe."""
        way = to - self.xy
        length = float(np.hypot(*way))
        if length < 40 or speed is not None or self.rng.random() > self.habits.dawdle * length / 100:
            return
        self._leg(self.xy + way * self.rng.uniform(0.25, 0.8), None, False)
        self.hold(float(self.rng.lognormal(np.log(7.0), 0.6)), "other", stroll_m=0.3)

    def _leg(self, to: Array, speed: float | None, straight: bool) -> None:
        start, rng = self.xy, self.rng
        leg = to - start
        length = float(np.hypot(*leg))
        if length < 0.05:
            return
        base = speed or self.habits.walk_mps * float(np.clip(rng.normal(1.0, 0.07), 0.8, 1.2))
        if length < 6 and speed is None:
            base *= rng.uniform(0.55, 0.85)
        n = max(2, int(np.ceil(length / 4.0)) + 1)
        s = np.linspace(0.0, 1.0, n)
        off = np.zeros(n)
        if not straight and length > 6:
            off += self.habits.sway_m * np.sin(2 * np.pi * (s * length / rng.uniform(18, 60) + rng.random()))
            off += rng.normal(0, 0.02) * length * np.sin(np.pi * s)
            off += rng.normal(0, 0.012) * length * np.sin(2 * np.pi * s)
            off *= np.minimum(1.0, np.minimum(s, 1 - s) * length / 6.0)
        normal = np.array([leg[1], -leg[0]]) / length
        places = start + s[:, None] * leg + off[:, None] * normal
        speeds = base * (1 + 0.07 * np.cumsum(rng.normal(0, 0.35, n - 1)).clip(-2, 2))
        speeds[0] *= 0.75
        speeds[-1] *= 0.75
        steps = np.hypot(*np.diff(places, axis=0).T)
        times = self.t + np.cumsum(steps / speeds)
        self._knots += list(zip(times.tolist(), places[1:, 0].tolist(), places[1:, 1].tolist(), strict=True))
        self.t, self.xy = float(times[-1]), places[-1]

    def hold(self, seconds: float, why: str, *, stroll_m: float = 0.35) -> None:
        """Stand for some seconds, shifting about the place one stands on."""
        if seconds <= 0:
            return
        start, home = self.t, self.xy.copy()
        self.fidget(seconds, stroll_m)
        self.note(start, home, why)

    def note(self, start: float, xy: Array, why: str) -> None:
        """Remember a stand that began at `start` and ends now."""
        self.stands.append(Stand(start, self.t, np.array(xy, dtype=float), why, self.hole))

    def fidget(self, seconds: float, stroll_m: float) -> None:
        """Pass some seconds about one place."""
        rng, home = self.rng, self.xy.copy()
        until = self.t + max(0.0, seconds)
        while self.t < until:
            step = float(rng.exponential(9.0)) + 1.5
            if self.t + step >= until:
                self._knot(until, self.xy)
                break
            self._knot(self.t + step, self.xy)
            target = home + rng.normal(0, stroll_m / 1.5, 2)
            moved = float(np.hypot(*(target - self.xy)))
            needed = max(0.5, moved / 0.7)
            share = min(1.0, (until - self.t) / needed)
            self._knot(self.t + share * needed, self.xy + share * (target - self.xy))

    def stroll(self, to: Array, speed: float, until: float) -> None:
        """Walk straight and slowly, out of water, until a time at most."""
        to = self._dry(np.asarray(to, dtype=float))
        moved = float(np.hypot(*(to - self.xy)))
        if moved < 0.02:
            return
        share = min(1.0, (until - self.t) * speed / moved)
        if share > 0:
            self._knot(self.t + share * moved / speed, self.xy + (to - self.xy) * share)

    def step(self, to: Array) -> None:
        """Take a few slow steps without leaving the stand."""
        to = np.asarray(to, dtype=float)
        moved = float(np.hypot(*(to - self.xy)))
        if moved > 0.02:
            self._knot(self.t + moved / float(self.rng.uniform(0.5, 0.95)), to)

    def _dry(self, to: Array) -> Array:
        """Stay out of water: the nearest bank instead."""
        for shape in self.course.near(Point(to), ("penalty_area",)):
            edge = shape.outline.exterior
            bank = np.array(edge.interpolate(edge.project(Point(to))).coords[0])
            out = bank - to
            length = float(np.hypot(*out))
            return bank + (out / length if length > 0.01 else np.zeros(2)) * self.rng.uniform(0.5, 1.5)
        return to

    def _round_water(self, start: Array, to: Array) -> list[Array]:
        leg = LineString([start, to])
        for shape in self.course.near(leg, ("penalty_area",)):
            ring = shape.outline.buffer(3.0, quad_segs=2).convex_hull
            if (
                leg.intersection(ring).length < 4
                or ring.contains(leg.interpolate(0))
                or ring.contains(leg.interpolate(leg.length))
            ):
                continue
            corners = np.array(ring.exterior.coords)[:-1]
            direction = (to - start) / leg.length
            side = (corners - start) @ np.array([direction[1], -direction[0]])
            options = []
            for chosen in (corners[side > 0], corners[side <= 0]):
                if len(chosen) == 0:
                    continue
                order = chosen[np.argsort((chosen - start) @ direction)]
                hull = _outer(np.vstack([start, order, to]))
                options.append((float(np.hypot(*np.diff(hull, axis=0).T).sum()), hull))
            length, hull = min(options, key=lambda o: o[0])
            if length - leg.length < 60:  # a longer way round would have a bridge
                return [*list(hull[1:-1]), to]
        return [to]


def _outer(points: Array) -> Array:
    """Keep the points of a sideways ordered chain that bulge outwards, ends kept."""
    side = 1.0
    mid = points[1:-1].mean(axis=0) - points[0]
    leg = points[-1] - points[0]
    side = np.sign(leg[0] * mid[1] - leg[1] * mid[0]) or 1.0
    out: list[Array] = []
    for p in points:
        while len(out) >= 2:
            a, b = out[-1] - out[-2], p - out[-1]
            if side * (a[0] * b[1] - a[1] * b[0]) < 0:
                break
            out.pop()
        out.append(p)
    return np.array(out)
