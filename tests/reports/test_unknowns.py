"""Whatever is unknown: the report is written, and shows no word of a program for it."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pandas as pd
import pytest

from reports.page import round_report
from reports.tables import CLUBS, COMPARISON, DOUBTS, HOLES, ONWARD, SHOTS
from tests.reports.invented import invented_round

KEYS = {"hole", "shot"}
SPECS = {
    "shots": SHOTS,
    "comparison": COMPARISON,
    "holes": HOLES,
    "clubs": CLUBS,
    "onward": ONWARD,
    "doubts": DOUBTS,
}
MISSING = {"whole": pd.NA, "number": np.nan, "text": "", "time": pd.NaT}
# What a program says for what is unknown, as a word or as a number in a drawing.
WORDS = re.compile(r"\b(nan|NaN|None|NaT|<NA>|inf)\b")


def with_extras(tables):
    """A round that also has what the plan would play next, and doubts."""
    shots = tables.shots[["hole", "shot"]]
    onward = shots.assign(club="8 iron", role="layup", distance_m=110.0, leave_m=80.0)
    doubts = shots.assign(reason="other_stand", distance_m=5.0, time_s=9.0, share=0.4)
    return dataclasses.replace(tables, onward=onward, doubts=doubts)


ROUND = with_extras(invented_round(holes=3))


def shown(page):
    """What a page shows or says: its markup without scripts and styles."""
    return re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)


@pytest.mark.parametrize(
    ("seed", "share"), [*((seed, 0.5) for seed in range(6)), (7, 0.1), (8, 0.1), (9, 1.0)]
)
def test_cells_may_be_missing_anywhere(seed, share):
    rng = np.random.default_rng(seed)
    changed = {}
    for name, spec in SPECS.items():
        table = getattr(ROUND, name).copy()
        for column in spec.columns:
            if column.name not in KEYS:
                gone = rng.random(len(table)) < share
                table[column.name] = table[column.name].mask(gone, MISSING[column.kind])
        changed[name] = table
    assert WORDS.findall(shown(round_report(dataclasses.replace(ROUND, **changed)))) == []


@pytest.mark.parametrize(
    "name", ["shots", "plan", "comparison", "track", "shapes", "hole_lines", "clubs", "notes"]
)
def test_whole_tables_may_be_missing(name):
    bare = dataclasses.replace(ROUND, **{name: getattr(ROUND, name).iloc[:0]})
    assert WORDS.findall(shown(round_report(bare))) == []


def test_every_number_of_the_header_may_be_missing():
    optional = ("strokes", "par", "personal_par", "putts", "penalties", "shots_to_green", "regulation_shots")
    for gone in (*((key,) for key in optional), optional):
        head = dict(ROUND.header) | dict.fromkeys(gone)
        assert WORDS.findall(shown(round_report(dataclasses.replace(ROUND, header=head)))) == []
