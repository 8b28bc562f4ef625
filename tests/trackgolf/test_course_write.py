"""Courses written as GeoJSON: by the standard, and the same when read again."""

import json

import pytest
import shapely
from shapely.geometry import Polygon, box

from geo.errors import InputError
from tests.trackgolf.invented_course import find, invented_features, osm_xml, read
from trackgolf.course import OSM_CREDIT, course_from_scorecard, read_course
from trackgolf.course_write import course_to_geojson, write_course
from trackgolf.errors import CourseError


@pytest.fixture
def invented_course(tmp_path):
    features = invented_features()
    features += [
        ({"golf": "lateral_water_hazard"}, box(-25, 200, -5, 220)),
        ({"golf": "water_hazard"}, box(45, 200, 55, 220)),
        ({"natural": "water", "name": "Pond"}, box(95, 200, 105, 220)),
        ({"golf": "out_of_bounds"}, box(-70, 0, -60, 400)),
        (
            {"golf": "rough"},
            Polygon(box(-20, 50, 20, 90).exterior.coords, [box(-5, 60, 5, 80).exterior.coords]),
        ),
    ]
    del find(features, ref=3)[0]["handicap"]
    del find(features, ref=4)[0]["handicap"]
    return read(tmp_path, features)


def test_there_and_back(tmp_path, invented_course):
    path = tmp_path / "again.geojson"
    write_course(path, invented_course)
    again = read_course(path)
    assert again.name == invented_course.name
    assert again.invented
    assert again.tees == invented_course.tees
    for mine, other in zip(again.holes, invented_course.holes, strict=True):
        assert (mine.number, mine.par, mine.stroke_index) == (other.number, other.par, other.stroke_index)
        # Source: RFC 7946, section 11.2: seven decimals are about 1 cm.
        assert mine.length_m == pytest.approx(other.length_m, abs=0.02)
        assert mine.pin.distance(other.pin) < 1.1e-7
        assert mine.green.hausdorff_distance(other.green) < 1.1e-7
    columns = ["kind", "hole", "name"]
    assert sorted(map(str, again.shapes[columns].to_numpy().tolist())) == sorted(
        map(str, invented_course.shapes[columns].to_numpy().tolist())
    )


def test_writing_what_was_read_changes_nothing_more(tmp_path, invented_course):
    first, second = tmp_path / "first.geojson", tmp_path / "second.geojson"
    write_course(first, invented_course)
    write_course(second, read_course(first))
    assert first.read_text() == second.read_text()


def test_every_feature_is_marked_and_every_tag_a_string(invented_course):
    document = course_to_geojson(invented_course)
    for feature in document["features"]:
        assert feature["properties"]["invented"] == "yes"
        assert all(isinstance(value, str) for value in feature["properties"].values())


def test_rings_wind_as_the_standard_wants(invented_course):
    for feature in course_to_geojson(invented_course)["features"]:
        if feature["geometry"]["type"] == "Polygon":
            outer, *inner = (shapely.linearrings(ring) for ring in feature["geometry"]["coordinates"])
            # Source: RFC 7946, section 3.1.6: exterior rings counterclockwise, interior ones clockwise.
            assert shapely.is_ccw(outer)
            assert not any(shapely.is_ccw(ring) for ring in inner)


def test_the_credit_goes_along(tmp_path):
    source, path = tmp_path / "invented.osm", tmp_path / "invented.geojson"
    source.write_text(osm_xml(invented_features()))
    write_course(path, read_course(source))
    assert json.loads(path.read_text())["attribution"] == OSM_CREDIT
    assert read_course(path).credit == OSM_CREDIT
    assert not read_course(path).invented


def test_over_the_antimeridian(tmp_path):
    course = read(tmp_path, invented_features(), lon=180.0, lat=-17.0)
    path = tmp_path / "again.geojson"
    write_course(path, course)
    for feature in json.loads(path.read_text())["features"]:
        xy = shapely.get_coordinates(shapely.geometry.shape(feature["geometry"]))
        parts = shapely.get_parts(shapely.geometry.shape(feature["geometry"]))
        # Source: RFC 7946, section 3.1.9: no part crosses the antimeridian; section 4: plain degrees.
        assert abs(xy[:, 0]).max() <= 180.0
        assert all(part.bounds[2] - part.bounds[0] < 1.0 for part in parts)
    again = read_course(path)
    assert [hole.length_m for hole in again.holes] == pytest.approx(
        [hole.length_m for hole in course.holes], abs=0.02
    )
    assert again.warnings == ()


def test_holes_without_a_line_cannot_be_drawn(tmp_path):
    card = tmp_path / "invented.csv"
    card.write_text("hole,par,stroke_index,length_m\n1,4,1,350\n")
    with pytest.raises(CourseError, match="without a position cannot be drawn: 1"):
        course_to_geojson(course_from_scorecard(card))


def test_where_nothing_can_be_written(tmp_path, invented_course):
    with pytest.raises(InputError):
        write_course(tmp_path, invented_course)
