"""Whatever stands in a file, a reader gives something sound or one clear error, in lines a terminal can show."""

import json
import math
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geo.errors import InputError
from tests.trackgolf.invented_course import geojson, invented_features, osm_xml, overpass_json
from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.corrections import read_corrections, write_corrections
from trackgolf.course import read_course
from trackgolf.guess_file import confirmed_holes
from trackgolf.learn.many_rounds import read_folders
from trackgolf.plan_file import read_plan
from trackgolf.scorecard import read_scorecard

BAG = """# invented
units = "m"
[player]
name = "Ines Okafor"
playing_handicap = 18
[[club]]
name = "driver"
carry = 170
roll = 10
[[club]]
name = "9 iron"
carry = 106
avoid = true
[[approach]]
club = "9 iron"
distance = 90
[[part_swing]]
club = "9 iron"
from = 30
to = 60
"""
CARD = "hole,strokes,putts,penalties,clubs\n1,5,2,0,driver;9 iron\n2,,,,\n3,6,2,1,driver\n"
SCORECARD = (
    "hole,par,stroke_index,length_m,tee_lat,tee_lon,green_lat,green_lon\n"
    "1,4,1,300,47.0,-31.0,47.0027,-31.0\n2,3,2,150,,,,\n"
)
CORRECTIONS = {
    "format": "trackgolf corrections",
    "version": 1,
    "corrections": [
        {"id": "c1", "what": "move", "hole": 1, "time": "2026-05-16T09:31:12Z", "lon_deg": 1.5, "lat_deg": 2},
        {"id": "c2", "what": "putts", "hole": 3, "putts": 2, "note": "short"},
    ],
}
FEATURES = invented_features(2)
MAP = geojson(FEATURES)
PLAN = {
    "type": "FeatureCollection",
    "name": "plan",
    "features": [
        {
            "type": "Feature",
            "properties": {"hole": 1, "shot": 1, "club": "driver", "role": "tee", "distance_m": 180.0},
            "geometry": None,
        },
        {"type": "Feature", "properties": {"hole": 1, "shot": 2, "club": "9 iron", "distance_m": 90}},
    ],
}
SHOTS = {
    "type": "FeatureCollection",
    "features": [
        {
            "properties": {
                "hole": 1,
                "shot": 1,
                "visit": 0,
                "club": "driver",
                "club_source": "card",
                "start_time": "2026-05-03T08:02:03.000Z",
                "distance_m": 150.1,
                "leave_m": 150.1,
                "lie": "tee",
                "end_lie": "fairway",
                "detour": False,
            }
        }
    ],
}
HOLES = "hole,par,shots,putts,penalties,strokes,length_m\n1,4,2,2,0,4,300\n"

# What breaks readers: ends of ranges, things that look like numbers, markup, marks that turn text round, parts of paths.
NASTY = [
    "", "nan", "inf", "-inf", "1e999", "-0", "1_000", "0x10", "9" * 400, "9" * 5000, "²", "٣", "\0", "\x1b[2J", "\u202e",
    "\ufeff", "<b>", "&amp;", "{{7*7}}", "{% x %}", "../../x", '"', "'", "[", "]", "{", "}", "\n", "\r", ",", ";", "=", "\\ud800",
    "null", "true", "1979-05-27", "[[club]]", "0001-01-01T00:00:00+14:00",
]  # fmt: skip
LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.just(int("9" * 400)),
    st.floats(),
    st.sampled_from(NASTY),
    st.text(max_size=8),
)
ANY_JSON = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=5,
)


@st.composite
def damaged(draw, text):
    """Cut, fill and end a text somewhere, and store it in some encoding."""
    for _ in range(draw(st.integers(1, 3))):
        start = draw(st.integers(0, len(text)))
        gone = draw(st.sampled_from([0, 0, 1, 2, 5, 20]))
        text = text[:start] + draw(st.sampled_from(NASTY) | st.text(max_size=5)) + text[start + gone :]
    if draw(st.integers(0, 9)) == 0:
        text = text[: draw(st.integers(0, len(text)))]
    encoding = draw(st.sampled_from(["utf-8"] * 8 + ["utf-16", "utf-8-sig", "latin-1"]))
    content = text.encode(encoding, errors="replace")
    if draw(st.integers(0, 9)) == 0:
        content = content[: draw(st.integers(0, len(content)))] + draw(st.binary(max_size=6))
    return content


