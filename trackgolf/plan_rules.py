"""What the rule of thumb goes by: what each blemish of a plan costs, and what counts as one."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PlanPrices", "PlanRules"]


@dataclass(frozen=True, slots=True)
class PlanPrices:
    """
    What each blemish of a plan costs; an order of importance, not strokes.

    Each is so much larger than the next that no number of lesser blemishes
    outweighs one of the greater. The order is common practice, no source.

    Attributes
    ----------
    water : float
        A shot that may finish in water across the line.
    avoided : float
        A club that the player would rather not use.
    bunker : float
        A layup that may finish in a bunker across the line, or cuts a corner.
    beside : float
        A layup to a place beside water or out of bounds.
    awkward : float
        A swing much shorter than the club's, or a layup hardly worth a stroke.
    approach : float
        Each step down the list of preferred approaches, and leaving it.
    shot : float
        A shot. On the way to the same approach the fewest win.
    leave : float
        A yard by which an unlisted approach misses the best one.
    length : float
        A club that goes 100 yd; twice as long costs four times that, so no
        club is longer than needed.
    part : float
        A layup with less than a full swing.
    trim : float
        A yard less than the club goes, on a layup other than from the tee.
    """

    water: float = 1e9
    avoided: float = 1e7
    bunker: float = 1e6
    beside: float = 4e5
    awkward: float = 1e5
    approach: float = 1e4
    shot: float = 1e3
    leave: float = 10.0
    length: float = 10.0
    part: float = 3.0
    trim: float = 1e-3


@dataclass(frozen=True, slots=True)
class PlanRules:
    """
    Distances that the first plan keeps.

    Attributes
    ----------
    margin_m : float
        Room between a target and water or a bunker; the club's own spread
        where that is more [m].
    corner_m : float
        How far a shot may cut inside a bend of the line [m].
    shortest_layup_m : float
        A layup shorter than this is hardly worth a stroke [m].
    full_share : float
        A full swing goes down to this share of carry + roll, by gripping down.
    prices : PlanPrices
        What each blemish costs.
    """

    margin_m: float
    corner_m: float
    shortest_layup_m: float
    full_share: float
    prices: PlanPrices
