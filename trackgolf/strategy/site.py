"""One hole in metres, turned so that the way from the tee to the hole is up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

from geo.frame import LocalFrame
from trackgolf.course import Course, Hole
from trackgolf.plan_ground import plan_frame
from trackgolf.strategy.settings import StrategySettings

__all__ = ["GROUND", "HoleSite", "hole_sites", "lies_at"]

Floats = npt.NDArray[np.float64]

GROUND = ("rough", "fairway", "green", "bunker", "water_red", "water_yellow", "out_of_bounds")
"""What the ground of a hole may be, as numbers 0 to 6."""

_WATER_KINDS = {
    "water_yellow": "water_yellow",
    # Source: Rules of Golf 2023, Definitions, penalty area: one whose colour is not marked is treated as red.
    "water_red": "water_red",
    "water": "water_red",
}


@dataclass(frozen=True)
class HoleSite:
    """
    What a plan has to know of a hole, in its own metres.

    The origin is the tee, ``up`` points from the tee to the hole, ``right``
    to the right of it.

    Attributes
    ----------
    number : int
        Number of the hole.
    line_m : numpy.ndarray, shape (n, 2)
        Line of play, right and up [m]; begins at the tee, ends at the hole.
    pin_m : numpy.ndarray, shape (2,)
        The hole: pin, else middle of the green, else end of the line [m].
    shapes : tuple of (str, geometry)
        Ground in order of precedence, names as in `GROUND` [m].
    fence : geometry or None
        Lines that bound the course: what lies behind them, seen from the line of play, is out of bounds.
    fairways_drawn : bool
        Whether the map draws fairways.
    placed : bool
        Whether the hole is a place on earth.
    frame : LocalFrame or None
        Frame of the course.
    origin_m : numpy.ndarray, shape (2,)
        The tee in that frame, east and north [m].
    turn_rad : float
        Bearing of ``up`` in that frame, clockwise from north [rad].
    """

    number: int
    line_m: Floats
    pin_m: Floats
    shapes: tuple[tuple[str, Any], ...]
    fence: Any
    fairways_drawn: bool
    placed: bool
    frame: LocalFrame | None
    origin_m: Floats
    turn_rad: float

    def to_course(self, right_m: npt.ArrayLike, up_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """
        Turn metres of the hole into metres of the course.

        Parameters
        ----------
        right_m, up_m : array_like, shape (n,)
            Places [m].

        Returns
        -------
        east_m, north_m : numpy.ndarray, shape (n,)
            The same in the frame of the course [m].
        """
        right, up = np.asarray(right_m, dtype=float), np.asarray(up_m, dtype=float)
        sin, cos = math.sin(self.turn_rad), math.cos(self.turn_rad)
        return self.origin_m[0] + right * cos + up * sin, self.origin_m[1] - right * sin + up * cos

    def from_course(self, east_m: npt.ArrayLike, north_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """
        Turn metres of the course into metres of the hole.

        Parameters
        ----------
        east_m, north_m : array_like, shape (n,)
            Places [m].

        Returns
        -------
        right_m, up_m : numpy.ndarray, shape (n,)
            The same from the tee, across and along the way to the hole [m].
        """
        east = np.asarray(east_m, dtype=float) - self.origin_m[0]
        north = np.asarray(north_m, dtype=float) - self.origin_m[1]
        sin, cos = math.sin(self.turn_rad), math.cos(self.turn_rad)
        return east * cos - north * sin, east * sin + north * cos

    def to_degrees(self, right_m: npt.ArrayLike, up_m: npt.ArrayLike) -> tuple[Floats, Floats]:
        """
        Turn metres of the hole into longitude and latitude.

        Parameters
        ----------
        right_m, up_m : array_like, shape (n,)
            Places [m].

        Returns
        -------
        lon_deg, lat_deg : numpy.ndarray, shape (n,)
            The same [deg]; NaN for a hole without positions.
        """
        east, north = self.to_course(right_m, up_m)
        if self.frame is None or not self.placed:
            return np.full_like(east, np.nan), np.full_like(north, np.nan)
        lon, lat = self.frame.to_degrees(east, north)
        return np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)


def hole_sites(course: Course, settings: StrategySettings) -> dict[int, HoleSite]:
    """
    Lay out every hole of a course.

    Parameters
    ----------
    course : Course
        With positions or without; without, holes are straight and bare.
    settings : StrategySettings
        Size of a green that nobody drew.

    Returns
    -------
    dict of int to HoleSite
        By number of the hole.
    """
    frame = plan_frame(course)
    kinds: list[str] = []
    metric: list[Any] = []
    if frame is not None and len(course.shapes):
        usable = course.shapes[course.shapes.geometry.notna() & ~course.shapes.geometry.is_empty]
        kinds = [str(kind) for kind in usable["kind"]]
        metric = list(shapely.make_valid(frame.geometry_to_metres(usable.geometry.to_numpy())))
    return {hole.number: _site(hole, frame, kinds, metric, settings) for hole in course.holes}


def _site(
    hole: Hole, frame: LocalFrame | None, kinds: list[str], metric: list[Any], settings: StrategySettings
) -> HoleSite:
    if frame is None or hole.line is None:
        pin = np.array([0.0, hole.length_m])
        bare_green = shapely.Point(pin).buffer(settings.green_radius_m)
        line = np.array([[0.0, 0.0], pin])
        return HoleSite(
            hole.number, line, pin, (("green", bare_green),), None, False, False, None, np.zeros(2), 0.0
        )
    line_m = np.asarray(frame.geometry_to_metres(hole.line).coords)[:, :2]
    green: Any = None if hole.green is None else shapely.make_valid(frame.geometry_to_metres(hole.green))
    place = hole.pin if hole.pin is not None else hole.green
    if place is None:
        hole_m = line_m[-1]
    else:
        centre = frame.geometry_to_metres(place).centroid
        hole_m = np.array([centre.x, centre.y])
    if green is None:
        green = shapely.Point(hole_m).buffer(settings.green_radius_m)
    away = hole_m - line_m[0]
    turn = math.atan2(away[0], away[1])
    bare = HoleSite(hole.number, line_m, hole_m, (), None, False, True, frame, line_m[0], turn)

    def turned(geometry: Any) -> Any:
        return shapely.transform(geometry, lambda xy: np.column_stack(bare.from_course(xy[:, 0], xy[:, 1])))

    line = np.column_stack(bare.from_course(*np.vstack([line_m[:-1], hole_m]).T))
    near = shapely.LineString(line_m).buffer(2.0 * settings.side_m + settings.beyond_m)
    found: dict[str, list[Any]] = {name: [] for name in GROUND}
    fences = []
    for kind, shape in zip(kinds, metric, strict=True):
        if not shape.intersects(near):
            continue
        name = _WATER_KINDS.get(kind, "fairway" if kind == "tee" else kind)
        if name == "out_of_bounds" and shapely.get_dimensions(shape) < 2:
            fences.append(turned(shape))
        elif name in found and name not in ("green", "rough"):
            found[name].append(turned(shape))
    found["green"] = [turned(green)]
    # A ball in several shapes is in the first of these.
    order = ("out_of_bounds", "green", "bunker", "water_yellow", "water_red", "fairway")
    shapes = tuple((name, shapely.union_all(found[name])) for name in order if found[name])
    return HoleSite(
        hole.number,
        line,
        np.column_stack(bare.from_course(*hole_m))[0],
        shapes,
        shapely.union_all(fences) if fences else None,
        "fairway" in kinds,
        True,
        frame,
        line_m[0],
        turn,
    )


def lies_at(
    site: HoleSite, right_m: Floats, up_m: Floats, settings: StrategySettings
) -> npt.NDArray[np.int8]:
    """
    Say what the ground is at many places.

    Parameters
    ----------
    site : HoleSite
        The hole.
    right_m, up_m : numpy.ndarray, shape (n,)
        Places in its metres [m].
    settings : StrategySettings
        Width of a fairway where none is drawn.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Numbers into `GROUND`.
    """
    lies = np.zeros(len(right_m), dtype=np.int8)
    open_spots = np.ones(len(right_m), dtype=bool)

    def mark(name: str, inside: npt.NDArray[np.bool_]) -> None:
        inside = inside & open_spots
        lies[inside] = GROUND.index(name)
        open_spots[inside] = False

    line = shapely.LineString(site.line_m)
    if site.fence is not None:
        points = shapely.points(right_m, up_m)
        to_line = shapely.shortest_line(points, line)
        shapely.prepare(site.fence)
        mark("out_of_bounds", shapely.intersects(site.fence, to_line))
    for name, shape in site.shapes:
        low_right, low_up, high_right, high_up = shape.bounds
        box = (right_m >= low_right) & (right_m <= high_right) & (up_m >= low_up) & (up_m <= high_up)
        inside = np.zeros(len(right_m), dtype=bool)
        if box.any():
            shapely.prepare(shape)
            inside[box] = shapely.intersects_xy(shape, right_m[box], up_m[box])
        mark(name, inside)
    if not site.fairways_drawn:
        wide = line.buffer(settings.fairway_half_m)
        shapely.prepare(wide)
        mark("fairway", shapely.intersects_xy(wide, right_m, up_m))
    return lies
