"""Pictures of what many rounds say: clubs with their ranges, and shares over the distance that is left."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geo.units import YARD_M
from reports.show import in_unit, nice_step

__all__ = ["CurveChart", "RangeChart", "curve_chart", "range_chart"]


@dataclass(frozen=True, slots=True)
class RangeChart:
    """
    Clubs with the ranges of their distances, a row each; lengths in px.

    Parameters
    ----------
    width, height, left, right : float
        Size, and the ends of the scale.
    grid : dict of str to list of dict
        For ``yd`` and ``m``: lines of the scale with place and label.
    rows : list of dict
        Club, y, places of the mean, of both ranges, and of what the bag says.
    """

    width: float
    height: float
    left: float
    right: float
    grid: dict[str, list[dict[str, Any]]]
    rows: list[dict[str, Any]]


@dataclass(frozen=True, slots=True)
class CurveChart:
    """
    A share over the distance that is left; lengths in px.

    Parameters
    ----------
    width, height, left, right, top, bottom : float
        Size, and the edges of the field.
    grid : dict of str to list of dict
        For ``yd`` and ``m``: upright lines of the scale.
    levels : list of dict
        Level lines with their label.
    band, line, second : str
        Paths of the range, of the likely share, and of a second share ("" for none).
    marks : list of dict
        Distances the player named: place, height, ends of the range, and number.
    """

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    grid: dict[str, list[dict[str, Any]]]
    levels: list[dict[str, Any]]
    band: str
    line: str
    second: str
    marks: list[dict[str, Any]]


def range_chart(clubs: pd.DataFrame) -> RangeChart | None:
    """
    Set what each club goes, with its ranges, against what the bag says.

    Parameters
    ----------
    clubs : pandas.DataFrame
        As `reports.evidence_tables.CLUB_EVIDENCE`.

    Returns
    -------
    RangeChart or None
        The picture; None without clubs.
    """
    if clubs.empty:
        return None
    width, left, right, row_height, top = 340.0, 104.0, 326.0, 24.0, 26.0
    low_m = float(np.nanmin(clubs[["distance_95_low_m", "stated_distance_m"]].to_numpy(dtype=float)))
    high_m = float(np.nanmax(clubs[["distance_95_high_m", "stated_distance_m"]].to_numpy(dtype=float)))
    low_m, high_m = max(0.0, low_m - 6.0), high_m + 6.0
    scale = (right - left) / (high_m - low_m)
    rows = []
    for number, club in enumerate(clubs.to_dict("records")):
        places = {
            name: round(left + (float(club[column]) - low_m) * scale, 1)
            for name, column in (
                ("mean", "distance_m"),
                ("low", "distance_80_low_m"),
                ("high", "distance_80_high_m"),
                ("lowest", "distance_95_low_m"),
                ("highest", "distance_95_high_m"),
                ("stated", "stated_distance_m"),
            )
        }
        y = round(top + (number + 0.5) * row_height, 1)
        rows.append({"club": club["club"], "y": y, "seen": int(club["shots"]) > 0} | places)
    grid = {units: _lines(low_m, high_m, left, scale, units) for units in ("yd", "m")}
    return RangeChart(width, round(top + len(rows) * row_height + 8.0, 1), left, right, grid, rows)


def curve_chart(curves: pd.DataFrame, named: pd.DataFrame) -> CurveChart | None:
    """
    Draw how often the green is reached over what is left.

    Parameters
    ----------
    curves : pandas.DataFrame
        As `reports.evidence_tables.CURVES`; ``green`` is drawn with its range, ``near`` as a second line.
    named : pandas.DataFrame
        As `reports.evidence_tables.NAMED`.

    Returns
    -------
    CurveChart or None
        The picture; None without a curve.
    """
    green = curves[curves["curve"] == "green"].sort_values("leave_m")
    if len(green) < 2:
        return None
    width, height, left, right, top, bottom = 340.0, 230.0, 40.0, 330.0, 12.0, 200.0
    leaves = green["leave_m"].to_numpy(dtype=float)
    low_m, high_m = float(leaves.min()), float(leaves.max())
    scale = (right - left) / (high_m - low_m)

    def place(leave_m: float) -> float:
        return round(left + (leave_m - low_m) * scale, 1)

    def level(share: float) -> float:
        return round(bottom - min(max(share, 0.0), 1.0) * (bottom - top), 1)

    def path(table: pd.DataFrame, column: str) -> str:
        points = [
            f"{place(at)} {level(value)}" for at, value in zip(table["leave_m"], table[column], strict=True)
        ]
        return "M" + "L".join(points)

    band = path(green, "high") + "L" + path(green.iloc[::-1], "low")[1:] + "Z"
    near = curves[curves["curve"] == "near"].sort_values("leave_m")
    marks = [
        {
            "x": place(float(row["named_m"])),
            "y": level(float(row["green_share"])),
            "low": level(float(row["low"])),
            "high": level(float(row["high"])),
        }
        for row in named.to_dict("records")
        if low_m <= float(row["named_m"]) <= high_m and int(row["shots"]) > 0
    ]
    return CurveChart(
        width,
        height,
        left,
        right,
        top,
        bottom,
        {units: _lines(low_m, high_m, left, scale, units) for units in ("yd", "m")},
        [{"y": level(share / 100), "label": f"{share} %"} for share in (0, 25, 50, 75, 100)],
        band,
        path(green, "value"),
        path(near, "value") if len(near) else "",
        marks,
    )


def _lines(low_m: float, high_m: float, left: float, scale: float, units: str) -> list[dict[str, Any]]:
    low, high = in_unit(low_m, units), in_unit(high_m, units)
    step = nice_step(high - low, 5)
    ticks = np.arange(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1) * step
    per = YARD_M if units == "yd" else 1.0
    return [
        {"at": round(left + (tick * per - low_m) * scale, 1), "label": f"{tick:g}"} for tick in ticks.tolist()
    ]
