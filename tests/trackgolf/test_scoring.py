"""Adding up holes: shots, putts, penalties, and what is said where card and track disagree."""

import numpy as np
import pandas as pd
import pytest

from tests.shapes import START_S, STRAIGHT, card_of, lonlat, tiny_course, tiny_hole
from trackgolf.corrections import Correction, Corrections
from trackgolf.ground import lay_ground
from trackgolf.personal_par import personal_pars
from trackgolf.scoring import HOLE_COLUMNS, holes_unseen, score_holes
from trackgolf.settings import RoundSettings
from trackgolf.shots import Said, Visit
from trackgolf.told import tell_holes, tell_visits

# What users of holes.csv rely on (README), in this order; not an outside source.
CONTRACT = (
    "hole", "par", "stroke_index", "length_m", "personal_par", "regulation_shots", "shots", "putts", "penalties", "strokes",
)  # fmt: skip
COURSE = tiny_course(
    tiny_hole(1, STRAIGHT),
    tiny_hole(2, ((60, 300), (60, 150)), par=3),
    tiny_hole(3, ((120, 0), (120, 480)), par=5),
)
SETTINGS = RoundSettings()


def visit_of(*, hole=1, shots=3, unseen=0, green=9, visit=0, on_green_s=120.0):
    start = START_S + 600.0 * visit
    reached = green is not None
    return Visit(
        hole,
        visit,
        shots,
        unseen,
        green,
        0.9 if reached else 0.0,
        start,
        start + 300.0 if reached else float("nan"),
        start + 300.0 + on_green_s,
    )


def scored(
    *visits, card=None, penalties=(), stands=None, handicap=0, end_lie="rough", corrections=None, said=None
):
    """Add up visits; `penalties` lists the strokes and distances that the track shows as (visit, shot)."""
    ground = lay_ground(COURSE)
    shots = pd.DataFrame(
        [
            {
                "hole": visit.hole,
                "visit": visit.visit,
                "shot": number,
                "confidence": 0.9 - 0.1 * number,
                "penalty": int((visit.visit, number) in penalties),
                "end_lie": "green" if number == visit.shots and visit.green is not None else end_lie,
                "corrected": False,
                "stand": 10 * visit.visit + number,
            }
            for visit in visits
            for number in range(1, visit.shots + 1 - visit.unseen)
        ],
        columns=["hole", "visit", "shot", "confidence", "penalty", "end_lie", "corrected", "stand"],
    )
    if stands is None:
        east, north = ground.frame.to_metres(
            *lonlat(np.array([0.0, 60.0, 120.0]), np.array([300.0, 150.0, 480.0]))
        )
        rows = [
            {
                "start_s": visit.green_s,
                "end_s": visit.end_s,
                "east_m": east[visit.hole - 1],
                "north_m": north[visit.hole - 1],
            }
            for visit in visits
            if visit.green is not None
        ]
        stands = pd.DataFrame(rows, columns=["start_s", "end_s", "east_m", "north_m"])
    pars = personal_pars(COURSE.holes, playing_handicap=handicap)
    told, _ = tell_visits(card, corrections, visits)
    return score_holes(shots, list(visits), stands, ground, COURSE, pars, told, SETTINGS, said)


def score_of(*visits, **options):
    table, doubts = scored(*visits, **options)
    row = table.iloc[0]
    return {name: None if pd.isna(row[name]) else row[name] for name in table.columns}, [
        text for _, text in doubts
    ]


