"""Shapes find their holes, holes their greens, pins and tees."""

import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, box

from geo.frame import LocalFrame
from tests.trackgolf.invented_course import find, invented_features, lengths_m, moved, read, to_degrees
from trackgolf.course_place import start_at
from trackgolf.course_table import course_table
from trackgolf.errors import CourseError

FRAME = LocalFrame(0.0, 52.0)


def _metres(geometry):
    return FRAME.geometry_to_metres(geometry)


def _hole_of(course, kind, index=-1):
    return course.shapes.loc[course.shapes["kind"] == kind, "hole"].iloc[index]


class TestGreens:
    def test_a_missing_green_is_assumed_round_and_said(self, tmp_path):
        features = invented_features()
        features.remove(find(features, kind="green")[4])
        course = read(tmp_path, features)
        green = _metres(course.hole(5).green)
        assert green.centroid.distance(Point(240, 350)) < 0.01
        # common practice, no source: 12 m in radius.
        assert green.area == pytest.approx(np.pi * 144, rel=0.01)
        assert "hole 5: no green is drawn: a round one of 12 m radius is assumed" in course.warnings
        row = course.shapes[course.shapes["name"] == "assumed green"]
        assert list(row["hole"]) == [5]
        assert row.geometry.iloc[0].equals(course.hole(5).green)

    def test_all_missing_is_one_line(self, tmp_path):
        course = read(tmp_path, find(invented_features()))
        listed = ", ".join(str(number) for number in range(1, 19))
        assert course.warnings == (
            f"holes {listed}: no green is drawn: a round one of 12 m radius is assumed",
        )
        assert course.has_positions

    def test_of_two_greens_the_one_the_line_ends_in(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "green", "name": "alternate"}, Point(-25, 345).buffer(10)))
        course = read(tmp_path, features)
        assert _metres(course.hole(1).green).centroid.distance(Point(0, 350)) < 0.01
        assert course.warnings == (
            "hole 1: 2 greens lie near the end of its line: the one its line ends in is used",
        )
        assert set(course.shapes.loc[course.shapes["name"] == "alternate", "hole"]) == {1}

    def test_of_two_greens_the_nearest(self, tmp_path):
        features = [
            ({"golf": "hole", "ref": "1"}, LineString([(0, 0), (0, 330)])),
            ({"golf": "green", "name": "far"}, Point(-20, 365).buffer(10)),
            ({"golf": "green", "name": "near"}, Point(5, 350).buffer(12)),
        ]
        course = read(tmp_path, features)
        assert _metres(course.hole(1).green).centroid.distance(Point(5, 350)) < 0.01
        assert "hole 1: 2 greens lie near the end of its line: the nearest is used" in course.warnings

    def test_a_line_that_stops_short_is_said(self, tmp_path):
        features = [
            ({"golf": "hole", "ref": "1"}, LineString([(0, 0), (0, 310)])),
            ({"golf": "green"}, Point(0, 350).buffer(12)),
        ]
        course = read(tmp_path, features)
        assert "hole 1: its line ends 28 m short of the green" in course.warnings

    def test_a_green_that_another_line_ends_in_is_not_taken(self, tmp_path):
        # The line of hole 2 ends 40 m from the green of hole 1, its own is not drawn.
        features = [
            ({"golf": "hole", "ref": "1"}, LineString([(0, 0), (0, 350)])),
            ({"golf": "green"}, Point(0, 350).buffer(12)),
            ({"golf": "hole", "ref": "2"}, LineString([(300, 350), (52, 350)])),
        ]
        course = read(tmp_path, features)
        assert not course.hole(2).green.intersects(course.hole(1).green)

    def test_a_double_green_serves_both(self, tmp_path):
        features = [
            ({"golf": "hole", "ref": "1"}, LineString([(0, 0), (0, 350)])),
            ({"golf": "hole", "ref": "2"}, LineString([(0, 800), (20, 360)])),
            ({"golf": "green"}, box(-20, 330, 40, 380)),
        ]
        course = read(tmp_path, features)
        assert course.hole(1).green.equals(course.hole(2).green)

    def test_a_practice_green_belongs_to_no_hole(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "green", "name": "putting"}, Point(-200, 100).buffer(10)))
        course = read(tmp_path, features)
        assert course.shapes.loc[course.shapes["name"] == "putting", "hole"].isna().all()

    def test_a_green_in_two_parts(self, tmp_path):
        features = invented_features()
        green = find(features, kind="green")[0]
        features.remove(green)
        features.append(
            (
                green[0],
                MultiPolygon([box(-10, 340, -1, 360), box(-1, 345, 12, 360).difference(box(-1, 0, 0, 400))]),
            )
        )
        course = read(tmp_path, features)
        assert course.hole(1).green.geom_type == "MultiPolygon"

    def test_a_green_mapped_as_a_point_is_round(self, tmp_path):
        features = [f for f in invented_features() if f[0].get("golf") != "green"]
        features.append(({"golf": "green"}, Point(5, 352)))
        course = read(tmp_path, features)
        assert _metres(course.hole(1).green).centroid.distance(Point(5, 352)) < 0.01


