"""What a stroke does to a ball: good strikes, mishits, hazards, putts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point

from tests.simulator.courses import InventedCourse
from tests.simulator.geometry import Array, unit
from tests.simulator.players import InventedPlayer

__all__ = ["Day", "Outcome", "full_stroke", "one_putt_share", "putt", "short_stroke"]


@dataclass(frozen=True)
class Day:
    """Conditions of one day."""

    firmness: float  # scales roll
    wind_bearing_rad: float  # where the wind blows to, anticlockwise from east
    wind_share: float  # share of the distance it adds or takes

    def factor(self, direction: Array) -> float:
        """Scale of the distance of a stroke played in a direction."""
        return 1 + self.wind_share * float(
            np.cos(np.arctan2(direction[1], direction[0]) - self.wind_bearing_rad)
        )


@dataclass(frozen=True)
class Outcome:
    """Where the ball came to rest; `entry` is where it last crossed the edge of a penalty area."""

    end: Array
    lie: str
    entry: Array | None = None
    lost: bool = False
    mishit: str = ""
    wild: bool = False  # far enough off that a provisional ball is wise


# Loss of distance from a lie: mean and spread. common practice, no source.
_LIE_FACTOR = {
    "rough": (0.92, 0.07),
    "bunker": (0.8, 0.12),
    "penalty_area": (0.7, 0.15),
    "fairway": (1.0, 0.0),
}


def full_stroke(
    rng: np.random.Generator,
    course: InventedCourse,
    player: InventedPlayer,
    club_name: str,
    start: Array,
    lie: str,
    target: Array,
    day: Day,
) -> Outcome:
    """Play a full swing at a target."""
    club = player.club(club_name)
    wish = float(np.hypot(*(target - start)))
    direction = unit(target - start)
    swing = float(np.clip(wish / club.distance_m, 0.85, 1.0))
    factor, factor_sd = _LIE_FACTOR.get(lie, (1.0, 0.0))
    factor = min(1.05, rng.normal(factor, factor_sd))
    mean = club.true_distance_m * swing * factor * day.factor(direction)
    mishit, angle = "", club.true_side_deg * float(rng.standard_t(7)) * 0.85 + player.bias_deg
    share = club.true_mishit_share * (1.35 if lie in ("rough", "bunker") else 1.0)
    roll_share = club.roll_m / club.distance_m * day.firmness
    if rng.random() < share:
        mishit = str(
            rng.choice(["topped", "chunked", "thin", "shanked", "sliced"], p=[0.3, 0.22, 0.23, 0.05, 0.2])
        )
        if mishit == "topped":
            mean *= rng.uniform(0.2, 0.8)
            roll_share = 0.85
        elif mishit == "chunked":
            mean *= rng.uniform(0.2, 0.8)
        elif mishit == "thin":
            mean *= rng.uniform(0.6, 0.92)
            roll_share = min(0.6, roll_share * 3)
        elif mishit == "shanked":
            mean *= rng.uniform(0.3, 0.7)
            angle += rng.uniform(20, 50)
        else:
            mean *= rng.uniform(0.7, 0.95)
            angle += float(rng.choice([-1, 1], p=[0.35, 0.65])) * rng.uniform(8, 22)
    else:
        # a little longer than it is short on good strikes, so that the mean stays
        mean *= 1 + club.true_long_share * float(np.clip(rng.normal(), -2.5, 2.5))
    return _fly(rng, course, start, direction, max(1.0, mean), angle, roll_share, mishit)


def short_stroke(
    rng: np.random.Generator,
    course: InventedCourse,
    player: InventedPlayer,
    start: Array,
    lie: str,
    target: Array,
    mishit_share: float,
) -> Outcome:
    """Play a chip, pitch, part swing or bunker shot at a target."""
    wish = float(np.hypot(*(target - start)))
    direction = unit(target - start)
    if lie == "bunker" and rng.random() < 0.2 * player.touch:
        length = rng.uniform(0.5, 4.0)  # stays in the sand more often than not
        return _fly(rng, course, start, direction, float(length), float(rng.normal(0, 12)), 0.3, "chunked")
    sd = (0.19 if wish > 20 else 0.25) * player.touch * (1.6 if lie == "bunker" else 1.0)
    length = wish * (0.97 + sd * float(rng.normal())) + rng.normal(0, 0.6)
    angle, mishit, roll = float(rng.normal(0, 5.0 * player.touch)), "", 0.25
    if rng.random() < mishit_share:
        if rng.random() < 0.55:
            mishit, length = "chunked", wish * rng.uniform(0.08, 0.6)
        else:
            mishit, length, roll = "thin", wish * rng.uniform(1.25, 1.9) + 3, 0.7
    return _fly(rng, course, start, direction, max(0.4, float(length)), angle, roll, mishit)


def _fly(
    rng: np.random.Generator,
    course: InventedCourse,
    start: Array,
    direction: Array,
    length: float,
    angle_deg: float,
    roll_share: float,
    mishit: str,
) -> Outcome:
    a = -np.radians(angle_deg)
    heading = np.array(
        [
            np.cos(a) * direction[0] - np.sin(a) * direction[1],
            np.sin(a) * direction[0] + np.cos(a) * direction[1],
        ]
    )
    land = start + heading * length * (1 - min(0.9, roll_share))
    rest = start + heading * length
    ground = LineString([land, rest]) if length * roll_share > 0.1 else Point(rest)
    for shape in course.near(ground, ("penalty_area",)):
        wet = shape.outline
        if not wet.intersects(ground) or wet.contains(Point(start)):
            continue
        in_water = np.array(wet.intersection(ground).centroid.coords[0])
        crossing = LineString([start, in_water]).intersection(wet.exterior)
        points = [np.array(p.coords[0]) for p in getattr(crossing, "geoms", [crossing]) if not p.is_empty]
        if not points:
            continue
        entry = max(points, key=lambda p: float(np.hypot(*(p - start))))
        return Outcome(in_water, "penalty_area", entry, False, mishit)
    for shape in course.near(ground, ("bunker",)):
        sand = shape.outline.intersection(ground)
        if sand.is_empty:
            continue
        inside = shape.outline.contains(Point(rest))
        if not inside and rng.random() < 0.35:
            continue
        if not inside:
            rest = np.array(sand.centroid.coords[0])
        return Outcome(rest, "bunker", None, False, mishit)
    lie = course.lie(rest)
    if lie == "tee":
        lie = "rough" if rng.random() < 0.5 else "fairway"
    lost = wild = False
    if lie == "rough" and length > 60:
        near = course.near(Point(rest).buffer(24, quad_segs=2), ("fairway", "green"))
        off = min((s.outline.distance(Point(rest)) for s in near), default=24.0)
        lost = bool(off > 12 and rng.random() < 0.14)
        wild = off > 20
    return Outcome(rest, lie, None, lost, mishit, wild)


# One-putt shares of a 90-shooter by feet (Broadie 2014, as quoted: 3 and 5 ft; the rest from memory).
_PUTT_FEET = np.log([1.0, 2.0, 3.0, 4.0, 5.0, 10.0, 20.0, 30.0, 60.0])
_PUTT_SHARE = np.array([0.995, 0.95, 0.84, 0.65, 0.5, 0.2, 0.06, 0.02, 0.004])


def one_putt_share(distance_m: float, touch: float) -> float:
    """Chance to hole a putt; a touch above 1 holes as if from farther."""
    feet = max(0.3, distance_m / 0.3048 * (0.6 + 0.4 * touch))
    return float(np.interp(np.log(feet), _PUTT_FEET, _PUTT_SHARE))


def putt(
    rng: np.random.Generator, player: InventedPlayer, start: Array, hole: Array, *, rough: bool = False
) -> tuple[Array, bool]:
    """Putt at the hole; returns where the ball stops and whether it is in."""
    distance = float(np.hypot(*(hole - start)))
    if not rough and rng.random() < one_putt_share(distance, player.touch):
        return hole.copy(), True
    direction = unit(hole - start)
    touch = player.touch * (1.5 if rough else 1.0)
    past = rng.normal(0.02, 0.11 * touch) * distance + rng.normal(0.1, 0.25)
    aside = rng.normal(0, 0.045 * touch) * distance + rng.normal(0, 0.08)
    end = hole + direction * past + aside * np.array([direction[1], -direction[0]])
    if float(np.hypot(*(end - hole))) < 0.12:
        end = hole + direction * 0.25
    return end, False
