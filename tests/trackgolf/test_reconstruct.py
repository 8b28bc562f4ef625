"""Whole rounds from their tracks: tiny ones whose every shot is known, and simulated ones."""

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import Geod
from shapely.geometry import box

from geo.geodesic import destination
from geo.track import Track
from tests.benchmarks.measure import card_of as card_of_round
from tests.benchmarks.measure import compare as match
from tests.benchmarks.measure import plan_of as plan_of_round
from tests.benchmarks.measure import played_round
from tests.benchmarks.measure import track_of as track_of_round
from tests.shapes import (
    FRAME,
    STRAIGHT,
    card_of,
    jitter,
    plan_of,
    tiny_bag,
    tiny_course,
    tiny_hole,
    track_of,
    trail_through,
)
from tests.simulator.recorders import Recorder
from tests.simulator.rounds import simulate_round
from tests.simulator.scenarios import Scenario
from trackgolf.bag import read_bag
from trackgolf.compare import COMPARISON_COLUMNS
from trackgolf.course import Course, Hole, read_course
from trackgolf.errors import CardError, CourseError, InputError, PlanError
from trackgolf.reconstruct import reconstruct
from trackgolf.scoring import HOLE_COLUMNS
from trackgolf.shots import SHOT_COLUMNS

GEOD = Geod(ellps="WGS84")
COURSE = tiny_course(
    tiny_hole(1, STRAIGHT, pin=(3, 302)),
    tiny_hole(2, ((60, 300), (60, 150)), par=3),
    tiny_hole(3, ((120, 150), (120, 550)), par=5),
)
BAG = tiny_bag()
BEFORE, AFTER = [(-10, -30, 40)], [(150, 560, 60)]
ONE = [(0, 0, 50), (5, 150, 40), (0, 262, 40), (2, 302, 90)]
TWO = [(60, 300, 60), (60, 148, 80)]
THREE = [(120, 150, 50), (125, 300, 40), (118, 420, 40), (120, 551, 90)]
ALL = BEFORE + ONE + TWO + THREE + AFTER
CARD = card_of((1, 5, 2, 0), (2, 3, 2, 0), (3, 5, 2, 0))
WANTED = [(1, 1), (1, 2), (1, 3), (2, 1), (3, 1), (3, 2), (3, 3)]


def rebuilt(places=None, *, card=CARD, marks=(), plan=None, every_s=1, seed=None, course=COURSE):
    trail, _ = trail_through(*(places or ALL), every_s=every_s)
    if seed is not None:
        trail = jitter(trail, 2.5, np.random.default_rng(seed))
    return reconstruct(track_of(trail, marks=marks), course, BAG, plan=plan, card=card)


def numbers(result):
    return list(zip(result.shots["hole"], result.shots["shot"], strict=True))


@pytest.fixture(scope="module")
def result():
    return rebuilt()


