"""What the player says, laid over the evidence: against brute force, and one kind of correction at a time."""

import math
from dataclasses import replace
from functools import lru_cache
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.special import logsumexp

from tests.shapes import STRAIGHT, tiny_course, tiny_hole
from tests.trackgolf.test_decode import all_stories, random_evidence
from trackgolf.corrections import Correction, Corrections
from trackgolf.course import Course
from trackgolf.decode import IMPOSSIBLE, Event, Story, best_story, probabilities
from trackgolf.ground import lay_ground
from trackgolf.pinned import Pins, beside_removed, named_tee, pin_evidence, unfitting, widened, without_pauses
from trackgolf.settings import RoundSettings
from trackgolf.shots import Said
from trackgolf.told import Told

# Only the numbers of its holes are asked for here.
GROUND = SimpleNamespace(holes=(SimpleNamespace(number=1), SimpleNamespace(number=2)))
CLOCK = pd.DataFrame({"start_s": np.arange(5.0) * 100.0, "end_s": np.arange(5.0) * 100.0 + 40.0})


def pins_of(holes, *, ends=None, **more):
    said = {stand: Said(100.0 * stand, end_lie=(ends or {}).get(stand)) for stand in holes}
    return Pins(CLOCK, said, dict(holes), entries={stand: [] for stand in holes}, **more)


@lru_cache(maxsize=8)
def weighed(seed):
    rng = np.random.default_rng(seed)
    evidence = random_evidence(rng, stands=5, holes=2, counts=4, window=4)
    # A hole confirmed is not given up and begun anew; here none is.
    evidence = replace(evidence, order=np.where(np.eye(2), IMPOSSIBLE, evidence.order))
    stories = list(all_stories(evidence))
    return evidence, stories


def conditional(stories, allowed):
    """Probabilities of shots over the stories that are allowed, added up one by one."""
    kept = [(score, shots) for score, shots, _ in stories if allowed(shots)]
    scores = np.array([score for score, _ in kept])
    total = float(logsumexp(scores))
    chance = np.zeros((5, 2))
    for score, shots in kept:
        for stand, hole in shots:
            chance[stand, hole] += math.exp(score - total)
    return kept[int(np.argmax(scores))][1], chance


class TestBruteForce:
    # Derived: to be told that a stand is a shot is to condition on it (Bayes); the rest keeps its odds.
    @pytest.mark.parametrize(
        "holes", [{2: 0}, {0: 1, 3: 1}, {1: 0, 3: 1}, {0: 0, 1: 1, 2: 0, 3: 1, 4: 0}, {4: 1}]
    )
    @pytest.mark.parametrize("seed", [0, 1])
    def test_a_confirmed_shot_conditions_all_others_on_it(self, holes, seed):
        evidence, stories = weighed(seed)
        best, chance = conditional(stories, lambda shots: all(item in shots for item in holes.items()))
        pinned = pin_evidence(evidence, pins_of(holes), GROUND, {})
        story = best_story(pinned)
        assert {(event.stand, event.hole) for event in story.events if event.kind == "shot"} == set(best)
        shot, _, _ = probabilities(pinned)
        assert shot == pytest.approx(chance, abs=1e-9)
        for stand, hole in holes.items():
            assert shot[stand, hole] == pytest.approx(1.0, abs=1e-9)
            assert shot[stand, 1 - hole] == 0.0

    @pytest.mark.parametrize("removed", [(2,), (0, 4), (1, 2, 3)])
    def test_a_removed_shot_leaves_the_odds_of_the_others(self, removed):
        evidence, stories = weighed(2)
        best, chance = conditional(
            stories, lambda shots: not {stand for stand, _ in shots}.intersection(removed)
        )
        pinned = pin_evidence(evidence, pins_of({}, removed=removed), GROUND, {})
        assert probabilities(pinned)[0] == pytest.approx(chance, abs=1e-9)
        shots = {(event.stand, event.hole) for event in best_story(pinned).events if event.kind == "shot"}
        assert shots == set(best)

    def test_a_hole_not_played(self):
        evidence, stories = weighed(3)
        _, chance = conditional(stories, lambda shots: all(hole == 0 for _, hole in shots))
        pinned = pin_evidence(evidence, pins_of({}, not_played=(1,)), GROUND, {})
        assert probabilities(pinned)[0] == pytest.approx(chance, abs=1e-9)

    def test_a_settled_hole_has_the_confirmed_shots_and_no_others(self):
        evidence, _ = weighed(4)
        pinned = pin_evidence(evidence, pins_of({1: 0, 2: 0}, closed=((0, -math.inf, math.inf),)), GROUND, {})
        shot, _, _ = probabilities(pinned)
        assert shot[:, 0] == pytest.approx([0, 1, 1, 0, 0], abs=1e-9)
        assert not [
            event for event in best_story(pinned).events if event.kind == "unseen" and event.hole == 0
        ]

    def test_a_settled_playing_leaves_the_other_alone(self):
        evidence, _ = weighed(4)
        pins = pins_of({1: 0}, closed=((0, 0.0, 240.0),))
        shot, _, _ = probabilities(pin_evidence(evidence, pins, GROUND, {}))
        # Stands begin every 100 s: those up to the third are settled.
        assert shot[[0, 2], 0].tolist() == [0.0, 0.0]
        assert np.all(shot[3:, 0] > 0.0)

    def test_nothing_said_changes_nothing(self):
        evidence, _ = weighed(5)
        assert pin_evidence(evidence, pins_of({}), GROUND, {1: Told(5, 2, 0)}) is evidence

    def test_even_what_cannot_be_is_believed(self):
        evidence, _ = weighed(6)
        tee, shot = evidence.tee.copy(), evidence.shot.copy()
        tee[2] = shot[2] = IMPOSSIBLE
        evidence = replace(evidence, tee=tee, shot=shot)
        pinned = pin_evidence(evidence, pins_of({2: 1}), GROUND, {})
        assert probabilities(pinned)[0][2, 1] == pytest.approx(1.0, abs=1e-9)
        assert evidence.tee[2, 1] == IMPOSSIBLE


