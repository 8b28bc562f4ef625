"""What is drawn for the holes of an invented course: greens, tees, fairways, sand, water, boundaries."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point, Polygon, union_all
from shapely.affinity import scale

from tests.simulator.geometry import Array, along, blob, corridor, line_length, point_at, rotate, unit

__all__ = [
    "InventedHole",
    "Shape",
    "draw_bunkers",
    "draw_fairway",
    "draw_green",
    "draw_out_of_bounds",
    "draw_paths",
    "draw_tees",
    "draw_water",
    "home_places",
    "other_tee",
]


@dataclass(frozen=True)
class Shape:
    """One drawn area: what it is, its outline in metres, the hole it was made for, its name."""

    kind: str  # tee, fairway, green, bunker, water_yellow, water_red, out_of_bounds, ...
    outline: Polygon
    hole: int | None = None
    name: str = ""

    @property
    def lie(self) -> str:
        """The lie of a ball inside it."""
        return "penalty_area" if self.kind.startswith("water") else self.kind


@dataclass(frozen=True)
class InventedHole:
    """One hole in metres: the line of play from the longest tee to the middle of the green."""

    number: int
    par: int
    stroke_index: int
    line: Array
    tees: dict[str, Array]  # middle of each tee, metres
    green: Polygon

    @property
    def middle(self) -> Array:
        """Centroid of the green."""
        return np.array(self.green.centroid.coords[0])

    def line_from(self, tee: str) -> Array:
        """Line of play from one of the tees."""
        start = self.tees[tee]
        station, _ = along(self.line, start)
        rest = [p for p in self.line[1:] if along(self.line, p)[0] > station + 30.0 or p is self.line[-1]]
        return np.vstack([start, *rest])

    def length_m(self, tee: str) -> float:
        """Length along the line of play from a tee."""
        return line_length(self.line_from(tee))


def home_places(rng: np.random.Generator) -> dict[str, tuple[float, float]]:
    """Place the clubhouse and its grounds, in lane coordinates."""
    side = rng.choice([-1.0, 1.0])
    return {
        "clubhouse": (rng.uniform(-15, 15), rng.uniform(-75, -55)),
        "practice_green": (side * rng.uniform(25, 45), rng.uniform(-45, -32)),
        "range": (-side * rng.uniform(45, 70), -85.0),
        "range_middle": (-side * rng.uniform(60, 70), -185.0),
        "car_park": (side * rng.uniform(5, 35), rng.uniform(-125, -100)),
    }


def draw_green(rng: np.random.Generator, line: Array) -> Polygon:
    """Draw a green of 350 to 650 m2 at the end of a line."""
    aspect = rng.uniform(0.62, 0.95)
    direction = unit(line[-1] - line[-2])
    angle = float(np.arctan2(direction[1], direction[0])) + rng.normal(0, 0.6)
    shape = blob(rng, line[-1], 14.0, 14.0 * aspect, angle, rough=0.12, corners=26)
    factor = float(np.sqrt(rng.uniform(350, 650) / shape.area))
    return scale(shape, factor, factor)


def draw_tees(rng: np.random.Generator, line: Array, number: int) -> tuple[dict[str, Array], list[Shape]]:
    """Draw three tees and return their middles."""
    length = line_length(line)
    share = {"long": 0.0, "middle": rng.uniform(0.04, 0.09), "short": rng.uniform(0.13, 0.2)}
    tees, shapes = {}, []
    for name, part in share.items():
        place, direction = point_at(line, part * length)
        side = np.array([direction[1], -direction[0]])
        place = place + side * (0.0 if name == "long" else rng.normal(0, 3.0))
        tees[name] = place
        angle = float(np.arctan2(direction[1], direction[0])) + rng.normal(0, 0.05)
        long_half, short_half = rng.uniform(5.0, 9.0), rng.uniform(3.0, 4.5)
        box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [long_half, short_half]
        box = box + rng.normal(0, 0.35, box.shape)
        shapes.append(Shape("tee", Polygon(place + rotate(box, angle)), number, name))
    return tees, shapes


def other_tee(rng: np.random.Generator, line: Array) -> Array:
    """Start a hole from tees beside its own, for a second loop on the same greens."""
    length = line_length(line)
    place, direction = point_at(line, float(rng.uniform(-0.02, 0.08)) * length)
    side = np.array([direction[1], -direction[0]]) * rng.choice([-1, 1]) * rng.uniform(10, 16)
    return np.vstack([place + side, line[1:]])


def draw_paths(rng: np.random.Generator, holes: list[InventedHole]) -> tuple[Array, ...]:
    """Draw cart paths from beside a green to beside the next tee."""
    out = []
    for before, after in itertools.pairwise(holes):
        if rng.random() < 0.6:
            start, end = before.middle, after.tees["middle"]
            way = unit(end - start)
            bend = (start + end) / 2 + np.array([way[1], -way[0]]) * rng.normal(0, 6)
            out.append(np.vstack([start + way * 18, bend, end - way * 4 + rng.normal(0, 3, 2)]))
    return tuple(out)


def draw_fairway(rng: np.random.Generator, line: Array, par: int, number: int) -> list[Shape]:
    """Draw the fairway, in two parts on some long holes."""
    length = line_length(line)
    if par == 3:
        if rng.random() < 0.5:
            return []
        return [Shape("fairway", corridor(rng, line, length * 0.72, length - 14, rng.uniform(9, 13)), number)]
    start = rng.uniform(60, 125)
    half = rng.uniform(12.0, 17.5)
    if par == 5 and rng.random() < 0.35:
        cut = length * rng.uniform(0.45, 0.6)
        first = corridor(rng, line, start, cut - 12, half)
        second = corridor(rng, line, cut + 12, length - rng.uniform(14, 24), half)
        return [Shape("fairway", first, number), Shape("fairway", second, number)]
    return [Shape("fairway", corridor(rng, line, start, length - rng.uniform(12, 24), half), number)]


def draw_bunkers(rng: np.random.Generator, line: Array, green: Polygon, par: int, number: int) -> list[Shape]:
    """Draw sand by the green and along the fairway, clear of the line's tee."""
    out = []
    length = line_length(line)
    middle = np.array(green.centroid.coords[0])
    for _ in range(int(rng.choice([0, 1, 2, 3, 4], p=[0.1, 0.25, 0.32, 0.23, 0.1]))):
        angle = rng.uniform(0, 2 * np.pi)
        short_half = rng.uniform(2.8, 5.2)
        edge = np.array([np.cos(angle), np.sin(angle)])
        reach = float(
            green.exterior.intersection(LineString([middle, middle + 60 * edge])).distance(Point(middle))
        )
        place = middle + (reach + short_half + rng.uniform(1.0, 5.0)) * edge
        sand = blob(rng, place, rng.uniform(5, 9.5), short_half, angle + np.pi / 2, rough=0.2, corners=16)
        if sand.distance(green) > 0.6:
            out.append(sand)
    if par > 3:
        for _ in range(int(rng.choice([0, 1, 2, 3], p=[0.25, 0.3, 0.3, 0.15]))):
            place, direction = point_at(line, rng.uniform(120, max(150, length - 60)))
            side = np.array([direction[1], -direction[0]]) * rng.choice([-1, 1]) * rng.uniform(10, 20)
            angle = float(np.arctan2(direction[1], direction[0]))
            out.append(
                blob(rng, place + side, rng.uniform(5, 10), rng.uniform(3, 5.5), angle, rough=0.2, corners=16)
            )
    clear = LineString(line[:-1]).buffer(3.0) if len(line) > 2 else Point(line[0]).buffer(10.0)
    return [Shape("bunker", sand, number) for sand in out if not sand.intersects(clear)]


