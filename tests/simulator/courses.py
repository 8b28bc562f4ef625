"""Invented golf courses from a seed: metric geometry, OpenStreetMap tags, scorecard."""

from __future__ import annotations

import csv
import itertools
import json
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from shapely import LineString, Point, Polygon, STRtree, convex_hull, get_coordinates, union_all

from tests.simulator.geometry import (
    Array,
    Plane,
    blob,
    line_length,
    rotate,
)
from tests.simulator.landscape import (
    InventedHole,
    Shape,
    draw_bunkers,
    draw_fairway,
    draw_green,
    draw_out_of_bounds,
    draw_paths,
    draw_tees,
    draw_water,
    home_places,
    other_tee,
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
    home = {k: rotate(np.array(v) + np.array([0.0, below]), turn) for k, v in home_places(rng).items()}
    lines = [rotate(line, turn) for line in lines]
    greens = [draw_green(rng, line) for line in lines]
    if loops == 2:
        lines += [other_tee(rng, line) for line in lines]
        pars, greens = pars * 2, greens * 2
    indexes = stroke_indexes(rng, [line_length(line) for line in lines], pars)
    shapes: list[Shape] = []
    made: list[InventedHole] = []
    for i, (line, par, green) in enumerate(zip(lines, pars, greens, strict=True)):
        number = i + 1
        tees, tee_shapes = draw_tees(rng, line, number)
        middle = np.array(green.centroid.coords[0])
        made.append(InventedHole(number, par, indexes[i], np.vstack([line[:-1], middle]), tees, green))
        shapes += tee_shapes
        if i < holes:
            shapes.append(Shape("green", green, number))
            shapes += draw_fairway(rng, line, par, number)
            shapes += draw_bunkers(rng, line, green, par, number)
    shapes += draw_water(rng, made, home)
    core = convex_hull(union_all([s.outline for s in shapes] + [Point(p).buffer(40) for p in home.values()]))
    outline = Polygon(core.buffer(rng.uniform(25, 45), quad_segs=4).simplify(2.0).exterior)
    shapes += draw_out_of_bounds(rng, made, outline)
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
        paths=draw_paths(rng, made),
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
