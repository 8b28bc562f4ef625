"""Small invented holes and bags in metres, for the computed plan."""

import numpy as np
import shapely
from shapely.geometry import box

from trackgolf.bag import Approach, Bag, Club, PartSwing
from trackgolf.strategy.site import HoleSite

__all__ = ["invented_bag", "invented_site", "metre_club", "usual_bag"]


def invented_site(length_m, shapes=(), *, line=None, green_radius_m=12.0, fairways_drawn=False, fence=None):
    """A hole that runs straight up, or along a line; shapes are pairs of ground and geometry, as laid out."""
    line_m = np.array([(0.0, 0.0), (0.0, length_m)] if line is None else line, dtype=float)
    green = shapely.Point(line_m[-1]).buffer(green_radius_m)
    order = ("out_of_bounds", "green", "bunker", "water_yellow", "water_red", "fairway")
    every = [*shapes, ("green", green)]
    found = [(name, [shape for kind, shape in every if kind == name]) for name in order]
    united = tuple((name, shapely.union_all(parts)) for name, parts in found if parts)
    return HoleSite(1, line_m, line_m[-1], united, fence, fairways_drawn, False, None, np.zeros(2), 0.0)


def metre_club(name, distance_m, *, long_m=None, side_m=None, mishit_share=0.1, roll_share=0.06, avoid=False):
    """A club that goes so far in all; by default as wide as a golfer of 90 hits it."""
    carry = distance_m / (1 + roll_share)
    long_m = 0.115 * distance_m if long_m is None else long_m
    side_m = 0.077 * distance_m if side_m is None else side_m
    return Club(name, carry, distance_m - carry, long_m, side_m, mishit_share, avoid)


def invented_bag(clubs, approaches=(), part_swings=(), *, handicap=18.0):
    return Bag(
        "Ines Okafor",
        "m",
        None,
        handicap,
        tuple(clubs),
        tuple(Approach(*approach) for approach in approaches),
        tuple(PartSwing(*part) for part in part_swings),
        invented=True,
    )


def usual_bag(**options):
    """Seven clubs of a golfer of 90."""
    clubs = [
        metre_club("driver", 195, mishit_share=0.15, roll_share=0.1),
        metre_club("5 wood", 165, mishit_share=0.12),
        metre_club("6 iron", 140),
        metre_club("8 iron", 120),
        metre_club("9 iron", 105),
        metre_club("pitching wedge", 90, roll_share=0.02),
        metre_club("sand wedge", 65, roll_share=0.01),
    ]
    return invented_bag(clubs, [("9 iron", 105.0)], [("sand wedge", 5.0, 55.0, 0.2)], **options)


def beside(low_up, high_up, near_right, far_right):
    """A strip to the right of the line of play, or to the left with negative places."""
    return box(min(near_right, far_right), low_up, max(near_right, far_right), high_up)
