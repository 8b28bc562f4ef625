"""Vector files to tables of shapes: the format found from the content, geometries repaired."""

from __future__ import annotations

import codecs
import json
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from geo.errors import InputError
from geo.files import decode_text, read_capped
from geo.geojson import Feature, geojson_features, is_geojson
from geo.osm import parse_osm_json, parse_osm_xml
from geo.osm_features import has_tag, osm_features

__all__ = ["ShapeFile", "read_shapes", "repair_geometry"]

# A whole town as OpenStreetMap XML is some 50 MB; a course is one or two.
MAX_BYTES = 64_000_000

_DO = "Give GeoJSON, OpenStreetMap XML or Overpass JSON"
_OTHER_FORMATS = (
    (b"\x1f\x8b", "a gzip archive", "Unpack it first"),
    (b"PK\x03\x04", "a zip archive", "Unpack it first"),
    (b"SQLite format 3", "a GeoPackage or other database", "Export it as GeoJSON"),
    (b"\x00\x00'\n", "a shapefile", "Export it as GeoJSON"),
    (b"fgb", "FlatGeobuf", "Export it as GeoJSON"),
    (b"%PDF", "a PDF", _DO),
    (b"\x89PNG", "a picture", _DO),
    (b"\xff\xd8\xff", "a picture", _DO),
)


@dataclass(frozen=True)
class ShapeFile:
    """
    What a vector file holds.

    Parameters
    ----------
    shapes : geopandas.GeoDataFrame
        A row a feature: a column of strings (None where absent) for each tag,
        and ``geometry`` in EPSG:4326, longitudes in [-180, 180] [deg], None
        where a feature has none that can be used. A shape over the
        antimeridian has vertices on both sides: turn it into metres before
        asking how it lies.
    file_format : str
        ``geojson``, ``osm_xml`` or ``overpass_json``.
    from_osm : bool
        Whether the data come from OpenStreetMap and ask for its credit.
    warnings : tuple of str
        What was mended or is doubtful, one line each.
    """

    shapes: gpd.GeoDataFrame
    file_format: str
    from_osm: bool
    warnings: tuple[str, ...] = ()


def read_shapes(
    path: str | Path,
    *,
    line_tags: Mapping[str, Collection[str]] | None = None,
    only: Mapping[str, Collection[str]] | None = None,
    max_bytes: int = MAX_BYTES,
) -> ShapeFile:
    """
    Read GeoJSON, OpenStreetMap XML or Overpass JSON, whatever the file is called.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.
    line_tags : mapping, optional
        Tags whose closed OpenStreetMap ways stay lines; see
        `geo.osm_features.osm_features`.
    only : mapping, optional
        Keep only features that carry one of these tags: key to values, in
        lower case; no values means every value.
    max_bytes : int, optional
        Size above which a file is refused [byte].

    Returns
    -------
    ShapeFile
        The features, with geometries made valid.

    Raises
    ------
    InputError
        If there is no such file, it is empty, too large, damaged, or of
        another format.
    """
    where = str(path)
    content = read_capped(path, max_bytes, "map", if_large="Export only the course and its edge")
    if not content.strip():
        raise InputError("the file is empty", where, _DO)
    start = _start(content)
    warnings: list[str]
    features: list[Feature]
    if start[:1] in (b"{", b"[", b"\x1e"):
        document = _json(content, where)
        if isinstance(document, dict) and isinstance(document.get("elements"), list):
            data = parse_osm_json(document)
            features, warnings = osm_features(data, line_tags=line_tags, only=only)
            warnings = data.warnings + warnings
            file_format, from_osm = "overpass_json", True
        elif is_geojson(document):
            try:
                features, warnings, from_osm = geojson_features(document, where)
            except RecursionError as fault:
                raise InputError("the JSON is nested too deeply", where, "Export it again") from fault
            features = [feature for feature in features if has_tag(feature[0], only)]
            file_format = "geojson"
        else:
            topology = isinstance(document, dict) and document.get("type") == "Topology"
            raise InputError(
                "this is TopoJSON, not GeoJSON" if topology else "this JSON is not a map", where, _DO
            )
    elif start[:1] == b"<":
        if re.match(rb"<(!doctype\s+html|html)\b", start[:200], re.IGNORECASE):
            raise InputError("this is a web page, not a map", where, _DO)
        data = parse_osm_xml(content, where)
        features, warnings = osm_features(data, line_tags=line_tags, only=only)
        warnings = data.warnings + warnings
        file_format, from_osm = "osm_xml", True
    else:
        raise _other_format(content, where)
    shapes, complaints = _table(features)
    return ShapeFile(shapes, file_format, from_osm, (*warnings, *complaints))