class TestTinyRound:
    def test_every_shot_is_found_in_order_and_nothing_else(self, result):
        assert numbers(result) == WANTED
        assert tuple(result.shots.columns) == SHOT_COLUMNS
        assert tuple(result.holes.columns) == HOLE_COLUMNS
        assert result.shots["start_time"].is_monotonic_increasing

    def test_each_shot_begins_and_ends_where_it_did(self, result):
        wanted_m = [
            (ONE[0], ONE[1]),
            (ONE[1], ONE[2]),
            (ONE[2], ONE[3]),
            tuple(TWO),
            *pairwise(THREE),
        ]
        for shot, (begin, finish) in zip(result.shots.to_dict("records"), wanted_m, strict=True):
            start = FRAME.to_metres(shot["start_lon_deg"], shot["start_lat_deg"])
            end = FRAME.to_metres(shot["end_lon_deg"], shot["end_lat_deg"])
            assert math.dist(start, begin[:2]) < 0.5
            assert math.dist(end, finish[:2]) < 0.5
            assert shot["distance_m"] == pytest.approx(math.dist(begin[:2], finish[:2]), abs=0.5)
            # Source: pyproj.Geod on WGS 84.
            _, _, length_m = GEOD.inv(
                shot["start_lon_deg"], shot["start_lat_deg"], shot["end_lon_deg"], shot["end_lat_deg"]
            )
            assert shot["distance_m"] == pytest.approx(length_m, abs=1e-3)

    def test_the_card_is_kept(self, result):
        holes = result.holes
        assert holes["hole"].tolist() == [1, 2, 3]
        assert holes["shots"].tolist() == [3, 1, 3]
        assert holes["strokes"].tolist() == [5, 3, 5]
        assert (holes["strokes"] == holes["shots"] + holes["putts"] + holes["penalties"]).all()
        assert not [note for note in result.notes if note.kind == "doubted"]

    def test_confidence_is_a_probability_and_high_where_all_is_clear(self, result):
        confidence = result.shots["confidence"]
        assert confidence.between(0.0, 1.0).all()
        assert confidence.min() > 0.7

    def test_without_a_plan_there_is_nothing_to_compare(self, result):
        assert result.comparison.empty
        assert tuple(result.comparison.columns) == COMPARISON_COLUMNS

    def test_the_same_again_and_the_input_stays(self):
        trail, _ = trail_through(*ALL)
        track = track_of(trail)
        before, card = track.points.copy(), CARD.copy()
        one = reconstruct(track, COURSE, BAG, card=card)
        two = reconstruct(track, COURSE, BAG, card=card)
        pd.testing.assert_frame_equal(one.shots, two.shots)
        pd.testing.assert_frame_equal(one.holes, two.holes)
        pd.testing.assert_frame_equal(track.points, before)
        pd.testing.assert_frame_equal(card, CARD)

    @pytest.mark.parametrize("seed", [1, 2, 3])
    def test_in_noise(self, result, seed):
        noisy = rebuilt(seed=seed)
        assert numbers(noisy) == WANTED
        # Source: 2.5 m an axis at both ends is 3.5 m on their distance (geometry); three times that for each.
        assert (noisy.shots["distance_m"] - result.shots["distance_m"]).abs().max() < 10.6
        assert (noisy.shots["path_m"] >= noisy.shots["distance_m"] - 1e-9).all()

    def test_a_point_every_eight_seconds(self):
        assert numbers(rebuilt(every_s=8)) == WANTED


