"""Part swings: pitches and half shots by length, and how often they fail."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from geo.units import YARD_M
from trackgolf.learn.club_beliefs import ModelSettings, Swings
from trackgolf.learn.club_model import fit_clubs
from trackgolf.learn.shares import share_of

__all__ = ["PART_COLUMNS", "PartSwingSettings", "learn_part_swings"]

PART_COLUMNS = (
    "from_m",
    "to_m",
    "shots",
    "distance_share",
    "distance_share_80_low",
    "distance_share_80_high",
    "spread_share",
    "mishit_share",
    "mishit_80_low",
    "mishit_80_high",
    "green_share",
    "green_80_low",
    "green_80_high",
    "median_leave_m",
)
_UNIT_M = 100.0


def _beliefs() -> ModelSettings:
    # Part swings fall short or run through; all common practice, no source.
    return ModelSettings(
        bias=-0.03,
        bias_sd=0.08,
        scatter_sd=0.05,
        spread=0.19,
        mishit=0.22,
        club_mishit_weight=25.0,
        short_means=(0.2, 0.4, 0.55, 1.6),
        short_sds=(0.12, 0.12, 0.12, 0.25),
        short_shares=(0.25, 0.25, 0.15, 0.35),
        rough=0.03,
        full_from=1.0,
        most_sweeps=90,
        sweep_budget=36_000,
    )


@dataclass(frozen=True, slots=True)
class PartSwingSettings:
    """
    How part swings are looked at.

    Attributes
    ----------
    edges_m : tuple of float
        Edges of the lengths asked [m]: 10, 20, 30, 40, 55 and 75 yd.
    model : ModelSettings
        The model of full swings with beliefs for part swings: each length is a club of its own, measured by what
        was asked.
    """

    edges_m: tuple[float, ...] = tuple(edge * YARD_M for edge in (10, 20, 30, 40, 55, 75))
    model: ModelSettings = field(default_factory=_beliefs)


def learn_part_swings(part: pd.DataFrame, settings: PartSwingSettings | None = None) -> pd.DataFrame:
    """
    Learn how part swings go, by the length asked.

    Parameters
    ----------
    part : pandas.DataFrame
        Part swings as `trackgolf.learn.shot_evidence` sorts them.
    settings : PartSwingSettings, optional
        Lengths and model.

    Returns
    -------
    pandas.DataFrame
        Columns `PART_COLUMNS`: a row for each range of lengths. `distance_share` is what a good one goes against
        what was asked, `mishit_share` how often one fails, short or long, `green_share` how often the ball ends on
        the green; each with its 80 % interval.
    """
    rules = settings or PartSwingSettings()
    edges = np.array(rules.edges_m)
    asked = part["leave_before_m"].to_numpy(dtype=float)
    place = np.digitize(asked, edges) - 1
    usable = (place >= 0) & (place < len(edges) - 1) & np.isfinite(asked)
    mine, asked, place = part[usable], asked[usable], place[usable]
    swings = Swings(
        distance_m=mine["distance_m"].to_numpy(dtype=float) / asked * _UNIT_M,
        variance_m2=mine["variance_m2"].to_numpy(dtype=float) * (_UNIT_M / asked) ** 2,
        club=place.astype(np.int64),
        aim_m=np.full(len(mine), np.nan),
        weight=mine["weight"].to_numpy(dtype=float),
        rough=mine["rough"].to_numpy(dtype=bool),
        tee=np.zeros(len(mine), dtype=bool),
        place=np.full(len(mine), -1),
    )
    bins = len(edges) - 1
    posterior = fit_clubs(np.full(bins, _UNIT_M), np.zeros(bins, dtype=bool), swings, rules.model)
    interval = posterior.interval(0.8)
    failed = np.quantile(posterior.mishit_draws, [0.1, 0.9], axis=0)
    rows = []
    for k in range(bins):
        here = place == k
        green = share_of(int((mine["end_lie"][here].isin(["green", "holed"])).sum()), int(here.sum()))
        rows.append(
            {
                "from_m": edges[k],
                "to_m": edges[k + 1],
                "shots": int(here.sum()),
                "distance_share": posterior.mean[k],
                "distance_share_80_low": interval[k, 0],
                "distance_share_80_high": interval[k, 1],
                "spread_share": posterior.spread[k],
                "mishit_share": posterior.mishit[k],
                "mishit_80_low": failed[0, k],
                "mishit_80_high": failed[1, k],
                "green_share": green.mean,
                "green_80_low": green.low,
                "green_80_high": green.high,
                "median_leave_m": float(mine["leave_m"][here].median()) if here.any() else np.nan,
            }
        )
    return pd.DataFrame(rows, columns=list(PART_COLUMNS))
