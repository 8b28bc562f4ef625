"""A course file to a drawing: hole lines, shapes and pins in metres, with what its tags say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon

from geo.errors import InputError
from geo.frame import LocalFrame
from geo.shapes import ShapeFile, read_shapes, repair_geometry
from trackgolf.course_tags import (
    AREA_KINDS,
    COURSE_TAGS,
    LINE_TAGS,
    clean_tags,
    hole_numbers,
    shape_kind,
    subkey_tees,
    tee_names,
)
from trackgolf.errors import CourseError

__all__ = ["Drawing", "DrawnHole", "DrawnShape", "frame_of_holes", "join_pieces", "read_drawing"]

# A gap between the pieces of one line that is a slip of the hand, not a road to cross [m]; common
# practice, no source.
JOIN_M = 5.0
# More pieces than anybody draws one line in; common practice, no source.
MOST_PIECES = 50
# A hole this short cannot be meant [m]; common practice, no source.
SHORTEST_M = 20.0
# From the middle of the holes; no course is wider [m]; common practice, no source.
WIDEST_M = 10_000.0
# What a ditch mapped as a line is taken to measure across, and the radius of a tee or green of which
# only a point is known [m]; common practice, no source.
DITCH_WIDTH_M = 2.0
TEE_RADIUS_M = 3.0
GREEN_RADIUS_M = 12.0


@dataclass(slots=True)
class DrawnHole:
    """
    A hole line as drawn.

    Parameters
    ----------
    line : shapely.LineString
        The line [m], in the drawing's frame.
    tags : dict
        Its tags.
    numbers : tuple of int
        The number its tags give it; two for a hole that is played twice.
    """

    line: LineString
    tags: dict[str, str]
    numbers: tuple[int, ...]


@dataclass(slots=True)
class DrawnShape:
    """
    A shape as drawn.

    Parameters
    ----------
    kind : str
        One of `trackgolf.course.SHAPE_KINDS`.
    geometry : shapely.Geometry
        Where it lies [m], in the drawing's frame.
    degrees : shapely.Geometry
        Where it lies [deg], longitude first.
    name : str
        Its name, "" if it has none.
    tees : tuple of str
        What a tee is called.
    hole : int or None
        Number of the hole it belongs to.
    """

    kind: str
    geometry: Any
    degrees: Any
    name: str = ""
    tees: tuple[str, ...] = ()
    hole: int | None = None


@dataclass(slots=True)
class Drawing:
    """
    What a course file holds, before holes and shapes are matched.

    Parameters
    ----------
    frame : geo.frame.LocalFrame
        The metric frame, centred on the holes.
    holes : list of DrawnHole
        The hole lines that can be used.
    shapes : list of DrawnShape
        The shapes.
    pins : list of tuple
        Place [m] of each pin and the hole numbers its tags give it.
    unusable : list of tuple
        Hole numbers of each line that cannot be used, and why.
    from_osm, invented : bool
        Whether the data ask for the OpenStreetMap credit; whether they say
        that they are invented.
    tees : tuple of str
        Tees that holes have values of their own for.
    warnings : list of str
        What was mended or is doubtful.
    """

    frame: LocalFrame
    holes: list[DrawnHole] = field(default_factory=list)
    shapes: list[DrawnShape] = field(default_factory=list)
    pins: list[tuple[Point, tuple[int, ...]]] = field(default_factory=list)
    unusable: list[tuple[tuple[int, ...], str]] = field(default_factory=list)
    from_osm: bool = False
    invented: bool = False
    tees: tuple[str, ...] = ()
    warnings: list[str] = field(default_factory=list)

    def place(self, geometry: Any) -> str:
        """
        Say where something is.

        Parameters
        ----------
        geometry : shapely.Geometry
            Something in the frame [m].

        Returns
        -------
        str
            Its middle as latitude and longitude, the way maps show them.
        """
        lon, lat = self.frame.to_degrees(geometry.centroid.x, geometry.centroid.y)
        return f"at {float(lat):.5f}, {float(lon):.5f} (latitude, longitude)"


def read_drawing(path: str | Path, card_places: npt.NDArray[np.float64] | None = None) -> Drawing:
    """
    Read a course file.

    Parameters
    ----------
    path : str or pathlib.Path
        GeoJSON, OpenStreetMap XML or Overpass JSON with golf tags.
    card_places : numpy.ndarray, shape (n, 2), optional
        Longitude and latitude [deg] of tees and greens on the scorecard,
        which can stand in for hole lines.

    Returns
    -------
    Drawing
        Its hole lines, shapes and pins.

    Raises
    ------
    CourseError
        If the file cannot be read or holds nothing of a course.
    """
    try:
        file = read_shapes(path, line_tags=LINE_TAGS, only=COURSE_TAGS)
    except InputError as fault:
        raise CourseError(fault.what, fault.where, fault.do) from fault
    features, doubts = _features(file)
    places = shapely.get_coordinates([geometry for kind, _, geometry in features if kind == "hole"])
    if card_places is not None:
        places = np.concatenate([places, card_places])
    if not len(places):
        found = Counter(kind for kind, _, _ in features)
        held = ", ".join(f"{count} x {kind}" for kind, count in sorted(found.items()))
        raise CourseError(
            f"there is no hole line in it, only {held}" if held else "there is nothing of a course in it",
            str(path),
            "Draw a line tagged golf=hole from tee to green for each hole, or give a scorecard with positions",
        )
    drawing = Drawing(frame_of_holes(places, str(path)), from_osm=file.from_osm)
    drawing.warnings += [*file.warnings, *doubts]
    drawing.invented = "invented" in file.shapes and bool((file.shapes["invented"] == "yes").any())
    mended: Counter[str] = Counter()
    for kind, tags, degrees in features:
        if kind == "hole":
            _add_hole(drawing, tags, drawing.frame.geometry_to_metres(degrees))
        elif degrees is None:
            continue
        elif kind == "pin":
            pin = drawing.frame.geometry_to_metres(degrees).representative_point()
            drawing.pins.append((pin, hole_numbers(tags.get("ref"))))
        else:
            _add_shape(drawing, kind, tags, degrees, mended)
    _drop_copies(drawing)
    drawing.warnings += [f"{count} x {text}" for text, count in mended.items()]
    drawing.tees = tuple(dict.fromkeys(name for hole in drawing.holes for name in subkey_tees(hole.tags)))
    return drawing


def frame_of_holes(places: npt.NDArray[np.float64], where: str) -> LocalFrame:
    """
    Centre a metric frame on the holes.

    Parameters
    ----------
    places : numpy.ndarray, shape (n, 2)
        Longitude and latitude of points of the holes [deg].
    where : str
        Name of the file, for messages.

    Returns
    -------
    geo.frame.LocalFrame
        The frame.

    Raises
    ------
    CourseError
        If they lie too far from each other to be one course.
    """
    frame = LocalFrame.around(places[:, 0], places[:, 1])
    east_m, north_m = frame.to_metres(places[:, 0], places[:, 1])
    away_m = np.hypot(east_m, north_m)
    far = np.isnan(away_m) | (away_m > WIDEST_M)
    if far.any():
        lon, lat = places[far][0]
        raise CourseError(
            f"there is a hole at {lat:.5f}, {lon:.5f} (latitude, longitude), "
            f"more than {WIDEST_M / 1000:.0f} km from the others",
            where,
            "Keep the holes of one course, and check that latitude and longitude are not swapped",
        )
    return frame


def join_pieces(lines: Iterable[LineString]) -> LineString | None:
    """
    Join the pieces of one line, whichever way each is drawn.

    Parameters
    ----------
    lines : iterable of shapely.LineString
        The pieces [m].

    Returns
    -------
    shapely.LineString or None
        One line, running as the first piece does; None if a gap is too wide
        or there are more than 50 pieces.
    """
    rest = [list(line.coords) for line in lines]
    if len(rest) > MOST_PIECES:
        return None
    joined = rest.pop(0)
    while rest:
        for index, piece in enumerate(rest):
            forward = _near(joined[-1], piece[0]), _near(joined[-1], piece[-1])
            backward = _near(joined[0], piece[-1]), _near(joined[0], piece[0])
            if any(forward):
                joined = joined + (piece if forward[0] else piece[::-1])
            elif any(backward):
                joined = (piece if backward[0] else piece[::-1]) + joined
            else:
                continue
            del rest[index]
            break
        else:
            return None
    return shapely.remove_repeated_points(LineString(joined))


def _features(file: ShapeFile) -> tuple[list[tuple[str, dict[str, str], Any]], list[str]]:
    """Keep what is of a course, and say which words were misspelt or unknown."""
    features = []
    taken: Counter[tuple[str, str]] = Counter()
    unknown: Counter[str] = Counter()
    columns = [name for name in file.shapes.columns if name != "geometry"]
    for values, geometry in zip(
        file.shapes[columns].itertuples(index=False, name=None), file.shapes.geometry, strict=True
    ):
        tags = clean_tags(dict(zip(columns, values, strict=True)))
        kind, doubt = shape_kind(tags)
        if doubt is not None:
            if kind is None:
                unknown[doubt] += 1
            else:
                taken[doubt, kind] += 1
        if kind == "hole" and geometry is not None and geometry.geom_type in ("Point", "MultiPoint"):
            # Some mappers tag the hole in the green so, others the way to it.
            kind = "pin"
        if kind is not None:
            features.append((kind, tags, geometry))
    doubts = [
        f"golf={written!r} is taken as {kind.replace('_', ' ')} ({count} x)"
        for (written, kind), count in taken.items()
    ]
    doubts += [
        f"golf={written!r} is not known and left out ({count} x)" for written, count in unknown.items()
    ]
    return features, doubts


def _add_hole(drawing: Drawing, tags: dict[str, str], geometry: Any) -> None:
    numbers = hole_numbers(tags.get("ref")) or hole_numbers(tags.get("name"))
    line: LineString | None
    if geometry is None:
        drawing.unusable.append((numbers, "its line has no usable positions"))
        return
    if isinstance(geometry, MultiLineString):
        line = join_pieces(geometry.geoms)
        if line is None:
            drawing.unusable.append(
                (numbers, f"the pieces of its line do not meet, {drawing.place(geometry)}")
            )
            return
    elif isinstance(geometry, LineString):
        line = geometry
    else:
        drawing.unusable.append(
            (numbers, f"it is drawn as an area, not as a line, {drawing.place(geometry)}")
        )
        return
    ends_m = shapely.distance(Point(line.coords[0]), Point(line.coords[-1]))
    if line.length < SHORTEST_M:
        drawing.unusable.append(
            (numbers, f"its line is only {line.length:.1f} m long, {drawing.place(line)}")
        )
    elif ends_m < SHORTEST_M:
        drawing.unusable.append((numbers, f"its line ends where it starts, {drawing.place(line)}"))
    else:
        drawing.holes.append(DrawnHole(line, tags, numbers))


def _add_shape(drawing: Drawing, kind: str, tags: dict[str, str], degrees: Any, mended: Counter[str]) -> None:
    label = kind.replace("_", " ")
    geometry = drawing.frame.geometry_to_metres(degrees)
    if not (np.abs(shapely.get_coordinates(geometry)) < 2.0 * WIDEST_M).all():
        mended[f"{label} far from the course: left out"] += 1
        return
    if isinstance(geometry, MultiPolygon) and (np.abs(shapely.get_coordinates(degrees)[:, 0]) == 180.0).any():
        # Cut in two at the antimeridian, as RFC 7946 asks: one piece again.
        geometry = shapely.union_all(list(geometry.geoms), grid_size=0.001)
    mapped = geometry
    if kind in AREA_KINDS:
        dimension = int(shapely.get_dimensions(geometry))
        if dimension == 1:
            line = join_pieces(geometry.geoms) if isinstance(geometry, MultiLineString) else geometry
            coords = list(line.coords) if line is not None else []
            if len(coords) > 3 and _near(coords[0], coords[-1]):
                mended[f"the outline of a {label} does not close: closed"] += 1
                mapped = repair_geometry(Polygon(coords))
            elif kind.startswith("water"):
                mended[f"{label} drawn as a line: taken as {DITCH_WIDTH_M:.0f} m wide"] += 1
                mapped = geometry.buffer(DITCH_WIDTH_M / 2)
            else:
                mended[f"{label} drawn as a line: left out"] += 1
                return
        elif dimension == 0 and kind in ("tee", "green"):
            radius_m = TEE_RADIUS_M if kind == "tee" else GREEN_RADIUS_M
            mended[f"{kind} drawn as a point: taken as round, {radius_m:.0f} m in radius"] += 1
            mapped = geometry.centroid.buffer(radius_m)
        elif dimension == 0:
            mended[f"{label} drawn as a point: left out"] += 1
            return
    if mapped is None:
        mended[f"{label} without extent: left out"] += 1
        return
    if mapped is not geometry:
        degrees = drawing.frame.geometry_to_degrees(mapped)
    tees = tee_names(tags) if kind == "tee" else ()
    name = tags.get("name", "") or " ".join(tees)
    drawing.shapes.append(DrawnShape(kind, mapped, degrees, name, tees))


def _drop_copies(drawing: Drawing) -> None:
    """Keep one of shapes that are drawn twice, as when two exports were put together."""
    seen: dict[tuple[str, bytes], DrawnShape] = {}
    for shape in drawing.shapes:
        seen.setdefault((shape.kind, shapely.normalize(shape.geometry).wkb), shape)
    if len(seen) < len(drawing.shapes):
        drawing.warnings.append(
            f"{len(drawing.shapes) - len(seen)} shapes are drawn twice: one of each is used"
        )
        drawing.shapes[:] = seen.values()


def _near(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return bool(np.hypot(one[0] - other[0], one[1] - other[1]) <= JOIN_M)