class TestPins:
    def test_of_several_pins_the_nearest_to_the_end(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "pin"}, Point(-1, 350)))
        course = read(tmp_path, features)
        assert _metres(course.hole(1).pin).distance(Point(-1, 350)) < 0.01
        assert any("several pins" in text for text in course.warnings)

    def test_a_pin_beside_no_green_is_left_out(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "pin"}, Point(-300, 100)))
        assert read(tmp_path, features).warnings == ("1 pins near no green are left out",)

    def test_pins_are_not_needed(self, tmp_path):
        features = [f for f in invented_features() if f[0].get("golf") != "pin"]
        assert all(hole.pin is None for hole in read(tmp_path, features).holes)


class TestTees:
    def test_lines_start_at_the_tee_chosen(self, tmp_path):
        # Derived: red tees stand 40 m further on.
        course = read(tmp_path, invented_features(), tee="Red")
        assert course.tee == "red"
        assert [hole.length_m for hole in course.holes] == pytest.approx(
            [length - 40.0 for length in lengths_m()], abs=0.01
        )
        assert course.warnings == ()
        start = Point(course.hole(1).line.coords[0])
        tees = course.shapes[(course.shapes["kind"] == "tee") & (course.shapes["hole"] == 1)]
        assert tees[tees["name"] == "red"].geometry.iloc[0].covers(start)

    def test_a_tee_behind_the_line_lengthens_it(self, tmp_path):
        features = invented_features(tees=())
        features.append(({"golf": "tee", "colour": "black"}, box(-4, -34, 4, -26)))
        course = read(tmp_path, features, tee="black")
        assert course.hole(1).length_m == pytest.approx(380.0, abs=0.01)
        assert course.warnings[-1].endswith("no tee black is drawn: measured from the start of its line")

    def test_a_tee_nobody_knows_is_an_error_that_lists_them(self, tmp_path):
        with pytest.raises(CourseError, match=r"no tee 'blue'\. Known are white, red"):
            read(tmp_path, invented_features(), tee="blue")
        with pytest.raises(CourseError, match="leave --tee out"):
            read(tmp_path, invented_features(tees=()), tee="blue")

    def test_values_for_a_single_tee(self, tmp_path):
        features = invented_features(tees=())
        for tags, _ in find(features):
            tags["dist:gold"] = "100 m"
        find(features, ref=1)[0].update({"par:gold": "3", "handicap:gold": "8"})
        find(features, ref=10)[0]["handicap:gold"] = "7"
        course = read(tmp_path, features, tee="gold")
        assert course.hole(1).length_m == pytest.approx(100.0, abs=0.01)
        assert course.hole(1).par == 3
        assert course.hole(1).stroke_index == 8
        assert course.tees == ("gold",)

    def test_tees_belong_to_the_line_that_starts_there(self, tmp_path):
        course = read(tmp_path, invented_features())
        tees = course.shapes[course.shapes["kind"] == "tee"]
        for number, geometry in zip(tees["hole"], tees.geometry, strict=True):
            line = _metres(course.hole(number).line)
            assert line.project(_metres(geometry).centroid) < 45.0

    def test_a_range_tee_belongs_to_no_hole(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "tee", "name": "range"}, box(-300, 0, -200, 10)))
        assert read(tmp_path, features).shapes.set_index("name")["hole"].isna()["range"]

    def test_a_tee_mapped_as_a_point(self, tmp_path):
        features = invented_features(tees=())
        features.append(({"golf": "tee", "tee": "blue"}, Point(0, 20)))
        course = read(tmp_path, features, tee="blue")
        assert course.hole(1).length_m == pytest.approx(330.0, abs=0.01)


class TestStartAt:
    LINE = LineString([(0, 0), (100, 0), (100, 50)])

    @pytest.mark.parametrize(
        ("place", "coords"),
        [
            ((0, 0), [(0, 0), (100, 0), (100, 50)]),
            ((-30, 0), [(-30, 0), (100, 0), (100, 50)]),
            ((40, 7), [(40, 7), (100, 0), (100, 50)]),
            ((103, 20), [(103, 20), (100, 50)]),
            ((100, 60), [(100, 60), (100, 50)]),
        ],
    )
    def test_runs_to_the_next_bend(self, place, coords):
        assert list(start_at(self.LINE, Point(place)).coords) == coords


