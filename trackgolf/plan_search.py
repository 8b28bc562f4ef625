"""The way to the green with the least to pay: from green to tee, station by station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from geo.units import YARD_M
from trackgolf.bag import Bag, Club
from trackgolf.club_names import parse_club_name
from trackgolf.plan_ground import PlanGround
from trackgolf.plan_rules import PlanPrices, PlanRules

__all__ = ["FirstShots", "Step", "find_first_shots", "find_steps"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# Lengths from arithmetic in metres and yards agree to this [m].
_SAME_M = 1e-6
# No hole takes more shots than this to reach.
_MOST_SHOTS = 12
# From this share of a hole's stations on, trouble beside them runs along the hole.
_ALONG_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class Step:
    """
    One planned shot.

    Attributes
    ----------
    start : int
        Station it is played from.
    target : int or None
        Station it is played to; None for the hole.
    club : Club
        The club.
    water, beside, bunker : int
        How often it runs the risk of water across the line, of trouble beside
        the target, and of a bunker or a cut corner.
    awkward : bool
        Whether it is a swing the player is not known to have.
    listed : bool
        Whether it is a preferred approach.
    """

    start: int
    target: int | None
    club: Club
    water: int
    beside: int
    bunker: int
    awkward: bool
    listed: bool


@dataclass(frozen=True, slots=True)
class FirstShots:
    """
    What the arithmetic plays next from every station.

    Attributes
    ----------
    club : numpy.ndarray of int, shape (n,)
        Number of the club in the bag.
    target : numpy.ndarray of int, shape (n,)
        Station it is played to; -1 for the hole.
    """

    club: Ints
    target: Ints


@dataclass(frozen=True, slots=True)
class _Swing:
    """A band of distances that a club covers in one way."""

    club: int
    low_m: float
    high_m: float
    price: float = 0.0
    awkward: bool = False
    listed: bool = False


@dataclass(slots=True)
class _Shots:
    """The cheapest shot of each pair; arrays of the same shape, risks with a last axis water, beside, bunker."""

    price: Floats
    club: Ints
    risks: Ints
    awkward: Bools
    listed: Bools


def find_steps(ground: PlanGround, bag: Bag, allowed: int, rules: PlanRules) -> tuple[Step, ...] | None:
    """
    Find the cheapest way from tee to green.

    Parameters
    ----------
    ground : PlanGround
        Stations of the hole.
    bag : Bag
        The player's clubs, preferred distances and part swings.
    allowed : int
        The most shots it may take.
    rules : PlanRules
        Distances and prices.

    Returns
    -------
    tuple of Step or None
        The shots in order; None if the bag cannot cover the hole so.

    Notes
    -----
    Backward induction over the stations: the price of the best way from a
    station with j shots is the least, over targets, of the price of the shot
    and of the best way from there with j - 1.
    """
    approaches = _approach_shots(ground, bag, rules)
    layups = _layup_shots(ground, bag, rules) if allowed > 1 else None
    ahead_m = _between(ground)
    best = [approaches.price]
    choices: list[Ints] = []
    for shots_after in range(1, allowed):
        if layups is None:
            break
        # Of two orders of the same shots, the longer first: the ball sits on a tee. Too small to weigh otherwise.
        price = layups.price - 1e-7 * shots_after * np.square(ahead_m / YARD_M) + best[-1][None, :]
        choices.append(np.argmin(price, axis=1))
        best.append(np.min(price, axis=1))
    totals = [price[0] for price in best]
    count = int(np.argmin(totals))
    if not np.isfinite(totals[count]):
        return None

    steps: list[Step] = []
    station = 0
    for shots_after in range(count, 0, -1):
        target = int(choices[shots_after - 1][station])
        if layups is not None:
            steps.append(_step(layups, bag, station, target))
        station = target
    steps.append(_step(approaches, bag, station, None))
    return tuple(steps)


def find_first_shots(ground: PlanGround, bag: Bag, most: int, rules: PlanRules) -> tuple[FirstShots, ...]:
    """
    Find what the cheapest way from every station begins with, as `find_steps` does from the tee.

    Parameters
    ----------
    ground : PlanGround
        Stations of the hole.
    bag : Bag
        The player's clubs, preferred distances and part swings.
    most : int
        The most shots to the green that are asked about.
    rules : PlanRules
        Distances and prices.

    Returns
    -------
    tuple of FirstShots
        With 1, 2 ... `most` shots left; where they do not suffice, with as few more as do.
    """
    approaches, layups = _approach_shots(ground, bag, rules), _layup_shots(ground, bag, rules)
    prices, firsts = [approaches.price], [FirstShots(approaches.club, np.full(len(approaches.club), -1))]
    stations = np.arange(len(approaches.club))
    for _ in range(_MOST_SHOTS):
        price = layups.price + prices[-1][None, :]
        target = np.argmin(price, axis=1)
        prices.append(price[stations, target])
        firsts.append(FirstShots(layups.club[stations, target], target))
    table = np.array(prices)
    found = []
    for shots in range(1, most + 1):
        count = np.argmin(table[:shots], axis=0)
        short = ~np.isfinite(table[:shots].min(axis=0))
        count[short] = np.argmax(np.isfinite(table), axis=0)[short]
        club = np.array([firsts[number].club[station] for station, number in enumerate(count)])
        target = np.array([firsts[number].target[station] for station, number in enumerate(count)])
        found.append(FirstShots(club, target))
    return tuple(found)


def _step(shots: _Shots, bag: Bag, start: int, target: int | None) -> Step:
    """Take one shot out of the arrays."""
    cell = start if target is None else (start, target)
    water, beside, bunker = (int(risk) for risk in shots.risks[cell])
    return Step(
        start,
        target,
        bag.clubs[int(shots.club[cell])],
        water,
        beside,
        bunker,
        awkward=bool(shots.awkward[cell]),
        listed=bool(shots.listed[cell]),
    )


def _between(ground: PlanGround) -> Floats:
    """Measure straight from each station to each."""
    east_m, north_m = ground.xy_m.T
    return np.asarray(np.hypot(east_m[None, :] - east_m[:, None], north_m[None, :] - north_m[:, None]))


def _swings(bag: Bag, rules: PlanRules) -> list[_Swing]:
    """
    List what each club covers: full swings, part swings, and what lies below them.

    The last is needed so that any distance has a club; it reaches down to
    what the next shorter club that is not avoided covers.
    """
    swings = []
    for index, club in enumerate(bag.clubs):
        reach_m = club.distance_m
        swings.append(_Swing(index, rules.full_share * reach_m, reach_m))
        shorter = [other.distance_m for other in bag.clubs if other.distance_m < reach_m and not other.avoid]
        low_m = max(shorter, default=0.0)
        if low_m < rules.full_share * reach_m:
            swings.append(_Swing(index, low_m, reach_m, rules.prices.awkward, awkward=True))
    by_name = {club.name: index for index, club in enumerate(bag.clubs)}
    swings += [
        _Swing(by_name[part.club], part.from_m, part.to_m, rules.prices.part) for part in bag.part_swings
    ]
    return swings


def _from_tee_only(bag: Bag, club: Club) -> bool:
    """Whether a club is for teed balls: the driver, unless it is all there is. Common practice, no source."""
    said = parse_club_name(club.name)
    return said is not None and said.kind == "driver" and len(bag.clubs) > 1


def _length_price(club: Club, prices: PlanPrices) -> float:
    """Price a club by how far it goes and how often it fails."""
    return prices.length * (club.distance_m / (100 * YARD_M)) ** 2 * (1 + club.mishit_share)


def _layup_shots(ground: PlanGround, bag: Bag, rules: PlanRules) -> _Shots:
    """Price the best shot from every station to every station nearer the hole."""
    prices = rules.prices
    count = len(ground.along_m)
    ahead_m = _between(ground)
    cut = _cuts_corner(ground, ahead_m, rules.corner_m)
    forward = np.triu(np.ones((count, count), dtype=bool), k=1)
    # Trouble along most of a hole cannot be avoided by distance; it is aimed away from.
    room_to_side = np.mean(ground.trouble_m < rules.margin_m) < _ALONG_SHARE
    shots = _no_shots((count, count))
    for swing in _swings(bag, rules):
        club = bag.clubs[swing.club]
        inside = forward & (ahead_m > swing.low_m - _SAME_M) & (ahead_m <= swing.high_m + _SAME_M)
        if _from_tee_only(bag, club):
            inside[1:] = False
        start, target = np.nonzero(inside)
        distance_m = ahead_m[start, target]
        water, bunker = _risks(ground, club, start, ground.along_m[target], rules.margin_m)
        beside = room_to_side & (ground.trouble_m[target] < max(rules.margin_m, club.spread_side_m))
        bunker += cut[start, target]
        short = distance_m < rules.shortest_layup_m - _SAME_M
        trim_yd = (club.distance_m - distance_m) / YARD_M
        price = (
            prices.shot
            + _length_price(club, prices)
            + swing.price
            + prices.avoided * club.avoid
            + prices.water * water
            + prices.beside * beside
            + prices.bunker * bunker
            + prices.awkward * short
            + prices.trim * trim_yd * np.where(start == 0, 0.5, 1.0)
        )
        _keep_cheaper(shots, (start, target), price, swing, np.stack([water, beside, bunker], axis=-1))
    return shots


def _approach_shots(ground: PlanGround, bag: Bag, rules: PlanRules) -> _Shots:
    """Price the best shot from every station to the hole."""
    prices = rules.prices
    to_hole_m = np.hypot(*(ground.hole_xy_m - ground.xy_m).T)
    shots = _no_shots((len(to_hole_m),))
    listed = len(bag.approaches)
    best_m = bag.approaches[0].distance_m if bag.approaches else 0.0
    bands = [
        (swing, listed * prices.approach + prices.leave * np.abs(to_hole_m - best_m) / YARD_M)
        for swing in _swings(bag, rules)
    ]
    by_name = {club.name: index for index, club in enumerate(bag.clubs)}
    for rank, approach in enumerate(bag.approaches):
        # Stations are a unit apart; a preferred distance is met by the nearest.
        index = by_name[approach.club]
        high_m = min(approach.distance_m + YARD_M, bag.clubs[index].distance_m)
        swing = _Swing(index, approach.distance_m - YARD_M, high_m, listed=True)
        off_yd = np.abs(to_hole_m - approach.distance_m) / YARD_M
        bands.append((swing, rank * prices.approach + prices.leave * off_yd))
    for swing, leave_price in bands:
        club = bag.clubs[swing.club]
        inside = (to_hole_m > swing.low_m - _SAME_M) & (to_hole_m <= swing.high_m + _SAME_M)
        if _from_tee_only(bag, club):
            inside[1:] = False
        start = np.flatnonzero(inside)
        hole_m = np.full(len(start), ground.hole_along_m)
        # Of what lies before the green only water matters: the green itself has to be played at.
        water, _ = _risks(ground, club, start, hole_m, rules.margin_m, fronting=True)
        price = (
            prices.shot
            + _length_price(club, prices)
            + swing.price
            # A distance the player lists with a club is one they like, whatever else they say of it.
            + prices.avoided * (club.avoid and not swing.listed)
            + prices.water * water
            + leave_price[start]
        )
        risks = np.stack([water, np.zeros_like(water), np.zeros_like(water)], axis=-1)
        _keep_cheaper(shots, (start,), price, swing, risks)
    return shots


def _no_shots(shape: tuple[int, ...]) -> _Shots:
    """Begin with no shot possible."""
    return _Shots(
        np.full(shape, np.inf),
        np.zeros(shape, dtype=np.int64),
        np.zeros((*shape, 3), dtype=np.int64),
        np.zeros(shape, dtype=bool),
        np.zeros(shape, dtype=bool),
    )


def _keep_cheaper(shots: _Shots, cells: tuple[Ints, ...], price: Floats, swing: _Swing, risks: Ints) -> None:
    """Put a swing's shots where they are cheaper than what is there."""
    cheaper = price < shots.price[cells]
    cells = tuple(cell[cheaper] for cell in cells)
    shots.price[cells] = price[cheaper]
    shots.club[cells] = swing.club
    shots.risks[cells] = risks[cheaper]
    shots.awkward[cells] = swing.awkward
    shots.listed[cells] = swing.listed


