"""A course guessed from a walk: places, numbers, pars, stroke indexes, targets."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from pyproj import Geod

from geo.errors import InputError
from tests.shapes import FRAME, drop_points, tiny_bag, track_of, trail, trail_through
from tests.trackgolf.invented_walk import GREENS, PARS, TEES, invented_walk
from trackgolf.guess_course import (
    GUESSED,
    _with_indexes,
    course_of_holes,
    guess_course,
    guess_holes,
)
from trackgolf.guess_hints import bag_for_course, extra_shots_of, hints_of
from trackgolf.guess_settings import GuessSettings

BAG = tiny_bag()
GEOD = Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def guessed():
    return guess_course(track_of(invented_walk()), BAG)


def ends_of(course):
    ends = np.array([np.array(hole.line.coords)[[0, -1]] for hole in course.holes])
    return tuple(np.column_stack(FRAME.to_metres(ends[:, end, 0], ends[:, end, 1])) for end in (0, 1))


class TestGuessCourse:
    def test_finds_the_holes_where_they_are(self, guessed):
        assert [hole.number for hole in guessed.holes] == list(range(1, 10))
        tees, greens = ends_of(guessed)
        assert np.hypot(*(tees - np.array(TEES)).T).max() < 25.0
        assert np.hypot(*(greens - np.array(GREENS)).T).max() < 15.0

    def test_pars_go_by_length(self, guessed):
        # Source: Rules of Handicapping (R&A, USGA), Appendix F, lengths for men, as in the walk's own table.
        assert tuple(hole.par for hole in guessed.holes) == PARS

    def test_length_is_the_geodesic_from_tee_to_green(self, guessed):
        for hole in guessed.holes:
            (lon0, lat0), (lon1, lat1) = hole.line.coords
            assert hole.length_m == pytest.approx(GEOD.inv(lon0, lat0, lon1, lat1)[2], abs=0.02)

    def test_says_that_all_of_it_is_guessed(self, guessed):
        assert guessed.warnings[0] == GUESSED
        assert guessed.warnings[-2].startswith("pars are guessed")
        assert guessed.warnings[-1].startswith("stroke indexes are guessed")

    def test_names_the_doubtful_ones_first(self):
        holes = guess_holes(track_of(invented_walk()), BAG)
        assert all(0.0 < hole.confidence <= 1.0 for hole in holes)
        doubted = [replace(hole, confidence={2: 0.5, 7: 0.3}.get(hole.number, 0.9)) for hole in holes]
        assert "least sure, so check first: hole 7, 2" in course_of_holes(doubted).warnings

    def test_indexes_are_each_given_once(self, guessed):
        assert sorted(hole.stroke_index for hole in guessed.holes) == list(range(1, 10))

    def test_the_drive_there_and_home_makes_no_hole(self):
        home = [(-3000, -2000, 400), (-1500, -900, 0), (-60, -40, 60)]
        walk = invented_walk(before=home, after=[(-60, -40, 90), (-3000, -2000, 600)])
        tees, greens = ends_of(guess_course(track_of(walk), BAG))
        assert len(tees) == 9
        assert np.hypot(*(greens - np.array(GREENS)).T).max() < 15.0

    def test_holes_before_and_after_a_dead_battery_are_found(self):
        walk = drop_points(invented_walk(), (2000.0, 2600.0))
        tees, greens = ends_of(guess_course(track_of(walk), BAG))
        # The gap takes one hole and the green of another.
        assert len(tees) >= 7
        near = np.hypot(*(greens[:, None] - np.array(GREENS)[None]).transpose(2, 0, 1)) < 15.0
        near &= np.hypot(*(tees[:, None] - np.array(TEES)[None]).transpose(2, 0, 1)) < 25.0
        assert near.any(axis=1).sum() >= 7

    def test_a_scorecard_gives_numbers_and_pars(self):
        lengths = np.hypot(*(np.array(TEES) - np.array(GREENS)).T)
        card = pd.DataFrame(
            {
                "hole": range(10, 19),
                "par": pd.array([5 if par == 4 else par for par in PARS], dtype="Int64"),
                "stroke_index": pd.array(range(2, 20, 2), dtype="Int64"),
                "length_m": lengths,
            }
        )
        course = guess_course(track_of(invented_walk()), BAG, scorecard=card)
        assert [hole.number for hole in course.holes] == list(range(10, 19))
        assert [hole.par for hole in course.holes] == card["par"].tolist()
        assert [hole.stroke_index for hole in course.holes] == card["stroke_index"].tolist()
        assert course.warnings[0] == GUESSED
        assert not any("pars" in text or "indexes" in text for text in course.warnings)

    @pytest.mark.parametrize(
        ("walk", "said"),
        [
            (trail((0, 0, 0), (1, 1, 0)), "too few stands"),
            (trail_through((0, 0, 60), (400, 0, 60), (0, 100, 0))[0], "no hole"),
            (trail((0, 0, 0), (3600, 4500, 0)), "too few stands"),
            (trail_through((0, 0, 60), (20, 0, 60), (0, 10, 60), (15, 5, 40))[0], "no hole"),
        ],
    )
    def test_no_golf_is_one_clear_line(self, walk, said):
        with pytest.raises(InputError, match=said) as caught:
            guess_course(track_of(walk), BAG)
        assert "--course" in str(caught.value)


class TestSameHoleTwice:
    def test_four_holes_played_twice_are_four(self):
        once = invented_walk(holes=4)
        back = invented_walk(holes=4, seed=8)
        pause = once.time_s[-1] + 600.0
        twice = replace(
            once,
            time_s=np.concatenate([once.time_s, back.time_s + pause]),
            east_m=np.concatenate([once.east_m, back.east_m]),
            north_m=np.concatenate([once.north_m, back.north_m]),
        )
        holes = guess_holes(track_of(twice), BAG)
        assert [hole.number for hole in holes] == [1, 2, 3, 4]


class TestCourseOfHoles:
    def test_eighteen_have_odd_indexes_on_one_nine_and_even_on_the_other(self):
        holes = guess_holes(track_of(invented_walk()), BAG)
        more = [replace(hole, number=hole.number + 9, length_m=hole.length_m + 5.0) for hole in holes]
        course = course_of_holes(
            _with_indexes([replace(hole, stroke_index=None) for hole in (*holes, *more)])
        )
        # Source: Rules of Handicapping (R&A, USGA), Appendix E: odd stroke indexes on one nine, even ones on the other.
        odd = [hole.stroke_index % 2 == 1 for hole in course.holes]
        assert odd == [True] * 9 + [False] * 9
        assert sorted(hole.stroke_index for hole in course.holes) == list(range(1, 19))

    def test_a_green_is_drawn_with_500_square_metres(self, guessed):
        area, _ = GEOD.geometry_area_perimeter(guessed.holes[0].green)
        # from memory: greens of 5000 to 6000 square feet are usual, 465 to 557 m2.
        assert abs(area) == pytest.approx(500.0, rel=0.03)


class TestTargets:
    @pytest.mark.parametrize(("target", "extra"), [(90, 1.0), (72, 0.0), (45, 1.0), (54, 2.0)])
    def test_strokes_a_hole(self, target, extra):
        # Derived: 90 is 18 over 72, 45 is nine over 36, 54 is 18 over 36.
        assert extra_shots_of(replace(BAG, target_score=target, playing_handicap=None)) == pytest.approx(
            extra
        )

    def test_a_handicap_is_for_18_holes(self):
        assert extra_shots_of(tiny_bag(handicap=27.0)) == pytest.approx(1.5)

    def test_a_target_for_more_holes_than_were_found_is_cut_down(self, guessed):
        bag, told = bag_for_course(replace(BAG, target_score=90, playing_handicap=None), guessed)
        # Derived: par of the walk is 36, and nine holes at one stroke over each.
        assert bag.target_score == 45
        assert "90 for 18 holes counts as 45 for the 9 found" in told

    def test_a_target_for_nine_stays(self, guessed):
        bag = replace(BAG, target_score=45, playing_handicap=None)
        assert bag_for_course(bag, guessed) == (bag, None)


class TestHintsOf:
    def test_card_as_played(self):
        card = pd.DataFrame(
            {
                "hole": [1, 2, 3],
                "strokes": pd.array([5, 6, None], dtype="Int64"),
                "putts": pd.array([2, None, 1], dtype="Int64"),
                "penalties": pd.array([0, 1, None], dtype="Int64"),
            }
        )
        # Derived: 5 - 2 putts; 6 - 1 penalty and one to three putts; a hole picked up says nothing.
        scorecard = pd.DataFrame({"hole": [1, 2, 3], "par": 4, "length_m": 300.0})
        assert [hint.shots for hint in hints_of(scorecard, card)] == [(3, 3), (2, 4), None]
        # Three rows alone do not tell which holes the course has.
        assert hints_of(None, card) == []

    def test_nothing_known(self):
        assert hints_of(None, None) == []


def test_settings_are_positive():
    for name in GuessSettings.__slots__:
        assert np.all(np.asarray(getattr(GuessSettings(), name)) > 0), name
