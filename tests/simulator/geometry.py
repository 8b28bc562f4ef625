"""Small metric geometry of the simulator: outlines, corridors, points along a line."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from shapely import Polygon, make_valid
from shapely.geometry import MultiPolygon

Array = NDArray[np.float64]

__all__ = [
    "Array",
    "Plane",
    "along",
    "blob",
    "corridor",
    "line_length",
    "point_at",
    "rotate",
    "rounded",
    "unit",
]


class Plane:
    """
    Metres east and north of one place, kept apart from the project's own frame on purpose.

    The simulator must not share a mistake with what it is used to measure.
    """

    def __init__(self, lon_deg: float, lat_deg: float) -> None:
        self.lon_deg, self.lat_deg = lon_deg, lat_deg
        local = CRS.from_proj4(f"+proj=aeqd +lat_0={lat_deg} +lon_0={lon_deg} +ellps=WGS84 +units=m")
        self._forward = Transformer.from_crs("EPSG:4326", local, always_xy=True)
        self._back = Transformer.from_crs(local, "EPSG:4326", always_xy=True)

    def to_degrees(self, xy: Array) -> Array:
        """Turn (n, 2) metres into (n, 2) longitude and latitude."""
        xy = np.asarray(xy, dtype=float)
        lon, lat = self._back.transform(xy[..., 0], xy[..., 1])
        return np.stack([np.asarray(lon), np.asarray(lat)], axis=-1)

    def to_metres(self, lonlat: Array) -> Array:
        """Turn (n, 2) longitude and latitude into (n, 2) metres."""
        lonlat = np.asarray(lonlat, dtype=float)
        east, north = self._forward.transform(lonlat[..., 0], lonlat[..., 1])
        return np.stack([np.asarray(east), np.asarray(north)], axis=-1)


def unit(vector: Array) -> Array:
    """Scale a vector to length one; a zero vector becomes north."""
    length = float(np.hypot(vector[0], vector[1]))
    return vector / length if length > 1e-9 else np.array([0.0, 1.0])


def rotate(xy: Array, angle_rad: float) -> Array:
    """Turn points anticlockwise about the origin."""
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    return np.asarray(xy) @ np.array([[cos, sin], [-sin, cos]])


def line_length(line: Array) -> float:
    """Length of a polyline."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def along(line: Array, xy: Array) -> tuple[float, float]:
    """Station of the nearest place on a polyline, and the distance from it, positive to the right."""
    best = (0.0, np.inf)
    station = 0.0
    for a, b in itertools.pairwise(line):
        leg = b - a
        length = float(np.hypot(*leg))
        t = float(np.clip((xy - a) @ leg / length**2, 0.0, 1.0))
        off = xy - (a + t * leg)
        distance = float(np.hypot(*off))
        if distance < abs(best[1]):
            side = np.sign(leg[1] * off[0] - leg[0] * off[1]) or 1.0
            best = (station + t * length, float(side) * distance)
        station += length
    return best


def point_at(line: Array, station: float) -> tuple[Array, Array]:
    """Place and direction at a station along a polyline, straight on beyond its ends."""
    lengths = np.hypot(*np.diff(line, axis=0).T)
    ends = np.cumsum(lengths)
    i = int(np.clip(np.searchsorted(ends, station, side="right"), 0, len(lengths) - 1))
    direction = (line[i + 1] - line[i]) / lengths[i]
    before = ends[i] - lengths[i]
    return line[i] + (station - before) * direction, direction


def rounded(line: Array, turns: int = 3) -> Array:
    """Round the corners of a polyline (Chaikin's corner cutting), ends kept."""
    for _ in range(turns):
        if len(line) < 3:
            return line
        cut = np.empty((2 * (len(line) - 1), 2))
        cut[0::2] = 0.75 * line[:-1] + 0.25 * line[1:]
        cut[1::2] = 0.25 * line[:-1] + 0.75 * line[1:]
        line = np.vstack([line[:1], cut[1:-1], line[-1:]])
    return line


def blob(
    rng: np.random.Generator,
    centre: Array,
    long_m: float,
    short_m: float,
    angle_rad: float,
    *,
    rough: float = 0.15,
    corners: int = 24,
) -> Polygon:
    """Draw an irregular rounded outline: a bumpy ellipse with the given half axes."""
    theta = np.linspace(0.0, 2 * np.pi, corners, endpoint=False)
    radius = np.ones(corners)
    for k in range(2, 6):
        radius += rough * rng.normal() * 1.4 / k * np.cos(k * theta + rng.uniform(0, 2 * np.pi))
    radius = np.clip(radius, 0.55, 1.6)
    points = np.column_stack([long_m * radius * np.cos(theta), short_m * radius * np.sin(theta)])
    return clean_polygon(Polygon(centre + rotate(points, angle_rad)))


def corridor(
    rng: np.random.Generator,
    line: Array,
    start: float,
    end: float,
    half_width: float,
    *,
    wobble: float = 0.25,
) -> Polygon:
    """Draw a strip along a line whose edges wander and whose ends are round."""
    smooth = rounded(line)
    n = max(6, int((end - start) / 12.0))
    stations = np.linspace(start, end, n)
    taper = np.sin(np.pi * np.clip((np.arange(n) + 0.6) / 3.0, 0, 0.5)) * np.sin(
        np.pi * np.clip((n - 0.4 - np.arange(n)) / 3.0, 0, 0.5)
    )
    sides = []
    for sign in (1.0, -1.0):
        wave = np.zeros(n)
        for k in range(1, 4):
            wave += rng.normal() / k * np.cos(k * np.pi * np.arange(n) / n * 1.7 + rng.uniform(0, 2 * np.pi))
        width = half_width * np.clip(1 + wobble * wave, 0.55, 1.7) * np.maximum(taper, 0.25)
        edge = []
        for station, w in zip(stations, width, strict=True):
            place, direction = point_at(smooth, float(station))
            edge.append(place + sign * w * np.array([direction[1], -direction[0]]))
        sides.append(np.array(edge))
    return clean_polygon(Polygon(np.vstack([sides[0], sides[1][::-1]])))


def clean_polygon(shape: Polygon) -> Polygon:
    """Return one valid polygon: the largest part where an outline crosses itself."""
    if not shape.is_valid:
        fixed = make_valid(shape)
        parts = [p for p in getattr(fixed, "geoms", [fixed]) if isinstance(p, Polygon | MultiPolygon)]
        polygons = [q for p in parts for q in getattr(p, "geoms", [p])]
        shape = max(polygons, key=lambda p: p.area)
    return Polygon(shape.exterior)
