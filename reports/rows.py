"""From tables to what a template shows: sentences, cells and marks, each already in words."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
from markupsafe import Markup

from reports.bundles import PlanTables, RoundTables, layup_rows, rows_by_hole
from reports.charts import target_mark
from reports.show import round_half_up
from reports.tables import DOUBTFUL_BELOW, NOTE_KINDS
from reports.words import Words

__all__ = [
    "CARD_COLUMNS",
    "card_rows",
    "club_rows",
    "glance_cells",
    "head_of_plan",
    "head_of_round",
    "hole_facts",
    "hole_result",
    "layup_cells",
    "note_groups",
    "numbers",
    "plan_shots",
    "shot_items",
    "whole",
]

_SIGNS = frozenset({"yes", "no", "unsure"})
# A target this near to the hole is the green [m]; common practice, no source.
_NOTHING_LEFT_M = 15.0


def whole(value: Any) -> int | None:
    """
    Read a whole number that may be missing.

    Parameters
    ----------
    value : object
        Number, None, NaN or NA.

    Returns
    -------
    int or None
        The number.
    """
    return None if value is None or pd.isna(value) else int(value)


def head_of_round(tables: RoundTables, words: Words) -> dict[str, Any]:
    """
    Say a round in a sentence.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    dict
        `when`, `headline` and `lede`.
    """
    head = tables.header
    layups = layup_rows(tables.comparison, tables.plan)
    when = None
    if head["start_time"] is not None:
        start = head["start_time"]
        values = {
            "date": words.date(start, head["time_zone"]),
            "start": words.clock(start, head["time_zone"]),
        }
        if head["end_time"] is None:
            when = words("when_start", **values)
        else:
            when = words("when", end=words.clock(head["end_time"], head["time_zone"]), **values)
    if head["layups"]:
        headline = words.count("headline_layups", head["layups"], within=head["layups_within"] or 0)
        if head["layups_unsure"]:
            headline += words.count("headline_unsure", head["layups_unsure"])
    else:
        headline = words("headline_no_plan" if tables.plan.empty else "headline_none_compared")
    lede = _lede(head, scored_holes(tables), layups, words)
    return {"when": when, "headline": headline, "lede": Markup(" ").join(lede)}


def head_of_plan(tables: PlanTables, words: Words) -> dict[str, Any]:
    """
    Say a plan in a sentence.

    Parameters
    ----------
    tables : PlanTables
        The plan.
    words : Words
        The language.

    Returns
    -------
    dict
        `headline` and `lede`.
    """
    lede = Markup("")
    if tables.holes["personal_par"].notna().all() and tables.holes["regulation_shots"].notna().all():
        lede = words(
            "plan_lede",
            par=int(tables.holes["personal_par"].sum()),
            regulation=int(tables.holes["regulation_shots"].sum()),
        )
    return {"headline": words.count("plan_headline", len(tables.plan)), "lede": lede}


def scored_holes(tables: RoundTables) -> pd.DataFrame | None:
    """
    Pick the holes that count, where some were picked up.

    Parameters
    ----------
    tables : RoundTables
        The round.

    Returns
    -------
    pandas.DataFrame or None
        The holes with strokes; None where all have them, or none has.
    """
    known = tables.holes["strokes"].notna()
    return None if known.all() or not known.any() else tables.holes[known]


def _lede(head: Any, scored: pd.DataFrame | None, layups: pd.DataFrame, words: Words) -> list[Markup]:
    lede = []
    if head["strokes"] is not None and head["personal_par"] is not None:
        par = head["personal_par"] if scored is None else int(scored["personal_par"].sum())
        over = head["strokes"] - par
        against = (
            words("lede_level") if not over else words("lede_over" if over > 0 else "lede_under", n=abs(over))
        )
        key = "lede_strokes_par" if scored is None else "lede_strokes_some"
        count = 0 if scored is None else len(scored)
        lede.append(words(key, strokes=head["strokes"], against=against, par=par, n=count))
    elif head["strokes"] is not None:
        lede.append(words("lede_strokes", strokes=head["strokes"]))
    known = layups[layups["within_tolerance"].isin(_SIGNS)]
    signs: dict[int, set[str]] = {}
    for hole, sign in zip(known["hole"], known["within_tolerance"], strict=True):
        signs.setdefault(int(hole), set()).add(sign)
    held = [hole for hole in sorted(signs) if signs[hole] == {"yes"}]
    broke = [hole for hole in sorted(signs) if "no" in signs[hole]]
    for key, holes in (("lede_held", held), ("lede_broke", broke)):
        if holes:
            lede.append(words.count(key, len(holes), holes=words.list(holes)))
    if head["median_leave_error_m"] is not None:
        lede.append(words("lede_leave", length=words.length(head["median_leave_error_m"])))
    return lede


def numbers(tables: RoundTables, words: Words) -> list[dict[str, Any]]:
    """
    List the key numbers of a round; what is unknown is left out.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    list of dict
        `name`, `value` and `note` of each.
    """
    head, scored = tables.header, scored_holes(tables)

    def note(key: str, value: Any, **more: Any) -> Markup | None:
        return None if value is None else words(key, **more)

    cells: list[tuple[str, Any, Markup | None]] = [
        (
            "num_strokes",
            head["strokes"],
            note("num_par", head["par"], par=head["par"])
            if scored is None
            else words.count("num_on_holes", len(scored)),
        ),
        ("num_personal_par", head["personal_par"], None),
        (
            "num_to_green",
            head["shots_to_green"],
            note("num_regulation", head["regulation_shots"], n=head["regulation_shots"]),
        ),
        ("num_putts", head["putts"], None),
        ("num_penalties", head["penalties"], None),
    ]
    if head["layups"]:
        of = words(
            "num_of_unsure" if head["layups_unsure"] else "num_of",
            n=head["layups"],
            unsure=head["layups_unsure"],
        )
        cells.append(("num_layups", head["layups_within"], of))
    if head["median_leave_error_m"] is not None:
        cells.append(("num_leave", words.length(head["median_leave_error_m"]), words("num_leave_note")))
    return [
        {"name": words(key), "value": value, "note": remark}
        for key, value, remark in cells
        if value is not None
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
        sign = row["within_tolerance"] if row["within_tolerance"] in _SIGNS else ""
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
    if row["club_source"] == "plan":
        return words("club_only_plan")
    return row["club"] or words("unknown")


def hole_facts(row: Any, words: Words) -> Markup:
    """
    Say what a hole asks for.

    Parameters
    ----------
    row : mapping
        A row of the holes.
    words : Words
        The language.

    Returns
    -------
    markupsafe.Markup
        Such as ``Par 4, index 13, 372 yd, personal par 5``.
    """
    facts = [words("hole_facts", par=_number(row["par"]))]
    if whole(row["stroke_index"]) is not None:
        facts.append(words("hole_index", index=whole(row["stroke_index"])))
    if math.isfinite(row["length_m"]):
        facts.append(words.length(row["length_m"]))
    if whole(row["personal_par"]) is not None:
        facts.append(words("hole_personal", par=whole(row["personal_par"])))
    regulation = whole(row["regulation_shots"])
    if regulation is not None:
        facts.append(words.count("hole_regulation", regulation))
    return Markup(", ").join(facts)


def hole_result(row: Any, words: Words) -> Markup:
    """
    Say how a hole went.

    Parameters
    ----------
    row : mapping
        A row of the holes.
    words : Words
        The language.

    Returns
    -------
    markupsafe.Markup
        Such as ``6 strokes: 4 shots to the green, 2 putts``.
    """
    strokes = whole(row["strokes"])
    head = words("hole_result_picked_up") if strokes is None else words("hole_result", strokes=strokes)
    parts = []
    for key, column in (("hole_to_green", "shots"), ("hole_putts", "putts"), ("hole_penalties", "penalties")):
        value = whole(row[column])
        if value is not None and (value or column != "penalties"):
            parts.append(words.count(key, value))
    return Markup("{}: {}").format(head, Markup(", ").join(parts)) if parts else head


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
        share = words("share", percent=round_half_up(100.0 * row["confidence"]))
        facts.append(words("shot_doubtful" if doubtful else "shot_sure", share=share))
    return {
        "shot": whole(row["shot"]),
        "club": row["club"] or words("unknown"),
        "distance": words.length(row["distance_m"]),
        "way": words("item_way", lie=words.term("lie", row["lie"]), end=words.term("lie", row["end_lie"])),
        "against": _against(plan, row["leave_m"], words),
        "sign": plan["within_tolerance"] if plan and plan["within_tolerance"] in _SIGNS else "",
        "facts": facts,
        "note": row["note"],
        "doubtful": doubtful,
    }


def _against(plan: Any, leave_m: float, words: Words) -> Markup | None:
    parts = []
    if plan and math.isfinite(plan["long_m"]) and math.isfinite(plan["right_m"]):
        parts.append(words("item_offset", offset=words.offset(plan["long_m"], plan["right_m"])))
    if math.isfinite(leave_m):
        # What a shot at the green left is not held against a plan to leave nothing.
        if plan and plan["planned_leave_m"] > _NOTHING_LEFT_M:
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
        name: _number(row[name]) for name in _CARD_COUNTS.values() if name not in {"length_m", "against"}
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
                "shots": _number(row["shots"]),
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
        _number(row["par"]),
        _number(row["stroke_index"]),
        words.length(row["length_m"], unit=False),
        _number(row["personal_par"]),
        _number(row["regulation_shots"]),
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


def _number(value: Any) -> Any:
    number = whole(value)
    return "–" if number is None else number


def _signed(value: int | None) -> str:
    return "–" if value is None else f"{value:+d}".replace("-", "−") if value else "0"
