"""Plans changed by a player, pins, fewest clubs, and the page of the computed plan."""

import json
import re
from dataclasses import replace

import pytest
from shapely.geometry import box

from reports.offline import outside_requests
from reports.plan_pages import PlanBook, plan_book
from tests.trackgolf.invented_holes import (
    across,
    card_hole,
    club,
    ground_hole,
    invented_bag,
    invented_course,
    usual_bag,
)
from trackgolf.errors import CourseError, PlanError
from trackgolf.pins import set_pins
from trackgolf.plan_book import plan_book_tables, what_to_miss
from trackgolf.plan_changes import read_changes
from trackgolf.plan_odds import clubs_text, odds_json, odds_table, verdict
from trackgolf.plan_text import plan_geojson_text
from trackgolf.strategy.clubs_subset import fewest_clubs, reaches
from trackgolf.strategy.next_shot import Spot
from trackgolf.strategy.rounds import hole_tasks, run_tasks, strategy_plans
from trackgolf.strategy.settings import StrategySettings
from trackgolf.strategy.site import hole_sites

COARSE = StrategySettings(cell_m=12.0)
BAG = replace(usual_bag(target_score=11), player="Ines {{7*7}} Okafor", invented=True)
COURSE = invented_course(
    [ground_hole([(0, 0), (0, 330)], index=1), ground_hole([(300, 0), (300, 150)], number=2, par=3, index=2)],
    [("fairway", box(-18, 40, 18, 300)), ("water_red", across(200, 220, half_width_yd=60, middle_yd=50))],
)


@pytest.fixture(scope="module")
def plans():
    tasks = hole_tasks(COURSE, BAG, settings=COARSE, zones=True, trials=300)
    return strategy_plans(COURSE, BAG, tasks, run_tasks(tasks, 1))


@pytest.fixture
def document(plans):
    return json.loads(plan_geojson_text(plans.plans["on plan"], COURSE, BAG, remember=True))


def changes(tmp_path, document):
    path = tmp_path / "plan.geojson"
    path.write_text(json.dumps(document), encoding="utf-8")
    return read_changes(path, COURSE, BAG, hole_sites(COURSE, COARSE))


class TestChanges:
    def test_nothing_changed_nothing_kept(self, tmp_path, document):
        assert changes(tmp_path, document) == ({}, ())

    def test_a_moved_target_is_kept_with_what_leads_there(self, tmp_path, document):
        second = next(f for f in document["features"] if f["properties"]["shot"] == 2)
        second["geometry"]["coordinates"][1][0] += 0.0002
        kept, notes = changes(tmp_path, document)
        assert [shot.shot for shot in kept[1]] == [1, 2]
        assert list(kept) == [1]
        assert notes[0].startswith("Hole 1: kept as you have it: shot 1 ")

    def test_another_club_is_kept(self, tmp_path, document):
        document["features"][0]["properties"]["club"] = "6i"
        kept, _ = changes(tmp_path, document)
        assert kept[1][0].club == "6 iron"
        assert len(kept[1]) == 1

    def test_a_file_that_remembers_nothing_is_all_the_players(self, tmp_path, document):
        for feature in document["features"]:
            for name in ("planned_club", "planned_lon_deg", "planned_lat_deg"):
                del feature["properties"][name]
        kept, _ = changes(tmp_path, document)
        assert sorted(kept) == [1, 2]

    def test_the_plan_around_it_has_the_changed_shot_to_the_metre(self, tmp_path, document):
        first = document["features"][0]
        first["properties"]["club"] = "8 iron"
        start, target = first["geometry"]["coordinates"]
        target[:] = [start[0] + 0.0001, start[1] + 0.001]
        kept, _ = changes(tmp_path, document)
        tasks = hole_tasks(COURSE, BAG, settings=COARSE, kept=kept, names=("on plan",))
        made = strategy_plans(COURSE, BAG, tasks, run_tasks(tasks, 1)).plans["on plan"].shots
        assert made["club"].iloc[0] == "8 iron"
        assert [made["target_lon_deg"].iloc[0], made["target_lat_deg"].iloc[0]] == pytest.approx(
            target, abs=1e-7
        )
        assert made["start_lat_deg"].iloc[1] == pytest.approx(target[1], abs=1e-7)

    def test_without_positions(self, tmp_path):
        course = invented_course([card_hole(300)])
        path = tmp_path / "plan.geojson"
        shot = {"hole": 1, "shot": 1, "club": "8 iron", "distance_m": 100.0}
        feature = {"type": "Feature", "properties": shot, "geometry": None}
        path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
        with pytest.raises(PlanError, match="hole 1 has no positions to plan around"):
            read_changes(path, course, BAG, hole_sites(course, COARSE))


