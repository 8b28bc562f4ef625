"""Backward induction against brute force, known values, and play by lots."""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from shapely.geometry import box

from tests.trackgolf.strategy.invented_sites import beside, invented_bag, invented_site, metre_club, usual_bag
from trackgolf.strategy.grid import make_grid
from trackgolf.strategy.make import make_model
from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.monte_carlo import Truth, play_hole
from trackgolf.strategy.odds import hole_odds
from trackgolf.strategy.outcomes import Pattern, pattern_of
from trackgolf.strategy.putting import MOST_PUTTS
from trackgolf.strategy.settings import FEWEST_STROKES, LIES, Prices, StrategySettings
from trackgolf.strategy.value import Goal, solve

COARSE = StrategySettings(cell_m=20.0, side_m=50.0, behind_m=20.0, beyond_m=40.0, turn_deg=40.0)
PUTTS = np.arange(1.0, MOST_PUTTS + 1)


def small_hole():
    """A hole with everything: water that must be carried, out of bounds, sand, fairway."""
    shapes = [
        ("water_yellow", box(-60, 95, 60, 125)),
        ("water_red", box(-60, 160, -25, 200)),
        ("out_of_bounds", beside(-20, 260, 45, 100)),
        ("bunker", box(15, 190, 35, 215)),
        ("fairway", box(-20, 20, 20, 180)),
    ]
    clubs = [
        metre_club("driver", 130, long_m=14, side_m=12, mishit_share=0.2),
        metre_club("7 iron", 95, long_m=10, side_m=8),
        metre_club("sand wedge", 55, long_m=7, side_m=6, avoid=True),
    ]
    bag = invented_bag(clubs, [("7 iron", 95.0)])
    return make_model(invented_site(210, shapes, green_radius_m=15, fairways_drawn=True), bag, COARSE, 18.0)


