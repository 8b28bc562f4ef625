"""An overview of players for a coach: how each plays, how sure that is, and what is worth working on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from trackgolf.learn.causes import causes_by_round, strokes_by_cause
from trackgolf.learn.many_rounds import ManyRounds
from trackgolf.learn.putts import account_for_putts, account_for_regulation
from trackgolf.learn.robust import huber_regression
from trackgolf.learn.shares import Share, counted_share, mean_interval
from trackgolf.library.coaching import PlayerNote

__all__ = [
    "Mean",
    "PlayerOverview",
    "look_at_player",
    "players_json",
    "players_text",
    "progress_sentence",
    "work_sentence",
]

# Fewer rounds are no ground for saying that something changes, or what to work on. Common practice, no source.
_ROUNDS_FOR_CHANGE, _ROUNDS_FOR_WORK = 5, 3
_FEWEST_HOLES = 9
# Scores of a player differ from round to round by at least this, even where two happen to be the same. Common practice.
_LEAST_SD = 2.0


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with its 80 % interval and how many rounds it rests on; NaN where nothing is known."""

    value: float
    low: float
    high: float
    rounds: int


@dataclass(frozen=True)
class PlayerOverview:
    """
    One player at a glance.

    Attributes
    ----------
    player : str
        The name.
    rounds : int
        Rounds looked at.
    last_day : str
        Day of the last one, "" unknown.
    layups : Share
        Layups that finished within tolerance, those too close to call left out.
    regulation : Share
        Greens reached in regulation by personal par.
    putts : Mean
        Putts over eighteen holes, from cards.
    against_target : Mean
        Strokes against personal par over eighteen holes.
    progress : Mean
        Change of that from the first round to the last; negative is better.
    work_on : str
        The cause that costs most, "" where the rounds do not bear out any.
    work_cost : Mean
        What it costs over eighteen holes.
    work_sure : bool
        Whether it surely costs more than anything else.
    """

    player: str
    rounds: int
    last_day: str
    layups: Share
    regulation: Share
    putts: Mean
    against_target: Mean
    progress: Mean
    work_on: str
    work_cost: Mean
    work_sure: bool


def look_at_player(player: str, rounds: ManyRounds) -> PlayerOverview:
    """
    Sum up one player.

    Parameters
    ----------
    player : str
        The name.
    rounds : ManyRounds
        The player's rounds.

    Returns
    -------
    PlayerOverview
        Each number with its interval and count.
    """
    costs = strokes_by_cause(rounds)
    putts = account_for_putts(rounds)
    cause, cost, sure = _work(causes_by_round(costs))
    each = costs.groupby("round")["against_par"].agg(["mean", "size"])
    each = each[each["size"] >= _FEWEST_HOLES]
    if "day" in rounds.holes and len(each):
        # A library numbers rounds as they came in, not as they were played.
        played = rounds.holes.groupby("round")["day"].min().reindex(each.index)
        each = each.loc[played.sort_values(kind="stable").index]
    over = (each["mean"] * 18).to_numpy(dtype=float)
    mean, low, high = mean_interval(over, least_sd=_LEAST_SD)
    days = (
        rounds.holes["day"].astype(str)
        if "day" in rounds.holes and len(rounds.holes)
        else pd.Series(dtype=str)
    )
    return PlayerOverview(
        player=player,
        rounds=rounds.rounds,
        last_day=str(days.max())[:10] if len(days) and str(days.max()) not in ("NaT", "nan") else "",
        layups=_layups(rounds.comparisons),
        regulation=account_for_regulation(rounds).on,
        putts=Mean(*putts.a_round, putts.rounds),
        against_target=Mean(mean, low, high, len(over)),
        progress=_progress(over),
        work_on=cause,
        work_cost=cost,
        work_sure=sure,
    )


def players_text(players: list[PlayerOverview], notes: Sequence[PlayerNote] = ()) -> str:
    """
    Lay out the overview for a terminal.

    Parameters
    ----------
    players : list of PlayerOverview
        The players; they are told in the order of their names, never ranked.
    notes : sequence of PlayerNote, optional
        What was noted about them.

    Returns
    -------
    str
        A few lines a player.
    """
    from trackgolf.text_table import printable

    blocks = []
    for one in sorted(players, key=lambda player: player.player.casefold()):
        rounds = "1 round" if one.rounds == 1 else f"{one.rounds} rounds"
        lines = [
            f"{printable(one.player)}: {rounds}" + (f", the last on {one.last_day}" if one.last_day else "")
        ]
        lines.append(f"  layups within tolerance  {_share(one.layups, 'layups')}")
        lines.append(f"  greens in regulation     {_share(one.regulation, 'holes')}")
        lines.append(f"  putts over 18 holes      {_mean(one.putts)}")
        lines.append(f"  against personal par     {_mean(one.against_target, '+')} over 18 holes")
        lines.append(f"  progress                 {progress_sentence(one.progress)}")
        lines.append(f"  to work on               {work_sentence(one)}")
        lines += [
            f"  note {note.id}, {note.made[:10]:<14} {printable(note.text)}"
            for note in notes
            if note.player == one.player
        ]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def progress_sentence(progress: Mean) -> str:
    """
    Say whether a player gets better.

    Parameters
    ----------
    progress : Mean
        Change from the first round to the last.

    Returns
    -------
    str
        A sentence without its full stop.
    """
    if not math.isfinite(progress.value):
        return f"too few rounds to tell (it takes {_ROUNDS_FOR_CHANGE})"
    told = (
        f"{abs(progress.value):.1f} strokes {'better' if progress.value < 0 else 'worse'} from first to last"
    )
    told += f" ({progress.low:+.1f} to {progress.high:+.1f}, {progress.rounds} rounds)"
    return told if progress.low > 0 or progress.high < 0 else f"none that can be told from chance: {told}"


