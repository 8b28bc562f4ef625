"""Shapes and holes brought together by where they lie: greens, pins, the chosen tee, and the rest."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.ops import substring

from trackgolf.course_read import GREEN_RADIUS_M, Drawing, DrawnShape
from trackgolf.course_repair import Findings, HoleDraft
from trackgolf.course_tags import tag_length_m
from trackgolf.errors import CourseError

__all__ = [
    "ASSUMED_GREEN",
    "NEAR_LINE_M",
    "choose_tee",
    "known_tees",
    "place_greens",
    "place_pins",
    "place_shapes",
]

ASSUMED_GREEN = "assumed green"
# How far from the end of its line a green or pin, and from its line another shape, still belongs to
# the hole [m]; common practice, no source.
GREEN_REACH_M = 60.0
PIN_REACH_M = 30.0
SHAPE_REACH_M = 80.0
# Two greens this near a line's end want a word; water this near a line is in play on it [m]; common
# practice, no source.
TWO_GREENS_M = 40.0
NEAR_LINE_M = 30.0
# Forward tees stand on the first part of a line: this share of it, at most so long [m]; common
# practice, no source.
TEE_SHARE = 0.4
TEE_ZONE_M = 180.0
_ALONG = frozenset({"fairway", "rough", "bunker", "water", "water_red", "water_yellow"})


def place_greens(drafts: Sequence[HoleDraft], drawing: Drawing, findings: Findings) -> None:
    """
    Give each hole its green: the one its line ends in, else the nearest that no other line ends in.

    Parameters
    ----------
    drafts : sequence of HoleDraft
        The holes, lines running tee to green; their greens are set.
    drawing : Drawing
        Its greens get their holes; a hole without one gets a round green,
        which is added to the shapes.
    findings : Findings
        Takes what was assumed.
    """
    greens = [shape for shape in drawing.shapes if shape.kind == "green"]
    placed = [(draft, _end(draft.line)) for draft in drafts]
    pairs = sorted(
        (
            (float(shape.geometry.distance(end)), float(shape.geometry.centroid.distance(end)), row, column)
            for row, (_, end) in enumerate(placed)
            for column, shape in enumerate(greens)
        ),
    )
    owner: dict[int, int] = {}
    chosen: dict[int, tuple[int, float]] = {}
    for gap_m, _, row, column in pairs:
        drawn = placed[row][0].drawn
        shared = column in owner and drawn is not None and placed[owner[column]][0].drawn is drawn
        free = column not in owner or gap_m == 0.0 or shared
        if gap_m <= GREEN_REACH_M and row not in chosen and free:
            chosen[row] = (column, gap_m)
            owner.setdefault(column, row)
    for row, (draft, end) in enumerate(placed):
        if row not in chosen:
            _assume_green(draft, end, drawing, findings)
            continue
        column, gap_m = chosen[row]
        draft.green = greens[column].geometry
        rivals = [
            other
            for other, shape in enumerate(greens)
            if other not in owner and shape.geometry.distance(end) <= TWO_GREENS_M
        ]
        how = "the one its line ends in is used" if gap_m == 0.0 else "the nearest is used"
        if rivals:
            findings.notes.append(
                (draft.number, f"{len(rivals) + 1} greens lie near the end of its line: {how}")
            )
        if gap_m > NEAR_LINE_M / 2:
            findings.notes.append((draft.number, f"its line ends {gap_m:.0f} m short of the green"))
    for column, shape in enumerate(greens):
        reach = ((float(shape.geometry.distance(end)), draft.number) for draft, end in placed)
        near = min(reach, default=None)
        if column in owner:
            shape.hole = placed[owner[column]][0].number
        elif near is not None and near[0] <= GREEN_REACH_M:
            shape.hole = near[1]


def place_pins(drafts: Sequence[HoleDraft], drawing: Drawing, findings: Findings) -> None:
    """
    Give each hole its pin: the one in its green, else one near the end of its line.

    Parameters
    ----------
    drafts : sequence of HoleDraft
        The holes with their greens; their pins are set.
    drawing : Drawing
        The course file, with the pins.
    findings : Findings
        Takes what was doubtful.
    """
    several = set()
    lost = 0
    for pin, numbers in drawing.pins:
        holes = [draft for draft in drafts if draft.green is not None]
        reach = [
            (
                draft.number not in numbers,
                0.0 if draft.green.covers(pin) else float(draft.green.distance(pin)),
                float(_end(draft.line).distance(pin)),
                index,
            )
            for index, draft in enumerate(holes)
        ]
        near = min((entry for entry in reach if entry[1] <= PIN_REACH_M), default=None)
        if near is None:
            lost += 1
            continue
        best = holes[near[3]]
        for draft in holes:
            # A line that is played twice has one pin for both.
            if draft is not best and (draft.drawn is not best.drawn or draft.drawn is None):
                continue
            if draft.pin is not None:
                several.add(draft.number)
            if draft.pin is None or pin.distance(_end(draft.line)) < draft.pin.distance(_end(draft.line)):
                draft.pin = pin
    findings.notes += [
        (number, "there are several pins: the one nearest the end of its line is used")
        for number in sorted(several)
    ]
    if lost:
        findings.warnings.append(f"{lost} pins near no green are left out")


def known_tees(drawing: Drawing) -> tuple[str, ...]:
    """
    List the tees that can be chosen.

    Parameters
    ----------
    drawing : Drawing
        The course file.

    Returns
    -------
    tuple of str
        Names of tees, from the tees drawn and from values that holes have
        for single tees, in the order met; upper and lower case are one.
    """
    names: dict[str, str] = {}
    for shape in drawing.shapes:
        for name in shape.tees:
            names.setdefault(name.lower(), name)
    for name in drawing.tees:
        names.setdefault(name.lower(), name)
    return tuple(names.values())


def choose_tee(
    drafts: Sequence[HoleDraft], drawing: Drawing, tee: str | None, findings: Findings, where: str
) -> str | None:
    """
    Let the lines start at one tee.

    Parameters
    ----------
    drafts : sequence of HoleDraft
        The holes; their lines are cut or lengthened.
    drawing : Drawing
        The course file; its tees get their holes.
    tee : str or None
        Name of the tee; None leaves the lines as drawn.
    findings : Findings
        Takes the holes that have no such tee.
    where : str
        Name of the file, for messages.

    Returns
    -------
    str or None
        The name as the file spells it.

    Raises
    ------
    CourseError
        If there is no tee of that name anywhere.
    """
    zones = [substring(draft.line, 0.0, min(TEE_SHARE * draft.line.length, TEE_ZONE_M)) for draft in drafts]
    mine: dict[int, list[DrawnShape]] = {}
    for shape in drawing.shapes:
        if shape.kind != "tee":
            continue
        reach = sorted((float(zone.distance(shape.geometry)), index) for index, zone in enumerate(zones))
        if not reach or reach[0][0] > GREEN_REACH_M:
            continue
        shape.hole = drafts[reach[0][1]].number
        owner = drafts[reach[0][1]].drawn
        for gap_m, index in reach:
            if index == reach[0][1] or (
                gap_m == reach[0][0] and owner is not None and drafts[index].drawn is owner
            ):
                mine.setdefault(index, []).append(shape)
    if tee is None:
        return None
    known = known_tees(drawing)
    spelt = next((name for name in known if name.lower() == " ".join(tee.lower().split())), None)
    if spelt is None:
        told = f"Known are {', '.join(known)}" if known else "No tee has a name in this file: leave --tee out"
        raise CourseError(f"there is no tee {tee!r}", where, told)
    for index, draft in enumerate(drafts):
        start = Point(draft.line.coords[0])
        named = [
            shape for shape in mine.get(index, ()) if spelt.lower() in (name.lower() for name in shape.tees)
        ]
        length_m = tag_length_m(draft.tags.get(f"dist:{spelt.lower()}"))
        if named:
            nearest = min(named, key=lambda shape: shape.geometry.distance(start))
            draft.line = start_at(draft.line, _middle(nearest.geometry))
        elif length_m is not None and length_m < draft.line.length:
            draft.line = LineString(
                substring(draft.line, draft.line.length - length_m, draft.line.length).coords
            )
        else:
            findings.notes.append(
                (draft.number, f"no tee {spelt} is drawn: measured from the start of its line")
            )
    return spelt


def start_at(line: LineString, place: Point) -> LineString:
    """
    Let a line start somewhere else: nearer, further back, or beside it.

    Parameters
    ----------
    line : shapely.LineString
        The line [m].
    place : shapely.Point
        Where it shall start [m].

    Returns
    -------
    shapely.LineString
        From the place straight to the next bend of the line beyond it.

    Examples
    --------
    >>> print(start_at(LineString([(0, 0), (100, 0), (100, 50)]), Point(20, 5)))
    LINESTRING (20 5, 100 0, 100 50)
    """
    station_m = line.project(place)
    stations_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(np.array(line.coords), axis=0).T))])
    rest = [xy for xy, at_m in zip(line.coords, stations_m, strict=True) if at_m > station_m + 0.5]
    return LineString([place.coords[0], *(rest or [line.coords[-1]])])


def place_shapes(drafts: Sequence[HoleDraft], drawing: Drawing) -> None:
    """
    Give fairways, rough, bunkers and water their hole, by spatial joins.

    Parameters
    ----------
    drafts : sequence of HoleDraft
        The holes.
    drawing : Drawing
        Its shapes get their holes: the hole whose line runs through the
        shape, else the nearest within reach; none where several holes have
        about the same claim, as with shared fairways and water. Water
        without a golf tag is dropped where it lies far from the holes, or
        where it is the same as a penalty area.
    """
    if not drafts:
        return
    _drop_idle_water(drawing, drafts)
    lines = gpd.GeoDataFrame(
        {"number": [draft.number for draft in drafts]}, geometry=[draft.line for draft in drafts]
    ).drop_duplicates("geometry")
    rows = [(index, shape) for index, shape in enumerate(drawing.shapes) if shape.kind in _ALONG]
    shapes = gpd.GeoDataFrame(
        {"kind": [shape.kind for _, shape in rows], "row": [index for index, _ in rows]},
        geometry=[shape.geometry for _, shape in rows],
    )
    reached = gpd.sjoin(shapes, lines, predicate="dwithin", distance=NEAR_LINE_M)
    reached = reached.groupby("row")["number"].agg(list)
    through = gpd.sjoin(shapes, lines, predicate="intersects").groupby("row")["number"].agg(list)
    nearest = gpd.sjoin_nearest(shapes, lines, max_distance=SHAPE_REACH_M, distance_col="gap_m")
    nearest = nearest.sort_values("gap_m", kind="stable").drop_duplicates("row").set_index("row")["number"]
    line_of = dict(zip(lines["number"], lines.geometry, strict=True))
    for index, shape in rows:
        if shape.kind.startswith("water"):
            claims = reached.get(index, [])
            shape.hole = claims[0] if len(claims) == 1 else None
            undecided = len(claims) > 1
        else:
            crossed = through.get(index, [])
            shares = sorted(
                ((shapely.intersection(shape.geometry, line_of[n]).length, n) for n in crossed), reverse=True
            )
            undecided = len(shares) > 1 and shares[1][0] > 0.5 * shares[0][0]
            shape.hole = shares[0][1] if shares and not undecided else None
        if shape.hole is None and not undecided and index in nearest.index:
            shape.hole = int(nearest[index])


def _drop_idle_water(drawing: Drawing, drafts: Sequence[HoleDraft]) -> None:
    """Keep plain water only near the holes or on the course, and only once."""
    ground = [draft.line.buffer(SHAPE_REACH_M) for draft in drafts]
    ground += [shape.geometry for shape in drawing.shapes if shape.kind == "course"]
    near = shapely.union_all(ground)
    hazards = [shape.geometry for shape in drawing.shapes if shape.kind in ("water_red", "water_yellow")]
    drawing.shapes[:] = [
        shape
        for shape in drawing.shapes
        if shape.kind != "water"
        or (
            near.intersects(shape.geometry)
            and not any(_same_area(shape.geometry, hazard) for hazard in hazards)
        )
    ]


def _same_area(one: Any, other: Any) -> bool:
    if not shapely.intersects(one, other):
        return False
    return bool(shapely.intersection(one, other).area > 0.9 * max(one.area, other.area))


def _assume_green(draft: HoleDraft, end: Point, drawing: Drawing, findings: Findings) -> None:
    """Put a round green where the line ends, so that what needs one works."""
    hint = draft.green_hint
    centre = hint if hint is not None and hint.distance(end) <= GREEN_REACH_M else end
    draft.green = centre.buffer(GREEN_RADIUS_M)
    findings.notes.append(
        (draft.number, f"no green is drawn: a round one of {GREEN_RADIUS_M:.0f} m radius is assumed")
    )
    drawing.shapes.append(
        DrawnShape(
            "green",
            draft.green,
            drawing.frame.geometry_to_degrees(draft.green),
            name=ASSUMED_GREEN,
            hole=draft.number,
        )
    )


def _end(line: LineString) -> Point:
    return Point(line.coords[-1])


def _middle(area: Any) -> Point:
    centre: Point = area.centroid
    return centre if area.covers(centre) else area.representative_point()
