"""A shelf of tiny invented holes and bags, in the open ocean, laid out in whole yards."""

import geopandas as gpd
import shapely
from shapely.geometry import LineString, Point, box

from geo.frame import LocalFrame
from geo.units import YARD_M
from trackgolf.bag import Approach, Bag, Club, PartSwing
from trackgolf.course import Course, Hole

# Open ocean: no course, no player, no home.
FRAME = LocalFrame(-31.0, 47.0)


def club(name, carry_yd, roll_yd=0.0, *, avoid=False, spread_yd=8.0, mishit_share=0.1):
    lengths = (carry_yd * YARD_M, roll_yd * YARD_M, spread_yd * YARD_M, 0.7 * spread_yd * YARD_M)
    return Club(name, *lengths, mishit_share, avoid)


def invented_bag(clubs, approaches, part_swings=(), *, strokes=None, target_score=None, units="yd"):
    return Bag(
        "Ines Okafor",
        units,
        target_score,
        strokes,
        tuple(clubs),
        tuple(Approach(name, distance_yd * YARD_M) for name, distance_yd in approaches),
        tuple(PartSwing(name, low * YARD_M, high * YARD_M, 0.3) for name, low, high in part_swings),
    )


def usual_bag(**options):
    """A player of about 25: the driver goes 190 yd and stays in the bag where it can."""
    clubs = [
        club("driver", 172, 18, avoid=True),
        club("5 wood", 150, 12),
        club("4 hybrid", 141, 9),
        club("6 iron", 133, 9),
        club("8 iron", 120, 8),
        club("9 iron", 107, 5),
        club("pitching wedge", 96, 3),
        club("gap wedge", 87, 1),
        club("sand wedge", 69, 1),
    ]
    return invented_bag(
        clubs,
        [("gap wedge", 88), ("9 iron", 110)],
        [("sand wedge", 15, 55)],
        **{"target_score": 97} | options,
    )


def to_degrees(geometry_yd):
    metres = shapely.transform(geometry_yd, lambda xy: xy * YARD_M)
    return FRAME.geometry_to_degrees(metres)


def ground_hole(corners_yd, *, number=1, par=4, index=1, pin_yd=None, green=True):
    """A hole through corners given in yards east and north, with a round green of 12 yd about its end."""
    line = to_degrees(LineString(corners_yd))
    end = Point(corners_yd[-1])
    length_m = LineString(corners_yd).length * YARD_M
    return Hole(
        number,
        par,
        index,
        length_m,
        line,
        to_degrees(end.buffer(12)) if green else None,
        to_degrees(Point(pin_yd)) if pin_yd is not None else None,
    )


def card_hole(length_yd, *, number=1, par=4, index=1):
    return Hole(number, par, index, length_yd * YARD_M)


def invented_course(holes, shapes=()):
    """A course of holes; shapes are pairs of a kind and a geometry in yards."""
    table = gpd.GeoDataFrame(
        {"kind": [kind for kind, _ in shapes], "hole": [None] * len(shapes), "name": [""] * len(shapes)},
        geometry=[to_degrees(shape) for _, shape in shapes],
        crs="EPSG:4326",
    )
    table["hole"] = table["hole"].astype("Int64")
    return Course("Invented Links", tuple(holes), table, invented=True)


def across(from_yd, to_yd, *, half_width_yd=40.0, middle_yd=0.0):
    """A shape across a hole that runs north along east = 0."""
    return box(middle_yd - half_width_yd, from_yd, middle_yd + half_width_yd, to_yd)
