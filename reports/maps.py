"""
The layers of a round on a map, one a kind.

A text that has been rendered once is compiled as a template again by the map library, so nothing that a file
or a person said may enter its objects: features carry whole numbers, layers have constant names, and every
word travels apart from them, in the island, to be put on the page as text.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import folium
import numpy as np
import pandas as pd
import shapely

from geo.frame import LocalFrame
from reports.bundles import RoundTables, known_club, rows_by_hole
from reports.show import short_club
from reports.tables import DOUBTFUL_BELOW, SHAPE_KINDS
from reports.words import Words

__all__ = ["MapSettings", "RoundMap", "round_map", "simplified_track", "tolerance_rings"]

# The order in which layers are laid down; what comes later lies on top.
_LAYERS = ("ground", "lines", "track", "rings", "planned", "misses", "played", "targets", "finishes", "pins")


@dataclass(frozen=True, slots=True)
class MapSettings:
    """How a map is drawn; common practice, no source."""

    # Largest distance by which the drawn track may leave the recorded one [m].
    track_tolerance_m: float = 1.0
    # Decimals of a degree that are drawn: 0.11 m at most.
    decimals: int = 6
    # Corners of the circle that shows a tolerance.
    ring_corners: int = 24
    # Largest distance by which a drawn shape may leave the real one [m].
    ground_tolerance_m: float = 0.3
    # Room around the items of a hole, share of their extent.
    margin: float = 0.06


@dataclass(frozen=True, slots=True)
class RoundMap:
    """
    A map, ready to stand in a page.

    Parameters
    ----------
    element_id : str
        Identifier of the element the map is drawn in.
    script : str
        Script that builds the map and its layers, numbers and constant names only.
    island : dict
        Names, labels and the extent of each hole, for `reports.offline.data_island`.
    """

    element_id: str
    script: str
    island: dict[str, Any]


def simplified_track(track: pd.DataFrame, frame: LocalFrame, tolerance_m: float) -> list[tuple[int, Any]]:
    """
    Turn a track into few lines, cut where the hole or the part changes.

    Parameters
    ----------
    track : pandas.DataFrame
        As `reports.tables.TRACK`.
    frame : LocalFrame
        Where metres are measured.
    tolerance_m : float
        Largest distance by which a line may leave the track [m].

    Returns
    -------
    list of (int, shapely.LineString)
        Hole (0 none) and line in metres, in order. Where only the hole
        changes the next line begins with the last point of this one.
    """
    known = track.dropna(subset=["lon_deg", "lat_deg"])
    if known.empty:
        return []
    xy = np.column_stack(frame.to_metres(known["lon_deg"].to_numpy(), known["lat_deg"].to_numpy()))
    hole = known["hole"].fillna(0).to_numpy(dtype=int)
    part = known["part"].fillna(0).to_numpy(dtype=int)
    new_part = np.r_[True, part[1:] != part[:-1]]
    starts = np.flatnonzero(new_part | np.r_[True, hole[1:] != hole[:-1]])
    lines = []
    for start, end in zip(starts, np.r_[starts[1:], len(xy)], strict=True):
        joined = end < len(xy) and not new_part[end]
        points = xy[start : end + joined]
        if len(points) > 1:
            lines.append((int(hole[start]), shapely.LineString(points).simplify(tolerance_m)))
    return lines


def tolerance_rings(targets: np.ndarray, tolerance_m: np.ndarray, corners: int) -> list[Any]:
    """
    Draw the circle round each target within which a finish counts.

    Parameters
    ----------
    targets : numpy.ndarray, shape (n, 2)
        Targets, east and north [m].
    tolerance_m : numpy.ndarray, shape (n,)
        Radius [m]; NaN or 0 gives an empty polygon.
    corners : int
        Corners of each circle.

    Returns
    -------
    list of shapely.Polygon
        The circles, counterclockwise.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    return [
        shapely.Polygon(target + radius * circle) if np.isfinite(radius) and radius > 0 else shapely.Polygon()
        for target, radius in zip(targets, tolerance_m, strict=True)
    ]


