"""What a stand looks like: features that can be worked out by hand."""

import math

import numpy as np
import pandas as pd
import pytest

from tests.shapes import trail_through
from trackgolf.stand_model import FEATURES, stand_features

NAMES = list(FEATURES)
USUAL_S = 40.0


def features_of(*places, usual_s=USUAL_S):
    """Features of the stands of a walk through places (east, north, seconds), a row a stand."""
    trail, times = trail_through(*places)
    stands = pd.DataFrame(
        {
            "start_s": times[:, 0],
            "end_s": times[:, 1],
            "dwell_s": times[:, 1] - times[:, 0],
            "east_m": [float(place[0]) for place in places],
            "north_m": [float(place[1]) for place in places],
            "restless": 1.0,
        }
    )
    table = pd.DataFrame(stand_features(stands, trail.columns, usual_s), columns=NAMES)
    assert np.isfinite(table.to_numpy()).all()
    return table


class TestFeatures:
    def test_a_column_for_each_and_a_row_a_stand(self):
        table = features_of((0, 0, 40), (0, 150, 30), (0, 300, 50))
        assert table.shape == (3, len(FEATURES))
        assert (table["constant"] == 1.0).all()

    def test_no_stand_and_one_stand(self):
        empty = pd.DataFrame(
            columns=["start_s", "end_s", "dwell_s", "east_m", "north_m", "restless"], dtype=float
        )
        nowhere = (np.empty(0), np.empty(0), np.empty(0))
        assert stand_features(empty, nowhere, USUAL_S).shape == (0, len(FEATURES))
        alone = features_of((0, 0, 40)).iloc[0]
        assert (alone["near_before"], alone["near_after"], alone["straight_40"]) == (0.0, 0.0, 0.0)

    def test_dwell_is_measured_against_the_usual_one(self):
        table = features_of((0, 0, 40), (0, 150, 80), (0, 300, 20))
        # Derived: logarithms of 40, 80 and 20 s over the usual 40 s.
        assert table["dwell"].tolist() == pytest.approx([0.0, math.log(2.0), -math.log(2.0)])
        assert table["dwell_after"].tolist()[:2] == pytest.approx([math.log(2.0), -math.log(2.0)])
        assert table["dwell_before"].tolist()[1:] == pytest.approx([0.0, math.log(2.0)])

    @pytest.mark.parametrize(
        ("third", "cosine"), [((0, 300, 40), 1.0), ((150, 150, 40), 0.0), ((0, 0, 40), -1.0)]
    )
    def test_how_the_way_turns(self, third, cosine):
        # Derived: the cosine of the turn is 1 straight on, 0 at a right angle and -1 straight back.
        table = features_of((0, 0, 40), (0, 150, 30), third)
        assert table["straight_15"][1] == pytest.approx(cosine, abs=0.02)
        assert table["straight_40"][1] == pytest.approx(cosine, abs=0.02)

    def test_a_pair_is_near_each_other_and_knows_which_is_longer(self):
        table = features_of((0, 0, 40), (0, 150, 10), (5, 155, 45), (0, 300, 40))
        assert table["near_after"][1] == table["near_before"][2] > 0.3
        assert table["near_before"][1] < 0.01
        # The stand after the first of the pair was the longer one, the one before the second the shorter.
        assert table["longer_after"][1] > 0.0 > table["longer_before"][2]

    def test_distance_and_time_to_the_neighbours(self):
        table = features_of((0, 0, 40), (0, 125, 40), (0, 300, 40))
        # Derived: 125 m at 1.25 m/s are 100 s; 3 m are added before the logarithm is taken.
        assert table["apart_before"][1] == pytest.approx(math.log(128.0 / 30.0), abs=0.02)
        assert table["pause_before"][1] == pytest.approx(math.log(100.0 / 30.0), abs=0.02)
        assert table["pace_before"][1] == pytest.approx(1.0, abs=0.02)
        assert table["out_40"][1] == pytest.approx(50.0 / 40.0, abs=0.03)

    def test_when_and_where_does_not_matter(self):
        here = features_of((0, 0, 40), (0, 150, 30), (60, 300, 50))
        there = features_of((700, -900, 40), (700, -750, 30), (760, -600, 50))
        assert there.to_numpy() == pytest.approx(here.to_numpy())

    def test_long_and_short_are_bounded(self):
        # A halt of a moment and a wait of an hour: no feature runs away with the decision.
        table = features_of((0, 0, 2), (0, 3, 3600), (900, 900, 40))
        assert np.abs(table.to_numpy()).max() < 10.0
