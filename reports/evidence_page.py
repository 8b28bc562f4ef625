"""From tables to the page about many rounds of one player: clubs, approaches, putts, what strokes went on."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from typing import Any

import pandas as pd
from markupsafe import Markup

from reports import offline
from reports.base import render_page
from reports.evidence_charts import curve_chart, range_chart
from reports.evidence_tables import EvidenceTables
from reports.phrases import ENGLISH
from reports.phrases_evidence import EVIDENCE_ENGLISH
from reports.show import shorten
from reports.words import Words

__all__ = ["evidence_page", "evidence_words", "figure_cells", "set_sentence"]

# Letters that fit left of a club's range.
_CLUB_LETTERS = 15
# About so many steps of the curve are written out.
_STEPS, _LIE_STEPS = 12, 6
_BAR_PX = 40.0
# What each figure counts, where not holes.
_COUNTED = {
    "layups": "ev_of_layups",
    "three_putts": "ev_of_greens",
    "putts": "ev_rounds",
    "against_par": "ev_rounds",
}


def evidence_words(units: str, phrases: Mapping[str, str] | None = None) -> Words:
    """
    Give the phrases of pages about many rounds.

    Parameters
    ----------
    units : {"yd", "m"}
        Length shown first.
    phrases : mapping of str to str, optional
        A translation of all of them; English by default.

    Returns
    -------
    Words
        The common phrases and those of these pages.
    """
    return Words(units, {**ENGLISH, **EVIDENCE_ENGLISH} if phrases is None else phrases)


def evidence_page(tables: EvidenceTables, *, phrases: Mapping[str, str] | None = None) -> str:
    """
    Write the page about many rounds of one player.

    Parameters
    ----------
    tables : EvidenceTables
        What is shown.
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
    head = {"course": "", "credit": None} | dict(tables.header)
    words = evidence_words(head["units"], phrases)
    rounds = words.count("ev_rounds", int(head["rounds"]))
    ranges = range_chart(tables.clubs)
    if ranges is not None:
        for row in ranges.rows:
            row["name"] = shorten(row["club"], _CLUB_LETTERS)
    causes = _causes(tables.causes, words)
    figures = figure_cells(tables.figures, words)
    has_replan = bool(len(tables.replan))
    sections = ["ev-clubs"]
    sections += ["ev-parts"] if len(tables.part_swings) else []
    sections += ["ev-green"] + (["ev-figures"] if figures else []) + (["ev-causes"] if causes else [])
    sections += (["ev-replan"] if has_replan else []) + ["ev-sure"]
    first, last = (
        words.day(dt.date.fromisoformat(day)) if day else None
        for day in (head["first_day"], head["last_day"])
    )
    return render_page(
        "evidence.html",
        head,
        words,
        styles=[offline.own_file("evidence.css")],
        title=words.plain("ev_title", player=head["player"]),
        invented_key="ev_invented",
        when=words("ev_days", first=first, last=last) if first and first != last else last or None,
        rounds=rounds,
        headline=_headline(tables.against_stated, rounds, words),
        lede=words(
            "ev_lede",
            low=_signed(100 * tables.against_stated[1]),
            high=_signed(100 * tables.against_stated[2]),
        ),
        sections=sections,
        ranges=ranges,
        any_unseen=bool((tables.clubs["shots"] == 0).any()),
        clubs=[_club(row, words) for row in tables.clubs.to_dict("records")],
        part_swings=[_part(row, words) for row in tables.part_swings.to_dict("records")],
        sentences=[
            words.both(set_sentence(yards), set_sentence(metres)) for yards, metres in tables.sentences
        ],
        putts_said=[set_sentence(text) for text in tables.putts_said],
        causes_said=[set_sentence(text) for text in tables.causes_said],
        curve=curve_chart(tables.curves, tables.named),
        steps=_steps(tables.curves, words),
        lie_names=[words(f"ev_lie_{name}") for name in _lies_known(tables.curves)],
        lie_steps=_lie_steps(tables.curves, words),
        figures=figures,
        causes=causes,
        has_replan=has_replan,
        replan=_replan(tables.replan, words),
        account=tables.account.to_dict("records"),
        notes=tables.notes,
    )


