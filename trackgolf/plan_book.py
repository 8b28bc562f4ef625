"""Computed plans as the tables that `reports.plan_pages` draws."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from reports.plan_pages import PlanBook
from reports.show import whole_length
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.plan_odds import SPOT_WORDS, clubs_text, prices_text, spot_text, thumb_text, verdict
from trackgolf.plan_show import plan_tables
from trackgolf.strategy.clubs_subset import FewestClubs
from trackgolf.strategy.next_shot import Spot
from trackgolf.strategy.rounds import RoundPlans
from trackgolf.strategy.site import HoleSite

__all__ = ["plan_book_tables", "what_to_miss"]

# A side that costs this much more than another is worth a warning [strokes]. Common practice, no source.
_WORTH_SAYING = 0.15


def plan_book_tables(
    plans: RoundPlans, course: Course, bag: Bag, fewest: FewestClubs | None = None
) -> PlanBook:
    """
    Turn computed plans into tables.

    Parameters
    ----------
    plans : RoundPlans
        The plans.
    course : Course
        The course they are for.
    bag : Bag
        The bag they were made with.
    fewest : FewestClubs, optional
        The fewest clubs, where they were asked for.

    Returns
    -------
    PlanBook
        What the page is drawn from.
    """
    odds, spots, verdicts, zones = [], [], [], []
    for number, hole in plans.holes.items():
        for name, plan in hole.plans.items():
            shots = plans.plans[name].shots
            said = shots[shots["hole"] == number].to_dict("records")
            odds.append(
                {
                    "hole": number,
                    "name": name,
                    "expected_strokes": plan.odds.expected_strokes,
                    "regulation_probability": plan.odds.regulation_probability,
                    "high_score_probability": plan.odds.blowup_probability,
                    "penalty_probability": plan.odds.penalty_probability,
                    "expected_penalties": plan.odds.expected_penalties,
                    "shots": tuple(
                        ", ".join(f"{row['club']} {whole_length(row['distance_m'], units)}" for row in said)
                        for units in ("yd", "m")
                    ),
                }
            )
        found = () if hole.next_shots is None else hole.next_shots.spots
        spots += [
            {
                "hole": number,
                "spot": SPOT_WORDS[spot.name],
                "next": (spot_text(spot, "yd"), spot_text(spot, "m")),
                "strokes_to_go": spot.strokes_to_go,
            }
            for spot in found
        ]
        more, error = hole.trial or (0.0, 0.0)
        verdicts.append(
            {
                "hole": number,
                "verdict": verdict(hole.trial),
                "more": more,
                "error": 2 * error,
                "miss": what_to_miss(found),
            }
        )
        site = plans.sites[number]
        for zone in () if hole.next_shots is None or not site.placed else hole.next_shots.zones:
            mark = site.to_degrees([zone.mark_m[0]], [zone.mark_m[1]])
            zones.append(
                {
                    "hole": number,
                    "club": zone.club,
                    "at_green": zone.at_hole,
                    "mark_lon_deg": float(mark[0][0]),
                    "mark_lat_deg": float(mark[1][0]),
                    "geometry": _degrees(zone.area, site),
                }
            )
    columns = ["hole", "club", "at_green", "mark_lon_deg", "mark_lat_deg", "geometry"]
    sentences = [text for text in (thumb_text(plans), prices_text(plans)) if text]
    return PlanBook(
        plan_tables(plans.plans["on plan"], course, bag),
        pd.DataFrame(odds),
        pd.DataFrame(spots, columns=["hole", "spot", "next", "strokes_to_go"]),
        pd.DataFrame(verdicts),
        gpd.GeoDataFrame(pd.DataFrame(zones, columns=columns), geometry="geometry", crs="EPSG:4326"),
        sentences,
        [] if fewest is None else clubs_text(fewest).splitlines(),
    )


def _degrees(area: Any, site: HoleSite) -> Any:
    """Turn a shape in the hole's metres into degrees."""

    def turned(xy: Any) -> Any:
        return np.column_stack(site.to_degrees(xy[:, 0], xy[:, 1]))

    return shapely.transform(area, turned)


def what_to_miss(spots: Iterable[Spot]) -> str:
    """
    Say on which side a tee shot is worst.

    Parameters
    ----------
    spots : iterable of Spot
        What is played from the usual spots.

    Returns
    -------
    str
        ``left``, ``right`` or ``short``, several with "or", and what is
        there; "" where all are much alike.
    """
    sides = {spot.name: spot for spot in spots if spot.name in ("left", "right", "short")}
    costs = {name: spot.strokes_to_go for name, spot in sides.items() if spot.club or spot.lie == "green"}
    bad = [f"{name} ({_THERE[spot.lie]})" for name, spot in sides.items() if spot.lie in _THERE]
    # Short is dear on every hole; it is said only where something lies there.
    aside = {name: cost for name, cost in costs.items() if name != "short"}
    if len(aside) == 2:
        worst = max(aside, key=lambda name: aside[name])
        if aside[worst] - min(aside.values()) >= _WORTH_SAYING:
            bad.append(worst)
    return " or ".join(bad)


_THERE = {
    "water_red": "water",
    "water_yellow": "water",
    "out_of_bounds": "out of bounds",
}
