"""A course as tables to draw: each thing once."""

import geopandas as gpd
import pandas as pd
from shapely.geometry import LineString, Point, box

from trackgolf.course import Course, Hole
from trackgolf.tables_course import course_lines, course_shapes

INVENTED_GREEN = box(-31.001, 47.003, -31.0, 47.0034)


def invented_course(*holes, kinds=(), numbers=(), geometries=()):
    shapes = gpd.GeoDataFrame(
        {"kind": list(kinds), "hole": pd.array(list(numbers), dtype="Int64"), "name": [None] * len(kinds)},
        geometry=list(geometries),
        crs="EPSG:4326",
    )
    return Course("Invented", holes, shapes, None, None, (), (), invented=True)


def invented_hole(number, *, line=True, green=None, pin=None):
    path = LineString([(-31.0, 47.0), (-31.0, 47.003)]) if line else None
    return Hole(number, 4, number, 333.6, path, green, pin)


def test_a_green_of_the_map_is_shown_once_and_one_of_the_card_too():
    course = invented_course(
        invented_hole(1, green=INVENTED_GREEN, pin=Point(-31.0005, 47.0032)),
        invented_hole(2, green=INVENTED_GREEN),
        kinds=["green", "bunker"],
        numbers=[1, pd.NA],
        geometries=[INVENTED_GREEN, INVENTED_GREEN],
    )
    shown = course_shapes(course)
    # Derived: both shapes, the pin of hole 1, and the green of hole 2, which no shape shows.
    assert shown["kind"].tolist() == ["green", "bunker", "pin", "green"]
    assert shown["hole"].tolist() == [1, pd.NA, 1, 2]
    assert shown.crs == "EPSG:4326"


def test_a_course_without_positions_shows_nothing():
    course = invented_course(invented_hole(1, line=False))
    assert course_shapes(course).empty
    assert course_lines(course).empty


def test_holes_without_a_line_are_left_out():
    course = invented_course(invented_hole(1), invented_hole(2, line=False), invented_hole(3))
    lines = course_lines(course)
    assert lines["hole"].tolist() == [1, 3]
    assert lines.geometry.geom_type.eq("LineString").all()
