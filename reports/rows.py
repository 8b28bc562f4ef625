"""Rows of the tables and lists of a page: cells and marks, each already in words."""

from __future__ import annotations

from typing import Any

import pandas as pd
from markupsafe import Markup

from reports.bundles import PlanTables, RoundTables, layup_rows, rows_by_hole
from reports.causes import strokes_by_cause
from reports.charts import target_mark
from reports.heads import SIGNS, or_dash, whole
from reports.sentences import played_club
from reports.tables import DOUBTFUL_BELOW, NOTE_KINDS
from reports.words import Words

__all__ = [
    "CARD_COLUMNS",
    "card_rows",
    "cause_caption",
    "cause_rows",
    "club_rows",
    "glance_cells",
    "layup_cells",
    "note_groups",
    "plan_shots",
]


def layup_cells(tables: RoundTables, words: Words) -> list[dict[str, Any]]:
    """
    Fill the rows of the layup table.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    list of dict
        A row a layup.
    """
    sure = confidence_of(tables)
    rows = []
    for row in layup_rows(tables.comparison, tables.plan).to_dict("records"):
        hole, shot = int(row["hole"]), int(row["shot"])
        sign = row["within_tolerance"] if row["within_tolerance"] in SIGNS else ""
        share = sure.get((hole, shot), 1.0)
        rows.append(
            {
                "hole": hole,
                "shot": shot,
                "mark": target_mark(row["long_m"], row["right_m"], row["tolerance_m"]),
                "sign": sign,
                "verdict": words(sign) if sign else "–",
                "finish": words.offset(row["long_m"], row["right_m"], unit=False),
                "planned_leave": words.length(row["planned_leave_m"], unit=False),
                "leave": words.length(row["leave_m"], unit=False),
                "planned_club": row["planned_club"] or words("unknown"),
                "club": played_club(row, words),
                "planned_distance": words.length(row["planned_distance_m"], unit=False),
                "distance": words.length(row["distance_m"], unit=False),
                "path": words.length(row["path_m"], unit=False),
                "lie": words.term("lie", row["end_lie"]),
                "doubtful": share < DOUBTFUL_BELOW,
            }
        )
    return rows


def confidence_of(tables: RoundTables) -> dict[tuple[int, int], float]:
    """
    Look up how sure each shot is.

    Parameters
    ----------
    tables : RoundTables
        The round.

    Returns
    -------
    dict
        Probability by hole and shot; shots without one are left out.
    """
    known = tables.shots.dropna(subset=["hole", "shot", "confidence"])
    return {
        (int(hole), int(shot)): float(share)
        for hole, shot, share in zip(known["hole"], known["shot"], known["confidence"], strict=True)
    }


def card_rows(tables: RoundTables, words: Words) -> list[dict[str, Any]]:
    """
    Fill the scorecard, with a line after each nine and one at the end.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    list of dict
        `head`, `total`, `cells` and `note` of each line.
    """
    holes = tables.holes.sort_values("hole", kind="stable")
    rows = []
    first, second = holes[holes["hole"] <= 9], holes[holes["hole"] > 9]
    for part, key in ((first, "row_out"), (second, "row_in")):
        rows += [_card_row(row, words) for row in part.to_dict("records")]
        if len(first) and len(second):
            rows.append(_card_sum(part, words, key))
    rows.append(_card_sum(holes, words, "row_total"))
    return rows


# Column of the scorecard: column of the holes. What is compared comes first, for narrow screens.
_CARD_COUNTS = {
    "par": "par",
    "personal": "personal_par",
    "strokes": "strokes",
    "against_par": "against",
    "to_green": "shots",
    "regulation": "regulation_shots",
    "putts": "putts",
    "penalties": "penalties",
    "index": "stroke_index",
    "length": "length_m",
}
CARD_COLUMNS = tuple(_CARD_COUNTS)
"""Columns of the scorecard, in order; each has a phrase ``col_`` and this name."""


def _card_row(row: Any, words: Words) -> dict[str, Any]:
    strokes, personal = whole(row["strokes"]), whole(row["personal_par"])
    cells = {
        name: or_dash(row[name]) for name in _CARD_COUNTS.values() if name not in {"length_m", "against"}
    }
    cells["length_m"] = words.length(row["length_m"], unit=False)
    cells["against"] = _signed(None if strokes is None or personal is None else strokes - personal)
    return {
        "head": whole(row["hole"]),
        "total": False,
        "cells": [cells[name] for name in _CARD_COUNTS.values()],
        "note": row["note"],
    }


