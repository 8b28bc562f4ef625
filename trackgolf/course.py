"""Golf courses: holes with their lines and greens, and the shapes around them."""

from __future__ import annotations

import codecs
import logging
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from geo.errors import raise_faults
from trackgolf.course_facts import HoleFacts, add_card_lines, card_places, hole_facts, to_degrees
from trackgolf.course_place import choose_tee, known_tees, place_greens, place_pins, place_shapes
from trackgolf.course_read import Drawing, frame_of_holes, read_drawing
from trackgolf.course_repair import Findings, HoleDraft, number_holes, turn_lines
from trackgolf.course_tags import SHAPE_KINDS
from trackgolf.errors import CourseError
from trackgolf.scorecard import scan_scorecard

__all__ = [
    "OSM_CREDIT",
    "SHAPE_KINDS",
    "Course",
    "Hole",
    "course_from_scorecard",
    "is_scorecard",
    "read_course",
]

_LOG = logging.getLogger(__name__)

# Source: OpenStreetMap Foundation, attribution guideline: name the contributors and the licence, and
# link to the copyright page.
OSM_CREDIT = "© OpenStreetMap contributors, ODbL 1.0, openstreetmap.org/copyright"


@dataclass(frozen=True, slots=True)
class Hole:
    """
    One hole of a course.

    Parameters
    ----------
    number : int
        Number on the course, from 1.
    par : int
        Par, 3 to 6.
    stroke_index : int or None
        Rank in the order in which handicap strokes are received; None unknown.
    length_m : float
        Length from the chosen tee along the line of play [m].
    line : shapely.LineString or None
        Line of play, tee to green [deg], longitude first; None without positions.
    green : shapely.Polygon or shapely.MultiPolygon or None
        The putting green [deg]; None without positions.
    pin : shapely.Point or None
        Where the hole is cut [deg]; None unknown.
    """

    number: int
    par: int
    stroke_index: int | None
    length_m: float
    line: LineString | None = None
    green: Polygon | MultiPolygon | None = None
    pin: Point | None = None


@dataclass(frozen=True)
class Course:
    """
    A golf course as read, mended and checked.

    Parameters
    ----------
    name : str
        Name of the course, "" unknown.
    holes : tuple of Hole
        The holes by number.
    shapes : geopandas.GeoDataFrame
        Columns ``kind`` (one of `SHAPE_KINDS`), ``hole`` (Int64, missing where a
        shape serves no single hole), ``name`` and ``geometry``, in EPSG:4326.
    credit : str or None
        Credit the data ask for; None where they ask for none.
    tee : str or None
        Name of the tee the lengths are measured from; None where not chosen.
    tees : tuple of str
        Names of the tees known.
    warnings : tuple of str
        What was mended, assumed or doubted, one line each.
    invented : bool
        Whether the data say that the course is invented.
    """

    name: str
    holes: tuple[Hole, ...]
    shapes: gpd.GeoDataFrame
    credit: str | None = None
    tee: str | None = None
    tees: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    invented: bool = False

    @property
    def has_positions(self) -> bool:
        """Whether every hole has a line and a green."""
        return all(hole.line is not None and hole.green is not None for hole in self.holes)

    def hole(self, number: int) -> Hole:
        """
        Look up a hole by its number.

        Parameters
        ----------
        number : int
            Number of the hole.

        Returns
        -------
        Hole
            The hole.

        Raises
        ------
        CourseError
            If the course has no such hole.
        """
        for hole in self.holes:
            if hole.number == number:
                return hole
        numbers = ", ".join(str(hole.number) for hole in self.holes)
        raise CourseError(f"there is no hole {number}", self.name or None, f"Its holes are {numbers}")


def read_course(path: str | Path, *, scorecard: str | Path | None = None, tee: str | None = None) -> Course:
    """
    Read a course, mend what can be mended, and say so.

    Shapes get their hole by where they lie: a green belongs to the line that
    ends in it, a tee to the line that starts there, others to the line that
    runs through or past them.

    Parameters
    ----------
    path : str or pathlib.Path
        GeoJSON with OpenStreetMap golf tags, OpenStreetMap XML, Overpass
        JSON, or a scorecard; told apart by their content.
    scorecard : str or pathlib.Path, optional
        Card that fills in or replaces what the shapes lack: its par and
        stroke index win, its lengths are compared with the lines, and its
        positions stand in for lines that are not drawn.
    tee : str, optional
        Name of the tee to measure from; lines are cut or lengthened to start
        there. Lines start where they are drawn to start if left out.

    Returns
    -------
    Course
        The course; `Course.warnings` says what was mended, assumed or
        doubted.

    Raises
    ------
    CourseError
        If a file cannot be read, there is no such tee, or the holes cannot
        be made out: all faults at once.
    """
    if is_scorecard(path):
        if scorecard is not None:
            raise CourseError(
                "this is a scorecard too", str(path), "Give one scorecard, and the map as course"
            )
        return _course_of_card(path, tee)
    card, doubts = (None, ()) if scorecard is None else scan_scorecard(scorecard)
    drawing = read_drawing(path, card_places(card))
    return _course(drawing, card, tee, Path(path), doubts)


def course_from_scorecard(path: str | Path) -> Course:
    """
    Make a course from a scorecard alone.

    Parameters
    ----------
    path : str or pathlib.Path
        Scorecard, with positions of tees and greens or without.

    Returns
    -------
    Course
        With positions, straight lines and round greens; without, holes that
        have a length only, enough to plan but not to rebuild a round.

    Raises
    ------
    CourseError
        If the card cannot be used, or has a hole without length and
        positions.
    """
    return _course_of_card(path, None)


