"""Pictures of numbers, worked out here and written by our own SVG templates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geo.units import YARD_M
from reports.show import in_unit, nice_step, short_club
from reports.tables import DOUBTFUL_BELOW

__all__ = ["LeaveChart", "MissChart", "leave_chart", "miss_chart", "place_labels", "target_mark"]

# A letter of the labels is about this wide and high [px]; enough to keep labels apart.
_LETTER_WIDTH = 6.3
_LETTER_HEIGHT = 12.0
_LETTER_GAP = 4.0


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
    mixed : bool
        The layups have different tolerances; the usual one is drawn.
    grid : dict of str to list of dict
        For ``yd`` and ``m``: lines of the scale with place and label.
    points : list of dict
        Place, sign (``yes``, ``no``, ``unsure``), whether it lies beyond the
        picture, and its label with place and anchor.
    """

    half: float
    tolerance: float
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
    The scale reaches two tolerances at least, four at most, and else as far
    as nine layups in ten; what lies further out is drawn at the edge, in its
    direction.
    """
    rows = layups.dropna(subset=["long_m", "right_m"])
    if rows.empty:
        return None
    half = 160.0
    tolerance_m, mixed = _usual(rows["tolerance_m"].dropna().to_numpy())
    misses_m = np.abs(rows[["long_m", "right_m"]].to_numpy()).max(axis=1)
    reach_m = float(np.clip(1.15 * np.quantile(misses_m, 0.9), 2.0 * tolerance_m, 4.0 * tolerance_m))
    scale = half / reach_m
    points = []
    for row in rows.to_dict("records"):
        x, y = row["right_m"] * scale, -row["long_m"] * scale
        out = max(abs(x), abs(y)) / (half - 7.0)
        hole, shot = int(row["hole"]), int(row["shot"])
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
                "club": short_club(row["club"] or row["planned_club"]),
                "long_m": row["long_m"],
                "right_m": row["right_m"],
            }
        )
    place_labels(points, half)
    grid = {units: _square_grid(reach_m, half, units) for units in ("yd", "m")}
    return MissChart(half, round(tolerance_m * scale, 1), mixed, grid, points)


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
    width, left, right, row_height, top = 340.0, 58.0, 322.0, 22.0, 26.0
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
    grid = {}
    for units in ("yd", "m"):
        low, high = in_unit(low_m, units), in_unit(high_m, units)
        step = nice_step(high - low, 5)
        ticks = np.arange(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1) * step
        grid[units] = [
            {"at": round(left + (_to_m(tick, units) - low_m) * scale, 1), "label": f"{tick:g}"}
            for tick in ticks.tolist()
        ]
    return LeaveChart(width, round(top + len(drawn) * row_height + 8.0, 1), left, right, grid, drawn)


def place_labels(points: list[dict[str, Any]], half: float) -> None:
    """
    Find a place for the label of each point, apart from the others.

    Parameters
    ----------
    points : list of dict
        With `x`, `y`, `hole` and `club`; gets `label_x`, `label_y`, `anchor` and
        `leader`, the latter True where a line must lead to the point.
    half : float
        Labels stay within this distance of the middle [px].
    """
    taken = np.array([[p["x"] - 5.0, p["y"] - 5.0, p["x"] + 5.0, p["y"] + 5.0] for p in points])
    directions = [(1, 0), (-1, 0), (1, -1), (-1, -1), (1, 1), (-1, 1), (0, -1), (0, 1)]
    for point in points:
        width = _LETTER_WIDTH * (len(point["club"]) + len(str(point["hole"]))) + _LETTER_GAP
        places = [
            (point["x"] + right * gap, point["y"] + down * gap, right, gap)
            for gap in (8.0, 15.0, 24.0, 35.0, 48.0)
            for right, down in directions
        ]
        boxes = np.array(
            [[x - (0.5 - 0.5 * right) * width, y - 0.5 * _LETTER_HEIGHT] for x, y, right, _ in places]
        )
        boxes = np.hstack([boxes, boxes + np.array([width, _LETTER_HEIGHT])])
        outside = np.clip(np.hstack([-half - boxes[:, :2], boxes[:, 2:] - half]), 0.0, None).sum(axis=1)
        cost = _overlaps(boxes, taken).sum(axis=1) + 40.0 * outside + np.array([gap for *_, gap in places])
        best = int(np.argmin(np.round(cost, 6)))
        x, y, right, gap = places[best]
        taken = np.vstack([taken, boxes[best]])
        point["label_x"], point["label_y"] = round(x, 1), round(y + 3.7, 1)
        point["anchor"] = {1: "start", -1: "end", 0: "middle"}[right]
        point["leader"] = gap > 15.0


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


def _to_m(length: float, units: str) -> float:
    return length * YARD_M if units == "yd" else length


def _overlaps(boxes: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Measure the area each box shares with each of the others."""
    low = np.maximum(boxes[:, None, :2], others[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], others[None, :, 2:])
    areas: np.ndarray = np.clip(high - low, 0.0, None).prod(axis=2)
    return areas