def round_map(tables: RoundTables, words: Words, settings: MapSettings = MapSettings()) -> RoundMap | None:
    """
    Lay the map of a round.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language of the labels.
    settings : MapSettings, optional
        How it is drawn.

    Returns
    -------
    RoundMap or None
        The map; None where no position is known.
    """
    layers = _Layers(tables, settings)
    if not layers.any:
        return None
    drawn = folium.Map(
        tiles=None,
        zoom_snap=0.25,
        zoom_animation=False,
        fade_animation=False,
        marker_zoom_animation=False,
        attribution_control=False,
        scroll_wheel_zoom=False,
    )
    # The library numbers its objects at random; fixed ones make the same page from the same round.
    drawn._id = "round"  # noqa: SLF001 - there is no public way
    names = {}
    for name in _LAYERS:
        layer = _geojson_layer(name, *layers.features(name))
        layer._id = name  # noqa: SLF001
        layer.add_to(drawn)
        names[name] = layer.get_name()
    figure: Any = drawn.get_root()
    figure.render()
    script = figure.script.render()
    planned, played = rows_by_hole(tables.plan), rows_by_hole(tables.shots)
    island = {
        "map": drawn.get_name(),
        "layers": names,
        "bounds": layers.bounds(None),
        "holes": [
            {
                "number": hole,
                "bounds": layers.bounds(hole),
                "at": layers.tee(hole),
                "items": _items(planned.get(hole, []), played.get(hole, []), layers, words, hole),
            }
            for hole in layers.holes
        ],
    }
    return RoundMap(drawn.get_name(), "\n".join(line for line in script.splitlines() if line.strip()), island)


