"""A rebuilt round as the plain tables that `reports` draws."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from reports.bundles import RoundTables, layup_summary
from reports.tables import COMPARISON, ONWARD, PLAN, check_table, empty_table
from trackgolf.doubts import find_doubts
from trackgolf.onward import onward_shots
from trackgolf.playings import (
    holes_by_playing,
    lines_by_playing,
    number_playings,
    shots_by_playing,
    walk_by_playing,
)
from trackgolf.reconstruct import Round
from trackgolf.tables_course import course_lines, course_shapes
from trackgolf.time_zone import time_zone_of

__all__ = ["round_header", "round_tables"]

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
        With the columns that `reports.tables` documents. A hole played twice
        is two holes there; its plan belongs to the first playing.
    """
    plan = {} if result.plan is None else {"plan": _lines(result.plan, "start", "target")}
    played = result.holes
    numbers = number_playings(played, max(hole.number for hole in result.course.holes))
    return RoundTables(
        header=round_header(result),
        holes=holes_by_playing(played, numbers),
        shots=_lines(shots_by_playing(result.shots, numbers), "start", "end"),
        # Nothing is to be drawn of holes that were not played.
        comparison=result.comparison[result.comparison["hole"].isin(result.holes["hole"])],
        # Without a plan there is nothing it would have played.
        onward=_onward(result, numbers),
        doubts=shots_by_playing(find_doubts(result.shots, result.stands), numbers),
        clubs=_clubs(result),
        notes=_notes(result),
        track=walk_by_playing(result.walk, played, numbers)[["time", "lon_deg", "lat_deg", "part", "hole"]],
        shapes=lines_by_playing(course_shapes(result.course), played, numbers),
        hole_lines=lines_by_playing(course_lines(result.course), played, numbers),
        **plan,
    )


def round_header(result: Round) -> dict[str, Any]:
    """
    Say what heads the report of a round.

    Parameters
    ----------
    result : Round
        The round.

    Returns
    -------
    dict
        As `reports.header.HEADER_KEYS`.
    """
    holes = result.holes
    plan = empty_table(PLAN) if result.plan is None else result.plan
    layups = layup_summary(check_table(result.comparison, COMPARISON), plan)
    penalties = int(holes["penalties"].fillna(0).sum())
    return {
        "player": result.bag.player,
        "course": result.course.name,
        "units": result.bag.units,
        "time_zone": time_zone_of(result.ground.frame.lon_deg, result.ground.frame.lat_deg),
        "start_time": result.shots["start_time"].min(),
        "end_time": holes["last_time"].max(),
        "credit": result.course.credit,
        "invented": result.course.invented,
        # Of the holes that have strokes; the report says how many those are where some were picked up.
        "strokes": int(holes["strokes"].sum()) if holes["strokes"].notna().any() else None,
        "par": int(holes["par"].sum()),
        "personal_par": int(holes["personal_par"].sum()),
        "putts": int(holes["putts"].sum()) if holes["putts"].notna().all() else None,
        "penalties": penalties,
        "shots_to_green": int(holes["shots"].sum()) + penalties,
        "regulation_shots": int(holes["regulation_shots"].sum()),
        **layups,
    }


def _onward(result: Round, numbers: dict[int, int]) -> pd.DataFrame:
    if result.plan is None:
        return pd.DataFrame(empty_table(ONWARD))
    return shots_by_playing(onward_shots(result.shots, result.course, result.bag), numbers)


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
    # A club that only the plan names would measure the plan, not the club.
    known = (result.shots["club"] != "") & (result.shots["club_source"] != "plan")
    for name, mine in result.shots[known].groupby("club"):
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
