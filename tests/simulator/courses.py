"""Invented golf courses from a seed: metric geometry, OpenStreetMap tags, scorecard."""

from __future__ import annotations

import csv
import itertools
import json
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from shapely import LineString, Point, Polygon, STRtree, convex_hull, get_coordinates, union_all
from shapely.affinity import scale

from tests.simulator.geometry import (
    Array,
    Plane,
    along,
    blob,
    corridor,
    line_length,
    point_at,
    rotate,
    unit,
)
from tests.simulator.routing import route_holes

__all__ = ["InventedCourse", "InventedHole", "Shape", "invented_course"]

# Highest first: a ball that lies in several shapes is in the first of these.
LIES = ("out_of_bounds", "penalty_area", "green", "bunker", "tee", "fairway")

# Made-up words; no real place.
_FIRST = (
    "Tarrowmere", "Quillfen", "Emberhatch", "Ousenby", "Wetherlow", "Corranwick", "Marrowholt", "Pelletsea",
)  # fmt: skip
_LAST = ("Links", "Down", "Moor", "Combe", "Strand", "Heath")


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


@dataclass(frozen=True)
class InventedCourse:
    """A whole course in the metres of its own plane."""

    seed: int
    name: str
    plane: Plane
    holes: tuple[InventedHole, ...]
    shapes: tuple[Shape, ...]
    paths: tuple[Array, ...]  # cart paths from greens to the next tees
    outline: Polygon
    clubhouse: Array
    practice_green: Array
    driving_range: Array
    car_park: Array
    _tree: STRtree = field(repr=False, compare=False)

    def hole(self, number: int) -> InventedHole:
        """Return a hole by its number."""
        return self.holes[number - 1]

    @property
    def tee_names(self) -> tuple[str, ...]:
        """Names of the tees, longest first."""
        return tuple(self.holes[0].tees)

    def lie(self, xy: Array) -> str:
        """Say what a ball at a place lies in; outside the outline is out of bounds."""
        found = {self.shapes[i].lie for i in self._tree.query(Point(xy), predicate="intersects")}
        for lie in LIES:
            if lie in found:
                return lie
        return "rough" if self.outline.intersects(Point(xy)) else "out_of_bounds"

    def near(self, shape, lies: tuple[str, ...]) -> list[Shape]:
        """Return the shapes of some lies that a geometry touches."""
        hits = [self.shapes[i] for i in sorted(self._tree.query(shape, predicate="intersects"))]
        return [hit for hit in hits if hit.lie in lies]

    def features(self, *, bare: bool = False, pins: bool = False) -> list[dict]:
        """Return GeoJSON features with OpenStreetMap golf tags; bare: hole lines and greens only."""
        out = [] if bare else [self._feature(self.outline, {"leisure": "golf_course", "name": self.name})]
        for hole in self.holes:
            tags = {
                "golf": "hole",
                "ref": str(hole.number),
                "par": str(hole.par),
                "handicap": str(hole.stroke_index),
            }
            out.append(self._feature(LineString(hole.line), tags))
        for shape in self.shapes:
            if bare and shape.kind != "green":
                continue
            tag = {"water_yellow": "water_hazard", "water_red": "lateral_water_hazard"}.get(
                shape.kind, shape.kind
            )
            tags = {"golf": tag}
            if shape.name:
                tags["name"] = shape.name
            out.append(self._feature(shape.outline, tags))
        if not bare:
            out += [self._feature(LineString(path), {"golf": "cartpath"}) for path in self.paths]
        if pins:
            out += [self._feature(Point(h.middle), {"golf": "pin", "ref": str(h.number)}) for h in self.holes]
        return out

    def write_geojson(self, path: Path, *, bare: bool = False, pins: bool = False) -> None:
        """Write course.geojson, a feature a line."""
        features = self.features(bare=bare, pins=pins)
        lines = ",\n".join(json.dumps(f, separators=(",", ":")) for f in features)
        path.write_text('{"type":"FeatureCollection","features":[\n' + lines + "\n]}\n", encoding="utf-8")

    def write_scorecard(self, path: Path, tee: str, *, units: str = "m", positions: bool = False) -> None:
        """Write scorecard.csv of one tee."""
        per = 0.9144 if units == "yd" else 1.0
        header = ["hole", "par", "stroke_index", f"length_{units}"]
        if positions:
            header += ["tee_lat", "tee_lon", "green_lat", "green_lon"]
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(header)
            for h in self.holes:
                row: list = [h.number, h.par, h.stroke_index, round(h.length_m(tee) / per)]
                if positions:
                    a, b = self.plane.to_degrees(np.array([h.tees[tee], h.middle]))
                    row += [f"{a[1]:.7f}", f"{a[0]:.7f}", f"{b[1]:.7f}", f"{b[0]:.7f}"]
                writer.writerow(row)

    def _feature(self, shape, tags: dict[str, str]) -> dict:
        xy = get_coordinates(shape)
        degrees = [[round(float(a), 7), round(float(b), 7)] for a, b in self.plane.to_degrees(xy)]
        if shape.geom_type == "Polygon":
            if not shape.exterior.is_ccw:
                degrees.reverse()
            geometry = {"type": "Polygon", "coordinates": [degrees]}
        elif shape.geom_type == "LineString":
            geometry = {"type": "LineString", "coordinates": degrees}
        else:
            geometry = {"type": "Point", "coordinates": degrees[0]}
        return {"type": "Feature", "properties": {**tags, "invented": "yes"}, "geometry": geometry}


