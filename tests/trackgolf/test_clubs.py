"""Which club a shot was played with: what distance says, and which source counts."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from tests.shapes import tiny_bag
from trackgolf.bag import Bag
from trackgolf.clubs import choose_club, club_probabilities
from trackgolf.settings import RoundSettings

BAG = tiny_bag()
NAMES = [club.name for club in BAG.clubs]
SETTINGS = RoundSettings()
EMPTY = Bag("Ines Okafor", "m", None, 18.0, (), (), ())


def weights_of(distance_m, leave_m, lie="fairway", bag=BAG):
    return club_probabilities(distance_m, leave_m, lie, bag, SETTINGS)


class TestProbabilities:
    @hypothesis_settings(max_examples=60, deadline=None)
    @given(
        st.floats(0, 350),
        st.floats(0, 600),
        st.sampled_from(["tee", "fairway", "rough", "bunker", "unknown"]),
    )
    def test_they_are_probabilities_whatever_happened(self, distance_m, leave_m, lie):
        weights = weights_of(distance_m, leave_m, lie)
        assert weights.shape == (len(NAMES),)
        assert np.all(weights >= 0.0)
        assert weights.sum() == pytest.approx(1.0)

    @pytest.mark.parametrize("name", NAMES[1:])
    def test_a_good_strike_points_to_its_club(self, name):
        # What the settings believe a club really goes, towards a hole just that far.
        goes_m = BAG.clubs[NAMES.index(name)].distance_m * SETTINGS.club_factor
        weights = weights_of(goes_m, goes_m)
        assert NAMES[int(np.argmax(weights))] == name

    def test_longer_never_points_to_a_shorter_club(self):
        chosen = [int(np.argmax(weights_of(metres, 400.0))) for metres in range(80, 200, 10)]
        # The bag lists the longest club first.
        assert chosen == sorted(chosen, reverse=True)

    def test_no_driver_from_the_ground(self):
        metres = BAG.clubs[0].distance_m * SETTINGS.club_factor
        assert weights_of(metres, 400.0, "fairway")[0] < weights_of(metres, 400.0, "tee")[0]

    def test_a_club_the_player_avoids_is_less_likely(self):
        from dataclasses import replace

        driver = replace(BAG.clubs[0], avoid=True)
        shy = replace(BAG, clubs=(driver, *BAG.clubs[1:]))
        assert weights_of(140, 400, "tee", shy)[0] < weights_of(140, 400, "tee")[0]

    def test_no_club_is_no_probability(self):
        assert choose_club(None, None, "7 iron", np.empty(0), EMPTY).name == ""


class TestSource:
    sure = np.array([0.02, 0.03, 0.9, 0.03, 0.02])
    torn = np.array([0.02, 0.05, 0.45, 0.43, 0.05])
    lost = np.full(5, 0.2)

    def test_a_mark_counts_before_the_card_and_both_before_the_track(self):
        assert choose_club("driver", "5 wood", "9 iron", self.sure, BAG).source == "marked"
        assert choose_club(None, "5 wood", "9 iron", self.sure, BAG).source == "card"
        guess = choose_club(None, None, "9 iron", self.sure, BAG)
        assert (guess.name, guess.source, guess.probability) == ("7 iron", "inferred", 0.9)

    def test_the_plan_decides_only_what_the_track_leaves_open(self):
        guess = choose_club(None, None, "9 iron", self.torn, BAG)
        assert (guess.name, guess.source) == ("9 iron", "plan")
        assert guess.probability == pytest.approx(0.43)

    def test_a_planned_club_that_the_track_denies_is_not_believed(self):
        guess = choose_club(None, None, "driver", self.torn, BAG)
        assert (guess.name, guess.source) == ("7 iron", "inferred")

    def test_nothing_known_is_no_name(self):
        guess = choose_club(None, None, None, self.lost, BAG)
        assert (guess.name, guess.source, guess.probability) == ("", "", 0.0)

    def test_a_planned_club_the_bag_does_not_hold_is_not_named(self):
        assert choose_club(None, None, "2 iron", self.lost, BAG).name == ""