def repair_geometry(geometry: Any) -> Any:
    """
    Make a geometry sound.

    Parameters
    ----------
    geometry : shapely.Geometry or None
        Longitude and latitude [deg].

    Returns
    -------
    shapely.Geometry or None
        The same in two dimensions, valid by the rules of simple features:
        areas that cross themselves are split, repeated points dropped, and
        of mixed pieces only those of the highest dimension kept. None if
        nothing is left: a missing or empty geometry, a line without length,
        an area without extent.

    Notes
    -----
    What crosses the antimeridian is repaired as the one piece it is on the
    ground, and keeps its longitudes in [-180, 180].

    Examples
    --------
    >>> bow_tie = shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])
    >>> repair_geometry(bow_tie).geom_type
    'MultiPolygon'
    """
    if geometry is None or geometry.is_empty:
        return None
    flat = shapely.force_2d(geometry)
    lons = shapely.get_coordinates(flat)[:, 0]
    across = bool(lons.max() - lons.min() > 180.0)
    if across:
        flat = shapely.transform(
            flat, lambda xy: np.column_stack([np.where(xy[:, 0] < 0.0, xy[:, 0] + 360.0, xy[:, 0]), xy[:, 1]])
        )
    dimension = int(shapely.get_dimensions(flat))
    if dimension > 0:
        flat = shapely.remove_repeated_points(flat)
    if not flat.is_valid or flat.geom_type == "GeometryCollection":
        flat = shapely.make_valid(flat)
        pieces = [
            piece for piece in shapely.get_parts(flat) if int(shapely.get_dimensions(piece)) == dimension
        ]
        pieces = [single for piece in pieces for single in shapely.get_parts(piece)]
        if not pieces:
            return None
        flat = pieces[0] if len(pieces) == 1 else shapely.union_all(pieces)
    if (dimension == 1 and flat.length == 0.0) or (dimension == 2 and flat.area == 0.0):
        return None
    if across:
        flat = shapely.transform(
            flat,
            lambda xy: np.column_stack([np.where(xy[:, 0] > 180.0, xy[:, 0] - 360.0, xy[:, 0]), xy[:, 1]]),
        )
    return flat


def _table(features: Iterable[Feature]) -> tuple[gpd.GeoDataFrame, list[str]]:
    rows: list[dict[str, str]] = []
    geometries: list[Any] = []
    repaired = lost = 0
    for tags, geometry in features:
        sound = repair_geometry(geometry)
        repaired += sound is not None and not geometry.is_valid
        lost += sound is None
        # The one name that the table needs for itself.
        rows.append({("geometry_tag" if key == "geometry" else key): value for key, value in tags.items()})
        geometries.append(sound)
    frame = pd.DataFrame(rows, dtype=object)
    frame = frame.where(frame.notna(), None)
    warnings = []
    if repaired:
        warnings.append(f"{_count(repaired, 'shape')} crossed or touched themselves and were repaired")
    if lost:
        warnings.append(f"{_count(lost, 'feature')} without a usable geometry")
    return gpd.GeoDataFrame(frame, geometry=geometries, crs="EPSG:4326"), warnings


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _start(content: bytes) -> bytes:
    """Give the first bytes that say something, in ASCII."""
    head = content[:2000]
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        head = head[: len(head) // 2 * 2].decode("utf-16", "replace").encode("ascii", "replace")
    return head.removeprefix(codecs.BOM_UTF8).lstrip()


def _json(content: bytes, where: str) -> Any:
    text = decode_text(content)
    try:
        return json.loads(text)
    except json.JSONDecodeError as fault:
        sequence = _json_lines(text)
        if sequence is not None:
            return sequence
        raise InputError(
            f"the JSON breaks off or is damaged at line {fault.lineno}", where, "Export it again"
        ) from fault
    except (RecursionError, ValueError) as fault:
        raise InputError("the JSON cannot be understood", where, "Export it again") from fault


def _json_lines(text: str) -> dict[str, Any] | None:
    """Read a sequence of features, one a line (RFC 8142 with or without its separators)."""
    features = []
    for line in text.replace("\x1e", "\n").splitlines():
        if not line.strip():
            continue
        try:
            feature = json.loads(line)
        except (ValueError, RecursionError):
            return None
        if not (isinstance(feature, dict) and feature.get("type") == "Feature"):
            return None
        features.append(feature)
    return {"type": "FeatureCollection", "features": features}


def _other_format(content: bytes, where: str) -> InputError:
    for magic, name, do in _OTHER_FORMATS:
        if content.startswith(magic):
            return InputError(f"this is {name}, not a map that can be read", where, do)
    if b"OSMHeader" in content[:64]:
        return InputError("this is OpenStreetMap PBF", where, "Export it as OpenStreetMap XML")
    return InputError("this is neither JSON nor XML", where, _DO)