def _headline(against: tuple[float, float, float], rounds: Markup, words: Words) -> Markup:
    mean, low, high = against
    if low <= 0.0 <= high:
        return words("ev_headline_same", rounds=rounds)
    return words("ev_headline_less" if mean < 0 else "ev_headline_more", share=f"{100 * abs(mean):.0f}")


def _club(row: dict[Any, Any], words: Words) -> dict[str, Any]:
    low, high = row["distance_80_low_m"], row["distance_80_high_m"]
    return {
        "club": row["club"],
        "shots": int(row["shots"]),
        "inferred": words("ev_inferred", n=int(row["shots_inferred"]), sure=_percent(row["club_confidence"]))
        if row["shots_inferred"]
        else "",
        "good": words.length(row["distance_m"], unit=False),
        "range": _between(low, high, words),
        "bag": words.length(row["stated_distance_m"], unit=False),
        "walked": words.length(row["path_m"], unit=False),
        "carry": words.length(row["carry_m"], unit=False),
        "plan": words.length(row["plan_m"], unit=False),
        "long": words.length(row["spread_long_m"], unit=False),
        "side": words.length(row["spread_side_m"], unit=False),
        "lean": _lean(row, words),
        "fails": words(
            "ev_percent_range",
            value=_percent(row["mishit_share"]),
            low=_percent(row["mishit_80_low"]),
            high=_percent(row["mishit_80_high"]),
        ),
        "more": int(row["more_shots"]) or words("ev_known"),
        "change": _change(row, words),
    }


def _lean(row: dict[Any, Any], words: Words) -> Any:
    if not row["side_shots"]:
        return "–"
    if row["right_80_low_m"] <= 0 <= row["right_80_high_m"]:
        return words("ev_lean_none")
    key = "ev_lean_right" if row["right_m"] > 0 else "ev_lean_left"
    return words(key, length=words.length(abs(row["right_m"]), unit=False))


def _change(row: dict[Any, Any], words: Words) -> Any:
    """A change only where its range, taken twice as wide, leaves out none at all."""
    if not math.isfinite(row["change_m"]):
        return "–"
    half = 0.5 * (row["change_80_high_m"] - row["change_80_low_m"])
    return words.signed_length(row["change_m"]) if abs(row["change_m"]) > 2 * half else words("ev_lean_none")


def _part(row: dict[Any, Any], words: Words) -> dict[str, Any]:
    return {
        "length": _between(row["from_m"], row["to_m"], words, unit=True),
        "shots": int(row["shots"]),
        "goes": words("ev_percent", value=_percent(row["distance_share"])),
        "fails": words(
            "ev_percent_range",
            value=_percent(row["mishit_share"]),
            low=_percent(row["mishit_80_low"]),
            high=_percent(row["mishit_80_high"]),
        ),
        "green": words("ev_percent", value=_percent(row["green_share"])),
    }


