"""From tables to a page: one HTML file that needs nothing but itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

import pandas as pd
from markupsafe import Markup

from reports import heads, offline, rows
from reports.base import render_page
from reports.bundles import PlanTables, RoundTables, layup_rows
from reports.charts import ClubChart, LeaveChart, MissChart, club_chart, leave_chart, miss_chart
from reports.drawing_words import drawing_desc, labelled
from reports.drawings import HolePainter
from reports.maps import round_map
from reports.offline import write_page
from reports.phrases import ENGLISH
from reports.sentences import shot_items
from reports.show import shorten
from reports.tables import DOUBTFUL_BELOW
from reports.words import Words

__all__ = ["index_page", "plan_page", "round_report", "round_sentence", "write_page"]

# Letters that fit left of a club's shots.
_CLUB_LETTERS = 15


def round_report(tables: RoundTables, *, phrases: Mapping[str, str] = ENGLISH) -> str:
    """
    Write the report of a round: what was played against what was planned.

    Parameters
    ----------
    tables : RoundTables
        The round.
    phrases : mapping of str to str, optional
        The language; English by default.

    Returns
    -------
    str
        An HTML page that fetches nothing; the same text for the same tables.

    Notes
    -----
    Names and notes are shown letter by letter, whatever they hold.
    """
    words = Words(tables.header["units"], phrases)
    layups = layup_rows(tables.comparison, tables.plan)
    misses = miss_chart(layups, rows.confidence_of(tables))
    leaves = leave_chart(layups)
    drawn = round_map(tables, words)
    painter = HolePainter(
        tables.shapes,
        tables.hole_lines,
        tables.plan,
        shots=tables.shots,
        track=tables.track,
        comparison=tables.comparison,
    )
    shots = shot_items(tables, words)
    on_map = [hole["number"] for hole in drawn.island["holes"]] if drawn else []
    holes = []
    for row in tables.holes.sort_values("hole", kind="stable").to_dict("records"):
        hole = int(row["hole"])
        drawing = labelled(painter.draw(hole), words)
        holes.append(
            {
                "number": hole,
                "facts": heads.hole_facts(row, words),
                "result": heads.hole_result(row, words),
                "note": row["note"],
                "shots": shots.get(hole, []),
                "drawing": drawing,
                "desc": drawing_desc(drawing, words),
                "on_map": hole in on_map,
            }
        )
    return render_page(
        "round.html",
        tables.header,
        words,
        scripts=[offline.leaflet_script(), f"\n{drawn.script}\n"] if drawn else [],
        styles=[offline.leaflet_style()] if drawn else [],
        title=_title("title_round", tables.header, words),
        invented_key="invented_notice",
        **heads.head_of_round(tables, words),
        layups=rows.layup_cells(tables, words),
        misses=misses,
        misses_desc=_misses_desc(misses, words),
        misses_far=bool(misses and any(point["far"] for point in misses.points)),
        misses_doubtful=bool(misses and any(point["doubtful"] for point in misses.points)),
        misses_stand_in=bool(misses and any(point["stand_in"] for point in misses.points)),
        numbers=heads.numbers(tables, words),
        leaves=leaves,
        leaves_half=tables.header["median_leave_error_m"],
        leaves_desc=_leaves_desc(leaves, words),
        causes=rows.cause_rows(tables, words),
        causes_caption=rows.cause_caption(tables, words),
        by_club=_named(club_chart(tables.shots, tables.clubs)),
        map_id=drawn.element_id if drawn else None,
        map_holes=on_map,
        island=offline.data_island(drawn.island) if drawn else "",
        has_track=not tables.track.empty,
        has_plan=not tables.plan.empty,
        has_onward=not tables.onward.empty,
        any_doubtful=bool((tables.shots["confidence"] < DOUBTFUL_BELOW).any()),
        holes=holes,
        card=rows.card_rows(tables, words),
        card_columns=rows.CARD_COLUMNS,
        some_unscored=heads.scored_holes(tables) is not None,
        clubs=rows.club_rows(tables, words),
        notes=rows.note_groups(tables.notes, words),
    )


def round_sentence(tables: RoundTables, *, phrases: Mapping[str, str] = ENGLISH) -> str:
    """
    Say a round in the sentence that heads its report.

    Parameters
    ----------
    tables : RoundTables
        The round.
    phrases : mapping of str to str, optional
        The language; English by default.

    Returns
    -------
    str
        Plain text, for a terminal.
    """
    return str(heads.head_of_round(tables, Words(tables.header["units"], phrases))["headline"])


def plan_page(tables: PlanTables, *, phrases: Mapping[str, str] = ENGLISH) -> str:
    """
    Write a plan to read before the round and to carry on paper.

    Parameters
    ----------
    tables : PlanTables
        The plan.
    phrases : mapping of str to str, optional
        The language; English by default.

    Returns
    -------
    str
        An HTML page that fetches nothing; the same text for the same tables.

    Notes
    -----
    A course without positions gives tables and no drawings.
    """
    words = Words(tables.header["units"], phrases)
    painter = HolePainter(tables.shapes, tables.hole_lines, tables.plan)
    shots = rows.plan_shots(tables, words)
    holes = []
    for row in tables.holes.sort_values("hole", kind="stable").to_dict("records"):
        hole = int(row["hole"])
        drawing = labelled(painter.draw(hole), words)
        holes.append(
            {
                "number": hole,
                "facts": heads.hole_facts(row, words),
                "note": row["note"],
                "cells": rows.glance_cells(row, words),
                "shots": shots.get(hole, []),
                "drawing": drawing,
                "desc": drawing_desc(drawing, words),
            }
        )
    return render_page(
        "plan.html",
        tables.header,
        words,
        title=_title("title_plan", tables.header, words),
        invented_key="invented_notice_plan",
        when=None,
        **heads.head_of_plan(tables, words),
        holes=holes,
        notes=rows.note_groups(tables.notes, words),
    )


def index_page(
    pages: Sequence[tuple[str, RoundTables | PlanTables]], *, phrases: Mapping[str, str] = ENGLISH
) -> str:
    """
    Write a page that leads to several reports and plans.

    Parameters
    ----------
    pages : sequence of tuple
        For each page its path, seen from the folder of this one, with ``/``
        between its parts, and what it is drawn from. Pages of one player stand
        together, in the order given.
    phrases : mapping of str to str, optional
        The language; English by default.

    Returns
    -------
    str
        An HTML page that fetches nothing; the same text for the same tables.

    Raises
    ------
    ValueError
        If there is no page to lead to.
    """
    if not pages:
        raise ValueError("no page to lead to")
    headers = [tables.header for _, tables in pages]
    players: dict[str, list[dict[str, Any]]] = {}
    for path, tables in pages:
        words = Words(tables.header["units"], phrases)
        if isinstance(tables, RoundTables):
            said = heads.head_of_round(tables, words)
            name = said["when"] or words("index_round")
        else:
            said = heads.head_of_plan(tables, words)
            name = words("index_plan")
        entry = {"href": quote(path), "name": name, "headline": said["headline"], "lede": said["lede"]}
        players.setdefault(tables.header["player"], []).append(entry)
    head = {
        "player": ", ".join(players),
        "course": ", ".join(dict.fromkeys(head["course"] for head in headers)),
        "invented": any(head["invented"] for head in headers),
        "credit": next((head["credit"] for head in headers if head["credit"]), None),
    }
    words = Words(headers[0]["units"], phrases)
    return render_page(
        "index.html",
        head,
        words,
        title=words.plain("title_index", course=head["course"]),
        invented_key="invented_notice_index",
        when=None,
        headline=words.count("index_headline", sum(isinstance(tables, RoundTables) for _, tables in pages)),
        lede=words("index_lede"),
        players=[{"name": name, "pages": entries} for name, entries in players.items()],
    )


def _title(key: str, head: Mapping[str, Any], words: Words) -> str:
    return words.plain(key, player=head["player"], course=head["course"])


def _named(chart: ClubChart | None) -> ClubChart | None:
    """Cut names of clubs that are longer than their column; the table has them whole."""
    for row in chart.rows if chart else ():
        row["club"] = shorten(row["club"], _CLUB_LETTERS)
    return chart


def _misses_desc(chart: MissChart | None, words: Words) -> Markup:
    if chart is None:
        return Markup("")
    signs = pd.Series([point["sign"] for point in chart.points]).value_counts()
    worst = max(chart.points, key=lambda point: point["long_m"] ** 2 + point["right_m"] ** 2)
    return words.count(
        "layups_desc",
        len(chart.points),
        within=int(signs.get("yes", 0)),
        out=int(signs.get("no", 0)),
        unsure=int(signs.get("unsure", 0)),
        worst=words(
            "layups_desc_worst",
            hole=worst["hole"],
            offset=words.plain_offset(worst["long_m"], worst["right_m"]),
        ),
    )


def _leaves_desc(chart: LeaveChart | None, words: Words) -> Markup:
    if chart is None:
        return Markup("")
    parts = [
        words(
            "leaves_part",
            hole=row["hole"],
            planned=words.plain_length(row["planned_m"]),
            actual=words.plain_length(row["actual_m"]),
        )
        for row in chart.rows
    ]
    return words.count("leaves_desc", len(parts), parts=Markup(" ").join(parts))
