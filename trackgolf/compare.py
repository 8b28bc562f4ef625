"""A round against its plan: where each shot finished, and where the plan wanted it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from geo.frame import LocalFrame
from geo.geodesic import distance_bearing
from geo.line import offsets_from_target

__all__ = ["COMPARISON_COLUMNS", "compare_round", "plan_starts_elsewhere"]

COMPARISON_COLUMNS = (
    "hole",
    "shot",
    "role",
    "planned_club",
    "club",
    "club_source",
    "planned_distance_m",
    "distance_m",
    "path_m",
    "long_m",
    "right_m",
    "miss_m",
    "planned_leave_m",
    "leave_m",
    "tolerance_m",
    "within_tolerance",
    "followed",
    "end_lie",
    "sigma_m",
    "note",
)

# A shot follows the plan's direction within this angle of the line to the target [deg].
_DIRECTION_DEG = 20.0
# Beginnings of a hole further apart than this are two tees [m]; common practice, no source.
_OTHER_TEE_M = 25.0
# A target counts as still being played for from a spot up to this factor and length beyond the planned distance.
_REACH_FACTOR, _REACH_M = 1.25, 20.0


def compare_round(shots: pd.DataFrame, plan: pd.DataFrame, frame: LocalFrame) -> pd.DataFrame:
    """
    Compare shots with planned shots of the same hole and number.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots of a round with their positions, as `trackgolf.shots` makes them.
    plan : pandas.DataFrame
        Planned shots with their positions, as `trackgolf.plan` makes them.
    frame : LocalFrame
        The course's metric frame.

    Returns
    -------
    pandas.DataFrame
        One row a planned shot, columns `COMPARISON_COLUMNS`. `long_m` is along the line
        from where the shot was played to the target, positive past it, `right_m` across it, positive to the right,
        `miss_m` their length [m]. `within_tolerance` is `unsure` where the miss differs from the tolerance by less
        than `sigma_m`, the standard error of the finish. Where the play had left the plan the measured columns
        are empty and `note` says since when. Of a hole played twice the first time is compared.
    """
    rows = []
    # By hole, visit and number; plain values, for looking up one cell of a table costs more than all sums here.
    by_hole: dict[Any, dict[int, dict[int, dict[Any, Any]]]] = {}
    for shot in shots.to_dict("records"):
        by_hole.setdefault(shot["hole"], {}).setdefault(shot["visit"], {})[int(shot["shot"])] = shot
    for hole, planned in plan.groupby("hole", sort=True):
        if hole not in by_hole:
            rows += [_row_of(target) | {"note": "hole not played"} for target in planned.to_dict("records")]
            continue
        # Of a hole played twice the first time counts, whole.
        mine = by_hole[hole][min(by_hole[hole])]
        left_at: int | None = None
        for target in planned.sort_values("shot").to_dict("records"):
            row = _row_of(target)
            number = int(target["shot"])
            if number not in mine:
                row["note"] = _why_missing(number, mine)
            else:
                shot = mine[number]
                if left_at is None and not _still_on(shot, target):
                    left_at = number
                if left_at is not None:
                    row["note"] = f"off the plan since shot {left_at}"
                    row["club"], row["club_source"] = shot["club"], shot["club_source"]
                    row["followed"] = "no" if _club_is_known(shot) else ""
                else:
                    row |= _measured(shot, target, frame)
            rows.append(row)
    return pd.DataFrame(rows, columns=list(COMPARISON_COLUMNS))


def plan_starts_elsewhere(shots: pd.DataFrame, plan: pd.DataFrame) -> tuple[int, int, float]:
    """
    Count the holes that the plan begins elsewhere than they were begun, as when it is for another tee.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots of a round, as for `compare_round`.
    plan : pandas.DataFrame
        Planned shots, as for `compare_round`.

    Returns
    -------
    elsewhere : int
        Holes whose first shots begin more than 25 m apart, which no error of a track explains.
    holes : int
        Holes whose first shots are known in both.
    apart_m : float
        Median distance between the two beginnings [m]; NaN where no hole is known in both.
    """
    begun = [
        table[table["shot"] == 1]
        .drop_duplicates("hole")
        .set_index("hole")[["start_lon_deg", "start_lat_deg"]]
        for table in (shots, plan)
    ]
    both = pd.concat(begun, axis=1, join="inner").astype(float).dropna()
    if both.empty:
        return 0, 0, math.nan
    apart_m = np.atleast_1d(distance_bearing(*both.to_numpy().T)[0])
    return int((apart_m > _OTHER_TEE_M).sum()), len(both), float(np.median(apart_m))


def _row_of(target: dict[Any, Any]) -> dict[str, Any]:
    return dict.fromkeys(COMPARISON_COLUMNS) | {
        "hole": target["hole"],
        "shot": target["shot"],
        "role": target["role"],
        "planned_club": target["club"],
        "planned_distance_m": target["distance_m"],
        "planned_leave_m": target["leave_m"],
        "tolerance_m": target["tolerance_m"],
        "within_tolerance": "",
        "followed": "",
        "note": "",
    }


def _why_missing(number: int, mine: dict[int, dict[Any, Any]]) -> str:
    """Say why a hole has no shot of a number: it left no stop, or the hole was over before."""
    last = max(mine)
    if number < last:
        return "not seen in the track"
    return "picked up before" if mine[last]["end_lie"] == "picked_up" else "on the green before"


def _club_is_known(shot: dict[Any, Any]) -> bool:
    """Tell whether a shot's club is known from elsewhere than the plan, which proves nothing about following it."""
    return shot["club_source"] not in ("plan", "")


