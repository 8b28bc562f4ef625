"""All evidence of a round together: the card's counts, marks, the order of holes, what cannot be."""

from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest

from geo.stops import find_stops
from tests.shapes import STRAIGHT, lonlat, tiny_bag, tiny_course, tiny_hole, trail_through
from trackgolf.decode import IMPOSSIBLE, best_story, probabilities
from trackgolf.evidence import Shooter
from trackgolf.ground import lay_ground
from trackgolf.settings import RoundSettings
from trackgolf.stand_context import stand_inputs
from trackgolf.stand_net import stand_net
from trackgolf.weigh import HoleCount, _pairs, mark_cost, weigh_round

SETTINGS = RoundSettings()
BAG = tiny_bag()
NO_MARKS = (np.empty(0), np.empty(0), np.empty(0))
COURSE = tiny_course(
    tiny_hole(1, STRAIGHT),
    tiny_hole(2, ((60, 300), (60, 150)), par=3),
    tiny_hole(3, ((120, 150), (120, 550)), par=5),
)
ONE = [(0, 0, 50), (5, 150, 40), (0, 262, 40), (2, 302, 90)]
TWO = [(60, 300, 60), (60, 148, 80)]
THREE = [(120, 150, 50), (125, 300, 40), (118, 420, 40), (120, 551, 90)]
COUNTS = (HoleCount(3), HoleCount(2), HoleCount(4))


def weighed(places=(*ONE, *TWO, *THREE), *, counts=COUNTS, marks=(), course=COURSE, settings=SETTINGS):
    """Weigh a walk through places (east, north, seconds); marks are (second or NaN, east, north)."""
    ground = lay_ground(course)
    trail, _ = trail_through(*places)
    east, north = (
        np.asarray(values) for values in ground.frame.to_metres(*lonlat(trail.east_m, trail.north_m))
    )
    stands = find_stops(trail.time_s, east, north, settings.stops)
    shooter = Shooter(
        np.array([club.distance_m for club in BAG.clubs]),
        np.array([club.spread_long_m for club in BAG.clubs]),
        settings,
    )
    given = NO_MARKS
    if marks:
        columns = np.array(marks, dtype=float)
        mark_east, mark_north = ground.frame.to_metres(*lonlat(columns[:, 1], columns[:, 2]))
        given = (columns[:, 0], np.asarray(mark_east), np.asarray(mark_north))
    size = len(ground.holes)
    walk = (trail.time_s, east, north)
    evidence = weigh_round(
        stands,
        walk,
        ground,
        [shooter] * size,
        list(counts),
        given,
        settings,
        stand_net().scores(stand_inputs(stands, walk, ground, settings)),
    )
    return evidence, stands


def shots_of(counts):
    """Probabilities of the shots off the green on the first hole, by count."""
    evidence, _ = weighed(counts=(counts, *COUNTS[1:]))
    weights = np.exp(evidence.count[0])
    return weights / weights.sum()


class TestShape:
    def test_every_table_has_its_shape_and_no_nan(self):
        evidence, stands = weighed()
        size, holes = len(stands), 3
        window = evidence.flight.shape[1]
        for name in ("tee", "shot", "arrive", "after", "from_tee"):
            assert getattr(evidence, name).shape == (size, holes)
        for name in ("flight", "flight_green", "unseen", "unseen_green"):
            assert getattr(evidence, name).shape == (size, window, holes)
        assert evidence.count.shape == evidence.count_picked.shape == (holes, SETTINGS.most_shots + 1)
        assert evidence.order.shape == (holes, holes)
        for item in fields(evidence):
            assert not np.isnan(getattr(evidence, item.name)).any()
            assert np.all(np.asarray(getattr(evidence, item.name)) < 1e3)

    def test_one_stand_is_enough(self):
        evidence, stands = weighed([(0, 0, 50)])
        assert len(stands) == 1
        assert not np.isnan(evidence.tee).any()

    def test_a_stand_far_from_a_hole_is_no_shot_on_it(self):
        evidence, stands = weighed([*ONE, (900, 300, 60), *TWO])
        far = int(np.argmax(stands["dwell_s"].where(stands["east_m"] > 500)))
        assert np.all(evidence.tee[far] <= IMPOSSIBLE / 2)
        assert np.all(evidence.shot[far] <= IMPOSSIBLE / 2)
        assert np.all(evidence.arrive[far] <= IMPOSSIBLE / 2)