@st.composite
def changed(draw, document):
    """Put anything in place of one or two values of a JSON document."""
    document = json.loads(json.dumps(document))
    for _ in range(draw(st.integers(1, 2))):
        place, key = document, None
        while isinstance(place, dict | list) and place and (key is None or draw(st.integers(0, 5))):
            holder = place
            key = draw(
                st.sampled_from(sorted(place)) if isinstance(place, dict) else st.integers(0, len(place) - 1)
            )
            place = holder[key]
        if key is not None:
            holder[key] = draw(ANY_JSON)
    return json.dumps(document).encode()


def held(read, content, name="file"):
    """Read some bytes; None if they are refused, as they should be."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        try:
            return read(path)
        except InputError as error:
            lines = str(error).replace(folder, "").split("\n")
            assert all(line.isprintable() for line in lines)
            assert all(line.startswith("  ") for line in lines[1:])
            assert max(map(len, lines)) < 700
            return None


def many(examples):
    return settings(
        max_examples=examples,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )


@pytest.fixture(scope="module")
def bag(tmp_path_factory):
    path = tmp_path_factory.mktemp("bag") / "bag.toml"
    path.write_text(BAG)
    return read_bag(path)


@pytest.fixture(scope="module")
def course(tmp_path_factory):
    path = tmp_path_factory.mktemp("course") / "course.geojson"
    path.write_text(json.dumps(MAP))
    return read_course(path)


@many(480)
@given(damaged(BAG))
def test_bag(content):
    found = held(read_bag, content)
    if found is not None:
        assert found.clubs
        assert found.approaches
        for club in found.clubs:
            assert 0 < club.carry_m <= club.distance_m < 2 * 500
            assert 0 <= club.mishit_share < 1
            assert club.name.isprintable()


@many(400)
@given(content=damaged(CARD))
def test_card(bag, content):
    found = held(lambda path: read_card(path, bag), content)
    if found is not None:
        assert found["hole"].is_unique
        assert (found["strokes"].dropna() >= 1).all()
        names = {club.name for club in bag.clubs} | {""}
        assert all(names.issuperset(clubs) for clubs in found["clubs"])


@many(400)
@given(damaged(SCORECARD))
def test_scorecard(content):
    found = held(read_scorecard, content)
    if found is not None:
        assert found["hole"].is_unique
        for name, most in (("tee_lat", 90), ("green_lon", 180)):
            assert (found[name].dropna().abs() <= most).all()


@many(480)
@given(changed(CORRECTIONS) | damaged(json.dumps(CORRECTIONS)))
def test_corrections(content):
    found = held(read_corrections, content)
    if found is not None:
        assert held(read_corrections, write_corrections(found).encode()) == found


@many(240)
@given(content=changed(PLAN) | damaged(json.dumps(PLAN)))
def test_plan(bag, course, content):
    found = held(lambda path: read_plan(path, course, bag), content)
    if found is not None:
        assert not found.shots.duplicated(["hole", "shot"]).any()
        assert found.shots["distance_m"].map(math.isfinite).all()
        assert set(found.shots["club"]) <= {"driver", "9 iron"}


@many(160)
@given(
    st.one_of(
        changed(MAP),
        damaged(json.dumps(MAP)),
        changed(overpass_json(FEATURES)),
        damaged(osm_xml(FEATURES)),
    )
)
def test_course(content):
    found = held(read_course, content)
    if found is not None:
        numbers = [hole.number for hole in found.holes]
        assert numbers == sorted(set(numbers))
        assert all(math.isfinite(hole.length_m) for hole in found.holes)
        xy = found.shapes.total_bounds
        assert not len(found.shapes) or (abs(xy[[0, 2]]).max() <= 180 and abs(xy[[1, 3]]).max() <= 90)


@many(160)
@given(
    changed(MAP)
    | damaged(json.dumps(MAP).replace('"golf": "hole"', '"golf": "hole", "guessed": "confirmed"'))
)
def test_confirmed_holes(content):
    found = held(confirmed_holes, content)
    if found is not None:
        assert list(found) == sorted(set(found))


@many(240)
@given(changed(SHOTS), st.just(HOLES.encode()) | damaged(HOLES))
def test_folders_of_rounds(shots, holes):
    def read(path):
        (path.parent / "holes.csv").write_bytes(holes)
        return read_folders([path.parent])

    found = held(read, shots, "shots.geojson")
    if found is not None:
        assert found.shots["hole"].between(1, 99).all()
        assert found.shots["distance_m"].dtype.kind == "f"