class TestShapes:
    @pytest.mark.parametrize(
        ("tags", "shape", "hole"),
        [
            ({"golf": "bunker"}, Point(70, 200).buffer(5), 2),
            ({"golf": "bunker"}, Point(-200, 200).buffer(5), None),
            ({"golf": "fairway"}, box(40, 100, 80, 200), 2),
            # A fairway that two holes share alike.
            ({"golf": "fairway"}, box(-10, 100, 70, 200), None),
            ({"golf": "rough"}, box(-30, 0, 1100, 500), None),
            ({"golf": "water_hazard"}, box(-20, 200, 5, 220), 1),
            ({"golf": "water_hazard"}, box(-20, 200, 80, 220), None),
            ({"golf": "out_of_bounds"}, box(-60, 0, -40, 400), None),
            ({"golf": "driving_range"}, box(-60, 0, -40, 400), None),
        ],
    )
    def test_belongs_where_it_lies(self, tmp_path, tags, shape, hole):
        course = read(tmp_path, [*invented_features(), (tags | {"name": "this"}, shape)])
        found = course.shapes.set_index("name")["hole"]["this"]
        assert (None if found is pd.NA else found) == hole

    def test_water_in_play_counts_on_every_hole(self, tmp_path):
        features = [*invented_features(), ({"golf": "water_hazard"}, box(-20, 200, 80, 220))]
        water = course_table(read(tmp_path, features)).set_index("hole")["water"]
        assert list(water.loc[[1, 2, 3, 4]]) == [1, 1, 0, 0]

    def test_one_pond_drawn_twice_counts_once(self, tmp_path):
        # Source: OpenStreetMap wiki, Tag:golf=water_hazard: mapped as natural=water too.
        pond = box(-25, 200, -5, 220)
        features = [
            *invented_features(),
            ({"golf": "lateral_water_hazard", "natural": "water"}, pond),
            ({"natural": "water"}, moved(pond, east=0.2)),
            ({"natural": "water"}, box(45, 200, 55, 220)),
        ]
        course = read(tmp_path, features)
        kinds = course.shapes["kind"].value_counts()
        assert (kinds["water_red"], kinds["water"]) == (1, 1)

    def test_two_exports_put_together_count_once(self, tmp_path):
        features = invented_features()
        course = read(
            tmp_path, [*features, *(f for f in features if f[0].get("golf") in ("bunker", "green"))]
        )
        assert (course.shapes["kind"] == "bunker").sum() == 18
        assert course.warnings == ("36 shapes are drawn twice: one of each is used",)

    def test_a_ditch_drawn_as_a_line(self, tmp_path):
        features = [*invented_features(), ({"golf": "water_hazard"}, LineString([(-30, 200), (30, 200)]))]
        course = read(tmp_path, features)
        ditch = course.shapes[course.shapes["kind"] == "water_yellow"].geometry.iloc[0]
        # Derived: 60 m x 2 m and half a circle of 1 m at each end.
        assert _metres(ditch).area == pytest.approx(120 + np.pi, rel=0.01)
        assert "1 x water yellow drawn as a line: taken as 2 m wide" in course.warnings

    def test_an_outline_that_does_not_close(self, tmp_path):
        ring = LineString([(-10, 100), (10, 100), (10, 150), (-10, 150), (-10, 102)])
        course = read(tmp_path, [*invented_features(extras=False), ({"golf": "fairway"}, ring)])
        assert _hole_of(course, "fairway") == 1
        assert "1 x the outline of a fairway does not close: closed" in course.warnings

    def test_lines_and_points_that_mean_no_ground_are_left_out(self, tmp_path):
        features = [
            *invented_features(extras=False),
            ({"golf": "bunker"}, Point(0, 100)),
            ({"golf": "rough"}, LineString([(0, 100), (50, 100)])),
        ]
        course = read(tmp_path, features)
        assert not course.shapes["kind"].isin(["bunker", "rough"]).any()
        assert len(course.warnings) == 2

    def test_crossing_outlines_are_repaired(self, tmp_path):
        bow_tie = shapely.Polygon([(-10, 100), (10, 140), (10, 100), (-10, 140)])
        course = read(tmp_path, [*invented_features(extras=False), ({"golf": "fairway"}, bow_tie)])
        shape = course.shapes[course.shapes["kind"] == "fairway"].geometry.iloc[0]
        assert shape.is_valid
        assert shape.geom_type == "MultiPolygon"

    def test_misspelt_tags_are_said_with_their_count(self, tmp_path):
        features = invented_features()
        for tags, _ in find(features, kind="fairway"):
            tags["golf"] = "fariway"
        features.append(({"golf": "windmill"}, box(0, 0, 5, 5)))
        course = read(tmp_path, features)
        assert "golf='fariway' is taken as fairway (14 x)" in course.warnings
        assert "golf='windmill' is not known and left out (1 x)" in course.warnings
        assert (course.shapes["kind"] == "fairway").sum() == 14

    def test_hole_lines_may_leave_the_outline(self, tmp_path):
        features = [
            (tags, box(0, 0, 10, 10)) if "leisure" in tags else (tags, shape)
            for tags, shape in invented_features()
        ]
        course = read(tmp_path, features)
        assert len(course.holes) == 18
        assert course.name == "Invented Links"


def test_degrees_of_untouched_shapes_are_those_of_the_file(tmp_path):
    course = read(tmp_path, invented_features())
    green = to_degrees(find(invented_features(), kind="green")[0][1])
    assert course.hole(1).green.equals_exact(green, 1e-12)
