"""All tables of one page together, checked once, and what is counted from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import geopandas as gpd
import pandas as pd

from reports.header import PLAN_HEADER_KEYS, check_header
from reports.tables import (
    CLUBS,
    COMPARISON,
    DOUBTS,
    HOLE_LINES,
    HOLES,
    NOTES,
    ONWARD,
    PLAN,
    SHAPES,
    SHOTS,
    TRACK,
    check_table,
    empty_table,
)

__all__ = ["PlanTables", "RoundTables", "known_club", "layup_rows", "layup_summary", "rows_by_hole"]

_ROUND_SPECS = (HOLES, SHOTS, PLAN, COMPARISON, ONWARD, DOUBTS, CLUBS, NOTES, TRACK, SHAPES, HOLE_LINES)
_SHOT_TABLES = ("shots", "plan", "comparison", "onward")


@dataclass(frozen=True, slots=True)
class RoundTables:
    """
    Everything a report on one round is drawn from, checked and copied when made.

    Parameters
    ----------
    header : mapping
        As in `HEADER_KEYS`.
    holes : pandas.DataFrame
        As in `HOLES`.
    shots : geopandas.GeoDataFrame, optional
        As in `SHOTS`.
    plan : geopandas.GeoDataFrame, optional
        As in `PLAN`.
    comparison : pandas.DataFrame, optional
        As in `COMPARISON`.
    onward : pandas.DataFrame, optional
        As in `ONWARD`.
    doubts : pandas.DataFrame, optional
        As in `DOUBTS`.
    clubs : pandas.DataFrame, optional
        As in `CLUBS`.
    notes : pandas.DataFrame, optional
        As in `NOTES`.
    track : pandas.DataFrame, optional
        As in `TRACK`.
    shapes : geopandas.GeoDataFrame, optional
        As in `SHAPES`.
    hole_lines : geopandas.GeoDataFrame, optional
        As in `HOLE_LINES`.

    Raises
    ------
    ValueError
        If a table lacks a column or holds the wrong type, or a hole or shot
        has no number or comes twice.
    """

    header: Mapping[str, Any]
    holes: pd.DataFrame
    shots: gpd.GeoDataFrame = field(default_factory=partial(empty_table, SHOTS))
    plan: gpd.GeoDataFrame = field(default_factory=partial(empty_table, PLAN))
    comparison: pd.DataFrame = field(default_factory=partial(empty_table, COMPARISON))
    onward: pd.DataFrame = field(default_factory=partial(empty_table, ONWARD))
    doubts: pd.DataFrame = field(default_factory=partial(empty_table, DOUBTS))
    clubs: pd.DataFrame = field(default_factory=partial(empty_table, CLUBS))
    notes: pd.DataFrame = field(default_factory=partial(empty_table, NOTES))
    track: pd.DataFrame = field(default_factory=partial(empty_table, TRACK))
    shapes: gpd.GeoDataFrame = field(default_factory=partial(empty_table, SHAPES))
    hole_lines: gpd.GeoDataFrame = field(default_factory=partial(empty_table, HOLE_LINES))

    def __post_init__(self) -> None:
        object.__setattr__(self, "header", check_header(self.header))
        for spec in _ROUND_SPECS:
            object.__setattr__(self, spec.name, check_table(getattr(self, spec.name), spec))
        for name, keys in (("holes", ["hole"]), *((name, ["hole", "shot"]) for name in _SHOT_TABLES)):
            _check_keys(getattr(self, name), name, keys)
        share = self.shots["confidence"].dropna()
        if not share.between(0.0, 1.0).all():
            raise ValueError("shots: a confidence lies outside 0 to 1")


@dataclass(frozen=True, slots=True)
class PlanTables:
    """
    Everything a plan on paper is drawn from, checked and copied when made.

    Parameters
    ----------
    header : mapping
        The keys player, course, units, credit and invented of `HEADER_KEYS`.
    holes : pandas.DataFrame
        As in `HOLES`; what is played later may be missing.
    plan : geopandas.GeoDataFrame
        As in `PLAN`; geometry None where the course has no positions.
    notes : pandas.DataFrame, optional
        As in `NOTES`.
    shapes : geopandas.GeoDataFrame, optional
        As in `SHAPES`.
    hole_lines : geopandas.GeoDataFrame, optional
        As in `HOLE_LINES`.

    Raises
    ------
    ValueError
        If a table lacks a column or holds the wrong type, or a hole or shot
        has no number or comes twice.
    """

    header: Mapping[str, Any]
    holes: pd.DataFrame
    plan: gpd.GeoDataFrame
    notes: pd.DataFrame = field(default_factory=partial(empty_table, NOTES))
    shapes: gpd.GeoDataFrame = field(default_factory=partial(empty_table, SHAPES))
    hole_lines: gpd.GeoDataFrame = field(default_factory=partial(empty_table, HOLE_LINES))

    def __post_init__(self) -> None:
        object.__setattr__(self, "header", check_header(self.header, keys=PLAN_HEADER_KEYS))
        for spec in (HOLES, PLAN, NOTES, SHAPES, HOLE_LINES):
            object.__setattr__(self, spec.name, check_table(getattr(self, spec.name), spec))
        for name, keys in (("holes", ["hole"]), ("plan", ["hole", "shot"])):
            _check_keys(getattr(self, name), name, keys)


def _check_keys(table: pd.DataFrame, name: str, keys: list[str]) -> None:
    if table[keys].isna().to_numpy().any():
        raise ValueError(f"{name}: a row without {' and '.join(keys)}")
    twice = table[table.duplicated(keys)]
    if len(twice):
        which = ", ".join(f"{key} {twice.iloc[0][key]}" for key in keys)
        raise ValueError(f"{name}: {which} comes twice")


def known_club(row: Any) -> str:
    """
    Name the club that was played, where something other than the plan tells it.

    Parameters
    ----------
    row : mapping
        With `club` and `club_source`.

    Returns
    -------
    str
        Its name; empty where it is not known.
    """
    # A club that only the plan names was not seen, no more than one that nothing names.
    return "" if row["club_source"] == "plan" else row["club"]


def layup_rows(comparison: pd.DataFrame, plan: pd.DataFrame) -> pd.DataFrame:
    """
    Pick the planned shots that set up the next one.

    A layup is any planned shot that is not the last of its hole and whose
    role is not ``approach``: the tee shot of a long hole counts, the shot at
    the green does not.

    Parameters
    ----------
    comparison : pandas.DataFrame
        As `COMPARISON`.
    plan : pandas.DataFrame
        As `PLAN`; a row of the comparison that it lacks has no role.

    Returns
    -------
    pandas.DataFrame
        The rows of the comparison with a column `role`, in playing order.
    """
    roles = {(h, s): r for h, s, r in zip(plan["hole"], plan["shot"], plan["role"], strict=True)}
    table = comparison.copy()
    table["role"] = [roles.get(key, "") for key in zip(table["hole"], table["shot"], strict=True)]
    last = table.groupby("hole")["shot"].transform("max")
    layups = table[(table["role"] != "approach") & (table["shot"] < last)]
    return layups.sort_values(["hole", "shot"], kind="stable").reset_index(drop=True)


def layup_summary(comparison: pd.DataFrame, plan: pd.DataFrame) -> dict[str, int | float | None]:
    """
    Count the layups for the head of a report.

    Parameters
    ----------
    comparison, plan : pandas.DataFrame
        As for `layup_rows`.

    Returns
    -------
    dict
        `layups` (those that could be compared), `layups_within`,
        `layups_unsure` and `median_leave_error_m` [m], None where no layup
        has both leaves.
    """
    rows = layup_rows(comparison, plan)
    rows = rows[rows["within_tolerance"].isin(["yes", "no", "unsure"])]
    error_m = (rows["leave_m"] - rows["planned_leave_m"]).abs().dropna()
    return {
        "layups": len(rows),
        "layups_within": int((rows["within_tolerance"] == "yes").sum()),
        "layups_unsure": int((rows["within_tolerance"] == "unsure").sum()),
        "median_leave_error_m": None if error_m.empty else float(error_m.median()),
    }


def rows_by_hole(table: pd.DataFrame) -> dict[int, list[dict[str, Any]]]:
    """
    Read a table hole by hole.

    Parameters
    ----------
    table : pandas.DataFrame
        With a column `hole`; sorted by `shot` where it has one.

    Returns
    -------
    dict of int to list of dict
        The rows of each hole, without geometry; rows of no hole are left out.
    """
    named = table.geometry.name if isinstance(table, gpd.GeoDataFrame) else "geometry"
    plain = pd.DataFrame(table).drop(columns=named, errors="ignore")
    if "shot" in plain:
        plain = plain.sort_values("shot", kind="stable")
    holes: dict[int, list[dict[str, Any]]] = {}
    records: list[dict[Any, Any]] = plain[plain["hole"].notna()].to_dict("records")
    for row in records:
        holes.setdefault(int(row["hole"]), []).append(row)
    return holes
