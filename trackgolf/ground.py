"""The ground of a course in metres: lines of play, greens, tees and areas, ready for measuring."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Point, Polygon

from geo.frame import LocalFrame
from geo.line import along_across, point_at
from trackgolf.course import Course
from trackgolf.errors import CourseError

__all__ = ["Ground", "HoleGround", "TeeChoice", "lay_ground", "stations"]

# What a lie is called, from the kind of shape it rests on; first match wins.
_LIES = (
    ("green", ("green",)),
    ("bunker", ("bunker",)),
    ("penalty_area", ("water", "water_yellow", "water_red")),
    ("tee", ("tee",)),
    ("fairway", ("fairway",)),
    ("out_of_bounds", ("out_of_bounds",)),
)
_WATER = ("water", "water_yellow", "water_red")


@dataclass(frozen=True, slots=True)
class HoleGround:
    """
    One hole in metres of the local frame.

    Attributes are the hole's `number`, `par`, its `line` of play as an array of shape (n, 2) [m], the `green`
    polygon [m], the `target` that leaves are measured to (pin, else centre of the green, else end of the
    line) [m], the `tees` as polygons [m], and whether the line starts at the tee that the player named.
    """

    number: int
    par: int
    line: NDArray[np.float64]
    length_m: float
    green: Polygon | MultiPolygon
    target: tuple[float, float]
    tees: tuple[Polygon | MultiPolygon, ...]
    tee_named: bool = False


@dataclass(frozen=True, slots=True)
class TeeChoice:
    """Tees a round may have been played from: what they are called, their `spots`, shape (h, 2) [m], and how sure [m]."""

    name: str
    spots: NDArray[np.float64]
    spread_m: float


@dataclass(frozen=True, slots=True)
class Ground:
    """
    A course in metres.

    Attributes are the local `frame`, the `holes` in order of number, `areas` (a merged geometry a lie, in
    order of precedence), the `water` of every kind, `mapped`: whether fairways are drawn, so that a spot on none of
    the shapes is rough rather than unknown, and `tee_choices`: the tees the round may have been played from where
    the player named none.
    """

    frame: LocalFrame
    holes: tuple[HoleGround, ...]
    areas: tuple[tuple[str, shapely.Geometry], ...]
    water: shapely.Geometry
    mapped: bool
    tee_choices: tuple[TeeChoice, ...] = ()

    def lies_at(self, east_m: NDArray[np.float64], north_m: NDArray[np.float64]) -> list[str]:
        """
        Name the lie of each spot.

        Parameters
        ----------
        east_m, north_m : numpy.ndarray, shape (n,)
            Spots in the local frame [m].

        Returns
        -------
        list of str
            `green`, `bunker`, `penalty_area`, `tee`, `fairway`, `out_of_bounds`, `rough`, or `unknown` where
            the map draws no fairways. The edge of a shape belongs to it, as in the Rules of Golf 13.1a for
            the green.
        """
        xy = np.column_stack([np.asarray(east_m, dtype=float), np.asarray(north_m, dtype=float)])
        spots: NDArray[np.object_] = np.asarray(shapely.points(xy), dtype=object)
        lies = np.full(len(spots), "rough" if self.mapped else "unknown", dtype=object)
        open_spots: NDArray[np.bool_] = np.ones(len(spots), dtype=bool)
        for lie, area in self.areas:
            inside = open_spots & np.asarray(shapely.intersects(area, spots))
            lies[inside] = lie
            open_spots &= ~inside
        return [str(lie) for lie in lies]

    def hole_index(self, number: int) -> int:
        """
        Find the position of a hole in `holes`.

        Parameters
        ----------
        number : int
            Number of the hole on the card.

        Returns
        -------
        int
            Its index.

        Raises
        ------
        CourseError
            If the course has no such hole.
        """
        for index, hole in enumerate(self.holes):
            if hole.number == number:
                return index
        raise CourseError(f"there is no hole {number} on this course")


def lay_ground(course: Course) -> Ground:
    """
    Turn a course into metres.

    Parameters
    ----------
    course : Course
        A course with positions.

    Returns
    -------
    Ground
        The same in a local transverse Mercator frame centred on it.

    Raises
    ------
    CourseError
        If the course has no positions.
    """
    if not course.has_positions:
        raise CourseError(
            "the course has no positions, so a track cannot be laid on it",
            do="Give a course with hole lines, or tee and green coordinates on the scorecard",
        )
    lines = [hole.line for hole in course.holes if hole.line is not None]
    frame = _frame_of(lines)
    shapes = course.shapes
    metric = (
        frame.geometry_to_metres(shapes.geometry.to_numpy()) if len(shapes) else np.empty(0, dtype=object)
    )
    kinds = shapes["kind"].to_numpy() if len(shapes) else np.empty(0, dtype=object)
    owners = shapes["hole"].to_numpy() if len(shapes) else np.empty(0, dtype=object)
    holes = []
    for hole in course.holes:
        if hole.line is None:
            continue
        line = shapely.get_coordinates(frame.geometry_to_metres(hole.line))
        green = (
            frame.geometry_to_metres(hole.green) if hole.green is not None else Point(*line[-1]).buffer(12.0)
        )
        if hole.pin is not None:
            pin = frame.geometry_to_metres(hole.pin)
            target = (pin.x, pin.y)
        elif hole.green is not None:
            target = (green.centroid.x, green.centroid.y)
        else:
            target = (float(line[-1, 0]), float(line[-1, 1]))
        tees = tuple(
            shape
            for shape, kind, owner in zip(metric, kinds, owners, strict=True)
            if kind == "tee" and owner == hole.number
        )
        length = float(np.sum(np.hypot(*np.diff(line, axis=0).T)))
        holes.append(
            HoleGround(hole.number, hole.par, line, length, green, target, tees, course.tee is not None)
        )
    areas = []
    for lie, wanted in _LIES:
        chosen = [shape for shape, kind in zip(metric, kinds, strict=True) if kind in wanted]
        if lie == "green":
            chosen += [hole.green for hole in holes]
        if chosen:
            area = shapely.union_all(chosen)
            shapely.prepare(area)
            areas.append((lie, area))
    water = shapely.union_all([shape for shape, kind in zip(metric, kinds, strict=True) if kind in _WATER])
    names = shapes["name"].to_numpy() if len(shapes) else np.empty(0, dtype=object)
    choices = () if course.tee is not None else _tee_choices(course, holes, metric, kinds, owners, names)
    return Ground(frame, tuple(holes), tuple(areas), water, bool(np.any(kinds == "fairway")), choices)


# Tees that nobody drew may lie this part of the hole ahead of its line's start. Common practice, no source.
_AHEAD_SHARES = (0.0, 0.06, 0.12, 0.18, 0.24)


def _ahead_name(share: float) -> str:
    if share == 0.0:
        return "where the lines of the holes start"
    return f"tees ahead of where the lines start, by about {share:.0%} of each hole"


def _tee_choices(
    course: Course,
    holes: list[HoleGround],
    metric: NDArray[np.object_],
    kinds: NDArray[np.object_],
    owners: NDArray[np.object_],
    names: NDArray[np.object_],
) -> tuple[TeeChoice, ...]:
    drawn = {
        (str(name).lower(), int(owner)): (shape.centroid.x, shape.centroid.y)
        for shape, kind, owner, name in zip(metric, kinds, owners, names, strict=True)
        if kind == "tee" and not pd.isna(owner) and isinstance(name, str) and name
    }
    choices = []
    for name in course.tees:
        spots = [drawn.get((name.lower(), hole.number)) for hole in holes]
        if sum(spot is not None for spot in spots) > len(holes) / 2:
            filled = [spot or tuple(hole.line[0]) for spot, hole in zip(spots, holes, strict=True)]
            choices.append(TeeChoice(name, np.array(filled, dtype=float), 3.0))
    if choices or any(hole.tees for hole in holes):
        return tuple(choices)
    for share in _AHEAD_SHARES:
        spots_ahead = np.array([point_at(hole.line, share * hole.length_m) for hole in holes])
        choices.append(TeeChoice(_ahead_name(share), spots_ahead, 10.0))
    return tuple(choices)


def _frame_of(lines: list[shapely.LineString]) -> LocalFrame:
    coordinates = np.vstack([shapely.get_coordinates(line) for line in lines])
    # The mean of unit vectors: right across the antimeridian, where a mean of longitudes is not.
    lon, lat = np.radians(coordinates[:, 0]), np.radians(coordinates[:, 1])
    x, y, z = np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)
    mean = float(np.mean(x)), float(np.mean(y)), float(np.mean(z))
    return LocalFrame(
        math.degrees(math.atan2(mean[1], mean[0])),
        math.degrees(math.atan2(mean[2], math.hypot(mean[0], mean[1]))),
    )


def stations(
    hole: HoleGround, east_m: NDArray[np.float64], north_m: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Measure spots along and across a hole's line of play.

    Parameters
    ----------
    hole : HoleGround
        The hole.
    east_m, north_m : numpy.ndarray, shape (n,)
        Spots [m].

    Returns
    -------
    along_m : numpy.ndarray, shape (n,)
        Distance from the tee along the line [m].
    across_m : numpy.ndarray, shape (n,)
        Offset from it, positive to the right [m].
    """
    along, across = along_across(hole.line, east_m, north_m)
    return np.asarray(along), np.asarray(across)
