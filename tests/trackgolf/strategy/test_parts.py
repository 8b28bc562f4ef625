"""The pieces of the computed plan: putts, swings, patterns, ground, rolls, drops."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from tests.trackgolf.strategy.invented_sites import beside, invented_bag, invented_site, metre_club, usual_bag
from trackgolf.bag_priors import club_prior
from trackgolf.errors import PlanError
from trackgolf.strategy.grid import make_grid, roll_matrix
from trackgolf.strategy.outcomes import pattern_of, pattern_parts, pattern_putts, sample_pattern
from trackgolf.strategy.penalties import drop_cells
from trackgolf.strategy.putting import putt_shares
from trackgolf.strategy.settings import LIES, Prices, StrategySettings
from trackgolf.strategy.site import GROUND, lies_at
from trackgolf.strategy.swings import bag_swings, swing_from

SETTINGS = StrategySettings()
FOOT_M = 0.3048


class TestPutts:
    def test_tour(self):
        # Source: Broadie, Every Shot Counts (2014): one putt from 3, 5, 10 and 20 ft in 96, 77, 40 and 15 %.
        shares = putt_shares(np.array([3, 5, 10, 20]) * FOOT_M, 0.0)[:, 0]
        assert shares == pytest.approx([0.96, 0.77, 0.40, 0.15], abs=0.005)

    @pytest.mark.parametrize(("feet", "putts"), [(8, 1.5), (33, 2.0)])
    def test_expected_putts(self, feet, putts):
        # Source: the same book: 1.5 putts are expected from 8 ft, 2.0 from 33 ft.
        assert putt_shares(feet * FOOT_M, 0.0) @ [1, 2, 3, 4] == pytest.approx(putts, abs=0.05)

    def test_a_golfer_of_ninety(self):
        # Source: the same book: one putt from 3 ft in 84 %, from 5 ft in 50 %.
        assert putt_shares(np.array([3, 5]) * FOOT_M, 18.0)[:, 0] == pytest.approx([0.84, 0.50], abs=0.005)

    def test_shares_and_order(self):
        shares = putt_shares(np.linspace(0, 40, 200), 24.0)
        assert shares.sum(axis=-1) == pytest.approx(1.0)
        assert (shares >= 0).all()
        assert (np.diff(shares @ [1, 2, 3, 4]) >= -1e-12).all()


class TestSwings:
    def test_every_length_has_a_swing(self):
        swings = bag_swings(usual_bag(), SETTINGS)
        for length in np.arange(4.0, 164.0, 0.5):
            assert any(swing.low_m <= length <= swing.high_m for swing in swings if not swing.tee_only), (
                length
            )

    def test_the_driver_is_for_the_tee(self):
        assert {swing.club for swing in bag_swings(usual_bag(), SETTINGS) if swing.tee_only} == {"driver"}

    def test_listed_part_swings_have_their_mishits(self):
        swings = bag_swings(usual_bag(), SETTINGS)
        short = [swing for swing in swings if swing.part and swing.high_m < 50]
        assert {(swing.club, swing.mishit_share) for swing in short} == {("sand wedge", 0.2)}

    def test_a_part_swing_is_wider_for_its_length(self):
        # Derived: James & Rees (2008), median misses of 5.85 % at 50-100 yd and 4.95 % at 100-200 yd.
        assert SETTINGS.part_spread == pytest.approx(5.85 / 4.95, abs=0.005)

    def test_lies(self):
        swing = bag_swings(usual_bag(), SETTINGS)[2]
        fairway, rough, bunker = (swing_from(swing, lie, SETTINGS) for lie in LIES)
        assert fairway == swing
        assert fairway.high_m > rough.high_m > bunker.high_m
        assert fairway.long_m < rough.long_m < bunker.long_m
        assert fairway.mishit_share < rough.mishit_share < bunker.mishit_share


class TestPatterns:
    swing = bag_swings(usual_bag(), SETTINGS)[3]

    def test_probabilities(self):
        pattern = pattern_of(self.swing, 0.4, SETTINGS)
        assert pattern.weight.sum() == pytest.approx(1.0)
        assert (pattern.weight > 0).all()

    @pytest.mark.parametrize("turn", [0.0, 0.7, -2.1])
    def test_mean_and_spread_are_those_meant(self, turn):
        good = replace(self.swing, mishit_share=0.0)
        pattern = pattern_of(good, turn, SETTINGS)
        up, right = pattern.row * SETTINGS.cell_m, pattern.column * SETTINGS.cell_m
        along = up * math.cos(turn) + right * math.sin(turn)
        across = right * math.cos(turn) - up * math.sin(turn)
        assert pattern.weight @ along == pytest.approx(0.0, abs=0.05)
        # Derived: a cell adds cell^2 / 12 to the variance of what is spread evenly over it.
        cell = SETTINGS.cell_m**2 / 12
        assert math.sqrt(pattern.weight @ along**2 + cell) == pytest.approx(good.long_m, rel=0.03)
        assert math.sqrt(pattern.weight @ across**2 + cell) == pytest.approx(good.side_m, rel=0.03)

    def test_lots_agree_with_the_pattern(self):
        rng = np.random.default_rng(5)
        ones = np.ones(200_000)
        long, side = sample_pattern(self.swing, SETTINGS, rng, ones, ones)
        parts = pattern_parts(self.swing, SETTINGS)
        assert long.mean() == pytest.approx(sum(part.share * part.long_m for part in parts), abs=0.3)
        assert side.mean() == pytest.approx(0.0, abs=0.2)

    def test_half_the_shots_of_a_golfer_of_ninety_finish_beyond_59_ft(self):
        # Source: Broadie, Every Shot Counts (2014): from 150 yd half finish beyond 59 ft; 1.5 times longer than wide;
        # centred 13 yd short. Tolerances: ours, the figures are rounded and the prior has mishits of its own.
        prior = club_prior("6 iron", 130.0)
        distance = 150 * 0.9144
        club = metre_club(
            "6 iron", distance, long_m=prior.long_share * distance, side_m=prior.side_share * distance,
            mishit_share=prior.mishit_share,
        )  # fmt: skip
        swing = bag_swings(invented_bag([club]), SETTINGS)[0]
        ones = np.ones(100_000)
        long, side = sample_pattern(swing, SETTINGS, np.random.default_rng(1), ones, ones)
        assert np.mean(np.hypot(long, side) > 59 * FOOT_M) == pytest.approx(0.5, abs=0.08)
        assert -13 * 0.9144 < long.mean() < 0
        assert prior.long_share / prior.side_share == pytest.approx(1.5, abs=0.01)

    def test_putts_left_grow_with_the_length_of_a_chip(self):
        swings = [swing for swing in bag_swings(usual_bag(), SETTINGS) if swing.part and swing.high_m < 40]
        putts = [pattern_putts(swing, SETTINGS, 18.0, 40.0) @ [1, 2, 3, 4] for swing in swings]
        assert putts == sorted(putts)
        assert 1.0 < putts[0] < putts[-1] < 2.5


class TestGround:
    def test_order_of_shapes(self):
        water, sand = box(-20, 50, 20, 60), box(-5, 40, 5, 60)
        site = invented_site(150, [("water_red", water), ("bunker", sand)])
        right, up = np.array([0.0, 15.0, 0.0, 60.0]), np.array([55.0, 55.0, 150.0, 20.0])
        lies = [GROUND[lie] for lie in lies_at(site, right, up, SETTINGS)]
        assert lies == ["bunker", "water_red", "green", "rough"]

    def test_behind_a_fence_is_out_of_bounds(self):
        # Source: Rules of Golf 2023, Definitions, out of bounds: a line defines the boundary edge.
        site = invented_site(150, fence=shapely.LineString([(30, -50), (30, 250)]))
        lies = lies_at(site, np.array([29.0, 31.0, -60.0]), np.array([80.0, 80.0, 80.0]), SETTINGS)
        assert [GROUND[lie] for lie in lies] == ["rough", "out_of_bounds", "rough"]

    def test_shares_of_a_cell(self):
        site = invented_site(150, [("water_red", box(-2.5, 47.5, 0.0, 52.5))])
        grid = make_grid(site, SETTINGS)
        row, column = grid.cell_at(0.0, 50.0)
        assert grid.water[row, column] == pytest.approx(0.5)
        assert grid.shares.sum(axis=0) == pytest.approx(1.0)

    def test_every_cell_adds_up(self):
        site = invented_site(
            250, [("out_of_bounds", beside(0, 300, 20, 90)), ("bunker", box(-9, 200, 0, 215))]
        )
        grid = make_grid(site, SETTINGS)
        assert grid.dry + grid.water + grid.gone == pytest.approx(1.0)

    def test_a_ball_may_be_lost_far_from_the_line(self):
        grid = make_grid(invented_site(150), SETTINGS)
        assert grid.gone[grid.cell_at(0.0, 50.0)] == 0.0
        assert 0.0 < grid.gone[grid.cell_at(50.0, 50.0)] < grid.gone[grid.cell_at(60.0, 50.0)] < 0.3


class TestRolls:
    def fairway(self, *shapes):
        return make_grid(
            invented_site(200, [("fairway", box(-80, -50, 80, 400)), *shapes], fairways_drawn=True), SETTINGS
        )

    def test_a_fairway_lets_it_roll(self):
        grid = self.fairway()
        start = np.zeros(grid.dry.size)
        row, column = grid.cell_at(0.0, 60.0)
        start[row * grid.shape[1] + column] = 1.0
        rest = (roll_matrix(grid, 0.0, 3.0, SETTINGS).T @ start).reshape(grid.shape)
        assert rest.sum() == pytest.approx(1.0)
        assert rest.sum(axis=1) @ grid.up_m == pytest.approx(75.0, abs=0.01)

    def test_rough_takes_half(self):
        grid = make_grid(invented_site(200, fairways_drawn=True), SETTINGS)
        start = np.zeros(grid.dry.size)
        row, column = grid.cell_at(0.0, 60.0)
        start[row * grid.shape[1] + column] = 1.0
        rest = (roll_matrix(grid, 0.0, 3.0, SETTINGS).T @ start).reshape(grid.shape)
        assert rest.sum(axis=1) @ grid.up_m == pytest.approx(67.5, abs=0.3)

    @pytest.mark.parametrize("kind", ["bunker", "water_red"])
    def test_sand_and_water_stop_it(self, kind):
        grid = self.fairway((kind, box(-80, 65, 80, 120)))
        start = np.zeros(grid.dry.size)
        row, column = grid.cell_at(0.0, 60.0)
        start[row * grid.shape[1] + column] = 1.0
        rest = (roll_matrix(grid, 0.0, 6.0, SETTINGS).T @ start).reshape(grid.shape)
        assert rest.sum(axis=1) @ grid.up_m < 71.0

    def test_off_the_grid_is_gone(self):
        grid = self.fairway()
        rows = roll_matrix(grid, 0.0, 4.0, SETTINGS).sum(axis=1).reshape(grid.shape)
        assert (rows[-1] < 1e-9).all()
        assert rows[0] == pytest.approx(1.0)


class TestDrops:
    # Source: Rules of Golf 2023, 17.1d: relief is taken from where the ball last crossed the edge of the penalty area:
    # red, beside it; yellow, on the line from the hole through it, farther back.
    def test_where_it_crossed_into_red_water(self):
        grid = make_grid(invented_site(200, [("water_red", box(-30, 100, 30, 130))]), SETTINGS)
        drop = drop_cells(grid, 0.0)
        place = drop[grid.cell_at(10.0, 120.0)]
        assert divmod(int(place), grid.shape[1]) == tuple(int(axis) for axis in grid.cell_at(10.0, 100.0))

    def test_from_the_side_the_edge_is_at_the_side(self):
        grid = make_grid(invented_site(200, [("water_red", box(12.5, 60, 40, 160))]), SETTINGS)
        row, column = divmod(int(drop_cells(grid, math.pi / 2)[grid.cell_at(30.0, 110.0)]), grid.shape[1])
        assert (grid.right_m[column], grid.up_m[row]) == (10.0, 110.0)

    def test_yellow_water_is_gone_back_from_on_the_line_to_the_hole(self):
        grid = make_grid(invented_site(200, [("water_yellow", box(-60, 100, 60, 130))]), SETTINGS)
        row, column = divmod(int(drop_cells(grid, 0.0)[grid.cell_at(20.0, 120.0)]), grid.shape[1])
        assert grid.up_m[row] < 100.0
        # Derived: from (0, 200) through (20, 97.5), the last dry cell, one cell farther.
        assert (grid.right_m[column], grid.up_m[row]) == (20.0, 95.0)

    def test_no_dry_ground_leaves_stroke_and_distance(self):
        grid = make_grid(invented_site(100, [("water_red", box(-90, -60, 90, 80))]), SETTINGS)
        assert drop_cells(grid, 0.0)[grid.cell_at(0.0, 40.0)] == -1


@pytest.mark.parametrize("name", ["missed", "blowup", "avoided", "leave"])
@pytest.mark.parametrize("price", [-0.1, 11.0, float("nan")])
def test_prices_out_of_reason(name, price):
    with pytest.raises(PlanError, match="A price is from 0 to 10 strokes"):
        Prices(**{name: price})


def test_a_grid_out_of_reason():
    with pytest.raises(PlanError, match=r"Cells are from 0\.5 to 50 m"):
        StrategySettings(cell_m=0.1)
