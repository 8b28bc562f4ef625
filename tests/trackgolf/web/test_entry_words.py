"""Every kind of correction has its words, and a person's text in one means nothing."""

import pandas as pd
import pytest

from trackgolf.correction_fields import SCHEMA
from trackgolf.corrections import Correction
from trackgolf.web.entry_words import entry_words

VALUES = {"lon_deg": -31.0, "lat_deg": 47.0, "to_hole": 4, "club": "{0} %s", "lie": "penalty_area", "end_lie": "lost", "penalty": 1, "putts": 3, "penalties": 2, "strokes": 6, "tee": "{hole}", "hole": 3}  # fmt: skip


@pytest.mark.parametrize("what", SCHEMA)
def test_each_kind(what):
    needed, _ = SCHEMA[what]
    values = {key: VALUES[key] for key in needed if key != "time"}
    time = pd.Timestamp("2026-07-04T14:00:10Z") if "time" in needed else None
    said = entry_words(Correction("c1", what, time=time, **values), "Europe/London")
    if time is not None:
        # Source: IANA tz database: British Summer Time is an hour ahead of UTC in July.
        assert said.startswith("hole 3, 15:00:10: ")
    for key in set(values) - {"hole", "lon_deg", "lat_deg"}:
        assert str(values[key]).replace("_", " ") in said
    assert "None" not in said