def draw_water(rng: np.random.Generator, holes: list[InventedHole], home: dict[str, Array]) -> list[Shape]:
    """Draw ponds across lines of play and beside them, clear of greens and tees."""
    out: list[Shape] = []
    keep_clear = union_all(
        [h.green.buffer(5) for h in holes]
        + [Point(p).buffer(12) for h in holes for p in h.tees.values()]
        + [Point(p).buffer(25) for p in home.values()]
    )
    lines = [LineString(h.line) for h in holes]
    wanted = round(len(holes) / 18 * rng.integers(4, 8))
    for _ in range(80):
        if len(out) >= wanted:
            break
        i = int(rng.integers(len(holes)))
        length = line_length(holes[i].line)
        others = union_all([line.buffer(9) for j, line in enumerate(lines) if j != i])
        crossing = rng.random() < 0.45
        if crossing:
            station = length - rng.uniform(35, 60) if holes[i].par == 3 else rng.uniform(0.3, 0.8) * length
            place, direction = point_at(holes[i].line, station)
            angle = float(np.arctan2(direction[1], direction[0])) + np.pi / 2 + rng.normal(0, 0.25)
            shape = blob(rng, place, rng.uniform(18, 34), rng.uniform(6, 14), angle)
            kind = "water_yellow" if rng.random() < 0.75 else "water_red"
        else:
            station = rng.uniform(0.3, 0.85) * length
            place, direction = point_at(holes[i].line, station)
            side = np.array([direction[1], -direction[0]]) * rng.choice([-1, 1]) * rng.uniform(24, 36)
            angle = float(np.arctan2(direction[1], direction[0])) + rng.normal(0, 0.12)
            shape = blob(rng, place + side, rng.uniform(25, 75), rng.uniform(4, 9), angle, corners=32)
            kind = "water_red"
        blocked = shape.intersects(keep_clear) or shape.intersects(others)
        blocked = blocked or (not crossing and shape.intersects(lines[i].buffer(12)))
        if not blocked and not any(shape.distance(s.outline) < 15 for s in out):
            out.append(Shape(kind, shape, holes[i].number))
    return out


def draw_out_of_bounds(rng: np.random.Generator, holes: list[InventedHole], outline: Polygon) -> list[Shape]:
    """Draw land beyond the boundary beside the holes at the edge of the course."""
    out = []
    lines = [LineString(h.line) for h in holes]
    for h in holes:
        if rng.random() < 0.35:
            continue
        for sign in (-1.0, 1.0):
            shifted = LineString(h.line).offset_curve(-sign * rng.uniform(38, 50))
            if shifted.is_empty or shifted.geom_type != "LineString":
                continue
            strip = Polygon(shifted.buffer(14, cap_style="flat", quad_segs=4).simplify(0.5).exterior)
            if all(strip.distance(line) > 24 for line in lines) and strip.area > 500:
                edge = outline.exterior.distance(Point(strip.centroid))
                if edge < 95:
                    out.append(Shape("out_of_bounds", strip, h.number))
    return out
