import itertools
import json

import numpy as np
import pytest
from shapely import LineString, Point
from shapely.geometry import shape

from tests.simulator.courses import follows_appendix_e, invented_course


@pytest.fixture(scope="module")
def invented_courses():
    return [invented_course(seed) for seed in range(12)]


def test_the_same_seed_gives_the_same_course():
    first, second = invented_course(3).features(), invented_course(3).features()
    assert first == second
    assert first != invented_course(4).features()


def test_stroke_indexes_follow_the_recommended_layout(invented_courses):
    # Source: Rules of Handicapping, Appendix E: odd indexes on one nine and even on the other, indexes 1 and 2 in the
    # middle triad of a nine, no two of the six lowest on holes in a row.
    for course in invented_courses:
        indexes = [h.stroke_index for h in course.holes]
        assert sorted(indexes) == list(range(1, 19))
        assert len({i % 2 for i in indexes[:9]}) == 1
        assert {indexes.index(1) % 9, indexes.index(2) % 9} <= {3, 4, 5}
        assert not any(a <= 6 and b <= 6 for a, b in itertools.pairwise(indexes))


def test_a_poor_layout_is_told_from_a_good_one():
    good = [h.stroke_index for h in invented_course(0).holes]
    assert follows_appendix_e(good)
    assert not follows_appendix_e(list(range(1, 19)))


def test_pars_fit_their_lengths(invented_courses):
    # Source: Rules of Handicapping, Appendix F, men: par 3 up to 240 m, par 4 220 to 450 m, par 5 410 to 650 m.
    bands = {3: (0, 240), 4: (220, 450), 5: (410, 650)}
    for course in invented_courses:
        assert 70 <= sum(h.par for h in course.holes) <= 72
        for hole in course.holes:
            low, high = bands[hole.par]
            assert low <= hole.length_m("long") <= high
            assert hole.length_m("long") > hole.length_m("middle") > hole.length_m("short")


def test_neighbouring_holes_run_side_by_side(invented_courses):
    gaps = []
    for course in invented_courses:
        lines = [LineString(h.line) for h in course.holes]
        for i, line in enumerate(lines):
            middle = line.interpolate(0.5, normalized=True)
            gaps.append(min(other.distance(middle) for j, other in enumerate(lines) if j != i))
            assert not any(line.crosses(other) for other in lines)
    # common practice, no source: hole lines of a park course 45 to 80 m apart
    assert min(gaps) > 30
    assert 45 < np.median(gaps) < 80
    assert np.mean((np.array(gaps) > 45) & (np.array(gaps) < 80)) > 0.6


def test_the_next_tee_is_near(invented_courses):
    walks = []
    for course in invented_courses:
        for before, after in zip(course.holes, course.holes[1:], strict=False):
            if after.number != 10:
                walks.append(float(np.hypot(*(after.line[0] - before.line[-1]))))
    assert min(walks) > 25
    assert np.mean(np.array(walks) < 125) > 0.85
    assert max(walks) < 260


def test_greens_and_tees_are_dry_and_apart(invented_courses):
    for course in invented_courses:
        water = [s.outline for s in course.shapes if s.kind.startswith("water")]
        for hole in course.holes:
            assert 330 <= hole.green.area <= 670
            assert not any(w.intersects(hole.green) for w in water)
            assert not any(w.intersects(Point(t)) for w in water for t in hole.tees.values())
            assert course.lie(hole.middle) == "green"
            assert course.lie(hole.tees["middle"]) == "tee"
        assert course.lie(np.array([5000.0, 0.0])) == "out_of_bounds"


def test_features_are_geojson_with_golf_tags(invented_courses):
    for course in invented_courses[:3]:
        features = json.loads(json.dumps(course.features(pins=True)))
        assert all(f["properties"]["invented"] == "yes" for f in features)
        assert all(isinstance(v, str) for f in features for v in f["properties"].values())
        kinds = {f["properties"].get("golf") for f in features}
        assert {"hole", "tee", "fairway", "green", "bunker", "pin", "clubhouse", "driving_range"} <= kinds
        for feature in features:
            drawn = shape(feature["geometry"])
            assert drawn.is_valid
            # Source: RFC 7946, 3.1.6: exterior rings are counterclockwise.
            assert drawn.geom_type != "Polygon" or drawn.exterior.is_ccw


def test_a_bare_course_has_hole_lines_and_greens_alone():
    kinds = [f["properties"].get("golf") for f in invented_course(1).features(bare=True)]
    assert sorted(set(kinds)) == ["green", "hole"]
    assert len(kinds) == 36


def test_a_scorecard_can_carry_positions(tmp_path):
    course = invented_course(2)
    course.write_scorecard(tmp_path / "scorecard.csv", "middle", units="yd", positions=True)
    header, first, *rest = (tmp_path / "scorecard.csv").read_text().splitlines()
    assert header == "hole,par,stroke_index,length_yd,tee_lat,tee_lon,green_lat,green_lon"
    assert len(rest) == 17
    # Derived: 1 yd = 0.9144 m exactly, rounded to a whole yard
    assert int(first.split(",")[3]) == round(course.hole(1).length_m("middle") / 0.9144)


def test_nine_holes():
    course = invented_course(5, holes=9)
    assert [h.number for h in course.holes] == list(range(1, 10))
    assert sorted(h.stroke_index for h in course.holes) == list(range(1, 10))
