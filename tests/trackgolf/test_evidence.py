"""What stands and pairs of stands say about strokes: densities that add up, and who is favoured over whom."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.shapes import DOGLEG, STRAIGHT, lonlat, tiny_bag, tiny_course, tiny_hole
from trackgolf.evidence import (
    Shooter,
    after_green_score,
    dwell_score,
    flight_log_density,
    green_score,
    other_log_density,
    tee_score,
    tee_wait_log_density,
)
from trackgolf.ground import lay_ground
from trackgolf.settings import RoundSettings

SETTINGS = RoundSettings()
BAG = tiny_bag()
GROUND = lay_ground(tiny_course(tiny_hole(1, STRAIGHT), tiny_hole(2, DOGLEG)))
HOLE, BENT = GROUND.holes
SHOOTER = Shooter(
    np.array([club.distance_m for club in BAG.clubs]),
    np.array([club.spread_long_m for club in BAG.clubs]),
    SETTINGS,
)
STEP_M = 3.0
# Two metres of error an axis: gps.gov's 4.9 m under open sky, taken as 95 %.
SIGMA_M = 2.0


def spots(*places):
    """Shelf metres as three arrays of the ground's own frame: east, north, standard error."""
    east, north = GROUND.frame.to_metres(*lonlat(*np.array(places, dtype=float).T))
    return np.asarray(east), np.asarray(north), np.full(len(places), SIGMA_M)


def grid(centre, reach_m=650.0):
    """A square of spots about a place in shelf metres."""
    axis = np.arange(-reach_m, reach_m, STEP_M)
    east, north = (values.ravel() for values in np.meshgrid(axis, axis))
    middle_east, middle_north, _ = spots(centre)
    return middle_east + east, middle_north + north, np.full(east.size, SIGMA_M)


def flown(start, *ends, hole=HOLE, shooter=SHOOTER):
    begin = tuple(np.repeat(values, len(ends)) for values in spots(start))
    return flight_log_density(hole, begin, spots(*ends), shooter, SETTINGS)


class TestFlight:
    @pytest.mark.parametrize("left_m", [300, 200, 120, 50, 15])
    def test_the_ball_comes_down_somewhere(self, left_m):
        # Derived: a density over the plane adds up to one; a spread that grows sideways too makes it a little more.
        start = (0, 300 - left_m)
        finish = grid(start)
        begin = tuple(np.broadcast_to(values, finish[0].shape) for values in spots(start))
        total = np.exp(flight_log_density(HOLE, begin, finish, SHOOTER, SETTINGS)).sum() * STEP_M**2
        assert total == pytest.approx(1.0, abs=0.25)

    def test_towards_the_hole_before_sideways_before_back(self):
        ahead, aside, back = flown((0, 100), (0, 220), (120, 100), (0, -20))
        assert ahead > aside > back

    def test_left_and_right_are_alike(self):
        left, right = flown((0, 0), (-20, 150), (20, 150))
        assert left == pytest.approx(right, abs=0.01)

    def test_as_far_as_a_club_goes_before_farther_than_any(self):
        longest = max(club.distance_m for club in BAG.clubs)
        usual, too_far = flown((0, 0), (0, longest * SETTINGS.bag_factor), (0, 1.5 * longest))
        assert usual > too_far + 1.0

    def test_from_near_the_green_onto_it_before_far_past_it(self):
        on, past = flown((0, 260), (0, 300), (0, 390))
        assert on > past + 1.0

    def test_round_the_corner_of_a_dogleg(self):
        # Out of reach of the green the line of play bends right: across the corner before straight on past it.
        across, straight_on = flown((0, 130), (60, 215), (0, 290), hole=BENT)
        assert across > straight_on

    def test_an_unsure_place_tells_less(self):
        begin, sharp = spots((0, 260)), spots((0, 300))
        blurred = (sharp[0], sharp[1], np.array([15.0]))
        one = flight_log_density(HOLE, begin, sharp, SHOOTER, SETTINGS)
        two = flight_log_density(HOLE, begin, blurred, SHOOTER, SETTINGS)
        assert two[0] < one[0]

    def test_it_is_finite_everywhere_even_from_spot_to_same_spot(self):
        density = flown((0, 150), (0, 150), (0, 700), (-500, -400))
        assert np.isfinite(density).all()


class TestShooter:
    def test_a_plan_shifts_which_club_and_no_distance(self):
        planned = np.array([0.0, 0.0, 2.0, 0.0, 1.0])
        other = SHOOTER.expecting(planned, 0.5)
        assert np.array_equal(other.distance_m, SHOOTER.distance_m)
        assert other.longest_m == SHOOTER.longest_m
        assert other.weight.sum() == pytest.approx(1.0)
        assert other.weight[2] > SHOOTER.weight[2]
        assert other.weight[0] < SHOOTER.weight[0]

    @pytest.mark.parametrize("planned", [np.zeros(5), np.array([0.0, 1.0, 0.0, 0.0, 0.0])])
    def test_no_plan_or_no_share_changes_nothing(self, planned):
        other = SHOOTER.expecting(planned, 0.0)
        assert other.weight == pytest.approx(SHOOTER.weight)

    def test_an_empty_bag_still_plays(self):
        nobody = Shooter(np.empty(0), np.empty(0), SETTINGS)
        assert np.isfinite(flown((0, 260), (0, 300), shooter=nobody)).all()


