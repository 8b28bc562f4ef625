import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.errors import InputError
from geo.gaps import GapSettings, find_gaps, split_parts


def walk(*steps):
    """Times and eastings of a walk drawn as (seconds, metres) a step."""
    time, east = np.cumsum([(0.0, 0.0), *steps], axis=0).T
    return time, east, np.zeros(time.size)


SECOND = (1.0, 1.3)


class TestFindGaps:
    def test_a_walk_has_none(self):
        still, moving = find_gaps(*walk(*[SECOND] * 20))
        assert not still.any()
        assert not moving.any()

    def test_a_rest_and_a_walk_unseen(self):
        still, moving = find_gaps(*walk(*[SECOND] * 5, (40.0, 1.5), *[SECOND] * 5, (40.0, 50.0), SECOND))
        assert np.flatnonzero(still).tolist() == [5]
        assert np.flatnonzero(moving).tolist() == [11]

    def test_little_movement_is_little_and_slow(self):
        for step, kind in [((40.0, 9.9), 0), ((40.0, 10.1), 1), ((12.0, 4.7), 0), ((12.0, 4.9), None)]:
            found = find_gaps(*walk(*[SECOND] * 5, step, SECOND))
            assert [k for k in (0, 1) if found[k][5]] == ([] if kind is None else [kind])

    def test_a_slow_recorder_is_not_all_gaps(self):
        still, moving = find_gaps(*walk(*[(15.0, 18.0)] * 8, (40.0, 45.0), (60.0, 60.0), *[(15.0, 1.0)] * 3))
        assert np.flatnonzero(moving).tolist() == [9]
        assert not still.any()

    def test_lost_reception_is_a_gap_however_short(self):
        time, east, north = walk(*[SECOND] * 3, (8.0, 9.0), *[SECOND] * 3, (2.0, 0.2), SECOND)
        segment = np.array([0, 0, 0, 0, 1, 1, 1, 1, 2, 2])
        _, moving = find_gaps(time, east, north, segment=segment)
        assert np.flatnonzero(moving).tolist() == [3]

    def test_unknown_rows_are_looked_through(self):
        time, east, north = walk(
            *[SECOND] * 5, (20.0, 1.0), (20.0, 1.0), *[SECOND] * 5, (20.0, 20.0), (20.0, 20.0), SECOND
        )
        east[[6, 13]] = np.nan
        still, moving = find_gaps(time, east, north)
        assert np.flatnonzero(still).tolist() == [5, 6]
        assert np.flatnonzero(moving).tolist() == [12, 13]
        assert np.unique(split_parts(time, east, north)).tolist() == [0, 1]

    def test_unknown_ends_belong_to_no_gap(self):
        time, east, north = walk((100.0, 0.0), *[SECOND] * 5, (100.0, 0.0))
        east[[0, -1]] = np.nan
        assert not np.any(find_gaps(time, east, north))
        assert not np.any(find_gaps(time, np.full(time.size, np.nan), north))

    def test_bad_input(self):
        with pytest.raises(InputError, match="do not increase"):
            find_gaps([0.0, 0.0], [0.0, 0.0], [0.0, 0.0])
        with pytest.raises(InputError, match="differ in length"):
            find_gaps([0.0, 1.0], [0.0], [0.0, 0.0])
        with pytest.raises(InputError, match="still_gap_s is -1"):
            GapSettings(still_gap_s=-1)


class TestSplitParts:
    def test_rests_do_not_split(self):
        part = split_parts(*walk(*[SECOND] * 2, (40.0, 1.5), *[SECOND] * 2, (40.0, 50.0), SECOND))
        assert part.tolist() == [0, 0, 0, 0, 0, 0, 1, 1]

    def test_little_is_enough(self):
        assert split_parts([], [], []).tolist() == []
        assert split_parts([0.0], [1.0], [1.0]).tolist() == [0]

    @given(st.lists(st.tuples(st.floats(0.5, 200), st.floats(0, 300)), min_size=1, max_size=30))
    def test_a_step_is_one_kind_at_most_and_parts_go_up(self, steps):
        track = walk(*steps)
        still, moving = find_gaps(*track)
        assert not (still & moving).any()
        part = split_parts(*track)
        assert np.diff(part).tolist() == moving.astype(int).tolist()
