"""Another way to route a nine: hole by hole in any direction, never too near another hole."""

from __future__ import annotations

import numpy as np
from shapely import LineString, Point, union_all

from tests.simulator.geometry import Array, rotate

__all__ = ["wander_nine"]


def wander_nine(
    rng: np.random.Generator, side: float, lengths: list[float], pars: list[int], others: list[Array]
) -> list[Array] | None:
    """
    Route nine holes from the clubhouse and back; None where chance found no way.

    Lines of different holes stay 45 m apart, but for the next tee, which lies
    30 to 90 m from the green before it.
    """
    for _ in range(40):
        lines = _attempt(rng, side, lengths, pars, others)
        if lines is not None:
            return lines
    return None


def _attempt(
    rng: np.random.Generator, side: float, lengths: list[float], pars: list[int], others: list[Array]
) -> list[Array] | None:
    taken = [LineString(o) for o in others]
    lines: list[Array] = []
    place = np.array([side * rng.uniform(30, 55), rng.uniform(0, 25)])
    for i, (length, par) in enumerate(zip(lengths, pars, strict=True)):
        left = sum(lengths[i + 1 :])
        older = union_all(taken[: len(taken) - 1] if lines else taken) if taken else None
        found: list[tuple[float, Array]] = []
        for _ in range(50):
            tee = place if i == 0 else place + rng.uniform(32, 85) * _heading(rng.uniform(0, 2 * np.pi))
            line = _line(rng, tee, length, par)
            end = line[-1]
            if not _inside(end, side) or not _inside(tee, side):
                continue
            if np.hypot(*end) > (150.0 if i == 8 else left * 0.8 + 120):
                continue
            drawn = LineString(line)
            away = older.distance(drawn) if older is not None else 60.0
            if away < 45.0:
                continue
            if lines and not _clear_of_last(drawn, taken[-1]):
                continue
            found.append((away if i > 0 else rng.uniform(45, 80), line))
            if len(found) == 4:
                break
        if not found:
            return None
        # side by side rather than far apart, as on most land
        lines.append(min(found, key=lambda f: f[0])[1])
        taken.append(LineString(lines[-1]))
        place = lines[-1][-1]
    return lines


def _clear_of_last(drawn: LineString, last: LineString) -> bool:
    """Tell whether a hole keeps clear of the one before, the walk between them aside."""
    if drawn.distance(Point(last.coords[-1])) < 28.0:
        return False
    later = LineString([drawn.interpolate(45.0), drawn.interpolate(drawn.length)])
    earlier = LineString([last.interpolate(0.0), last.interpolate(max(1.0, last.length - 45.0))])
    return later.distance(last) > 40.0 and earlier.distance(drawn) > 40.0


def _inside(xy: Array, side: float) -> bool:
    return bool(
        side * xy[0] > 12
        and -120 < xy[1] < 900
        and abs(xy[0]) < 800
        and not (side * xy[0] < 70 and xy[1] < 0)
    )


def _heading(angle: float) -> Array:
    return np.array([np.cos(angle), np.sin(angle)])


def _line(rng: np.random.Generator, tee: Array, length: float, par: int) -> Array:
    turn = rng.uniform(0, 2 * np.pi)
    if par == 3 or rng.random() < 0.3:
        line = np.array([[0.0, 0.0], [length, 0.0]])
    else:
        corner = rng.uniform(0.45, 0.72)
        bend = np.radians(rng.choice([-1, 1]) * rng.uniform(4, 38 if rng.random() < 0.4 else 18))
        mid = np.array([corner * length, 0.0])
        line = np.array([[0.0, 0.0], mid, mid + (1 - corner) * length * _heading(bend)])
    return tee + rotate(line, turn)
