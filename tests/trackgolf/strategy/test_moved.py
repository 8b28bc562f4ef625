"""A moved target: the same odds as planning anew around it, and what lies and ends near it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from tests.trackgolf.strategy.test_rounds import BAG, COARSE, COURSE
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.moved import beside, ends_of, make_ready, plan_moved
from trackgolf.strategy.outcomes import sample_pattern
from trackgolf.strategy.plans import plan_hole
from trackgolf.strategy.rounds import hole_tasks
from trackgolf.strategy.site import GROUND, lies_at

TASK = hole_tasks(COURSE, BAG, settings=COARSE, names=("on plan",), zones=True)[0]
READY = make_ready(TASK)


def kept_of(plan, count, moved_m=(0.0, 0.0)):
    """The first strokes of a plan, the last of them moved."""
    strokes = plan.strokes[:count]
    shots = [
        Kept(number, one.club, one.start_m, one.target_m, 9.0) for number, one in enumerate(strokes, start=1)
    ]
    right, up = shots[-1].target_m
    return (*shots[:-1], replace(shots[-1], target_m=(right + moved_m[0], up + moved_m[1])))


class TestPlanMoved:
    @pytest.mark.parametrize(("count", "moved_m"), [(0, None), (1, (14.0, -30.0)), (2, (-9.0, -25.0))])
    def test_as_if_planned_anew(self, count, moved_m):
        # Source: `plan_hole`, which searches the whole plan again with the shots kept.
        free = plan_moved(READY)
        kept = kept_of(free, count, moved_m) if count else ()
        quick, whole = plan_moved(READY, kept), plan_hole(replace(TASK, kept=kept))
        slow = whole.plans["on plan"]
        assert quick.strokes == slow.strokes
        assert quick.odds.expected_strokes == pytest.approx(slow.odds.expected_strokes, abs=1e-9)
        assert quick.odds.regulation_probability == pytest.approx(slow.odds.regulation_probability, abs=1e-9)
        assert quick.odds.scores == pytest.approx(slow.odds.scores, abs=1e-9)
        for mine, other in zip(quick.spots, whole.next_shots.spots, strict=True):
            assert (mine.name, mine.club, mine.lie) == (other.name, other.club, other.lie)

    def test_a_target_far_aside_costs(self):
        free = plan_moved(READY)
        aside = plan_moved(READY, kept_of(free, 1, (45.0, 0.0)))
        assert aside.odds.expected_strokes > free.odds.expected_strokes + 0.1
        assert aside.strokes[0].target_m == (free.strokes[0].target_m[0] + 45.0, free.strokes[0].target_m[1])


class TestEnds:
    def test_shares_agree_with_strokes_drawn_by_lot(self):
        # Derived: 40,000 strokes without a grid, where balls roll as on a fairway: two standard errors are 0.5 %,
        # cells of 8 m and shorter rolls in rough cost 4 % at edges.
        kept = kept_of(plan_moved(READY), 1)
        found = ends_of(READY, kept, 1)
        model = READY.free.model
        swing = next(one for one in model.swings[0] if one.club == kept[0].club and not one.part)
        rng = np.random.default_rng(5)
        # Aimed at the target the pattern of rest is around it, on a fairway.
        long_m, side_m = sample_pattern(swing, model.settings, rng, np.ones(40_000), np.ones(40_000))
        way = np.array(kept[0].target_m) - np.array(kept[0].start_m)
        way = way / np.hypot(*way)
        right = kept[0].target_m[0] + long_m * way[0] + side_m * way[1]
        up = kept[0].target_m[1] + long_m * way[1] - side_m * way[0]
        lies = lies_at(model.grid.site, right, up, model.settings)
        for name in ("fairway", "rough"):
            assert found.shares[name] == pytest.approx(np.mean(lies == GROUND.index(name)), abs=0.04)
        assert sum(found.shares.values()) == pytest.approx(1.0, abs=0.02)
        assert found.off_m < 8.0
        assert found.wished_m == pytest.approx(math.dist(kept[0].start_m, kept[0].target_m))

    def test_what_a_club_cannot_is_told(self):
        kept = kept_of(plan_moved(READY), 1, (0.0, 80.0))
        found = ends_of(READY, kept, 1)
        assert found.wished_m > found.high_m
        # Derived: what is too far by so much is aimed short by so much, cells apart.
        assert found.off_m == pytest.approx(found.wished_m - found.high_m, abs=8.0)


class TestBeside:
    def test_sides_and_distances(self):
        site = replace(
            TASK.site,
            shapes=(
                ("bunker", box(10.0, 90.0, 20.0, 110.0)),
                ("water_red", box(-50.0, 120.0, 50.0, 140.0)),
                ("out_of_bounds", box(-100.0, 0.0, -41.0, 200.0)),
                ("green", box(-5.0, 95.0, 5.0, 105.0)),
            ),
        )
        # Derived: from (0, 100) played up; sand begins 10 m to the right, water 20 m on, the bounds 41 m to the left.
        told = beside(site, (0.0, 0.0), (0.0, 100.0))
        assert [(one.ground, one.away_m, one.side) for one in told] == [
            ("bunker", 10.0, "right"),
            ("water_red", 20.0, "past"),
        ]
        # Derived: played across from the right, what was to the right is short of the target.
        assert [one.side for one in beside(site, (100.0, 100.0), (0.0, 100.0))] == ["short", "right"]
        inside = beside(site, (0.0, 0.0), (15.0, 100.0))[0]
        assert (inside.ground, inside.away_m, inside.side) == ("bunker", 0.0, "")
