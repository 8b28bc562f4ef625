"""Confidence: stands of one stroke add up, and the line on the log-odds does what a logistic regression does."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from trackgolf.decode import Event, Story
from trackgolf.settings import RoundSettings
from trackgolf.trust import same_stroke_weight, trusted

SETTINGS = RoundSettings()


def stands_at(*rows):
    """Stands from (start, end, east)."""
    start, end, east = np.array(rows, dtype=float).T
    return pd.DataFrame({"start_s": start, "end_s": end, "east_m": east, "north_m": 0.0})


def story_of(*stands):
    return Story(tuple(Event(stand, 0, k + 1, "shot", 0) for k, stand in enumerate(stands)), (0,), 0.0)


class TestSameStroke:
    # By hand: the halt at the bag ends at 10 s, the stand at the ball at 60 s, 6 m away; the next shot is 150 m on.
    stands = stands_at((0, 10, 0), (20, 60, 6), (180, 220, 150))
    told = np.array([[0.25], [0.6], [0.9]])

    def test_the_bag_and_the_ball_are_one_stroke(self):
        found = same_stroke_weight(story_of(1, 2), self.told, self.stands, SETTINGS)
        assert found[1, 0] == pytest.approx(0.85)
        assert found[2, 0] == pytest.approx(0.9)

    def test_another_shot_of_the_story_is_not_counted_twice(self):
        found = same_stroke_weight(story_of(0, 1, 2), self.told, self.stands, SETTINGS)
        assert found[:, 0] == pytest.approx([0.25, 0.6, 0.9])

    def test_far_away_or_much_later_is_another_stroke(self):
        stands = stands_at((0, 10, 0), (300, 340, 2), (345, 350, 80))
        told = np.array([[0.3], [0.5], [0.2]])
        # The first is 5 minutes before at the same place; the last 10 s after the second, wherever.
        assert same_stroke_weight(story_of(1), told, stands, SETTINGS)[1, 0] == pytest.approx(0.7)

    def test_never_more_than_sure(self):
        told = np.array([[0.7], [0.8], [0.9]])
        assert same_stroke_weight(story_of(1, 2), told, self.stands, SETTINGS)[1, 0] == 1.0


class TestTrusted:
    def test_the_line_from_0_with_slope_1_changes_nothing(self):
        said = np.array([0.01, 0.3, 0.5, 0.97])
        plain = replace(SETTINGS, trust_offset=0.0, trust_slope=1.0, trust_most=1.0)
        assert trusted(said, plain) == pytest.approx(said)

    def test_more_stays_more(self):
        said = trusted(np.linspace(0.0, 1.0, 50), SETTINGS)
        assert np.all(np.diff(said) >= 0.0)
        assert np.all((said > 0.0) & (said <= SETTINGS.trust_most))

    def test_equals_the_logistic_model_of_a_reference_library(self):
        # Source: statsmodels GLM, binomial family with the logit link: the same line gives the same probabilities.
        rng = np.random.default_rng(3)
        said = rng.uniform(0.02, 0.98, 800)
        odds = np.log(said / (1.0 - said))
        right = rng.random(800) < 1.0 / (1.0 + np.exp(-(0.4 + 0.7 * odds)))
        fit = sm.GLM(right.astype(float), sm.add_constant(odds), family=sm.families.Binomial()).fit()
        line = replace(
            SETTINGS, trust_offset=float(fit.params[0]), trust_slope=float(fit.params[1]), trust_most=1.0
        )
        assert trusted(said, line) == pytest.approx(fit.fittedvalues, abs=1e-9)
