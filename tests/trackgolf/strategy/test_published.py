"""The computed plan against what others have published about golfers."""

from dataclasses import replace

import numpy as np
import pytest

from geo.units import YARD_M
from tests.trackgolf.strategy.invented_sites import beside, invented_bag, invented_site, metre_club, usual_bag
from trackgolf.strategy.make import make_model
from trackgolf.strategy.odds import hole_odds
from trackgolf.strategy.plans import planned_strokes
from trackgolf.strategy.settings import FEWEST_STROKES, LIES, Prices, StrategySettings
from trackgolf.strategy.value import Goal, solve

SETTINGS = StrategySettings()


def sure_club(name, distance_yd):
    """A club that always does what it should."""
    return metre_club(name, distance_yd * YARD_M, long_m=0.5, side_m=0.5, mishit_share=0.0, roll_share=0.02)


def plan(length_yd, bag, goal, *, settings=SETTINGS, **site):
    model = make_model(invented_site(length_yd * YARD_M, **site), bag, settings, 18.0)
    return solve(model, goal, Prices(0.5, 0.5, 0.0, 0.0))


class TestBogeyPlayer:
    # Source: USGA Course Rating System, model players (oga.org, gam.org): a bogey golfer's tee shot is 200 yd and two
    # shots reach 370 yd; a woman's 150 yd and 280 yd.
    @pytest.mark.parametrize(("first", "second", "reached"), [(200, 170, 370), (150, 130, 280)])
    def test_two_shots_reach_so_far_and_no_farther(self, first, second, reached):
        bag = invented_bag([sure_club("driver", first), sure_club("5 wood", second), sure_club("wedge", 60)])
        # The front edge of the green is what has to be reached, here 11 yd before its middle. Tolerance: two cells.
        near = hole_odds(plan(reached + 11 - 9, bag, Goal(2, 4), green_radius_m=11 * YARD_M))
        far = hole_odds(plan(reached + 11 + 10, bag, Goal(2, 4), green_radius_m=11 * YARD_M))
        assert near.regulation_probability > 0.9
        assert far.regulation_probability < 0.1


class TestParByLength:
    # Source: Rules of Handicapping, Appendix F, men: par 3 up to 260 yd, 4 from 240 to 490 yd, 5 from 450 to 710 yd;
    # USGA Course Rating System: a scratch golfer goes 250 yd from the tee and 470 yd in two.
    @pytest.mark.parametrize(
        ("length_yd", "par"), [(150, 3), (230, 3), (300, 4), (440, 4), (500, 5), (650, 5)]
    )
    def test_a_scratch_golfer_is_on_in_two_less_than_par(self, length_yd, par):
        clubs = [
            ("driver", 250),
            ("3 wood", 220),
            ("4 iron", 190),
            ("7 iron", 155),
            ("9 iron", 130),
            ("wedge", 100),
        ]
        bag = invented_bag([sure_club(*club) for club in clubs], handicap=0.0)
        strokes = planned_strokes(plan(length_yd, bag, Goal(par - 2, par)))
        assert len(strokes) == par - 2


class TestAwayFromTrouble:
    def aim_m(self, factor):
        """How far right of the line a tee shot is aimed, out of bounds all down the right."""
        wide = [
            metre_club(
                club.name, club.distance_m, long_m=club.spread_long_m, side_m=factor * club.spread_side_m,
                mishit_share=club.mishit_share,
            )
            for club in usual_bag().clubs
        ]  # fmt: skip
        site = invented_site(400 * YARD_M, [("out_of_bounds", beside(-30, 500, 18, 140))])
        model = make_model(site, invented_bag(wide), SETTINGS, 18.0)
        return planned_strokes(solve(model, Goal(3, 5), FEWEST_STROKES))[0].target_m[0]

    def test_the_wilder_player_aims_farther_away(self):
        # Source: Broadie, magazine excerpt of Every Shot Counts (2014): 400 yd par 4, out of bounds all down the right:
        # the best aim of an 80-shooter is the left edge of the fairway, of a 100-shooter the left rough.
        tame, wild = self.aim_m(0.7), self.aim_m(1.5)
        assert wild < tame < 0.0

    def test_a_short_par_3_with_water_in_front_is_played_long(self):
        # common practice, no source: with water in front of the green and none behind, aim past the hole.
        site = invented_site(120, [("water_red", beside(70, 106, -60, 60))])
        model = make_model(site, usual_bag(), SETTINGS, 18.0)
        assert planned_strokes(solve(model, Goal(2, 4), FEWEST_STROKES))[0].target_m[1] > 120.0

    def test_a_long_par_3_with_water_behind_is_played_short(self):
        # common practice, no source: the mirror of the hole above.
        site = invented_site(120, [("water_red", beside(133, 165, -60, 60))])
        model = make_model(site, usual_bag(), SETTINGS, 18.0)
        assert planned_strokes(solve(model, Goal(2, 4), FEWEST_STROKES))[0].target_m[1] < 120.0


class TestTables:
    model = make_model(invented_site(430), usual_bag(), SETTINGS, 18.0)
    stage = solve(model, Goal(4, 6), FEWEST_STROKES).stages[0]

    def along(self, lie, yards):
        up = 430.0 - np.array(yards) * YARD_M
        # The edge of the fairway, where both lies are.
        row, column = self.model.grid.cell_at(np.full(len(up), 15.0), up)
        shares = self.model.grid.lie_shares[:2, row, column]
        assert (shares > 0).all()
        return self.stage.values[LIES.index(lie), row, column]

    def test_strokes_grow_with_distance(self):
        # Source: Broadie, Every Shot Counts (2014): strokes to hole out from a fairway grow from 20 to 500 yd.
        assert (np.diff(self.along("fairway", [30, 60, 100, 140, 180, 240, 300, 400])) > 0).all()

    def test_rough_costs_more_than_fairway(self):
        # Source: the same table: rough costs more than fairway at every distance.
        yards = [40, 60, 100, 140, 180, 240, 300]
        assert (self.along("rough", yards) > self.along("fairway", yards)).all()

    def test_nobody_plays_better_than_the_tour(self):
        # Source: the same table, tour average from a fairway: 2.70, 2.80, 2.91, 3.08 from 60, 100, 140, 180 yd.
        assert (self.along("fairway", [60, 100, 140, 180]) > [2.70, 2.80, 2.91, 3.08]).all()


def test_green_in_regulation_of_a_golfer_of_ninety():
    # Source: Broadie, Every Shot Counts (2014): from 150 yd on a fairway a 90-shooter hits the green in 35 %. Greens
    # differ; one of 12 m radius holds some 450 m2, a usual size (common practice, no source). Tolerance: ours.
    bag = invented_bag([metre_club("6 iron", 150 * YARD_M, mishit_share=0.12), *usual_bag().clubs[3:]])
    site = replace(invented_site(150 * YARD_M), fairways_drawn=False)
    model = make_model(site, bag, SETTINGS, 18.0)
    odds = hole_odds(solve(model, Goal(1, 3), FEWEST_STROKES))
    assert odds.regulation_probability == pytest.approx(0.35, abs=0.1)