def is_scorecard(path: str | Path) -> bool:
    """
    Tell whether a file is a scorecard rather than a map, by its first line.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.

    Returns
    -------
    bool
        Whether it is text that begins neither like JSON nor like XML and
        has ``hole`` in it. False also if it cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            start = file.read(2000)
    except (OSError, ValueError):
        return False
    wide = start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    text = start.decode("utf-16" if wide else "utf-8-sig", errors="replace").lstrip().lower()
    return bool(text) and text[0] not in "{[<\x1e" and "\0" not in text and "hole" in text


def _course_of_card(path: str | Path, tee: str | None) -> Course:
    card, doubts = scan_scorecard(path)
    places = card_places(card)
    drawing = None if places is None else Drawing(frame_of_holes(places, str(path)))
    return _course(drawing, card, tee, Path(path), doubts)


def _course(
    drawing: Drawing | None, card: pd.DataFrame | None, tee: str | None, path: Path, doubts: Sequence[str]
) -> Course:
    """Run the steps from drawing and card to the course, in order."""
    findings = Findings(warnings=[*([] if drawing is None else drawing.warnings), *doubts])
    drafts: list[HoleDraft] = []
    if drawing is not None:
        placed = set() if card is None else set(card.dropna(subset=["tee_lon", "green_lon"])["hole"])
        drafts = number_holes(drawing, placed, findings)
        drafts = add_card_lines(drafts, card, drawing.frame, findings)
        turn_lines(drafts, drawing.shapes, findings)
        place_greens(drafts, drawing, findings)
        place_pins(drafts, drawing, findings)
        tee = choose_tee(drafts, drawing, tee, findings, str(path))
        place_shapes(drafts, drawing)
    elif tee is not None:
        raise CourseError(f"there is no tee {tee!r}", str(path), "A scorecard has no tees: leave --tee out")
    facts = hole_facts(drafts, card, None if drawing is None else drawing.frame, tee, findings)
    if drawing is not None and _LOG.isEnabledFor(logging.INFO):
        _log_places(drawing, drafts, tee)
    raise_faults(CourseError, findings.faults, str(path), "Mend them in the file, or give a scorecard")
    return Course(
        name=_name(drawing, drafts) or path.stem,
        holes=tuple(_hole(fact, drawing) for fact in facts),
        shapes=_shapes(drawing),
        credit=OSM_CREDIT if drawing is not None and drawing.from_osm else None,
        tee=tee,
        tees=() if drawing is None else known_tees(drawing),
        warnings=findings.lines(),
        invented=drawing is not None and drawing.invented,
    )


def _log_places(drawing: Drawing, drafts: Sequence[HoleDraft], tee: str | None) -> None:
    kinds = Counter(shape.kind for shape in drawing.shapes)
    listed = ", ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in kinds.most_common())
    _LOG.info(f"map: {len(drafts)} lines of holes, {len(drawing.pins)} pins; shapes: {listed or 'none'}")
    known = ", ".join(known_tees(drawing)) or "none"
    _LOG.info(
        f"tee: {tee or 'none was named, so lines start where they are drawn to start'}; known are {known}"
    )
    for draft in drafts:
        mine = Counter(shape.kind for shape in drawing.shapes if shape.hole == draft.number)
        places = ", ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in mine.most_common())
        drawn = "as tagged" if draft.drawn is not None else "made from the scorecard"
        _LOG.info(
            f"hole {draft.number}: line of {draft.line.length:.0f} m {drawn}; lie at it: {places or 'no shapes'}"
        )


def _hole(fact: HoleFacts, drawing: Drawing | None) -> Hole:
    green: Polygon | MultiPolygon | None = None
    pin: Point | None = None
    if fact.draft is not None and drawing is not None:
        # The shape as it was read, where there is one, rather than there and back through metres.
        green = next(
            (shape.degrees for shape in drawing.shapes if shape.geometry is fact.draft.green), None
        ) or drawing.frame.geometry_to_degrees(fact.draft.green)
        pin = None if fact.draft.pin is None else to_degrees(fact.draft.pin, drawing.frame)
    return Hole(fact.number, fact.par, fact.stroke_index, fact.length_m, fact.line, green, pin)


def _name(drawing: Drawing | None, drafts: Sequence[HoleDraft]) -> str:
    """Find the name of the outline that holds most of the lines, or is nearest to them."""
    outlines = [shape for shape in ([] if drawing is None else drawing.shapes) if shape.kind == "course"]
    named = [shape for shape in outlines if shape.name]
    if not named or not drafts:
        return ""
    lines = shapely.union_all([draft.line for draft in drafts])
    best = max(
        named,
        key=lambda shape: (
            shapely.intersection(shape.geometry, lines).length,
            -float(shape.geometry.distance(lines)),
        ),
    )
    return best.name


def _shapes(drawing: Drawing | None) -> gpd.GeoDataFrame:
    rows = [] if drawing is None else drawing.shapes
    table = pd.DataFrame(
        {
            "kind": pd.array([shape.kind for shape in rows], dtype=object),
            "hole": pd.array([shape.hole for shape in rows], dtype="Int64"),
            "name": pd.array([shape.name for shape in rows], dtype=object),
        }
    )
    return gpd.GeoDataFrame(table, geometry=[shape.degrees for shape in rows], crs="EPSG:4326")
