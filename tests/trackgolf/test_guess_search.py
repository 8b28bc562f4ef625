"""The best row of holes: the search against every row there is."""

import itertools

import numpy as np
import pytest

from trackgolf.decode import IMPOSSIBLE
from trackgolf.guess_hints import HoleHint
from trackgolf.guess_holes import HOLE_EVIDENCE, LINK_EVIDENCE, Guesses
from trackgolf.guess_search import best_row, row_probabilities, search_row
from trackgolf.guess_settings import GuessSettings


def invented_guesses(rng, *, stands=9, back=4):
    """Make candidates for greens, a stand or two each, and nothing else."""
    spans = [(first, last) for first in range(1, stands) for last in (first, first + 1) if last < stands]
    first, last = np.array(spans).T
    shape = (len(first), back)
    tee = first[:, None] - 1 - np.arange(back)
    return Guesses(
        first=first,
        last=last,
        east_m=np.zeros(len(first)),
        north_m=np.zeros(len(first)),
        hole=rng.normal(0.0, 2.0, (*shape, len(HOLE_EVIDENCE))),
        link=rng.normal(-1.0, 2.0, (len(first), stands, len(LINK_EVIDENCE))),
        possible=tee >= 0,
        length_m=np.full(shape, 300.0),
        shots=rng.normal(0.0, 1.0, (*shape, 10)),
    )


def every_row(guesses, hole, link, prior):
    """All rows there are with their scores, written out: no dynamic programming."""
    stands = link.shape[1]
    found = [
        (tee, green)
        for green in range(len(guesses.first))
        for tee in range(stands)
        if 0 <= guesses.first[green] - 1 - tee < hole.shape[2]
    ]
    rows = []
    for count in range(1, len(prior)):
        for row in itertools.product(found, repeat=count):
            score, before = prior[count], None
            for place, (tee, green) in enumerate(row):
                if before is not None:
                    if guesses.last[before] >= tee:
                        break
                    score += link[before, tee]
                score += hole[place % len(hole), green, guesses.first[green] - 1 - tee]
                before = green
            else:
                rows.append((score, list(row)))
    return rows


def invented_scores(seed, layers):
    rng = np.random.default_rng(seed)
    guesses = invented_guesses(rng)
    shape = guesses.possible.shape
    hole = np.where(guesses.possible, rng.normal(0.5, 2.0, (layers, *shape)), IMPOSSIBLE)
    return guesses, hole, rng.normal(-0.5, 1.0, (shape[0], 9)), np.log([0.01, 0.2, 0.5, 0.29])


class TestSearchRow:
    @pytest.mark.parametrize("seed", range(4))
    @pytest.mark.parametrize("layers", [1, 2])
    def test_equals_trying_every_row(self, seed, layers):
        guesses, hole, link, prior = invented_scores(seed, layers)
        row, score = search_row(guesses, hole, link, prior)
        expected, expected_row = max(every_row(guesses, hole, link, prior), key=lambda pair: pair[0])
        assert score == pytest.approx(expected)
        assert row == expected_row

    def test_nothing_possible_gives_no_row(self):
        guesses = invented_guesses(np.random.default_rng(0))
        hole = np.full((1, *guesses.possible.shape), IMPOSSIBLE)
        row, score = search_row(guesses, hole, np.zeros((len(guesses.first), 9)), np.zeros(3))
        assert row == []
        assert score <= IMPOSSIBLE / 2


class TestRowProbabilities:
    @pytest.mark.parametrize("seed", range(3))
    @pytest.mark.parametrize("layers", [1, 3])
    def test_equals_adding_up_every_row(self, seed, layers):
        guesses, hole, link, prior = invented_scores(seed, layers)
        rows = every_row(guesses, hole, link, prior)
        weights = np.exp(np.array([score for score, _ in rows]))
        expected = np.zeros(hole.shape[1:])
        for weight, (_, row) in zip(weights / weights.sum(), rows, strict=True):
            for tee, green in row:
                expected[green, guesses.first[green] - 1 - tee] += weight
        assert row_probabilities(guesses, hole, link, prior) == pytest.approx(expected, abs=1e-9)


class TestBestRow:
    def test_holes_are_numbered_as_played(self):
        guesses = invented_guesses(np.random.default_rng(2))
        row = best_row(guesses, np.zeros((9, 2)), np.zeros((7, 10)), GuessSettings())
        assert [chosen.number for chosen in row] == list(range(1, len(row) + 1))
        assert all(a.tee < b.tee for a, b in itertools.pairwise(row))

    def test_a_card_with_lengths_says_where_the_round_began(self):
        guesses = invented_guesses(np.random.default_rng(5))
        settings = GuessSettings()
        plain = best_row(guesses, np.zeros((9, 2)), np.zeros((7, 10)), settings)
        # Every hole of the round measures 300 m, and the card has that length from hole 10 on.
        hints = [HoleHint(number, 4, 300.0 if number > 9 else 120.0) for number in range(1, 19)]
        row = best_row(guesses, np.zeros((9, 2)), np.zeros((7, 10)), settings, hints)
        assert plain
        assert [chosen.number for chosen in row] == list(range(10, 10 + len(row)))
