"""Rounds out of the library, for spreadsheets, maps and other programs; and without what exposes a person."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from geo.clean import keep_near
from geo.files import file_faults, write_text
from geo.frame import LocalFrame
from geo.geojson import geojson_geometry, geojson_text
from geo.gpx import write_gpx
from geo.track import Track, join_tracks
from trackgolf.course import Course
from trackgolf.errors import InputError
from trackgolf.library import sql
from trackgolf.library.coaching import read_player_notes
from trackgolf.library.keeping import course_lines
from trackgolf.library.materials import read_course_files
from trackgolf.library.read import read_comparisons, read_holes, read_round, read_rounds, read_shots
from trackgolf.library.rebuild import local_time
from trackgolf.round_files import plain_table, plain_value
from trackgolf.tables_course import course_lines as lines_of_play
from trackgolf.tables_course import course_shapes

__all__ = ["FORMATS", "TABLES", "Export", "export_rounds", "write_export"]

FORMATS = (".geojson", ".csv", ".gpkg", ".gpx")
TABLES = ("shots", "holes", "comparison", "rounds", "notes")
# Of a share, nothing further than this from a line of play [m]: half the width of a generous hole. Common practice,
# no source. Where the map draws the course's outline, nothing outside it either.
_ON_COURSE_M = 75.0
# What tells when somebody was where, who it was, or what they wrote.
_PRIVATE = (
    "player", "day", "start_time", "end_time", "first_time", "last_time", "local_start", "note", "time_zone", "method",
)  # fmt: skip

# Said by a line already; a spreadsheet has no lines.
_ENDS = ("start_lon_deg", "start_lat_deg", "end_lon_deg", "end_lat_deg")


@dataclass(frozen=True, slots=True)
class Export:
    """
    What is exported of rounds.

    Attributes
    ----------
    rounds, holes, comparison : pandas.DataFrame
        One row a round, a hole played, a planned shot; all with ``round``.
    shots, tracks : geopandas.GeoDataFrame
        One line a shot, and one a piece of the recordings without a gap.
    courses : geopandas.GeoDataFrame
        Shapes, pins and lines of play of the courses: ``course``, ``kind``,
        ``hole``.
    points, marks : pandas.DataFrame
        What was recorded, with ``round``.
    notes : pandas.DataFrame
        What people noted, one row a note: ``player``, ``round``, ``hole``,
        ``shot`` where it is about one, ``made``, ``text``; none in a share.
    share : bool
        Whether what exposes a person was left out.
    left_out : int
        Points and shots off the course that a share leaves out.
    """

    rounds: pd.DataFrame
    holes: pd.DataFrame
    comparison: pd.DataFrame
    shots: gpd.GeoDataFrame
    tracks: gpd.GeoDataFrame
    courses: gpd.GeoDataFrame
    points: pd.DataFrame
    marks: pd.DataFrame
    notes: pd.DataFrame
    share: bool
    left_out: int = 0


def export_rounds(connection: sqlite3.Connection, numbers: Sequence[int], *, share: bool = False) -> Export:
    """
    Collect rounds for an export.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    numbers : sequence of int
        The rounds.
    share : bool
        Whether to leave out names, days, clock times, marks, notes, and all
        that lies off the course; rounds are numbered anew.

    Returns
    -------
    Export
        The tables.

    Raises
    ------
    LibraryError
        If there is no such round.
    """
    if not numbers:
        raise InputError("there is no round to export", do="See what there is with: trackgolf rounds")
    wanted = sorted(set(numbers))
    rounds = read_rounds(connection)
    rounds = rounds[rounds["round"].isin(wanted)].reset_index(drop=True)
    starts = zip(rounds["start_time"], rounds["time_zone"], strict=True)
    rounds["local_start"] = [f"{local_time(time, zone):%Y-%m-%d %H:%M}" for time, zone in starts]
    shots = _lines_of_shots(_of_rounds(read_shots(connection), wanted))
    points, marks, tracks, courses = [], [], [], {}
    on_course: list[pd.Series] = []
    left_out = 0
    for number in wanted:
        line, materials, recordings = read_round(connection, number)
        track = join_tracks(recordings)
        course = read_course_files(materials.course, materials.tee)
        courses[line["course"]] = course
        mine = track.points
        if share:
            mine = mine[_on_course(mine, course)]
            left_out += len(track.points) - len(mine)
            kept = shots[shots["round"] == number]
            on_course.append(_shots_on_course(kept, course))
        points.append(_pieces(mine, track, share=share).assign(round=number))
        marks.append(track.marks.assign(round=number))
        tracks.append(_lines_of_track(points[-1]))
    whole = Export(
        rounds=rounds,
        holes=_of_rounds(read_holes(connection), wanted),
        comparison=_of_rounds(read_comparisons(connection), wanted),
        shots=shots,
        tracks=_joined(tracks),
        courses=_joined([_course_table(name, course) for name, course in courses.items()]),
        points=pd.concat(points, ignore_index=True),
        marks=pd.concat(marks, ignore_index=True),
        notes=_notes(connection, rounds),
        share=share,
        left_out=left_out,
    )
    return _without_private(whole, pd.concat(on_course)) if share else whole


def write_export(export: Export, path: str | os.PathLike[str], table: str = "shots") -> None:
    """
    Write an export in the format that the name of its file says, in one step.

    Parameters
    ----------
    export : Export
        From `export_rounds`.
    path : str or os.PathLike
        The file: one of `FORMATS`.
    table : str
        Which of `TABLES` a CSV file holds.

    Raises
    ------
    InputError
        If the format is not known, a GPX file is to hold several rounds, or
        the file cannot be written.
    """
    place = Path(path)
    kind = place.suffix.lower()
    if kind == ".csv":
        write_text(
            place, plain_table(pd.DataFrame(getattr(export, table)).drop(columns="geometry", errors="ignore"))
        )
    elif kind == ".geojson":
        write_text(place, geojson_text(_geojson(export)))
    elif kind == ".gpkg":
        _write_geopackage(export, place)
    elif kind == ".gpx":
        write_text(place, _gpx(export))
    else:
        raise InputError(
            f"{kind or 'a name without an ending'} is no format of an export",
            str(path),
            f"Use {', '.join(FORMATS)}",
        )


def _notes(connection: sqlite3.Connection, rounds: pd.DataFrame) -> pd.DataFrame:
    """Notes on the players of rounds and on the rounds themselves."""
    columns = ["player", "round", "hole", "shot", "made", "text"]
    players = set(rounds["player"])
    rows: list[tuple[Any, ...]] = [
        (note.player, None, None, None, note.made, note.text)
        for note in read_player_notes(connection)
        if note.player in players
    ]
    rows += [
        tuple(row) for row in connection.execute(sql.NOTES_OF_ROUNDS) if row["round"] in set(rounds["round"])
    ]
    table = pd.DataFrame(rows, columns=columns)
    return table.astype(dict.fromkeys(("round", "hole", "shot"), "Int64"))


def _of_rounds(table: pd.DataFrame, wanted: Sequence[int]) -> pd.DataFrame:
    return table[table["round"].isin(wanted)].reset_index(drop=True)


def _lines_of_shots(shots: pd.DataFrame) -> gpd.GeoDataFrame:
    ends = shots[list(_ENDS)].to_numpy(dtype=float)
    known = np.isfinite(ends).all(axis=1)
    ends = ends[known]
    lines: Any = shapely.linestrings(ends.reshape(-1, 2, 2)) if len(ends) else []
    return gpd.GeoDataFrame(shots[known].reset_index(drop=True), geometry=lines, crs="EPSG:4326")


def _pieces(points: pd.DataFrame, track: Track, *, share: bool) -> pd.DataFrame:
    """Number the segments anew over all files, and of a share also where points were left out; and pieces without a gap."""
    row = track.points.index.get_indexer(points.index)
    new = np.zeros(len(points), dtype=bool)
    for name in ("file", "segment"):
        new |= points[name].ne(points[name].shift()).to_numpy()
    if share:
        new |= np.diff(row, prepend=row[:1]) > 1
    after_gap = points["time"].isin(track.gaps["end_time"]).to_numpy()
    return points.assign(segment=np.cumsum(new), piece=np.cumsum(new | after_gap)).drop(columns="file")


def _lines_of_track(points: pd.DataFrame) -> gpd.GeoDataFrame:
    pieces = [piece for _, piece in points.groupby("piece") if len(piece) > 1]
    rows = [
        {
            "round": piece["round"].iloc[0],
            "piece": piece["piece"].iloc[0],
            "points": len(piece),
            "start_time": piece["time"].iloc[0],
            "end_time": piece["time"].iloc[-1],
        }
        for piece in pieces
    ]
    lines: Any = [shapely.linestrings(piece[["lon_deg", "lat_deg"]].to_numpy()) for piece in pieces]
    columns = ["round", "piece", "points", "start_time", "end_time"]
    return gpd.GeoDataFrame(pd.DataFrame(rows, columns=columns), geometry=lines, crs="EPSG:4326")


def _course_table(name: str, course: Course) -> gpd.GeoDataFrame:
    lines = lines_of_play(course).assign(kind="hole_line")
    parts = [part[["kind", "hole", "geometry"]] for part in (course_shapes(course), lines) if len(part)]
    return _joined(parts).assign(course=name)


def _joined(parts: Sequence[gpd.GeoDataFrame]) -> gpd.GeoDataFrame:
    some = [part for part in parts if len(part)] or list(parts[:1])
    return gpd.GeoDataFrame(pd.concat(some, ignore_index=True), crs="EPSG:4326")


def _on_course(points: pd.DataFrame, course: Course) -> pd.Series:
    """Tell which points lie on the course: near a line of play, and inside its outline where that holds the lines."""
    lines = course_lines(course)
    numbered = points[["lon_deg", "lat_deg"]].reset_index(drop=True).reset_index(names="row")
    near = keep_near(numbered, lines, _ON_COURSE_M)["row"].to_numpy()
    keep = np.zeros(len(points), dtype=bool)
    keep[near] = True
    outline = shapely.union_all(course.shapes.geometry[course.shapes["kind"] == "course"].to_numpy())
    frame = LocalFrame.around(*shapely.get_coordinates(lines).T)
    inside = frame.geometry_to_metres(outline) if not outline.is_empty else None
    # An outline that leaves out much of the course is a fault of the map.
    if inside is not None and shapely.covers(inside, shapely.centroid(frame.geometry_to_metres(lines))):
        east, north = frame.to_metres(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
        keep &= shapely.intersects_xy(inside, east, north)
    return pd.Series(keep, index=points.index)


def _shots_on_course(shots: gpd.GeoDataFrame, course: Course) -> pd.Series:
    keep = pd.Series(data=True, index=shots.index)
    for end in (0, -1):
        spots = shapely.get_point(shots.geometry.to_numpy(), end)
        table = pd.DataFrame(
            {"lon_deg": shapely.get_x(spots), "lat_deg": shapely.get_y(spots)}, index=shots.index
        )
        keep &= _on_course(table, course)
    return keep


def _without_private(whole: Export, on_course: pd.Series) -> Export:
    numbers = {int(number): place for place, number in enumerate(whole.rounds["round"], start=1)}

    def cleaned(table: Any) -> Any:
        plain = table.drop(columns=[name for name in _PRIVATE if name in table])
        return plain.assign(round=plain["round"].map(numbers)) if "round" in plain else plain

    return Export(
        rounds=cleaned(whole.rounds),
        holes=cleaned(whole.holes),
        comparison=cleaned(whole.comparison),
        shots=cleaned(whole.shots[on_course.reindex(whole.shots.index)].reset_index(drop=True)),
        tracks=cleaned(whole.tracks),
        courses=whole.courses,
        points=cleaned(whole.points.drop(columns=["time", "ele_m", "hdop"])),
        marks=cleaned(whole.marks.iloc[:0].drop(columns="time")),
        notes=whole.notes.iloc[:0],
        share=True,
        left_out=whole.left_out + int((~on_course).sum()),
    )


def _geojson(export: Export) -> dict[str, Any]:
    invented = dict(zip(export.rounds["round"], export.rounds["invented"], strict=True))
    features = []
    for kind, table in (("track", export.tracks), ("shot", export.shots.drop(columns=list(_ENDS)))):
        for row in table.to_dict("records"):
            geometry = row.pop("geometry")
            properties = {"kind": kind} | {str(key): plain_value(value) for key, value in row.items()}
            if invented.get(row["round"]):
                properties["invented"] = "yes"
            features.append(
                {"type": "Feature", "geometry": geojson_geometry(geometry), "properties": properties}
            )
    notes = [
        {str(key): plain_value(value) for key, value in row.items()}
        for row in export.notes.to_dict("records")
    ]
    # Source: RFC 7946, 6.1: a document may have members of its own.
    return {"type": "FeatureCollection"} | ({"notes": notes} if notes else {}) | {"features": features}


def _gpx(export: Export) -> str:
    if len(export.rounds) != 1:
        raise InputError(
            f"a GPX file holds one round, not {len(export.rounds)}",
            "--out",
            "Name one round, or another format",
        )
    played = export.rounds.iloc[0]
    about = "Invented round" if played["invented"] else "Round"
    name = played["course"] if export.share else f"{played['course']}, {played['local_start']}"
    marks = export.marks if len(export.marks) else None
    return write_gpx(None, points=export.points, marks=marks, name=name, description=f"{about} of a library")


def _write_geopackage(export: Export, place: Path) -> None:
    """Write all tables as layers of one GeoPackage (OGC 12-128r19)."""
    with file_faults(place):
        _fill_geopackage(export, place)


def _fill_geopackage(export: Export, place: Path) -> None:
    if place.is_dir():
        raise InputError("cannot be written (it is a folder)", str(place), "Name a file to write")
    place.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".trackgolf-", dir=place.parent) as folder:
        part = Path(folder) / "export.gpkg"
        shots = export.shots.drop(columns=list(_ENDS))
        spatial = {"shots": shots, "tracks": export.tracks, "courses": export.courses}
        for name, table in spatial.items():
            if len(table):
                table.to_file(part, layer=name, driver="GPKG", engine="pyogrio", append=part.exists())
        written = ("rounds", "holes", "comparison", *(("notes",) if len(export.notes) else ()))
        for name in written:
            pyogrio.write_dataframe(
                getattr(export, name), part, layer=name, driver="GPKG", append=part.exists()
            )
        part.replace(place)
