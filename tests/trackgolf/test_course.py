"""Courses from map files: the same from every format, anywhere on earth, and what they are credited with."""

import itertools
import json

import numpy as np
import pytest
import shapely
from pyproj import Geod
from shapely.geometry import LineString, Point, box

from tests.trackgolf.invented_course import (
    INDEXES,
    PARS,
    find,
    geojson,
    invented_features,
    lengths_m,
    osm_xml,
    overpass_json,
    read,
    to_degrees,
)
from trackgolf.course import OSM_CREDIT, SHAPE_KINDS, Course, Hole, read_course
from trackgolf.course_table import course_gaps, course_table
from trackgolf.errors import CourseError

GEOD = Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def invented_course(tmp_path_factory):
    return read(tmp_path_factory.mktemp("course"), invented_features())


class TestCleanCourse:
    def test_holes_by_number_without_a_warning(self, invented_course):
        assert [hole.number for hole in invented_course.holes] == list(range(1, 19))
        assert tuple(hole.par for hole in invented_course.holes) == PARS
        assert tuple(hole.stroke_index for hole in invented_course.holes) == INDEXES
        assert invented_course.warnings == ()
        assert invented_course.name == "Invented Links"
        assert invented_course.invented
        assert invented_course.has_positions
        assert invented_course.tees == ("white", "red")
        assert invented_course.tee is None

    def test_the_invented_indexes_keep_the_recommended_layout(self):
        # Source: Rules of Handicapping (R&A, USGA), Appendix E: odd indexes on one nine, even on the other;
        # 1 or 2 in the middle triad; no two indexes of 6 or less in a row.
        assert {index % 2 for index in INDEXES[:9]} == {1}
        assert {index % 2 for index in INDEXES[9:]} == {0}
        assert 1 in INDEXES[3:6]
        assert 2 in INDEXES[12:15]
        assert not any(one <= 6 and two <= 6 for one, two in itertools.pairwise(INDEXES))

    def test_lengths_are_geodesics(self, invented_course):
        for hole, drawn_m in zip(invented_course.holes, lengths_m(), strict=True):
            # Source: pyproj.Geod (PROJ), length of the line on the WGS 84 ellipsoid.
            assert hole.length_m == pytest.approx(GEOD.geometry_length(hole.line), abs=1e-6)
            assert hole.length_m == pytest.approx(drawn_m, abs=0.002)

    def test_green_areas_agree_with_the_ellipsoid(self, invented_course):
        table = course_table(invented_course)
        for hole, area_m2 in zip(invented_course.holes, table["green_m2"], strict=True):
            # Source: pyproj.Geod.geometry_area_perimeter (PROJ).
            expected_m2, _ = GEOD.geometry_area_perimeter(hole.green)
            assert area_m2 == pytest.approx(abs(expected_m2), rel=1e-5)

    def test_shapes_lie_at_their_holes(self, invented_course):
        shapes = invented_course.shapes
        assert list(shapes.columns) == ["kind", "hole", "name", "geometry"]
        assert str(shapes["hole"].dtype) == "Int64"
        assert shapes.crs == "EPSG:4326"
        assert set(shapes["kind"]) <= set(SHAPE_KINDS)
        counts = shapes.groupby(["kind", "hole"]).size()
        assert all(counts["green", number] == 1 for number in range(1, 19))
        assert all(counts["bunker", number] == 1 for number in range(1, 19))
        assert all(counts["tee", number] == 2 for number in range(1, 19))
        assert shapes.loc[shapes["kind"] == "course", "hole"].isna().all()

    def test_the_pin_is_in_its_green(self, invented_course):
        for hole in invented_course.holes:
            assert hole.green.covers(hole.pin)

    def test_reading_twice_gives_the_same(self, tmp_path, invented_course):
        again = read(tmp_path, invented_features())
        assert again.holes == invented_course.holes
        assert again.shapes.equals(invented_course.shapes)

    def test_looking_up_a_hole(self, invented_course):
        assert invented_course.hole(7).number == 7
        with pytest.raises(CourseError, match="no hole 19"):
            invented_course.hole(19)


class TestFormats:
    def test_the_same_course_from_each(self, tmp_path, invented_course):
        features = invented_features()
        for text in (osm_xml(features), json.dumps(overpass_json(features))):
            path = tmp_path / "course.map"
            path.write_text(text)
            course = read_course(path)
            assert course.warnings == ()
            # Source: OpenStreetMap Foundation, attribution guideline.
            assert course.credit == OSM_CREDIT
            for mine, other in zip(course.holes, invented_course.holes, strict=True):
                assert (mine.number, mine.par, mine.stroke_index) == (
                    other.number,
                    other.par,
                    other.stroke_index,
                )
                assert mine.length_m == pytest.approx(other.length_m, abs=0.001)
                assert mine.line.equals_exact(other.line, 1e-8)
                assert (
                    mine.green.equals_exact(other.green.normalize(), 1e-8)
                    or mine.green.symmetric_difference(other.green).area < 1e-12
                )
            same = course.shapes[["kind", "hole"]].value_counts(dropna=False)
            expected = invented_course.shapes[["kind", "hole"]].value_counts(dropna=False)
            assert same.sort_index().equals(expected.sort_index())

    @pytest.mark.parametrize(
        "mark",
        [
            {"@id": "way/12"},
            {"osm_id": "12"},
            {"attribution": "OpenStreetMap contributors"},
            {"source": "Open Street Map"},
        ],
    )
    def test_geojson_that_carries_osm_marks_is_credited(self, tmp_path, mark):
        features = invented_features()
        features[3][0].update(mark)
        assert read(tmp_path, features).credit == OSM_CREDIT

    def test_own_geojson_asks_for_no_credit(self, invented_course):
        assert invented_course.credit is None

    def test_not_every_course_is_invented(self, tmp_path):
        path = tmp_path / "x.geojson"
        path.write_text(json.dumps(geojson(invented_features(), invented=False)))
        assert not read_course(path).invented