def _risks(
    ground: PlanGround, club: Club, start: Ints, target_m: Floats, margin_m: float, *, fronting: bool = False
) -> tuple[Ints, Ints]:
    """
    Count the crossings that a shot neither stays short of nor flies over with room.

    With `fronting`, only what ends before the target counts, and flying over
    it is enough: nobody lays up short of the green with the last shot.
    """
    start_m = ground.along_m[start]
    pitch_m = start_m + (target_m - start_m) * club.carry_m / club.distance_m
    room_m = max(margin_m, club.spread_long_m)
    counts = {"water": np.zeros(len(start), dtype=np.int64), "bunker": np.zeros(len(start), dtype=np.int64)}
    for crossing in ground.crossings:
        behind = start_m >= crossing.to_m
        if fronting:
            risky = ~behind & (crossing.to_m < target_m) & (pitch_m < crossing.to_m)
        else:
            short = target_m + room_m <= crossing.from_m + _SAME_M
            over = pitch_m - room_m >= crossing.to_m - _SAME_M
            risky = ~(behind | short | over)
        counts[crossing.kind] += risky
    return counts["water"], counts["bunker"]


def _cuts_corner(ground: PlanGround, ahead_m: Floats, corner_m: float) -> Bools:
    """Say which straight shots leave the line of play at a bend by more than is allowed."""
    cut = np.zeros(ahead_m.shape, dtype=bool)
    east_m, north_m = ground.xy_m.T
    for station_m, corner_east_m, corner_north_m in ground.corners_m:
        before = np.flatnonzero(ground.along_m < station_m)
        after = np.flatnonzero(ground.along_m > station_m)
        if len(before) == 0 or len(after) == 0:
            continue
        cells = np.ix_(before, after)
        length_m = np.maximum(ahead_m[cells], _SAME_M)
        doubled = (corner_east_m - east_m[before])[:, None] * (
            north_m[after][None, :] - north_m[before][:, None]
        ) - (corner_north_m - north_m[before])[:, None] * (east_m[after][None, :] - east_m[before][:, None])
        cut[cells] |= np.abs(doubled) / length_m > corner_m
    return cut
