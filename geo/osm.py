"""
OpenStreetMap data as it is exported, XML or JSON, to nodes, ways and relations.

GDAL's own driver is not used: it needs a settings file to keep every tag,
and makes areas of closed ways only for keys on a list of its own.
"""

from __future__ import annotations

import io
import json
import math
import xml.parsers.expat
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from geo.errors import InputError

__all__ = ["OsmData", "Position", "Relation", "Tags", "Way", "parse_osm_json", "parse_osm_xml"]

Position: TypeAlias = tuple[float, float]
Tags: TypeAlias = dict[str, str]
_CHUNK_BYTES = 1 << 16


@dataclass(slots=True)
class Way:
    """
    A way: its course by node numbers, by positions, or by both.

    Parameters
    ----------
    nodes : list of int
        Numbers of its nodes.
    positions : list of tuple or None
        Longitude and latitude of its points [deg], None where the extract has
        a gap; an empty list where only the node numbers are given.
    tags : dict
        Its tags.
    """

    nodes: list[int] = field(default_factory=list)
    positions: list[Position | None] = field(default_factory=list)
    tags: Tags = field(default_factory=dict)


@dataclass(slots=True)
class Relation:
    """
    A relation with the ways it has as members.

    Parameters
    ----------
    members : list of tuple
        Number and role of each way.
    tags : dict
        Its tags.
    """

    members: list[tuple[int, str]] = field(default_factory=list)
    tags: Tags = field(default_factory=dict)


@dataclass(slots=True)
class OsmData:
    """
    The elements of one extract, by their numbers.

    Parameters
    ----------
    nodes : dict
        Longitude and latitude [deg] of every node.
    node_tags : dict
        Tags of the nodes that have some.
    ways : dict
        Every way.
    relations : dict
        Every relation.
    warnings : list of str
        What is doubtful about the extract, one line each.
    """

    nodes: dict[int, Position] = field(default_factory=dict)
    node_tags: dict[int, Tags] = field(default_factory=dict)
    ways: dict[int, Way] = field(default_factory=dict)
    relations: dict[int, Relation] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)


def parse_osm_xml(content: bytes, where: str) -> OsmData:
    """
    Read OpenStreetMap XML, as its website and Overpass export it.

    Parameters
    ----------
    content : bytes
        The file.
    where : str
        Its name, for messages.

    Returns
    -------
    OsmData
        Its elements; deleted ones are left out.

    Raises
    ------
    InputError
        If it is not well-formed, cut short, declares a document type, or is
        XML of another kind.
    """
    reader = _XmlReader(where)
    parser = xml.parsers.expat.ParserCreate()
    parser.StartDoctypeDeclHandler = reader.doctype
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.text
    try:
        # In pieces, so that a wrong root is refused before the rest is read.
        stream = io.BytesIO(content)
        while piece := stream.read(_CHUNK_BYTES):
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except xml.parsers.expat.ExpatError as fault:
        raise InputError(
            f"the XML breaks off or is damaged at line {fault.lineno}", where, "Export it again"
        ) from fault
    except (ValueError, LookupError) as fault:
        raise InputError(f"the XML cannot be decoded ({fault})", where, "Save it as UTF-8") from fault
    return reader.data


