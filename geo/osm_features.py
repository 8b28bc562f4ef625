"""OpenStreetMap elements to features: closed ways to polygons, relations to areas."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any, TypeAlias

import shapely
from shapely.geometry import LineString, Point, Polygon

from geo.osm import OsmData, Position, Relation, Tags, Way

__all__ = ["Feature", "has_tag", "osm_features"]

Feature: TypeAlias = tuple[Tags, Any]

_AREA_RELATIONS = frozenset({"multipolygon", "boundary"})


def osm_features(
    data: OsmData,
    *,
    line_tags: Mapping[str, Collection[str]] | None = None,
    only: Mapping[str, Collection[str]] | None = None,
) -> tuple[list[Feature], list[str]]:
    """
    Turn tagged elements into features.

    Parameters
    ----------
    data : OsmData
        The elements.
    line_tags : mapping, optional
        Tags whose closed ways stay lines: key to values, in lower case; no
        values means every value. All other closed ways become polygons,
        unless ``area=no``.
    only : mapping, optional
        Keep only features that carry one of these tags: key to values, in
        lower case; no values means every value.

    Returns
    -------
    features : list of tuple
        Tags, with ``@id`` such as ``way/12`` added, and a shapely geometry, or
        None where the extract lacks the points for one. Relations of the types
        multipolygon and boundary are assembled by the even-odd rule, whatever
        the roles say; ways that only repeat the tags of their relation are
        not features of their own.
    warnings : list of str
        What is incomplete.
    """
    features: list[Feature] = []
    warnings: list[str] = []
    spent: set[int] = set()
    for number, relation in data.relations.items():
        if relation.tags.get("type") not in _AREA_RELATIONS:
            continue
        tags = _relation_tags(relation, data, spent)
        if not (tags and has_tag(tags, only)):
            continue
        area, complaint = _relation_area(relation, data)
        if complaint:
            warnings.append(f"relation/{number}: {complaint}")
        features.append(({**tags, "@id": f"relation/{number}"}, area))
    broken = 0
    for number, way in data.ways.items():
        if number in spent or not (way.tags and has_tag(way.tags, only)):
            continue
        positions, complete = _way_positions(way, data)
        broken += not complete
        features.append(
            ({**way.tags, "@id": f"way/{number}"}, _way_geometry(positions, way.tags, line_tags or {}))
        )
    if broken:
        warnings.append(f"{broken} ways lack some of their points in this extract")
    features += [
        ({**tags, "@id": f"node/{number}"}, Point(data.nodes[number]))
        for number, tags in data.node_tags.items()
        if has_tag(tags, only)
    ]
    return features, warnings


def has_tag(tags: Mapping[str, str], wanted: Mapping[str, Collection[str]] | None) -> bool:
    """
    Tell whether a feature carries one of some tags.

    Parameters
    ----------
    tags : mapping
        Tags of the feature; spaces around them and their case do not count.
    wanted : mapping or None
        Key to values, in lower case; no values means every value. None
        means every tag.

    Returns
    -------
    bool
        Whether one of them is there.

    Examples
    --------
    >>> wanted = {"golf": (), "natural": {"water"}}
    >>> has_tag({"Golf": "green"}, wanted), has_tag({"natural": "wood"}, wanted)
    (True, False)
    """
    if wanted is None:
        return True
    for key, value in tags.items():
        values = wanted.get(key.strip().lower())
        if values is not None and (not values or value.strip().lower() in values):
            return True
    return False


def _relation_tags(relation: Relation, data: OsmData, spent: set[int]) -> Tags:
    """Find what a relation says it is, and mark the outer ways that say nothing more."""
    own = {key: value for key, value in relation.tags.items() if key != "type"}
    outer = [ref for ref, role in relation.members if role != "inner" and ref in data.ways]
    if not own:
        # The old way of mapping: the tags stand on the outer ways.
        told = [data.ways[ref].tags for ref in outer if data.ways[ref].tags]
        if told and all(tags == told[0] for tags in told):
            own = dict(told[0])
    spent.update(
        ref
        for ref in outer
        if own and all(own.get(key) == value for key, value in data.ways[ref].tags.items())
    )
    return own


def _relation_area(relation: Relation, data: OsmData) -> tuple[Any, str]:
    """Assemble an area from its member ways."""
    area: Any = None
    open_lines: dict[bool, list[LineString]] = {True: [], False: []}
    missing = 0
    rings: list[Polygon] = []
    courses: list[tuple[str, list[Position]]] = []
    for ref, role in relation.members:
        positions, complete = _way_positions(data.ways[ref], data) if ref in data.ways else ([], False)
        missing += not complete
        courses.append((role, positions))
    lons = [lon for _, positions in courses for lon, _ in positions]
    # Across the antimeridian the plane has to be made whole before rings can close in it.
    turn = 360.0 if lons and max(lons) - min(lons) > 180.0 else 0.0
    for role, course in courses:
        positions = [(lon + turn if lon < 0.0 else lon, lat) for lon, lat in course]
        if len(positions) >= 4 and positions[0] == positions[-1]:
            rings.append(Polygon(positions))
        elif len(positions) >= 2:
            open_lines[role == "inner"].append(LineString(positions))
    left_over = 0
    for lines in open_lines.values():
        if lines:
            faces, cuts, dangles, _ = shapely.polygonize_full(lines)
            rings += [Polygon(face.exterior) for face in faces.geoms if isinstance(face, Polygon)]
            left_over += len(cuts.geoms) + len(dangles.geoms)
    for ring in rings:
        sound = shapely.make_valid(ring)
        area = sound if area is None else shapely.symmetric_difference(area, sound)
    complaints = []
    if missing:
        complaints.append(f"{missing} of its {len(relation.members)} ways are not in this extract")
    if left_over:
        complaints.append("its outline does not close everywhere")
    return area, ", ".join(complaints)


def _way_positions(way: Way, data: OsmData) -> tuple[list[Position], bool]:
    """Give the known points of a way, and whether these are all."""
    positions: Iterable[Position | None] = way.positions or [data.nodes.get(node) for node in way.nodes]
    known = [position for position in positions if position is not None]
    return known, bool(known) and len(known) == len(way.positions or way.nodes)


def _way_geometry(
    positions: list[Position], tags: Tags, line_tags: Mapping[str, Collection[str]]
) -> LineString | Polygon | Point | None:
    if len(positions) < 2:
        return Point(positions[0]) if positions else None
    closed = len(positions) >= 4 and positions[0] == positions[-1]
    if not closed or tags.get("area") == "no":
        return LineString(positions)
    return LineString(positions) if has_tag(tags, line_tags) else Polygon(positions)
