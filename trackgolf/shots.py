"""The best story of a round as a table of shots: where, when, how far, from which lie."""

from __future__ import annotations

import math
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

__all__ = ["SHOT_COLUMNS", "Visit", "Walk", "lay_out_shots"]

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
)

# A walk this much longer than the straight line is a detour, and its length says nothing of the shot.
_DETOUR_SHARE, _DETOUR_M = 1.35, 15.0
# Back within this distance of the spot just left, after having been further away than the second, is a replay [m].
_SAME_SPOT_M, _WENT_OFF_M = 12.0, 30.0


@dataclass(frozen=True, slots=True)
class Walk:
    """The smoothed walk: times [s], places [m], standard errors [m] and the part each position belongs to."""

    time_s: Floats
    east_m: Floats
    north_m: Floats
    sigma_m: Floats
    part: NDArray[np.int64]


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
            events, hole, number, until, stands, ground, shot_probability, green_probability, settings
        )
        rows += found
        visits.append(visit)
    table = pd.DataFrame(
        rows,
        columns=[*SHOT_COLUMNS, "_east", "_north", "_end_east", "_end_north", "_leave_s", "_arrive_s", "_h"],
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
) -> tuple[list[dict[str, Any]], Visit]:
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end, sigma = stands["start_s"].to_numpy(), stands["end_s"].to_numpy(), stands["sigma_m"].to_numpy()
    strokes = [event for event in events if event.kind == "shot"]
    unseen = sum(event.kind == "unseen" for event in events)
    green = next((event.stand for event in events if event.kind == "green"), None)
    rows = []
    for event, follow in pairwise([*strokes, None]):
        i = event.stand  # type: ignore[union-attr]
        j = follow.stand if follow is not None else green
        lost = follow is not None and _is_replay(i, follow.stand, stands)
        row = dict.fromkeys(SHOT_COLUMNS) | {
            "hole": ground.holes[hole].number,
            "shot": event.number,  # type: ignore[union-attr]
            "visit": number,
            "confidence": float(shot_probability[i, hole]),
            "sigma_m": float(sigma[i]),
            "penalty": int(lost),
            "stand": i,
            "_h": hole,
            "_east": east[i],
            "_north": north[i],
            "_leave_s": end[i],
            "start_time": max(end[i] - settings.watch_s, 0.5 * (start[i] + end[i])),
            "club": "",
            "club_source": "",
            "note": "",
        }
        if lost:
            k = _furthest(i, j, east, north)  # type: ignore[arg-type]
            row |= {"_end_east": east[k], "_end_north": north[k], "end_lie": "lost", "_arrive_s": math.nan}
            row |= {"end_stand": k, "end_sigma_m": float(sigma[k])}
        elif j is None:
            k = min(i + 1, len(stands) - 1, until - 1) if until > i + 1 else i
            row |= {
                "_end_east": east[k],
                "_end_north": north[k],
                "end_lie": "picked_up",
                "_arrive_s": math.nan,
            }
            row |= {"end_stand": k, "end_sigma_m": float(sigma[k])}
        else:
            row |= {"_end_east": east[j], "_end_north": north[j], "_arrive_s": start[j], "end_stand": j}
            row |= {
                "end_sigma_m": float(np.hypot(sigma[j], 1.5)),
                "end_lie": "green" if follow is None else None,
            }
        rows.append(row)
    last = strokes[-1]
    green_end = end[until - 1] if green is not None and until > green else end[last.stand]
    shots = max(event.number for event in events if event.kind != "green")
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
    seen = ~shots["end_lie"].isin(["lost", "picked_up"]).to_numpy()
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
    lies = np.array(ground.lies_at(*start), dtype=object)
    lies[(shots["shot"] == 1).to_numpy()] = "tee"
    # A ball off the green cannot have been played from the green of its hole, whatever the error of the position.
    lies[lies == "green"] = "rough" if ground.mapped else "unknown"
    shots["lie"] = lies
    end_lies = np.array(ground.lies_at(*finish), dtype=object)
    keep = shots["end_lie"].notna().to_numpy()
    shots["end_lie"] = np.where(keep, shots["end_lie"], end_lies)
    same = (shots["visit"].shift(-1) == shots["visit"]).to_numpy() & ~keep
    shots["end_lie"] = np.where(same, np.append(lies[1:], ""), shots["end_lie"])
    shots["start_time"] = pd.to_datetime(shots["start_time"].astype(float).round(3), unit="s", utc=True)
    return shots[list(SHOT_COLUMNS)]
