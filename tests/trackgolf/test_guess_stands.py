"""What a stand is likely to be without a course: features, laws, and a walk where the truth is known."""

import numpy as np
import pandas as pd
import pytest

from geo.stops import find_stops
from tests.shapes import trail_through
from tests.trackgolf.invented_walk import GREENS, TEES, invented_walk
from trackgolf.guess_stands import (
    CAPS,
    KINDS,
    context_features,
    kind_scores,
    own_features,
    stand_kinds,
    stand_laws,
)
from trackgolf.settings import RoundSettings
from trackgolf.stand_model import FEATURES

SETTINGS = RoundSettings()


def stands_at(*places):
    """Make stands from the places of a trail where time was spent."""
    trail, spans = trail_through(*places)
    spots = np.array([(east, north) for east, north, seconds in places if seconds], dtype=float)
    table = pd.DataFrame(
        {
            "start_s": spans[:, 0],
            "end_s": spans[:, 1],
            "dwell_s": spans[:, 1] - spans[:, 0],
            "east_m": spots[:, 0],
            "north_m": spots[:, 1],
            "sigma_m": 2.0,
            "restless": 1.0,
        }
    )
    return table, trail.columns


class TestOwnFeatures:
    def test_a_visit_lasts_as_long_as_the_circle_takes_to_cross(self):
        # Derived: 120 s stood, and a circle of 15 m crossed at 1.25 m/s takes 12 s either way: 144 s and 30 m.
        stands, walk = stands_at((0, -200, 0), (0, 0, 120), (0, 200, 0))
        features = own_features(stands, walk, SETTINGS)
        visit_s, way_m = (
            120.0 * np.exp(features[0, len(FEATURES)]),
            45.0 * np.exp(features[0, len(FEATURES) + 1]),
        )
        assert visit_s == pytest.approx(144.0, abs=3.0)
        assert way_m == pytest.approx(30.0, abs=3.0)

    def test_two_stands_on_one_green_share_their_visit(self):
        stands, walk = stands_at((0, -200, 0), (0, 0, 60), (6, 0, 60), (0, 200, 0))
        visits = own_features(stands, walk, SETTINGS)[:, len(FEATURES) + 2]
        assert visits[0] == pytest.approx(visits[1], abs=0.1)

    def test_the_laws_fit_the_features(self):
        own, both, shares = stand_laws()
        stands, walk = stands_at((0, -200, 0), (0, 0, 60), (100, 0, 60), (0, 200, 0))
        features = own_features(stands, walk, SETTINGS)
        assert features.shape[1] == len(own)
        assert features.shape[1] + context_features(stands, np.zeros((2, 4))).shape[1] == len(both)
        assert len(shares) == len(KINDS)
        assert sum(shares) == pytest.approx(1.0, abs=1e-3)


class TestKindScores:
    def test_without_evidence_nothing_is_said(self):
        shares = np.array([0.5, 0.1, 0.2, 0.2])
        # Derived: the law says how common each kind is, and a likelihood ratio leaves that out.
        scores = kind_scores(np.ones((1, 1)), np.log(shares)[None], shares, 4.0)
        assert scores == pytest.approx(np.zeros((1, 4)))

    def test_no_stand_says_more_than_the_cap(self):
        scores = kind_scores(np.array([[50.0]]), np.array([[0.0, 1.0, -1.0, 0.0]]), np.full(4, 0.25), 4.0)
        assert scores.tolist() == [[0.0, 4.0, -4.0, 0.0]]


class TestStandKinds:
    def test_tee_shots_and_greens_are_told_apart(self):
        trail = invented_walk()
        stands = find_stops(*trail.columns)
        kinds = stand_kinds(stands, trail.columns, SETTINGS)
        assert np.abs(kinds).max() <= CAPS[1]

        def nearest(spots):
            return [int(np.hypot(stands["east_m"] - x, stands["north_m"] - y).argmin()) for x, y in spots]

        tees, greens = nearest(TEES), nearest(GREENS)
        assert np.mean(kinds[tees, 1]) > np.mean(kinds[greens, 1])
        assert np.mean(kinds[greens, 2]) > np.mean(kinds[tees, 2]) + 1.0

    def test_no_stands(self):
        stands, walk = stands_at((0, -80, 10), (0, 0, 80))
        assert stand_kinds(stands[:0], walk, SETTINGS).shape == (0, 4)
