"""A rebuilt round as the plain tables that `reports` draws."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from reports.bundles import RoundTables
from trackgolf.reconstruct import Round
from trackgolf.tables_course import course_lines, course_shapes
from trackgolf.time_zone import time_zone_of

__all__ = ["round_tables"]

_KINDS = ("salvaged", "mended", "assumed", "doubted")


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
        shapes=course_shapes(result.course),
        hole_lines=course_lines(result.course),
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


def _lines(table: pd.DataFrame, begin: str, finish: str) -> gpd.GeoDataFrame:
    known = table[table[f"{finish}_lon_deg"].notna() & table[f"{begin}_lon_deg"].notna()]
    ends = known[[f"{begin}_lon_deg", f"{begin}_lat_deg", f"{finish}_lon_deg", f"{finish}_lat_deg"]].to_numpy(
        dtype=float
    )
    lines: Any = shapely.linestrings(ends.reshape(-1, 2, 2)) if len(known) else []
    return gpd.GeoDataFrame(known.reset_index(drop=True), geometry=lines, crs="EPSG:4326")


def _clubs(result: Round) -> pd.DataFrame:
    stated = {club.name: club.distance_m for club in result.bag.clubs}
    rows = []
    for name, mine in result.shots[result.shots["club"] != ""].groupby("club"):
        club = str(name)
        sources = mine["club_source"].value_counts()
        rows.append(
            {
                "club": club,
                "shots": len(mine),
                "median_distance_m": float(mine["distance_m"].astype(float).median()),
                "median_path_m": float(
                    mine.loc[~mine["detour"].astype(bool), "path_m"].astype(float).median()
                ),
                "stated_distance_m": stated.get(club),
                "sources": ", ".join(f"{count} {source}" for source, count in sources.items()),
            }
        )
    order = {club.name: index for index, club in enumerate(result.bag.clubs)}
    rows.sort(key=lambda row: order.get(str(row["club"]), len(order)))
    columns = ["club", "shots", "median_distance_m", "median_path_m", "stated_distance_m", "sources"]
    return pd.DataFrame(rows, columns=columns)


def _notes(result: Round) -> pd.DataFrame:
    notes = sorted(result.notes, key=lambda note: (_KINDS.index(note.kind), note.hole))
    hole = pd.array([note.hole or pd.NA for note in notes], dtype="Int64")
    return pd.DataFrame(
        {"kind": [note.kind for note in notes], "hole": hole, "text": [note.text for note in notes]}
    )
