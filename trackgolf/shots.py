"""The best story of a round as a table of shots: where, when, how far, from which lie."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geo.geodesic import distance_bearing
from geo.line import path_length_m
from trackgolf.decode import Event, Story
from trackgolf.ground import Ground, stations
from trackgolf.settings import RoundSettings
from trackgolf.told import Told

__all__ = ["SHOT_COLUMNS", "Said", "Visit", "Walk", "lay_out_shots"]

Floats = NDArray[np.float64]

SHOT_COLUMNS = (
    "hole",
    "shot",
    "visit",
    "club",
    "club_source",
    "club_probability",
    "start_time",
    "distance_m",
    "path_m",
    "progress_m",
    "leave_m",
    "leave_before_m",
    "lie",
    "end_lie",
    "confidence",
    "detour",
    "sigma_m",
    "end_sigma_m",
    "penalty",
    "stand",
    "end_stand",
    "start_lon_deg",
    "start_lat_deg",
    "end_lon_deg",
    "end_lat_deg",
    "note",
    "corrected",
    "rise_m",
    "rise_sigma_m",
)

# Further columns while the table is made.
_INNER = ("_east", "_north", "_end_east", "_end_north", "_leave_s", "_arrive_s", "_h", "_seen", "_replayed")

# A walk this much longer than the straight line is a detour, and its length says nothing of the shot.
_DETOUR_SHARE, _DETOUR_M = 1.35, 15.0
# Back within this distance of the spot just left, after having been further away than the second, is a replay [m].
_SAME_SPOT_M, _WENT_OFF_M = 12.0, 30.0
# Ends after which the ball is not played from where it lay: the finish was not seen, or another place counts.
_UNSEEN_ENDS = ("lost", "out_of_bounds", "picked_up")
# Lies a ball is played from as it came to rest.
_AS_IT_LIES = ("fairway", "rough", "bunker")


@dataclass(frozen=True, slots=True)
class Walk:
    """The smoothed walk: times [s], places [m], standard errors [m] and the part each position belongs to."""

    time_s: Floats
    east_m: Floats
    north_m: Floats
    sigma_m: Floats
    part: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Said:
    """What the player says of one shot: its `time_s` [s], and of `club`, `lie`, `end_lie` and `penalty` what is known."""

    time_s: float
    club: str | None = None
    lie: str | None = None
    end_lie: str | None = None
    penalty: int | None = None


@dataclass(frozen=True, slots=True)
class Visit:
    """
    One playing of a hole.

    Attributes are the `hole` number, `visit` from 0, the `shots` off the green, `unseen` strokes among them that
    left no stand, the stand that reached the `green` (None: picked up), how sure that is, and the times of the
    first stroke and of leaving the green [s].
    """

    hole: int
    visit: int
    shots: int
    unseen: int
    green: int | None
    green_probability: float
    start_s: float
    green_s: float
    end_s: float


def lay_out_shots(
    story: Story,
    shot_probability: Floats,
    green_probability: Floats,
    stands: pd.DataFrame,
    walk: Walk,
    ground: Ground,
    settings: RoundSettings,
    said: Mapping[int, Said] | None = None,
    told: Mapping[int, Told] | None = None,
) -> tuple[pd.DataFrame, list[Visit]]:
    """
    Turn the best story into shots and visits to holes.

    Parameters
    ----------
    story : Story
        What `trackgolf.decode.best_story` found.
    shot_probability, green_probability : numpy.ndarray, shape (m, h)
        From `trackgolf.decode.probabilities`.
    stands : pandas.DataFrame
        The m stands.
    walk : Walk
        The smoothed walk.
    ground : Ground
        The course.
    settings : RoundSettings
        Time between stroke and leaving.
    said : mapping of int to Said, optional
        By stand, what the player says of the shot there.
    told : mapping of int to Told, optional
        By number of the hole, what is said of its score: no more strokes are played again than it has penalties.

    Returns
    -------
    shots : pandas.DataFrame
        Columns `SHOT_COLUMNS`, clubs still empty; lengths [m], times UTC.
    visits : list of Visit
        In order of play.
    """
    rows: list[dict[str, Any]] = []
    visits: list[Visit] = []
    for number, hole in enumerate(story.visits):
        events = [event for event in story.events if event.visit == number]
        until = min((event.stand for event in story.events if event.visit > number), default=len(stands))
        found, visit = _visit(
            events,
            hole,
            number,
            until,
            stands,
            ground,
            shot_probability,
            green_probability,
            settings,
            said or {},
            (told or {}).get(ground.holes[hole].number, Told()),
        )
        rows += found
        visits.append(visit)
    table = pd.DataFrame(
        rows,
        columns=[*SHOT_COLUMNS, *_INNER],
    )
    if table.empty:
        return table[list(SHOT_COLUMNS)], visits
    return _measure(table, walk, ground), visits


def _visit(
    events: list[Event],
    hole: int,
    number: int,
    until: int,
    stands: pd.DataFrame,
    ground: Ground,
    shot_probability: Floats,
    green_probability: Floats,
    settings: RoundSettings,
    said: Mapping[int, Said],
    told: Told,
) -> tuple[list[dict[str, Any]], Visit]:
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end, sigma = stands["start_s"].to_numpy(), stands["end_s"].to_numpy(), stands["sigma_m"].to_numpy()
    strokes = [event for event in events if event.kind == "shot"]
    unseen = sum(event.kind == "unseen" for event in events)
    green = next((event.stand for event in events if event.kind == "green"), None)
    shots = max(event.number for event in events if event.kind != "green")
    room = told.penalty_room(shots)
    left = math.inf if room is None else float(room)
    left -= sum(said[event.stand].penalty or 0 for event in strokes if event.stand in said)
    rows = []
    for event, follow in pairwise([*strokes, None]):
        i = event.stand  # type: ignore[union-attr]
        j = follow.stand if follow is not None else green
        known = said.get(i)
        replayed = _replayed(i, follow, known, stands, may_be=left > 0)
        finish, end_lie = _finish(i, j, until, replayed=replayed, east=east, north=north)
        seen = finish == j
        if end_lie is None and follow is None:
            end_lie = "green"
        if known is not None and known.end_lie is not None:
            end_lie = known.end_lie
            seen &= not (end_lie in _UNSEEN_ENDS or (end_lie == "penalty_area" and known.penalty))
        penalty = int(replayed) if known is None or known.penalty is None else known.penalty
        left -= 0 if known is not None and known.penalty is not None else penalty
        rows.append(
            dict.fromkeys(SHOT_COLUMNS)
            | {
                "hole": ground.holes[hole].number,
                "shot": event.number,  # type: ignore[union-attr]
                "visit": number,
                "club": "",
                "club_source": "",
                "start_time": max(end[i] - settings.watch_s, 0.5 * (start[i] + end[i]))
                if known is None
                else known.time_s,
                "lie": None if known is None else known.lie,
                "end_lie": end_lie,
                "confidence": float(shot_probability[i, hole]) if known is None else 1.0,
                "sigma_m": float(sigma[i]),
                "end_sigma_m": float(np.hypot(sigma[finish], 1.5)) if finish == j else float(sigma[finish]),
                "penalty": penalty,
                "stand": i,
                "end_stand": finish,
                "note": "",
                "corrected": known is not None,
                "_east": east[i],
                "_north": north[i],
                "_end_east": east[finish],
                "_end_north": north[finish],
                "_leave_s": end[i],
                "_arrive_s": start[finish] if seen else math.nan,
                "_h": hole,
                "_seen": seen,
                "_replayed": replayed,
            }
        )
    last = strokes[-1]
    green_end = end[until - 1] if green is not None and until > green else end[last.stand]
    visit = Visit(
        hole=ground.holes[hole].number,
        visit=number,
        shots=shots,
        unseen=unseen,
        green=green,
        green_probability=float(green_probability[green, hole]) if green is not None else 0.0,
        start_s=float(rows[0]["start_time"]),
        green_s=float(start[green]) if green is not None else math.nan,
        end_s=float(green_end),
    )
    return rows, visit


def _replayed(
    i: int, follow: Event | None, known: Said | None, stands: pd.DataFrame, *, may_be: bool
) -> bool:
    """Whether the stroke was played again from its spot, at the cost of another (Rules of Golf 2023, 18.1)."""
    if follow is None:
        return False
    if known is not None and known.end_lie is not None:
        return known.end_lie in ("lost", "out_of_bounds")
    if known is not None and known.penalty == 0:
        return False
    return may_be and _is_replay(i, follow.stand, stands)


def _finish(
    i: int, j: int | None, until: int, *, replayed: bool, east: Floats, north: Floats
) -> tuple[int, str | None]:
    """The stand where the player went for the ball of the shot at stand `i`, and how it ended, None where it lay."""
    if replayed and j is not None and j > i + 1:
        return _furthest(i, j, east, north), "lost"
    if replayed:
        return i, "lost"
    if j is None:
        return (min(i + 1, until - 1) if until > i + 1 else i), "picked_up"
    return j, None


def _is_replay(i: int, j: int, stands: pd.DataFrame) -> bool:
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    apart = math.hypot(east[j] - east[i], north[j] - north[i])
    if apart > _SAME_SPOT_M or j == i + 1:
        return False
    return bool(np.max(np.hypot(east[i + 1 : j] - east[i], north[i + 1 : j] - north[i])) > _WENT_OFF_M)


def _furthest(i: int, j: int, east: Floats, north: Floats) -> int:
    between = np.hypot(east[i + 1 : j] - east[i], north[i + 1 : j] - north[i])
    return i + 1 + int(np.argmax(between))


def _measure(table: pd.DataFrame, walk: Walk, ground: Ground) -> pd.DataFrame:
    shots = table.copy()
    start = shots["_east"].to_numpy(dtype=float), shots["_north"].to_numpy(dtype=float)
    finish = shots["_end_east"].to_numpy(dtype=float), shots["_end_north"].to_numpy(dtype=float)
    shots["start_lon_deg"], shots["start_lat_deg"] = ground.frame.to_degrees(*start)
    shots["end_lon_deg"], shots["end_lat_deg"] = ground.frame.to_degrees(*finish)
    straight, _ = distance_bearing(
        shots["start_lon_deg"], shots["start_lat_deg"], shots["end_lon_deg"], shots["end_lat_deg"]
    )
    seen = shots["_seen"].to_numpy(dtype=bool)
    shots["distance_m"] = np.where(seen, straight, np.nan)
    walked = path_length_m(
        walk.time_s,
        walk.east_m,
        walk.north_m,
        shots["_leave_s"].to_numpy(dtype=float),
        np.maximum(shots["_arrive_s"].to_numpy(dtype=float), shots["_leave_s"].to_numpy(dtype=float)),
        part=walk.part,
    )
    # From the middle of one stand to the middle of the next: the walk alone begins and ends at their edges.
    ends = np.hypot(
        np.interp(shots["_leave_s"].to_numpy(dtype=float), walk.time_s, walk.east_m) - start[0],
        np.interp(shots["_leave_s"].to_numpy(dtype=float), walk.time_s, walk.north_m) - start[1],
    ) + np.hypot(
        np.interp(shots["_arrive_s"].to_numpy(dtype=float), walk.time_s, walk.east_m) - finish[0],
        np.interp(shots["_arrive_s"].to_numpy(dtype=float), walk.time_s, walk.north_m) - finish[1],
    )
    shots["path_m"] = np.where(seen, np.maximum(walked + ends, straight), np.nan)
    shots["detour"] = shots["path_m"] > _DETOUR_SHARE * shots["distance_m"] + _DETOUR_M
    for column, (east, north) in {"_from": start, "_to": finish}.items():
        along = np.empty(len(shots))
        for h in np.unique(shots["_h"].to_numpy(dtype=int)):
            mine = (shots["_h"] == h).to_numpy()
            along[mine], _ = stations(ground.holes[h], east[mine], north[mine])
        shots[column] = along
    shots["progress_m"] = np.where(seen, shots["_to"] - shots["_from"], np.nan)
    targets = np.array([ground.holes[int(h)].target for h in shots["_h"]])
    target_lon, target_lat = ground.frame.to_degrees(targets[:, 0], targets[:, 1])
    shots["leave_m"], _ = distance_bearing(shots["end_lon_deg"], shots["end_lat_deg"], target_lon, target_lat)
    shots.loc[~seen, "leave_m"] = np.nan
    shots["leave_before_m"], _ = distance_bearing(
        shots["start_lon_deg"], shots["start_lat_deg"], target_lon, target_lat
    )
    told, told_end = shots["lie"].notna().to_numpy(), shots["end_lie"].notna().to_numpy()
    before = (shots["visit"].shift(1) == shots["visit"]).to_numpy()
    lies = np.array(ground.lies_at(*start), dtype=object)
    lies[(shots["shot"] == 1).to_numpy()] = "tee"
    # A ball off the green cannot have been played from the green of its hole, whatever the error of the position.
    lies[lies == "green"] = "rough" if ground.mapped else "unknown"
    for row in range(len(shots)):
        if told[row]:
            lies[row] = shots["lie"].iloc[row]
        elif before[row] and shots["_replayed"].iloc[row - 1]:
            # Stroke and distance: from where the stroke before was made (Rules of Golf 2023, 18.1).
            lies[row] = lies[row - 1]
        elif (
            before[row]
            and shots["end_lie"].iloc[row - 1] in _AS_IT_LIES
            and not shots["penalty"].iloc[row - 1]
        ):
            lies[row] = shots["end_lie"].iloc[row - 1]
    shots["lie"] = lies
    end_lies = np.array(ground.lies_at(*finish), dtype=object)
    shots["end_lie"] = np.where(told_end, shots["end_lie"], end_lies)
    same = np.append(before[1:], False) & ~told_end
    shots["end_lie"] = np.where(same, np.append(lies[1:], ""), shots["end_lie"])
    shots.loc[(shots["end_lie"] == "holed").to_numpy() & seen, "leave_m"] = 0.0
    shots["corrected"] = shots["corrected"].astype(bool)
    # Filled in by `trackgolf.rises` where the recording has heights.
    shots["rise_m"], shots["rise_sigma_m"] = np.nan, np.nan
    stroke = pd.to_datetime(shots["start_time"].astype(float), unit="s", utc=True)
    # To the millisecond that files have, so that what names a shot by its time finds it.
    shots["start_time"] = stroke.dt.round("ms")
    return shots[list(SHOT_COLUMNS)]
