"""The score of a round, hole by hole: shots, putts, penalties, and what is doubtful about them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import shapely

from trackgolf.course import Course
from trackgolf.ground import Ground
from trackgolf.settings import RoundSettings
from trackgolf.shots import Said, Visit
from trackgolf.told import Told

__all__ = ["HOLE_COLUMNS", "holes_unseen", "score_holes"]

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
    "penalties_source",
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
    told: Mapping[int, Told],
    settings: RoundSettings,
    said: Mapping[int, Said] | None = None,
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
    told : mapping of int to Told
        By number of the visit, what card and corrections say.
    settings : RoundSettings
        Time on the green a putt takes.
    said : mapping of int to Said, optional
        By stand, what the player says of the shot there.

    Returns
    -------
    holes : pandas.DataFrame
        Columns `HOLE_COLUMNS`; ``strokes = shots + putts + penalties``, missing for a hole picked up.
    doubts : list of tuple
        Hole and a sentence on what is doubtful.
    """
    par_of = {row["hole"]: row for row in pars.to_dict("records")}
    said = said or {}
    rows: list[dict[str, Any]] = []
    doubts: list[tuple[int, str]] = []
    for visit in visits:
        mine = shots[shots["visit"] == visit.visit]
        paid = sum(said[stand].penalty or 0 for stand in mine["stand"] if stand in said)
        found = _strokes(visit, mine, told.get(visit.visit, Told()), stands, ground, settings, paid)
        hole = course.hole(visit.hole)
        regulation = int(par_of[visit.hole]["regulation_shots"])
        texts = found.pop("doubts")
        doubts += [(visit.hole, text) for text in texts]
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
                if on_green and found["shots"] + found["penalties"] <= regulation
                else "no",
                "first_time": pd.Timestamp(visit.start_s, unit="s", tz="UTC"),
                "last_time": pd.Timestamp(visit.end_s, unit="s", tz="UTC"),
                "confidence": float(mine["confidence"].min()) if len(mine) else math.nan,
                "note": "; ".join(texts),
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


def holes_unseen(told: Mapping[int, Told], visits: list[Visit]) -> list[tuple[int, str]]:
    """
    Say which holes were played that the track does not show.

    Parameters
    ----------
    told : mapping of int to Told
        By number of the hole, what card and corrections say.
    visits : list of Visit
        The holes found.

    Returns
    -------
    list of tuple
        Hole (0, the round) and a sentence; empty where there are none.
    """
    found = {visit.hole for visit in visits}
    missing = sorted(hole for hole, known in told.items() if known.strokes is not None and hole not in found)
    if not missing:
        return []
    names = ", ".join(str(hole) for hole in missing)
    holes = "hole" if len(missing) == 1 else "holes"
    return [
        (0, f"the track does not show {holes} {names}, for which there are strokes on the card: not counted")
    ]


def _strokes(
    visit: Visit,
    mine: pd.DataFrame,
    told: Told,
    stands: pd.DataFrame,
    ground: Ground,
    settings: RoundSettings,
    paid: int,
) -> dict[str, Any]:
    doubts = []
    shots, unseen, strokes = visit.shots, visit.unseen, told.strokes
    end = str(mine["end_lie"].iloc[-1]) if len(mine) else ""
    # A score on the card, or a word of the player, says that a hole was finished where the track has lost its green.
    given_up = told.picked_up or (
        end == "picked_up" and bool(mine["corrected"].iloc[-1]) and "strokes" not in told.corrected
    )
    finished = not given_up and (
        visit.green is not None
        or end in ("holed", "green")
        or strokes is not None
        or "picked_up" in told.corrected
    )
    strokes = strokes if finished else None
    putts, putts_source = told.putts, told.source("putts")
    if end == "holed" and "putts" not in told.corrected:
        putts, putts_source = 0, "corrected"
    penalties, penalties_source = _penalties(told, putts, shots, int(mine["penalty"].sum()), paid)
    if strokes is not None and putts is not None and strokes > shots + putts + penalties:
        # A stroke that moved the ball hardly or not at all leaves no stop of its own: only the card can know of it. So
        # are most strokes that a card has beyond the track; few are penalties that the track does not show.
        unseen += strokes - shots - putts - penalties
        shots = strokes - putts - penalties
    if putts is None:
        if strokes is not None and strokes - shots - penalties >= 0:
            putts = strokes - shots - penalties
        elif finished:
            putts, putts_source = _estimate_putts(visit, stands, ground, settings), "track"
        else:
            putts_source = ""
    if unseen:
        unsure = "" if told.penalties is not None or strokes is None else ", or came from a penalty,"
        doubts.append(
            f"{_counted(unseen, 'stroke')} left no stop in the track{unsure} and {'is' if unseen == 1 else 'are'} "
            "counted, not drawn"
        )
    total = None if putts is None or not finished else shots + putts + penalties
    if strokes is not None and total is not None and total != strokes:
        doubts.append(
            f"{'you say' if 'strokes' in told.corrected else 'the card has'} {_counted(strokes, 'stroke')}, the "
            f"track shows {total}: {_counted(shots, 'shot')}, with {_counted(putts or 0, 'putt')} and "
            f"{_counted(penalties, 'penalty stroke')}. {_why(mine)}"
        )
    if visit.green is None and end != "holed":
        doubts.append("the green was not reached: picked up, or the track lost it")
    return {
        "shots": shots,
        "putts": putts,
        "penalties": penalties,
        "strokes": total,
        "putts_source": putts_source,
        "penalties_source": penalties_source,
        "strokes_source": told.source("strokes") if strokes is not None and total == strokes else "track",
        "card_strokes": told.strokes,
        "doubts": doubts,
    }


def _penalties(told: Told, putts: int | None, shots: int, shown: int, paid: int) -> tuple[int, str]:
    """Penalty strokes of a hole, no more than its strokes leave room for, and where they are known from."""
    if told.penalties is not None:
        if "penalties" in told.corrected or told.penalties >= paid:
            return told.penalties, told.source("penalties")
        return paid, "corrected"
    room = math.inf if told.strokes is None else max(told.strokes - (putts or 0) - shots, 0)
    found = max(int(min(shown, room)), paid)
    return found, "corrected" if found and found == paid else "track"


def _why(mine: pd.DataFrame) -> str:
    """Why the track is believed over the card, where it shows more strokes than the card has."""
    if mine["corrected"].any():
        return "The track is believed, with your corrections of its shots"
    least = 100.0 * float(mine["confidence"].min())
    return (
        "The track is believed: its stops and what lies between them speak for each of these shots, and even with "
        f"the card against it the least sure is a shot with {least:.0f} %"
    )


def _counted(number: int, name: str) -> str:
    return f"{number} {name}" if number == 1 else f"{number} {name}s"


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
