"""A hole as the planner sees it: stations along the line of play, and what lies across it or near it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString

from geo.frame import LocalFrame
from geo.line import along_across, point_at
from trackgolf.course import Course, Hole

__all__ = ["Crossing", "PlanGround", "hole_place", "plan_frame", "plan_grounds"]

Floats = npt.NDArray[np.float64]

# What costs a penalty stroke or worse, and what costs the next shot.
_WATER = ("water", "water_yellow", "water_red")
_HAZARDS = (*_WATER, "bunker", "out_of_bounds")
# Two stations closer than this are one [m].
_SAME_M = 1e-6
# A hole is taken to lie no further than this beyond the end of its line [m].
_BEYOND_M = 20.0


@dataclass(frozen=True, slots=True)
class Crossing:
    """
    A stretch of the line of play that something lies across.

    Attributes
    ----------
    kind : str
        ``water`` or ``bunker``.
    from_m, to_m : float
        Where it begins and ends along the line of play [m].
    """

    kind: str
    from_m: float
    to_m: float


@dataclass(frozen=True, slots=True)
class _Hazards:
    """Shapes in metres with their kinds, and how near the line water and bunkers lie across it."""

    shapes: tuple[tuple[str, Any], ...]
    corridors_m: tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlanGround:
    """
    Stations of one hole and what lies between them.

    Attributes
    ----------
    along_m : numpy.ndarray, shape (n,)
        Stations along the line of play, the tee first [m]. From the second
        on they are whole units from the hole.
    xy_m : numpy.ndarray, shape (n, 2)
        Where they are, east and north in the frame of the course; along a
        straight line where the course has no positions [m].
    hole_xy_m : numpy.ndarray, shape (2,)
        Where the hole is: pin, else middle of the green, else end of the line.
    hole_along_m : float
        Its station [m].
    corners_m : numpy.ndarray, shape (k, 3)
        Bends of the line: station, east, north [m].
    crossings : tuple of Crossing
        Water and bunkers across the line.
    trouble_m : numpy.ndarray, shape (n,)
        From each station to the nearest water or out of bounds [m].
    has_positions : bool
        Whether the stations are places on earth.
    """

    along_m: Floats
    xy_m: Floats
    hole_xy_m: Floats
    hole_along_m: float
    corners_m: Floats
    crossings: tuple[Crossing, ...]
    trouble_m: Floats
    has_positions: bool


def plan_frame(course: Course) -> LocalFrame | None:
    """
    Centre a frame on the lines of play.

    Parameters
    ----------
    course : Course
        The course.

    Returns
    -------
    LocalFrame or None
        The frame; None where no hole has a line.
    """
    lines = [np.asarray(hole.line.coords)[:, :2] for hole in course.holes if hole.line is not None]
    if not lines:
        return None
    lon_deg, lat_deg = np.concatenate(lines).T
    return LocalFrame.around(lon_deg, lat_deg)


def hole_place(hole: Hole) -> tuple[float, float] | None:
    """
    Say where a hole is cut, as far as known.

    Parameters
    ----------
    hole : Hole
        The hole.

    Returns
    -------
    tuple of float or None
        Longitude and latitude of the pin, else of the middle of the green,
        else of the end of the line of play [deg]; None without positions.
    """
    if hole.line is None:
        return None
    lon_deg, lat_deg = hole.line.coords[-1][:2]
    frame = LocalFrame(lon_deg, lat_deg)
    east_m, north_m = _hole_position(hole, frame, np.zeros((1, 2)))
    place = frame.to_degrees(east_m, north_m)
    return float(place[0]), float(place[1])


def plan_grounds(
    course: Course,
    frame: LocalFrame | None,
    unit_m: float,
    leaves_m: Sequence[float],
    corridors_m: tuple[float, float],
) -> dict[int, PlanGround]:
    """
    Lay out stations for every hole.

    Parameters
    ----------
    course : Course
        The course.
    frame : LocalFrame or None
        Its frame, as `plan_frame` gives it.
    unit_m : float
        Spacing of the stations [m].
    leaves_m : sequence of float
        Distances from the hole at which there is a station too [m].
    corridors_m : tuple of float
        Water within the first, a bunker within the second of the line of play
        lies across it [m].

    Returns
    -------
    dict of int to PlanGround
        The ground of each hole by its number.
    """
    hazards = _Hazards((), corridors_m)
    if frame is not None and len(course.shapes):
        chosen = course.shapes[course.shapes["kind"].isin(_HAZARDS)]
        chosen = chosen[chosen.geometry.notna() & ~chosen.geometry.is_empty]
        shapes_m = shapely.make_valid(frame.geometry_to_metres(chosen.geometry.to_numpy()))
        hazards = _Hazards(tuple(zip(chosen["kind"], shapes_m, strict=True)), corridors_m)
    return {
        hole.number: (
            _flat_ground(hole.length_m, unit_m, leaves_m)
            if frame is None or hole.line is None
            else _ground(hole, frame, unit_m, leaves_m, hazards)
        )
        for hole in course.holes
    }


def _flat_ground(length_m: float, unit_m: float, leaves_m: Sequence[float]) -> PlanGround:
    """Lay out a hole of which only the length is known, as a straight line to the north."""
    along_m = _stations(length_m, unit_m, [length_m - leave_m for leave_m in leaves_m])
    xy_m = np.column_stack([np.zeros_like(along_m), along_m])
    nothing = np.full(len(along_m), np.inf)
    return PlanGround(
        along_m, xy_m, np.array([0.0, length_m]), length_m, np.empty((0, 3)), (), nothing, has_positions=False
    )


def _ground(
    hole: Hole, frame: LocalFrame, unit_m: float, leaves_m: Sequence[float], hazards: _Hazards
) -> PlanGround:
    """Lay out a hole that has a line of play."""
    line_m = np.asarray(frame.geometry_to_metres(hole.line).coords)[:, :2]
    hole_xy_m = _hole_position(hole, frame, line_m)
    end_m = float(LineString(line_m).length)
    hole_along_m = min(float(along_across(line_m, *hole_xy_m)[0]), end_m + _BEYOND_M)

    extra = [
        station_m
        for leave_m in leaves_m
        if (station_m := _station_at(leave_m, line_m, hole_xy_m, hole_along_m)) is not None
    ]
    along_m = _stations(hole_along_m, unit_m, extra)
    xy_m = np.column_stack(point_at(line_m, along_m))
    steps = np.hypot(*np.diff(line_m, axis=0).T)
    corners = np.column_stack([np.cumsum(steps)[:-1], line_m[1:-1]])

    corridors = {
        kind: LineString(line_m).buffer(width_m, cap_style="flat")
        for kind, width_m in zip(("water", "bunker"), hazards.corridors_m, strict=True)
    }
    crossings: list[Crossing] = []
    trouble_m = np.full(len(along_m), np.inf)
    points = shapely.points(xy_m)
    for kind, shape in hazards.shapes:
        if kind != "bunker":
            trouble_m = np.minimum(trouble_m, shapely.distance(shape, points))
        name = "water" if kind in _WATER else kind
        if name in corridors and corridors[name].intersects(shape):
            across = corridors[name].intersection(shape)
            crossings += [Crossing(name, *span) for span in _spans(across, line_m, hole_along_m)]
    crossings.sort(key=lambda crossing: crossing.from_m)
    return PlanGround(
        along_m, xy_m, hole_xy_m, hole_along_m, corners, tuple(crossings), trouble_m, has_positions=True
    )


def _hole_position(hole: Hole, frame: LocalFrame, line_m: Floats) -> Floats:
    """Say where a hole is: pin, else middle of the green, else end of the line."""
    target = hole.pin if hole.pin is not None else hole.green
    if target is None:
        return np.asarray(line_m[-1], dtype=np.float64)
    centre = frame.geometry_to_metres(target).centroid
    return np.array([centre.x, centre.y])


def _stations(hole_along_m: float, unit_m: float, extra_m: Sequence[float]) -> Floats:
    """Put the tee and every whole unit back from the hole in order, without doubles."""
    count = int(np.floor((hole_along_m - _SAME_M) / unit_m))
    whole = hole_along_m - unit_m * np.arange(count, 0, -1)
    inside = [station_m for station_m in extra_m if _SAME_M < station_m < hole_along_m - _SAME_M]
    stations = np.sort(np.concatenate([[0.0], whole, inside]))
    keep = np.concatenate([[True], np.diff(stations) > _SAME_M])
    return np.asarray(stations[keep], dtype=np.float64)


def _station_at(leave_m: float, line_m: Floats, hole_xy_m: Floats, hole_along_m: float) -> float | None:
    """Find the station nearest the hole that is straight so far from it; None if there is none."""
    along_m = np.arange(hole_along_m, 0.0, -1.0)
    away_m = np.hypot(*(np.column_stack(point_at(line_m, along_m)) - hole_xy_m).T)
    beyond = np.flatnonzero(away_m >= leave_m)
    if len(beyond) == 0 or beyond[0] == 0:
        return None
    far, near = int(beyond[0]), int(beyond[0]) - 1
    low, high = along_m[far], along_m[near]
    for _ in range(50):
        middle = (low + high) / 2
        if np.hypot(*(np.array(point_at(line_m, middle)) - hole_xy_m)) >= leave_m:
            low = middle
        else:
            high = middle
    return float(low)


def _spans(shape: Any, line_m: Floats, end_m: float) -> list[tuple[float, float]]:
    """Say from where to where along the line each part of a shape reaches, up to the hole."""
    spans = []
    for part in shapely.get_parts(shape):
        coordinates = shapely.get_coordinates(part)
        along_m, _ = along_across(line_m, coordinates[:, 0], coordinates[:, 1])
        low, high = float(np.min(along_m)), float(np.max(along_m))
        if high > 0.0 and low < end_m:
            spans.append((low, high))
    return spans