class TestDwell:
    def test_it_is_capped_both_ways(self):
        score = dwell_score(np.geomspace(0.5, 20_000.0, 50), SETTINGS)
        assert np.isfinite(score).all()
        assert np.abs(score).max() <= 3.0

    def test_the_usual_time_over_a_ball_speaks_for_a_stroke_and_a_pause_in_passing_against(self):
        passing, usual = dwell_score(np.array([5.0, SETTINGS.shot_dwell_s]), SETTINGS)
        assert usual > 0.0 > passing

    def test_it_is_the_ratio_of_two_laws(self):
        # Derived: with both laws the same nothing is told.
        same = replace(
            SETTINGS,
            halt_dwell_s=SETTINGS.shot_dwell_s,
            wait_dwell_s=SETTINGS.shot_dwell_s,
            halt_dwell_spread=SETTINGS.shot_dwell_spread,
            wait_dwell_spread=SETTINGS.shot_dwell_spread,
        )
        assert dwell_score(np.array([5.0, 40.0, 300.0]), same) == pytest.approx(0.0, abs=1e-9)

    def test_the_rules_time_for_a_stroke_is_likelier_one_than_the_time_for_a_search(self):
        # Source: Rules of Golf 2023, 5.6b: a stroke within 40 s is advised; 18.2a: three minutes of search.
        quick, search = np.exp(
            -0.5 * (np.log(np.array([40.0, 180.0]) / SETTINGS.shot_dwell_s) / SETTINGS.shot_dwell_spread) ** 2
        )
        assert quick > search


class TestPlace:
    def test_on_and_off_the_green_are_all_there_is(self):
        log_on, log_off = green_score(HOLE, *spots((0, 300), (0, 288), (0, 285), (0, 150)))
        assert np.exp(log_on) + np.exp(log_off) == pytest.approx(1.0)
        # In the middle surely on, on the edge as likely as not, far away surely off.
        assert np.exp(log_on)[0] > 0.99
        assert np.exp(log_on)[1] == pytest.approx(0.5, abs=0.05)
        assert np.exp(log_on)[3] < 1e-6

    def test_a_less_sure_place_on_the_green_is_less_surely_on_it(self):
        east, north, _ = spots((0, 295))
        sure, unsure = (green_score(HOLE, east, north, np.array([sigma_m]))[0][0] for sigma_m in (1.0, 8.0))
        assert sure > unsure

    def test_the_tee_before_the_fairway_before_the_green(self):
        score = tee_score(HOLE, *spots((0, 0), (0, 20), (0, 150), (0, 300)), SETTINGS)
        assert np.all(np.diff(score) < 0)
        assert score[0] > 0.0 > score[3]

    def test_two_club_lengths_behind_the_tee_still_count(self):
        # Source: Rules of Golf 2023, 6.2 and Definitions: the teeing area is two club-lengths deep, about 2.3 m.
        # The drawn tee ends 4 m behind its middle.
        assert tee_score(HOLE, *spots((0, -6)), SETTINGS)[0] > 0.0

    def test_without_a_drawn_tee_one_ahead_of_the_line_is_possible(self):
        bare = lay_ground(tiny_course(tiny_hole(1, STRAIGHT), tiny_hole(2, DOGLEG), tees=False)).holes[0]
        drawn = tee_score(HOLE, *spots((0, 60)), SETTINGS)
        undrawn = tee_score(bare, *spots((0, 60)), SETTINGS)
        assert undrawn[0] > drawn[0]

    def test_others_wait_on_the_tee(self):
        at, near, away = tee_wait_log_density(HOLE, *spots((0, 0), (0, 10), (0, 150)), SETTINGS)
        assert at > near > away
        bare = lay_ground(tiny_course(tiny_hole(1, STRAIGHT), tees=False)).holes[0]
        assert tee_wait_log_density(bare, *spots((0, 0)), SETTINGS)[0] < -40.0


class TestAfterTheGreen:
    def test_on_it_before_beside_it_before_far_from_it(self):
        usual_s = np.full(3, SETTINGS.green_dwell_s)
        on, beside, far = after_green_score(HOLE, *spots((0, 300), (0, 320), (0, 150)), usual_s, SETTINGS)
        assert on > 0.0
        assert on > beside > far
        assert far < 0.0

    def test_far_away_only_the_rest_is_left(self):
        # Derived: what lies neither on the green nor beside it is spread like stands in general.
        rest = 1.0 - SETTINGS.green_share - SETTINGS.beside_green_share
        score = after_green_score(HOLE, *spots((0, 0)), np.array([60.0]), SETTINGS)
        assert score[0] == pytest.approx(math.log(rest), abs=1e-6)


class TestOther:
    def test_the_share_about_the_last_stroke_adds_up(self):
        east, north, _ = grid((0, 150), 400.0)
        middle_east, middle_north, _ = spots((0, 150))
        moved = np.hypot(east - middle_east, north - middle_north)
        even = (1.0 - SETTINGS.around_share) / SETTINGS.other_area_m2
        around = (np.exp(other_log_density(moved, SETTINGS)) - even).sum() * STEP_M**2
        assert around == pytest.approx(SETTINGS.around_share, rel=0.02)

    def test_it_thins_out_to_an_even_spread(self):
        density = other_log_density(np.array([0.0, 5.0, 20.0, 80.0, 5000.0]), SETTINGS)
        assert np.all(np.diff(density) <= 0.0)
        assert math.exp(density[-1]) == pytest.approx((1.0 - SETTINGS.around_share) / SETTINGS.other_area_m2)
