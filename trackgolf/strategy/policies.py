"""Plans that other rules make, put into the model so that they can be scored in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from geo.line import along_across, point_at
from trackgolf.bag import Bag
from trackgolf.plan_ground import PlanGround
from trackgolf.plan_rules import PlanRules
from trackgolf.plan_search import find_first_shots
from trackgolf.strategy.aims import Aims
from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.settings import LIES
from trackgolf.strategy.swings import from_tee_only
from trackgolf.strategy.value import Goal, Policy

__all__ = ["longest_club", "rule_of_thumb"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class _Wish:
    """What is wanted from every cell, and last from the tee: a club, and a target or the hole."""

    club: Ints
    target_m: Floats
    at_hole: npt.NDArray[np.bool_]


def rule_of_thumb(model: HoleModel, goal: Goal, bag: Bag, ground: PlanGround, rules: PlanRules) -> Policy:
    """
    Play by the trade's arithmetic: split what is left into distances the player likes.

    Parameters
    ----------
    model : HoleModel
        The hole.
    goal : Goal
        The shots it leaves.
    bag : Bag
        The clubs.
    ground : PlanGround
        Stations along the line of play, in the frame of the course.
    rules : PlanRules
        Distances and prices of the arithmetic.

    Returns
    -------
    callable
        Choices for a number of strokes played. After a poor stroke the same
        arithmetic is done again with the shots that are left, at the station
        beside the ball.
    """
    site = model.grid.site
    stations = np.column_stack(site.from_course(*ground.xy_m.T)) if ground.has_positions else ground.xy_m
    most = max(goal.regulation_shots, 1)
    firsts = find_first_shots(ground, bag, most, rules)
    places = _places(model)
    along = np.asarray(along_across(stations, places[:, 0], places[:, 1])[0])
    straight = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(stations, axis=0).T))])
    station = np.clip(np.searchsorted(straight, along), 1, len(stations) - 1)
    station[-1] = 0

    def wish(strokes: int) -> _Wish:
        first = firsts[min(max(goal.regulation_shots - strokes, 1), most) - 1]
        target = first.target[station]
        return _Wish(first.club[station], stations[np.maximum(target, 0)], target < 0)

    return _policy(model, bag, wish)


def longest_club(model: HoleModel, bag: Bag) -> Policy:
    """
    Hit the longest club along the line of play until the hole is in reach, then at it.

    Parameters
    ----------
    model : HoleModel
        The hole.
    bag : Bag
        The clubs.

    Returns
    -------
    callable
        Choices for a number of strokes played.
    """
    line = model.grid.site.line_m
    places = _places(model)
    reach = np.array([club.distance_m for club in bag.clubs])
    grounded = np.array([not from_tee_only(bag, club) for club in bag.clubs])
    to_hole = np.hypot(*(places - model.grid.site.pin_m).T)
    usable = np.where(grounded[None, :], reach, 0.0).repeat(len(places), axis=0)
    usable[-1] = reach
    covers = np.where(usable >= to_hole[:, None], usable, np.inf)
    at_hole = np.isfinite(covers.min(axis=1))
    club = np.where(at_hole, covers.argmin(axis=1), usable.argmax(axis=1))
    along = np.asarray(along_across(line, places[:, 0], places[:, 1])[0])
    target = np.column_stack(point_at(line, along + usable.max(axis=1)))
    made = _Wish(club, target, at_hole)
    return _policy(model, bag, lambda strokes: made)


def _places(model: HoleModel) -> Floats:
    """Give the middles of all cells, and last the tee."""
    grid = model.grid
    up, right = np.meshgrid(grid.up_m, grid.right_m, indexing="ij")
    return np.vstack([np.column_stack([right.ravel(), up.ravel()]), grid.site.line_m[0]])


def _policy(model: HoleModel, bag: Bag, wish: Callable[[int], _Wish]) -> Policy:
    """Turn wishes into choices, each kind of them once."""
    made: dict[bytes, tuple[Ints, int]] = {}

    def choices(strokes: int) -> tuple[Ints, int]:
        wanted = wish(strokes)
        key = wanted.club.tobytes() + wanted.target_m.tobytes() + wanted.at_hole.tobytes()
        if key not in made:
            by_lie = [_choose(model, bag, lie, wanted) for lie in range(len(LIES))]
            cells = np.stack([chosen[:-1].reshape(model.grid.shape) for chosen in by_lie])
            made[key] = cells, int(by_lie[0][-1])
        return made[key]

    return choices


def _choose(model: HoleModel, bag: Bag, lie: int, wanted: _Wish) -> Ints:
    """Find the stroke of the model that comes nearest to what is wanted from each place."""
    grid, aims, swings = model.grid, model.aims[lie], model.swings[lie]
    places = _places(model)
    way = np.where(wanted.at_hole[:, None], grid.site.pin_m, wanted.target_m) - places
    length = np.hypot(*way.T)
    turns = np.append(model.hole_turns.ravel(), model.hole_turns[grid.tee])
    # A swing of another club stands in where the model has none of this club for a length.
    chosen = np.full(len(places), np.iinfo(np.int64).min)
    for club_number, club in enumerate(bag.clubs):
        mine = np.flatnonzero(wanted.club == club_number)
        numbers = [number for number, swing in enumerate(swings) if swing.club == club.name]
        full = next(number for number in numbers if not swings[number].part)
        wished = np.minimum(length[mine], swings[full].high_m)
        number_of = np.full(len(mine), full)
        for number, swing in enumerate(swings):
            fits = (wished >= swing.low_m) & (wished <= swing.high_m) & swing.part
            fits &= (wished < swings[full].low_m) & ((number_of == full) | (swing.club == club.name))
            number_of[fits] = number
        row = model.row_of[lie][number_of, turns[mine]]
        direct = wanted.at_hole[mine] & (row >= 0) & (length[mine] <= swings[full].high_m * 1.01)
        chosen[mine[direct]] = -1 - number_of[direct]
        for number in np.unique(number_of[~direct]):
            some = mine[~direct][number_of[~direct] == number]
            near = np.flatnonzero(aims.swing == number)
            if len(near) == 0:
                near = np.flatnonzero(aims.swing == full)
            if len(near) == 0:
                near = np.arange(len(aims.swing))
            chosen[some] = near[_nearest(aims, near, way[some], swings[full].high_m, grid.cell_m)]
    return chosen


def _nearest(aims: Aims, near: Ints, way_m: Floats, reach_m: float, cell_m: float) -> Ints:
    """Find the aims nearest to wanted ones, which are cut to the reach of the club."""
    from scipy.spatial import cKDTree

    part = aims.part[near]
    row = aims.row[near] * (1 - part) + aims.next_row[near] * part
    column = aims.column[near] * (1 - part) + aims.next_column[near] * part
    length = np.hypot(*way_m.T)
    short = way_m * np.minimum(1.0, reach_m / np.maximum(length, 1e-9))[:, None]
    tree = cKDTree(np.column_stack([column, row]) * cell_m)
    return np.asarray(tree.query(short)[1])
