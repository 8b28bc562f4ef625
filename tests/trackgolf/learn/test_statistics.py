"""Pooling, robust location, regression and shares against published values."""

import numpy as np
import pytest
from scipy import stats

from trackgolf.errors import InputError
from trackgolf.learn.pooling import (
    NormalBelief,
    log_marginal,
    pool_given_spread,
    pool_over_spread,
    update_normal,
)
from trackgolf.learn.robust import (
    huber_location,
    huber_regression,
    huber_scale_and_location,
    spread_of_middle,
)
from trackgolf.learn.shares import counted_share, mean_interval, pool_shares, share_of, wilson_interval

# Source: Rubin 1981, as in Gelman et al., Bayesian Data Analysis, 3rd ed., section 5.5, table 5.2.
SCHOOLS = [28, 8, -3, 7, -1, 1, 18, 12]
SCHOOL_ERRORS = [15, 10, 16, 11, 9, 11, 10, 18]


class TestEightSchools:
    def test_complete_pooling(self):
        pooled = pool_given_spread(SCHOOLS, SCHOOL_ERRORS, 0.0)
        # Source: as above, 5.5: 7.7 and variance 16.6, here with more digits.
        assert pooled.centre == pytest.approx(7.686, abs=1e-3)
        assert pooled.centre_sd**2 == pytest.approx(16.581, abs=1e-3)
        assert pooled.mean == pytest.approx(7.686, abs=1e-3)

    @pytest.mark.parametrize(
        ("spread", "centre", "means"),
        [
            # Source: as above, eq. 5.17 and 5.20 worked out for these spreads.
            (10.0, 8.1265, [14.241, 8.063, 5.001, 7.617, 3.084, 4.902, 13.063, 9.040]),
            (5.0, 7.851, [9.866, 7.881, 6.886, 7.705, 5.763, 6.678, 9.881, 8.148]),
        ],
    )
    def test_pulled_to_the_common_mean(self, spread, centre, means):
        pooled = pool_given_spread(SCHOOLS, SCHOOL_ERRORS, spread)
        assert pooled.centre == pytest.approx(centre, abs=1e-3)
        assert pooled.mean == pytest.approx(means, abs=1e-3)

    def test_deviations(self):
        pooled = pool_given_spread(SCHOOLS, SCHOOL_ERRORS, 10.0)
        # Source: as above, eq. 5.20.
        assert pooled.sd == pytest.approx([9.156, 7.591, 9.363, 7.993, 7.131, 7.993, 7.591, 9.706], abs=1e-3)

    def test_over_all_spreads(self):
        pooled, weight = pool_over_spread(SCHOOLS, SCHOOL_ERRORS, np.arange(0.005, 200, 0.01)[::20])
        # Source: as above, figure 5.5 onwards: flat prior on the spread, by quadrature.
        assert pooled.mean == pytest.approx([11.40, 7.89, 6.13, 7.64, 5.13, 6.14, 10.67, 8.46], abs=0.1)
        assert weight.sum() == pytest.approx(1)

    def test_a_school_that_says_nothing_gets_the_common_mean(self):
        pooled = pool_given_spread([*SCHOOLS, 99.0], [*SCHOOL_ERRORS, np.inf], 10.0)
        # Derived: no information leaves the centre and both variances, 8.1265 and 10^2 + sd^2.
        assert pooled.mean[-1] == pytest.approx(8.1265, abs=1e-3)
        assert pooled.sd[-1] == pytest.approx(np.hypot(10.0, pooled.centre_sd))

    def test_a_prior_on_the_centre_is_one_more_school_without_spread(self):
        # Derived: a prior N(0, 5^2) at spread 0 is an estimate of 0 with error 5.
        with_prior = pool_given_spread(SCHOOLS, SCHOOL_ERRORS, 0.0, centre=(0.0, 5.0))
        with_school = pool_given_spread([*SCHOOLS, 0], [*SCHOOL_ERRORS, 5], 0.0)
        assert with_prior.centre == pytest.approx(with_school.centre)
        # Derived: the marginal of independent normals is a multivariate normal density.
        grid = np.array([1.0, 7.0])
        found = log_marginal(SCHOOLS, SCHOOL_ERRORS, grid, centre=(2.0, 4.0))
        exact = [
            stats.multivariate_normal.logpdf(
                SCHOOLS, np.full(8, 2.0), np.diag(np.square(SCHOOL_ERRORS) + tau**2) + 16.0
            )
            for tau in grid
        ]
        assert found[1] - found[0] == pytest.approx(exact[1] - exact[0])

    def test_nothing_to_pool_is_said(self):
        with pytest.raises(InputError, match="nothing to pool"):
            pool_given_spread([1.0], [np.inf], 1.0)


class TestNormalBelief:
    def test_update(self):
        after = update_normal(NormalBelief(150, 5, 3, 162), [142, 151, 147, 155, 139, 149, 160, 144])
        # Source: update of Gelman et al., BDA3 section 3.3, with numbers of our own worked by that formula.
        assert (after.weight, after.mean, after.shape, after.scale) == pytest.approx(
            (13, 149.0, 7, 334.0), abs=1e-3
        )
        assert after.variance == pytest.approx(55.667, abs=1e-3)
        assert after.mean_interval(0.95) == pytest.approx((144.891, 153.109), abs=1e-3)
        assert after.next_interval(0.95) == pytest.approx((133.626, 164.374), abs=1e-3)

    def test_in_one_go_or_one_by_one(self):
        before = NormalBelief(10.0, 2.0, 2.0, 8.0)
        step = before
        for value in (8.0, 13.0, 11.0):
            step = update_normal(step, [value])
        whole = update_normal(before, [8.0, 13.0, 11.0])
        assert (step.mean, step.scale, step.shape) == pytest.approx((whole.mean, whole.scale, whole.shape))
        assert update_normal(before, []) == before

    def test_no_belief_without_weight(self):
        with pytest.raises(InputError):
            NormalBelief(0.0, 0.0, 1.0, 1.0)


