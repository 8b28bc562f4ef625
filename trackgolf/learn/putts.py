"""Regulation by personal par, and putts: what happens at and on the green."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geo.units import YARD_M
from trackgolf.learn.approach_shots import NEAR_M
from trackgolf.learn.many_rounds import ManyRounds
from trackgolf.learn.shares import Share, mean_interval, pool_shares, share_of

__all__ = ["PuttAccount", "RegulationAccount", "account_for_putts", "account_for_regulation"]

# First putts by length [m]: 2, 4, 8, 12 and 18 yd.
_EDGES_M = tuple(edge * YARD_M for edge in (0, 2, 4, 8, 12, 18, 60))
# common practice, no source: two putts a green over eighteen.
_MANY_PUTTS = 36.0
_FEWEST_HOLES = 9


@dataclass(frozen=True)
class RegulationAccount:
    """
    How often the green is reached in the shots that personal par allows.

    Attributes
    ----------
    on : Share
        On it.
    beside : Share
        On it or within 20 yd of the hole.
    chip_and_one, chip_and_two : Share
        Of the holes that were beside it: one more shot, then one putt, or two.
    """

    on: Share
    beside: Share
    chip_and_one: Share
    chip_and_two: Share


@dataclass(frozen=True)
class PuttAccount:
    """
    How putts went, from holes whose putts a card tells.

    Attributes
    ----------
    by_length : pandas.DataFrame
        ``from_m``, ``to_m`` of the first putt, ``greens``, ``two_share`` (two putts or fewer) and ``three_share``
        (three or more), with 80 % bounds.
    three : Share
        Three putts or more, over all greens.
    a_round : tuple of float
        Mean putts over eighteen holes, low, high; NaN unknown.
    rounds : int
        Rounds that rests on.
    many : bool
        Whether the mean is above 36.
    """

    by_length: pd.DataFrame
    three: Share
    a_round: tuple[float, float, float]
    rounds: int
    many: bool


def account_for_regulation(rounds: ManyRounds) -> RegulationAccount:
    """
    Count greens reached in regulation by personal par.

    Parameters
    ----------
    rounds : ManyRounds
        The rounds.

    Returns
    -------
    RegulationAccount
        Shares with 80 % intervals.
    """
    on = beside = holes = beside_only = one = two = 0
    by_visit = dict(iter(rounds.shots.groupby(_keys(rounds.holes), sort=False))) if len(rounds.shots) else {}
    for hole in rounds.holes.to_dict("records"):
        allowed, shots, penalties = (
            _whole(hole.get(name)) for name in ("regulation_shots", "shots", "penalties")
        )
        mine = by_visit.get(tuple(hole[key] for key in _keys(rounds.holes)))
        if allowed is None or shots is None or mine is None:
            continue
        holes += 1
        reached = str(mine["end_lie"].iloc[-1]) in ("green", "holed")
        if reached and shots + (penalties or 0) <= allowed:
            on += 1
            continue
        penalty = (
            pd.to_numeric(mine["penalty"], errors="coerce").fillna(0)
            if "penalty" in mine
            else 0 * mine["shot"]
        )
        taken = mine["shot"].astype(float) + penalty.cumsum() - penalty
        last = mine[taken <= allowed]
        if (
            last.empty
            or not float(last["leave_m"].iloc[-1] if pd.notna(last["leave_m"].iloc[-1]) else np.inf) <= NEAR_M
        ):
            continue
        beside += 1
        putts = _whole(hole.get("putts"))
        if putts is None:
            continue
        beside_only += 1
        more = shots + (penalties or 0) - allowed
        one += more == 1 and putts <= 1
        two += more == 1 and putts == 2
    return RegulationAccount(
        share_of(on, holes),
        share_of(on + beside, holes),
        share_of(one, beside_only),
        share_of(two, beside_only),
    )


def account_for_putts(rounds: ManyRounds) -> PuttAccount:
    """
    Count putts by the length of the first.

    Parameters
    ----------
    rounds : ManyRounds
        The rounds. Putts guessed from the time on the green do not count.

    Returns
    -------
    PuttAccount
        By length, three putts, and the mean of a round.
    """
    holes = rounds.holes
    known = (
        holes[pd.to_numeric(holes["putts"], errors="coerce").notna()] if "putts" in holes else holes.iloc[:0]
    )
    if "putts_source" in known:
        known = known[known["putts_source"] == "card"]
    keys = _keys(holes)
    known = known.assign(putts=pd.to_numeric(known["putts"]).astype(float)) if len(known) else known
    finish = rounds.shots.sort_values([*keys, "shot"], kind="stable").drop_duplicates(keys, keep="last")
    finish = finish[finish["end_lie"] == "green"][[*keys, "leave_m"]].rename(
        columns={"leave_m": "first_putt_m"}
    )
    greens = known.merge(finish, on=keys, how="left") if len(known) else known.assign(first_putt_m=[])
    greens = greens[greens["putts"] > 0] if len(greens) else greens
    rows = _by_length(greens)
    three = share_of(int((greens["putts"] >= 3).sum()), len(greens)) if len(greens) else share_of(0, 0)
    played = (
        known.groupby("round")["putts"].agg(["sum", "size"])
        if len(known)
        else pd.DataFrame({"sum": [], "size": []})
    )
    played = played[played["size"] >= _FEWEST_HOLES]
    mean, low, high = mean_interval((played["sum"] / played["size"] * 18).to_numpy(dtype=float))
    return PuttAccount(rows, three, (mean, low, high), len(played), bool(mean > _MANY_PUTTS))


def _by_length(greens: pd.DataFrame) -> pd.DataFrame:
    columns = ["from_m", "to_m", "greens", "two_share", "two_80_low", "two_80_high", "three_share"]
    if greens.empty or greens["first_putt_m"].notna().sum() == 0:
        return pd.DataFrame(columns=columns)
    place = np.digitize(greens["first_putt_m"].to_numpy(dtype=float), _EDGES_M) - 1
    bins = len(_EDGES_M) - 1
    tries = np.array([(place == k).sum() for k in range(bins)])
    hits = np.array([((place == k) & (greens["putts"] <= 2).to_numpy()).sum() for k in range(bins)])
    rows = [
        (_EDGES_M[k], _EDGES_M[k + 1], int(tries[k]), share.mean, share.low, share.high, 1 - share.mean)
        for k, share in enumerate(pool_shares(hits, tries))
    ]
    return pd.DataFrame(rows, columns=columns)


def _keys(holes: pd.DataFrame) -> list[str]:
    return ["round", "visit"] if "visit" in holes else ["round", "hole"]


def _whole(value: object) -> int | None:
    return None if value is None or pd.isna(value) else int(value)  # type: ignore[call-overload]
