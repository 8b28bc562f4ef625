"""Why shots are doubtful."""

import math

import pandas as pd
import pytest

from trackgolf.doubts import DOUBT_COLUMNS, find_doubts


def stands_of(*rows):
    """Stands of rows (east, north, how long [s], probability)."""
    return pd.DataFrame(rows, columns=["east_m", "north_m", "dwell_s", "shot_probability"], dtype=float)


def shot(stand, end_stand, confidence, *, number=1, visit=0, distance_m=120.0, sigma_m=3.0):
    return {
        "hole": visit + 1,
        "shot": number,
        "visit": visit,
        "stand": stand,
        "end_stand": end_stand,
        "confidence": confidence,
        "distance_m": distance_m,
        "sigma_m": sigma_m,
        "end_sigma_m": 4.0 * sigma_m / 3.0,
    }


def doubts(shots, stands):
    return find_doubts(pd.DataFrame(shots), stands)


class TestFindDoubts:
    def test_a_sure_shot_needs_no_word(self):
        found = doubts([shot(0, 1, 0.6)], stands_of((0, 0, 5, 0.6), (0, 120, 30, 0.9)))
        assert found.empty
        assert tuple(found.columns) == DOUBT_COLUMNS

    def test_another_stand_that_is_nearly_as_likely_is_named(self):
        stands = stands_of((0, 0, 30, 0.5), (3, 4, 30, 0.45), (0, 60, 30, 0.1), (0, 120, 30, 0.9))
        row = doubts([shot(0, 3, 0.5)], stands).iloc[0]
        # Derived: a triangle of 3 and 4.
        assert (row["reason"], row["distance_m"], row["share"]) == ("other_stand", 5.0, 0.45)

    def test_stands_of_other_shots_are_no_alternative(self):
        stands = stands_of((0, 0, 30, 0.5), (0, 120, 30, 0.9), (0, 200, 30, 0.8))
        found = doubts([shot(0, 1, 0.5), shot(1, 2, 0.9, number=2)], stands)
        assert found["reason"].tolist() == ["no_shot"]

    def test_stands_before_the_shot_count_from_the_shot_before(self):
        stands = stands_of((0, 0, 30, 0.9), (0, 115, 30, 0.4), (0, 120, 30, 0.5), (0, 200, 30, 0.9))
        found = doubts([shot(0, 2, 0.9), shot(2, 3, 0.5, number=2)], stands)
        assert found[["shot", "reason", "distance_m"]].to_numpy().tolist() == [[2, "other_stand", 5.0]]

    def test_stands_on_the_green_before_are_no_alternative_on_the_next_tee(self):
        # The hole before was finished at stand 1; stand 2 lies between the two holes.
        stands = stands_of(
            (0, 0, 30, 0.9), (0, 120, 60, 0.3), (9, 130, 30, 0.2), (9, 140, 30, 0.5), (9, 250, 9, 0)
        )
        shots = [shot(0, 1, 0.9), shot(3, 4, 0.5, visit=1)]
        row = doubts(shots, stands).iloc[0]
        assert (row["reason"], row["distance_m"]) == ("other_stand", 10.0)
        stands.loc[2, "shot_probability"] = 0.0
        assert doubts(shots, stands)["reason"].tolist() == ["no_shot"]

    def test_a_shot_within_the_error_of_its_ends(self):
        stands = stands_of((0, 0, 30, 0.5), (0, 14, 30, 0.9))
        row = doubts([shot(0, 1, 0.5, distance_m=14.0)], stands).iloc[0]
        # Derived: errors of 3 m and 4 m are 5 m together.
        assert (row["reason"], row["distance_m"]) == ("within_error", pytest.approx(5.0))

    def test_a_short_stand_and_none_at_all(self):
        far = (0, 120, 30, 0.9)
        row = doubts([shot(0, 1, 0.5)], stands_of((0, 0, 7, 0.5), far)).iloc[0]
        assert (row["reason"], row["time_s"]) == ("short_stand", 7.0)
        row = doubts([shot(0, 1, 0.5)], stands_of((0, 0, 40, 0.5), far)).iloc[0]
        assert (row["reason"], row["time_s"]) == ("no_shot", 40.0)

    def test_two_reasons_at_most(self):
        stands = stands_of((0, 0, 5, 0.5), (1, 0, 5, 0.4), (0, 10, 5, 0.9))
        found = doubts([shot(0, 2, 0.4, distance_m=10.0)], stands)
        assert found["reason"].tolist() == ["other_stand", "within_error"]

    def test_a_finish_not_seen_says_nothing_of_length(self):
        stands = stands_of((0, 0, 40, 0.5), (0, 120, 40, 0.0))
        found = doubts([shot(0, 1, 0.5, distance_m=math.nan)], stands)
        assert found["reason"].tolist() == ["no_shot"]