class TestCounts:
    def test_the_cards_putts_leave_no_room_for_another_shot(self):
        # A bag set down 25 m short of the green for 40 s: with five strokes and two putts it can be no shot.
        places = [*BEFORE, *ONE[:3], (8, 275, 40), ONE[3], *TWO, *THREE, *AFTER]
        result = rebuilt(places)
        assert result.holes["shots"].tolist() == [3, 1, 3]
        six = rebuilt(places, card=card_of((1, 6, 2, 0), (2, 3, 2, 0), (3, 5, 2, 0)))
        assert six.holes["shots"].tolist() == [4, 1, 3]

    @pytest.mark.parametrize("told", [(1, 3, 2, 0), (3, 3, 2, 0), (3, 4, 2, 0), (3, 2, 1, None)])
    def test_where_the_track_denies_the_card_it_is_believed_and_says_why(self, told):
        # By definition (README): strokes = shots + putts + penalties. 300 m and 400 m in one or two strokes, past stops
        # of 40 s on the line of play, with a bag that reaches 180 m.
        card = {1: (1, 5, 2, 0), 2: (2, 3, 2, 0), 3: (3, 5, 2, 0)} | {told[0]: told}
        result = rebuilt(card=card_of(*card.values()))
        hole = result.holes[result.holes["hole"] == told[0]].iloc[0]
        assert (hole["shots"], hole["putts"], hole["strokes"]) == (3, told[2], 3 + told[2])
        assert (hole["card_strokes"], hole["strokes_source"]) == (told[1], "track")
        said = [note.text for note in result.notes if note.kind == "doubted"]
        assert len(said) == 1
        assert said[0].startswith(f"the card has {told[1]} strokes, the track shows {3 + told[2]}: 3 shots")
        assert "The track is believed: " in said[0]
        # The other holes keep their card.
        assert (result.holes["strokes_source"] == "card").sum() == 2

    def test_stroke_and_distance(self):
        # Source: Rules of Golf 2023, 18.1 and 18.2: tee, tee again, on, two putts = 1+1+1+1+2 = 6 strokes, with two stops
        # at one place; the next stroke from the tee is the third.
        lost = [(0, 0, 50), (60, 150, 150), (0, 0, 45), (5, 155, 40), (2, 302, 90)]
        result = rebuilt(
            BEFORE + lost + TWO + THREE + AFTER, card=card_of((1, 6, 2, 1), (2, 3, 2, 0), (3, 5, 2, 0))
        )
        hole = result.holes.iloc[0]
        assert hole[["shots", "penalties", "putts", "strokes"]].tolist() == [3, 1, 2, 6]
        first, second = result.shots.iloc[0], result.shots.iloc[1]
        assert (first["shot"], first["end_lie"], first["penalty"]) == (1, "lost", 1)
        assert math.isnan(first["distance_m"])
        assert second["distance_m"] == pytest.approx(155, abs=1)
        # Both from one place, the search between them.
        apart = GEOD.inv(
            *first[["start_lon_deg", "start_lat_deg"]], *second[["start_lon_deg", "start_lat_deg"]]
        )[2]
        assert apart < 1.0
        assert math.dist(FRAME.to_metres(first["end_lon_deg"], first["end_lat_deg"]), (60, 150)) < 1.0

    def test_stroke_and_distance_with_a_card_that_has_no_column_for_it(self):
        lost = [(0, 0, 50), (60, 150, 150), (0, 0, 45), (5, 155, 40), (2, 302, 90)]
        result = rebuilt(
            BEFORE + lost + TWO + THREE + AFTER,
            card=card_of((1, 6, 2, None), (2, 3, 2, None), (3, 5, 2, None)),
        )
        hole = result.holes.iloc[0]
        assert hole["strokes"] == 6
        assert hole["shots"] + hole["penalties"] == 4
        assert hole["penalties"] >= 1

    def test_a_hole_picked_up_has_no_strokes(self):
        away = [(0, 0, 50), (5, 150, 40), (30, 200, 40)]
        result = rebuilt(
            BEFORE + away + TWO + THREE + AFTER,
            card=card_of((1, None, None, None), (2, 3, 2, 0), (3, 5, 2, 0)),
        )
        hole = result.holes.iloc[0]
        assert hole["hole"] == 1
        assert pd.isna(hole["strokes"])
        last = result.shots[result.shots["hole"] == 1].iloc[-1]
        assert last["end_lie"] == "picked_up"
        assert math.isnan(last["distance_m"])
        assert np.isfinite(last[["end_lon_deg", "end_lat_deg"]].to_numpy(dtype=float)).all()

    def test_a_hole_walked_past_is_not_played(self):
        result = rebuilt(BEFORE + ONE + [(60, 300, 0), (60, 150, 0)] + THREE + AFTER, card=None)
        assert result.holes["hole"].tolist() == [1, 3]


class TestMarks:
    def test_marks_name_clubs_and_make_shots_surer(self):
        plain, marked = (
            rebuilt(card=None),
            rebuilt(card=None, marks=[(85, 1, 1, "driver"), (None, 6, 151, "7 iron")]),
        )
        shots = marked.shots
        assert list(zip(shots["club"], shots["club_source"], strict=True))[:2] == [
            ("driver", "marked"),
            ("7 iron", "marked"),
        ]
        assert numbers(marked) == WANTED
        assert (shots["confidence"][:2] >= plain.shots["confidence"][:2] - 1e-9).all()

    def test_a_mark_far_from_the_path_changes_nothing(self, result):
        away = rebuilt(marks=[(215, 900, 900, "9 iron")])
        pd.testing.assert_frame_equal(away.shots, result.shots)

    def test_targets_of_the_plan_among_the_waypoints_are_no_marks(self, result):
        # Devices keep a plan's targets with the marks their owner made; they lie where the plan wanted shots.
        targets = [
            (None, 0, 148, "1-1 tee 5 wood"),
            (None, 8, 275, "1-2 layup 9 iron"),
            (None, 60, 300, "2 tee"),
        ]
        pd.testing.assert_frame_equal(rebuilt(marks=targets).shots, result.shots)


