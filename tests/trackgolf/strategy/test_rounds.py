"""Whole rounds: three plans, kept shots, zones, processes."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from geo.units import YARD_M
from tests.trackgolf.invented_holes import across, card_hole, ground_hole, invented_course, usual_bag
from trackgolf.errors import BagError
from trackgolf.plan import PLAN_COLUMNS, plan_round
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.plans import PLAN_NAMES
from trackgolf.strategy.rounds import hole_tasks, player_level, run_tasks, strategy_plans
from trackgolf.strategy.settings import StrategySettings

BAG = usual_bag(target_score=7)
COURSE = invented_course(
    [ground_hole([(0, 0), (0, 250), (110, 380)], par=4)],
    [
        ("fairway", box(-18, 40, 18, 260)),
        ("water_red", across(290, 310, half_width_yd=15)),
        ("bunker", box(85, 360, 95, 375)),
    ],
)


COARSE = StrategySettings(cell_m=8.0)
ON_PLAN = ("on plan",)


def planned(course=COURSE, bag=BAG, **options):
    tasks = hole_tasks(course, bag, **({"settings": COARSE} | options))
    return strategy_plans(course, bag, tasks, run_tasks(tasks, 1))


class TestThreePlans:
    plans = planned(zones=True, trials=500, settings=None)

    def test_names_and_columns(self):
        assert tuple(self.plans.plans) == PLAN_NAMES
        for name, plan in self.plans.plans.items():
            assert plan.name == name
            assert tuple(plan.shots.columns) == PLAN_COLUMNS
            assert plan.shots["shot"].tolist() == list(range(1, len(plan.shots) + 1))
            assert plan.shots["role"].iloc[-1] == "approach"

    def test_shots_join(self):
        shots = self.plans.plans["on plan"].shots
        ends = shots[["target_lon_deg", "target_lat_deg"]].to_numpy()[:-1]
        assert shots[["start_lon_deg", "start_lat_deg"]].to_numpy()[1:] == pytest.approx(ends)

    def test_no_club_goes_farther_than_it_can(self):
        for plan in self.plans.plans.values():
            for row in plan.shots.to_dict("records"):
                assert row["distance_m"] <= BAG.find_club(row["club"]).distance_m * 1.011

    def test_fewest_strokes_are_the_fewest(self):
        strokes = {name: plan.odds.expected_strokes for name, plan in self.plans.holes[1].plans.items()}
        assert strokes["fewest strokes"] <= min(strokes.values()) + 2e-3

    def test_the_rule_of_thumb_is_the_first_planner(self):
        thumb = self.plans.plans["rule of thumb"].shots
        assert thumb.equals(plan_round(COURSE, BAG).shots)

    def test_the_trial_says_how_sure(self):
        more, error = self.plans.holes[1].trial
        assert 0 < error < 0.3
        assert np.isfinite(more)

    def test_zones_lie_on_the_hole_and_name_clubs(self):
        next_shots = self.plans.holes[1].next_shots
        assert 2 <= len(next_shots.zones) <= 9
        clubs = {club.name for club in BAG.clubs}
        for zone in next_shots.zones:
            assert zone.club in clubs
            assert zone.area.area >= 10 * 25.0 - 1e-6
        for one, other in zip(next_shots.zones[:-1], next_shots.zones[1:], strict=True):
            assert one.area.intersection(other.area).area == pytest.approx(0.0, abs=1e-6)

    def test_usual_spots(self):
        spots = {spot.name: spot for spot in self.plans.holes[1].next_shots.spots}
        assert {"short", "left", "right"} <= set(spots)
        for spot in spots.values():
            if spot.club:
                assert 5 < spot.distance_m < 200
                assert 1.0 < spot.strokes_to_go < 7.0


class TestKept:
    def test_a_kept_shot_is_played_and_the_rest_planned_around_it(self):
        task = hole_tasks(COURSE, BAG)[0]
        target = (task.site.line_m[1, 0] * 0.5 - 10.0, task.site.line_m[1, 1] * 0.5)
        shot = Kept(1, "8 iron", (0.0, 0.0), target, 10.0)
        kept = planned(kept={1: [shot]}, names=ON_PLAN).plans["on plan"].shots
        assert kept["club"].iloc[0] == "8 iron"
        length = float(np.hypot(*target))
        assert kept["distance_m"].iloc[0] == pytest.approx(length, abs=8.0)
        free = planned(names=ON_PLAN).holes[1].plans["on plan"].odds.expected_strokes
        assert planned(kept={1: [shot]}, names=ON_PLAN).holes[1].plans["on plan"].odds.expected_strokes > free

    def test_a_later_shot_is_kept_where_it_begins(self):
        first = planned(names=ON_PLAN).holes[1].plans["on plan"].strokes[0]
        target = (first.target_m[0], first.target_m[1] + 95.0)
        shots = [
            Kept(1, first.club, first.start_m, first.target_m, 10.0),
            Kept(2, "9 iron", first.target_m, target, 10.0),
        ]
        kept = planned(kept={1: shots}, names=ON_PLAN).plans["on plan"].shots
        assert kept["club"].iloc[1] == "9 iron"
        assert kept["distance_m"].iloc[1] == pytest.approx(95.0, abs=5.0)


class TestFromACard:
    def test_a_straight_line_and_what_is_not_known(self):
        course = invented_course([card_hole(382, number=n, index=n) for n in (1, 2)])
        plans = planned(course, usual_bag(target_score=14), names=ON_PLAN)
        shots = plans.plans["on plan"].shots
        assert shots["target_lon_deg"].isna().all()
        assert any("lengths alone" in note for note in plans.plans["on plan"].notes)
        first = shots[shots["hole"] == 1]
        assert first["leave_m"].iloc[0] == pytest.approx(382 * YARD_M - first["distance_m"].iloc[0], abs=1.0)

    def test_out_of_reach_is_said(self):
        course = invented_course([card_hole(440, par=4)])
        plans = planned(course, usual_bag(target_score=4), names=ON_PLAN)
        assert any("out of reach in 2 shots" in note for note in plans.plans["on plan"].notes)


def test_processes_change_nothing():
    course = invented_course(
        [card_hole(150 + 40 * n, number=n, index=n, par=3 + (n > 2)) for n in range(1, 5)]
    )
    bag = usual_bag(target_score=22)
    tasks = hole_tasks(course, bag, names=ON_PLAN, settings=COARSE)
    one, two = run_tasks(tasks, 1), run_tasks(tasks, 2)
    assert [plans.number for plans in two] == [1, 2, 3, 4]
    for alone, shared in zip(one, two, strict=True):
        assert alone.plans["on plan"].strokes == shared.plans["on plan"].strokes
        assert alone.plans["on plan"].odds.expected_strokes == shared.plans["on plan"].odds.expected_strokes


def test_level():
    course = invented_course([card_hole(300, number=n, index=n) for n in range(1, 10)])
    # Derived: 9 strokes over par on nine holes are 18 on eighteen.
    assert player_level(course, usual_bag(target_score=45)) == pytest.approx(18.0)
    assert player_level(course, usual_bag(target_score=None, strokes=12.0)) == 12.0


def test_no_clubs():
    with pytest.raises(BagError, match="no clubs to plan with"):
        hole_tasks(COURSE, replace(BAG, clubs=()))
