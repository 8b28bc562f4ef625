"""The first plan: arithmetic from green to tee, trouble, and what cannot be done."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Geod
from shapely.geometry import LineString, Point, Polygon, box

from geo.units import YARD_M
from tests.trackgolf.invented_holes import (
    FRAME,
    across,
    card_hole,
    club,
    ground_hole,
    invented_bag,
    invented_course,
    usual_bag,
)
from trackgolf.errors import BagError, CourseError
from trackgolf.plan import PLAN_COLUMNS, PlanSettings, plan_round, tolerance_m

GEOD = Geod(ellps="WGS84")


def plan_hole(hole, shots, bag, shapes=(), **options):
    """Plan one hole with as many shots to the green as asked for."""
    bag = replace(bag, target_score=shots + 2, playing_handicap=None)
    return plan_round(invented_course([hole], shapes), bag, **options)


def yards(plan):
    return [round(distance, 3) for distance in plan.shots["distance_m"] / YARD_M]


def clubs(plan):
    return plan.shots["club"].tolist()


def leaves(plan):
    return [round(leave, 2) for leave in plan.shots["leave_m"] / YARD_M]


class TestArithmetic:
    three_clubs = invented_bag(
        [club("5 wood", 160), club("8 iron", 130), club("gap wedge", 96)], [("gap wedge", 96)]
    )

    @pytest.mark.parametrize(
        "hole", [card_hole(382), ground_hole([(0, 0), (0, 382)])], ids=["card", "ground"]
    )
    def test_the_remainder_goes_to_the_layups(self, hole):
        # Own example: 382 yd, three shots, clubs that finish at 160 and 130, preferred approach 96: 156, 130, 96.
        plan = plan_hole(hole, 3, self.three_clubs)
        assert yards(plan) == pytest.approx([156, 130, 96], abs=0.002)
        assert leaves(plan) == pytest.approx([226, 96, 0], abs=0.01)
        assert clubs(plan) == ["5 wood", "8 iron", "gap wedge"]
        assert plan.shots["role"].tolist() == ["tee", "layup", "approach"]
        assert plan.shots["shot"].tolist() == [1, 2, 3]
        assert plan.notes == ()

    # Own examples for 29 strokes on par 72: 372 yd in three, 505 yd in five, 168 yd in three.
    @pytest.mark.parametrize(("length_yd", "shots"), [(372, 3), (505, 5), (168, 3)])
    def test_own_examples_end_at_the_preferred_approach(self, length_yd, shots):
        plan = plan_hole(card_hole(length_yd), shots, usual_bag())
        assert len(plan.shots) <= shots
        assert yards(plan)[-1] == pytest.approx(88)
        assert sum(yards(plan)) == pytest.approx(length_yd, abs=0.01)
        assert not plan.notes

    def test_the_second_best_approach_where_the_best_would_take_too_many(self):
        # Derived: in two, 250 = 162 + 88, and 272 = 162 + 110, since no club goes 272 - 88 = 184 but the driver.
        assert yards(plan_hole(card_hole(250), 2, usual_bag())) == pytest.approx([162, 88])
        assert yards(plan_hole(card_hole(272), 2, usual_bag())) == pytest.approx([162, 110])

    def test_no_club_longer_than_needed(self):
        plan = plan_hole(card_hole(88 + 2 * 128), 3, usual_bag())
        assert clubs(plan) == ["8 iron", "8 iron", "gap wedge"]

    def test_of_two_orders_the_longer_first(self):
        plan = plan_hole(card_hole(88 + 162 + 142), 3, usual_bag())
        assert yards(plan) == pytest.approx([162, 142, 88])

    def test_no_shot_is_wasted(self):
        for shots in (3, 4, 5):
            assert len(plan_hole(card_hole(350), shots, usual_bag()).shots) == 3

    def test_a_hole_that_one_swing_reaches_is_not_split_for_a_short_layup(self):
        # 130 - 88 = 42 yd is hardly worth a stroke; 168 - 88 = 80 yd is.
        assert yards(plan_hole(card_hole(130, par=3), 3, usual_bag())) == pytest.approx([130])
        assert yards(plan_hole(card_hole(168, par=3), 3, usual_bag())) == pytest.approx([80, 88])

    def test_one_shot_where_personal_par_asks_for_it(self):
        plan = plan_hole(card_hole(140, par=3), 1, usual_bag())
        assert clubs(plan) == ["6 iron"]
        assert plan.shots["role"].tolist() == ["approach"]

    def test_a_part_swing_where_no_club_is_so_short(self):
        plan = plan_hole(card_hole(50, par=3), 1, usual_bag())
        assert clubs(plan) == ["sand wedge"]
        assert not plan.notes
        bare = plan_hole(card_hole(50, par=3), 1, replace(usual_bag(), part_swings=()))
        assert clubs(bare) == ["sand wedge"]
        assert "less than a full swing of the sand wedge" in bare.notes[0]

    def test_avoided_clubs_only_where_nothing_else_covers(self):
        # Derived: 300 yd in two is 162 + 138 without the driver; 330 yd is not (162 + 162 = 324), with it 190 + 140.
        assert "driver" not in clubs(plan_hole(card_hole(300), 2, usual_bag()))
        plan = plan_hole(card_hole(330), 2, usual_bag())
        assert clubs(plan)[0] == "driver"
        assert "rather not use (driver)" in plan.notes[0]
        assert "driver" not in clubs(plan_hole(card_hole(330), 3, usual_bag()))

    # Source: USGA Course Rating System: the bogey golfer, men, hits 200 yd from the tee and reaches a hole of 370 yd
    # in two; women 150 and 280 yd. So 200 and 170 reach 370 and not 380, 150 and 130 reach 280 and not 290.
    @pytest.mark.parametrize(("tee_yd", "second_yd", "reach_yd"), [(200, 170, 370), (150, 130, 280)])
    def test_the_bogey_golfer_of_course_rating(self, tee_yd, second_yd, reach_yd):
        bag = invented_bag(
            [club("driver", tee_yd), club("5 wood", second_yd), club("8 iron", 100)], [("8 iron", 100)]
        )
        assert yards(plan_hole(card_hole(reach_yd), 2, bag)) == pytest.approx([tee_yd, second_yd])
        beyond = plan_hole(card_hole(reach_yd + 10), 2, bag)
        assert len(beyond.shots) == 3
        assert f"{reach_yd + 10} yd cannot be covered in 2 shots" in beyond.notes[0]

    def test_a_bag_in_metres_gets_whole_metres(self):
        # Derived: 340 m, approach 90 m: 250 = 130 + 120, the remainder off the tee: 140 and 120 make 260.
        bag = invented_bag(
            [club("5 wood", 140 / YARD_M), club("8 iron", 120 / YARD_M), club("gap wedge", 90 / YARD_M)],
            [("gap wedge", 90 / YARD_M)],
            units="m",
        )
        plan = plan_hole(card_hole(340 / YARD_M), 3, bag)
        assert plan.shots["distance_m"].tolist() == pytest.approx([130, 120, 90], abs=1e-6)
        short = plan_hole(card_hole(500 / YARD_M), 2, bag)
        assert "500 m cannot" in short.notes[0]

    def test_nine_in_a_row_without_positions(self):
        holes = [card_hole(300 + 10 * n, number=n, index=n) for n in range(1, 10)]
        plan = plan_round(invented_course(holes), usual_bag(target_score=49))
        assert plan.shots["hole"].unique().tolist() == list(range(1, 10))
        assert (
            plan.shots[["start_lon_deg", "start_lat_deg", "target_lon_deg", "target_lat_deg"]]
            .isna()
            .all(axis=None)
        )
        assert tuple(plan.shots.columns) == PLAN_COLUMNS

    def test_tolerance_is_ten_yards_or_the_spread(self):
        # Source: the definition in the plan's files: the larger of 10 yd and the club's spread along the line.
        assert tolerance_m(5.0) == 9.144
        assert tolerance_m(9.2) == 9.2
        plan = plan_hole(
            card_hole(250), 2, invented_bag([club("5 wood", 162, spread_yd=20), club("gap wedge", 88)], [])
        )
        assert plan.shots["tolerance_m"].tolist() == pytest.approx([20 * YARD_M, 9.144])

    def test_a_listed_approach_is_liked_even_with_an_avoided_club(self):
        bag = invented_bag([club("5 wood", 160), club("chipper", 90, avoid=True)], [("chipper", 90)])
        plan = plan_hole(card_hole(250), 2, bag)
        assert yards(plan) == pytest.approx([160, 90])
        assert plan.notes == ()

    @settings(max_examples=20, deadline=None)
    @given(st.integers(150, 700))
    def test_as_few_layups_as_cover_what_the_approach_leaves(self, length_yd):
        # Derived: the longest club not avoided goes 162 yd: (length - 88) / 162 layups, rounded up, then 88.
        plan = plan_hole(card_hole(length_yd, par=5), 6, usual_bag())
        assert len(plan.shots) == 1 + math.ceil((length_yd - 88) / 162)
        assert yards(plan)[-1] == pytest.approx(88)

    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(st.floats(90, 620), st.integers(1, 6))
    def test_what_holds_for_any_hole(self, length_yd, shots):
        bag = usual_bag()
        plan = plan_hole(card_hole(length_yd, par=min(5, shots + 2)), shots, bag)
        reach = {item.name: item.distance_m for item in bag.clubs}
        assert sum(yards(plan)) == pytest.approx(length_yd, abs=0.01)
        for row in plan.shots.itertuples():
            assert row.distance_m <= reach[row.club] + 1e-6
        assert len(plan.shots) <= shots or "cannot be covered" in plan.notes[0]
        assert plan.shots["role"].tolist()[-1] == "approach"
        assert plan.shots["leave_m"].is_monotonic_decreasing


class TestOnTheGround:
    def test_lengths_are_geodesics_and_targets_lie_on_the_line(self):
        hole = ground_hole([(0, 0), (60, 376)])
        plan = plan_hole(hole, 3, usual_bag())
        for row in plan.shots.itertuples():
            # Source: Karney, Algorithms for geodesics, J. Geodesy 87 (2013), through pyproj.
            _, _, distance_m = GEOD.inv(
                row.start_lon_deg, row.start_lat_deg, row.target_lon_deg, row.target_lat_deg
            )
            assert row.distance_m == pytest.approx(distance_m, abs=1e-6)
        starts = plan.shots[["start_lon_deg", "start_lat_deg"]].to_numpy()
        targets = plan.shots[["target_lon_deg", "target_lat_deg"]].to_numpy()
        np.testing.assert_allclose(starts[1:], targets[:-1], atol=1e-12)
        np.testing.assert_allclose(starts[0], hole.line.coords[0], atol=1e-9)
        centre = hole.green.centroid
        np.testing.assert_allclose(targets[-1], [centre.x, centre.y], atol=1e-7)
        assert leaves(plan)[-2:] == pytest.approx([88, 0], abs=0.02)

    def test_the_pin_is_what_is_left_to(self):
        hole = ground_hole([(0, 0), (0, 382)], pin_yd=(5, 376))
        plan = plan_hole(hole, 3, usual_bag())
        last = plan.shots.iloc[-1]
        assert (last["target_lon_deg"], last["target_lat_deg"]) == pytest.approx(
            (hole.pin.x, hole.pin.y), abs=1e-9
        )
        assert leaves(plan)[-2] == pytest.approx(88, abs=0.02)

    def test_a_line_without_a_green_ends_at_its_end(self):
        plan = plan_hole(ground_hole([(0, 0), (0, 382)], green=False), 3, usual_bag())
        assert sum(yards(plan)) == pytest.approx(382, abs=0.01)

    def test_a_bend_is_not_cut(self):
        # A right angle after 200 yd: straight on is 283 yd of play for 400 along the line.
        hole = ground_hole([(0, 0), (0, 200), (200, 200)])
        plan = plan_hole(hole, 4, usual_bag())
        positions = plan.shots[["target_lon_deg", "target_lat_deg"]].to_numpy()
        path = FRAME.geometry_to_metres(LineString([hole.line.coords[0], *positions]))
        corner = FRAME.geometry_to_metres(Point(hole.line.coords[1]))
        assert path.distance(corner) <= 25.1 * YARD_M
        assert leaves(plan)[-2] == pytest.approx(88, abs=0.02)

    def test_on_the_antimeridian(self):
        hole = ground_hole([(0, 0), (0, 382)])
        moved = replace(
            hole,
            line=LineString([(180.0, 10.0), (-179.9968, 10.0)]),
            green=box(-179.9969, 9.9999, -179.9967, 10.0001),
        )
        plan = plan_hole(moved, 3, usual_bag())
        assert sum(plan.shots["distance_m"]) == pytest.approx(GEOD.inv(180, 10, -179.9968, 10)[2], abs=0.01)


class TestTrouble:
    hole = ground_hole([(0, 0), (0, 382)])
    room_yd = 10

    def targets(self, plan):
        return [382 - leave for leave in leaves(plan)[:-1]]

    def test_without_trouble(self):
        # Derived: 382 - 88 = 294, twice the 4 hybrid (150), the remainder of 6 off the tee.
        assert self.targets(plan_hole(self.hole, 3, usual_bag())) == pytest.approx([144, 294], abs=0.1)

    @pytest.mark.parametrize("kind", ["water", "water_yellow", "water_red", "bunker"])
    @pytest.mark.parametrize("span", [(140, 165), (150, 160), (280, 300), (120, 150)])
    def test_targets_keep_out_of_what_crosses_the_line(self, kind, span):
        plan = plan_hole(self.hole, 4, usual_bag(), [(kind, across(*span))])
        assert len(plan.shots) <= 4
        start = 0.0
        for row, target in zip(plan.shots.itertuples(), self.targets(plan), strict=False):
            item = usual_bag().find_club(row.club)
            pitch = start + (target - start) * item.carry_m / item.distance_m
            short = target + self.room_yd <= span[0] + 0.1
            over = pitch - self.room_yd >= span[1] - 0.1
            behind = start >= span[1] - 0.1
            assert short or over or behind
            start = target
        assert not any("water" in note for note in plan.notes)

    def test_water_is_carried_in_the_air_not_rolled_over(self):
        bag = invented_bag(
            [club("5 wood", 130, 40), club("8 iron", 110), club("gap wedge", 88)], [("gap wedge", 88)]
        )
        plan = plan_hole(self.hole, 4, bag, [("water", across(125, 135))])
        assert self.targets(plan)[0] <= 115.1

    def test_water_no_club_carries_is_said(self):
        plan = plan_hole(self.hole, 4, usual_bag(), [("water", across(60, 350))])
        assert any("water is in reach" in note and "from the tee" in note for note in plan.notes)

    def test_a_pond_at_the_preferred_distance_moves_the_layup(self):
        plan = plan_hole(self.hole, 3, usual_bag(), [("water", across(284, 304))])
        assert self.targets(plan)[-1] == pytest.approx(382 - 110, abs=0.1)

    def test_out_of_bounds_beside_the_preferred_distance_moves_the_layup(self):
        beside = box(6, 280, 60, 308)
        plan = plan_hole(self.hole, 3, usual_bag(), [("out_of_bounds", beside)])
        assert self.targets(plan)[-1] == pytest.approx(382 - 110, abs=0.1)
        assert plan.notes == ()

    @pytest.mark.parametrize("shape", [box(6, -50, 60, 450), LineString([(8, -50), (8, 450)])])
    def test_out_of_bounds_all_along_changes_nothing(self, shape):
        plain = plan_hole(self.hole, 3, usual_bag())
        plan = plan_hole(self.hole, 3, usual_bag(), [("out_of_bounds", shape)])
        assert yards(plan) == yards(plain)

    def test_what_lies_far_to_the_side_changes_nothing(self):
        plain = plan_hole(self.hole, 3, usual_bag())
        shapes = [
            ("water", across(0, 382, half_width_yd=20, middle_yd=60)),
            ("bunker", box(15, 290, 30, 300)),
        ]
        assert yards(plan_hole(self.hole, 3, usual_bag(), shapes)) == yards(plain)

    def test_bunkers_round_the_green_change_nothing(self):
        plain = plan_hole(self.hole, 3, usual_bag())
        plan = plan_hole(self.hole, 3, usual_bag(), [("bunker", box(5, 365, 15, 375))])
        assert yards(plan) == yards(plain)

    def test_a_broken_shape_is_no_reason_to_stop(self):
        bow_tie = Polygon([(-40, 140), (40, 170), (40, 140), (-40, 170)])
        plan = plan_hole(self.hole, 3, usual_bag(), [("water", bow_tie)])
        assert len(plan.shots) == 3


class TestRefused:
    def test_no_target(self):
        with pytest.raises(BagError, match="neither a target score"):
            plan_round(invented_course([card_hole(382)]), usual_bag(target_score=None))

    def test_no_clubs(self):
        with pytest.raises(BagError, match="no clubs"):
            plan_round(invented_course([card_hole(382)]), invented_bag([], [], target_score=5))

    @pytest.mark.parametrize("length_yd", [0, -5, np.nan, 5000])
    def test_no_length(self, length_yd):
        with pytest.raises(CourseError, match="no usable length of hole 1"):
            plan_round(invented_course([card_hole(length_yd)]), usual_bag(target_score=6))

    def test_a_hole_out_of_all_reach(self):
        bag = invented_bag([club("sand wedge", 40)], [("sand wedge", 40)], target_score=7)
        with pytest.raises(CourseError, match="not reached in 20 shots"):
            plan_round(invented_course([card_hole(1200)]), bag)


def test_settings_change_the_plan():
    plan = plan_hole(
        card_hole(130, par=3), 3, usual_bag(), settings=PlanSettings(shortest_layup_m=30 * YARD_M)
    )
    assert yards(plan) == pytest.approx([42, 88])


def test_the_same_twice():
    hole = ground_hole([(0, 0), (30, 200), (60, 420)])
    first, second = (plan_hole(hole, 4, usual_bag(), [("bunker", across(120, 140))]) for _ in range(2))
    pd.testing.assert_frame_equal(first.shots, second.shots)
