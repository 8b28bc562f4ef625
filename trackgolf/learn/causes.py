"""What strokes went on: causes that add up exactly to the score against personal par."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geo.units import YARD_M
from trackgolf.learn.many_rounds import ManyRounds
from trackgolf.learn.shares import mean_interval

__all__ = ["CAUSES", "CauseSettings", "causes_by_round", "strokes_by_cause", "strokes_to_come"]

# In the order they are told.
CAUSES = (
    "off the plan",
    "layup missed long",
    "layup missed short",
    "trouble reached",
    "short shots",
    "other full shots",
    "shots not seen",
    "penalties",
    "putts",
)
# Two rounds that cost the same by chance do not make a cause certain: strokes of a cause differ from round to round by
# at least this. Common practice, no source.
_LEAST_SD = 1.0
_TROUBLE = ("bunker", "penalty_area", "out_of_bounds", "lost", "trees")
# What is looked at of a shot.
_LOOKED_AT = (
    "shot",
    "role",
    "followed",
    "end_lie",
    "within_tolerance",
    "long_m",
    "leave_before_m",
    "leave_m",
)


@dataclass(frozen=True, slots=True)
class CauseSettings:
    """
    How strokes are put to causes.

    Attributes
    ----------
    short_m : float
        A shot from within this is a short one [m]: 70 yd.
    power : float
        Shots still allowed fall with the share of the hole that is left to this power: the first half of a hole takes
        fewer shots than the second. Common practice, no source.
    """

    short_m: float = 70 * YARD_M
    power: float = 0.6


def strokes_to_come(
    leave_m: float, length_m: float, personal_par: float, regulation_shots: float, power: float
) -> float:
    """
    Say how many strokes personal par still allows from a place on a hole.

    Parameters
    ----------
    leave_m : float
        What is left to the hole [m].
    length_m : float
        Length of the hole [m].
    personal_par, regulation_shots : float
        Of the hole; their difference is the putts allowed.
    power : float
        As in `CauseSettings`.

    Returns
    -------
    float
        Personal par on the tee, the putts allowed on the green.

    Examples
    --------
    >>> strokes_to_come(360.0, 360.0, 6, 4, 0.6), strokes_to_come(0.0, 360.0, 6, 4, 0.6)
    (6.0, 2.0)
    """
    putts = personal_par - regulation_shots
    share = min(max(leave_m / length_m, 0.0), 1.0) if length_m > 0 else 0.0
    return float(putts + regulation_shots * share**power)


def strokes_by_cause(rounds: ManyRounds, settings: CauseSettings | None = None) -> pd.DataFrame:
    """
    Put every stroke over personal par to a cause.

    What a shot cost is one stroke and what it left to come, less what was to come before it; over a hole these add up
    to its shots less regulation [1]_. Penalties and putts beyond those allowed are the rest.

    Parameters
    ----------
    rounds : ManyRounds
        The rounds; holes without a score are left out.
    settings : CauseSettings, optional
        How strokes are put to causes.

    Returns
    -------
    pandas.DataFrame
        A row a hole: ``round``, ``hole``, ``against_par`` (strokes less personal par) and a column for each of
        `CAUSES`; the causes of a row add up to it.

    References
    ----------
    .. [1] M. Broadie, "Assessing golfer performance on the PGA TOUR," Interfaces, vol. 42, no. 2, pp. 146-165, 2012.
    """
    rules = settings or CauseSettings()
    holes = rounds.holes
    keys = ["round", "visit"] if "visit" in holes else ["round", "hole"]
    by_hole: dict[tuple[Any, ...], list[dict[Hashable, Any]]] = {}
    if len(rounds.shots):
        # Thousands of holes: as plain values at once, rather than a table each.
        names = [name for name in dict.fromkeys([*keys, *_LOOKED_AT]) if name in rounds.shots]
        for shot in rounds.shots[names].sort_values("shot", kind="stable").to_dict("records"):
            by_hole.setdefault(tuple(shot[key] for key in keys), []).append(shot)
    rows = []
    for hole in holes.to_dict("records"):
        numbers = [
            hole.get(name) for name in ("strokes", "personal_par", "regulation_shots", "shots", "putts")
        ]
        if any(value is None or pd.isna(value) for value in numbers):
            continue
        rows.append(_hole(hole, by_hole.get(tuple(hole[key] for key in keys), []), rules))
    return pd.DataFrame(rows, columns=["round", "hole", "against_par", *CAUSES])


def causes_by_round(costs: pd.DataFrame) -> pd.DataFrame:
    """
    Say what each cause costs a round.

    Parameters
    ----------
    costs : pandas.DataFrame
        From `strokes_by_cause`.

    Returns
    -------
    pandas.DataFrame
        ``cause``, ``strokes`` (in all), ``a_round`` (mean over eighteen holes), ``low``, ``high`` (80 % interval,
        NaN for one round), ``rounds``.
    """
    rows = []
    grouped = costs.groupby("round")
    played = grouped.size()
    for cause in CAUSES:
        # Rounds of any number of holes, as if of eighteen.
        each = grouped[cause].sum() / played * 18
        mean, low, high = mean_interval(each.to_numpy(dtype=float), least_sd=_LEAST_SD)
        rows.append((cause, float(costs[cause].sum()), mean, low, high, len(each)))
    return pd.DataFrame(rows, columns=["cause", "strokes", "a_round", "low", "high", "rounds"])


def _hole(
    hole: Mapping[Hashable, Any], ordered: Sequence[Mapping[Hashable, Any]], rules: CauseSettings
) -> dict[str, Any]:
    strokes, personal, allowed = (
        float(hole[name]) for name in ("strokes", "personal_par", "regulation_shots")
    )
    putts, penalties = float(hole["putts"]), _number(hole.get("penalties"), 0.0)
    cost = dict.fromkeys(CAUSES, 0.0)
    length = _number(hole.get("length_m"), math.nan)
    if not length > 0 and ordered:
        length = _number(ordered[0].get("leave_before_m"), math.nan)

    before = personal
    for place, shot in enumerate(ordered):
        last = place + 1 == len(ordered)
        if last:
            after = 0.0 if putts == 0 else personal - allowed
        else:
            left = _number(ordered[place + 1].get("leave_before_m"), _number(shot.get("leave_m"), math.nan))
            after = (
                strokes_to_come(left, length, personal, allowed, rules.power)
                if math.isfinite(left) and length > 0
                else before
            )
        cost[_cause(shot, rules)] += 1.0 + after - before
        before = after
    cost["putts"] = putts - before if ordered else putts - (personal - allowed)
    cost["penalties"] = penalties
    unseen = float(hole["shots"]) - len(ordered)
    cost["shots not seen"] += unseen if ordered else unseen - allowed
    # A score that is not the sum of its parts is nobody's fault that can be named.
    cost["shots not seen"] += strokes - (float(hole["shots"]) + putts + penalties)
    return {"round": hole["round"], "hole": hole["hole"], "against_par": strokes - personal} | cost


def _cause(shot: Mapping[Hashable, Any], rules: CauseSettings) -> str:
    planned = isinstance(shot.get("role"), str) and shot["role"] != ""
    if planned and shot.get("followed") == "no":
        return "off the plan"
    if shot.get("end_lie") in _TROUBLE:
        return "trouble reached"
    if planned and shot["role"] in ("tee", "layup") and shot.get("within_tolerance") == "no":
        return "layup missed long" if _number(shot.get("long_m"), 0.0) > 0 else "layup missed short"
    if _number(shot.get("leave_before_m"), np.inf) <= rules.short_m:
        return "short shots"
    return "other full shots"


def _number(value: Any, default: float) -> float:
    return default if value is None or pd.isna(value) else float(value)