def invented_course(
    seed: int, *, holes: int = 18, loops: int = 1, lon_deg: float = -31.0, lat_deg: float = 47.0
) -> InventedCourse:
    """
    Invent a course of 9 or 18 holes; the default place is open ocean.

    Two `loops` of nine holes are eighteen holes on nine greens, with tees of
    their own. Everything follows from the seed.
    """
    rng = np.random.default_rng([seed, 0xC0])
    lines, pars = route_holes(rng, holes)
    turn = rng.uniform(0, 2 * np.pi)
    # the clubhouse and its grounds lie below all that is near
    below = min(0.0, *(float(p[1]) for line in lines for p in line if abs(p[0]) < 150))
    home = {k: rotate(np.array(v) + np.array([0.0, below]), turn) for k, v in _homes(rng).items()}
    lines = [rotate(line, turn) for line in lines]
    greens = [_green(rng, line) for line in lines]
    if loops == 2:
        lines += [_other_tee(rng, line) for line in lines]
        pars, greens = pars * 2, greens * 2
    indexes = stroke_indexes(rng, [line_length(line) for line in lines], pars)
    shapes: list[Shape] = []
    made: list[InventedHole] = []
    for i, (line, par, green) in enumerate(zip(lines, pars, greens, strict=True)):
        number = i + 1
        tees, tee_shapes = _tees(rng, line, number)
        middle = np.array(green.centroid.coords[0])
        made.append(InventedHole(number, par, indexes[i], np.vstack([line[:-1], middle]), tees, green))
        shapes += tee_shapes
        if i < holes:
            shapes.append(Shape("green", green, number))
            shapes += _fairway(rng, line, par, number)
            shapes += _bunkers(rng, line, green, par, number)
    shapes += _water(rng, made, home)
    core = convex_hull(union_all([s.outline for s in shapes] + [Point(p).buffer(40) for p in home.values()]))
    outline = Polygon(core.buffer(rng.uniform(25, 45), quad_segs=4).simplify(2.0).exterior)
    shapes += _out_of_bounds(rng, made, outline)
    shapes.append(Shape("clubhouse", blob(rng, home["clubhouse"], 14, 9, turn, rough=0.05), name="Clubhouse"))
    shapes.append(
        Shape("driving_range", blob(rng, home["range_middle"], 95, 28, turn + np.pi / 2, rough=0.04))
    )
    name = f"{rng.choice(_FIRST)} {rng.choice(_LAST)}"
    return InventedCourse(
        seed=seed,
        name=name,
        plane=Plane(lon_deg, lat_deg),
        holes=tuple(made),
        shapes=tuple(shapes),
        paths=_paths(rng, made),
        outline=outline,
        clubhouse=home["clubhouse"],
        practice_green=home["practice_green"],
        driving_range=home["range"],
        car_park=home["car_park"],
        _tree=STRtree([s.outline for s in shapes]),
    )


