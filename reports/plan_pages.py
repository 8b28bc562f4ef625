"""The plan to read before the round: odds, a page a hole, what next from where, and a card for the pocket."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import pandas as pd
from markupsafe import Markup

from reports import heads, offline, rows
from reports.base import render_page
from reports.bundles import PlanTables
from reports.drawing_words import drawing_desc, labelled
from reports.drawings import HolePainter

# The drawings of both pages are labelled alike.
from reports.phrases import ENGLISH
from reports.phrases_plan import PLAN_ENGLISH
from reports.words import Words
from reports.zone_drawing import draw_zones

__all__ = ["PLAN_NAMES", "PlanBook", "plan_book"]

PLAN_NAMES = ("on plan", "fewest strokes", "rule of thumb")
"""Plans a book may hold, the first of them the one that is drawn."""

_ODDS = (
    "hole",
    "name",
    "expected_strokes",
    "regulation_probability",
    "high_score_probability",
    "penalty_probability",
    "expected_penalties",
    "shots",
)
_SPOTS = ("hole", "spot", "next", "strokes_to_go")
_VERDICTS = ("hole", "verdict", "more", "error", "miss")
_ZONES = ("hole", "club", "at_green", "mark_lon_deg", "mark_lat_deg", "geometry")
_PANELS = 3


@dataclass(frozen=True)
class PlanBook:
    """
    Everything the plan with its odds is drawn from.

    Parameters
    ----------
    tables : PlanTables
        The plan that is drawn.
    odds : pandas.DataFrame
        A row a hole and plan: ``hole``, ``name`` (one of `PLAN_NAMES`),
        ``expected_strokes``, ``regulation_probability``,
        ``high_score_probability``, ``penalty_probability``,
        ``expected_penalties`` and ``shots`` in words (yards and metres, a
        pair).
    spots : pandas.DataFrame
        A row a usual spot: ``hole``, ``spot`` and ``next`` in words (``next``
        a pair as above), ``strokes_to_go`` (NaN unknown).
    verdicts : pandas.DataFrame
        A row a hole: ``hole``, ``verdict`` (``worse``, ``better``, ``same``,
        ``unsure`` or ""), ``more`` strokes of the rule of thumb, ``error``
        twice its standard error, ``miss`` where it is best not to be.
    zones : geopandas.GeoDataFrame
        A row a zone: ``hole``, ``club``, ``at_green``, a place for its
        number ``mark_lon_deg``, ``mark_lat_deg``, and geometry, WGS 84.
    sentences : sequence of str
        What is said of all plans together.

    Raises
    ------
    ValueError
        If a table lacks a column.
    """

    tables: PlanTables
    odds: pd.DataFrame
    spots: pd.DataFrame
    verdicts: pd.DataFrame
    zones: gpd.GeoDataFrame
    sentences: Sequence[str] = field(default_factory=tuple)
    clubs: Sequence[str] = field(default_factory=tuple)

    def __post_init__(self) -> None:
        for name, columns in (("odds", _ODDS), ("spots", _SPOTS), ("verdicts", _VERDICTS), ("zones", _ZONES)):
            missing = [column for column in columns if column not in getattr(self, name).columns]
            if missing:
                raise ValueError(f"{name}: no column {', '.join(missing)}")


def plan_book(book: PlanBook, *, phrases: Mapping[str, str] | None = None) -> str:
    """
    Write the plan with its odds.

    Parameters
    ----------
    book : PlanBook
        The plan.
    phrases : mapping of str to str, optional
        The language; English by default.

    Returns
    -------
    str
        An HTML page that fetches nothing; the same text for the same tables.

    Notes
    -----
    Printed, it is a page a hole and at the end a card of four panels on one
    A4 sheet. Names and notes are shown letter by letter, whatever they hold.
    """
    tables = book.tables
    words = Words(tables.header["units"], {**ENGLISH, **PLAN_ENGLISH} if phrases is None else phrases)
    painter = HolePainter(tables.shapes, tables.hole_lines, tables.plan)
    shots = rows.plan_shots(tables, words)
    lines = dict(zip(tables.hole_lines["hole"], tables.hole_lines.geometry, strict=True))
    verdicts = {int(row["hole"]): row for row in book.verdicts.to_dict("records")}
    holes = []
    for row in tables.holes.sort_values("hole", kind="stable").to_dict("records"):
        hole = int(row["hole"])
        drawing = labelled(painter.draw(hole), words)
        zones = book.zones[book.zones["hole"] == hole]
        holes.append(
            {
                "number": hole,
                "par": row["par"],
                "personal": row["personal_par"],
                "regulation": row["regulation_shots"],
                "facts": heads.hole_facts(row, words),
                "note": row["note"],
                "cells": rows.glance_cells(row, words),
                "shots": shots.get(hole, []),
                "drawing": drawing,
                "desc": drawing_desc(drawing, words),
                "odds": [_odds(item, words) for item in _of(book.odds, hole)],
                "spots": [_spot(item, words) for item in _of(book.spots, hole)],
                "verdict": _verdict(verdicts.get(hole), words),
                "miss": verdicts.get(hole, {}).get("miss", ""),
                "zones": draw_zones(hole, zones, tables.shapes, lines.get(hole)),
                "zone_words": [
                    words("po_zone_green" if zone["at_green"] else "po_zone_layup", club=zone["club"])
                    for zone in pd.DataFrame(zones).to_dict("records")
                ],
            }
        )
    head = dict(heads.head_of_plan(tables, words))
    mine = book.odds[book.odds["name"] == PLAN_NAMES[0]]
    head["lede"] = Markup(" ").join(
        [
            head["lede"],
            words(
                "po_lede",
                strokes=f"{mine['expected_strokes'].sum():.0f}",
                greens=f"{mine['regulation_probability'].sum():.0f}",
                holes=len(mine),
            ),
        ]
    )
    size = math.ceil(len(holes) / _PANELS)
    return render_page(
        "plan_book.html",
        tables.header,
        words,
        styles=[offline.own_file("plan_book.css")],
        title=words.plain("title_plan", player=tables.header["player"], course=tables.header["course"]),
        invented_key="invented_notice_plan",
        when=None,
        **head,
        holes=holes,
        panels=[holes[start : start + size] for start in range(0, len(holes), size)],
        totals=[_total(book.odds, name, words) for name in PLAN_NAMES if (book.odds["name"] == name).any()],
        sentences=list(book.sentences),
        clubs=list(book.clubs),
        notes=rows.note_groups(tables.notes, words),
    )


def _of(table: pd.DataFrame, hole: int) -> list[dict[Any, Any]]:
    return table[table["hole"] == hole].to_dict("records")


def _name(name: str, words: Words) -> Markup:
    return words("po_name_" + name.replace(" ", "_"))


def _share(value: float) -> str:
    return f"{value:.0%}"


def _odds(row: Mapping[Any, Any], words: Words) -> dict[str, Any]:
    return {
        "name": _name(row["name"], words),
        "shots": words.both(*row["shots"]),
        "strokes": f"{row['expected_strokes']:.2f}",
        "in_time": _share(row["regulation_probability"]),
        "high": _share(row["high_score_probability"]),
        "trouble": _share(row["penalty_probability"]),
    }


def _spot(row: Mapping[Any, Any], words: Words) -> dict[str, Any]:
    known = math.isfinite(row["strokes_to_go"])
    return {
        "spot": row["spot"],
        "next": words.both(*row["next"]),
        "to_go": f"{row['strokes_to_go']:.1f}" if known else "–",
    }


def _verdict(row: Mapping[Any, Any] | None, words: Words) -> Markup | None:
    if row is None or not row["verdict"]:
        return None
    return words(f"po_{row['verdict']}", strokes=f"{abs(row['more']):.2f}", error=f"{row['error']:.2f}")


def _total(odds: pd.DataFrame, name: str, words: Words) -> dict[str, Any]:
    some = odds[odds["name"] == name]
    return {
        "name": _name(name, words),
        "strokes": f"{some['expected_strokes'].sum():.1f}",
        "greens": f"{some['regulation_probability'].sum():.1f}",
        "penalties": f"{some['expected_penalties'].sum():.1f}",
    }
