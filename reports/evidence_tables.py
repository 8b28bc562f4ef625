"""The tables a page about many rounds is drawn from: columns, types, units, and the checks at the door."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import pandas as pd

from reports.tables import Column, TableSpec, check_table, empty_table

__all__ = [
    "ACCOUNT",
    "CAUSE_COSTS",
    "CLUB_EVIDENCE",
    "CURVES",
    "FIGURES",
    "NAMED",
    "PART_EVIDENCE",
    "REPLAN",
    "EvidenceTables",
]

CLUB_EVIDENCE = TableSpec(
    "clubs",
    (
        Column("club", "text", "Club."),
        Column("shots", "whole", "Shots that count as its own."),
        Column("shots_inferred", "whole", "Those among them that nobody named."),
        Column("club_confidence", "number", "Mean probability that those are of this club; NaN without any."),
        Column("distance_m", "number", "Mean of good strikes, carry and roll, straight [m]."),
        Column("distance_80_low_m", "number", "It is longer nine times in ten [m]."),
        Column("distance_80_high_m", "number", "It is shorter nine times in ten [m]."),
        Column("distance_95_low_m", "number", "Lower bound of its 95 % interval [m]."),
        Column("distance_95_high_m", "number", "Upper bound of its 95 % interval [m]."),
        Column("carry_m", "number", "Modelled carry [m]."),
        Column("path_m", "number", "Good strikes along the walked path [m]."),
        Column("plan_m", "number", "What every second shot reaches [m]."),
        Column("spread_long_m", "number", "Standard deviation of good strikes along the line [m]."),
        Column("spread_side_m", "number", "Standard deviation across the line [m]."),
        Column("side_shots", "whole", "Shots whose side is known."),
        Column("right_m", "number", "Lean, positive to the right [m]."),
        Column("right_80_low_m", "number", "Lower bound of its 80 % interval [m]."),
        Column("right_80_high_m", "number", "Upper bound of its 80 % interval [m]."),
        Column("mishit_share", "number", "Share of mishits, in [0, 1]."),
        Column("mishit_80_low", "number", "Lower bound of its 80 % interval."),
        Column("mishit_80_high", "number", "Upper bound of its 80 % interval."),
        Column("more_shots", "whole", "Shots until the distance is known within 5 yd."),
        Column("change_m", "number", "Change from the first round to the last [m]."),
        Column("change_80_low_m", "number", "Lower bound of its 80 % interval [m]."),
        Column("change_80_high_m", "number", "Upper bound of its 80 % interval [m]."),
        Column("stated_distance_m", "number", "What the bag says [m]."),
    ),
)
PART_EVIDENCE = TableSpec(
    "part_swings",
    (
        Column("from_m", "number", "Shortest length asked [m]."),
        Column("to_m", "number", "Longest length asked [m]."),
        Column("shots", "whole", "Shots."),
        Column("distance_share", "number", "What a good one goes against what was asked."),
        Column("mishit_share", "number", "Share that fails, in [0, 1]."),
        Column("mishit_80_low", "number", "Lower bound of its 80 % interval."),
        Column("mishit_80_high", "number", "Upper bound of its 80 % interval."),
        Column("green_share", "number", "Share that ends on the green."),
    ),
)
CURVES = TableSpec(
    "curves",
    (
        Column(
            "curve",
            "text",
            "green, near, down_in_two, down_in_three or strokes; green_rough, strokes_sand and the like.",
        ),
        Column("leave_m", "number", "What was left before the shot [m]."),
        Column("value", "number", "A share in [0, 1], or strokes."),
        Column("low", "number", "Lower bound of its 80 % interval."),
        Column("high", "number", "Upper bound of its 80 % interval."),
    ),
)
NAMED = TableSpec(
    "named",
    (
        Column("club", "text", "Club the player named for the distance."),
        Column("named_m", "number", "The distance [m]."),
        Column("green_share", "number", "How often the green is reached from there."),
        Column("low", "number", "Lower bound of its 80 % interval."),
        Column("high", "number", "Upper bound of its 80 % interval."),
        Column("shots", "whole", "Shots from there."),
    ),
)
FIGURES = TableSpec(
    "figures",
    (
        Column(
            "figure",
            "text",
            "regulation, beside, chip_and_one, chip_and_two, putts, three_putts or against_par.",
        ),
        Column("value", "number", "A share in [0, 1], or a number over eighteen holes."),
        Column("low", "number", "Lower bound of its 80 % interval."),
        Column("high", "number", "Upper bound of its 80 % interval."),
        Column("count", "whole", "Holes, greens or rounds it rests on."),
    ),
)
CAUSE_COSTS = TableSpec(
    "causes",
    (
        Column("cause", "text", "What strokes went on."),
        Column("strokes", "number", "Strokes in all; all causes add up to the score against personal par."),
        Column("a_round", "number", "Over eighteen holes."),
        Column("low", "number", "Lower bound of its 80 % interval."),
        Column("high", "number", "Upper bound of its 80 % interval."),
    ),
)
ACCOUNT = TableSpec(
    "account",
    (
        Column("reason", "text", "Where shots were put, or why left out."),
        Column("shots", "whole", "How many."),
    ),
)
REPLAN = TableSpec(
    "replan",
    (
        Column("hole", "whole", "Hole."),
        Column("shot", "whole", "Shot within it."),
        Column("club_before", "text", "Club of the plan with the bag as stated."),
        Column("distance_before_m", "number", "Its distance [m]."),
        Column("club_after", "text", "Club of the plan with the measured bag."),
        Column("distance_after_m", "number", "Its distance [m]."),
    ),
)


@dataclass(frozen=True)
class EvidenceTables:
    """
    Everything a page about many rounds of one player is drawn from, checked and copied when made.

    Parameters
    ----------
    header : mapping
        ``player``, ``units`` ("yd" or "m"), ``invented``, ``rounds``, ``first_day``, ``last_day`` ("" unknown).
    clubs, part_swings, curves, named, figures, causes, account, replan : pandas.DataFrame, optional
        As `CLUB_EVIDENCE` and the others document.
    against_stated : tuple of float
        What good strikes go against what the bag says, less 1, with the bounds of its 80 % interval.
    sentences : tuple of tuple of str, optional
        Verdicts on approaches, each in yards and in metres.
    putts_said, causes_said : tuple of str, optional
        Sentences on putts, and on what cost most.
    notes : tuple of str, optional
        What else is to be said.

    Raises
    ------
    ValueError
        If a table lacks a column or holds the wrong type.
    """

    header: Mapping[str, Any]
    clubs: pd.DataFrame
    against_stated: tuple[float, float, float]
    part_swings: pd.DataFrame = field(default_factory=partial(empty_table, PART_EVIDENCE))
    curves: pd.DataFrame = field(default_factory=partial(empty_table, CURVES))
    named: pd.DataFrame = field(default_factory=partial(empty_table, NAMED))
    figures: pd.DataFrame = field(default_factory=partial(empty_table, FIGURES))
    causes: pd.DataFrame = field(default_factory=partial(empty_table, CAUSE_COSTS))
    account: pd.DataFrame = field(default_factory=partial(empty_table, ACCOUNT))
    replan: pd.DataFrame = field(default_factory=partial(empty_table, REPLAN))
    sentences: tuple[tuple[str, str], ...] = ()
    putts_said: tuple[str, ...] = ()
    causes_said: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        missing = {"player", "units", "invented", "rounds", "first_day", "last_day"} - set(self.header)
        if missing:
            raise ValueError(f"header: missing {', '.join(sorted(missing))}")
        for spec in (CLUB_EVIDENCE, PART_EVIDENCE, CURVES, NAMED, FIGURES, CAUSE_COSTS, ACCOUNT, REPLAN):
            object.__setattr__(self, spec.name, check_table(getattr(self, spec.name), spec))
