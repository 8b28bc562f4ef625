"""The score of a round, hole by hole: shots, putts, penalties, and what is doubtful about them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import shapely

from trackgolf.course import Course
from trackgolf.ground import Ground
from trackgolf.settings import RoundSettings
from trackgolf.shots import Visit

__all__ = ["HOLE_COLUMNS", "score_holes"]

HOLE_COLUMNS = (
    "hole",
    "par",
    "stroke_index",
    "length_m",
    "personal_par",
    "regulation_shots",
    "shots",
    "putts",
    "penalties",
    "strokes",
    "visit",
    "reached_in_regulation",
    "putts_source",
    "strokes_source",
    "card_strokes",
    "first_time",
    "last_time",
    "confidence",
    "note",
)


def score_holes(
    shots: pd.DataFrame,
    visits: list[Visit],
    stands: pd.DataFrame,
    ground: Ground,
    course: Course,
    pars: pd.DataFrame,
    card: pd.DataFrame | None,
    settings: RoundSettings,
) -> tuple[pd.DataFrame, list[tuple[int, str]]]:
    """
    Add up each hole that was played.

    Parameters
    ----------
    shots : pandas.DataFrame
        The shots of the round.
    visits : list of Visit
        The holes in order of play.
    stands : pandas.DataFrame
        The stands of the round.
    ground : Ground
        The course in metres.
    course : Course
        The course.
    pars : pandas.DataFrame
        Personal par a hole.
    card : pandas.DataFrame or None
        The played card.
    settings : RoundSettings
        Time on the green a putt takes.

    Returns
    -------
    holes : pandas.DataFrame
        Columns `HOLE_COLUMNS`; ``strokes = shots + putts + penalties``, missing for a hole picked up.
    doubts : list of tuple
        Hole and a sentence on what is doubtful.
    """
    par_of = {row["hole"]: row for row in pars.to_dict("records")}
    carded = card is not None and bool(card["strokes"].notna().any())
    card_of = {} if card is None else {row["hole"]: row for row in card.to_dict("records")}
    rows: list[dict[str, Any]] = []
    doubts: list[tuple[int, str]] = []
    for visit in visits:
        mine = shots[shots["visit"] == visit.visit]
        told = card_of.get(visit.hole, {})
        found = _strokes(visit, mine, told, stands, ground, settings, carded=carded)
        hole = course.hole(visit.hole)
        regulation = int(par_of[visit.hole]["regulation_shots"])
        said = found.pop("doubts")
        doubts += [(visit.hole, text) for text in said]
        on_green = visit.green is not None
        rows.append(
            {
                "hole": visit.hole,
                "par": hole.par,
                "stroke_index": hole.stroke_index,
                "length_m": hole.length_m,
                "personal_par": int(par_of[visit.hole]["personal_par"]),
                "regulation_shots": regulation,
                "visit": visit.visit,
                "reached_in_regulation": "yes"
                if on_green and visit.shots + (found["penalties"] or 0) <= regulation
                else "no",
                "first_time": pd.Timestamp(visit.start_s, unit="s", tz="UTC"),
                "last_time": pd.Timestamp(visit.end_s, unit="s", tz="UTC"),
                "confidence": float(mine["confidence"].min()) if len(mine) else math.nan,
                "note": "; ".join(said),
            }
            | found
        )
    table = pd.DataFrame(rows, columns=list(HOLE_COLUMNS))
    whole = (
        "hole",
        "par",
        "stroke_index",
        "personal_par",
        "regulation_shots",
        "shots",
        "putts",
        "penalties",
        "strokes",
        "card_strokes",
        "visit",
    )
    return table.astype(dict.fromkeys(whole, "Int64")), doubts


def _strokes(
    visit: Visit,
    mine: pd.DataFrame,
    told: dict[Any, Any],
    stands: pd.DataFrame,
    ground: Ground,
    settings: RoundSettings,
    *,
    carded: bool,
) -> dict[str, Any]:
    doubts = []
    strokes, putts, penalties = (_known(told.get(key)) for key in ("strokes", "putts", "penalties"))
    shots = visit.shots
    replays = int(mine["penalty"].sum())
    if penalties is None:
        penalties = replays
        if strokes is not None and putts is not None and strokes - putts - shots > replays:
            penalties = strokes - putts - shots
            strokes_word = "stroke" if penalties == 1 else "strokes"
            doubts.append(f"the card leaves {penalties} penalty {strokes_word} that the track does not show")
    putts_source = "card"
    if putts is None:
        if strokes is not None and strokes - shots - penalties >= 0 and visit.green is not None:
            putts = strokes - shots - penalties
        elif visit.green is not None:
            putts, putts_source = _estimate_putts(visit, stands, ground, settings), "track"
        else:
            putts_source = ""
    if visit.unseen:
        doubts.append(
            f"{visit.unseen} {'stroke' if visit.unseen == 1 else 'strokes'} left no stop in the track and "
            f"{'is' if visit.unseen == 1 else 'are'} counted, not drawn"
        )
    total = None if putts is None else shots + putts + penalties
    # A row without strokes on a card that has them elsewhere is a hole picked up, wherever the ball lay.
    if told and strokes is None and (carded or visit.green is None):
        total = None
    if strokes is not None and total is not None and total != strokes:
        doubts.append(
            f"the card has {strokes} strokes, the track shows {shots} shots, {putts} putts and {penalties} penalty "
            f"strokes: {total}. The track's count is kept because its stops leave no room for the card's"
        )
    if visit.green is None:
        doubts.append("the green was not reached: picked up, or the track lost it")
    return {
        "shots": shots,
        "putts": putts,
        "penalties": penalties,
        "strokes": total,
        "putts_source": putts_source,
        "strokes_source": "card" if strokes is not None and total == strokes else "track",
        "card_strokes": strokes,
        "doubts": doubts,
    }


def _known(value: object) -> int | None:
    return None if value is None or pd.isna(value) else int(value)  # type: ignore[call-overload]


def _estimate_putts(visit: Visit, stands: pd.DataFrame, ground: Ground, settings: RoundSettings) -> int:
    """Putts from the time on the green: between the first stand on it and the last one."""
    hole = ground.holes[ground.hole_index(visit.hole)]
    then = (stands["start_s"].to_numpy() >= visit.green_s) & (stands["end_s"].to_numpy() <= visit.end_s)
    spots = shapely.points(stands["east_m"].to_numpy()[then], stands["north_m"].to_numpy()[then])
    here = np.flatnonzero(then)[shapely.dwithin(hole.green, spots, 3.0)]
    if here.size == 0:
        return 2
    spell_s = float(stands["end_s"].to_numpy()[here].max() - visit.green_s)
    if spell_s < settings.one_putt_s:
        return 1
    return 2 if spell_s < settings.three_putts_s else 3