def _steps(curves: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    wide = {name: part.set_index("leave_m") for name, part in curves.groupby("curve")}
    if "green" not in wide:
        return []
    leaves = sorted(wide["green"].index)
    found = []
    for leave_m in leaves[:: max(1, math.ceil(len(leaves) / _STEPS))]:
        row: dict[str, Any] = {"left": words.length(leave_m)}
        for key, name in (
            ("green", "green"),
            ("near", "near"),
            ("two", "down_in_two"),
            ("three", "down_in_three"),
        ):
            if name not in wide:
                row[key] = "–"
                continue
            at = wide[name].loc[leave_m]
            if key == "green":
                row[key] = words(
                    "ev_percent_range",
                    value=_percent(at["value"]),
                    low=_percent(at["low"]),
                    high=_percent(at["high"]),
                )
            else:
                row[key] = words("ev_percent", value=_percent(at["value"]))
        strokes = wide.get("strokes")
        row["strokes"] = "–" if strokes is None else f"{strokes.loc[leave_m, 'value']:.1f}"
        found.append(row)
    return found


def _lies_known(curves: pd.DataFrame) -> list[str]:
    """The lies whose curve is known; none where it is the fairway's alone."""
    known = set(curves["curve"])
    found = [lie for lie in ("rough", "sand") if f"green_{lie}" in known]
    return ["fairway", *found] if found and "green" in known else []


def _lie_steps(curves: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    wide = {name: part.set_index("leave_m") for name, part in curves.groupby("curve")}
    lies = _lies_known(curves)
    if not lies:
        return []
    leaves = sorted(wide["green"].index)
    return [
        {
            "left": words.length(leave_m),
            "greens": [
                words(
                    "ev_percent_range",
                    value=_percent(at["value"]),
                    low=_percent(at["low"]),
                    high=_percent(at["high"]),
                )
                for lie in lies
                for at in [wide["green" if lie == "fairway" else f"green_{lie}"].loc[leave_m]]
            ],
        }
        for leave_m in leaves[:: max(1, math.ceil(len(leaves) / _LIE_STEPS))]
    ]


def figure_cells(figures: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """
    Make numbers with their ranges out of a table of figures.

    Parameters
    ----------
    figures : pandas.DataFrame
        As `reports.evidence_tables.FIGURES`; unknown ones are left out.
    words : Words
        The language.

    Returns
    -------
    list of dict
        ``name``, ``value`` and ``note`` of each.
    """
    found = []
    for row in figures.to_dict("records"):
        if not math.isfinite(row["value"]) or not row["count"]:
            continue
        share = row["figure"] not in ("putts", "against_par")
        sign = row["figure"] == "against_par"

        def tell(value: float, share: bool = share, sign: bool = sign) -> Any:
            if share:
                return words("ev_percent", value=_percent(value))
            return _signed(value) if sign else f"{value:.1f}"

        note = words.count(_COUNTED.get(row["figure"], "ev_of_holes"), int(row["count"]))
        if math.isfinite(row["low"]):
            note = words("ev_figure_note", low=tell(row["low"]), high=tell(row["high"]), count=note)
        found.append({"name": words.term("figure", row["figure"]), "value": tell(row["value"]), "note": note})
    return found


def _causes(causes: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    known = causes[(causes["strokes"] != 0) & causes["a_round"].notna()]
    if known.empty:
        return []
    most = max(float(known["a_round"].abs().max()), 0.1)
    rows: list[dict[str, Any]] = [
        {
            "name": row["cause"],
            "value": _signed(row["a_round"]),
            "bar": round(row["a_round"] / most * _BAR_PX, 1),
            "css": "cost" if row["a_round"] > 0 else "saved",
            "range": f"{_signed(row['low'])} … {_signed(row['high'])}" if math.isfinite(row["low"]) else "–",
            "total": False,
        }
        for row in known.sort_values("a_round", ascending=False, kind="stable").to_dict("records")
    ]
    total = {"name": words("ev_total"), "value": _signed(float(causes["a_round"].sum())), "bar": 0, "css": ""}
    return [*rows, total | {"range": "", "total": True}]


def _replan(replan: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    """One row a hole whose plan changes, all its shots in one line."""
    found = []
    for _, shots in replan.sort_values(["hole", "shot"]).groupby("hole"):
        lines = []
        for side in ("before", "after"):
            planned = shots[shots[f"club_{side}"] != ""]
            cells = [
                _planned(row[f"club_{side}"], row[f"distance_{side}_m"], words)
                for row in planned.to_dict("records")
            ]
            lines.append(Markup(", ").join(cells))
        if lines[0] != lines[1]:
            found.append({"hole": int(shots["hole"].iloc[0]), "before": lines[0], "after": lines[1]})
    return found


def _planned(club: str, distance_m: float, words: Words) -> Markup:
    return Markup("{} {}").format(club, words.length(distance_m, unit=False))


def _between(low_m: float, high_m: float, words: Words, *, unit: bool = False) -> Markup:
    return Markup("{}–{}").format(words.length(low_m, unit=False), words.length(high_m, unit=unit))


def _percent(share: float) -> str:
    return f"{100 * share:.0f}"


def set_sentence(text: str) -> str:
    """
    Set a sentence as a page does: no number is parted from its sign.

    Parameters
    ----------
    text : str
        The sentence as a terminal shows it.

    Returns
    -------
    str
        The same with a typographic minus, and with percent signs that stay on the line of their number.
    """
    return re.sub(r"-(?=\d)", "\u2212", text).replace(" %", "\u00a0%")


def _signed(value: float) -> str:
    # A typographic minus, as everywhere on the pages.
    return f"{value:+.1f}".replace("-", "\u2212")
