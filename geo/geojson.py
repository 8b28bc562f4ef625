"""GeoJSON to features and back, by RFC 7946 when writing and with patience when reading."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any, TypeAlias

import numpy as np
import pyproj
import shapely
from shapely.geometry import (
    GeometryCollection,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Polygon,
    box,
    mapping,
)
from shapely.geometry.polygon import orient

from geo.errors import InputError

__all__ = ["Feature", "geojson_features", "geojson_geometry", "geojson_text", "is_geojson"]

Feature: TypeAlias = tuple[dict[str, str], Any]

# Source: RFC 7946, section 11.2: six decimals are about 10 cm; seven lose less than 12 mm.
_DECIMALS = 7
_DEPTH = {
    "Point": 0,
    "MultiPoint": 1,
    "LineString": 1,
    "MultiLineString": 2,
    "Polygon": 2,
    "MultiPolygon": 3,
}
_TYPES = frozenset({"FeatureCollection", "Feature", "GeometryCollection", *_DEPTH})
_OSM_KEYS = frozenset({"@id", "osm_id", "osm_type", "osm_way_id", "@osm_id"})
_HSTORE = re.compile(r'"((?:[^"\\]|\\.)*)"\s*=>\s*"((?:[^"\\]|\\.)*)"')


def is_geojson(document: Any) -> bool:
    """
    Tell whether parsed JSON is GeoJSON.

    Parameters
    ----------
    document : object
        What a JSON parser returned.

    Returns
    -------
    bool
        Whether it has one of the types of RFC 7946.
    """
    kind = document.get("type") if isinstance(document, dict) else None
    return isinstance(kind, str) and kind in _TYPES


def geojson_features(document: Mapping[str, Any], where: str) -> tuple[list[Feature], list[str], bool]:
    """
    Take the features out of parsed GeoJSON.

    Parameters
    ----------
    document : mapping
        A FeatureCollection, a single Feature or a bare geometry.
    where : str
        Name of the file, for messages.

    Returns
    -------
    features : list of tuple
        Tags as strings, and a shapely geometry in WGS 84 longitude and
        latitude [deg], in [-180, 180], or None where it has none that can be
        used. Numbers become text without needless decimals, true and false
        ``yes`` and ``no``, lists and objects JSON; an object ``tags`` and the
        column ``other_tags`` that GDAL writes are unpacked; a feature's id is
        the tag ``@id``.
    warnings : list of str
        What was mended.
    from_osm : bool
        Whether something in it says that it comes from OpenStreetMap.

    Raises
    ------
    InputError
        If the positions are no degrees.
    """
    features: list[Feature] = []
    items = _items(document)
    for item in items:
        tags = _tags(item)
        features.append((tags, _geometry(item.get("geometry"))))
    warnings: list[str] = []
    geometries, complaints = _in_degrees([geometry for _, geometry in features], _crs(document), where)
    warnings += complaints
    from_osm = _names_osm(document.get(key) for key in ("attribution", "copyright", "credit", "generator"))
    from_osm = from_osm or any(
        not _OSM_KEYS.isdisjoint(tags)
        or _names_osm(tags.get(key) for key in ("attribution", "source", "copyright"))
        for tags, _ in features
    )
    return (
        [(tags, geometry) for (tags, _), geometry in zip(features, geometries, strict=True)],
        (warnings),
        from_osm,
    )


def geojson_geometry(geometry: Any) -> dict[str, Any]:
    """
    Turn a geometry into GeoJSON as RFC 7946 wants it.

    Parameters
    ----------
    geometry : shapely.Geometry
        Longitude and latitude [deg].

    Returns
    -------
    dict
        Geometry object: seven decimals, exterior rings counterclockwise and
        holes clockwise, cut in two where it crosses the antimeridian.

    Examples
    --------
    >>> clockwise = shapely.Polygon([(0, 0), (0, 1), (1, 1), (1, 0)])
    >>> geojson_geometry(clockwise)["coordinates"][0][:2]
    [[0.0, 0.0], [1.0, 0.0]]
    """
    parts = _cut(shapely.force_2d(geometry))
    parts = shapely.transform(parts, lambda xy: np.round(xy, _DECIMALS) + 0.0)
    if isinstance(parts, Polygon):
        parts = orient(parts)
    elif isinstance(parts, MultiPolygon):
        parts = MultiPolygon([orient(part) for part in parts.geoms])
    result: dict[str, Any] = json.loads(json.dumps(mapping(parts)))
    return result


def geojson_text(document: Mapping[str, Any]) -> str:
    """
    Write a feature collection as text, one feature a line.

    Parameters
    ----------
    document : mapping
        A FeatureCollection; its ``features`` come last in the text.

    Returns
    -------
    str
        JSON that a person can read too, and in which a changed feature is a
        changed line.

    Examples
    --------
    >>> print(geojson_text({"type": "FeatureCollection", "features": []}), end="")
    {"type": "FeatureCollection", "features": [
    <BLANKLINE>
    ]}
    """

    def dump(value: Any) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    head = dump({key: value for key, value in document.items() if key != "features"})[:-1]
    lines = ",\n".join(dump(feature) for feature in document["features"])
    return f'{head}, "features": [\n{lines}\n]}}\n'


def _cut(geometry: Any) -> Any:
    """Cut what crosses the antimeridian (RFC 7946, section 3.1.9)."""
    lons = shapely.get_coordinates(geometry)[:, 0]
    if not lons.size or (lons.max() - lons.min() <= 180.0 and lons.max() <= 180.0):
        return geometry
    whole = shapely.transform(geometry, lambda xy: np.column_stack([np.mod(xy[:, 0], 360.0), xy[:, 1]]))
    west = shapely.intersection(whole, box(0.0, -90.0, 180.0, 90.0))
    east = shapely.intersection(whole, box(180.0, -90.0, 360.0, 90.0))
    east = shapely.transform(east, lambda xy: xy - [360.0, 0.0])
    pieces = [
        piece
        for side in (west, east)
        for piece in getattr(side, "geoms", [side])
        if not piece.is_empty and shapely.get_dimensions(piece) == shapely.get_dimensions(geometry)
    ]
    if len(pieces) == 1:
        return pieces[0]
    return (MultiPoint, MultiLineString, MultiPolygon)[int(shapely.get_dimensions(geometry))](pieces)


def _items(document: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    if document["type"] == "FeatureCollection":
        members = document.get("features")
        return [item for item in members if isinstance(item, dict)] if isinstance(members, list) else []
    if document["type"] == "Feature":
        return [document]
    return [{"geometry": document}]


def _tags(item: Mapping[str, Any]) -> dict[str, str]:
    properties = item.get("properties")
    tags: dict[str, str] = {}
    for key, value in properties.items() if isinstance(properties, dict) else ():
        if key == "tags" and isinstance(value, dict):
            tags |= {inner: _text(held) for inner, held in value.items() if held is not None}
        elif key == "other_tags" and isinstance(value, str) and _HSTORE.search(value):
            tags |= {_unescape(inner): _unescape(held) for inner, held in _HSTORE.findall(value)}
        elif value is not None:
            tags[key] = _text(value)
    if isinstance(item.get("id"), str) and re.fullmatch(r"(node|way|relation)/\d+", item["id"]):
        tags.setdefault("@id", item["id"])
    return tags


def _text(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return json.dumps(value, ensure_ascii=False)


def _unescape(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text)


def _names_osm(texts: Any) -> bool:
    folded = (str(text).lower().replace(" ", "") for text in texts if text is not None)
    return any("openstreetmap" in text or "overpass" in text for text in folded)


def _geometry(value: Any) -> Any:
    """Build a geometry, or None if it is missing, empty or malformed in any way."""
    if not isinstance(value, dict):
        return None
    kind = value.get("type")
    try:
        if kind == "GeometryCollection":
            parts = [_geometry(part) for part in value["geometries"]]
            # A collection inside a collection is nothing a person draws, and could nest without end.
            flat = [part for part in parts if part is not None and not isinstance(part, GeometryCollection)]
            return GeometryCollection(flat) if flat else None
        coordinates = _positions(value.get("coordinates"), _DEPTH[kind])  # type: ignore[index]
        geometry = shapely.geometry.shape({"type": kind, "coordinates": coordinates})
    except (ValueError, TypeError, KeyError, IndexError, OverflowError, shapely.errors.ShapelyError):
        return None
    return None if geometry.is_empty else geometry


def _positions(value: Any, depth: int) -> Any:
    """Check nested positions down to finite numbers; heights are dropped."""
    if not isinstance(value, list):
        raise TypeError
    if depth:
        return [_positions(item, depth - 1) for item in value]
    lon, lat = float(value[0]), float(value[1])
    if not (math.isfinite(lon) and math.isfinite(lat)):
        raise ValueError
    return (lon, lat)


def _crs(document: Mapping[str, Any]) -> pyproj.CRS | str | None:
    """Read the CRS member of old GeoJSON: None for plain degrees, its text if nobody knows it."""
    member = document.get("crs")
    if member is None:
        return None
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    try:
        crs = pyproj.CRS.from_user_input(name)
    except (pyproj.exceptions.CRSError, TypeError, ValueError):
        return str(name if name is not None else member)[:60]
    # Whatever the axis order of its definition, GeoJSON has longitude first.
    world = crs.is_geographic and crs.ellipsoid is not None and "WGS 84" in (crs.name, crs.ellipsoid.name)
    return None if world else crs


def _in_degrees(
    geometries: list[Any], crs: pyproj.CRS | str | None, where: str
) -> tuple[list[Any], list[str]]:
    """Bring positions to longitude and latitude, or say why not."""
    xy = shapely.get_coordinates(geometries)
    if not len(xy):
        return geometries, []
    warnings: list[str] = []
    as_degrees = (np.abs(xy[:, 0]) <= 360.0) & (np.abs(xy[:, 1]) <= 90.0)
    if crs is not None:
        name = crs if isinstance(crs, str) else crs.name
        # Whoever exports degrees and leaves a wrong label on them is more common than a course within
        # 400 m of the origin of a metric grid.
        if as_degrees.all() and not (isinstance(crs, pyproj.CRS) and crs.is_geographic):
            warnings.append(
                f"the file names the coordinate system {name!r}, but holds degrees: taken as WGS 84"
            )
        elif isinstance(crs, str):
            raise InputError(
                f"the coordinate system {name!r} is not known", where, "Save it as WGS 84 longitude, latitude"
            )
        else:
            transformer = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
            geometries = [
                None
                if geometry is None
                else shapely.transform(
                    geometry, lambda part: np.column_stack(transformer.transform(part[:, 0], part[:, 1]))
                )
                for geometry in geometries
            ]
            warnings.append(f"positions were in {name}: turned into WGS 84 longitude, latitude")
            xy = shapely.get_coordinates(geometries)
            as_degrees = (np.abs(xy[:, 0]) <= 360.0) & (np.abs(xy[:, 1]) <= 90.0)
    if not as_degrees.all():
        if (np.abs(xy[:, 0]) <= 90.0).all() and (np.abs(xy[:, 1]) <= 360.0).all():
            warnings.append("latitude stands before longitude throughout: swapped")
            geometries = [
                None if geometry is None else shapely.transform(geometry, lambda part: part[:, ::-1])
                for geometry in geometries
            ]
        elif np.mean(as_degrees) < 0.5:
            x, y = xy[~as_degrees][0]
            raise InputError(
                f"positions such as ({x:.7g}, {y:.7g}) are no degrees",
                where,
                "Save it as WGS 84 longitude, latitude",
            )
        else:
            kept = [geometry if _fits(geometry) else None for geometry in geometries]
            lost = sum(new is None and old is not None for new, old in zip(kept, geometries, strict=True))
            warnings.append(f"{lost} features lie at positions that do not exist and are left out")
            geometries = kept
    return [_wrapped(geometry) for geometry in geometries], warnings


def _fits(geometry: Any) -> bool:
    xy = np.abs(shapely.get_coordinates(geometry))
    return bool(len(xy)) and bool((xy[:, 0] <= 360.0).all() and (xy[:, 1] <= 90.0).all())


def _wrapped(geometry: Any) -> Any:
    """Bring longitudes into [-180, 180], leaving 180 itself as it is."""
    xy = shapely.get_coordinates(geometry)
    if geometry is None or (np.abs(xy[:, 0]) <= 180.0).all():
        return geometry
    return shapely.transform(
        geometry,
        lambda part: np.column_stack(
            [
                np.where(np.abs(part[:, 0]) > 180.0, np.mod(part[:, 0] + 180.0, 360.0) - 180.0, part[:, 0]),
                part[:, 1],
            ]
        ),
    )
