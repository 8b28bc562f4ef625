"""The best story as a table of shots: places, lengths, lies, times."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from pyproj import Geod
from shapely.geometry import Point, box

from geo.gaps import split_parts
from tests.shapes import DOGLEG, STRAIGHT, drop_points, lonlat, tiny_course, tiny_hole, trail_through
from trackgolf.decode import Event, Story
from trackgolf.ground import lay_ground
from trackgolf.settings import RoundSettings
from trackgolf.shots import SHOT_COLUMNS, Walk, lay_out_shots

GEOD = Geod(ellps="WGS84")
SETTINGS = RoundSettings()


def laid_out(course, places, told, *, visits=(0,), gap=None, probability=0.9):
    """
    Lay out a story: places (east, north, seconds stood), and for each what it was.

    `told` has (kind, hole index, number, visit) or None for a stand that was nothing, one for each place stood at.
    """
    ground = lay_ground(course)
    whole, times = trail_through(*places)
    walk = drop_points(whole, gap) if gap else whole
    east, north = ground.frame.to_metres(*lonlat(walk.east_m, walk.north_m))
    spots = np.array([(east_m, north_m) for east_m, north_m, stood_s in places if stood_s], dtype=float)
    stand_east, stand_north = ground.frame.to_metres(*lonlat(spots[:, 0], spots[:, 1]))
    stands = pd.DataFrame(
        {
            "start_s": times[:, 0],
            "end_s": times[:, 1],
            "dwell_s": times[:, 1] - times[:, 0],
            "east_m": stand_east,
            "north_m": stand_north,
            "sigma_m": np.linspace(2.0, 3.0, len(times)),
        }
    )
    events = tuple(
        Event(stand, hole, number, kind, visit)
        for stand, said in enumerate(told)
        if said is not None
        for kind, hole, number, visit in [said]
    )
    chances = np.full((len(times), len(ground.holes)), probability)
    steps = split_parts(walk.time_s, east, north)
    return lay_out_shots(
        Story(events, visits, 0.0),
        chances,
        chances,
        stands,
        Walk(walk.time_s, east, north, np.full(east.size, 2.0), steps),
        ground,
        SETTINGS,
    )


HOLE = tiny_course(tiny_hole(1, STRAIGHT, pin=(3, 302)))
PLACES = [(0, 0, 50), (5, 150, 40), (5, 170, 20), (0, 262, 40), (2, 302, 90)]
TOLD = [("shot", 0, 1, 0), ("shot", 0, 2, 0), None, ("shot", 0, 3, 0), ("green", 0, 0, 0)]


class TestLengths:
    shots, visits = laid_out(HOLE, PLACES, TOLD)

    def test_columns(self):
        assert tuple(self.shots.columns) == SHOT_COLUMNS
        assert self.shots[["hole", "shot", "visit"]].to_numpy().tolist() == [[1, 1, 0], [1, 2, 0], [1, 3, 0]]

    def test_distance_is_the_geodesic_between_the_two_stands(self):
        # Source: pyproj.Geod on WGS 84, by way of the stands' own degrees.
        ends = [PLACES[0], PLACES[1], PLACES[3], PLACES[4]]
        for row in range(3):
            _, _, length_m = GEOD.inv(*lonlat(*ends[row][:2]), *lonlat(*ends[row + 1][:2]))
            assert self.shots["distance_m"][row] == pytest.approx(length_m, abs=1e-3)
            positions = self.shots.loc[row, ["start_lon_deg", "start_lat_deg", "end_lon_deg", "end_lat_deg"]]
            assert GEOD.inv(*positions)[2] == pytest.approx(self.shots["distance_m"][row], abs=1e-6)

    def test_leave_is_the_geodesic_to_the_pin(self):
        for row, place in enumerate((PLACES[1], PLACES[3], PLACES[4])):
            _, _, length_m = GEOD.inv(*lonlat(*place[:2]), *lonlat(3, 302))
            assert self.shots["leave_m"][row] == pytest.approx(length_m, abs=1e-3)
        assert self.shots["leave_before_m"][0] == pytest.approx(math.hypot(3, 302), abs=1e-3)
        assert self.shots["leave_before_m"].tolist()[1:] == pytest.approx(
            self.shots["leave_m"].tolist()[:2], abs=1e-6
        )

    def test_without_a_pin_leave_is_to_the_middle_of_the_green(self):
        course = tiny_course(tiny_hole(1, STRAIGHT))
        shots, _ = laid_out(course, PLACES, TOLD)
        _, _, length_m = GEOD.inv(*lonlat(*PLACES[1][:2]), *lonlat(0, 300))
        assert shots["leave_m"][0] == pytest.approx(length_m, abs=1e-2)

    def test_progress_is_along_the_line_of_play(self):
        assert self.shots["progress_m"].tolist() == pytest.approx([150, 112, 40], abs=1e-2)

    def test_the_walked_path_is_never_shorter_than_the_straight_line(self):
        assert np.all(self.shots["path_m"] >= self.shots["distance_m"] - 1e-9)
        assert not self.shots["detour"].astype(bool).any()

    @hypothesis_settings(max_examples=25, deadline=None)
    @given(
        st.lists(
            st.tuples(st.integers(-60, 60), st.integers(0, 290), st.integers(5, 60)), min_size=2, max_size=6
        )
    )
    def test_whatever_the_way(self, between):
        places = [(0, 0, 50), *between, (2, 302, 90)]
        told = [
            ("shot", 0, 1, 0),
            *[("shot", 0, number + 2, 0) for number in range(len(between))],
            ("green", 0, 0, 0),
        ]
        shots, _ = laid_out(HOLE, places, told)
        seen = shots["distance_m"].notna().to_numpy()
        assert np.all(shots["path_m"][seen] >= shots["distance_m"][seen] - 1e-9)
        # One leave is what the one before left, less or more what was played: no side is longer than the other two.
        gone = (shots["leave_before_m"] - shots["leave_m"]).abs()
        assert np.all(gone[seen] <= shots["distance_m"][seen] + 0.01)
        # Along the line of play nobody gains more than the length of the shot, on a hole without a bend.
        assert np.all(shots["progress_m"][seen].abs() <= shots["distance_m"][seen] + 0.01)


class TestPath:
    def test_a_walk_round_a_corner_is_as_long_as_it_is(self):
        places = [(0, 0, 50), (0, 100, 0), (60, 100, 0), (60, 180, 40), (2, 302, 90)]
        shots, _ = laid_out(HOLE, places, [("shot", 0, 1, 0), ("shot", 0, 2, 0), ("green", 0, 0, 0)])
        # Derived: 100 + 60 + 80 m walked for a shot of hypot(60, 180) = 189.7 m.
        assert shots["path_m"][0] == pytest.approx(240, abs=1.5)
        assert shots["distance_m"][0] == pytest.approx(189.737, abs=1e-2)
        assert not shots["detour"][0]

    def test_a_detour_is_flagged(self):
        places = [(0, 0, 50), (150, 0, 30), (5, 150, 40), (2, 302, 90)]
        shots, _ = laid_out(HOLE, places, [("shot", 0, 1, 0), None, ("shot", 0, 2, 0), ("green", 0, 0, 0)])
        assert shots["detour"].astype(bool).tolist() == [True, False]

    def test_a_gap_with_movement_leaves_the_path_unknown_and_the_distance_known(self):
        shots, _ = laid_out(HOLE, PLACES, TOLD, gap=(60, 150))
        assert math.isnan(shots["path_m"][0])
        assert shots["distance_m"][0] == pytest.approx(150.08, abs=0.01)
        assert np.isfinite(shots["path_m"][1])


def test_progress_follows_a_dogleg():
    # Over the corner: 150 m up the first leg, then straight to 90 m along the second.
    course = tiny_course(tiny_hole(1, DOGLEG))
    places = [(0, 0, 50), (0, 150, 40), (90, 205, 40), (148, 201, 60)]
    shots, _ = laid_out(
        course, places, [("shot", 0, 1, 0), ("shot", 0, 2, 0), ("shot", 0, 3, 0), ("green", 0, 0, 0)]
    )
    # Derived: the line of play is 200 m north and then east; stations 0, 150, 290, 348.
    assert shots["progress_m"].tolist() == pytest.approx([150, 140, 58], abs=0.02)
    assert shots["distance_m"][1] == pytest.approx(math.hypot(90, 55), abs=1e-2)
    assert shots["progress_m"][1] > shots["distance_m"][1]


class TestTimesAndLies:
    course = tiny_course(
        tiny_hole(1, STRAIGHT),
        shapes=[
            ("fairway", box(-15, 60, 15, 280)),
            ("bunker", Point(20, 270).buffer(5)),
            ("water_red", box(-60, 100, -30, 200)),
            ("out_of_bounds", box(40, 0, 80, 300)),
        ],
    )

    def lies(self, *spots):
        places = [(0, 0, 50), *[(*spot, 30) for spot in spots], (0, 300, 60)]
        told = [("shot", 0, number + 1, 0) for number in range(len(spots) + 1)] + [("green", 0, 0, 0)]
        shots, _ = laid_out(self.course, places, told)
        return shots

    def test_each_lie_is_the_shape_it_lies_on(self):
        shots = self.lies((0, 150), (25, 150), (20, 270), (-45, 150), (60, 150))
        assert shots["lie"].tolist() == ["tee", "fairway", "rough", "bunker", "penalty_area", "out_of_bounds"]

    def test_one_shot_ends_in_the_lie_the_next_is_played_from(self):
        shots = self.lies((0, 150), (25, 150), (20, 270))
        assert shots["end_lie"].tolist() == [*shots["lie"].tolist()[1:], "green"]

    def test_a_stand_measured_onto_the_green_was_beside_it(self):
        # The decoder says it was played from off the green.
        assert self.lies((0, 150), (0, 292))["lie"].tolist() == ["tee", "fairway", "rough"]

    def test_without_drawn_fairways_a_lie_is_unknown(self):
        shots, _ = laid_out(HOLE, PLACES, TOLD)
        assert shots["lie"].tolist() == ["tee", "unknown", "unknown"]

    def test_the_first_shot_is_from_the_tee_wherever_it_was_measured(self):
        shots, _ = laid_out(
            self.course,
            [(25, 0, 50), (0, 150, 30), (0, 300, 60)],
            [("shot", 0, 1, 0), ("shot", 0, 2, 0), ("green", 0, 0, 0)],
        )
        assert shots["lie"][0] == "tee"

    def test_the_stroke_comes_late_in_the_stand_and_not_after_it(self):
        shots, visits = laid_out(HOLE, PLACES, TOLD)
        _, times = trail_through(*PLACES)
        stroke_s = shots["start_time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
        mine = times[[0, 1, 3]]
        assert np.all(stroke_s >= mine.mean(axis=1))
        assert np.all(stroke_s < mine[:, 1])
        assert str(shots["start_time"].dt.tz) == "UTC"
        assert visits[0].start_s == stroke_s[0]
        assert (visits[0].green_s, visits[0].end_s) == (times[4, 0], times[4, 1])

    def test_errors_of_both_ends_come_along(self):
        shots, _ = laid_out(HOLE, PLACES, TOLD)
        assert shots["sigma_m"].tolist() == pytest.approx([2.0, 2.25, 2.75])
        assert np.all(shots["end_sigma_m"].to_numpy(dtype=float) > 0)
        # The ball on the green is known no better than the stand beside it.
        assert shots["end_sigma_m"][2] >= 3.0

    @pytest.mark.parametrize("probability", [0.0, 0.4, 1.0])
    def test_confidence_is_the_probability_of_the_stand(self, probability):
        shots, visits = laid_out(HOLE, PLACES, TOLD, probability=probability)
        assert shots["confidence"].tolist() == [probability] * 3
        assert visits[0].green_probability == probability


class TestOdd:
    def test_a_replay_is_a_lost_ball_and_a_penalty(self):
        places = [(0, 0, 50), (40, 170, 150), (2, 1, 45), (5, 155, 40), (2, 302, 90)]
        told = [("shot", 0, 1, 0), None, ("shot", 0, 2, 0), ("shot", 0, 3, 0), ("green", 0, 0, 0)]
        shots, visits = laid_out(HOLE, places, told)
        assert shots["penalty"].tolist() == [1, 0, 0]
        assert shots["end_lie"].tolist()[:2] == ["lost", "unknown"]
        # The line ends where the player last stood for the ball; how far it went is not known.
        assert shots.loc[0, ["end_lon_deg", "end_lat_deg"]].tolist() == pytest.approx(
            lonlat(40, 170), abs=1e-7
        )
        assert shots.loc[0, ["distance_m", "path_m", "progress_m", "leave_m"]].isna().all()
        assert shots.loc[1:, "distance_m"].notna().all()
        assert visits[0].shots == 3

    def test_two_shots_at_one_place_without_going_away_are_no_replay(self):
        # Topped a metre, or a practice swing taken for a stroke.
        places = [(0, 0, 50), (6, 10, 20), (2, 1, 45), (5, 155, 40), (2, 302, 90)]
        told = [("shot", 0, 1, 0), None, ("shot", 0, 2, 0), ("shot", 0, 3, 0), ("green", 0, 0, 0)]
        shots, _ = laid_out(HOLE, places, told)
        assert shots["penalty"].tolist() == [0, 0, 0]

    def test_a_hole_picked_up_ends_where_the_player_last_stood(self):
        course = tiny_course(tiny_hole(1, STRAIGHT), tiny_hole(2, ((100, 300), (100, 0))))
        places = [(0, 0, 50), (5, 150, 40), (30, 220, 40), (100, 300, 50), (100, 160, 40), (100, 2, 60)]
        told = [
            ("shot", 0, 1, 0), ("shot", 0, 2, 0), None, ("shot", 1, 1, 1), ("shot", 1, 2, 1), ("green", 1, 0, 1),
        ]  # fmt: skip
        shots, visits = laid_out(course, places, told, visits=(0, 1))
        last = shots.iloc[1]
        assert (last["hole"], last["shot"], last["end_lie"]) == (1, 2, "picked_up")
        assert [last["end_lon_deg"], last["end_lat_deg"]] == pytest.approx(lonlat(30, 220), abs=1e-7)
        assert math.isnan(last["distance_m"])
        assert math.isnan(last["leave_m"])
        assert (visits[0].green, visits[0].shots) == (None, 2)
        assert math.isnan(visits[0].green_s)
        assert visits[1].green == 5

    def test_picked_up_with_no_stand_after_it_ends_where_it_was_played(self):
        course = tiny_course(tiny_hole(1, STRAIGHT), tiny_hole(2, ((100, 300), (100, 0))))
        places = [(0, 0, 50), (5, 150, 40), (100, 300, 50), (100, 2, 60)]
        told = [("shot", 0, 1, 0), ("shot", 0, 2, 0), ("shot", 1, 1, 1), ("green", 1, 0, 1)]
        shots, _ = laid_out(course, places, told, visits=(0, 1))
        last = shots.iloc[1]
        # The tee of the next hole is no place the ball was looked for.
        assert [last["end_lon_deg"], last["end_lat_deg"]] == pytest.approx(lonlat(5, 150), abs=1e-7)

    def test_a_stroke_that_left_no_stand_is_counted_and_not_drawn(self):
        told = [("shot", 0, 1, 0), ("shot", 0, 3, 0), None, None, ("green", 0, 0, 0)]
        ground = lay_ground(HOLE)
        whole, times = trail_through(*PLACES)
        east, north = ground.frame.to_metres(*lonlat(whole.east_m, whole.north_m))
        spots = np.array(PLACES, dtype=float)
        x, y = ground.frame.to_metres(*lonlat(spots[:, 0], spots[:, 1]))
        stands = pd.DataFrame(
            {"start_s": times[:, 0], "end_s": times[:, 1], "east_m": x, "north_m": y, "sigma_m": 2.0}
        )
        events = [Event(stand, *said[1:3], said[0], 0) for stand, said in enumerate(told) if said]
        events.insert(1, Event(1, 0, 2, "unseen", 0))
        chances = np.ones((5, 1))
        walk = Walk(whole.time_s, east, north, np.full(east.size, 2.0), np.zeros(east.size, dtype=np.int64))
        shots, visits = lay_out_shots(
            Story(tuple(events), (0,), 0.0), chances, chances, stands, walk, ground, SETTINGS
        )
        assert shots["shot"].tolist() == [1, 3]
        assert (visits[0].shots, visits[0].unseen) == (3, 1)

    def test_no_story_is_an_empty_table(self):
        shots, visits = laid_out(HOLE, PLACES, [None] * 5, visits=())
        assert tuple(shots.columns) == SHOT_COLUMNS
        assert shots.empty
        assert visits == []
