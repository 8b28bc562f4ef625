"""Shots at the green with what came of them: reached, finished near, how many more strokes it took."""

from __future__ import annotations

import numpy as np
import pandas as pd

from geo.units import YARD_M
from trackgolf.learn.many_rounds import ManyRounds

__all__ = ["APPROACH_COLUMNS", "NEAR_M", "approach_shots"]

APPROACH_COLUMNS = (
    "round",
    "hole",
    "shot",
    "from_m",
    "lie",
    "green",
    "near",
    "strokes",
    "down_in_two",
    "down_in_three",
)
# Beside the green: within this of the hole [m]. 20 yd.
NEAR_M = 20 * YARD_M
_LEAST_CONFIDENCE = 0.5
_LIES = {"tee": "fairway", "fairway": "fairway", "bunker": "sand"}


def approach_shots(rounds: ManyRounds, longest_m: float, shortest_m: float = 15 * YARD_M) -> pd.DataFrame:
    """
    Take the shots from which the green could be reached, with their outcomes.

    Parameters
    ----------
    rounds : ManyRounds
        The rounds.
    longest_m : float
        From further away no club of the player reaches [m].
    shortest_m : float, optional
        From nearer it is a chip [m].

    Returns
    -------
    pandas.DataFrame
        Columns `APPROACH_COLUMNS`: `from_m` is what was left before the shot [m], `lie` is ``fairway`` (tee shots
        too), ``rough`` (with all else) or ``sand``; `green` whether the shot finished on it, `near` whether on it or
        within 20 yd of the hole, `strokes` from there to finish the hole, this one counted, NaN where the hole has no
        score; `down_in_two`, `down_in_three` whether it took no more than so many further strokes, NaN likewise.
    """
    shots = rounds.shots
    before = pd.to_numeric(shots["leave_before_m"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    confidence = (
        pd.to_numeric(shots["confidence"], errors="coerce").fillna(1.0).to_numpy()
        if "confidence" in shots
        else np.ones(len(shots))
    )
    left = pd.to_numeric(shots["leave_m"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    green = shots["end_lie"].isin(["green", "holed"]).to_numpy()
    with np.errstate(invalid="ignore"):
        usable = (before >= shortest_m) & (before <= longest_m) & (confidence >= _LEAST_CONFIDENCE)
        near = green | (left <= NEAR_M)
    strokes = _strokes_to_finish(rounds)
    table = pd.DataFrame(
        {
            "round": shots["round"],
            "hole": shots["hole"],
            "shot": shots["shot"],
            "from_m": before,
            "lie": shots["lie"].map(_LIES).fillna("rough"),
            "green": green,
            "near": near,
            "strokes": strokes,
            "down_in_two": np.where(np.isfinite(strokes), (strokes - 1 <= 2).astype(float), np.nan),
            "down_in_three": np.where(np.isfinite(strokes), (strokes - 1 <= 3).astype(float), np.nan),
        },
        columns=list(APPROACH_COLUMNS),
    )
    # Where the end was not seen for another reason than trouble, nothing is known of it.
    unseen = (
        ~np.isfinite(left)
        & ~green
        & ~shots["end_lie"].isin(["lost", "penalty_area", "out_of_bounds"]).to_numpy()
    )
    kept: pd.DataFrame = table[usable & ~unseen].reset_index(drop=True)
    return kept


def _strokes_to_finish(rounds: ManyRounds) -> np.ndarray:
    """Strokes from each shot to the end of its hole, this one counted."""
    shots, holes = rounds.shots, rounds.holes
    keys = ["round", "visit"] if "visit" in holes else ["round", "hole"]
    if holes.empty:
        return np.full(len(shots), np.nan)
    scores = holes.drop_duplicates(keys)[[*keys, "strokes"]].rename(columns={"strokes": "hole_strokes"})
    scores["hole_strokes"] = pd.to_numeric(scores["hole_strokes"], errors="coerce").astype(float)
    joined = shots[[*dict.fromkeys([*keys, "shot"])]].merge(scores, on=keys, how="left")
    penalty = (
        pd.to_numeric(shots["penalty"], errors="coerce").fillna(0).to_numpy()
        if "penalty" in shots
        else np.zeros(len(shots))
    )
    ordered = shots[[*keys, "shot"]].assign(penalty=penalty).sort_values([*keys, "shot"], kind="stable")
    before = ordered.groupby(keys)["penalty"].cumsum() - ordered["penalty"]
    earlier = before.reindex(shots.index).to_numpy(dtype=float)
    left = joined["hole_strokes"].to_numpy(dtype=float) - (shots["shot"].to_numpy(dtype=float) - 1) - earlier
    found: np.ndarray = np.where(left >= 1, left, np.nan)
    return found