class TestPlace:
    def test_each_stand_speaks_for_what_it_was(self):
        evidence, _ = weighed()
        # Stands in order: three shots and the green of hole 1, tee and green of hole 2, three shots and green of hole 3.
        assert np.argmax(evidence.tee[:, 0]) == 0
        assert np.argmax(evidence.tee[:, 1]) == 4
        assert np.argmax(evidence.tee[:, 2]) == 6
        assert np.argmax(evidence.arrive[:, 0]) == 3
        assert np.argmax(evidence.arrive[:, 1]) == 5
        assert np.argmax(evidence.arrive[:, 2]) == 9

    def test_the_search_makes_the_round_of_it(self):
        evidence, _ = weighed()
        story = best_story(evidence)
        assert story.visits == (0, 1, 2)
        assert [event.stand for event in story.events if event.kind == "shot"] == [0, 1, 2, 4, 6, 7, 8]
        assert [event.stand for event in story.events if event.kind == "green"] == [3, 5, 9]

    def test_back_at_the_same_spot_counts_only_after_having_been_away(self):
        lost = [(0, 0, 50), (60, 150, 150), (0, 0, 45), (5, 155, 40), (2, 302, 90)]
        stayed = [(0, 0, 50), (6, 8, 20), (0, 0, 45), (5, 155, 40), (2, 302, 90)]
        # The third stand back to the first: two places.
        away, near = (weighed([*way, *TWO])[0].flight[2, 1, 0] for way in (lost, stayed))
        assert away > near

    def test_another_stroke_from_off_the_green_is_rare_after_a_long_stand_on_it(self):
        # Stands 3 and 4 of the first hole: on the green, and 40 m beside it, towards the next tee; the rest is as it was.
        places = (*ONE, (40, 300, 40), *TWO, *THREE)
        first, _ = weighed(places)
        never, stands = weighed(places, settings=replace(SETTINGS, putting_s=1000.0))
        assert stands["dwell_s"][3] > SETTINGS.putting_s
        # From stand 2, before the green, to stand 4: one stand lies between. Derived: the share itself.
        assert first.flight[4, 1, 0] - never.flight[4, 1, 0] == pytest.approx(np.log(SETTINGS.back_off_green))
        assert first.flight[2, 0, 0] == never.flight[2, 0, 0]
        assert first.flight[3, 0, 0] == never.flight[3, 0, 0]


class TestCard:
    # By definition (README): strokes = shots + putts + penalties.
    @pytest.mark.parametrize(
        ("told", "shots"),
        [
            (HoleCount(3, 5, 2, 0, carded=True), 3),
            (HoleCount(3, 6, 2, 1, carded=True), 3),
            (HoleCount(3, 9, 1, 0, carded=True), 8),
            (HoleCount(3, 1, 0, 0, carded=True), 1),
        ],
    )
    def test_strokes_putts_and_penalties_leave_one_count(self, told, shots):
        weights = shots_of(told)
        assert int(np.argmax(weights)) == shots
        assert weights[shots] > 0.95
        # A card may be written wrong: no count is out of the question.
        assert np.all(weights[1:] > 0.0)
        assert weights[0] == 0.0

    def test_without_putts_the_usual_two_are_likeliest(self):
        weights = shots_of(HoleCount(3, 5, None, 0, carded=True))
        # common practice, no source: two putts, then one or three.
        assert int(np.argmax(weights)) == 3
        assert weights[2] + weights[3] + weights[4] > 0.8
        assert weights[6] < 0.01

    def test_without_penalties_none_is_likeliest(self):
        weights = shots_of(HoleCount(3, 6, 2, None, carded=True))
        assert weights[4] > weights[3] > weights[2]

    def test_a_card_that_cannot_be_is_passed_over(self):
        # Two strokes, of which three putts.
        assert shots_of(HoleCount(3, 2, 3, 0, carded=True)) == pytest.approx(shots_of(HoleCount(3)), abs=0.01)

    def test_without_a_card_about_the_regulation_is_likeliest(self):
        for regulation in (1, 2, 3, 5, 7):
            weights = shots_of(HoleCount(regulation))
            mean = float(weights @ np.arange(weights.size))
            assert regulation - 1 <= np.argmax(weights) <= regulation + 2
            assert regulation - 1 < mean < regulation + 3

    def test_a_row_without_strokes_is_a_hole_picked_up(self):
        left_out, _ = weighed(counts=(HoleCount(3, carded=True), *COUNTS[1:]))
        written, _ = weighed(counts=(HoleCount(3, 5, 2, 0, carded=True), *COUNTS[1:]))
        silent, _ = weighed()
        assert left_out.count_picked[0, 2] > silent.count_picked[0, 2] > written.count_picked[0, 2]

    def test_the_card_decides_between_two_stories(self):
        # A stand of 40 s between approach and green: a shot with six strokes, none with five.
        places = [*ONE[:3], (8, 275, 40), ONE[3], *TWO, *THREE]
        for strokes, shots in ((5, 3), (6, 4)):
            counts = (HoleCount(3, strokes, 2, 0, carded=True), *COUNTS[1:])
            story = best_story(weighed(places, counts=counts)[0])
            assert sum(event.kind != "green" and event.visit == 0 for event in story.events) == shots


