"""Pictures of numbers, worked out here and written by our own SVG templates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geo.units import YARD_M
from reports.bundles import known_club
from reports.labels import place_labels
from reports.show import in_unit, nice_step, short_club
from reports.tables import DOUBTFUL_BELOW

__all__ = ["ClubChart", "LeaveChart", "MissChart", "club_chart", "leave_chart", "miss_chart", "target_mark"]


@dataclass(frozen=True, slots=True)
class MissChart:
    """
    All layups round one target; lengths in px, the target at (0, 0), y downwards.

    Parameters
    ----------
    half : float
        Half the side of the square.
    tolerance : float
        Radius of the circle and half the side of the box.
    middle : tuple of float
        Middle of all finishes, the median each way.
    mixed : bool
        The layups have different tolerances; the usual one is drawn.
    grid : dict of str to list of dict
        For ``yd`` and ``m``: lines of the scale with place and label.
    points : list of dict
        Place, sign (``yes``, ``no``, ``unsure``), whether it lies beyond the
        picture, its club and whether only the plan names it, and its label.
    """

    half: float
    tolerance: float
    middle: tuple[float, float]
    mixed: bool
    grid: dict[str, list[dict[str, Any]]]
    points: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class LeaveChart:
    """
    Planned and actual leaves, a row a hole; lengths in px.

    Parameters
    ----------
    width, height : float
        Size.
    left, right : float
        Ends of the scale.
    grid : dict of str to list of dict
        For ``yd`` and ``m``: lines of the scale with place and label.
    rows : list of dict
        Hole, y, places of the planned and the actual leave (None unknown),
        and the leaves [m].
    """

    width: float
    height: float
    left: float
    right: float
    grid: dict[str, list[dict[str, Any]]]
    rows: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class ClubChart:
    """
    Every shot of a day by club, a row a club; lengths in px.

    Parameters
    ----------
    width, height : float
        Size.
    left, right : float
        Ends of the scale.
    grid : dict of str to list of dict
        For ``yd`` and ``m``: lines of the scale with place and label.
    rows : list of dict
        Club, y, the place of what the bag says (None unknown), and of each
        shot with whether it is doubtful.
    """

    width: float
    height: float
    left: float
    right: float
    grid: dict[str, list[dict[str, Any]]]
    rows: list[dict[str, Any]]


def miss_chart(layups: pd.DataFrame, confidence: dict[tuple[int, int], float]) -> MissChart | None:
    """
    Lay all layups of a round on one picture of long, short, left and right.

    Parameters
    ----------
    layups : pandas.DataFrame
        As `reports.bundles.layup_rows` gives them.
    confidence : dict
        Probability of each shot, by hole and shot; a missing one is sure.

    Returns
    -------
    MissChart or None
        The picture; None where no layup was compared.

    Notes
    -----
    The scale reaches two tolerances at least, three at most, and else as far
    as nine layups in ten; what lies further out is drawn at the edge, in its
    direction.
    """
    rows = layups.dropna(subset=["long_m", "right_m"])
    if rows.empty:
        return None
    half = 160.0
    tolerance_m, mixed = _usual(rows["tolerance_m"].dropna().to_numpy())
    misses_m = np.abs(rows[["long_m", "right_m"]].to_numpy()).max(axis=1)
    reach_m = float(np.clip(1.15 * np.quantile(misses_m, 0.9), 2.0 * tolerance_m, 3.0 * tolerance_m))
    scale = half / reach_m
    points = []
    for row in rows.to_dict("records"):
        x, y = row["right_m"] * scale, -row["long_m"] * scale
        out = max(abs(x), abs(y)) / (half - 7.0)
        hole, shot = int(row["hole"]), int(row["shot"])
        club = known_club(row)
        points.append(
            {
                "hole": hole,
                "shot": shot,
                "x": round(x / max(out, 1.0), 1),
                "y": round(y / max(out, 1.0), 1),
                "sign": row["within_tolerance"] if row["within_tolerance"] in {"yes", "no"} else "unsure",
                "far": out > 1.0,
                "turn": round(math.degrees(math.atan2(row["right_m"], row["long_m"])), 1),
                "doubtful": confidence.get((hole, shot), 1.0) < DOUBTFUL_BELOW,
                "club": short_club(club or row["planned_club"]),
                "stand_in": not club,
                "long_m": row["long_m"],
                "right_m": row["right_m"],
            }
        )
    x, y = (
        round(float(np.clip(rows[side].median() * way, -half, half)), 1)
        for side, way in (("right_m", scale), ("long_m", -scale))
    )
    place_labels(points, half, keep_free=[(x, y), (0.0, 0.0)])
    grid = {units: _square_grid(reach_m, half, units) for units in ("yd", "m")}
    return MissChart(half, round(tolerance_m * scale, 1), (x, y), mixed, grid, points)


def leave_chart(layups: pd.DataFrame) -> LeaveChart | None:
    """
    Set what was left for the approach against what the plan wanted to leave.

    Parameters
    ----------
    layups : pandas.DataFrame
        As `reports.bundles.layup_rows` gives them; the last of each hole counts.

    Returns
    -------
    LeaveChart or None
        The picture; None without a planned leave.
    """
    rows = layups.dropna(subset=["planned_leave_m"]).groupby("hole", sort=True).tail(1)
    if rows.empty:
        return None
    width, left, right, row_height, top = 340.0, 58.0, 262.0, 22.0, 26.0
    leaves_m = rows[["planned_leave_m", "leave_m"]].to_numpy()
    high_m = max(float(np.nanmax(leaves_m)) * 1.04, 1.0)
    # Zero is on the scale unless that would press everything into its far end.
    low_m = float(np.nanmin(leaves_m)) * 0.9
    low_m = low_m if low_m > 0.5 * high_m else 0.0
    scale = (right - left) / (high_m - low_m)
    drawn = []
    for number, row in enumerate(rows.to_dict("records")):
        actual = row["leave_m"]
        drawn.append(
            {
                "hole": int(row["hole"]),
                "y": round(top + (number + 0.5) * row_height, 1),
                "planned": round(left + (row["planned_leave_m"] - low_m) * scale, 1),
                "actual": round(left + (actual - low_m) * scale, 1) if math.isfinite(actual) else None,
                "planned_m": row["planned_leave_m"],
                "actual_m": actual,
                "sign": row["within_tolerance"],
            }
        )
    grid = {units: _scale_lines(low_m, high_m, left, scale, units) for units in ("yd", "m")}
    return LeaveChart(width, round(top + len(drawn) * row_height + 8.0, 1), left, right, grid, drawn)


def club_chart(shots: pd.DataFrame, clubs: pd.DataFrame) -> ClubChart | None:
    """
    Set every shot of each club against what the bag says it goes.

    Parameters
    ----------
    shots : pandas.DataFrame
        As `reports.tables.SHOTS`; shots whose club only the plan names are left out.
    clubs : pandas.DataFrame
        As `reports.tables.CLUBS`; a row each, in its order.

    Returns
    -------
    ClubChart or None
        The picture; None where no shot has both a club and a length.
    """
    known = shots[(shots["club_source"] != "plan") & (shots["club"] != "") & shots["distance_m"].notna()]
    rows = clubs[clubs["club"].isin(known["club"])]
    if rows.empty:
        return None
    width, left, right, row_height, top = 340.0, 104.0, 322.0, 22.0, 26.0
    known = known[known["club"].isin(rows["club"])]
    stated_m = rows["stated_distance_m"].dropna()
    high_m = (
        max(float(known["distance_m"].max()), float(stated_m.max()) if len(stated_m) else 0.0, 1.0) * 1.04
    )
    scale = (right - left) / high_m
    drawn = []
    for number, row in enumerate(rows.to_dict("records")):
        mine = known[known["club"] == row["club"]]
        stated = row["stated_distance_m"]
        drawn.append(
            {
                "club": row["club"],
                "y": round(top + (number + 0.5) * row_height, 1),
                "stated": round(left + stated * scale, 1) if math.isfinite(stated) else None,
                "shots": [
                    {"x": round(left + distance_m * scale, 1), "doubtful": sure < DOUBTFUL_BELOW}
                    for distance_m, sure in zip(mine["distance_m"], mine["confidence"], strict=True)
                ],
            }
        )
    grid = {units: _scale_lines(0.0, high_m, left, scale, units) for units in ("yd", "m")}
    return ClubChart(width, round(top + len(drawn) * row_height + 8.0, 1), left, right, grid, drawn)


def target_mark(long_m: float, right_m: float, tolerance_m: float) -> dict[str, float | bool] | None:
    """
    Place a finish in the small mark that stands in a row of a table.

    Parameters
    ----------
    long_m, right_m : float
        Finish against the target [m].
    tolerance_m : float
        Its tolerance [m].

    Returns
    -------
    dict or None
        `x` and `y` in tolerances, y downwards, two at most in any direction,
        and `far`, True beyond that; None where the finish is unknown.

    Examples
    --------
    >>> target_mark(9.0, -4.5, 9.0)
    {'x': -0.5, 'y': -1.0, 'far': False}
    """
    if not (math.isfinite(long_m) and math.isfinite(right_m) and tolerance_m > 0.0):
        return None
    x, y = right_m / tolerance_m, -long_m / tolerance_m
    out = max(math.hypot(x, y) / 2.0, 1.0)
    return {"x": round(x / out, 2), "y": round(y / out, 2), "far": out > 1.0}


def _usual(tolerances_m: np.ndarray) -> tuple[float, bool]:
    """Give the most common tolerance and whether there are others; ten yards without any."""
    if not len(tolerances_m):
        return 10.0 * YARD_M, False
    values, counts = np.unique(np.round(tolerances_m, 2), return_counts=True)
    usual = float(values[np.argmax(counts)])
    return (usual if usual > 0.0 else 10.0 * YARD_M), len(values) > 1


def _square_grid(reach_m: float, half: float, units: str) -> list[dict[str, Any]]:
    step = nice_step(in_unit(reach_m, units), 4)
    count = int(in_unit(reach_m, units) / step - 1e-9)
    return [
        {
            "at": round(_to_m(number * step, units) / reach_m * half, 1),
            "label": f"{abs(number * step):g}",
        }
        for number in range(-count, count + 1)
        if number
    ]


def _scale_lines(low_m: float, high_m: float, left: float, scale: float, units: str) -> list[dict[str, Any]]:
    low, high = in_unit(low_m, units), in_unit(high_m, units)
    step = nice_step(high - low, 5)
    ticks = np.arange(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1) * step
    return [
        {"at": round(left + (_to_m(tick, units) - low_m) * scale, 1), "label": f"{tick:g}"}
        for tick in ticks.tolist()
    ]


def _to_m(length: float, units: str) -> float:
    return length * YARD_M if units == "yd" else length