class BruteForce:
    """The same model spelled out: a list of outcomes for every stroke from every cell, and the least of all sums."""

    def __init__(self, model):
        self.model, self.grid = model, model.grid
        rows, columns = self.grid.shape
        self.cells = rows * columns
        self.strokes = {}
        for lie in range(len(LIES)):
            for cell in range(self.cells):
                self.strokes[lie, cell] = list(self._strokes(lie, divmod(cell, columns), teed=False))
        row, column = self.grid.tee
        self.tee = list(self._strokes(0, (row, column), teed=True))

    def _strokes(self, lie, place, *, teed):
        """Yield price, probabilities of rest and of a drop by cell, of stroke and distance, and the putts' error."""
        model, grid = self.model, self.grid
        row, column = place
        sand_far = lie in model.far_lies
        to_hole = grid.to_hole_m[row, column]
        for number, swing in enumerate(model.swings[lie]):
            if swing.tee_only and not teed:
                continue
            turn = int(model.hole_turns[row, column])
            if swing.low_m <= to_hole <= swing.high_m and model.row_of[lie, number, turn] >= 0:
                pin_row = (grid.site.pin_m[1] - grid.up_m[0]) / grid.cell_m
                pin_column = (grid.site.pin_m[0] - grid.right_m[0]) / grid.cell_m
                error = model.putt_error[model.row_of[lie, number, turn]]
                yield (swing.avoided, *self._outcome(lie, number, turn, [(pin_row, pin_column, 1.0)]), error)
        if not sand_far:
            return
        aims = model.aims[lie]
        near = (grid.green > 0) | (grid.to_hole_m < 12.0)
        for aim in range(len(aims.swing)):
            swing = model.swings[lie][aims.swing[aim]]
            ends = [
                (row + aims.row[aim], column + aims.column[aim], 1.0 - aims.part[aim]),
                (row + aims.next_row[aim], column + aims.next_column[aim], aims.part[aim]),
            ]
            if any(not (0 <= r <= model.last_row and 0 <= c < grid.shape[1]) for r, c, _ in ends):
                if teed or aims.wide[aim]:
                    continue
                if not (0 <= ends[0][0] < grid.shape[0] and 0 <= ends[0][1] < grid.shape[1]):
                    continue
            if swing.tee_only and not teed:
                continue
            if not teed and not aims.wide[aim] and not near[ends[0][0], ends[0][1]]:
                continue
            outcome = self._outcome(lie, int(aims.swing[aim]), int(aims.turn[aim]), ends)
            yield (swing.avoided, *outcome, np.zeros(MOST_PUTTS))

    def _outcome(self, lie, number, turn, ends):
        model, grid = self.model, self.grid
        rows, columns = grid.shape
        angle = float(model.turns[turn])
        roll = int(model.steps[number]) * 0.5
        landed = np.zeros(self.cells)
        for row, column, share in ends:
            base = (round(row), round(column))
            offset = (row - base[0] - roll * math.cos(angle), column - base[1] - roll * math.sin(angle))
            pattern = pattern_of(model.swings[lie][number], angle, model.settings, offset)
            for down, across, weight in zip(pattern.row, pattern.column, pattern.weight, strict=True):
                r, c = base[0] + down, base[1] + across
                if 0 <= r < rows and 0 <= c < columns:
                    landed[r * columns + c] += share * weight
        matrix = model.rest(turn, int(model.steps[number]))
        rest = landed if matrix is None else matrix.toarray().T @ landed
        drop = model.drop(turn).ravel()
        dropped = np.zeros(self.cells)
        for cell in np.flatnonzero(grid.water.ravel()):
            if drop[cell] >= 0:
                dropped[drop[cell]] += rest[cell] * grid.water.ravel()[cell]
        gone = max(1.0 - float(rest @ grid.dry.ravel()) - float(dropped.sum()), 0.0)
        return rest, dropped, gone

    def worth(self, one, two, putts, prices):
        """Give the least worth from every lie and cell, and from the tee; values as in a `Stage`."""
        grid = self.grid

        def resting(stage):
            return (grid.green * stage.green + (grid.lie_shares * stage.values).sum(axis=0)).ravel()

        after, dry = resting(one), grid.dry.ravel()
        dropped = np.where(dry > 0, resting(two) / np.maximum(dry, 1e-9), 0.0)

        def best(strokes, again):
            worths = [
                1.0 + prices.avoided * avoided + rest @ after + drops @ (1.0 + dropped) + gone * (1.0 + again)
                + error @ putts
                for avoided, rest, drops, gone, error in strokes
            ]  # fmt: skip
            return min(worths, default=20.0)

        values = np.zeros((len(LIES), *grid.shape))
        for lie in self.model.played_lies:
            again = two.values[lie].ravel()
            found = [best(self.strokes[lie, cell], again[cell]) for cell in range(self.cells)]
            values[lie] = np.array(found).reshape(grid.shape) + prices.leave * self.model.leave_off
        return values, best(self.tee, two.tee)


class TestBruteForce:
    model = small_hole()
    brute = BruteForce(model)
    goal = Goal(3, 5)

    def same(self, stage, values, tee, after):
        for lie in self.model.played_lies:
            played = self.model.grid.lie_shares[lie] > 0
            assert stage.values[lie][played] == pytest.approx(values[lie][played], abs=1e-4), after
        assert stage.tee == pytest.approx(tee, abs=1e-4)

    def test_fewest_strokes_stand_still_under_brute_force(self):
        stage = solve(replace_settings(self.model, tolerance_strokes=1e-7), self.goal, FEWEST_STROKES).stages[
            0
        ]
        values, tee = self.brute.worth(stage, stage, PUTTS, FEWEST_STROKES)
        self.same(stage, values, tee, "all")

    def test_every_stage_of_a_priced_plan(self):
        prices = Prices(0.5, 0.5, 0.3, 0.05)
        solution = solve(replace_settings(self.model, tolerance_strokes=1e-7), self.goal, prices)
        assert len(solution.stages) == self.goal.personal_par + 2
        for strokes in range(1, self.goal.personal_par + 1):
            one, two = solution.stage(strokes + 1), solution.stage(strokes + 2)
            high = strokes + 1 + PUTTS > self.goal.personal_par + 1
            values, tee = self.brute.worth(one, two, PUTTS + prices.blowup * high, prices)
            self.same(solution.stage(strokes), values, tee, strokes)

    def test_strokes_gained_add_up(self):
        # Source: Broadie, Interfaces 42(2), 2012: gained = E(start) - E(end) - 1, so that a round's strokes gained are
        # E(tee) less the score; under the plan that made the table each stroke gains nothing on average.
        stage = solve(replace_settings(self.model, tolerance_strokes=1e-7), self.goal, FEWEST_STROKES).stages[
            0
        ]
        grid = self.model.grid
        resting = (grid.green * stage.green + (grid.lie_shares * stage.values).sum(axis=0)).ravel()
        dropped = np.where(grid.dry.ravel() > 0, resting / np.maximum(grid.dry.ravel(), 1e-9), 0.0)
        gains = []
        for _, rest, drops, gone, error in self.brute.tee:
            ends = rest @ resting + drops @ (dropped + 1.0) + gone * (stage.tee + 1.0) + error @ PUTTS
            gains.append(stage.tee - ends - 1.0)
        assert max(gains) == pytest.approx(0.0, abs=1e-4)


