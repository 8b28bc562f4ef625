"""The error of a track's heights, told by places visited again."""

import numpy as np
import pytest

from geo.errors import InputError
from geo.heights import HeightSettings, find_height_error, heights_of_stands


def there_and_back(minutes=60.0, turn_s=240.0, step_s=5.0):
    """Times and places of a walk of 200 m up and down, each way `turn_s`."""
    time_s = np.arange(0.0, 60 * minutes, step_s)
    east_m = 200.0 * np.abs((time_s / turn_s) % 2 - 1)
    return time_s, east_m, np.zeros_like(time_s)


class TestFindHeightError:
    def test_a_slope_alone_is_no_error(self):
        time_s, east_m, north_m = there_and_back()
        error = find_height_error(time_s, east_m, north_m, 30 + 0.05 * east_m)
        # Derived: two heights of the floor of 0.5 m each differ by 0.71 m; 5 m of a 5 % slope add up to 0.25 m.
        assert np.all((error.of_rise([100.0, 400.0]) > 0.7) & (error.of_rise([100.0, 400.0]) < 0.8))

    @pytest.mark.parametrize("sigma_m", [2.0, 8.0])
    def test_noise_of_known_size_is_found(self, sigma_m):
        time_s, east_m, north_m = there_and_back(minutes=180.0)
        rng = np.random.default_rng(5)
        # An error that stays for 40 s and is drawn anew then, as of a receiver whose satellites change.
        noise = np.repeat(rng.normal(0, sigma_m, len(time_s)), 8)[: len(time_s)]
        error = find_height_error(time_s, east_m, north_m, 30 + 0.05 * east_m + noise)
        # Derived: the difference of two independent errors has root two times their standard deviation.
        assert error.of_rise([240.0])[0] == pytest.approx(np.sqrt(2) * sigma_m, rel=0.3)

    def test_a_drifting_error_grows_with_time(self):
        time_s, east_m, north_m = there_and_back(minutes=240.0, turn_s=100.0)
        drift = np.cumsum(np.random.default_rng(1).normal(0, 0.1, len(time_s)))
        sigma = find_height_error(time_s, east_m, north_m, drift).of_rise([120.0, 500.0, 1500.0, 5000.0])
        assert np.all(np.diff(sigma) >= 0)
        assert sigma[-1] > 2 * sigma[0]
        # Derived: 100 steps of 0.1 m in 500 s make 1 m, with the floor 1.2 m; the spell reaches from 180 to 600 s.
        assert 0.9 < sigma[1] < 1.8

    def test_nothing_is_said_where_no_place_is_seen_again(self):
        time_s = np.arange(0.0, 3600.0, 5.0)
        error = find_height_error(time_s, 1.3 * time_s, 0 * time_s, np.full_like(time_s, 12.0))
        assert error.meetings == 0
        assert np.isnan(error.of_rise([100.0])).all()

    def test_longer_than_ever_seen_is_unknown(self):
        time_s, east_m, north_m = there_and_back(minutes=20.0, turn_s=60.0)
        sigma = find_height_error(time_s, east_m, north_m, 0 * time_s).of_rise([100.0, 50_000.0, np.nan])
        assert np.isfinite(sigma[0])
        assert np.isnan(sigma[1:]).all()

    def test_heights_missing_or_impossible_are_none(self):
        time_s, east_m, north_m = there_and_back()
        ele_m = 30 + 0.05 * east_m
        whole = find_height_error(time_s, east_m, north_m, ele_m)
        spoilt = ele_m.copy()
        spoilt[::7], spoilt[3::7] = np.nan, -9999.0
        assert find_height_error(time_s, east_m, north_m, spoilt).of_rise([240.0]) == pytest.approx(
            whole.of_rise([240.0]), abs=0.1
        )
        assert find_height_error(time_s, east_m, north_m, np.full_like(ele_m, np.nan)).meetings == 0

    def test_lengths_must_agree(self):
        with pytest.raises(InputError):
            find_height_error([0.0, 1.0], [0.0, 1.0], [0.0, 1.0], [0.0])


class TestHeightsOfStands:
    def test_median_of_the_spell(self):
        time_s = np.arange(0.0, 100.0)
        ele_m = np.where(time_s < 50, 10.0, 14.0)
        ele_m[20] = 90.0
        # Derived: one wild height of eleven moves no median; the third spell lies between two points.
        found = heights_of_stands(time_s, ele_m, [15.0, 60.0, 70.2], [25.0, 70.0, 70.8])
        assert found.tolist() == [10.0, 14.0, 14.0]

    def test_a_silent_recorder_has_the_nearest_points(self):
        found = heights_of_stands([0.0, 95.0, 300.0], [5.0, 7.0, 9.0], [100.0, 150.0], [140.0, 200.0])
        # Derived: the first spell begins 5 s after a point; the second is 55 s from any.
        assert found[0] == 7.0
        assert np.isnan(found[1])


def test_settings_bound_what_a_height_may_be():
    found = heights_of_stands([0.0, 1.0], [12.0, 20.0], [0.0], [1.0], HeightSettings(highest_m=15.0))
    assert found.tolist() == [12.0]
