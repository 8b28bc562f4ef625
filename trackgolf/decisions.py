"""What was decided of a round and why, in lines for whoever asks; `explain` tells one hole in full."""

from __future__ import annotations

import logging
from collections import Counter

import numpy as np
import pandas as pd

from trackgolf.explain import CLUB_SOURCES, explain_hole, many
from trackgolf.reconstruct import Round
from trackgolf.time_zone import time_zone_of

__all__ = ["log_decisions", "round_decisions"]

_LOG = logging.getLogger(__name__)
# A stop left out that may well have been a shot, as a share.
_WORTH_SAYING = 0.2
_COUNTED_BY = {"card": "by the card", "corrected": "as you corrected it", "track": "by the track alone"}


def log_decisions(played: Round) -> None:
    """
    Log what was decided of a round, and hole by hole at the level of debugging.

    Parameters
    ----------
    played : Round
        The round.
    """
    if _LOG.isEnabledFor(logging.INFO):
        for line in round_decisions(played):
            _LOG.info(line)
    if _LOG.isEnabledFor(logging.DEBUG):
        zone = time_zone_of(played.ground.frame.lon_deg, played.ground.frame.lat_deg)
        for hole in dict.fromkeys(played.holes["hole"].tolist()):
            for line in explain_hole(played, hole, zone):
                _LOG.debug(line)


def round_decisions(played: Round) -> list[str]:
    """
    Say what was decided of a round and why.

    Parameters
    ----------
    played : Round
        The round.

    Returns
    -------
    list of str
        Lines: which stops are what, the holes and their order, the shots
        of each hole kept and left with how sure they are, its count and
        where that comes from, clubs by what named them, the comparison.
    """
    lines = [_stops(played), _order(played)]
    lines += [_hole(played, row) for _, row in played.holes.iterrows()]
    lines += [_clubs(played)]
    if played.plan is not None:
        lines.append(_comparison(played.comparison))
    return lines


def _stops(played: Round) -> str:
    taken = set(played.shots["stand"].dropna().astype(int))
    doubtful = int((_others(played)["shot_probability"] >= _WORTH_SAYING).sum())
    left = len(played.stands) - len(taken)
    return (
        f"{many(len(played.stands), 'stop')} weighed: {len(taken)} taken for shots, {left} for greens, waits and all else, "
        f"of which {doubtful} may be shots with {_WORTH_SAYING:.0%} or more"
    )


def _others(played: Round) -> pd.DataFrame:
    """The stops that are no shot."""
    taken = played.shots["stand"].dropna().astype(int)
    return played.stands[~np.isin(np.arange(len(played.stands)), taken)]


def _order(played: Round) -> str:
    order = played.holes["hole"].tolist()
    runs: list[list[int]] = []
    for hole in order:
        if runs and hole == runs[-1][-1] + 1:
            runs[-1].append(hole)
        else:
            runs.append([hole])
    told = ", then ".join(f"{run[0]} to {run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)
    missing = [hole.number for hole in played.course.holes if hole.number not in order]
    rest = f"; not found in the track: {', '.join(map(str, missing))}" if missing else ""
    return f"{many(len(order), 'hole')} played in this order: {told}{rest}"


def _hole(played: Round, row: pd.Series) -> str:
    mine = played.shots[played.shots["visit"] == row["visit"]]
    others = _others(played)
    first_s, last_s = row["first_time"].timestamp(), row["last_time"].timestamp()
    there = others[(others["start_s"] >= first_s) & (others["start_s"] <= last_s)]
    kept = ", ".join(f"{share:.0%}" for share in mine["confidence"])
    unsure = there["shot_probability"][there["shot_probability"] >= _WORTH_SAYING]
    left = f"{many(len(there), 'stop')} left"
    if len(unsure):
        left += f", the likeliest of them a shot with {unsure.max():.0%}"
    return f"hole {row['hole']}: {many(len(mine), 'shot')} kept ({kept} sure), {left}; {_count(row)}"


def _count(row: pd.Series) -> str:
    if pd.isna(row["strokes"]):
        return "no score"
    parts = f"{many(row['shots'], 'shot')}, {many(row['putts'], 'putt')} {_COUNTED_BY.get(row['putts_source'], '')}".rstrip()
    if row["penalties"]:
        parts += f", {many(row['penalties'], 'penalty stroke')}"
    told = f"{many(row['strokes'], 'stroke')} {_COUNTED_BY.get(row['strokes_source'], '')}: {parts}"
    if not pd.isna(row["card_strokes"]) and row["card_strokes"] != row["strokes"]:
        told += f"; the card says {row['card_strokes']}, and the track is surer than it"
    return told


def _clubs(played: Round) -> str:
    counts = Counter(played.shots["club_source"].where(played.shots["club"] != "", ""))
    unnamed = counts.pop("", 0)
    named = [f"{count} {CLUB_SOURCES.get(source, source)}" for source, count in counts.most_common()]
    rest = f"{unnamed} not at all, since no club of the bag fits well enough" if unnamed else ""
    return f"clubs of {many(len(played.shots), 'shot')} named: {', '.join(filter(None, [*named, rest])) or 'none'}"


def _comparison(comparison: pd.DataFrame) -> str:
    followed = Counter(comparison["followed"])
    within = Counter(comparison["within_tolerance"])
    return (
        f"{many(len(comparison), 'planned shot')}: {followed['yes']} played as planned, {followed['no']} otherwise; "
        f"{within['yes']} within their tolerance, {within['no']} outside, {within['unsure']} too close to tell"
    )
