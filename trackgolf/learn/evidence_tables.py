"""What was learned as the plain tables that the page about many rounds is drawn from."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd

from reports.evidence_tables import CURVES, NAMED, REPLAN, EvidenceTables
from reports.tables import empty_table
from trackgolf.bag import Bag
from trackgolf.learn.approaches import Approaches, learn_approaches
from trackgolf.learn.approaches_show import cost_sentence, putt_sentences, verdicts
from trackgolf.learn.carries import Carries
from trackgolf.learn.causes import causes_by_round, strokes_by_cause
from trackgolf.learn.many_rounds import ManyRounds
from trackgolf.learn.putts import account_for_putts, account_for_regulation
from trackgolf.learn.shares import mean_interval

__all__ = ["compare_plans", "evidence_tables"]


def evidence_tables(
    rounds: ManyRounds, bag: Bag, carries: Carries, *, replan: pd.DataFrame | None = None
) -> EvidenceTables:
    """
    Put all that was learned of a player into the tables of a page.

    Parameters
    ----------
    rounds : ManyRounds
        The rounds.
    bag : Bag
        The player's bag as stated.
    carries : Carries
        What was learned of its clubs.
    replan : pandas.DataFrame, optional
        As `compare_plans` makes it.

    Returns
    -------
    EvidenceTables
        With the columns that `reports.evidence_tables` documents.
    """
    approaches = learn_approaches(rounds, bag)
    costs = strokes_by_cause(rounds)
    by_cause = causes_by_round(costs)
    putts = account_for_putts(rounds)
    days = _days(rounds)
    told = zip(verdicts(approaches, "yd"), verdicts(approaches, "m"), strict=True)
    account = pd.DataFrame(list(carries.account.items()), columns=["reason", "shots"])
    return EvidenceTables(
        header={
            "player": bag.player,
            "units": bag.units,
            "invented": bag.invented,
            "rounds": carries.rounds,
            "first_day": days[0] if days else "",
            "last_day": days[-1] if days else "",
        },
        clubs=carries.clubs,
        against_stated=(carries.bias, *carries.bias_80),
        part_swings=carries.part_swings,
        curves=_curves(approaches),
        named=_named(approaches),
        figures=_figures(rounds, costs),
        causes=by_cause[["cause", "strokes", "a_round", "low", "high"]],
        account=account,
        replan=empty_table(REPLAN) if replan is None else replan,
        sentences=tuple(told),
        putts_said=tuple(putt_sentences(putts)),
        causes_said=(cost_sentence(by_cause),),
        notes=carries.notes,
    )


def compare_plans(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """
    Put two plans of one course side by side, shot by shot.

    Parameters
    ----------
    before, after : pandas.DataFrame
        Shots of the plans, as `trackgolf.plan` makes them.

    Returns
    -------
    pandas.DataFrame
        As `reports.evidence_tables.REPLAN`; club "" where one of them has no such shot.
    """
    keys = ["hole", "shot"]
    columns = [*keys, "club", "distance_m"]
    both = before[columns].merge(after[columns], on=keys, how="outer", suffixes=("_before", "_after"))
    both = both.rename(
        columns={"distance_m_before": "distance_before_m", "distance_m_after": "distance_after_m"}
    )
    for name in ("club_before", "club_after"):
        both[name] = both[name].fillna("")
    ordered: pd.DataFrame = both.sort_values(keys, kind="stable").reset_index(drop=True)
    return ordered[[column.name for column in REPLAN.columns]]


def _curves(approaches: Approaches) -> pd.DataFrame:
    parts = [
        pd.DataFrame({"curve": name, "leave_m": c.place, "value": c.mean, "low": c.low, "high": c.high})
        for name, c in (
            *approaches.curves.items(),
            *(
                (f"{name}_{lie}", curve)
                for lie, curves in approaches.by_lie.items()
                for name, curve in curves.items()
            ),
        )
    ]
    return pd.concat(parts, ignore_index=True) if parts else empty_table(CURVES)


def _named(approaches: Approaches) -> pd.DataFrame:
    rows = [
        (band.club, band.named_m, band.green.mean, band.green.low, band.green.high, int(band.green.tries))
        for band in approaches.named
    ]
    return pd.DataFrame(rows, columns=[column.name for column in NAMED.columns])


def _figures(rounds: ManyRounds, costs: pd.DataFrame) -> pd.DataFrame:
    regulation, putts = account_for_regulation(rounds), account_for_putts(rounds)
    rows: list[tuple[Any, ...]] = []
    for name, share in (
        ("regulation", regulation.on),
        ("beside", regulation.beside),
        ("chip_and_one", regulation.chip_and_one),
        ("chip_and_two", regulation.chip_and_two),
        ("three_putts", putts.three),
    ):
        rows.append((name, share.mean, share.low, share.high, int(share.tries)))
    rows.append(("putts", *putts.a_round, putts.rounds))
    each = costs.groupby("round")["against_par"].mean().to_numpy(dtype=float) * 18
    rows.append(("against_par", *mean_interval(each, least_sd=2.0), len(each)))
    return pd.DataFrame(rows, columns=["figure", "value", "low", "high", "count"])


def _days(rounds: ManyRounds) -> list[str]:
    if "day" not in rounds.shots:
        return []
    days = {str(day)[:10] for day in rounds.shots["day"].dropna()}
    return sorted(day for day in days if re.fullmatch(r"\d{4}-\d\d-\d\d", day))
