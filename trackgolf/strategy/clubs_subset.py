"""The fewest clubs that will do, and what each further club gains."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from trackgolf.bag import Bag, Club
from trackgolf.errors import BagError
from trackgolf.strategy.plans import HolePlans, HoleTask
from trackgolf.strategy.settings import StrategySettings
from trackgolf.strategy.swings import from_tee_only

__all__ = ["FewestClubs", "FurtherClub", "bag_of", "covers", "fewest_clubs", "reaches"]

# Clubs are compared on a coarse grid: what a club gains hardly depends on it [m].
_COARSE_M = 10.0
# Sets of one size that are compared by strokes, and the longest hole [m].
_MOST_SETS = 4
_FARTHEST_M = 800
Bools = npt.NDArray[np.bool_]
Runner = Callable[[Sequence[HoleTask]], list[HolePlans]]


@dataclass(frozen=True, slots=True)
class FurtherClub:
    """
    A club added to those before it.

    Attributes
    ----------
    club : str
        Its name.
    gain : float
        Strokes a round it saves, on average, beside the clubs before it.
    """

    club: str
    gain: float


@dataclass(frozen=True)
class FewestClubs:
    """
    The fewest clubs that will do.

    Attributes
    ----------
    clubs : tuple of str
        Their names, the longest first.
    covered : bool
        Whether they reach every green within the regulation shots; if not, they reach as many as the whole bag.
    tee_clubs : dict of int to str
        What to tee off with on each hole.
    expected_strokes : float
        Of a round with them.
    further : tuple of FurtherClub
        The other clubs, those that gain most first.
    """

    clubs: tuple[str, ...]
    covered: bool
    tee_clubs: dict[int, str]
    expected_strokes: float
    further: tuple[FurtherClub, ...]


def bag_of(bag: Bag, clubs: Sequence[Club]) -> Bag:
    """
    Take some clubs of a bag.

    Parameters
    ----------
    bag : Bag
        The bag.
    clubs : sequence of Club
        Some of its clubs.

    Returns
    -------
    Bag
        With these, and the preferred distances and part swings that go with them.
    """
    names = {club.name for club in clubs}
    return replace(
        bag,
        clubs=tuple(club for club in bag.clubs if club.name in names),
        approaches=tuple(approach for approach in bag.approaches if approach.club in names),
        part_swings=tuple(part for part in bag.part_swings if part.club in names),
    )


def reaches(bag: Bag, shots: int, full_share: float) -> Bools:
    """
    Say which distances some shots cover together, by swings the player has.

    Parameters
    ----------
    bag : Bag
        The clubs.
    shots : int
        At most so many.
    full_share : float
        A full swing goes down to this share of carry + roll.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        Whether each whole number of metres is covered; the driver from the tee only.
    """
    teed, grounded = (np.zeros(_FARTHEST_M, dtype=bool) for _ in range(2))
    for club in bag.clubs:
        band = slice(math.ceil(full_share * club.distance_m), math.floor(club.distance_m) + 1)
        teed[band] = True
        if not from_tee_only(bag, club):
            grounded[band] = True
    for part in bag.part_swings:
        band = slice(math.ceil(part.from_m), math.floor(part.to_m) + 1)
        teed[band] = grounded[band] = True
    covered, last = teed.copy(), teed
    steps = np.flatnonzero(grounded)
    for _ in range(shots - 1):
        further = np.zeros(_FARTHEST_M, dtype=bool)
        for step in steps:
            further[step:] |= last[: _FARTHEST_M - step]
        covered, last = covered | further, further
    return covered


def covers(task: HoleTask, reach: Bools) -> bool:
    """
    Say whether a hole's green is reached within the regulation shots.

    Parameters
    ----------
    task : HoleTask
        The hole.
    reach : numpy.ndarray of bool
        As `reaches` gives for its regulation shots.

    Returns
    -------
    bool
        Whether a distance that ends on the green, along the line of play, is covered.
    """
    along = float(np.hypot(*np.diff(task.site.line_m, axis=0).T).sum())
    low, high = along - task.settings.green_radius_m, along + task.settings.green_radius_m / 2
    return bool(reach[max(math.ceil(low), 0) : math.floor(high) + 1].any())


def fewest_clubs(tasks: Sequence[HoleTask], bag: Bag, run: Runner) -> FewestClubs:
    """
    Find the fewest clubs that cover every hole, and what each further club gains.

    Parameters
    ----------
    tasks : sequence of HoleTask
        The holes.
    bag : Bag
        The whole bag.
    run : callable
        Plans many holes, as `run_tasks` does.

    Returns
    -------
    FewestClubs
        Of the smallest sets the one with the fewest expected strokes. Holes
        that the whole bag does not cover are left out of account.

    Raises
    ------
    BagError
        If the bag has no club.
    """
    if not bag.clubs:
        raise BagError("there are no clubs to choose from", None, "Give at least one [[club]] in the bag")
    share = tasks[0].settings.full_share
    whole = {shots: reaches(bag, shots, share) for shots in {task.goal.regulation_shots for task in tasks}}
    reachable = [task for task in tasks if covers(task, whole[task.goal.regulation_shots])]
    sets = _smallest(reachable, bag, share)
    scores = _strokes(tasks, [bag_of(bag, clubs) for clubs in sets], run)
    best = min(range(len(sets)), key=lambda number: scores[number][0])
    strokes, tee_clubs = scores[best]
    chosen = list(sets[best])
    rest = [club for club in bag.clubs if club not in chosen]
    alone = _strokes(tasks, [bag_of(bag, [*chosen, club]) for club in rest], run)
    order = sorted(range(len(rest)), key=lambda number: alone[number][0])
    grown = [bag_of(bag, [*chosen, *(rest[k] for k in order[: n + 1])]) for n in range(1, len(order))]
    totals = [
        strokes,
        *([alone[order[0]][0]] if order else []),
        *(total for total, _ in _strokes(tasks, grown, run)),
    ]
    further = tuple(
        FurtherClub(rest[number].name, totals[place] - totals[place + 1])
        for place, number in enumerate(order)
    )
    names = tuple(club.name for club in sorted(chosen, key=lambda club: -club.distance_m))
    return FewestClubs(names, len(reachable) == len(tasks), tee_clubs, strokes, further)


def _smallest(tasks: Sequence[HoleTask], bag: Bag, full_share: float) -> list[tuple[Club, ...]]:
    """List the smallest sets that cover all of some holes, those that reach farthest first."""
    wanted = sorted({task.goal.regulation_shots for task in tasks})
    for size in range(1, len(bag.clubs) + 1):
        found = []
        for clubs in itertools.combinations(bag.clubs, size):
            some = bag_of(bag, clubs)
            reach = {shots: reaches(some, shots, full_share) for shots in wanted}
            if all(covers(task, reach[task.goal.regulation_shots]) for task in tasks):
                found.append(clubs)
        if found:
            found.sort(key=lambda clubs: -sum(club.distance_m for club in clubs if not club.avoid))
            return found[:_MOST_SETS]
    return [bag.clubs]


def _strokes(
    tasks: Sequence[HoleTask], bags: Sequence[Bag], run: Runner
) -> list[tuple[float, dict[int, str]]]:
    """Score bags over all holes: expected strokes, and clubs from the tees."""
    coarse = [
        replace(
            task,
            bag=bag,
            settings=_coarse(task.settings),
            names=("fewest strokes",),
            trials=0,
            zones=False,
            kept=(),
        )
        for bag in bags
        for task in tasks
    ]
    made = run(coarse) if coarse else []
    scores = []
    for first in range(0, len(made), len(tasks)):
        plans = made[first : first + len(tasks)]
        total = sum(hole.plans["fewest strokes"].odds.expected_strokes for hole in plans)
        tees = {hole.number: hole.plans["fewest strokes"].strokes[0].club for hole in plans}
        scores.append((total, tees))
    return scores


def _coarse(settings: StrategySettings) -> StrategySettings:
    return replace(settings, cell_m=max(settings.cell_m, _COARSE_M))
