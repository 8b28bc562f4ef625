"""Every tee with every green weighed as a hole: shots between, counts, lengths."""

import itertools

import numpy as np
import pandas as pd
import pytest
from scipy.stats import lognorm

from geo.stops import find_stops
from tests.shapes import tiny_bag
from tests.trackgolf.invented_walk import GREENS, TEES, invented_walk
from trackgolf import guess_holes
from trackgolf.evidence import aimed_log_density, other_log_density
from trackgolf.guess_hints import HoleHint, bag_shooter, hint_score, hinted_play
from trackgolf.guess_holes import (
    HOLE_EVIDENCE,
    LINK_EVIDENCE,
    count_priors,
    guess_weights,
    weigh_guesses,
)
from trackgolf.guess_settings import GuessSettings
from trackgolf.settings import RoundSettings

SETTINGS, GUESS = RoundSettings(), GuessSettings()
SHOOTER = bag_shooter(tiny_bag(), SETTINGS)


@pytest.fixture(scope="module")
def weighed():
    trail = invented_walk(holes=2)
    stands = find_stops(*trail.columns)
    return stands, weigh_guesses(stands, trail.columns, SHOOTER, 1.0, SETTINGS, GUESS)


class TestWeighGuesses:
    def test_the_true_hole_is_better_than_others_with_its_tee(self, weighed):
        stands, guesses = weighed
        score = np.where(guesses.possible, guesses.hole @ guess_weights()[0], -np.inf)
        green, back = np.unravel_index(int(np.argmax(score)), score.shape)
        tee = int(guesses.first[green]) - 1 - int(back)
        found = [
            np.hypot(stands["east_m"][tee] - x0, stands["north_m"][tee] - y0) < 10.0
            and np.hypot(guesses.east_m[green] - x1, guesses.north_m[green] - y1) < 10.0
            for (x0, y0), (x1, y1) in zip(TEES[:2], GREENS[:2], strict=True)
        ]
        assert any(found)

    def test_a_green_holds_stands_close_together_alone(self, weighed):
        stands, guesses = weighed
        for first, last, x, y in zip(
            guesses.first, guesses.last, guesses.east_m, guesses.north_m, strict=True
        ):
            run = stands.loc[first:last]
            assert np.hypot(run["east_m"] - x, run["north_m"] - y).max() <= GUESS.green_reach_m

    def test_length_is_from_the_stand_to_the_middle_of_the_green(self, weighed):
        stands, guesses = weighed
        green = len(guesses.first) // 2
        tee = stands.loc[guesses.first[green] - 1]
        expected = np.hypot(tee["east_m"] - guesses.east_m[green], tee["north_m"] - guesses.north_m[green])
        assert guesses.length_m[green, 0] == pytest.approx(expected)

    def test_every_kind_of_evidence_has_a_weight(self):
        hole, link = guess_weights()
        assert len(hole) == len(HOLE_EVIDENCE)
        assert len(link) == len(LINK_EVIDENCE)
        assert min(*hole, *link) > 0.0


def test_chains_of_shots_equal_all_ways_written_out():
    spots = np.array([(0.0, 0.0), (4.0, 130.0), (-8.0, 190.0), (5.0, 262.0), (0.0, 300.0)])
    stands = pd.DataFrame({"east_m": spots[:, 0], "north_m": spots[:, 1], "sigma_m": 2.0})
    greens = pd.DataFrame({"first": [4], "last": [4], "east_m": [0.0], "north_m": [300.0]})
    kind = np.array([0.3, 1.0, -0.4, 0.8, 0.0])
    there = np.ones((1, 4), dtype=bool)
    length = np.hypot(spots[[3, 2, 1, 0], 0], spots[[3, 2, 1, 0], 1] - 300.0)[None]
    chains = guess_holes._shot_chains(stands, kind, greens, there, length, SHOOTER, SETTINGS, GUESS)

    def flown(begin, finish, extra_m):
        start, end = (tuple(np.array([v]) for v in (*spots[k], 2.0)) for k in (begin, finish))
        aim = np.array([0.0]), np.array([300.0])
        left = np.array([np.hypot(spots[begin, 0], spots[begin, 1] - 300.0)])
        moved = np.array([np.hypot(*(spots[finish] - spots[begin]))])
        density = aimed_log_density(aim, left, start, end, SHOOTER, SETTINGS, extra_m=extra_m)
        return float((density - other_log_density(moved, SETTINGS))[0])

    constant = chains[0, 3, 0] - flown(0, 4, SETTINGS.green_ball_m)
    for shots in (2, 3, 4):
        ways = [
            sum(flown(a, b, 0.0) for a, b in itertools.pairwise((0, *between)))
            + flown(between[-1], 4, SETTINGS.green_ball_m)
            + kind[list(between)].sum()
            for between in itertools.combinations((1, 2, 3), shots - 1)
        ]
        assert chains[0, 3, shots - 1] == pytest.approx(np.logaddexp.reduce(ways) + constant)


class TestCountPriors:
    def test_likeliest_is_regulation_or_one_more(self):
        # Source: Rules of Golf statistics: regulation is par less two putts; a bogey player has one stroke more a hole.
        table = count_priors(1.0, GUESS, SETTINGS)
        assert np.exp(table[3:7]).sum(axis=1) == pytest.approx(np.ones(4))
        for par in (3, 4, 5):
            assert int(np.argmax(table[par])) + 1 in (par - 2 + 1, par - 2 + 2)


class TestHints:
    def test_a_length_on_the_card_is_a_log_normal_law(self, weighed):
        _, guesses = weighed
        score = hint_score(guesses, HoleHint(1, 4, 350.0), GUESS)
        length = guesses.length_m
        # Derived: scipy's own log-normal density, against any length between the shortest and longest alike.
        density = lognorm.pdf(length, GUESS.length_spread, scale=350.0)
        expected = np.log(0.98 * density * (GUESS.longest_m - GUESS.shortest_m) + 0.02)
        assert score == pytest.approx(expected)

    def test_unknown_length_says_nothing(self, weighed):
        assert not hint_score(weighed[1], HoleHint(1, 4), GUESS).any()

    def test_strokes_on_the_card_settle_the_count(self, weighed):
        _, guesses = weighed
        counts = count_priors(1.0, GUESS, SETTINGS)
        told = hinted_play(guesses, HoleHint(1, None, None, (3, 3)), counts, GUESS)
        there = guesses.shots[:, :, 2] > -100.0
        # Nine parts in ten thousand and more go to the three shots that the card has.
        assert told[there] == pytest.approx(guesses.shots[:, :, 2][there], abs=8.0)
        assert np.all(told >= guesses.shots[:, :, 2] + np.log(0.99) - 1e-9)
