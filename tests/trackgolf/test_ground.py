"""A course in metres: lies, targets, tees, stations."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from pyproj import Geod
from shapely.geometry import LineString, MultiPolygon, Point, box

from geo.frame import LocalFrame
from tests.shapes import DOGLEG, FRAME, STRAIGHT, lonlat, tiny_course, tiny_hole
from trackgolf.course import Course, Hole
from trackgolf.errors import CourseError
from trackgolf.ground import lay_ground, stations
from trackgolf.reconstruct import _from_tee

GEOD = Geod(ellps="WGS84")


def spots_on(ground, *spots):
    """Shelf metres as metres of a ground's own frame."""
    east, north = lonlat(*np.array(spots, dtype=float).T)
    return ground.frame.to_metres(east, north)


def lies(ground, *spots):
    return ground.lies_at(*spots_on(ground, *spots))


class TestHoles:
    def test_lengths_are_those_of_the_geodesic(self):
        hole = lay_ground(tiny_course(tiny_hole(1, DOGLEG))).holes[0]
        lon, lat = lonlat(*np.array(DOGLEG, dtype=float).T)
        assert hole.length_m == pytest.approx(GEOD.line_length(lon, lat), abs=1e-3)

    def test_the_target_is_the_pin_else_the_middle_of_the_green(self):
        with_pin = lay_ground(tiny_course(tiny_hole(1, STRAIGHT, pin=(5, 304)))).holes[0]
        without = lay_ground(tiny_course(tiny_hole(1, STRAIGHT))).holes[0]
        pin, middle = (np.array(hole.target) - hole.line[-1] for hole in (with_pin, without))
        assert pin == pytest.approx([5, 4], abs=1e-3)
        assert middle == pytest.approx([0, 0], abs=0.05)

    def test_a_course_needs_positions(self):
        course = tiny_course()
        bare = Course("Invented Links", (Hole(1, 4, 1, 300.0),), course.shapes)
        with pytest.raises(CourseError, match="has no positions"):
            lay_ground(bare)

    def test_numbers_are_not_places(self):
        ground = lay_ground(tiny_course(tiny_hole(4, STRAIGHT), tiny_hole(7, DOGLEG)))
        assert (ground.hole_index(4), ground.hole_index(7)) == (0, 1)
        with pytest.raises(CourseError, match="no hole 5"):
            ground.hole_index(5)

    def test_tees_belong_to_their_hole(self):
        ground = lay_ground(tiny_course(tiny_hole(1, STRAIGHT), tiny_hole(2, ((100, 0), (100, 200)))))
        assert [len(hole.tees) for hole in ground.holes] == [1, 1]
        assert ground.holes[1].tees[0].area == pytest.approx(64, abs=0.1)

    def test_on_both_sides_of_the_antimeridian(self):
        # A hole of 300 m across 180 degrees; a mean of longitudes would put the frame on the other side of the earth.
        frame = LocalFrame(179.9995, -17.0)
        line = frame.geometry_to_degrees(LineString([(0, 0), (300, 0)]))
        green = frame.geometry_to_degrees(Point(300, 0).buffer(12))
        shapes = tiny_course().shapes
        ground = lay_ground(Course("Invented Links", (Hole(1, 4, 1, 300.0, line, green),), shapes))
        assert abs(abs(ground.frame.lon_deg) - 180.0) < 0.01
        assert ground.holes[0].length_m == pytest.approx(300, abs=1e-2)


