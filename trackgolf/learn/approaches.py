"""From where this player really reaches the green, and what a shot from there costs, beside what the player named."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from geo.units import YARD_M
from trackgolf.bag import Approach, Bag
from trackgolf.learn.approach_shots import approach_shots
from trackgolf.learn.curves import Curve, smooth_mean, smooth_share
from trackgolf.learn.many_rounds import ManyRounds
from trackgolf.learn.shares import Share, share_of

__all__ = ["ApproachSettings", "Approaches", "Band", "learn_approaches", "preferred"]

_OTHER_LIES = ("rough", "sand")


@dataclass(frozen=True, slots=True)
class ApproachSettings:
    """
    How approaches are looked at.

    Attributes
    ----------
    step_m : float
        Step of the curves [m]: 5 yd.
    half_band_m : float
        A distance is judged by the shots from within so much of it [m]: 7.5 yd.
    nearest_m : float
        No distance nearer than this is offered as one to leave [m]: 40 yd; from nearer everybody reaches more often.
    least_shots : int
        A band is offered only with so many shots. Common practice, no source.
    least_curve_shots : int
        Curves are drawn only through so many shots. Common practice, no source.
    prior_shots : float
        How many shots the curve is worth against those of a band.
    """

    step_m: float = 5 * YARD_M
    half_band_m: float = 7.5 * YARD_M
    nearest_m: float = 40 * YARD_M
    least_shots: int = 6
    least_curve_shots: int = 10
    prior_shots: float = 2.0


@dataclass(frozen=True)
class Band:
    """
    How shots from about one distance went.

    Attributes
    ----------
    from_m, to_m : float
        The distances it takes in [m].
    club : str
        Club the player named for it, "" for none.
    named_m : float
        The distance named [m]; NaN for none.
    green : Share
        How often the green was reached.
    near : Share
        How often the ball came to rest on it or within 20 yd of the hole.
    strokes : float
        Mean strokes to finish from there, NaN unknown.
    """

    from_m: float
    to_m: float
    club: str
    named_m: float
    green: Share
    near: Share
    strokes: float


@dataclass(frozen=True)
class Approaches:
    """
    What many rounds say of shots at the green.

    Attributes
    ----------
    shots : pandas.DataFrame
        The shots, as `trackgolf.learn.approach_shots` takes them.
    curves : dict of Curve
        ``green``, ``near``, ``down_in_two``, ``down_in_three`` (shares) and ``strokes`` over the distance left [m],
        from the fairway; those for which there are shots enough.
    by_lie : dict of dict of Curve
        For ``rough`` and ``sand``, where there are shots enough, the curves ``green`` and ``strokes`` from there. They
        bend as those from the fairway do, and lie higher or lower.
    lies : pandas.DataFrame
        Per lie: ``lie``, ``shots``, and share of greens reached with its 80 % interval.
    named : tuple of Band
        The distances in the bag, in its order.
    best : Band or None
        The band from which the green is most surely reached; None without shots enough.
    sure : bool
        Whether the best band is surely better than every named one.
    """

    shots: pd.DataFrame
    curves: dict[str, Curve]
    by_lie: dict[str, dict[str, Curve]]
    lies: pd.DataFrame
    named: tuple[Band, ...]
    best: Band | None
    sure: bool


def learn_approaches(rounds: ManyRounds, bag: Bag, settings: ApproachSettings | None = None) -> Approaches:
    """
    Learn from where a player reaches the green.

    Parameters
    ----------
    rounds : ManyRounds
        The rounds.
    bag : Bag
        The clubs and preferred distances.
    settings : ApproachSettings, optional
        How it is looked at.

    Returns
    -------
    Approaches
        Curves, lies, the named distances and the best band.
    """
    rules = settings or ApproachSettings()
    longest = max((club.distance_m for club in bag.clubs), default=200.0)
    shots = approach_shots(rounds, longest)
    curves, by_lie = _curves(shots, longest, rules)
    lies = _lies(shots)
    named = tuple(
        _band(
            shots,
            curves,
            a.distance_m - rules.half_band_m,
            a.distance_m + rules.half_band_m,
            rules,
            a.club,
            a.distance_m,
        )
        for a in bag.approaches
    )
    best = _best(shots, curves, longest, rules)
    sure = best is not None and bool(named) and all(best.green.low > band.green.high for band in named)
    return Approaches(shots, curves, by_lie, lies, named, best, sure)


def preferred(bag: Bag, approaches: Approaches, distances: dict[str, float]) -> tuple[Approach, ...]:
    """
    Choose the preferred distances of the next bag.

    Parameters
    ----------
    bag : Bag
        The bag with what the player named.
    approaches : Approaches
        What was learned.
    distances : dict
        What each club was learned to go in all [m].

    Returns
    -------
    tuple of Approach
        Where the best band is surely better than all that was named, its middle comes first, with the club that goes
        so far or a little farther; else the bag's own, as they were.
    """
    best = approaches.best
    if best is None or not approaches.sure:
        return bag.approaches
    middle = 0.5 * (best.from_m + best.to_m)
    enough = sorted(
        (far, club.name) for club in bag.clubs if not club.avoid and (far := distances[club.name]) >= middle
    )
    if not enough:
        return bag.approaches
    return (Approach(enough[0][1], middle), *bag.approaches)


def _curves(
    shots: pd.DataFrame, longest_m: float, rules: ApproachSettings
) -> tuple[dict[str, Curve], dict[str, dict[str, Curve]]]:
    found: dict[str, Curve] = {}
    by_lie: dict[str, dict[str, Curve]] = {}
    if len(shots) < rules.least_curve_shots:
        return found, by_lie
    first = np.ceil(shots["from_m"].min() / rules.step_m) * rules.step_m
    last = min(longest_m, float(shots["from_m"].max()))
    at = np.arange(first, last + 0.1, rules.step_m)
    columns = np.column_stack([(shots["lie"] == lie).to_numpy(dtype=float) for lie in _OTHER_LIES])
    for name in ("green", "near", "down_in_two", "down_in_three", "strokes"):
        known = shots[name].notna().to_numpy()
        if known.sum() < rules.least_curve_shots:
            continue
        x, y = shots.loc[known, "from_m"].to_numpy(dtype=float), shots.loc[known, name].to_numpy(dtype=float)
        draw = smooth_mean if name == "strokes" else smooth_share
        found[name] = draw(x, y, at, columns=columns[known])
        for place, lie in enumerate(_OTHER_LIES):
            if name in ("green", "strokes") and columns[known][:, place].sum() >= rules.least_curve_shots:
                there = np.eye(len(_OTHER_LIES))[place]
                by_lie.setdefault(lie, {})[name] = draw(x, y, at, columns=columns[known], at_columns=there)
    for name, narrower in (("near", "green"), ("down_in_three", "down_in_two")):
        if name in found and narrower in found:
            found[name] = _no_less(found[name], found[narrower])
    return found, by_lie


def _no_less(curve: Curve, narrower: Curve) -> Curve:
    """What takes in another thing happens no less often, though each is drawn on its own."""
    return replace(
        curve,
        mean=np.maximum(curve.mean, narrower.mean),
        low=np.maximum(curve.low, narrower.low),
        high=np.maximum(curve.high, narrower.high),
    )


def _lies(shots: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for lie in ("fairway", "rough", "sand"):
        mine = shots[shots["lie"] == lie]
        share = share_of(int(mine["green"].sum()), len(mine))
        strokes = mine["strokes"].astype(float)
        rows.append(
            {
                "lie": lie,
                "shots": len(mine),
                "green_share": share.mean,
                "green_80_low": share.low,
                "green_80_high": share.high,
                "median_from_m": float(mine["from_m"].median()) if len(mine) else np.nan,
                "strokes": float(strokes.mean()) if strokes.notna().any() else np.nan,
            }
        )
    return pd.DataFrame(rows)


def _band(
    shots: pd.DataFrame,
    curves: dict[str, Curve],
    from_m: float,
    to_m: float,
    rules: ApproachSettings,
    club: str = "",
    named_m: float = np.nan,
) -> Band:
    mine = shots[(shots["from_m"] >= from_m) & (shots["from_m"] <= to_m)]
    strokes = mine["strokes"].astype(float)
    return Band(
        from_m,
        to_m,
        club,
        named_m,
        _share(mine["green"], curves.get("green"), 0.5 * (from_m + to_m), rules),
        _share(mine["near"], curves.get("near"), 0.5 * (from_m + to_m), rules),
        float(strokes.mean()) if strokes.notna().any() else np.nan,
    )


def _share(hits: pd.Series, curve: Curve | None, at_m: float, rules: ApproachSettings) -> Share:
    """The share of a band; what shots from other distances say of it counts for a few shots."""
    expected = 0.5 if curve is None else float(np.interp(at_m, curve.place, curve.mean))
    expected = min(max(expected, 0.02), 0.98)
    prior = (rules.prior_shots * expected, rules.prior_shots * (1 - expected))
    return share_of(int(hits.sum()), len(hits), prior=prior)


def _best(
    shots: pd.DataFrame, curves: dict[str, Curve], longest_m: float, rules: ApproachSettings
) -> Band | None:
    bands = []
    for middle in np.arange(rules.nearest_m + rules.half_band_m, longest_m - rules.half_band_m, rules.step_m):
        band = _band(
            shots, curves, float(middle) - rules.half_band_m, float(middle) + rules.half_band_m, rules
        )
        if band.green.tries >= rules.least_shots:
            bands.append(band)
    return max(bands, key=lambda band: (band.green.low, band.from_m)) if bands else None