class _Layers:
    """Features of every layer: numbers and constant class names, nothing else."""

    def __init__(self, tables: RoundTables, settings: MapSettings) -> None:
        self._settings = settings
        self._drawn: dict[str, list[tuple[int, Any, str]]] = {name: [] for name in _LAYERS}
        self.ids: dict[tuple[str, int, int], int] = {}
        self._corners: dict[int, list[np.ndarray]] = {}
        self._tees: dict[int, np.ndarray] = {}
        positions = [
            shapely.get_coordinates(table.geometry.to_numpy())
            for table in (tables.hole_lines, tables.plan, tables.shots, tables.shapes)
        ]
        degrees = np.vstack([*positions, tables.track[["lon_deg", "lat_deg"]].dropna().to_numpy(dtype=float)])
        self.any = bool(len(degrees))
        if not self.any:
            return
        self.frame = LocalFrame.around(degrees[:, 0], degrees[:, 1])
        self._add_ground(tables)
        self._add_lines(tables)
        for hole, line in simplified_track(tables.track, self.frame, settings.track_tolerance_m):
            self._add("track", hole, line)
            if not len(tables.shapes):
                self._extend(0, line)
        self._add_plan(tables)
        self._add_shots(tables)
        self.holes = sorted({h for h in self._corners if h} & {int(h) for h in tables.holes["hole"].dropna()})

    def bounds(self, hole: int | None) -> list[list[float]]:
        """Give the south-west and north-east corner, latitude first as the map library wants it."""
        wanted = list(self._corners.values()) if hole is None else [self._corners[hole]]
        xy = np.vstack([point for points in wanted for point in points])
        low, high = xy.min(axis=0), xy.max(axis=0)
        room = np.maximum((high - low) * self._settings.margin, 10.0)
        corners = self._degrees(np.vstack([low - room, high + room]))
        return [[lat, lon] for lon, lat in corners]

    def tee(self, hole: int) -> list[float] | None:
        """Give the position of a hole's number, latitude first."""
        if hole not in self._tees:
            return None
        lon, lat = self._degrees(self._tees[hole][None, :])[0]
        return [lat, lon]

    def _add_ground(self, tables: RoundTables) -> None:
        shapes = tables.shapes
        order = {kind: number for number, kind in enumerate(SHAPE_KINDS)}
        ranks, owners = [order.get(kind, -1) for kind in shapes["kind"]], shapes["hole"].tolist()
        outlines = shapely.simplify(
            self.frame.geometry_to_metres(shapes.geometry.to_numpy()), self._settings.ground_tolerance_m
        )
        for row in np.argsort(ranks, kind="stable"):
            metres, rank, hole = outlines[row], ranks[row], _whole(owners[row])
            if metres is None or metres.is_empty:
                continue
            kind = SHAPE_KINDS[rank] if rank >= 0 else "other"
            if kind == "pin":
                self._add("pins", hole, metres.centroid)
            else:
                self._add("ground", hole, metres, f"g-{kind}")
            self._corners.setdefault(0, []).append(shapely.get_coordinates(metres))

    def _add_lines(self, tables: RoundTables) -> None:
        for hole, line in _known(tables.hole_lines, "hole"):
            metres = self.frame.geometry_to_metres(line)
            self._add("lines", hole[0], metres)
            self._extend(hole[0], metres)
            self._tees[hole[0]] = shapely.get_coordinates(metres)[0]

    def _add_plan(self, tables: RoundTables) -> None:
        plan = list(_known(tables.plan, "hole", "shot"))
        tolerance_m = tables.plan.set_index(["hole", "shot"])["tolerance_m"].to_dict()
        for key, line in plan:
            metres = self.frame.geometry_to_metres(line)
            self._add("planned", key[0], metres)
            target = shapely.get_coordinates(metres)[-1]
            ring = tolerance_rings(
                target[None, :], np.array([tolerance_m[key]]), self._settings.ring_corners
            )[0]
            if not ring.is_empty:
                self._add("rings", key[0], ring)
            self.ids["targets", key[0], key[1]] = self._add("targets", key[0], shapely.Point(target))
            self._extend(key[0], metres)
            self._tees.setdefault(key[0], shapely.get_coordinates(metres)[0])

    def _add_shots(self, tables: RoundTables) -> None:
        # A finish that nobody saw must not look like one that was: no length, no certainty.
        unsure = (tables.shots["confidence"] < DOUBTFUL_BELOW) | tables.shots["distance_m"].isna()
        numbers = zip(tables.shots["hole"], tables.shots["shot"], unsure, strict=True)
        doubtful: dict[tuple[int, ...], bool] = {(hole, shot): bool(doubt) for hole, shot, doubt in numbers}
        finishes = {}
        for key, line in _known(tables.shots, "hole", "shot"):
            metres = self.frame.geometry_to_metres(line)
            doubt = " doubtful" if doubtful[key] else ""
            self._add("played", key[0], metres, f"m-played{doubt}")
            finishes[key] = shapely.get_coordinates(metres)[-1]
            self.ids["finishes", key[0], key[1]] = self._add(
                "finishes", key[0], shapely.Point(finishes[key]), f"m-finish{doubt}"
            )
            self._extend(key[0], metres)
            self._tees.setdefault(key[0], shapely.get_coordinates(metres)[0])
        compared = tables.comparison.dropna(subset=["miss_m"])
        pairs = {(_whole(h), _whole(s)) for h, s in zip(compared["hole"], compared["shot"], strict=True)}
        for key, line in _known(tables.plan, "hole", "shot"):
            if key in pairs and key in finishes:
                target = shapely.get_coordinates(self.frame.geometry_to_metres(line))[-1]
                self._add("misses", key[0], shapely.LineString([target, finishes[key]]))

    def _extend(self, hole: int, metres: Any) -> None:
        self._corners.setdefault(hole, []).append(shapely.get_coordinates(metres))

    def _add(self, layer: str, hole: int, metres: Any, style: str = "") -> int:
        self._drawn[layer].append((hole, metres, style or f"m-{layer}"))
        return len(self._drawn[layer]) - 1

    def features(self, layer: str) -> tuple[list[dict[str, Any]], list[str]]:
        """Give the features of a layer and their class names; all positions turn into degrees at once."""
        drawn = self._drawn[layer]
        shapes = np.array([metres for _, metres, _ in drawn], dtype=object)
        features = [
            {
                "type": "Feature",
                "id": number,
                "properties": {"hole": hole},
                "geometry": shapely.geometry.mapping(shape),
            }
            for number, ((hole, _, _), shape) in enumerate(
                zip(drawn, shapely.transform(shapes, self._degrees_array), strict=True)
            )
        ]
        return features, [style for _, _, style in drawn]

    def _degrees_array(self, xy: np.ndarray) -> np.ndarray:
        """Turn metres into degrees that do not jump at the antimeridian, for lines must not cross the map."""
        lon, lat = self.frame.to_degrees(xy[:, 0], xy[:, 1])
        lon = self.frame.lon_deg + (lon - self.frame.lon_deg + 180.0) % 360.0 - 180.0
        return np.round(np.column_stack([lon, lat]), self._settings.decimals)

    def _degrees(self, xy: np.ndarray) -> list[list[float]]:
        return [[float(lon), float(lat)] for lon, lat in self._degrees_array(xy)]