# Source: Newcomb's light data, Stigler 1977; Gelman et al., BDA3, section 3.2.
NEWCOMB = [
    28, 26, 33, 24, 34, -44, 27, 16, 40, -2, 29, 22, 24, 21, 25, 30, 23, 29, 31, 19, 24, 20, 36, 32, 36, 28, 25, 21,
    28, 29, 37, 25, 28, 26, 30, 32, 36, 26, 30, 22, 36, 23, 27, 27, 28, 27, 31, 27, 26, 33, 26, 32, 32, 24, 39, 28,
    24, 25, 32, 25, 29, 27, 28, 29, 16, 23,
]  # fmt: skip


class TestNewcomb:
    def test_plain_mean(self):
        mean, low, high = mean_interval(NEWCOMB, 0.95)
        # Source: as above: mean 26.2, sd 10.8, 95 % 23.6 to 28.8, here with more digits.
        assert (mean, low, high) == pytest.approx((26.212, 23.571, 28.854), abs=1e-3)

    def test_huber(self):
        # Source: computed from the published data by Huber 1981, 6.4, with statsmodels' robust.scale.
        assert spread_of_middle(NEWCOMB) == pytest.approx(4.448, abs=1e-3)
        assert huber_location(NEWCOMB) == pytest.approx(27.392, abs=2e-3)
        location, scale = huber_scale_and_location(NEWCOMB)
        assert location == pytest.approx(27.415, abs=2e-3)
        assert scale == pytest.approx(5.144, abs=2e-3)

    def test_all_alike(self):
        assert huber_location([3.0, 3.0, 3.0]) == 3.0
        assert huber_scale_and_location([3.0]) == (3.0, 0.0)
        with pytest.raises(InputError):
            huber_location([])


class TestRegression:
    def test_stackloss(self):
        from statsmodels.datasets import stackloss

        data = stackloss.load_pandas()
        columns = np.column_stack([np.ones(21), data.exog.to_numpy()])
        line = huber_regression(columns, data.endog.to_numpy())
        # Source: statsmodels documentation, robust linear models, Huber's T with HC1-free H1 errors on stackloss.
        assert line.coefficients == pytest.approx([-41.0265, 0.8294, 0.9261, -0.1278], abs=1e-4)
        assert line.errors == pytest.approx([9.7919, 0.1110, 0.3029, 0.1286], abs=1e-4)
        assert line.scale == pytest.approx(2.4405, abs=1e-4)

    def test_exact_line(self):
        line = huber_regression(np.column_stack([np.ones(4), range(4)]), [1.0, 3.0, 5.0, 7.0])
        # Derived: y = 1 + 2 x exactly.
        assert line.coefficients == pytest.approx([1.0, 2.0])

    def test_too_few(self):
        with pytest.raises(InputError, match="2 values"):
            huber_regression(np.ones((2, 2)), [1.0, 2.0])


class TestShares:
    def test_beta_binomial(self):
        share = share_of(437, 980, 0.95)
        # Source: Gelman et al., BDA3, section 2.4, placenta previa.
        assert share.mean == pytest.approx(0.44603, abs=1e-5)
        assert share.sd == pytest.approx(0.0159, abs=5e-5)
        assert (share.low, share.high) == pytest.approx((0.41507, 0.47720), abs=1e-5)

    def test_with_a_prior(self):
        # Source: BDA3, section 5.1, rat tumours: Beta(1.4, 8.6) and 4 of 14 give 5.4 / 24.
        assert share_of(4, 14, prior=(1.4, 8.6)).mean == pytest.approx(5.4 / 24)

    def test_wilson(self):
        # Source: statsmodels, proportion_confint(35, 100, method="wilson").
        assert wilson_interval(35, 100, 0.95) == pytest.approx((0.26364, 0.44746), abs=1e-5)
        assert wilson_interval(0, 0) == (0.0, 1.0)

    def test_counted(self):
        share = counted_share(35, 100, 0.95)
        # Source: as above.
        assert (share.mean, share.low, share.high) == pytest.approx((0.35, 0.26364, 0.44746), abs=1e-5)
        assert counted_share(0, 0).tries == 0

    def test_student(self):
        second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
        # Source: Student, Biometrika 6 (1908), additional hours of sleep, second drug.
        assert mean_interval(second, 0.95) == pytest.approx((2.33, 0.898, 3.762), abs=1e-3)
        assert np.isnan(mean_interval([1.0])[1])

    @pytest.mark.parametrize(("df", "value"), [(1, 12.706), (4, 2.776), (9, 2.262), (30, 2.042)])
    def test_width_is_that_of_any_table_of_t(self, df, value):
        x = np.arange(df + 1.0)
        mean, low, _ = mean_interval(x, 0.95)
        # Source: Student 1908 and any table of t, 0.975.
        assert (mean - low) / (x.std(ddof=1) / np.sqrt(df + 1)) == pytest.approx(value, abs=1e-3)

    def test_groups_are_pulled_together_and_keep_their_order(self):
        shares = pool_shares([1, 6, 30], [10, 10, 100])
        means = [share.mean for share in shares]
        # Derived: between its own share and the common one, the small groups moved more.
        assert 0.1 < means[0] < 0.34
        assert 0.34 < means[1] < 0.6
        assert means[2] == pytest.approx(0.3, abs=0.02)
        assert shares[2].high - shares[2].low < shares[0].high - shares[0].low

    def test_no_such_share(self):
        with pytest.raises(InputError):
            share_of(3, 2)