class TestPins:
    def test_front_is_nearer_the_tee_than_back(self):
        front, middle, back = (
            set_pins(COURSE, [f"1:{place}"]).hole(1).pin for place in ("front", "middle", "back")
        )
        # Derived: a green of 12 yd about its middle: 0.6 of 12 yd to either side.
        metre = 1 / 111_180
        assert (back.y - front.y) / metre == pytest.approx(2 * 0.6 * 12 * 0.9144, abs=0.2)
        assert front.y < middle.y < back.y

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ("front", "is no pin"),
            ("9:front", "no hole 9"),
            ("1:left", "neither front, middle, back nor LON,LAT"),
            ("1:-31.5,47.0", "from the green of hole 1"),
        ],
    )
    def test_refused(self, text, said):
        with pytest.raises(CourseError, match=said):
            set_pins(COURSE, [text])

    def test_a_card_has_no_green(self):
        with pytest.raises(CourseError, match="no green to put a pin on"):
            set_pins(invented_course([card_hole(300)]), ["1:back"])


class TestFewestClubs:
    def test_distances_reached(self):
        bag = invented_bag([club("driver", 200), club("7 iron", 100)], [], units="m")
        reach = reaches(bag, 2, 1.0)
        # Derived: 200 yd and 100 yd, full swings only, the driver from the tee: 182 m, 91 m, and 182 + 91, 91 + 91.
        assert [int(metres) for metres in reach.nonzero()[0]] == []
        reach = reaches(bag, 2, 0.99)
        assert reach[91]
        assert reach[182]
        assert reach[273]
        assert not reach[364]

    def test_the_smallest_set_covers_and_the_rest_is_ranked(self):
        course = invented_course([card_hole(330, index=1), card_hole(140, number=2, par=3, index=2)])
        bag = usual_bag(target_score=11)
        tasks = hole_tasks(course, bag, settings=COARSE)
        found = fewest_clubs(tasks, bag, lambda some: run_tasks(some, 1))
        assert found.covered
        assert 1 <= len(found.clubs) <= 3
        assert set(found.clubs) | {item.club for item in found.further} == {item.name for item in bag.clubs}
        assert set(found.tee_clubs) == {1, 2}
        assert sum(item.gain for item in found.further) > 0.0
        said = clubs_text(found)
        assert said.startswith("Fewest clubs: ")
        assert "From the tees: 1 " in said


class TestSaid:
    def test_json(self, plans):
        said = odds_json(plans, COURSE, BAG)
        assert said["prices"] == {
            "missed_regulation": 0.5,
            "high_score": 0.5,
            "avoided_club": 0.3,
            "leave": 0.05,
        }
        for hole in said["holes"]:
            assert [plan["name"] for plan in hole["plans"]] == ["on plan", "fewest strokes", "rule of thumb"]
            for plan in hole["plans"]:
                assert 2.0 < plan["expected_strokes"] < 10.0
                assert 0.0 <= plan["regulation_probability"] <= 1.0
                assert plan["shots"][0]["shot"] == 1
            assert hole["next"]
        json.dumps(said, allow_nan=False)

    def test_table(self, plans):
        said = odds_table(plans, COURSE, BAG)
        assert "rule of thumb" in said
        assert "Prices, in strokes: 0.5 for a green missed in regulation" in said
        assert re.search(r"Rule of thumb against on plan: \d\.\d strokes (more|fewer) a round", said)
        # Nothing may ever say that a shot is safe.
        assert "safe" not in said

    @pytest.mark.parametrize(
        ("trial", "said"),
        [
            ((0.3, 0.05), "worse"),
            ((-0.3, 0.05), "better"),
            ((0.05, 0.04), "unsure"),
            ((0.01, 0.01), "same"),
            (None, ""),
        ],
    )
    def test_verdict(self, trial, said):
        assert verdict(trial) == said

    def test_what_to_miss(self):
        def spot(name, lie, to_go):
            return Spot(name, lie, "8 iron", 100.0, 0.0, True, to_go)

        wet = Spot("right", "water_red", "", 0.0, 0.0, False, float("nan"))
        assert what_to_miss([spot("left", "rough", 3.0), wet]) == "right (water)"
        assert what_to_miss([spot("left", "rough", 3.0), spot("right", "rough", 3.3)]) == "right"
        assert what_to_miss([spot("left", "rough", 3.0), spot("right", "rough", 3.05)]) == ""


class TestPage:
    def test_offline_and_whole(self, plans):
        page = plan_book(plan_book_tables(plans, COURSE, BAG))
        assert outside_requests(page) == []
        assert "Ines {{7*7}} Okafor" in page
        assert page.count('<article class="hole"') == 2
        assert page.count('<div class="panel">') == 3
        assert 'class="zone"' in page
        for said in ("4.3a", "thunder", "out of range", "Pocket card", "rule of thumb"):
            assert said in page

    def test_no_positions_no_pictures(self):
        course = invented_course([card_hole(300)])
        bag = usual_bag(target_score=6)
        tasks = hole_tasks(course, bag, settings=COARSE, zones=True)
        page = plan_book(
            plan_book_tables(strategy_plans(course, bag, tasks, run_tasks(tasks, 1)), course, bag)
        )
        assert 'class="drawing"' not in page
        assert "lengths alone" in page

    def test_a_missing_column_is_told(self, plans):
        book = plan_book_tables(plans, COURSE, BAG)
        with pytest.raises(ValueError, match="odds: no column shots"):
            PlanBook(book.tables, book.odds.drop(columns="shots"), book.spots, book.verdicts, book.zones)