def _still_on(shot: dict[Any, Any], target: dict[Any, Any]) -> bool:
    """Whether the planned target can still be what the shot was played for."""
    away, _ = distance_bearing(
        shot["start_lon_deg"], shot["start_lat_deg"], target["target_lon_deg"], target["target_lat_deg"]
    )
    if not math.isfinite(float(away)):
        return True
    planned_m = float(target["distance_m"])
    return 0.35 * planned_m <= float(away) <= planned_m * _REACH_FACTOR + _REACH_M


def _measured(shot: dict[Any, Any], target: dict[Any, Any], frame: LocalFrame) -> dict[str, Any]:
    row = {
        "club": shot["club"],
        "club_source": shot["club_source"],
        "distance_m": shot["distance_m"],
        "path_m": shot["path_m"],
        "leave_m": shot["leave_m"],
        "end_lie": shot["end_lie"],
    }
    if not math.isfinite(float(shot["distance_m"])) or not math.isfinite(float(target["target_lon_deg"])):
        return row | {"note": "" if math.isfinite(float(shot["distance_m"])) else "finish not seen"}
    start = np.array(frame.to_metres(shot["start_lon_deg"], shot["start_lat_deg"]))
    finish = np.array(frame.to_metres(shot["end_lon_deg"], shot["end_lat_deg"]))
    aim = np.array(frame.to_metres(target["target_lon_deg"], target["target_lat_deg"]))
    long_m, right_m, miss_m = (float(value) for value in offsets_from_target(start, aim, finish))
    sigma_m = float(shot["end_sigma_m"])
    spare = target["tolerance_m"] - miss_m
    within = "unsure" if abs(spare) < sigma_m else ("yes" if spare >= 0 else "no")
    return row | {
        "long_m": long_m,
        "right_m": right_m,
        "miss_m": miss_m,
        "sigma_m": sigma_m,
        "within_tolerance": within,
        "followed": _followed(shot, target, start, aim, finish),
    }


def _followed(
    shot: dict[Any, Any], target: dict[Any, Any], start: np.ndarray, aim: np.ndarray, finish: np.ndarray
) -> str:
    if not _club_is_known(shot):
        return ""
    to_aim, to_finish = aim - start, finish - start
    turn = math.degrees(
        math.atan2(
            to_aim[1] * to_finish[0] - to_aim[0] * to_finish[1],
            to_aim[0] * to_finish[0] + to_aim[1] * to_finish[1],
        )
    )
    return "yes" if shot["club"] == target["club"] and abs(turn) <= _DIRECTION_DEG else "no"