def _card_sum(part: pd.DataFrame, words: Words, key: str) -> dict[str, Any]:
    sums = {
        name: "–" if part[name].isna().all() else int(part[name].sum())
        for name in _CARD_COUNTS.values()
        if name not in {"length_m", "against", "stroke_index"}
    }
    played = part.dropna(subset=["strokes", "personal_par"])
    against = int((played["strokes"] - played["personal_par"]).sum()) if len(played) else None
    cells: dict[str, Any] = {
        **sums,
        "stroke_index": "",
        "length_m": words.length(float(part["length_m"].sum(min_count=1)), unit=False),
        "against": _signed(against),
    }
    return {
        "head": words(key),
        "total": True,
        "cells": [cells[name] for name in _CARD_COUNTS.values()],
        "note": "",
    }


# Length of the longest bar of the causes [px].
_BAR = 40.0


def cause_rows(tables: RoundTables, words: Words) -> list[dict[str, Any]]:
    """
    Fill the table of strokes by cause.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    list of dict
        A row a cause with `name`, `strokes`, `bar` (its length, saved strokes to the left), `css`, `holes` and
        `total`; the last is their sum. Empty where no hole has a score and a personal par.
    """
    causes, counted = strokes_by_cause(tables)
    if not counted:
        return []
    longest = max((abs(cause.strokes) for cause in causes), default=1)
    rows: list[dict[str, Any]] = [
        {
            "name": words(
                f"cause_{cause.key}" if cause.key != "to_green" or len(tables.plan) else "cause_any"
            ),
            "strokes": _signed(cause.strokes),
            "bar": round(cause.strokes / longest * _BAR, 1),
            "css": "cost" if cause.strokes > 0 else "saved",
            "holes": cause.holes,
            "total": False,
        }
        for cause in causes
    ]
    total = _signed(sum(cause.strokes for cause in causes))
    rows.append(
        {"name": words("cause_all"), "strokes": total, "bar": 0.0, "css": "", "holes": (), "total": True}
    )
    return rows


def cause_caption(tables: RoundTables, words: Words) -> Markup:
    """
    Say what the causes are counted on.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    markupsafe.Markup
        Such as ``Strokes against personal par, on 17 holes with a score``.
    """
    return words.count("table_causes_on", strokes_by_cause(tables)[1])


def club_rows(tables: RoundTables, words: Words) -> list[dict[str, Any]]:
    """
    Fill the table of the clubs of the day.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    list of dict
        A row a club, as the table has them.
    """
    rows = []
    for row in tables.clubs.to_dict("records"):
        difference = row["median_distance_m"] - row["stated_distance_m"]
        rows.append(
            {
                "club": row["club"] or words("unknown"),
                "shots": or_dash(row["shots"]),
                "distance": words.length(row["median_distance_m"], unit=False),
                "path": words.length(row["median_path_m"], unit=False),
                "stated": words.length(row["stated_distance_m"], unit=False),
                "difference": words.signed_length(difference),
                "sources": words.terms("source", row["sources"]),
            }
        )
    return rows


def note_groups(notes: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """
    Sort the notes by what was done.

    Parameters
    ----------
    notes : pandas.DataFrame
        As `reports.tables.NOTES`.
    words : Words
        The language.

    Returns
    -------
    list of dict
        `name` and `items` of each kind that has any.
    """
    groups = []
    kinds = notes["kind"].where(notes["kind"].isin(NOTE_KINDS), "other")
    for kind in (*NOTE_KINDS, "other"):
        items = []
        for row in notes[kinds == kind].to_dict("records"):
            hole = whole(row["hole"])
            items.append(row["text"] if hole is None else words("note_hole", number=hole, text=row["text"]))
        if items:
            groups.append({"name": words(f"notes_{kind}"), "texts": items})
    return groups


def glance_cells(row: Any, words: Words) -> list[Any]:
    """
    Fill the numbers of a hole in the plan at a glance.

    Parameters
    ----------
    row : mapping
        A row of the holes.
    words : Words
        The language.

    Returns
    -------
    list
        Par, index, length, personal par and regulation shots.
    """
    return [
        or_dash(row["par"]),
        or_dash(row["stroke_index"]),
        words.length(row["length_m"], unit=False),
        or_dash(row["personal_par"]),
        or_dash(row["regulation_shots"]),
    ]


def plan_shots(tables: PlanTables, words: Words) -> dict[int, list[dict[str, Any]]]:
    """
    Fill the rows of every hole's plan.

    Parameters
    ----------
    tables : PlanTables
        The plan.
    words : Words
        The language.

    Returns
    -------
    dict of int to list of dict
        For each hole a row a planned shot.
    """
    return {
        hole: [
            {
                "shot": whole(row["shot"]),
                "club": row["club"] or words("unknown"),
                "role": words.term("role", row["role"]),
                "distance": words.length(row["distance_m"], unit=False),
                "leave": words.length(row["leave_m"], unit=False),
                "tolerance": words.length(row["tolerance_m"], unit=False),
            }
            for row in rows
        ]
        for hole, rows in rows_by_hole(tables.plan).items()
    }


def _signed(value: int | None) -> str:
    return "–" if value is None else f"{value:+d}".replace("-", "−") if value else "0"