class TestEnds:
    @pytest.mark.parametrize("seed", range(4))
    @pytest.mark.parametrize("end", ["green", "holed", "picked_up", "rough", "lost", "penalty_area"])
    def test_what_follows_a_shot_is_what_its_end_allows(self, end, seed):
        evidence, _ = weighed(seed)
        story = best_story(pin_evidence(evidence, pins_of({1: 0}, ends={1: end}), GROUND, {}))
        mine = [event for event in story.events if event.visit == story.events[0].visit or event.stand >= 1]
        place = next(i for i, event in enumerate(mine) if event.stand == 1 and event.kind == "shot")
        visit = mine[place].visit
        after = [event.kind for event in mine[place + 1 :] if event.visit == visit]
        if end in ("green", "holed"):
            assert "shot" not in after
        elif end == "picked_up":
            assert after == []
        else:
            assert after[:1] != ["green"]

    def test_an_end_is_no_reason_to_lose_another_confirmed_shot(self):
        evidence, _ = weighed(1)
        pinned = pin_evidence(evidence, pins_of({1: 0, 3: 0}, ends={1: "holed"}), GROUND, {})
        assert probabilities(pinned)[0][[1, 3], 0] == pytest.approx([1.0, 1.0], abs=1e-9)


class TestCount:
    @pytest.mark.parametrize(
        ("told", "most"), [(Told(5, 2, 1), 2), (Told(3, None, None), 3), (Told(1, 2), 1)]
    )
    def test_strokes_set_right_leave_no_room_for_more_shots(self, told, most):
        # By definition (README): strokes = shots + putts + penalties, and a hole begins with a shot.
        evidence, _ = weighed(7)
        said = Told(told.strokes, told.putts, told.penalties, corrected=frozenset({"strokes"}))
        pinned = pin_evidence(evidence, pins_of({}), GROUND, {1: said})
        assert np.all(pinned.count[0, most + 1 :] < -900.0)
        assert pinned.count[0, : most + 1] == pytest.approx(evidence.count[0, : most + 1])
        assert pinned.count[1] == pytest.approx(evidence.count[1])

    def test_a_card_is_weighed_elsewhere(self):
        evidence, _ = weighed(7)
        assert pin_evidence(evidence, pins_of({}), GROUND, {1: Told(5, 2, 1)}) is evidence

    def test_penalties_said_of_shots_are_the_least_a_hole_has(self):
        pins = Pins(
            CLOCK,
            {0: Said(0.0, penalty=1), 1: Said(1.0, penalty=1), 2: Said(2.0, penalty=1)},
            {0: 0, 1: 0, 2: 1},
        )
        assert [pins.penalties_on(0, known) for known in (None, 0, 1, 3)] == [2, 2, 2, 3]
        assert Pins(CLOCK).penalties_on(0, None) is None
        assert Pins(CLOCK).penalties_on(0, 0) == 0