class TestSum:
    def test_columns_of_the_contract_come_in_its_order(self):
        table, _ = scored(visit_of())
        assert tuple(table.columns) == HOLE_COLUMNS
        assert HOLE_COLUMNS[: len(CONTRACT)] == CONTRACT

    @pytest.mark.parametrize(
        ("shots", "card", "wanted"),
        [
            # shots, putts, penalties, strokes
            (3, (1, 5, 2, 0), (3, 2, 0, 5)),
            (3, (1, 6, 2, 1), (3, 2, 1, 6)),
            (3, (1, 5, 2, None), (3, 2, 0, 5)),
            (3, (1, 4, None, 0), (3, 1, 0, 4)),
            (3, (1, 5, None, None), (3, 2, 0, 5)),
            (2, (1, 2, 0, 0), (2, 0, 0, 2)),
            (1, (1, 1, 0, 0), (1, 0, 0, 1)),
        ],
    )
    def test_strokes_are_shots_and_putts_and_penalties(self, shots, card, wanted):
        row, doubts = score_of(visit_of(shots=shots), card=card_of(card))
        assert (row["shots"], row["putts"], row["penalties"], row["strokes"]) == wanted
        assert row["strokes"] == row["shots"] + row["putts"] + row["penalties"]
        assert row["card_strokes"] == card[1]
        assert (row["strokes_source"], row["putts_source"]) == ("card", "card")
        assert doubts == []

    def test_stroke_and_distance(self):
        # Source: Rules of Golf 2023, 18.1 and 18.2: tee, tee again under penalty, on, two putts = 1+1+1+1+2 = 6 strokes.
        row, doubts = score_of(visit_of(shots=3), card=card_of((1, 6, 2, None)), penalties=[(0, 1)])
        assert (row["shots"], row["penalties"], row["putts"], row["strokes"]) == (3, 1, 2, 6)
        assert doubts == []

    def test_stroke_and_distance_without_a_card(self):
        row, _ = score_of(visit_of(shots=3), penalties=[(0, 1)])
        assert row["strokes"] == 3 + 1 + row["putts"]
        assert row["strokes_source"] == "track"

    def test_strokes_only_the_card_knows_are_counted_and_said(self):
        row, doubts = score_of(visit_of(shots=3), card=card_of((1, 7, 2, None)))
        assert (row["shots"], row["penalties"], row["strokes"]) == (5, 0, 7)
        assert doubts == [
            "2 strokes left no stop in the track, or came from a penalty, and are counted, not drawn"
        ]

    def test_air_shots_of_which_only_the_card_knows(self):
        # Source: Rules of Golf 2023, Definitions, Stroke: a swing at the ball counts, whether it is hit or not. Derived: a
        # miss beside the ball and three shots, two putts and no penalty are six strokes.
        row, doubts = score_of(visit_of(shots=3), card=card_of((1, 6, 2, 0)))
        assert (row["shots"], row["putts"], row["penalties"], row["strokes"]) == (4, 2, 0, 6)
        assert row["strokes_source"] == "card"
        assert doubts == ["1 stroke left no stop in the track and is counted, not drawn"]

    def test_a_stroke_counts_towards_regulation_though_it_left_no_stop(self):
        row, _ = score_of(visit_of(shots=3), card=card_of((1, 6, 2, 0)), handicap=18)
        assert (row["regulation_shots"], row["reached_in_regulation"]) == (3, "no")

    def test_a_putt_conceded_is_a_putt(self):
        # Source: Rules of Golf 2023, 3.2b(2): the stroke conceded counts and completes the hole. It leaves no stop: on the
        # green only as long as one putt takes, and the card has two.
        row, doubts = score_of(visit_of(shots=3, on_green_s=5.0), card=card_of((1, 5, 2, 0)))
        assert (row["putts"], row["strokes"], row["putts_source"]) == (2, 5, "card")
        assert doubts == []


class TestDisagreement:
    @pytest.mark.parametrize(("card", "total"), [((1, 4, 2, 0), 5), ((1, 4, 1, 1), 5), ((1, 3, 2, 0), 5)])
    def test_the_track_is_kept_and_both_are_said(self, card, total):
        row, doubts = score_of(visit_of(shots=3), card=card_of(card))
        assert row["strokes"] == row["shots"] + row["putts"] + row["penalties"] == total
        assert row["card_strokes"] == card[1]
        assert row["strokes_source"] == "track"
        assert len(doubts) == 1
        assert f"the card has {card[1]} strokes" in doubts[0]
        assert f"the track shows {total}: 3 shots" in doubts[0]
        assert "The track is believed: " in doubts[0]
        # And why: how sure its least sure shot is.
        assert "the least sure is a shot with 60 %" in doubts[0]
        assert doubts[0] in row["note"]

    def test_no_putts_below_nothing(self):
        # The card's four strokes leave no room for the track's five shots.
        row, doubts = score_of(visit_of(shots=5), card=card_of((1, 4, None, None)))
        assert row["putts"] >= 0
        assert row["putts_source"] == "track"
        assert row["strokes"] == row["shots"] + row["putts"] + row["penalties"]
        assert len(doubts) == 1

    def test_notes_are_those_of_the_playing_they_belong_to(self):
        # The same hole twice; only the first time a stroke left no stop.
        table, doubts = scored(visit_of(unseen=1), visit_of(visit=1))
        assert "left no stop" in table["note"][0]
        assert table["note"][1] == ""
        assert len(doubts) == 1


