"""What is taken for granted about a club when its bag says nothing."""

from __future__ import annotations

from dataclasses import dataclass

from geo.units import YARD_M
from trackgolf.club_names import parse_club_name

__all__ = ["PART_SWING_MISHIT_SHARE", "ClubPrior", "club_prior"]


@dataclass(frozen=True, slots=True)
class ClubPrior:
    """
    Shares that stand in for what a bag leaves out.

    Attributes
    ----------
    roll_share : float
        Roll on a fairway, as a share of the carry.
    long_share : float
        One standard deviation along the line, as a share of carry + roll.
    side_share : float
        One standard deviation across the line, as a share of carry + roll.
    mishit_share : float
        Share of strikes that go far wrong, in [0, 1].
    """

    roll_share: float
    long_share: float
    side_share: float
    mishit_share: float


# Roll: common practice, no source: driver 5-15 % of the carry, mid iron 4-8 %, wedge 0-3 %, the middle of each
# taken; woods and hybrids lie between.
# Spread: Source: Broadie, Every Shot Counts (2014): from 150 yd on a fairway half the shots of a golfer who
# shoots 90 finish beyond 59 ft, the pattern is 1.5 times longer than wide and centred 13 yd short. A normal
# pattern of 11.5 % along and 7.7 % across gives that.
# Across, for driver and woods: from memory, after the same book: a direction spread of 6.5 degrees.
# Mishits: common practice, no source: one in ten, more with long clubs.
_PRIORS = {
    "driver": ClubPrior(0.10, 0.115, 0.115, 0.15),
    "wood": ClubPrior(0.09, 0.115, 0.115, 0.15),
    "hybrid": ClubPrior(0.075, 0.115, 0.077, 0.12),
    "long iron": ClubPrior(0.075, 0.115, 0.077, 0.18),
    "iron": ClubPrior(0.06, 0.115, 0.077, 0.12),
    "wedge": ClubPrior(0.015, 0.115, 0.077, 0.10),
}
_LAST_LONG_IRON = 4
# Carries that part the kinds where a name says nothing; common practice, no source.
_WEDGE_CARRY_M = 100 * YARD_M
_IRON_CARRY_M = 150 * YARD_M

# Part swings with a wedge are the hardest to time; common practice, no source.
PART_SWING_MISHIT_SHARE = 0.2


def club_prior(name: str, carry_m: float) -> ClubPrior:
    """
    Say what to take for granted about a club.

    Parameters
    ----------
    name : str
        Its name; what kind of club it is follows from it where it can.
    carry_m : float
        Its carry [m], which decides where the name does not.

    Returns
    -------
    ClubPrior
        Shares to fill in.

    Examples
    --------
    >>> club_prior("8 iron", 116.0).roll_share
    0.06
    """
    said = parse_club_name(name)
    kind = None if said is None else said.kind
    if said is not None and (said.is_wedge or kind is None):
        return _PRIORS["wedge"]
    if said is not None and kind == "iron" and said.number is not None and said.number <= _LAST_LONG_IRON:
        return _PRIORS["long iron"]
    if kind in _PRIORS:
        return _PRIORS[kind]
    if carry_m <= _WEDGE_CARRY_M:
        return _PRIORS["wedge"]
    return _PRIORS["iron" if carry_m <= _IRON_CARRY_M else "hybrid"]