class TestBounds:
    def test_more_shots_on_a_hole_than_the_search_counts(self):
        settings = RoundSettings(most_shots=3, most_stands_between=4)
        wide = widened(settings, pins_of(dict.fromkeys(range(5), 0)))
        assert wide.most_shots >= 5
        assert widened(settings, pins_of({})) is settings

    def test_further_apart_than_the_search_looks(self):
        settings = RoundSettings(most_stands_between=2)
        assert widened(settings, pins_of({0: 0, 4: 0})).most_stands_between == 4
        # Shots of two holes need no flight between them.
        assert widened(settings, pins_of({0: 0, 4: 1})).most_stands_between == 2

    def test_what_is_not_honoured_is_told(self):
        entry = Correction("c1", "confirm", hole=1, time=pd.Timestamp("2026-05-03T08:00:00Z"))
        pins = Pins(CLOCK, {2: Said(200.0)}, {2: 0}, entries={2: [entry]})
        assert [item.id for item in unfitting([], pins, Story((), (), 0.0))] == ["c1"]
        unplayed = unfitting([Correction("c2", "putts", hole=7, putts=2)], Pins(CLOCK), Story((), (), 0.0))
        assert [(item.id, item.hole) for item in unplayed] == [("c2", 7)]
        assert (
            unplayed[0].why
            == "correction 'c2' (putts) fits nothing: hole 7 is not found in the track; it is kept"
        )


class TestTee:
    COURSE = tiny_course(tiny_hole(1, STRAIGHT), tiny_hole(2, ((60, 300), (60, 150)), par=3))

    def named(self, said, tee=None, names=("White", "Red")):
        table = pd.concat([self.COURSE.shapes] * 2, ignore_index=True)
        table["name"] = [name for name in names for _ in range(2)]
        course = Course("Invented Links", self.COURSE.holes, table, tee=tee, tees=names, invented=True)
        corrections = Corrections((Correction("c1", "tee", tee=said),) if said else ())
        return named_tee(corrections, course, lay_ground(course))

    def test_the_tee_the_player_names_is_taken(self):
        tee, misfits = self.named("red")
        assert tee.name == "Red"
        assert misfits == []

    def test_nothing_said(self):
        assert self.named(None) == (None, [])
        assert named_tee(None, self.COURSE, lay_ground(self.COURSE)) == (None, [])

    def test_a_tee_that_is_not_there(self):
        tee, misfits = self.named("gold")
        assert tee is None
        assert "the course has no tee 'gold'" in misfits[0].why

    def test_a_course_read_for_a_tee(self):
        assert self.named("white", tee="White") == (None, [])
        assert "is laid on the tee 'White'" in self.named("red", tee="White")[1][0].why


def test_large_scores_do_not_blur_the_way_back():
    # A round's worth of confirmed shots makes large scores; the story must still be the best one.
    rng = np.random.default_rng(11)
    evidence = random_evidence(rng, stands=120, holes=3, counts=14, window=12)
    holes = {stand: int(rng.integers(3)) for stand in range(0, 120, 2)}
    clock = pd.DataFrame({"start_s": np.arange(120.0), "end_s": np.arange(120.0)})
    pins = Pins(clock, {stand: Said(float(stand)) for stand in holes}, holes)
    ground = SimpleNamespace(holes=tuple(SimpleNamespace(number=number) for number in (1, 2, 3)))
    pinned = pin_evidence(evidence, pins, ground, {})
    story = best_story(pinned)
    found = {(event.stand, event.hole) for event in story.events if event.kind == "shot"}
    assert set(holes.items()) <= found
    # Events come in order, and no stand is two shots.
    stands = [event.stand for event in story.events if event.kind == "shot"]
    assert stands == sorted(set(stands))
    shot = probabilities(pinned)[0]
    assert all(shot[stand, hole] > 1.0 - 1e-8 for stand, hole in holes.items())


class TestPauses:
    # Derived: gaps of 3, 4, 5 and 60 s between stands that lie 5, 9, 12 and 12 m from the first.
    STANDS = pd.DataFrame(
        {
            "start_s": [0.0, 43.0, 64.0, 75.0, 140.0],
            "end_s": [40.0, 60.0, 70.0, 80.0, 150.0],
            "east_m": [0.0, 3.0, 9.0, 12.0, 12.0],
            "north_m": [0.0, 4.0, 0.0, 0.0, 0.0],
        }
    )

    @pytest.mark.parametrize(
        ("removed", "beside"),
        [((), ()), ((0,), (1, 2)), ((2,), (0, 1, 3)), ((4,), ()), ((0, 2), (1, 3)), ((3,), (1, 2))],
    )
    def test_are_stands_next_to_it_in_time_and_place(self, removed, beside):
        assert beside_removed(Pins(self.STANDS, removed=removed)) == beside

    def test_leave_out_what_the_player_calls_a_shot(self):
        assert beside_removed(Pins(self.STANDS, {1: Said(50.0)}, {1: 0}, removed=(0,))) == (2,)

    def test_leave_alone_what_was_a_shot_beside_it_all_along(self):
        before = Story(
            (Event(0, 0, 1, "shot", 0), Event(1, 0, 2, "shot", 0), Event(2, 0, 2, "green", 0)), (0,), 0.0
        )
        assert without_pauses(Pins(self.STANDS, removed=(0,)), before).removed == (0, 2)
