"""What card and corrections say of holes together."""

import pandas as pd

from tests.shapes import card_of
from trackgolf.corrections import Correction, Corrections
from trackgolf.shots import Visit
from trackgolf.told import Told, tell_holes, tell_visits

# Invented values.
CARD = card_of((1, 5, 2, 0), (2, None, None, 1), (3, 4, None, None))


def said(*entries):
    return Corrections(tuple(Correction(f"c{n}", **entry) for n, entry in enumerate(entries)))


def visit(number, hole, start_s):
    return Visit(hole, number, 3, 0, 9, 0.9, start_s, start_s + 300.0, start_s + 420.0)


class TestHoles:
    def test_the_card(self):
        told = tell_holes(CARD, None)
        assert told == {1: Told(5, 2, 0), 2: Told(None, None, 1, picked_up=True), 3: Told(4)}
        assert told[1].source("putts") == "card"

    def test_a_card_of_putts_alone_picks_up_nothing(self):
        assert tell_holes(card_of((1, None, 2, None)), None) == {1: Told(putts=2)}

    def test_neither(self):
        assert tell_holes(None, None) == {}

    def test_corrections_go_over_the_card_and_the_last_of_them_counts(self):
        told = tell_holes(
            CARD,
            said(
                {"what": "putts", "hole": 1, "putts": 3},
                {"what": "putts", "hole": 1, "putts": 1},
                {"what": "strokes", "hole": 2, "strokes": 9},
                {"what": "picked_up", "hole": 3, "picked_up": True},
                {"what": "penalties", "hole": 7, "penalties": 2},
            ),
        )
        assert told[1] == Told(5, 1, 0, corrected=frozenset({"putts"}))
        assert told[1].source("putts") == "corrected"
        # Strokes say that the hole was finished, and a hole picked up has none.
        assert (told[2].strokes, told[2].picked_up) == (9, False)
        assert (told[3].strokes, told[3].picked_up) == (None, True)
        # A score it does not have is not one the player set right.
        assert told[3].corrected == {"picked_up"}
        assert told[7].penalties == 2

    def test_corrections_of_shots_say_nothing_here(self):
        time = pd.Timestamp("2026-05-03T08:00:00Z")
        assert tell_holes(None, said({"what": "penalty", "hole": 1, "time": time, "penalty": 1})) == {}


class TestRoom:
    def test_penalties_that_strokes_and_putts_leave(self):
        # By definition (README): strokes = shots + putts + penalties.
        assert Told(7, 2, None).penalty_room(4) == 1
        assert Told(7, 2, None).penalty_room(6) == 0
        assert Told(7, 2, 3).penalty_room(4) == 3
        assert Told(7, None, None).penalty_room(4) is None
        assert Told().penalty_room(4) is None

    def test_shots_that_strokes_leave(self):
        assert Told(7, 2, 1).most_shots == 4
        assert Told(7).most_shots == 7
        assert Told(1, 2, 1).most_shots == 1
        assert Told(None, 2, 1).most_shots is None


class TestVisits:
    VISITS = (visit(0, 1, 1000.0), visit(1, 2, 2000.0), visit(2, 1, 9000.0))

    def test_a_card_speaks_of_every_playing(self):
        told, left = tell_visits(CARD, None, self.VISITS)
        assert told[0] == told[2] == Told(5, 2, 0)
        assert left == []

    def test_a_correction_with_a_time_speaks_of_the_playing_nearest_to_it(self):
        time = pd.Timestamp(8_700.0, unit="s", tz="UTC")
        told, _ = tell_visits(None, said({"what": "putts", "hole": 1, "time": time, "putts": 4}), self.VISITS)
        assert [told[number].putts for number in (0, 1, 2)] == [None, None, 4]

    def test_without_a_time_of_all(self):
        told, _ = tell_visits(None, said({"what": "putts", "hole": 1, "putts": 4}), self.VISITS)
        assert [told[number].putts for number in (0, 1, 2)] == [4, None, 4]

    def test_a_hole_that_was_not_found_is_told(self):
        corrections = said({"what": "putts", "hole": 5, "putts": 4})
        told, left = tell_visits(None, corrections, self.VISITS)
        assert left == list(corrections.entries)
        assert all(known == Told() for known in told.values())
