"""Course files with anything wrong in them: a course or one clear error, never a crash."""

import json
import random

import pytest
from shapely.geometry import box

from geo.errors import InputError
from tests.trackgolf.invented_course import geojson, invented_features, osm_xml, overpass_json
from trackgolf.course import read_course
from trackgolf.course_table import course_gaps, course_table
from trackgolf.course_write import course_to_geojson

FEATURES = [*invented_features(4), ({"golf": "water_hazard"}, box(-20, 200, 80, 220))]
SOURCES = {
    "geojson": json.dumps(geojson(FEATURES)),
    "overpass": json.dumps(overpass_json(FEATURES)),
    "osm": osm_xml(FEATURES),
}
WRONG = [
    None,
    True,
    0,
    -1,
    1e308,
    float("nan"),
    "",
    "x" * 50,
    "0;0",
    [],
    {},
    [[]],
    "green",
    "hole",
    "7",
    "٧",
    [1, 2],
]


def _damage_json(rng, text):
    document = json.loads(text)
    for _ in range(rng.randint(1, 6)):
        node = document.get("features") or document.get("elements")
        while True:
            key = rng.choice(list(node)) if isinstance(node, dict) else rng.randrange(len(node))
            child = node[key]
            if isinstance(child, dict | list) and child and rng.random() < 0.8:
                node = child
                continue
            kind = rng.random()
            if kind < 0.5:
                node[key] = rng.choice(WRONG)
            elif kind < 0.7:
                del node[key]
            elif isinstance(node, list):
                node.append(json.loads(json.dumps(child)))
            elif isinstance(child, int | float):
                node[key] = child * rng.choice([1.0001, -1, 100])
            break
        # What was put in must not be met again as one object in two places.
        document = json.loads(json.dumps(document))
        if not (document.get("features") or document.get("elements")):
            break
    return json.dumps(document)


def _damage_text(rng, text):
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(text))
        cut = rng.choice(
            [
                text[:at] + text[at + rng.randint(1, 40) :],
                text[:at] + rng.choice('"<>&0-é\1') + text[at + 1 :],
            ]
        )
        text = cut or text
    return text


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("seed", range(30))
def test_a_course_or_an_error(tmp_path, source, seed):
    rng = random.Random(f"{source} {seed}")
    text = SOURCES[source]
    text = _damage_json(rng, text) if source != "osm" and seed % 5 else _damage_text(rng, text)
    path = tmp_path / "course.file"
    path.write_text(text)
    try:
        course = read_course(path, tee=rng.choice([None, "red"]))
    except InputError:
        return
    assert course.holes
    for hole in course.holes:
        assert 3 <= hole.par <= 6
        assert hole.length_m > 0.0
        assert hole.green.area > 0.0
    assert len(course_table(course)) == len(course.holes)
    assert course_gaps(course)["rebuild"] == ()
    json.dumps(course_to_geojson(course), allow_nan=False)
