"""A hole with zones drawn on it: borders and numbers, the words stand beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from geo.frame import LocalFrame

__all__ = ["ZoneDrawing", "draw_zones"]

_WIDTH, _TALLEST, _EDGE = 240.0, 420.0, 8.0
_SHOWN = ("fairway", "water", "water_yellow", "water_red", "bunker", "tee", "green", "out_of_bounds")
# Lines are drawn as coarse as this [px].
_COARSE = 0.5


@dataclass
class ZoneDrawing:
    """
    A hole with its zones, ready for the template.

    Attributes
    ----------
    hole : int
        Its number.
    width, height : float
        Size of the picture [px].
    ground : list of tuple
        Style and path of what lies on the hole.
    zones : list of dict
        ``path``, ``x``, ``y`` and ``number`` of each zone.
    """

    hole: int
    width: float
    height: float
    ground: list[tuple[str, str]] = field(default_factory=list)
    zones: list[dict[str, Any]] = field(default_factory=list)


def draw_zones(hole: int, zones: gpd.GeoDataFrame, shapes: gpd.GeoDataFrame, line: Any) -> ZoneDrawing | None:
    """
    Draw the zones of a hole, the way from tee to green going up.

    Parameters
    ----------
    hole : int
        Its number.
    zones : geopandas.GeoDataFrame
        Its zones in the order of their numbers, with ``mark_lon_deg``,
        ``mark_lat_deg`` and geometry, WGS 84.
    shapes : geopandas.GeoDataFrame
        As in `reports.tables.SHAPES`.
    line : shapely.LineString or None
        Its line of play, WGS 84.

    Returns
    -------
    ZoneDrawing or None
        The picture; None without positions.
    """
    if line is None or not len(zones):
        return None
    ends = shapely.get_coordinates(line)[[0, -1]]
    frame = LocalFrame.around(*ends.T)
    start, end = shapely.get_coordinates(frame.geometry_to_metres(line))[[0, -1]]
    turn = math.atan2(end[0] - start[0], end[1] - start[1])
    cos, sin = math.cos(turn), math.sin(turn)
    matrix = np.array([[cos, -sin], [sin, cos]])

    def turned(geometries: Sequence[Any]) -> Any:
        metres = frame.geometry_to_metres(np.asarray(geometries, dtype=object))
        return shapely.transform(metres, lambda xy: xy @ matrix.T)

    areas = turned(zones.geometry.to_numpy())
    seen = np.vstack([shapely.get_coordinates(areas), np.array([start, end]) @ matrix.T])
    low, high = seen.min(axis=0) - 5.0, seen.max(axis=0) + 5.0
    scale = min((_WIDTH - 2 * _EDGE) / (high[0] - low[0]), (_TALLEST - 2 * _EDGE) / (high[1] - low[1]))
    drawing = ZoneDrawing(
        hole,
        round((high[0] - low[0]) * scale + 2 * _EDGE, 1),
        round((high[1] - low[1]) * scale + 2 * _EDGE, 1),
    )

    def pixels(xy: Any) -> Any:
        return np.column_stack([_EDGE + (xy[:, 0] - low[0]) * scale, _EDGE + (high[1] - xy[:, 1]) * scale])

    window = shapely.box(*low, *high)
    known = shapes[shapes["kind"].isin(_SHOWN) & shapes.geometry.notna()]
    order = sorted(range(len(known)), key=lambda number: _SHOWN.index(known["kind"].iloc[number]))
    ground = shapely.make_valid(turned(known.geometry.to_numpy())) if len(known) else []
    for number in order:
        if ground[number].intersects(window):
            path = _path(ground[number].intersection(window), pixels)
            if path:
                drawing.ground.append((f"g-{known['kind'].iloc[number]}", path))
    marks = turned(shapely.points(zones["mark_lon_deg"], zones["mark_lat_deg"]))
    for number, (area, mark) in enumerate(zip(areas, marks, strict=True), start=1):
        x, y = pixels(shapely.get_coordinates(mark))[0]
        drawing.zones.append(
            {"path": _path(area, pixels), "x": round(float(x), 1), "y": round(float(y), 1), "number": number}
        )
    return drawing


def _path(shape: Any, pixels: Any) -> str:
    parts = []
    for polygon in shapely.get_parts(shape):
        if polygon.geom_type != "Polygon":
            continue
        for ring in (polygon.exterior, *polygon.interiors):
            flat = shapely.LineString(pixels(shapely.get_coordinates(ring))).simplify(_COARSE)
            points = shapely.get_coordinates(flat)[:-1].round(1)
            parts.append("M" + "L".join(f"{x:g} {y:g}" for x, y in points) + "z")
    return "".join(parts)