def replace_settings(model, **changes):
    return replace(model, settings=replace(model.settings, **changes))


@dataclass
class LineModel(HoleModel):
    """A row of cells and one club that moves a ball by one cell, or none, or two."""

    chance: float = 0.2

    def landing(self, lie, swing, turn):
        chance = self.chance
        return Pattern(
            np.array([-1, 0, 1]), np.zeros(3, dtype=np.int64), np.array([chance, 1 - 2 * chance, chance])
        )


class TestTextbook:
    @pytest.mark.parametrize("chance", [0.05, 0.2, 0.3])
    def test_spider_and_fly(self, chance):
        # Source, from memory: Bertsekas, Dynamic Programming and Optimal Control, "a spider and a fly": a spider a
        # step from a fly that moves a step to or fro with probability p each needs 1 / (1 - 2p) steps if p <= 1/3, and
        # from i >= 2 steps away J(i) = 1 + p J(i) + (1 - 2p) J(i - 1) + p J(i - 2), J(0) = 0.
        known = [0.0, 1 / (1 - 2 * chance)]
        for _ in range(6):
            known.append((1 + (1 - 2 * chance) * known[-1] + chance * known[-2]) / (1 - chance))
        stage = solve(self.line(chance), Goal(3, 5), FEWEST_STROKES).stages[0]
        # One putt more, and the hole is in the tenth row.
        assert stage.values[0, 2:9, 5] == pytest.approx([1 + steps for steps in known[7:0:-1]], abs=1e-3)

    def line(self, chance):
        settings = StrategySettings(
            cell_m=10.0, side_m=50.0, behind_m=0.0, beyond_m=20.0, tolerance_strokes=1e-7, most_sweeps=300,
            lost_share=0.0, short_m=9.0, turn_deg=90.0, fan_deg=10.0,
        )  # fmt: skip
        club = metre_club("club", 10.0, roll_share=0.0, mishit_share=0.0)
        model = make_model(invented_site(90, green_radius_m=8.0), invented_bag([club]), settings, 0.0)
        full = next(n for n, swing in enumerate(model.swings[0]) if not swing.part)
        grid, aims = model.grid, model.aims[0]
        straight = np.flatnonzero(
            (aims.swing == full) & (aims.row == 1) & (aims.column == 0) & (aims.part == 0)
        )[:1]
        one = replace(aims, **{name: getattr(aims, name)[straight] for name in aims.__dataclass_fields__})
        green = np.zeros(grid.shape)
        green[9, 5] = 1.0
        # Landing past the hole is as far from it as landing before it: the two cells are one.
        lies = np.stack([1.0 - green, np.zeros(grid.shape), np.zeros(grid.shape)])
        flat = replace(
            grid, green=green, lie_shares=lies, water=np.zeros(grid.shape), gone=np.zeros(grid.shape)
        )
        putts = np.zeros((MOST_PUTTS, *grid.shape))
        putts[0] = 1.0
        values = {
            name: getattr(model, name) for name in model.__dataclass_fields__ if not name.startswith("_")
        }
        values |= {"grid": flat, "aims": (one,) * 3, "putts": putts, "leave_off": np.zeros(grid.shape)}
        values |= {"row_of": np.full(model.row_of.shape, -1), "last_row": 9}
        made = LineModel(**values, chance=chance)
        return mirrored(made)