class TestGreenLost:
    def test_a_score_on_the_card_says_that_the_hole_was_finished(self):
        # The recorder slept on the green: the card is believed, and that is told.
        row, doubts = score_of(visit_of(green=None, shots=3), card=card_of((1, 6, 2, 0)))
        assert (row["shots"], row["putts"], row["strokes"], row["strokes_source"]) == (4, 2, 6, "card")
        assert any("the track lost it" in text for text in doubts)

    def test_putts_follow_from_the_strokes(self):
        row, _ = score_of(visit_of(green=None, shots=3), card=card_of((1, 5, None, 0)))
        assert (row["putts"], row["strokes"]) == (2, 5)

    def test_holes_of_the_card_that_the_track_does_not_show_are_told_at_once(self):
        card = card_of((1, 5, 2, 0), (2, 4, 2, 0), (3, None, None, None))
        assert holes_unseen(tell_holes(card, None), [visit_of(hole=1)]) == [
            (0, "the track does not show hole 2, for which there are strokes on the card: not counted")
        ]
        assert holes_unseen(tell_holes(card, None), [visit_of(hole=1), visit_of(hole=2, visit=1)]) == []
        assert holes_unseen({}, []) == []


class TestCorrected:
    def told(self, **values):
        entries = [Correction(f"c{name}", name, hole=1, **{name: value}) for name, value in values.items()]
        return Corrections(tuple(entries))

    def test_what_the_player_says_goes_before_the_card(self):
        row, doubts = score_of(
            visit_of(shots=3),
            card=card_of((1, 5, 2, 0)),
            corrections=self.told(putts=3, penalties=1, strokes=7),
        )
        assert (row["putts"], row["penalties"], row["strokes"]) == (3, 1, 7)
        assert (row["putts_source"], row["penalties_source"], row["strokes_source"]) == ("corrected",) * 3
        assert doubts == []

    def test_strokes_the_player_counts_beyond_the_track(self):
        row, _ = score_of(visit_of(shots=3), corrections=self.told(strokes=8, putts=2))
        assert (row["shots"], row["strokes"], row["strokes_source"]) == (6, 8, "corrected")

    def test_picked_up_or_not(self):
        up, _ = score_of(visit_of(shots=3), card=card_of((1, 5, 2, 0)), corrections=self.told(picked_up=True))
        assert up["strokes"] is None
        card = card_of((1, None, None, None), (2, 4, 2, 0))
        down, _ = score_of(visit_of(shots=3), card=card, corrections=self.told(picked_up=False))
        assert down["strokes"] == 3 + down["putts"]

    def test_holed_from_off_the_green_is_no_putt(self):
        # Source: Rules of Golf 2023, 6.5: a hole is completed when the ball is holed.
        row, _ = score_of(visit_of(green=None, shots=3), end_lie="holed")
        assert (row["putts"], row["strokes"]) == (0, 3)

    def test_penalties_said_of_shots_are_counted_over_the_card(self):
        said = {1: Said(0.0, penalty=1), 2: Said(1.0, penalty=1)}
        row, _ = score_of(
            visit_of(shots=3), card=card_of((1, None, 2, 1)), penalties=[(0, 1), (0, 2)], said=said
        )
        assert (row["penalties"], row["penalties_source"], row["strokes"]) == (2, "corrected", 7)