class TestMarks:
    def test_a_mark_at_a_stand_speaks_for_a_shot(self):
        plain, _ = weighed()
        marked, _ = weighed(marks=[(200.0, 5.0, 150.0)])
        assert marked.shot[1, 0] > plain.shot[1, 0] + 1.0
        # One mark in ten stands says next to nothing about the others.
        assert marked.shot[2, 0] == pytest.approx(plain.shot[2, 0], abs=0.5)

    def test_who_marks_nearly_every_shot_says_something_by_not_marking(self):
        places = [*ONE[:2], (5, 200, 40), *ONE[2:], *TWO, *THREE]
        at = [(np.nan, east, north) for east, north, _ in places if (east, north) != (5, 200)]
        plain, marked = weighed(places)[0], weighed(places, marks=at)[0]
        assert marked.shot[2, 0] < plain.shot[2, 0] - 1.0
        assert probabilities(marked)[0][2, 0] < probabilities(plain)[0][2, 0]

    def test_a_mark_elsewhere_or_at_another_time_says_nothing(self):
        plain, _ = weighed()
        for mark in ((200.0, 400.0, 400.0), (9000.0, 5.0, 150.0)):
            assert weighed(marks=[mark])[0].shot == pytest.approx(plain.shot)

    def test_cost_is_a_distance_in_place_and_time(self):
        stands = pd.DataFrame(
            {"start_s": [100.0, 300.0], "end_s": [140.0, 340.0], "east_m": [0.0, 0.0], "north_m": [0.0, 50.0]}
        )
        here = mark_cost(stands, 120.0, 0.0, 0.0, SETTINGS)
        assert here[0] == 0.0
        assert here[1] > 1.0
        # Derived: at the edge of both scales, and the same a mark's reach away in place alone.
        assert mark_cost(stands, 140.0 + SETTINGS.mark_s, 0.0, 0.0, SETTINGS)[0] == pytest.approx(1.0)
        assert mark_cost(stands, 100.0 - SETTINGS.mark_s, 0.0, 0.0, SETTINGS)[0] == pytest.approx(1.0)
        assert mark_cost(stands, np.nan, SETTINGS.mark_m, 0.0, SETTINGS)[0] == pytest.approx(1.0)


class TestOrder:
    def many(self, count):
        holes = [tiny_hole(number, ((60 * number, 0), (60 * number, 300))) for number in range(1, count + 1)]
        places = [(60, 0, 50), (60, 150, 40), (60, 302, 60)]
        return weighed(places, course=tiny_course(*holes), counts=[HoleCount(3)] * count)[0]

    def test_the_next_hole_is_likeliest_and_any_other_possible(self):
        order = self.many(9).order
        for hole in range(8):
            assert int(np.argmax(order[hole])) == hole + 1
        assert np.isfinite(order).all()
        assert np.all(order > IMPOSSIBLE / 2)

    @pytest.mark.parametrize("count", [1, 2, 3, 9, 18])
    def test_a_round_usually_begins_with_the_first_hole_and_ends_with_the_last(self, count):
        evidence = self.many(count)
        assert int(np.argmax(evidence.start)) == 0
        assert int(np.argmax(evidence.end)) == count - 1

    def test_back_nine_first_and_nine_holes_are_usual(self):
        evidence = self.many(18)
        start, end = np.argsort(evidence.start)[::-1], np.argsort(evidence.end)[::-1]
        assert set(start[:2]) == {0, 9}
        assert set(end[:2]) == {17, 8}


def test_settings_arrive():
    sure = replace(SETTINGS, card_error=0.2)
    told = (HoleCount(3, 5, 2, 0, carded=True), *COUNTS[1:])
    strict, loose = (np.exp(weighed(counts=told, settings=given)[0].count[0]) for given in (SETTINGS, sure))
    assert loose[3] / loose.sum() < strict[3] / strict.sum()


def test_pairs_are_all_that_lie_within_the_window():
    # Derived: by trying every two of them.
    where = np.array([0, 1, 2, 5, 6, 30, 33, 34, 64])
    later, earlier = _pairs(where, 30)
    wanted = {(one, two) for one in range(where.size) for two in range(one) if where[one] - where[two] <= 30}
    assert set(zip(later.tolist(), earlier.tolist(), strict=True)) == wanted
    assert later.size == len(wanted)
