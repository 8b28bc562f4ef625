"""Rows of the tables and lists of a page: cells and marks, each already in words."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
from markupsafe import Markup

from reports.bundles import PlanTables, RoundTables, layup_rows, rows_by_hole
from reports.charts import target_mark
from reports.heads import SIGNS, or_dash, whole
from reports.show import round_half_up
from reports.tables import DOUBTFUL_BELOW, NOTE_KINDS
from reports.words import Words

__all__ = [
    "CARD_COLUMNS",
    "card_rows",
    "club_rows",
    "glance_cells",
    "layup_cells",
    "note_groups",
    "plan_shots",
    "shot_items",
]

# A target this near to the hole is the green [m]; common practice, no source.
_NOTHING_LEFT_M = 15.0


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
                "verdict": words(sign) if sign else words("not_compared"),
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


def played_club(row: Any, words: Words) -> Any:
    """
    Name the club that was played, unless only the plan says so.

    Parameters
    ----------
    row : mapping
        With `club` and `club_source`.
    words : Words
        The language.

    Returns
    -------
    str or markupsafe.Markup
        Its name, for a template to escape.
    """
    # A club that only the plan names was not seen, no more than one that nothing names.
    return words("club_not_known") if row["club_source"] == "plan" or not row["club"] else row["club"]


def shot_items(tables: RoundTables, words: Words) -> dict[int, list[dict[str, Any]]]:
    """
    Tell the shots of every hole, one after the other.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    dict of int to list of dict
        For each hole a sentence a shot, and what stands in small below it.
    """
    compared = {
        (hole, whole(row["shot"])): row
        for hole, rows in rows_by_hole(tables.comparison).items()
        for row in rows
    }
    zone = tables.header["time_zone"]
    return {
        hole: [_shot_item(row, compared.get((hole, whole(row["shot"]))), words, zone) for row in rows]
        for hole, rows in rows_by_hole(tables.shots).items()
    }


def _shot_item(row: Any, plan: Any, words: Words, zone: str) -> dict[str, Any]:
    doubtful = row["confidence"] < DOUBTFUL_BELOW
    facts = [words("item_source", source=words.term("source", row["club_source"]))]
    if math.isfinite(row["path_m"]):
        facts.append(words("item_path", length=words.length(row["path_m"])))
    if not pd.isna(row["start_time"]):
        facts.append(words.clock(row["start_time"].to_pydatetime(warn=False), zone))
    if math.isfinite(row["confidence"]):
        share = _share(row["confidence"], words)
        facts.append(words("shot_doubtful" if doubtful else "shot_sure", share=share))
    return {
        "shot": whole(row["shot"]),
        "club": row["club"] or words("unknown"),
        "distance": words.length(row["distance_m"])
        if math.isfinite(row["distance_m"])
        else words("distance_not_known"),
        "way": words("item_way", lie=words.term("lie", row["lie"]), end=words.term("lie", row["end_lie"])),
        "against": _against(plan, row["leave_m"], words),
        "sign": plan["within_tolerance"] if plan and plan["within_tolerance"] in SIGNS else "",
        "facts": facts,
        "note": row["note"],
        "doubtful": doubtful,
    }


def _share(share: float, words: Words) -> Markup:
    """Write a probability; nothing that is estimated is certain."""
    percent = round_half_up(100.0 * share)
    if percent in {0, 100}:
        return words("share_most" if percent else "share_least")
    return words("share", percent=percent)


def _against(plan: Any, leave_m: float, words: Words) -> Markup | None:
    parts = []
    if plan and math.isfinite(plan["long_m"]) and math.isfinite(plan["right_m"]):
        parts.append(words("item_offset", offset=words.offset(plan["long_m"], plan["right_m"])))
    if math.isfinite(leave_m):
        # What a shot at the green left is not held against a plan to leave nothing.
        # Nor is one that was played after the plan was left, as the table of layups has it.
        compared = plan and math.isfinite(plan["leave_m"])
        if compared and plan["planned_leave_m"] > _NOTHING_LEFT_M:
            planned = words.length(plan["planned_leave_m"])
            parts.append(words("item_leave", leave=words.length(leave_m), planned=planned))
        else:
            parts.append(words("item_left", length=words.length(leave_m)))
    if (
        plan
        and plan["club_source"] != "plan"
        and plan["club"]
        and plan["planned_club"] not in {"", plan["club"]}
    ):
        parts.append(words("item_other_club", club=plan["planned_club"]))
    return Markup("; ").join(parts) if parts else None


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
