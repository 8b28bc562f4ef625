"""What stands at the head of a page and of a hole: a round, a plan or a hole in a sentence."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
from markupsafe import Markup

from reports.bundles import PlanTables, RoundTables, layup_rows
from reports.causes import strokes_by_cause
from reports.words import Words

__all__ = [
    "SIGNS",
    "head_of_plan",
    "head_of_round",
    "hole_facts",
    "hole_result",
    "numbers",
    "or_dash",
    "scored_holes",
    "whole",
]

# Fewer layups than this have no middle worth a word; common practice, no source.
_MIDDLE_OF = 5
# More holes than this are counted instead of named, but for the worst; common practice, no source.
_MOST_NAMED, _WORST_NAMED = 8, 3

SIGNS = frozenset({"yes", "no", "unsure"})
"""The verdicts on a layup."""


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
    score = _score(head, scored_holes(tables), words)
    none = "no_plan" if tables.plan.empty else "none_compared"
    if head["layups"]:
        headline = words.count("headline_layups", head["layups"], within=head["layups_within"] or 0)
        if head["layups_unsure"]:
            headline += words.count("headline_unsure", head["layups_unsure"])
        lede = [words("sentence", text=score)] if score else []
    else:
        # Without layups the score is the news, where there is one.
        headline = score or words(f"headline_{none}")
        lede = [words("sentence", text=words(f"headline_{none}"))] if score else []
    lede += _lost_most(tables, words) + _layups(layups, words)
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


def _lost_most(tables: RoundTables, words: Words) -> list[Markup]:
    """Say what cost the most strokes, where one cause cost more than all others and more than one."""
    causes = [cause for cause in strokes_by_cause(tables)[0] if cause.strokes > 0]
    if not causes or causes[0].strokes < 2 or (len(causes) > 1 and causes[0].strokes == causes[1].strokes):
        return []
    key = "any" if causes[0].key == "to_green" and tables.plan.empty else causes[0].key
    return [words(f"lede_most_{key}", n=causes[0].strokes)]


def _score(head: Any, scored: pd.DataFrame | None, words: Words) -> Markup | None:
    if head["strokes"] is None:
        return None
    if head["personal_par"] is None:
        return words("score_strokes", strokes=head["strokes"])
    par = head["personal_par"] if scored is None else int(scored["personal_par"].sum())
    over = head["strokes"] - par
    against = (
        words("lede_level") if not over else words("lede_over" if over > 0 else "lede_under", n=abs(over))
    )
    key = "score_par" if scored is None else "score_some"
    count = 0 if scored is None else len(scored)
    return words(key, strokes=head["strokes"], against=against, par=par, n=count)


def _layups(layups: pd.DataFrame, words: Words) -> list[Markup]:
    """Say where the plan held, where it broke, and where the middle of all layups lies."""
    lede = []
    known = layups[layups["within_tolerance"].isin(SIGNS)]
    signs: dict[int, set[str]] = {}
    for hole, sign in zip(known["hole"], known["within_tolerance"], strict=True):
        signs.setdefault(int(hole), set()).add(sign)
    held = [hole for hole in sorted(signs) if signs[hole] == {"yes"}]
    broke = [hole for hole in sorted(signs) if "no" in signs[hole]]
    if held:
        lede.append(words.count("lede_held", len(held), holes=words.list(held)))
    it = "lede_broke" if held else "lede_only_broke"
    if len(broke) > _MOST_NAMED:
        # Nobody reads a dozen numbers; where it went most wrong is worth reading.
        worst = known[known["hole"].isin(broke)].groupby("hole")["miss_m"].max().astype(float)
        named = sorted(int(hole) for hole in worst.nlargest(_WORST_NAMED).index)
        lede.append(words(f"{it}_worst", n=len(broke), of=len(signs), holes=words.list(named)))
    elif broke:
        lede.append(words.count(it, len(broke), holes=words.list(broke)))
    placed = layups.dropna(subset=["long_m", "right_m"])
    if len(placed) >= _MIDDLE_OF:
        middle = words.offset(placed["long_m"].median(), placed["right_m"].median())
        lede.append(words("lede_middle", offset=middle))
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
            # Penalty strokes count towards regulation; the scorecard lists them apart from the shots.
            note(
                "num_regulation_penalties" if head["penalties"] else "num_regulation",
                head["regulation_shots"],
                n=head["regulation_shots"],
            ),
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
    facts = [words("hole_facts", par=or_dash(row["par"]))]
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


def or_dash(value: Any) -> Any:
    """
    Show a whole number, or a dash where it is unknown.

    Parameters
    ----------
    value : object
        Number, None, NaN or NA.

    Returns
    -------
    int or str
        The number or the dash.
    """
    number = whole(value)
    return "–" if number is None else number