class TestPlan:
    PLAN = plan_of(
        (1, 1, "5 wood", "tee", (0, 0), (0, 148), (3, 302)),
        (1, 2, "9 iron", "layup", (0, 148), (0, 250), (3, 302)),
        (1, 3, "sand wedge", "approach", (0, 250), (3, 302), (3, 302)),
        (2, 1, "7 iron", "approach", (60, 300), (60, 150), (60, 150)),
    )

    def test_a_plan_moves_no_shot(self, result):
        with_plan = rebuilt(plan=self.PLAN)
        places = [
            "hole",
            "shot",
            "start_time",
            "distance_m",
            "path_m",
            "leave_m",
            "start_lon_deg",
            "end_lat_deg",
        ]
        pd.testing.assert_frame_equal(with_plan.shots[places], result.shots[places])

    def test_every_planned_shot_is_compared(self):
        comparison = rebuilt(plan=self.PLAN).comparison
        assert list(zip(comparison["hole"], comparison["shot"], strict=True)) == [
            (1, 1),
            (1, 2),
            (1, 3),
            (2, 1),
        ]
        # Derived: finishes at (5, 150), (0, 262), (2, 302), (60, 148) against the targets, the lines from where they were played.
        assert comparison["miss_m"].tolist() == pytest.approx([math.hypot(5, 2), 12, 1, 2], abs=0.5)
        assert comparison["right_m"][0] == pytest.approx(5, abs=0.5)
        assert comparison["long_m"].tolist()[1] == pytest.approx(12, abs=0.7)

    def test_a_club_known_only_from_the_plan_never_counts_as_followed(self):
        comparison = rebuilt(plan=self.PLAN).comparison
        known = comparison["club_source"].isin(["marked", "card", "inferred"])
        assert (comparison.loc[~known, "followed"] == "").all()
        assert comparison.loc[known, "followed"].isin(["yes", "no"]).all()


class TestRefused:
    def away(self, lon_deg, lat_deg):
        """Move a track to a place."""
        trail, _ = trail_through(*ALL)
        track = track_of(trail)
        points = track.points.assign(
            lon_deg=track.points["lon_deg"] - track.points["lon_deg"][0] + lon_deg,
            lat_deg=track.points["lat_deg"] - track.points["lat_deg"][0] + lat_deg,
        )
        return Track(points, track.marks, track.account, track.gaps, track.warnings)

    @pytest.mark.parametrize("kilometres", [5, 812, 9000])
    def test_a_course_elsewhere_says_how_far(self, kilometres):
        lon_deg, lat_deg = destination(-31.0, 47.0, 250.0, kilometres * 1000.0)
        with pytest.raises(InputError) as caught:
            reconstruct(self.away(float(lon_deg), float(lat_deg)), COURSE, BAG)
        # The length of a degree changes with latitude, and with it the shape of the moved track.
        words = str(caught.value).split("the track is ")[1].split(" km from the course")[0]
        assert float(words) == pytest.approx(kilometres, abs=0.6)

    def test_a_course_next_door(self):
        with pytest.raises(InputError, match="no point of the track lies near the course"):
            reconstruct(self.away(-31.0 + 0.013, 47.0), COURSE, BAG)

    def test_one_point_on_the_course_is_not_called_none(self):
        track = self.away(-31.0, 47.0)
        one = Track(track.points.head(1), track.marks, track.account, track.gaps, track.warnings)
        with pytest.raises(InputError, match="only one point of the track lies near the course"):
            reconstruct(one, COURSE, BAG)

    def test_a_walk_across_the_course_without_a_stand_on_it(self):
        trail, _ = trail_through((-100, 400, 30), (250, 420, 30))
        with pytest.raises(InputError, match="no hole of the course can be found"):
            reconstruct(track_of(trail), COURSE, BAG)

    def test_a_card_or_plan_for_other_holes(self):
        trail, _ = trail_through(*ALL)
        with pytest.raises(CardError, match=r"the card names holes the course does not have: 4, 17"):
            reconstruct(track_of(trail), COURSE, BAG, card=card_of((1, 5, 2, 0), (17, 4, 2, 0), (4, 5, 2, 0)))
        plan = plan_of((9, 1, "5 wood", "tee", (0, 0), (0, 148), (3, 302)))
        with pytest.raises(PlanError, match="the plan names holes the course does not have: 9"):
            reconstruct(track_of(trail), COURSE, BAG, plan=plan)

    def test_a_scorecard_without_positions_is_not_enough(self):
        bare = Course("Invented Links", (Hole(1, 4, 1, 300.0),), COURSE.shapes)
        trail, _ = trail_through(*ALL)
        with pytest.raises(CourseError, match="has no positions"):
            reconstruct(track_of(trail), bare, BAG)