class TestAnywhereOnEarth:
    @pytest.mark.parametrize(
        ("lon", "lat"), [(0.0, 52.0), (145.0, -37.0), (180.0, -17.0), (-180.0, 0.0), (20.0, 70.0)]
    )
    def test_lengths_and_shapes_hold(self, tmp_path, lon, lat):
        course = read(tmp_path, invented_features(), lon=lon, lat=lat)
        assert course.warnings == ()
        assert [hole.length_m for hole in course.holes] == pytest.approx(lengths_m(), abs=0.002)
        table = course_table(course)
        # Derived: a circle of 12 m as 64 chords: 32 x 144 m2 x sin(2 pi / 64) = 451.66 m2.
        assert list(table["green_m2"]) == pytest.approx([32 * 144 * np.sin(2 * np.pi / 64)] * 18, abs=0.01)
        assert list(table["bunkers"]) == [1] * 18

    def test_a_course_cut_at_the_antimeridian_is_one_again(self, tmp_path):
        # Source: RFC 7946, section 3.1.9: what crosses the antimeridian should be cut in two.
        frame_lon = 180.0
        line = [LineString([(-200.0, 0.0), (0.0, 0.0)]), LineString([(0.0, 0.0), (150.0, 0.0)])]
        green = [box(130.0, -10.0, 170.0, 10.0)]
        water = [box(-40.0, 20.0, 0.0, 30.0), box(0.0, 20.0, 40.0, 30.0)]

        def part(shape):
            # The seam itself is 180 on one side, -180 on the other.
            degrees = to_degrees(shape, frame_lon, 52.0)
            seam = np.sign(degrees.centroid.x) * 180.0
            return shapely.transform(
                degrees,
                lambda xy: np.column_stack(
                    [np.where(abs(xy[:, 0]) > 179.99999999, seam, xy[:, 0]), xy[:, 1]]
                ),
            )

        def parts(shapes):
            return [part(shape) for shape in shapes]

        document = {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "properties": tags, "geometry": json.loads(shapely.to_geojson(shape))}
                for tags, shape in [
                    ({"golf": "hole", "ref": "1", "par": "4"}, shapely.MultiLineString(parts(line))),
                    ({"golf": "green"}, parts(green)[0]),
                    ({"golf": "water_hazard"}, shapely.MultiPolygon(parts(water))),
                ]
            ],
        }
        path = tmp_path / "invented.geojson"
        path.write_text(json.dumps(document))
        course = read_course(path)
        assert course.hole(1).length_m == pytest.approx(350.0, abs=0.01)
        pond = course.shapes.loc[course.shapes["kind"] == "water_yellow", "geometry"].iloc[0]
        assert pond.geom_type == "Polygon"
        assert not any("round one" in text for text in course.warnings)


class TestGaps:
    def test_hole_lines_and_greens_alone_are_enough(self, tmp_path):
        features = [*find(invented_features()), *find(invented_features(), kind="green")]
        course = read(tmp_path, features)
        assert len(course.holes) == 18
        assert course.has_positions
        assert course.warnings == ()
        assert course.name == "invented"
        assert course_gaps(course) == {"plan": (), "map": (), "rebuild": ()}

    def test_holes_missing_from_the_eighteen_are_named(self, tmp_path):
        features = [f for f in invented_features() if f[0].get("ref") not in ("5", "12")]
        course = read(tmp_path, features)
        assert "no hole 5, 12: only 16 holes are known" in course.warnings

    def test_nothing_of_a_course_is_an_error(self, tmp_path):
        with pytest.raises(CourseError, match="there is nothing of a course in it"):
            read(tmp_path, [({"building": "yes"}, box(0, 0, 1, 1))])
        with pytest.raises(CourseError, match="only 18 x green"):
            read(tmp_path, find(invented_features(), kind="green"))

    def test_two_courses_far_apart_are_an_error(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "hole", "ref": "19"}, LineString([(50_000, 0), (50_300, 0)])))
        with pytest.raises(CourseError, match="more than 10 km from the others"):
            read(tmp_path, features)

    def test_a_far_pond_is_left_out(self, tmp_path):
        features = invented_features()
        features.append(({"natural": "water"}, box(2000, 0, 2100, 100)))
        features.append(({"natural": "water"}, box(100_000, 0, 100_100, 100)))
        course = read(tmp_path, features)
        assert not (course.shapes["kind"] == "water").any()


def test_shape_of_the_dataclasses():
    hole = Hole(1, 4, None, 350.0)
    assert (hole.line, hole.green, hole.pin) == (None, None, None)
    course = Course("x", (hole,), shapes=None)
    assert not course.has_positions
    assert (course.credit, course.tee, course.tees, course.warnings, course.invented) == (
        None,
        None,
        (),
        (),
        False,
    )


def test_points_tagged_hole_are_pins(tmp_path):
    features = [f for f in invented_features() if f[0].get("golf") != "pin"]
    features.append(({"golf": "hole", "ref": "1"}, Point(2.0, 350.0)))
    course = read(tmp_path, features)
    assert course.hole(1).pin.distance(to_degrees(Point(2.0, 350.0))) < 1e-8
    assert course.hole(2).pin is None
