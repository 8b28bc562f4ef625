"""Swings held back for targets that nobody told."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.trackgolf.learn.test_carries import INVENTED_BAG, of, struck
from trackgolf.learn.carries import learn_carries
from trackgolf.learn.club_holding import HoldingBack, HoldingSettings, draw_truncated


class TestDrawTruncated:
    @pytest.mark.parametrize("low", [-1.0, 0.5, 6.0])
    def test_agrees_with_scipy(self, low):
        rng = np.random.default_rng(3)
        drawn = draw_truncated(rng, np.zeros(4000), np.ones(4000), low)
        assert drawn.min() >= low
        # Source: scipy.stats.truncnorm, an independent implementation.
        assert stats.kstest(drawn, stats.truncnorm(low, np.inf).cdf).pvalue > 0.01


class TestHoldingBack:
    def state(self, settings=None):
        place, club = np.repeat([0, 1, 2, 3], 2), np.tile([0, 1], 4)
        return HoldingBack(place, club, np.ones(8, dtype=bool), settings or HoldingSettings())

    def test_groups_are_places_and_clubs(self):
        place, club = np.array([0, 0, 0, 1]), np.array([0, 0, 1, 0])
        state = HoldingBack(place, club, np.array([True, True, True, False]), HoldingSettings())
        assert state.groups == 2
        # The last swing's target is known: it shares the group of nothing held back.
        assert state.group.tolist() == [0, 0, 1, 2]

    def test_posterior_of_one_group_agrees_with_a_sum_over_a_grid(self):
        settings = HoldingSettings(never=0.3, widths=(0.05,))
        state = HoldingBack(np.array([0]), np.array([0]), np.array([True]), settings)
        rng = np.random.default_rng(1)
        drawn, ever = [], []
        for _ in range(6000):
            one, precise = np.array([1.0]), np.array([900.0])
            # Nearly sure of the mean beforehand, so that it is not what falls short.
            state.draw_width(rng, one, 0.95 * precise, precise, one, np.array([1e7]))
            state.draw(rng, one, 0.95 * precise, precise)
            drawn.append(state.held[0])
            ever.append(state.width > 0)
        # Derived: 0.05 short with a standard error of 1/30, held back by |N(0, 0.05)| or by nothing, summed by hand.
        grid = np.linspace(0, 0.4, 4001)
        like = stats.norm.pdf(0.05 - grid, 0, 1 / 30)
        some = 0.7 * (like * 2 * stats.norm.pdf(grid, 0, 0.05)).sum() * (grid[1] - grid[0])
        none = 0.3 * stats.norm.pdf(0.05, 0, 1 / 30)
        assert np.mean(ever) == pytest.approx(some / (some + none), abs=0.03)
        weight = like * stats.norm.pdf(grid, 0, 0.05)
        mean = (grid * weight).sum() / weight.sum()
        assert np.mean(drawn) == pytest.approx(mean * some / (some + none), abs=0.002)

    def test_a_shift_keeps_nothing_below_nothing(self):
        state = self.state()
        state.width, state.held[:-1] = 0.05, np.linspace(0.0, 0.07, 8)
        before = state.held.copy()
        moved = state.shift(np.random.default_rng(2), 2, np.array([-0.5, 0.5]), np.array([1e6, 1e6]))
        assert state.held.min() >= 0
        assert state.held[-1] == 0
        assert (state.held - before)[:-1] == pytest.approx(moved[state.club])
        # Derived: the first club's least is 0, so it cannot come nearer; the second is drawn to 0.5 by all else.
        assert moved[0] == pytest.approx(0.0, abs=1e-3)
        assert moved[1] == pytest.approx(0.5, abs=0.05)


def invented_season(held, seed, *, told=False):
    """A driver from 18 tees, ten rounds, each tee with its own share held back; irons at the pin."""
    rng = np.random.default_rng(seed)
    each = np.abs(rng.normal(0, 0.06, 18)) if held else np.zeros(18)
    tables = [
        struck(
            "driver",
            187.0 * (1 - each[hole] + 0.08 * rng.normal(size=10)),
            hole=hole + 1,
            shot=1,
            lie="tee",
            leave_before_m=400.0,
            **({"planned_club": "driver", "planned_distance_m": 187.0 * (1 - each[hole])} if told else {}),
        )
        for hole in range(18)
    ]
    tables.append(struck("7 iron", rng.normal(117.0, 9.0, 60), leave_before_m=119.0, hole=20))
    return pd.concat(tables, ignore_index=True)


class TestHeldBackSwings:
    """With the driver truly going the 187 m that the bag states."""

    def test_do_not_shorten_a_club(self):
        found = [of(learn_carries(invented_season(True, seed), INVENTED_BAG), "driver") for seed in range(4)]
        error = np.mean([row["distance_m"] / 187.0 - 1 for row in found])
        # Derived: what is held back is 4.8 % on the whole; taken for full swings the driver would be so much shorter.
        assert error > -0.025

    def test_are_not_seen_where_there_are_none(self):
        found = [of(learn_carries(invented_season(False, seed), INVENTED_BAG), "driver") for seed in range(4)]
        assert abs(np.mean([row["distance_m"] / 187.0 - 1 for row in found])) < 0.015

    def test_make_the_distance_less_sure_than_a_plan_does(self):
        widths = []
        for told in (False, True):
            row = of(learn_carries(invented_season(True, 3, told=told), INVENTED_BAG), "driver")
            widths.append(row["distance_80_high_m"] - row["distance_80_low_m"])
        assert widths[0] > 1.2 * widths[1]