class TestPrivacy:
    def test_nothing_away_from_the_course_is_kept(self):
        # From home, 900 m west, to the course and back again.
        home = (-900, 100, 300)
        result = rebuilt([home, *ALL, home])
        near = shapely.union_all([box(-160, -160, 160, 470), box(-100, -10, 290, 710)])
        east, north = FRAME.to_metres(result.walk["lon_deg"].to_numpy(), result.walk["lat_deg"].to_numpy())
        assert len(east) > 500
        assert shapely.contains_xy(near, east, north).all()
        east, north = FRAME.to_metres(
            result.stands["lon_deg"].to_numpy(), result.stands["lat_deg"].to_numpy()
        )
        assert shapely.contains_xy(near, east, north).all()
        assert numbers(result) == WANTED


def test_a_course_without_tees_and_with_lines_outside_its_outline():
    course = tiny_course(*COURSE.holes, shapes=[("course", box(-20, -20, 40, 200))], tees=False)
    assert numbers(rebuilt(course=course)) == WANTED


def test_what_was_mended_and_assumed_is_noted():
    from dataclasses import replace

    trail, _ = trail_through(*ALL)
    track = replace(track_of(trail), warnings=("invented.gpx: cut short",))
    course = replace(COURSE, warnings=("hole 2 was drawn from the green",))
    bag = replace(BAG, warnings=("driver: roll assumed",))
    notes = reconstruct(track, course, bag, card=CARD).notes
    assert [(note.kind, note.text) for note in notes] == [
        ("salvaged", "invented.gpx: cut short"),
        ("mended", "hole 2 was drawn from the green"),
        ("assumed", "driver: roll assumed"),
    ]


@lru_cache(maxsize=16)
def invented_round(seed, scenario, recorder, folder):
    """Simulate a round and read its course and bag as the program would."""
    simulated = simulate_round(seed, scenario, recorder)
    simulated.course.write_geojson(folder / f"course_{seed}.geojson")
    simulated.player.write_bag(folder / f"bag_{seed}.toml")
    course = read_course(folder / f"course_{seed}.geojson", tee=simulated.player.tee)
    return simulated, course, read_bag(folder / f"bag_{seed}.toml")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("invented")


