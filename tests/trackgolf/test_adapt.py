"""A player's own pace: medians moved towards what the round shows."""

import numpy as np
import pandas as pd
import pytest

from trackgolf.adapt import adapt_pace
from trackgolf.settings import RoundSettings

SETTINGS = RoundSettings()


def adapted(dwell_s, shot=1.0, tee=0.0, settings=SETTINGS):
    stands = pd.DataFrame({"dwell_s": np.asarray(dwell_s, dtype=float)})
    ones = np.ones(len(stands))
    return adapt_pace(stands, shot * ones, tee * ones, settings)


def test_a_slow_player_is_slow_and_a_quick_one_quick():
    slow, quick = adapted([2.0 * SETTINGS.shot_dwell_s] * 30), adapted([0.5 * SETTINGS.shot_dwell_s] * 30)
    assert SETTINGS.shot_dwell_s < slow.shot_dwell_s < 2.0 * SETTINGS.shot_dwell_s
    assert 0.5 * SETTINGS.shot_dwell_s < quick.shot_dwell_s < SETTINGS.shot_dwell_s


def test_the_usual_pace_and_an_empty_round_change_nothing():
    for given in (adapted([SETTINGS.shot_dwell_s] * 20), adapted([])):
        assert given.shot_dwell_s == pytest.approx(SETTINGS.shot_dwell_s)
        assert given.tee_dwell_s == pytest.approx(SETTINGS.tee_dwell_s)


def test_it_is_a_weighted_mean_of_logarithms():
    # Derived: as many stands as the prior weighs: halfway between the two on a logarithmic scale.
    count = round(SETTINGS.pace_weight)
    halfway = adapted([4.0 * SETTINGS.shot_dwell_s] * count).shot_dwell_s
    assert halfway == pytest.approx(2.0 * SETTINGS.shot_dwell_s, rel=0.05)


def test_tees_and_other_strokes_are_told_apart():
    # Every stand is a tee shot: nothing is learnt of the others.
    given = adapted([3.0 * SETTINGS.tee_dwell_s] * 20, shot=1.0, tee=1.0)
    assert given.tee_dwell_s > SETTINGS.tee_dwell_s
    assert given.shot_dwell_s == pytest.approx(SETTINGS.shot_dwell_s)


def test_stands_that_are_no_strokes_teach_only_of_waiting():
    given = adapted([400.0] * 20, shot=0.0)
    assert given.wait_dwell_s > SETTINGS.wait_dwell_s
    assert given.shot_dwell_s == pytest.approx(SETTINGS.shot_dwell_s)


def test_more_stands_count_for_more():
    few, many = (adapted([2.0 * SETTINGS.shot_dwell_s] * count).shot_dwell_s for count in (3, 60))
    assert few < many
