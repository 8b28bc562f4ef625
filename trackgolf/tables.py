"""A rebuilt round as the plain tables that `reports` draws."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd
import shapely
import tzfpy

from reports.bundles import RoundTables
from trackgolf.reconstruct import Round

__all__ = ["round_tables", "time_zone_of"]

_KINDS = ("salvaged", "mended", "assumed", "doubted")


def time_zone_of(lon_deg: float, lat_deg: float) -> str:
    """
    Find the time zone of a place.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The place [deg].

    Returns
    -------
    str
        Its IANA name; ``UTC`` where none is known.

    Examples
    --------
    >>> time_zone_of(-31.0, 47.0)
    'Etc/GMT+2'
    """
    return tzfpy.get_tz(lon_deg, lat_deg) or "UTC"


def round_tables(result: Round) -> RoundTables:
    """
    Turn a round into the tables of a report.

    Parameters
    ----------
    result : Round
        The round.

    Returns
    -------
    RoundTables
        With the columns that `reports.tables` documents.
    """
    plan = {} if result.plan is None else {"plan": _lines(result.plan, "start", "target")}
    return RoundTables(
        header=_header(result),
        holes=result.holes,
        shots=_lines(result.shots, "start", "end"),
        comparison=result.comparison,
        clubs=_clubs(result),
        notes=_notes(result),
        track=result.walk[["time", "lon_deg", "lat_deg", "part", "hole"]],
        shapes=_shapes(result),
        hole_lines=_hole_lines(result),
        **plan,
    )


def _header(result: Round) -> dict[str, Any]:
    holes, comparison = result.holes, result.comparison
    layups = comparison[comparison["role"].isin(["tee", "layup"]) & comparison["miss_m"].notna()]
    leave_error = (layups["leave_m"].astype(float) - layups["planned_leave_m"].astype(float)).abs()
    within = layups["within_tolerance"].value_counts()
    complete = bool(holes["strokes"].notna().all())
    first = result.shots["start_time"].min()
    return {
        "player": result.bag.player,
        "course": result.course.name,
        "units": result.bag.units,
        "time_zone": time_zone_of(result.ground.frame.lon_deg, result.ground.frame.lat_deg),
        "start_time": first,
        "end_time": holes["last_time"].max(),
        "credit": result.course.credit,
        "invented": result.course.invented,
        "strokes": int(holes["strokes"].sum()) if complete else None,
        "par": int(holes["par"].sum()),
        "personal_par": int(holes["personal_par"].sum()),
        "putts": int(holes["putts"].sum()) if holes["putts"].notna().all() else None,
        "penalties": int(holes["penalties"].fillna(0).sum()),
        "shots_to_green": int(holes["shots"].sum()),
        "regulation_shots": int(holes["regulation_shots"].sum()),
        "layups": len(layups),
        "layups_within": int(within.get("yes", 0)),
        "layups_unsure": int(within.get("unsure", 0)),
        "median_leave_error_m": float(leave_error.median()) if len(layups) else None,
    }


def _shapes(result: Round) -> gpd.GeoDataFrame:
    shapes = result.course.shapes[["kind", "hole", "geometry"]]
    pins = [(hole.number, hole.pin) for hole in result.course.holes if hole.pin is not None]
    greens = set(shapes.loc[shapes["kind"] == "green", "hole"].dropna())
    made = [
        (hole.number, hole.green)
        for hole in result.course.holes
        if hole.green is not None and hole.number not in greens
    ]
    extra = gpd.GeoDataFrame(
        {
            "kind": ["pin"] * len(pins) + ["green"] * len(made),
            "hole": pd.array([number for number, _ in pins + made], dtype="Int64"),
        },
        geometry=[shape for _, shape in pins + made],
        crs="EPSG:4326",
    )
    parts = [part for part in (shapes, extra) if len(part)]
    return gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), crs="EPSG:4326")


def _hole_lines(result: Round) -> gpd.GeoDataFrame:
    holes = [hole for hole in result.course.holes if hole.line is not None]
    return gpd.GeoDataFrame(
        {"hole": [hole.number for hole in holes]}, geometry=[hole.line for hole in holes], crs="EPSG:4326"
    )


def _lines(table: pd.DataFrame, begin: str, finish: str) -> gpd.GeoDataFrame:
    known = table[table[f"{finish}_lon_deg"].notna() & table[f"{begin}_lon_deg"].notna()]
    ends = known[[f"{begin}_lon_deg", f"{begin}_lat_deg", f"{finish}_lon_deg", f"{finish}_lat_deg"]].to_numpy(
        dtype=float
    )
    lines = shapely.linestrings(ends.reshape(-1, 2, 2)) if len(known) else []
    return gpd.GeoDataFrame(known.reset_index(drop=True), geometry=lines, crs="EPSG:4326")


def _clubs(result: Round) -> pd.DataFrame:
    stated = {club.name: club.distance_m for club in result.bag.clubs}
    rows = []
    for name, mine in result.shots[result.shots["club"] != ""].groupby("club"):
        sources = mine["club_source"].value_counts()
        rows.append(
            {
                "club": name,
                "shots": len(mine),
                "median_distance_m": float(mine["distance_m"].astype(float).median()),
                "median_path_m": float(
                    mine.loc[~mine["detour"].astype(bool), "path_m"].astype(float).median()
                ),
                "stated_distance_m": stated.get(str(name)),
                "sources": ", ".join(f"{count} {source}" for source, count in sources.items()),
            }
        )
    order = {club.name: index for index, club in enumerate(result.bag.clubs)}
    rows.sort(key=lambda row: order.get(row["club"], 99))
    columns = ["club", "shots", "median_distance_m", "median_path_m", "stated_distance_m", "sources"]
    return pd.DataFrame(rows, columns=columns)


def _notes(result: Round) -> pd.DataFrame:
    notes = sorted(result.notes, key=lambda note: (_KINDS.index(note.kind), note.hole))
    hole = pd.array([note.hole or pd.NA for note in notes], dtype="Int64")
    return pd.DataFrame(
        {"kind": [note.kind for note in notes], "hole": hole, "text": [note.text for note in notes]}
    )