def work_sentence(one: PlayerOverview) -> str:
    """
    Say what is worth working on.

    Parameters
    ----------
    one : PlayerOverview
        The player.

    Returns
    -------
    str
        A sentence without its full stop.
    """
    if not one.work_on:
        return "the rounds do not bear out any one thing yet"
    cost = one.work_cost
    told = f"{one.work_on}: {cost.value:.1f} strokes over 18 holes ({cost.low:.1f} to {cost.high:.1f}, {cost.rounds} rounds)"
    return told if one.work_sure else f"{told}; others may cost as much"


def players_json(players: list[PlayerOverview], notes: Sequence[PlayerNote] = ()) -> dict[str, Any]:
    """
    Put the overview into plain values.

    Parameters
    ----------
    players : list of PlayerOverview
        The players.
    notes : sequence of PlayerNote, optional
        What was noted about them.

    Returns
    -------
    dict
        ``players``, with null where nothing is known.
    """

    def share(one: Share) -> dict[str, Any] | None:
        if one.tries == 0:
            return None
        return {
            "share": round(one.mean, 3),
            "range_80": [round(one.low, 3), round(one.high, 3)],
            "of": int(one.tries),
        }

    def mean(one: Mean) -> dict[str, Any] | None:
        if not math.isfinite(one.value):
            return None
        bounds = [round(one.low, 2), round(one.high, 2)] if math.isfinite(one.low) else None
        return {"mean": round(one.value, 2), "range_80": bounds, "rounds": one.rounds}

    return {
        "players": [
            {
                "player": one.player,
                "rounds": one.rounds,
                "last_day": one.last_day or None,
                "layups_within": share(one.layups),
                "regulation": share(one.regulation),
                "putts": mean(one.putts),
                "against_personal_par": mean(one.against_target),
                "progress": mean(one.progress),
                "work_on": one.work_on or None,
                "work_cost": mean(one.work_cost),
                "work_sure": one.work_sure,
                "notes": [
                    {"note": note.id, "made": note.made, "text": note.text}
                    for note in notes
                    if note.player == one.player
                ],
            }
            for one in sorted(players, key=lambda player: player.player.casefold())
        ]
    }


def _layups(comparisons: pd.DataFrame) -> Share:
    if comparisons.empty or "within_tolerance" not in comparisons:
        return counted_share(0, 0)
    mine = comparisons
    if "role" in mine:
        mine = mine[mine["role"] != "approach"]
    verdict = mine["within_tolerance"]
    hits = int((verdict == "yes").sum())
    return counted_share(hits, hits + int((verdict == "no").sum()))


def _progress(over: np.ndarray) -> Mean:
    """Change over the rounds by a line that single bad days do not turn."""
    count = len(over)
    if count < _ROUNDS_FOR_CHANGE:
        return Mean(np.nan, np.nan, np.nan, count)
    line = huber_regression(np.column_stack([np.ones(count), np.linspace(0, 1, count)]), over)
    slope, error = float(line.coefficients[1]), float(line.errors[1])
    half = float(stats.t.ppf(0.9, count - 2)) * error
    return Mean(slope, slope - half, slope + half, count)


def _work(by_cause: pd.DataFrame) -> tuple[str, Mean, bool]:
    """The cause that costs most, if the rounds bear it out."""
    nothing = "", Mean(np.nan, np.nan, np.nan, 0), False
    known = by_cause[(by_cause["rounds"] >= _ROUNDS_FOR_WORK) & (by_cause["cause"] != "shots not seen")]
    known = known[known["low"] > 0].sort_values("a_round", ascending=False)
    if known.empty:
        return nothing
    first = known.iloc[0]
    others = by_cause[by_cause["cause"] != first["cause"]]
    sure = bool((others["high"].fillna(-np.inf) < first["low"]).all())
    cost = Mean(float(first["a_round"]), float(first["low"]), float(first["high"]), int(first["rounds"]))
    return str(first["cause"]), cost, sure


def _share(share: Share, what: str) -> str:
    if share.tries == 0:
        return "unknown"
    return f"{100 * share.mean:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f}, {share.tries:.0f} {what})"


def _mean(mean: Mean, sign: str = "") -> str:
    if not math.isfinite(mean.value):
        return "unknown"
    if not math.isfinite(mean.low):
        return f"{mean.value:{sign}.1f} (one round)"
    return f"{mean.value:{sign}.1f} ({mean.low:{sign}.1f} to {mean.high:{sign}.1f}, {mean.rounds} rounds)"
