"""A hole on paper: tee at the bottom, green at the top, what was planned on the left and what was played on the right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from geo.frame import LocalFrame
from reports.maps import simplified_track
from reports.tables import DOUBTFUL_BELOW, SHAPE_KINDS

__all__ = ["DrawingSettings", "HoleDrawing", "HolePainter", "spread_labels"]


@dataclass(frozen=True, slots=True)
class DrawingSettings:
    """Measures of a drawing; common practice, no source."""

    # Width of the whole drawing and of the columns of labels beside the hole [px].
    width: float = 340.0
    gutter: float = 92.0
    # The same without anything played, where no label stands on the right [px].
    bare_gutter: float = 8.0
    # Tallest hole [px]; and the largest scale, so that a short hole is not blown up [px/m].
    tallest: float = 470.0
    largest_scale: float = 3.0
    # Room round what must be seen [m].
    margin_m: float = 12.0
    # A label takes this much height [px].
    label_height: float = 30.0
    # Heading of the columns, and room below [px].
    top: float = 26.0
    bottom: float = 12.0


@dataclass(slots=True)
class HoleDrawing:
    """
    What a template needs to draw one hole; lengths in px, y downwards.

    Parameters
    ----------
    hole : int
        Number of the hole.
    width, height : float
        Size of the drawing.
    left, right : float
        Edges of the picture between the columns of labels.
    north_deg : float
        Direction of north on the drawing, clockwise from up.
    ground, track, planned, played, misses : list
        Class name and path of each shape or line.
    targets, finishes, labels : list of dict
        Marks and the labels beside them.
    pin : tuple of float or None
        Where the hole is.
    """

    hole: int
    width: float
    height: float
    left: float
    right: float
    north_deg: float
    ground: list[tuple[str, str]] = field(default_factory=list)
    track: list[str] = field(default_factory=list)
    planned: list[str] = field(default_factory=list)
    played: list[tuple[str, str]] = field(default_factory=list)
    misses: list[str] = field(default_factory=list)
    targets: list[dict[str, Any]] = field(default_factory=list)
    finishes: list[dict[str, Any]] = field(default_factory=list)
    labels: list[dict[str, Any]] = field(default_factory=list)
    pin: tuple[float, float] | None = None


def spread_labels(wanted: Sequence[float], height: float, low: float, high: float) -> list[float]:
    """
    Move labels apart along one axis, each as little as possible and in their order.

    Parameters
    ----------
    wanted : sequence of float
        Where the middle of each label would be best.
    height : float
        Height of a label.
    low, high : float
        The labels stay between these, as long as there is room.

    Returns
    -------
    list of float
        Where they go, no two closer than their height.

    Examples
    --------
    >>> spread_labels([50.0, 52.0, 90.0], 10.0, 0.0, 100.0)
    [46.0, 56.0, 90.0]
    """
    order = sorted(range(len(wanted)), key=lambda number: wanted[number])
    # Isotonic regression of the wanted places, each less the labels that come before it: neighbours that
    # would overlap move together, as a block, to the mean of what its labels want.
    blocks: list[list[float]] = []
    for rank, number in enumerate(order):
        blocks.append([wanted[number] - rank * height, 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            mean, size = blocks.pop()
            before, count = blocks.pop()
            blocks.append([(mean * size + before * count) / (size + count), size + count])
    places = [mean for mean, size in blocks for _ in range(int(size))]
    highest = high - height / 2.0 - (len(order) - 1) * height
    lowest = min(low + height / 2.0, highest)
    result = [0.0] * len(wanted)
    for rank, number in enumerate(order):
        result[number] = min(max(places[rank], lowest), max(highest, lowest)) + rank * height
    return result


class HolePainter:
    """
    Draws the holes of one round or plan.

    Parameters
    ----------
    shapes, hole_lines, plan : geopandas.GeoDataFrame
        As in `reports.tables`.
    shots : geopandas.GeoDataFrame, optional
        As in `reports.tables`; None for a plan.
    track : pandas.DataFrame, optional
        As in `reports.tables`.
    comparison : pandas.DataFrame, optional
        As in `reports.tables`.
    settings : DrawingSettings, optional
        Measures.
    """

    def __init__(
        self,
        shapes: gpd.GeoDataFrame,
        hole_lines: gpd.GeoDataFrame,
        plan: gpd.GeoDataFrame,
        *,
        shots: gpd.GeoDataFrame | None = None,
        track: pd.DataFrame | None = None,
        comparison: pd.DataFrame | None = None,
        settings: DrawingSettings = DrawingSettings(),
    ) -> None:
        self._settings = settings
        self._has_shots = shots is not None
        tables = [table for table in (hole_lines, plan, shots, shapes) if table is not None]
        degrees = np.vstack([shapely.get_coordinates(table.geometry.to_numpy()) for table in tables])
        self._frame = LocalFrame.around(degrees[:, 0], degrees[:, 1]) if len(degrees) else None
        if self._frame is None:
            return
        order = {kind: number for number, kind in enumerate(SHAPE_KINDS)}
        ranks = np.array([order.get(kind, -1) for kind in shapes["kind"]], dtype=int)
        ranking = np.argsort(ranks, kind="stable")
        metres = self._metres(shapes)[ranking]
        keep = ~shapely.is_missing(metres) & ~shapely.is_empty(metres)
        self._kinds = [SHAPE_KINDS[rank] if rank >= 0 else "other" for rank in ranks[ranking][keep]]
        self._ground = shapely.make_valid(metres[keep])
        self._ground_holes = shapes["hole"].fillna(0).to_numpy(dtype=int)[ranking][keep]
        self._hole_lines = self._lines(hole_lines, "hole")
        self._planned = self._lines(plan, "hole", "shot")
        self._plan_rows = {} if plan is None else _rows(plan)
        self._played = {} if shots is None else self._lines(shots, "hole", "shot")
        self._shot_rows = {} if shots is None else _rows(shots)
        self._track = [] if track is None else simplified_track(track, self._frame, 1.0)
        self._compared = set()
        if comparison is not None:
            rows = comparison.dropna(subset=["miss_m", "hole", "shot"])
            self._compared = {(int(h), int(s)) for h, s in zip(rows["hole"], rows["shot"], strict=True)}

    def draw(self, hole: int) -> HoleDrawing | None:
        """
        Draw one hole.

        Parameters
        ----------
        hole : int
            Its number.

        Returns
        -------
        HoleDrawing or None
            The drawing; None where the hole has no position.
        """
        if self._frame is None:
            return None
        planned = {shot: line for (h, shot), line in self._planned.items() if h == hole}
        played = {shot: line for (h, shot), line in self._played.items() if h == hole}
        axis = self._axis(hole, planned, played)
        if axis is None:
            return None
        start, end = axis
        turn = math.atan2(end[0] - start[0], end[1] - start[1])
        cos, sin = math.cos(turn), math.sin(turn)
        matrix = np.array([[cos, -sin], [sin, cos]])
        seen = [line for line in (self._hole_lines.get((hole,)), *planned.values(), *played.values()) if line]
        greens = [
            shape
            for shape, kind in zip(self._ground, self._kinds, strict=True)
            if kind == "green" and shape.dwithin(shapely.Point(end), 15.0)
        ]
        xy = np.vstack([shapely.get_coordinates(shape) for shape in (*seen, *greens)]) @ matrix.T
        low = xy.min(axis=0) - self._settings.margin_m
        high = xy.max(axis=0) + self._settings.margin_m
        view = _View(low, high, matrix, self._settings, played=self._has_shots)
        drawing = HoleDrawing(
            hole, self._settings.width, view.height, view.left, view.right, math.degrees(-turn) % 360.0
        )
        self._draw_ground(drawing, view, hole)
        drawing.track = [view.path(line) for h, line in self._track if h == hole and view.touches(line)]
        self._draw_plan(drawing, view, hole, planned)
        self._draw_shots(drawing, view, hole, planned, played)
        self._place_labels(drawing, view)
        return drawing

    def _axis(self, hole: int, planned: dict[int, Any], played: dict[int, Any]) -> Any:
        line = self._hole_lines.get((hole,))
        lines = [line] if line is not None else [planned[s] for s in sorted(planned)]
        lines = lines or [played[s] for s in sorted(played)]
        if not lines:
            return None
        start, end = shapely.get_coordinates(lines[0])[0], shapely.get_coordinates(lines[-1])[-1]
        return (start, end) if math.dist(start, end) > 1.0 else None

    def _draw_ground(self, drawing: HoleDrawing, view: _View, hole: int) -> None:
        for shape, kind, owner in zip(self._ground, self._kinds, self._ground_holes, strict=True):
            if kind in {"course", "rough"} or not view.touches(shape):
                continue
            if kind == "pin":
                if drawing.pin is None and owner in {0, hole}:
                    x, y = view.pixels(shapely.get_coordinates(shape.centroid))[0]
                    if view.left <= x <= view.right:
                        drawing.pin = (x, y)
                continue
            path = view.path(shape)
            if path:
                drawing.ground.append((f"g-{kind}", path))

    def _draw_plan(self, drawing: HoleDrawing, view: _View, hole: int, planned: dict[int, Any]) -> None:
        for shot in sorted(planned):
            row = self._plan_rows[hole, shot]
            x, y = view.pixels(shapely.get_coordinates(planned[shot])[-1:])[0]
            radius = row["tolerance_m"] * view.scale
            drawing.planned.append(view.path(planned[shot]))
            drawing.targets.append({"x": x, "y": y, "ring": round(radius, 1) if radius > 0 else None})
            drawing.labels.append({"side": "plan", "x": x, "y": y, "row": row})

    def _draw_shots(
        self,
        drawing: HoleDrawing,
        view: _View,
        hole: int,
        planned: dict[int, Any],
        played: dict[int, Any],
    ) -> None:
        for shot in sorted(played):
            row = self._shot_rows[hole, shot]
            x, y = view.pixels(shapely.get_coordinates(played[shot])[-1:])[0]
            doubt = row["confidence"] < DOUBTFUL_BELOW or not math.isfinite(row["distance_m"])
            drawing.played.append(("m-played doubtful" if doubt else "m-played", view.path(played[shot])))
            drawing.finishes.append({"x": x, "y": y, "shot": shot, "doubtful": doubt})
            drawing.labels.append({"side": "played", "x": x, "y": y, "row": row, "doubtful": doubt})
            if (hole, shot) in self._compared and shot in planned:
                miss = [shapely.get_coordinates(line)[-1] for line in (planned[shot], played[shot])]
                drawing.misses.append(view.path(shapely.LineString(miss)))

    def _place_labels(self, drawing: HoleDrawing, view: _View) -> None:
        height = self._settings.label_height
        for side in ("plan", "played"):
            labels = [label for label in drawing.labels if label["side"] == side]
            needed = self._settings.top + len(labels) * height + self._settings.bottom
            drawing.height = round(max(drawing.height, needed), 1)
        for side in ("plan", "played"):
            labels = [label for label in drawing.labels if label["side"] == side]
            # On equal height the later shot lies nearer the hole, and goes above.
            wanted = [label["y"] - 0.01 * number for number, label in enumerate(labels)]
            places = spread_labels(wanted, height, self._settings.top, drawing.height - 4.0)
            for label, place in zip(labels, places, strict=True):
                label["at"] = round(place, 1)
                label["edge"] = view.left - 4.0 if side == "plan" else view.right + 4.0

    def _metres(self, table: gpd.GeoDataFrame) -> Any:
        assert self._frame is not None  # noqa: S101 - for the type checker; draw() returned before
        return self._frame.geometry_to_metres(table.geometry.to_numpy())

    def _lines(self, table: gpd.GeoDataFrame, *columns: str) -> dict[tuple[int, ...], Any]:
        lines = {}
        for *key, line in zip(*(table[column] for column in columns), self._metres(table), strict=True):
            if line is not None and not line.is_empty and not any(pd.isna(number) for number in key):
                lines[tuple(int(number) for number in key)] = line
        return lines


class _View:
    """From metres in the frame to px on the drawing."""

    def __init__(self, low: Any, high: Any, matrix: Any, settings: DrawingSettings, *, played: bool) -> None:
        self.left = settings.gutter
        self.right = settings.width - (settings.gutter if played else settings.bare_gutter)
        inner = self.right - self.left
        span = high - low
        self.scale = min(inner / span[0], settings.tallest / span[1], settings.largest_scale)
        # What the narrow side leaves over shows the ground left and right of the hole.
        spare = max(inner / self.scale - span[0], 0.0) / 2.0
        room = np.array([spare, 0.0])
        self._low, self._high = low - room, high + room
        self._matrix = matrix
        self._top = settings.top
        self.height = round(settings.top + span[1] * self.scale + settings.bottom, 1)
        corners = np.array(
            [
                [self._low[0], self._low[1]],
                [self._high[0], self._low[1]],
                [self._high[0], self._high[1]],
                [self._low[0], self._high[1]],
            ]
        )
        self._window = shapely.Polygon(corners @ matrix)
        shapely.prepare(self._window)

    def pixels(self, xy: Any) -> list[tuple[float, float]]:
        turned = np.asarray(xy) @ self._matrix.T
        x = self.left + (turned[:, 0] - self._low[0]) * self.scale
        y = self._top + (self._high[1] - turned[:, 1]) * self.scale
        return [(round(float(a), 1), round(float(b), 1)) for a, b in zip(x, y, strict=True)]

    def touches(self, shape: Any) -> bool:
        return bool(self._window.intersects(shape))

    def path(self, shape: Any) -> str:
        """Write a shape, cut to the picture, as an SVG path."""
        seen = shape if self._window.covers(shape) else shape.intersection(self._window)
        return "".join(self._pieces(seen.simplify(0.4 / self.scale)))

    def _pieces(self, shape: Any) -> list[str]:
        if shape.is_empty or shape.geom_type in {"Point", "MultiPoint"}:
            return []
        if shape.geom_type == "Polygon":
            return [self._piece(ring.coords[:-1]) + "z" for ring in (shape.exterior, *shape.interiors)]
        if shape.geom_type in {"LineString", "LinearRing"}:
            return [self._piece(shape.coords)]
        return [piece for part in shape.geoms for piece in self._pieces(part)]

    def _piece(self, coordinates: Any) -> str:
        points = self.pixels(np.asarray(coordinates)[:, :2])
        return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def _rows(table: pd.DataFrame) -> dict[tuple[int, int], dict[str, Any]]:
    known = table.dropna(subset=["hole", "shot"])
    records: list[dict[Any, Any]] = known.to_dict("records")
    return {(int(row["hole"]), int(row["shot"])): row for row in records}
