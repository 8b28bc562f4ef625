"""A simple plan from green to tee, made without the project's planner."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.simulator.courses import InventedCourse
from tests.simulator.geometry import Array, line_length, point_at
from tests.simulator.players import YARD_M, InventedPlayer

__all__ = ["PlannedShot", "make_plan", "regulation_shots", "write_plan"]


@dataclass(frozen=True)
class PlannedShot:
    """One shot of the plan, in the metres of the course's plane."""

    hole: int
    shot: int
    club: str
    role: str
    start: Array
    target: Array
    leave_m: float
    tolerance_m: float

    @property
    def distance_m(self) -> float:
        """Straight distance from start to target."""
        return float(np.hypot(*(self.target - self.start)))


def regulation_shots(par: int, stroke_index: int, received: int) -> int:
    """Shots to the green that leave two putts within the personal par (Rules of Handicapping, App. E)."""
    extra = received // 18 + (1 if stroke_index <= received % 18 else 0)
    return max(1, par + extra - 2)


def make_plan(player: InventedPlayer, course: InventedCourse) -> list[PlannedShot]:
    """Plan each hole: the preferred approach first, the rest shared among the layups before it."""
    out: list[PlannedShot] = []
    for hole in course.holes:
        line = hole.line_from(player.tee)
        length = line_length(line)
        lengths, clubs = _split(
            player, length, regulation_shots(hole.par, hole.stroke_index, player.strokes_received)
        )
        station = 0.0
        for i, (distance, club) in enumerate(zip(lengths, clubs, strict=True)):
            start, _ = point_at(line, station)
            station += distance
            last = i == len(lengths) - 1
            target = hole.middle if last else point_at(line, station)[0]
            leave = float(np.hypot(*(hole.middle - target)))
            role = "approach" if last else "tee" if i == 0 else "layup"
            tolerance = max(10 * YARD_M, player.club(club).spread_long_m)
            out.append(PlannedShot(hole.number, i + 1, club, role, start, target, leave, tolerance))
    return out


def _split(player: InventedPlayer, length: float, shots: int) -> tuple[list[float], list[str]]:
    """Share a hole's length among its shots; as many more as it takes when it cannot be covered."""
    reach = sorted((c for c in player.clubs if not c.avoid), key=lambda c: c.distance_m)
    from_tee = reach[-1].distance_m
    off_ground = max(c.distance_m for c in reach if c.name != "driver")
    if length <= off_ground or (shots == 1 and length <= from_tee):
        return [length], [_nearest(player, length, tee=True)]
    approaches = [
        *player.approaches,
        *((c.name, c.distance_m) for c in reversed(reach) if c.name != "driver"),
    ]
    # all the shots there are time for, else fewer (no layup under 55 m), else more than par allows
    for n in [*range(max(2, shots), 1, -1), *range(max(2, shots) + 1, 10)]:
        for club, distance in approaches:
            rest = length - distance
            if rest < 30 or rest > from_tee + (n - 2) * off_ground:
                continue
            first = min(from_tee, max(rest / (n - 1), rest - (n - 2) * off_ground))
            others = (rest - first) / (n - 2) if n > 2 else 0.0
            if n > 2 and others < 55 and n <= shots:
                continue
            layups = [first] + [others] * (n - 2)
            names = [_nearest(player, d, tee=i == 0) for i, d in enumerate(layups)]
            return [*layups, distance], [*names, club]
    raise RuntimeError("hole cannot be planned")


def _nearest(player: InventedPlayer, distance: float, *, tee: bool) -> str:
    fit = [c for c in player.clubs if not c.avoid and (tee or c.name != "driver")]
    long_enough = [c for c in fit if c.distance_m >= distance - 0.5]
    return min(long_enough or fit, key=lambda c: abs(c.distance_m - distance)).name


def write_plan(plan: list[PlannedShot], course: InventedCourse, path: Path) -> None:
    """Write plan.geojson, a feature a line."""
    features = []
    for p in plan:
        ends = [
            [round(float(a), 7), round(float(b), 7)]
            for a, b in course.plane.to_degrees(np.array([p.start, p.target]))
        ]
        properties = {
            "hole": p.hole, "shot": p.shot, "club": p.club, "role": p.role, "distance_m": round(p.distance_m, 1),
            "leave_m": round(p.leave_m, 1), "tolerance_m": round(p.tolerance_m, 1), "invented": "yes",
        }  # fmt: skip
        geometry = {"type": "LineString", "coordinates": ends}
        features.append({"type": "Feature", "properties": properties, "geometry": geometry})
    lines = ",\n".join(json.dumps(f, separators=(",", ":")) for f in features)
    path.write_text('{"type":"FeatureCollection","features":[\n' + lines + "\n]}\n", encoding="utf-8")