def stroke_indexes(rng: np.random.Generator, lengths: list[float], pars: list[int]) -> list[int]:
    """
    Share out stroke indexes as the Rules of Handicapping, Appendix E, recommend.

    Odd ones on one nine and even on the other, 1 and 2 in a middle triad, no
    two of the six lowest in a row, the harder holes lower.
    """
    n = len(pars)
    hard = np.array(
        [length / {3: 165.0, 4: 335.0, 5: 450.0}[par] for length, par in zip(lengths, pars, strict=True)]
    )
    best: tuple[float, list[int]] | None = None
    first_odd = bool(rng.integers(2)) if n == 18 else True
    for _ in range(4000):
        out = [0] * n
        for nine in range(n // 9):
            offset = 9 * nine
            order = np.argsort(-(hard[offset : offset + 9] + rng.normal(0, 0.35, 9)))
            odd = first_odd if nine == 0 else not first_odd
            numbers = range(1, 18, 2) if odd else range(2, 19, 2)
            if n == 9:
                numbers = range(1, 10)
            for rank, number in zip(order, numbers, strict=True):
                out[offset + int(rank)] = number
        if not follows_appendix_e(out):
            continue
        cost = float(np.corrcoef(out, hard)[0, 1])
        if best is None or cost < best[0]:
            best = (cost, out)
            if cost < -0.5:
                break
    if best is None:  # never met; a course without a layout is a fault of the simulator
        raise RuntimeError("no stroke index layout found")
    return best[1]


def follows_appendix_e(indexes: list[int]) -> bool:
    """Tell whether 1 and 2 lie in a middle triad and no two indexes up to 6 are in a row."""
    low = [i <= (6 if len(indexes) == 18 else 3) for i in indexes]
    if any(a and b for a, b in itertools.pairwise(low)):
        return False
    middles = [place for place, index in enumerate(indexes) if index <= 2]
    return (
        all(place % 9 in (3, 4, 5) for place in middles)
        if len(indexes) == 18
        else indexes.index(1) in (3, 4, 5)
    )


def _homes(rng: np.random.Generator) -> dict[str, tuple[float, float]]:
    side = rng.choice([-1.0, 1.0])
    return {
        "clubhouse": (rng.uniform(-15, 15), rng.uniform(-75, -55)),
        "practice_green": (side * rng.uniform(25, 45), rng.uniform(-45, -32)),
        "range": (-side * rng.uniform(45, 70), -85.0),
        "range_middle": (-side * rng.uniform(60, 70), -185.0),
        "car_park": (side * rng.uniform(5, 35), rng.uniform(-125, -100)),
    }


def _green(rng: np.random.Generator, line: Array) -> Polygon:
    aspect = rng.uniform(0.62, 0.95)
    direction = unit(line[-1] - line[-2])
    angle = float(np.arctan2(direction[1], direction[0])) + rng.normal(0, 0.6)
    shape = blob(rng, line[-1], 14.0, 14.0 * aspect, angle, rough=0.12, corners=26)
    factor = float(np.sqrt(rng.uniform(350, 650) / shape.area))
    return scale(shape, factor, factor)


def _tees(rng: np.random.Generator, line: Array, number: int) -> tuple[dict[str, Array], list[Shape]]:
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


def _other_tee(rng: np.random.Generator, line: Array) -> Array:
    """Start a hole from tees beside its own, for a second loop on the same greens."""
    length = line_length(line)
    place, direction = point_at(line, float(rng.uniform(-0.02, 0.08)) * length)
    side = np.array([direction[1], -direction[0]]) * rng.choice([-1, 1]) * rng.uniform(10, 16)
    return np.vstack([place + side, line[1:]])


def _paths(rng: np.random.Generator, holes: list[InventedHole]) -> tuple[Array, ...]:
    """Draw cart paths from beside a green to beside the next tee."""
    out = []
    for before, after in itertools.pairwise(holes):
        if rng.random() < 0.6:
            start, end = before.middle, after.tees["middle"]
            way = unit(end - start)
            bend = (start + end) / 2 + np.array([way[1], -way[0]]) * rng.normal(0, 6)
            out.append(np.vstack([start + way * 18, bend, end - way * 4 + rng.normal(0, 3, 2)]))
    return tuple(out)


def _fairway(rng: np.random.Generator, line: Array, par: int, number: int) -> list[Shape]:
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


def _bunkers(rng: np.random.Generator, line: Array, green: Polygon, par: int, number: int) -> list[Shape]:
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


def _water(rng: np.random.Generator, holes: list[InventedHole], home: dict[str, Array]) -> list[Shape]:
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


def _out_of_bounds(rng: np.random.Generator, holes: list[InventedHole], outline: Polygon) -> list[Shape]:
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
