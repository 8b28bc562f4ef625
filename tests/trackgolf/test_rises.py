"""Heights of shots: differences between stands, and how sure they are."""

import numpy as np
import pandas as pd
import pytest

from trackgolf.rises import add_rises
from trackgolf.shots import Walk


def invented_hill(error_m=0.0, seed=2):
    """Four trips up and down a slope of 6 % and 150 m, a stand of a minute at either end, a point each 5 s."""
    time_s = np.arange(0.0, 8 * 200.0, 5.0)
    way = time_s % 200.0
    gone = np.clip((way - 60.0) / 140.0, 0.0, 1.0) * 150.0
    east_m = np.where((time_s // 200.0) % 2 == 0, gone, 150.0 - gone)
    walk = Walk(time_s, east_m, 0 * east_m, np.full_like(east_m, 2.0), np.zeros(len(east_m), dtype=np.int64))
    stands = pd.DataFrame({"start_s": np.arange(8) * 200.0, "end_s": np.arange(8) * 200.0 + 55.0})
    noise = np.random.default_rng(seed).normal(0, error_m, 40)
    return walk, stands, 0.06 * east_m + np.repeat(noise, 8)


def on_hill(table, error_m=0.0):
    walk, stands, ele_m = invented_hill(error_m)
    return add_rises(table, stands, walk, ele_m)


def shots():
    return pd.DataFrame({"distance_m": [150.0, 150.0, np.nan], "stand": [0, 1, 2], "end_stand": [1, 2, 3]})


def test_rises_of_a_known_hill():
    found = on_hill(shots())
    # Derived: 6 % of 150 m is 9 m, up and then down; the third shot has no end.
    assert found["rise_m"].fillna(0).tolist() == pytest.approx([9.0, -9.0, 0.0])
    assert (found["rise_sigma_m"].dropna() < 1.0).all()
    assert found["rise_sigma_m"].isna().tolist() == [False, False, True]


def test_wild_heights_are_known_to_be_wild():
    found = on_hill(shots(), error_m=10.0)
    # Derived: two errors of 10 m differ by 14 m, more than the hill is high.
    assert (found["rise_sigma_m"].dropna() > 8.0).all()


@pytest.mark.parametrize("ele_m", [np.full(320, np.nan), np.zeros(320)])
def test_no_heights_no_rise(ele_m):
    walk, stands, _ = invented_hill()
    found = add_rises(shots(), stands, walk, ele_m)
    assert np.abs(found["rise_m"]).fillna(0).max() == 0


def test_no_shots():
    found = on_hill(shots().iloc[:0])
    assert list(found.columns[-2:]) == ["rise_m", "rise_sigma_m"]