class TestPickedUp:
    def test_no_strokes(self):
        row, doubts = score_of(visit_of(green=None, shots=2), card=card_of((1, None, None, None)))
        assert row["strokes"] is None
        assert row["putts"] is None
        assert row["shots"] == 2
        assert row["reached_in_regulation"] == "no"
        assert any("picked up" in text for text in doubts)

    def test_no_strokes_without_a_card_either(self):
        row, _ = score_of(visit_of(green=None, shots=2))
        assert row["strokes"] is None

    def test_no_strokes_where_the_card_has_none_but_elsewhere(self):
        # The ball lay on the green, and was picked up there: the card has strokes for other holes.
        row, _ = score_of(visit_of(shots=3), card=card_of((1, None, None, None), (2, 5, 2, 0)))
        assert row["strokes"] is None

    def test_a_card_of_putts_alone_picks_up_nothing(self):
        row, _ = score_of(visit_of(shots=3), card=card_of((1, None, 2, None), (2, None, 1, None)))
        assert row["strokes"] == 5

    def test_a_hole_the_card_does_not_have_is_counted_from_the_track(self):
        row, _ = score_of(visit_of(shots=3), card=card_of((2, 4, 2, 0)))
        assert row["strokes"] == 3 + row["putts"]
        assert row["card_strokes"] is None


class TestPutts:
    @pytest.mark.parametrize("seconds", [0, 30, 90, 200, 400, 3000])
    def test_longer_on_the_green_is_never_fewer_putts(self, seconds):
        row, _ = score_of(visit_of(on_green_s=seconds))
        more, _ = score_of(visit_of(on_green_s=seconds + 60))
        assert 1 <= row["putts"] <= more["putts"] <= 3
        assert row["putts_source"] == "track"

    def test_a_usual_green_is_two(self):
        # common practice, no source: two putts a hole.
        assert (
            score_of(visit_of(on_green_s=(SETTINGS.one_putt_s * SETTINGS.three_putts_s) ** 0.5))[0]["putts"]
            == 2
        )

    def test_time_beside_the_green_or_later_does_not_count(self):
        ground = lay_ground(COURSE)
        visit = visit_of(on_green_s=1000)
        east, north = ground.frame.to_metres(*lonlat(np.array([0.0, 50.0]), np.array([300.0, 300.0])))
        stands = pd.DataFrame(
            {
                "start_s": [visit.green_s, visit.green_s + 100],
                "end_s": [visit.green_s + 0.5 * SETTINGS.one_putt_s, visit.green_s + 900],
                "east_m": east,
                "north_m": north,
            }
        )
        assert score_of(visit, stands=stands)[0]["putts"] == 1


class TestTable:
    def test_regulation_by_personal_par(self):
        # Source: Rules of Handicapping, Appendix E: 18 strokes are one a hole; regulation shots are personal par - 2.
        visits = [
            visit_of(hole=1, shots=3),
            visit_of(hole=2, shots=3, visit=1),
            visit_of(hole=3, shots=4, visit=2),
        ]
        table, _ = scored(*visits, handicap=18)
        assert table["personal_par"].tolist() == [5, 4, 6]
        assert table["regulation_shots"].tolist() == [3, 2, 4]
        assert table["reached_in_regulation"].tolist() == ["yes", "no", "yes"]

    def test_a_penalty_counts_towards_regulation(self):
        row, _ = score_of(visit_of(shots=3), card=card_of((1, 6, 2, 1)), handicap=18)
        assert row["reached_in_regulation"] == "no"

    def test_holes_come_in_the_order_of_play(self):
        table, _ = scored(visit_of(hole=3), visit_of(hole=1, visit=1), visit_of(hole=2, visit=2))
        assert table["hole"].tolist() == [3, 1, 2]
        assert table["first_time"].is_monotonic_increasing
        assert np.all(table["last_time"] > table["first_time"])
        assert table["length_m"].tolist() == pytest.approx([480, 300, 150])

    def test_confidence_is_that_of_the_weakest_shot(self):
        assert score_of(visit_of(shots=3))[0]["confidence"] == pytest.approx(0.6)

    def test_whole_numbers_are_whole_and_may_be_missing(self):
        table, _ = scored(visit_of(), visit_of(hole=2, green=None, visit=1))
        for name in ("hole", "shots", "putts", "penalties", "strokes", "card_strokes"):
            assert str(table[name].dtype) == "Int64"
        assert table["strokes"].isna().tolist() == [False, True]

    def test_strokes_that_left_no_stop_are_said(self):
        for unseen, text in ((1, "1 stroke left no stop"), (2, "2 strokes left no stop")):
            row, doubts = score_of(visit_of(shots=4, unseen=unseen))
            assert row["shots"] == 4
            assert len(doubts) == 1
            assert doubts[0].startswith(text)