class TestLies:
    course = tiny_course(
        tiny_hole(1, STRAIGHT),
        shapes=[
            ("fairway", box(-15, 60, 15, 292)),
            ("bunker", box(10, 250, 20, 260)),
            ("water_yellow", box(-60, 100, -30, 120)),
            ("water", box(-60, 140, -30, 160)),
            ("out_of_bounds", box(40, 0, 80, 300)),
            ("rough", box(-40, 60, -15, 200)),
        ],
    )
    ground = lay_ground(course)

    @pytest.mark.parametrize(
        ("spot", "lie"),
        [
            ((0, 0), "tee"),
            ((0, 150), "fairway"),
            ((25, 150), "rough"),
            ((-20, 150), "rough"),
            ((18, 255), "bunker"),
            ((12, 255), "bunker"),
            ((-45, 110), "penalty_area"),
            ((-45, 150), "penalty_area"),
            ((60, 150), "out_of_bounds"),
            ((0, 300), "green"),
            ((0, 290), "green"),
        ],
    )
    def test_the_shape_it_rests_on_and_which_counts_first(self, spot, lie):
        assert lies(self.ground, spot) == [lie]

    def test_the_edge_belongs_to_the_green(self):
        # Source: Rules of Golf 2023, 13.1a and Definitions: on the green when any part touches it.
        corner = np.array(self.ground.holes[0].green.exterior.coords[0])
        assert self.ground.lies_at(corner[:1], corner[1:]) == ["green"]

    def test_without_fairways_what_is_not_drawn_is_unknown(self):
        ground = lay_ground(tiny_course(tiny_hole(1, STRAIGHT)))
        assert lies(ground, (0, 150), (0, 0), (0, 300)) == ["unknown", "tee", "green"]
        assert (ground.mapped, self.ground.mapped) == (False, True)

    def test_no_spot_has_no_lie(self):
        assert self.ground.lies_at(np.empty(0), np.empty(0)) == []

    def test_water_of_every_kind(self):
        # Derived: two rectangles of 30 m by 20 m.
        assert self.ground.water.area == pytest.approx(1200, abs=1)

    def test_a_green_in_two_parts(self):
        hole = tiny_hole(1, STRAIGHT)
        parts = FRAME.geometry_to_degrees(MultiPolygon([box(-20, 295, -5, 310), box(5, 295, 20, 310)]))
        ground = lay_ground(tiny_course(replace(hole, green=parts)))
        assert lies(ground, (-10, 300), (0, 300), (10, 300)) == ["green", "unknown", "green"]


def test_stations_run_from_the_tee_and_right_is_positive():
    ground = lay_ground(tiny_course(tiny_hole(1, DOGLEG)))
    along, across = stations(
        ground.holes[0], *spots_on(ground, (10, 50), (-10, 50), (80, 190), (80, 210), (0, -20), (170, 200))
    )
    assert along == pytest.approx([50, 50, 280, 280, -20, 370], abs=0.01)
    assert across == pytest.approx([10, -10, 10, -10, 0, 0], abs=0.01)


class TestTeeChoices:
    lines = (((0, 0), (0, 300)), ((100, 0), (100, 400)), ((200, 0), (200, 150)))

    def course(self, *, tee, drawn=("white", "red")):
        holes = [tiny_hole(number, line) for number, line in enumerate(self.lines, start=1)]
        rows = [
            {
                "kind": "tee",
                "hole": number,
                "name": name,
                "geometry": FRAME.geometry_to_degrees(box(east - 4, 40 * step - 4, east + 4, 40 * step + 4)),
            }
            for number, ((east, _), _) in enumerate(self.lines, start=1)
            for step, name in enumerate(drawn)
        ]
        empty = tiny_course(*holes, tees=False)
        shapes = (
            gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:4326").astype({"hole": "Int64"})
            if rows
            else empty.shapes
        )
        return replace(empty, shapes=shapes, tee=tee, tees=tuple(drawn))

    def test_each_name_of_tees_is_a_choice(self):
        ground = lay_ground(self.course(tee=None))
        assert [choice.name for choice in ground.tee_choices] == ["white", "red"]
        spots, starts = ground.tee_choices[1].spots, np.array([hole.line[0] for hole in ground.holes])
        # Derived: the red tees stand 40 m up each line.
        assert (spots - starts).ravel() == pytest.approx([0, 40] * 3, abs=0.05)

    def test_holes_are_as_long_as_from_the_tees_played(self):
        course = self.course(tee=None)
        ground = lay_ground(course)
        played = _from_tee(course, ground, ground.tee_choices[1])
        # Derived: the red tees stand 40 m up each line.
        for before, after in zip(course.holes, played.holes, strict=True):
            assert before.length_m - after.length_m == pytest.approx(40.0, abs=0.05)

    def test_a_tee_the_player_names_leaves_no_choice(self):
        assert lay_ground(self.course(tee="red")).tee_choices == ()

    def test_undrawn_tees_may_lie_ahead_of_the_line(self):
        ground = lay_ground(self.course(tee=None, drawn=()))
        assert len(ground.tee_choices) > 1
        for choice in ground.tee_choices:
            ahead = [
                stations(hole, spot[:1], spot[1:])
                for hole, spot in zip(ground.holes, choice.spots, strict=True)
            ]
            assert all(
                0.0 <= along[0] < 0.5 * hole.length_m
                for (along, _), hole in zip(ahead, ground.holes, strict=True)
            )
            assert all(abs(across[0]) < 0.01 for _, across in ahead)