class TestSimulatedRounds:
    # Well below what the benchmark prints, so that a new fit does not fail here and a broken chain does.
    LEAST = 0.75

    @pytest.mark.parametrize("kind", ["watch", "silent", "sparse"])
    def test_most_shots_over_20_m_are_found_and_most_found_are_true(self, kind, folder):
        true = right = found = found_right = 0
        for seed in (41, 42):
            simulated, course, bag = invented_round(
                seed,
                Scenario.nine(),
                Recorder(kind, interval_s=(5.0, 15.0) if kind == "sparse" else (1.0, 1.0)),
                folder,
            )
            track = track_of_round(simulated)
            result = reconstruct(track, course, bag, card=card_of_round(simulated))
            measured = match(kind, seed, simulated, result, track)
            true, right = true + measured.long_true, right + measured.long_right
            found, found_right = found + measured.long_found, found_right + measured.long_found_right
            shots, holes = result.shots, result.holes
            assert shots["confidence"].between(0.0, 1.0).all()
            walked = shots["path_m"].notna() & shots["distance_m"].notna()
            assert (shots.loc[walked, "path_m"] >= shots.loc[walked, "distance_m"] - 1e-6).all()
            counted = holes["strokes"].notna()
            total = holes["shots"] + holes["putts"] + holes["penalties"]
            assert (holes.loc[counted, "strokes"] == total[counted]).all()
        assert true > 40
        assert right >= self.LEAST * true
        assert found_right >= self.LEAST * found

    @pytest.mark.parametrize("penalties", [True, False], ids=["with penalties", "without"])
    @pytest.mark.parametrize(
        ("row", "seed"), [("watch", 7000), ("phone", 7003), ("slow", 7004), ("died", 7010)]
    )
    def test_with_strokes_and_putts_the_counts_are_those_of_the_card(self, row, seed, penalties):
        simulated, track, course, bag = played_round(row, seed)
        card = card_of_round(simulated)
        if not penalties:
            card["penalties"] = pd.array([pd.NA] * len(card), dtype="Int64")
        result = reconstruct(track, course, bag, card=card)
        holes = result.holes.merge(simulated.card, on="hole", suffixes=("", "_true"))
        finished = ~holes["picked_up"].astype(bool)
        assert holes.loc[~finished, "strokes"].isna().all()
        exact = holes["strokes"] == holes["strokes_true"]
        explained = holes["note"].str.contains("The track is believed")
        assert (exact | explained)[finished].all()
        assert exact[finished].mean() > 0.97
        if penalties:
            assert (holes["shots"] == holes["shots_true"])[finished & exact].all()
            assert (holes["penalties"] == holes["penalties_true"])[finished].all()
        # Shots of the files never cost more than the hole.
        paid = result.shots.groupby("visit")["penalty"].sum()
        counted = result.holes.set_index("visit")["penalties"].astype(int)
        assert (counted >= paid.reindex(counted.index, fill_value=0)).all()
        missing = sorted(set(simulated.card["hole"]) - set(result.holes["hole"]))
        told = [note.text for note in result.notes if note.text.startswith("the track does not show")]
        assert len(told) == (1 if missing else 0)
        assert all(str(hole) in told[0] for hole in missing)

    @pytest.mark.parametrize(
        ("seed", "scenario"),
        [
            (43, Scenario.nine(10)),
            (44, Scenario.shotgun(5)),
            (45, Scenario.back_first()),
            (46, Scenario.without(7, 8)),
            (47, Scenario.nine_twice()),
        ],
        ids=["nine from the tenth", "shotgun", "back nine first", "two holes left out", "nine twice"],
    )
    def test_holes_come_in_the_order_they_were_played(self, seed, scenario, folder):
        simulated, course, bag = invented_round(seed, scenario, Recorder.watch(), folder)
        result = reconstruct(track_of_round(simulated), course, bag)
        found, played = result.holes["hole"].tolist(), list(scenario.holes)
        # One hole in a round may be lost without the order being wrong.
        rest = iter(played)
        assert all(hole in rest for hole in found)
        assert len(found) >= len(played) - 1

    def test_a_plan_does_not_bend_the_evidence(self, folder):
        simulated, course, bag = invented_round(
            41, Scenario.nine(), Recorder("watch", interval_s=(1.0, 1.0)), folder
        )
        track = track_of_round(simulated)
        plan = plan_of_round(simulated)
        plan = plan[plan["hole"] <= 9]
        with_plan, without = (reconstruct(track, course, bag, plan=given) for given in (plan, None))
        same = set(with_plan.shots["stand"]) & set(without.shots["stand"])
        assert len(same) >= 0.9 * max(len(with_plan.shots), len(without.shots))
        assert set(with_plan.comparison["hole"]) == set(range(1, 10))

    def test_the_drive_home_is_left_out(self, folder):
        scenario = Scenario.nine(drive_home=True, warm_up=True)
        simulated, course, bag = invented_round(48, scenario, Recorder.watch(), folder)
        result = reconstruct(track_of_round(simulated), course, bag, card=card_of_round(simulated))
        lines = [hole.line for hole in course.holes]
        east, north = result.ground.frame.to_metres(
            simulated.points["lon_deg"].to_numpy(), simulated.points["lat_deg"].to_numpy()
        )
        near = shapely.union_all(
            [shapely.buffer(result.ground.frame.geometry_to_metres(line), 200.0) for line in lines]
        )
        # Something was left out, or this shows nothing.
        assert not shapely.contains_xy(near, east, north).all()
        for table in (result.walk, result.stands):
            east, north = result.ground.frame.to_metres(
                table["lon_deg"].to_numpy(), table["lat_deg"].to_numpy()
            )
            assert shapely.contains_xy(near, east, north).all()
        assert result.walk["time"].max() < simulated.points["time"].max()
