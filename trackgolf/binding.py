"""Corrections bound to the stands of a round: which stop the player speaks of, and stops the track does not show."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from trackgolf.bag import Bag
from trackgolf.corrections import Correction, Corrections
from trackgolf.ground import Ground
from trackgolf.pinned import Misfit, Pins, misfit
from trackgolf.settings import RoundSettings
from trackgolf.shots import Said, Walk

__all__ = ["lay_pins"]

# References to one stroke are copied from one table: further apart than this they mean two strokes [s].
# Common practice, no source.
_SAME_STROKE_S = 10.0
# A stand whose edge is this near in time to a stroke is its stand, should stands be found otherwise another day [s].
_NEAR_S = 30.0
# To take away a shot that is no longer found would harm: only the very stop may be meant [s]. Common practice.
_REMOVED_S = 5.0
# A stroke may be said to have been played this long before or after what was recorded, if its place is given [s].
_UNRECORDED_S = 6.0 * 3600.0
# Nothing further from every hole's line of play is kept of a track, nor of what is said of it [m].
_FAR_M = 150.0
# How well a place is pointed at on a map, each axis [m]. Common practice, no source.
_POINTED_M = 2.0
# Added places further than this from the stop at that time are not that stop's [m]. Common practice, no source.
_ELSEWHERE_M = 15.0
# A hole is not played again within this time of its strokes [s]. Common practice, no source.
_PLAYING_S = 1800.0
# Corrections that fit nothing for one reason are told singly up to this many.
_EACH = 3
_REPLAYED = ("lost", "out_of_bounds")


@dataclass(slots=True)
class _Stroke:
    """All that is said of one moment."""

    time_s: float
    hole: int
    added: bool
    entries: list[Correction]
    is_shot: bool = True
    place: tuple[float, float] | None = None  # longitude, latitude
    club: str | None = None
    lie: str | None = None
    end_lie: str | None = None
    penalty: int | None = None


def lay_pins(
    corrections: Corrections | None,
    stands: pd.DataFrame,
    walk: Walk,
    ground: Ground,
    bag: Bag,
    settings: RoundSettings,
) -> Pins:
    """
    Bind corrections to the stands of a round.

    Each is bound to the stand at its time. Where there is none, as for a stroke that left no stop, a stand is added
    at the place given, else where the player was at that time.

    Parameters
    ----------
    corrections : Corrections or None
        What the player set right.
    stands : pandas.DataFrame
        Stands as `geo.stops.find_stops` gives them.
    walk : Walk
        The smoothed walk.
    ground : Ground
        The course.
    bag : Bag
        The clubs that names can mean.
    settings : RoundSettings
        How long a usual stand is.

    Returns
    -------
    Pins
        The stands and what is said of them.
    """
    if corrections is None or not corrections.entries:
        return Pins(stands)
    misfits: list[Misfit] = []
    known = {hole.number: index for index, hole in enumerate(ground.holes)}
    entries = _on_course(corrections, known, misfits)
    strokes = _in_reach(_strokes(entries, bag, misfits), walk, ground, misfits)
    spots = _stand_of(strokes, stands, ground)
    table, place_of = _stands_with(strokes, spots, stands, walk, ground, settings)
    said: dict[int, Said] = {}
    holes: dict[int, int] = {}
    bound: dict[int, list[Correction]] = {}
    removed = []
    for stroke, place in zip(strokes, place_of, strict=True):
        if place is None:
            continue
        if not stroke.is_shot:
            removed.append(place)
            continue
        said[place] = Said(
            stroke.time_s, club=stroke.club, lie=stroke.lie, end_lie=stroke.end_lie, penalty=_penalty(stroke)
        )
        holes[place], bound[place] = known[stroke.hole], stroke.entries
    closed, not_played = [], []
    for entry in entries:
        if entry.hole is None:
            continue
        mine = [stand for stand, hole in holes.items() if hole == known[entry.hole]]
        if entry.what == "not_played":
            if mine:
                misfits.append(misfit(entry, "other corrections put shots on that hole"))
            else:
                not_played.append(known[entry.hole])
        elif entry.what == "settled":
            span = _playing(entry, [said[stand].time_s for stand in mine])
            if span is None:
                misfits.append(misfit(entry, "no other correction names a shot of that hole"))
            else:
                closed.append((known[entry.hole], *span))
    return Pins(
        table, said, holes, tuple(sorted(removed)), tuple(not_played), tuple(misfits), bound, tuple(closed)
    )


def _penalty(stroke: _Stroke) -> int | None:
    """
    Penalty strokes that follow from what is said of a shot.

    Rules of Golf 2023, 18.2: a ball lost or out of bounds costs one stroke; 17.1d: so does relief from a penalty area,
    while a ball played as it lies there costs none, which the player can say. Any other end costs none.
    """
    if stroke.penalty is not None or stroke.end_lie is None:
        return stroke.penalty
    return int(stroke.end_lie in (*_REPLAYED, "penalty_area"))


def _playing(entry: Correction, times_s: list[float]) -> tuple[float, float] | None:
    """From when to when a settled hole was played; always, where only its number is given."""
    if entry.time is None:
        return (-math.inf, math.inf) if times_s else None
    moment = entry.time.timestamp()
    near = [time_s for time_s in times_s if abs(time_s - moment) <= _PLAYING_S]
    return (min(near) - _PLAYING_S, max(near) + _PLAYING_S) if near else None


def _on_course(corrections: Corrections, known: dict[int, int], misfits: list[Misfit]) -> list[Correction]:
    """The corrections whose holes the course has."""
    entries = []
    for entry in corrections.entries:
        strange = [hole for hole in (entry.hole, entry.to_hole) if hole is not None and hole not in known]
        if strange:
            misfits.append(misfit(entry, f"the course has no hole {strange[0]}"))
        else:
            entries.append(entry)
    return entries


def _strokes(entries: list[Correction], bag: Bag, misfits: list[Misfit]) -> list[_Stroke]:
    """Gather what is said of each moment; of two that contradict each other the later counts."""
    strokes: list[_Stroke] = []
    for entry in entries:
        if not entry.of_shot or entry.time is None or entry.hole is None:
            continue
        moment = entry.time.timestamp()
        stroke = _same_stroke(strokes, moment, added=entry.what == "add")
        if stroke is None:
            stroke = _Stroke(moment, entry.hole, entry.what == "add", [])
            strokes.append(stroke)
        stroke.entries.append(entry)
        stroke.is_shot = entry.what != "remove"
        if entry.what in ("confirm", "add"):
            stroke.hole = entry.hole
        if entry.to_hole is not None:
            stroke.hole = entry.to_hole
        if entry.lon_deg is not None and entry.lat_deg is not None:
            stroke.place = (entry.lon_deg, entry.lat_deg)
        for name in ("lie", "end_lie", "penalty"):
            if entry.what == name:
                setattr(stroke, name, getattr(entry, name))
        if entry.club is not None:
            club = bag.find_club(entry.club)
            if club is None:
                misfits.append(misfit(entry, f"the bag has no club {entry.club!r}"))
            else:
                stroke.club = club.name
    return strokes


def _same_stroke(strokes: list[_Stroke], moment: float, *, added: bool) -> _Stroke | None:
    """The stroke that a time means; one added beside another stays apart from it."""
    near = [
        stroke
        for stroke in strokes
        if abs(stroke.time_s - moment) <= (1.0 if added or stroke.added else _SAME_STROKE_S)
        and (stroke.added or not added)
    ]
    return min(near, key=lambda stroke: abs(stroke.time_s - moment), default=None)


def _in_reach(strokes: list[_Stroke], walk: Walk, ground: Ground, misfits: list[Misfit]) -> list[_Stroke]:
    """The strokes that can have been played in this round."""
    first, last = float(walk.time_s[0]), float(walk.time_s[-1])
    lines = shapely.MultiLineString([hole.line for hole in ground.holes])
    kept, outside = [], []
    for stroke in strokes:
        if stroke.place is not None:
            gap_m = float(shapely.distance(lines, shapely.Point(*_in_metres(stroke.place, ground))))
            if not gap_m <= _FAR_M:
                why = f"its place lies {_far(gap_m)} from every hole"
                misfits += [misfit(entry, why) for entry in stroke.entries if entry.lon_deg is not None]
                stroke.entries = [entry for entry in stroke.entries if entry.lon_deg is None]
                stroke.place = None
        slack = _NEAR_S if stroke.place is None else _UNRECORDED_S
        if not first - slack <= stroke.time_s <= last + slack:
            outside += stroke.entries
        elif stroke.entries:
            kept.append(stroke)
    if len(outside) > _EACH:
        # Those of another round: one line says enough.
        names = ", ".join(repr(entry.id) for entry in outside[:_EACH])
        why = (
            f"{len(outside)} corrections ({names} and so on) lie outside the time of the track; they are kept"
        )
        misfits += [Misfit(entry.id, 0, why) for entry in outside]
    else:
        misfits += [misfit(entry, "it lies outside the time of the track") for entry in outside]
    return kept


def _in_metres(place: tuple[float, float], ground: Ground) -> tuple[float, float]:
    east, north = ground.frame.to_metres(*place)
    return float(east), float(north)


def _far(gap_m: float) -> str:
    return f"{gap_m / 1000.0:.0f} km" if gap_m >= 10_000.0 else f"{gap_m:.0f} m"


def _stand_of(strokes: list[_Stroke], stands: pd.DataFrame, ground: Ground) -> list[int | None]:
    """The stand of each stroke, one to one, the surest first; None where none is left near it."""
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    middle = 0.5 * (start + end)
    pairs = []
    for index, stroke in enumerate(strokes):
        away = np.maximum(np.maximum(start - stroke.time_s, stroke.time_s - end), 0.0)
        reach = 0.0 if stroke.added else _NEAR_S if stroke.is_shot else _REMOVED_S
        for stand in np.flatnonzero(away <= reach).tolist():
            if stroke.added and not _is_there(stroke, stands, stand, ground):
                continue
            pairs.append((stroke.added, float(away[stand]), abs(stroke.time_s - middle[stand]), index, stand))
    found: list[int | None] = [None] * len(strokes)
    taken: set[int] = set()
    for *_, index, stand in sorted(pairs):
        if found[index] is None and stand not in taken:
            found[index] = stand
            taken.add(stand)
    return found


def _is_there(stroke: _Stroke, stands: pd.DataFrame, stand: int, ground: Ground) -> bool:
    """Whether an added shot is that of the stop at its time, and not one played elsewhere."""
    if stroke.place is None:
        return True
    east, north = _in_metres(stroke.place, ground)
    return bool(
        np.hypot(stands["east_m"].iloc[stand] - east, stands["north_m"].iloc[stand] - north) <= _ELSEWHERE_M
    )


def _stands_with(
    strokes: list[_Stroke],
    spots: list[int | None],
    stands: pd.DataFrame,
    walk: Walk,
    ground: Ground,
    settings: RoundSettings,
) -> tuple[pd.DataFrame, list[int | None]]:
    """The stands as the player knows them, in order of their strokes, and the place of each stroke among them."""
    table = stands.copy()
    moment = np.maximum(
        table["end_s"].to_numpy() - settings.watch_s, 0.5 * (table["start_s"] + table["end_s"]).to_numpy()
    )
    rows: list[dict[str, Any]] = []
    places: list[int | None] = []
    for stroke, spot in zip(strokes, spots, strict=True):
        if spot is None and stroke.is_shot:
            rows.append(_new_stand(stroke, stands, walk, ground, settings))
            places.append(len(stands) + len(rows) - 1)
            continue
        places.append(spot)
        if spot is not None and stroke.is_shot:
            moment[spot] = np.clip(stroke.time_s, table["start_s"].iloc[spot], table["end_s"].iloc[spot])
            if stroke.place is not None:
                east, north = _in_metres(stroke.place, ground)
                label = table.index[spot]
                table.loc[label, ["east_m", "north_m", "sigma_m"]] = [east, north, _POINTED_M]
    if rows:
        table = pd.concat([table, pd.DataFrame(rows)[list(stands.columns)].astype(stands.dtypes)])
        moment = np.concatenate([moment, [row["start_s"] for row in rows]])
    order = np.argsort(moment, kind="stable")
    rank = np.empty(order.size, dtype=int)
    rank[order] = np.arange(order.size)
    places = [None if place is None else int(rank[place]) for place in places]
    return table.iloc[order].reset_index(drop=True), places


def _new_stand(
    stroke: _Stroke, stands: pd.DataFrame, walk: Walk, ground: Ground, settings: RoundSettings
) -> dict[str, Any]:
    """A stand that the track does not show; what is not known of it is as usual, so that it says nothing."""
    row: dict[str, Any] = {
        name: False if stands[name].dtype == bool else float(stands[name].median()) if len(stands) else 1.0
        for name in stands.columns
    }
    if stroke.place is not None:
        east, north = _in_metres(stroke.place, ground)
        sigma = _POINTED_M
    else:
        east, north = (
            float(np.interp(stroke.time_s, walk.time_s, values)) for values in (walk.east_m, walk.north_m)
        )
        sigma = max(
            float(np.interp(stroke.time_s, walk.time_s, walk.sigma_m)), _POINTED_M, _gap_m(stroke, walk) / 4.0
        )
    return row | {
        "start_s": stroke.time_s,
        "end_s": stroke.time_s,
        "dwell_s": settings.shot_dwell_s,
        "east_m": east,
        "north_m": north,
        "sigma_m": sigma,
        "points": 0,
    }


def _gap_m(stroke: _Stroke, walk: Walk) -> float:
    """How far the player moved unseen around a moment, zero where the track shows it [m]."""
    after = int(np.searchsorted(walk.time_s, stroke.time_s))
    if not 0 < after < walk.time_s.size or walk.part[after] == walk.part[after - 1]:
        return 0.0
    return float(
        np.hypot(walk.east_m[after] - walk.east_m[after - 1], walk.north_m[after] - walk.north_m[after - 1])
    )
