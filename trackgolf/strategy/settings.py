"""Every number the computed plan rests on, with its unit and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass, field

from trackgolf.errors import PlanError

__all__ = ["FEWEST_STROKES", "LIES", "LieEffect", "Prices", "StrategySettings"]

LIES = ("fairway", "rough", "bunker")
"""Lies a ball is played from; the tee is played like a fairway, by every club."""


@dataclass(frozen=True, slots=True)
class LieEffect:
    """
    What a lie does to a club.

    Attributes
    ----------
    reach_share : float
        How far a club goes, as a share of what it goes from a fairway.
    spread_factor, mishit_factor : float
        By what its spread and its share of mishits grow.
    """

    reach_share: float = 1.0
    spread_factor: float = 1.0
    mishit_factor: float = 1.0


def _lies() -> dict[str, LieEffect]:
    # Spread from rough: Derived: the median miss of tour players grows by 4.3 points of the distance (James & Rees,
    # 2008); 13 points, that of a 90-shooter from a fairway (Broadie, 2014), grow by a third. The rest: common
    # practice, no source, in the order of lies that Broadie's table of strokes to hole out has.
    return {
        "fairway": LieEffect(),
        "rough": LieEffect(0.95, 1.33, 1.2),
        "bunker": LieEffect(0.8, 1.5, 1.8),
    }


@dataclass(frozen=True, slots=True)
class Prices:
    """
    What a plan pays for besides strokes.

    Attributes
    ----------
    missed : float
        The price ``a`` of not being on the green within the regulation shots [strokes].
    blowup : float
        The price ``b`` of a score above personal par + 1 [strokes].
    avoided : float
        Of each stroke with a club the player would rather not use [strokes]. Common practice, no source.
    leave : float
        Of a stroke played from a distance the player does not like, in full where it is far from all that they
        like [strokes]. Common practice, no source.
    """

    missed: float = 0.5
    blowup: float = 0.5
    avoided: float = 0.3
    leave: float = 0.05

    def __post_init__(self) -> None:
        named = {
            "the price of a missed regulation": self.missed,
            "the price of a score above personal par + 1": self.blowup,
            "the price of a club to avoid": self.avoided,
            "the price of a leave": self.leave,
        }
        for name, price in named.items():
            if not 0.0 <= price <= 10.0:
                raise PlanError(f"{name} is {price:g}", None, "A price is from 0 to 10 strokes")


FEWEST_STROKES = Prices(0.0, 0.0, 0.0, 0.0)
"""No price at all: what is left is strokes."""


@dataclass(frozen=True, slots=True)
class StrategySettings:
    """
    What a computed plan goes by.

    Attributes
    ----------
    leave_span_m : float
        A place to play from that is so far or farther from every preferred distance costs the whole price of a
        leave, a nearer one a part of it [m]. Common practice, no source.
    leave_from_m : float
        Leaves shorter than this cost nothing [m].
    cell_m : float
        Side of a cell of the grid [m].
    side_m, behind_m, beyond_m : float
        How far the grid reaches beside the line of play, behind the tee and beyond the green [m]. What leaves it
        is lost.
    turn_deg : float
        Steps in which the pattern of a club is turned with its aim [deg].
    fan_deg : float
        How far from the line to the hole a full shot may be aimed, beyond the bends of the hole [deg].
    short_m : float
        Shots up to this length are aimed at the hole only [m].
    full_share : float
        A full swing goes down to this share of carry + roll, by gripping down. Common practice, no source.
    part_ratio : float
        Ratio of neighbouring lengths of part swings.
    part_spread : float
        By what the spread of a part swing the bag lists is wider, as a share of its length. Derived: the median
        misses at 50-100 and 100-200 yd, 5.85 and 4.95 % of the distance (James & Rees, 2008).
    strange_part_spread : float
        The same for part swings the bag does not list. Common practice, no source.
    strange_part_mishits : float
        By what part of itself the share of mishits grows with such swings, the nearer they are to nothing. Common
        practice, no source.
    spread_floor_m : float
        No shot is straighter than this, one standard deviation [m]. Common practice, no source.
    topped_share, topped_long, topped_long_spread, topped_side_spread : float
        Of mishits this share is topped or hit fat: how far those go, and their spread, as shares of the length
        meant. Common practice, no source.
    crooked_long, crooked_long_spread, crooked_side_spread : float
        The same for the rest of full shots, sliced, hooked or shanked: common practice, no source.
    thin_long, thin_long_spread, thin_side_spread : float
        The same for the rest of shots up to `thin_up_to_m`, hit thin. Common practice, no source.
    thin_up_to_m : float
        See above [m].
    roll_shares : dict of str to float
        How far a ball rolls where it lands, as a share of its roll on a fairway. Common practice, no source.
    lies : dict of str to LieEffect
        What lies do to clubs.
    lost_from_m, lost_full_m, lost_share : float
        In rough farther from the line of play than the first a ball may be lost; from the second on with this
        probability. Common practice, no source.
    fairway_half_m : float
        Where the map draws no fairways they are taken to reach so far to either side [m]. Common practice, no
        source.
    green_radius_m : float
        Of a green that nobody drew [m]. Common practice, no source.
    tolerance_strokes : float
        The values are repeated until none changes by more [strokes].
    most_sweeps : int
        And not more often than this.
    """

    leave_span_m: float = 25.0
    leave_from_m: float = 30.0
    cell_m: float = 5.0
    side_m: float = 65.0
    behind_m: float = 15.0
    beyond_m: float = 45.0
    turn_deg: float = 20.0
    fan_deg: float = 35.0
    short_m: float = 45.0
    full_share: float = 0.85
    part_ratio: float = 1.15
    part_spread: float = 1.18
    strange_part_spread: float = 1.5
    strange_part_mishits: float = 0.5
    spread_floor_m: float = 0.8
    topped_share: float = 0.6
    topped_long: float = 0.45
    topped_long_spread: float = 0.2
    topped_side_spread: float = 0.1
    crooked_long: float = 0.85
    crooked_long_spread: float = 0.12
    crooked_side_spread: float = 0.2
    thin_long: float = 1.4
    thin_long_spread: float = 0.25
    thin_side_spread: float = 0.12
    thin_up_to_m: float = 60.0
    roll_shares: dict[str, float] = field(
        default_factory=lambda: {"fairway": 1.0, "green": 1.0, "rough": 0.5, "bunker": 0.0}
    )
    lies: dict[str, LieEffect] = field(default_factory=_lies)
    lost_from_m: float = 35.0
    lost_full_m: float = 70.0
    lost_share: float = 0.25
    fairway_half_m: float = 16.0
    green_radius_m: float = 12.0
    tolerance_strokes: float = 1e-3
    most_sweeps: int = 30

    def __post_init__(self) -> None:
        if not 0.5 <= self.cell_m <= 50.0:
            raise PlanError(f"a grid of {self.cell_m:g} m", None, "Cells are from 0.5 to 50 m")