def mirrored(model):
    """Let a ball one cell past the hole be one cell before it."""
    landed = model.landed

    def folded(after, dropped, turn):
        values = landed(after, dropped, turn).reshape(model.grid.shape).copy()
        values[10] = values[8]
        return values.ravel()

    model.landed = folded
    kept = np.ones((len(model.pairs), *model.grid.shape), dtype=np.float32)
    for lie in range(3):
        model._gone[lie] = 1.0 - kept
    return model


class TestOdds:
    site = invented_site(
        300,
        [
            ("water_red", box(-40, 200, 40, 225)),
            ("out_of_bounds", beside(-20, 400, 30, 90)),
            ("bunker", box(10, 280, 22, 305)),
        ],
    )
    model = make_model(site, usual_bag(), StrategySettings(), 18.0)
    goal = Goal(3, 5)
    fewest = solve(model, goal, FEWEST_STROKES)
    on_plan = solve(model, goal, Prices(), start=fewest)

    def test_the_value_is_what_the_odds_say(self):
        odds = hole_odds(self.fewest)
        assert odds.expected_strokes == pytest.approx(self.fewest.value, abs=2e-3)
        assert odds.scores.sum() == pytest.approx(1.0)

    def test_the_priced_value_is_the_sum_of_its_parts(self):
        # Derived: with no clubs to avoid and no price of leaves, value = strokes + a P(missed) + b P(high score).
        prices = Prices(0.7, 0.4, 0.0, 0.0)
        solution = solve(self.model, self.goal, prices, start=self.fewest)
        odds = hole_odds(solution)
        parts = (
            odds.expected_strokes + 0.7 * (1 - odds.regulation_probability) + 0.4 * odds.blowup_probability
        )
        assert parts == pytest.approx(solution.value, abs=3e-3)

    def test_prices_buy_what_they_pay_for(self):
        cheap, dear = (
            hole_odds(self.fewest),
            hole_odds(solve(self.model, self.goal, Prices(3.0, 0.0, 0.0, 0.0))),
        )
        assert dear.regulation_probability >= cheap.regulation_probability
        assert dear.expected_strokes >= cheap.expected_strokes - 1e-3

    @pytest.mark.parametrize("which", ["fewest", "on_plan"])
    def test_play_by_lots_agrees(self, which):
        # Derived: the same strokes on the ground itself, without a grid; three standard errors and 0.02.
        solution = getattr(self, which)
        count = 60_000
        played = play_hole(solution, count, np.random.default_rng(3))
        odds = hole_odds(solution)
        error = 3 * played["strokes"].std() / math.sqrt(count)
        assert played["strokes"].mean() == pytest.approx(odds.expected_strokes, abs=0.02 + error)
        green = np.mean(played["to_green"] <= self.goal.regulation_shots)
        assert green == pytest.approx(odds.regulation_probability, abs=0.02)
        assert np.mean(played["penalties"] > 0) == pytest.approx(odds.penalty_probability, abs=0.015)

    def test_half_the_cell_changes_little(self):
        fine = make_model(self.site, usual_bag(), StrategySettings(cell_m=2.5), 18.0)
        assert solve(fine, self.goal, FEWEST_STROKES).value == pytest.approx(self.fewest.value, abs=0.02)

    def test_more_mishits_cost_strokes(self):
        rng = np.random.default_rng(4)
        often = play_hole(self.fewest, 20_000, rng, Truth(1.0, 2.0))["strokes"].mean()
        seldom = play_hole(self.fewest, 20_000, rng, Truth(1.0, 0.5))["strokes"].mean()
        assert often > seldom + 0.1


def test_a_grid_begins_at_the_tee():
    grid = make_grid(invented_site(150), StrategySettings())
    assert (grid.right_m[grid.tee[1]], grid.up_m[grid.tee[0]]) == (0.0, 0.0)