class _XmlReader:
    """Handlers of the streaming parser; numbers that are none drop the element they stand in."""

    def __init__(self, where: str) -> None:
        self.data = OsmData()
        self._where = where
        self._rooted = False
        self._in_remark = False
        self._remark = ""
        self._id: int | None = None
        self._tags: Tags = {}
        self._way = Way()
        self._relation = Relation()
        self._member_way: int | None = None

    def doctype(self, *_: Any) -> None:
        raise InputError(
            "the file declares a document type, which map data never need", self._where, "Export it again"
        )

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if not self._rooted:
            self._check_root(name)
        elif name in ("node", "way", "relation"):
            gone = attributes.get("visible") == "false" or attributes.get("action") == "delete"
            self._id = None if gone else _integer(attributes.get("id"))
            self._tags = {}
            self._way, self._relation = Way(), Relation()
            position = _position(attributes.get("lon"), attributes.get("lat"))
            if name == "node" and self._id is not None and position is not None:
                self.data.nodes[self._id] = position
        elif name == "tag":
            self._tags[attributes.get("k", "")] = attributes.get("v", "")
        elif name == "nd":
            self._point(attributes)
        elif name == "member":
            number = _integer(attributes.get("ref"))
            self._member_way = number if attributes.get("type") == "way" else None
            if self._member_way is not None:
                self._relation.members.append((self._member_way, attributes.get("role", "")))
                # A way spelt out inside a relation may come again on its own, with its tags; that one wins.
                if self._member_way not in self.data.ways:
                    self.data.ways[self._member_way] = Way()
        elif name == "remark":
            self._in_remark = True

    def end(self, name: str) -> None:
        if name in ("node", "way", "relation"):
            self._close(name)
        elif name == "member":
            self._member_way = None
        elif name == "remark":
            self._in_remark = False
            self.data.warnings.append(_remark(self._remark))

    def text(self, text: str) -> None:
        if self._in_remark:
            self._remark += text

    def _check_root(self, name: str) -> None:
        self._rooted = True
        if name == "osm":
            return
        kind = {"gpx": "a GPX track", "kml": "KML", "html": "a web page", "osmchange": "a change file"}.get(
            name.lower(), f"XML with the root {name[:40]!r}"
        )
        raise InputError(
            f"this is {kind}, not a map", self._where, "Give GeoJSON, OpenStreetMap XML or Overpass JSON"
        )

    def _point(self, attributes: dict[str, str]) -> None:
        position = _position(attributes.get("lon"), attributes.get("lat"))
        if self._member_way is not None:
            self.data.ways[self._member_way].positions.append(position)
            return
        number = _integer(attributes.get("ref"))
        if number is not None:
            self._way.nodes.append(number)
        if position is not None or number is None:
            self._way.positions.append(position)

    def _close(self, name: str) -> None:
        if self._id is None:
            return
        if name == "node" and self._tags and self._id in self.data.nodes:
            self.data.node_tags[self._id] = self._tags
        elif name == "way":
            self._way.tags = self._tags
            self.data.ways[self._id] = self._way
        elif name == "relation":
            self._relation.tags = self._tags
            self.data.relations[self._id] = self._relation
        self._id = None


def parse_osm_json(document: Mapping[str, Any]) -> OsmData:
    """
    Read the JSON of an Overpass answer, with geometry in place or with nodes apart.

    Parameters
    ----------
    document : mapping
        The parsed JSON, with a list ``elements``.

    Returns
    -------
    OsmData
        Its elements. What is malformed is left out and counted in a warning.
    """
    data = OsmData()
    damaged = 0
    elements = document.get("elements")
    for element in elements if isinstance(elements, list) else []:
        number = _integer(element.get("id")) if isinstance(element, dict) else None
        if number is None:
            damaged += 1
            continue
        tags = _json_tags(element.get("tags"))
        kind = element.get("type")
        if kind == "node":
            position = _position(element.get("lon"), element.get("lat"))
            if position is None:
                damaged += 1
                continue
            data.nodes[number] = position
            if tags:
                data.node_tags[number] = tags
        elif kind == "way":
            way = Way(_json_numbers(element.get("nodes")), _json_positions(element.get("geometry")), tags)
            known = data.ways.get(number)
            # The same way may come twice: once in full, once as a skeleton or inside a relation.
            if known is not None:
                way = Way(way.nodes or known.nodes, way.positions or known.positions, tags or known.tags)
            data.ways[number] = way
        elif kind == "relation":
            relation = Relation(tags=tags)
            members = element.get("members")
            for member in members if isinstance(members, list) else []:
                ref = _integer(member.get("ref")) if isinstance(member, dict) else None
                if ref is None or member.get("type") != "way":
                    continue
                relation.members.append((ref, str(member.get("role") or "")))
                positions = _json_positions(member.get("geometry"))
                way = data.ways.setdefault(ref, Way())
                way.positions = way.positions or positions
            if number not in data.relations or tags:
                data.relations[number] = relation
    if damaged:
        data.warnings.append(f"{damaged} elements without a number or a position are left out")
    if document.get("remark"):
        data.warnings.append(_remark(str(document["remark"])))
    return data


def _remark(text: str) -> str:
    return f"the server that made this file says {' '.join(text.split())[:200]!r}, so it may be incomplete"


def _integer(value: Any) -> int | None:
    try:
        return None if isinstance(value, bool) or value is None else int(value)
    except (ValueError, TypeError, OverflowError):
        return None


def _position(lon: Any, lat: Any) -> Position | None:
    try:
        position = (float(lon), float(lat))
    except (ValueError, TypeError, OverflowError):
        return None
    on_earth = math.isfinite(position[0]) and abs(position[0]) <= 180.0 and abs(position[1]) <= 90.0
    return position if on_earth else None


def _json_tags(value: Any) -> Tags:
    if not isinstance(value, dict):
        return {}
    return {
        key: item if isinstance(item, str) else json.dumps(item)
        for key, item in value.items()
        if item is not None
    }


def _json_numbers(value: Any) -> list[int]:
    numbers = [_integer(item) for item in value] if isinstance(value, list) else []
    return [number for number in numbers if number is not None]


def _json_positions(value: Any) -> list[Position | None]:
    if not isinstance(value, list):
        return []
    return [_position(item.get("lon"), item.get("lat")) if isinstance(item, dict) else None for item in value]