def _geojson_layer(name: str, features: list[dict[str, Any]], styles: Sequence[str]) -> folium.GeoJson:
    collection = {"type": "FeatureCollection", "features": features}
    options: dict[str, Any] = {"name": name, "control": False}
    if name in {"targets", "pins"}:
        icon = folium.DivIcon(icon_size=(18, 18), icon_anchor=(9, 9), class_name=f"m-{name}")
        return folium.GeoJson(collection, marker=folium.Marker(icon=icon, keyboard=False), **options)
    if name == "finishes":
        options["marker"] = folium.CircleMarker(radius=6)
    return folium.GeoJson(
        collection,
        style_function=_class_of(styles),
        interactive=name == "finishes",
        smooth_factor=0.5,
        **options,
    )


def _class_of(styles: Sequence[str]) -> Callable[[dict[str, Any]], dict[str, str]]:
    return lambda feature: {"className": styles[feature["id"]]}


_UNSEEN = {"item": "item_unseen", "tag": "tag_unseen"}


def _items(
    planned: list[dict[str, Any]], played: list[dict[str, Any]], layers: _Layers, words: Words, hole: int
) -> list[dict[str, Any]]:
    """List what was planned and played on a hole, with its label in both units."""
    items = []
    for layer, rows, kind in (("targets", planned, "planned"), ("finishes", played, "played")):
        for row in rows:
            key = (layer, hole, _whole(row["shot"]))
            if key not in layers.ids:
                continue
            seen = kind == "planned" or math.isfinite(row["distance_m"])
            club = row["club"] if kind == "planned" else known_club(row)
            missing = "unknown" if kind == "planned" else "item_club_not_known"
            texts = {}
            for text in ("item", "tag"):
                texts[text] = [
                    words.plain(
                        f"{text}_{kind}" if seen else _UNSEEN[text],
                        shot=key[2],
                        club=club or words.plain(missing),
                        distance=words.plain_length(row["distance_m"], units),
                        leave=words.plain_length(row["leave_m"], units),
                    )
                    for units in ("yd", "m")
                ]
            items.append(
                {
                    "layer": layer,
                    "id": layers.ids[key],
                    "kind": kind,
                    "shot": key[2],
                    "short": short_club(club) if club else str(key[2]),
                    "doubtful": kind == "played" and row["confidence"] < DOUBTFUL_BELOW,
                    **texts,
                }
            )
    return sorted(items, key=lambda item: (item["shot"], item["kind"] == "played"))


def _known(table: pd.DataFrame, *columns: str) -> list[tuple[tuple[int, ...], Any]]:
    """Pair the numbers of each row with its geometry, leaving out rows without one."""
    return [
        (tuple(_whole(value) for value in values), shape)
        for *values, shape in zip(*(table[column] for column in columns), table.geometry, strict=True)
        if shape is not None and not shape.is_empty and not any(pd.isna(value) for value in values)
    ]


def _whole(value: Any) -> int:
    return 0 if pd.isna(value) else int(value)
