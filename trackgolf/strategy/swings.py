"""The swings of a bag: which club, how long, how wide, how often it fails; from each lie."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

from trackgolf.bag import Bag, Club
from trackgolf.bag_priors import PART_SWING_MISHIT_SHARE
from trackgolf.club_names import parse_club_name
from trackgolf.strategy.settings import StrategySettings

__all__ = ["Swing", "bag_swings", "from_tee_only", "swing_from"]

_SHORTEST_M = 3.0


@dataclass(frozen=True, slots=True)
class Swing:
    """
    One way to use a club, for a band of lengths.

    Attributes
    ----------
    club : str
        Name of the club.
    low_m, high_m : float
        Lengths it is used for, carry + roll [m].
    length_m : float
        The length that stands for the band [m].
    roll_m : float
        Roll on a fairway [m].
    long_m, side_m : float
        One standard deviation of good strikes along and across [m].
    mishit_share : float
        Share of strikes that go wrong.
    avoided : bool
        Whether the player would rather not use it.
    tee_only : bool
        Whether it needs a teed ball.
    part : bool
        Whether it is less than a full swing.
    """

    club: str
    low_m: float
    high_m: float
    length_m: float
    roll_m: float
    long_m: float
    side_m: float
    mishit_share: float
    avoided: bool
    tee_only: bool
    part: bool


def from_tee_only(bag: Bag, club: Club) -> bool:
    """
    Say whether a club is for teed balls: the driver, unless it is all there is.

    Parameters
    ----------
    bag : Bag
        The bag.
    club : Club
        One of its clubs.

    Returns
    -------
    bool
        Whether it is. Common practice, no source.
    """
    said = parse_club_name(club.name)
    return said is not None and said.kind == "driver" and len(bag.clubs) > 1


def bag_swings(bag: Bag, settings: StrategySettings) -> tuple[Swing, ...]:
    """
    List the swings worth trying, from a fairway.

    Parameters
    ----------
    bag : Bag
        The clubs and part swings.
    settings : StrategySettings
        How part swings and mishits depend on length.

    Returns
    -------
    tuple of Swing
        Full swings, one a club, then part swings by length. A swing is left
        out where another covers all its lengths with no more spread, roll or
        mishits, and is not avoided either.
    """
    swings = [_full(bag, club, settings) for club in bag.clubs]
    longest = max(settings.full_share * club.distance_m for club in bag.clubs)
    low = _SHORTEST_M
    while low < longest:
        high = low * settings.part_ratio
        swings += [
            _part(bag, club, low, high, settings)
            for club in bag.clubs
            if club.distance_m * settings.full_share > low and not from_tee_only(bag, club)
        ]
        low = high
    return tuple(swing for swing in swings if not _beaten(swing, swings))


def swing_from(swing: Swing, lie: str, settings: StrategySettings) -> Swing:
    """
    Say what becomes of a swing on a lie.

    Parameters
    ----------
    swing : Swing
        As from a fairway.
    lie : str
        One of `LIES`.
    settings : StrategySettings
        What lies do.

    Returns
    -------
    Swing
        The same swing: a full one shorter, all wider and less sure.
    """
    effect = settings.lies[lie]
    reach = 1.0 if swing.part else effect.reach_share
    return replace(
        swing,
        low_m=swing.low_m * reach,
        high_m=swing.high_m * reach,
        length_m=swing.length_m * reach,
        long_m=swing.long_m * effect.spread_factor,
        side_m=swing.side_m * effect.spread_factor,
        mishit_share=min(swing.mishit_share * effect.mishit_factor, 0.95),
    )


def _full(bag: Bag, club: Club, settings: StrategySettings) -> Swing:
    reach = club.distance_m
    low = settings.full_share * reach
    return Swing(
        club.name,
        low,
        reach,
        math.sqrt(low * reach),
        club.roll_m,
        max(club.spread_long_m, settings.spread_floor_m),
        max(club.spread_side_m, settings.spread_floor_m),
        club.mishit_share,
        club.avoid,
        tee_only=from_tee_only(bag, club),
        part=False,
    )


def _part(bag: Bag, club: Club, low: float, high: float, settings: StrategySettings) -> Swing:
    """Describe a part swing; what the bag does not list is as wide as its clubs are by and large."""
    length = math.sqrt(low * high)
    # Shorter ones than the bag lists are played like the shortest it lists.
    listed = next((part for part in bag.part_swings if part.club == club.name and length <= part.to_m), None)
    if listed is None:
        wider = settings.strange_part_spread
        long_share, side_share = _usual_shares(bag)
        known = max(club.mishit_share, PART_SWING_MISHIT_SHARE)
        mishit = known * (1.0 + settings.strange_part_mishits * (1.0 - length / club.distance_m))
    else:
        wider = settings.part_spread
        long_share, side_share = (
            spread / club.distance_m for spread in (club.spread_long_m, club.spread_side_m)
        )
        mishit = listed.mishit_share
    return Swing(
        club.name,
        low,
        min(high, club.distance_m),
        length,
        club.roll_m * length / club.distance_m,
        max(long_share * length * wider, settings.spread_floor_m),
        max(side_share * length * wider, settings.spread_floor_m),
        min(mishit, 0.95),
        club.avoid and listed is None,
        tee_only=False,
        part=True,
    )


def _usual_shares(bag: Bag) -> tuple[float, float]:
    """Take the middle of the clubs' spreads, along and across, as shares of their distances."""
    along = statistics.median(club.spread_long_m / club.distance_m for club in bag.clubs)
    across = statistics.median(club.spread_side_m / club.distance_m for club in bag.clubs)
    return along, across


def _beaten(swing: Swing, others: Sequence[Swing]) -> bool:
    """Whether another swing does all that this does, and nothing worse."""
    if not swing.part:
        return False
    for other in others:
        if other is swing or other.tee_only or other.low_m > swing.low_m or other.high_m < swing.high_m:
            continue
        mine = (swing.long_m, swing.side_m, swing.mishit_share, swing.roll_m, swing.avoided)
        theirs = (other.long_m, other.side_m, other.mishit_share, other.roll_m, other.avoided)
        if all(b <= a + 1e-9 for a, b in zip(mine, theirs, strict=True)) and (
            theirs != mine or others.index(other) < others.index(swing)
        ):
            return True
    return False
