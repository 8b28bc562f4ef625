"""Tags of OpenStreetMap as people really write them."""

import pytest

from trackgolf.course_tags import (
    clean_tags,
    find_tag,
    hole_numbers,
    pars,
    shape_kind,
    stroke_indexes,
    subkey_tees,
    tag_length_m,
    tee_names,
)


class TestShapeKind:
    # Source: OpenStreetMap wiki, Key:golf: the values in use; Tag:golf=water_hazard: yellow stakes, and
    # lateral_water_hazard red ones. out_of_bounds is in use without being in its English table.
    @pytest.mark.parametrize(
        ("value", "kind"),
        [
            ("tee", "tee"),
            ("hole", "hole"),
            ("pin", "pin"),
            ("green", "green"),
            ("fairway", "fairway"),
            ("bunker", "bunker"),
            ("rough", "rough"),
            ("water_hazard", "water_yellow"),
            ("lateral_water_hazard", "water_red"),
            ("driving_range", "driving_range"),
            ("clubhouse", "clubhouse"),
            ("cartpath", "cartpath"),
            ("out_of_bounds", "out_of_bounds"),
            ("path", None),
        ],
    )
    def test_values_of_the_wiki_raise_no_doubt(self, value, kind):
        assert shape_kind({"golf": value}) == (kind, None)

    @pytest.mark.parametrize(
        ("value", "kind"),
        [
            ("Green", "green"),
            ("fariway", "fairway"),
            ("waterhazard", "water_yellow"),
            ("lateral water hazard", "water_red"),
            ("bunkers", "bunker"),
            ("tee box", "tee"),
            ("sand_trap", "bunker"),
            ("fairway;rough", "fairway"),
        ],
    )
    def test_misspelt_ones_are_taken_with_a_word(self, value, kind):
        assert shape_kind({"golf": value}) == (kind, value)

    @pytest.mark.parametrize("value", ["xyz", "tea", "hedge", "123"])
    def test_what_cannot_be_guessed_is_not(self, value):
        assert shape_kind({"golf": value}) == (None, value)

    @pytest.mark.parametrize("value", ["tree", "practice", "no"])
    def test_known_and_no_part_of_play(self, value):
        assert shape_kind({"golf": value}) == (None, None)

    def test_both_water_tags_count_once_and_golf_wins(self):
        # Source: OpenStreetMap wiki, Tag:golf=water_hazard: penalty areas are mapped as natural=water too.
        assert shape_kind({"golf": "lateral_water_hazard", "natural": "water"}) == ("water_red", None)
        assert shape_kind({"natural": "water"}) == ("water", None)

    def test_the_course_itself(self):
        assert shape_kind({"leisure": "golf_course"}) == ("course", None)
        assert shape_kind({"leisure": "park"}) == (None, None)
        assert shape_kind({}) == (None, None)


class TestCleanTags:
    def test_keys_and_values_are_trimmed_and_others_dropped(self):
        assert clean_tags({" Golf ": " Green ", "par": None, "ref": 7, "x": "  "}) == {"golf": "Green"}

    def test_nothing_a_terminal_would_obey_comes_through(self):
        assert clean_tags({"name": "a\x1b[31mb\nc"}) == {"name": "a [31mb c"}
        assert len(clean_tags({"name": "x" * 10_000})["name"]) == 500


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("7", (7,)),
        ("7 ", (7,)),
        ("07", (7,)),
        ("Hole 7", (7,)),
        ("7th", (7,)),
        ("1;10", (1, 10)),
        ("1/10", (1, 10)),
        ("7;7", (7,)),
        ("7.0", (7,)),
        ("0", ()),
        ("100", ()),
        ("north", ()),
        ("٧", ()),
        ("", ()),
        (None, ()),
    ],
)
def test_hole_numbers(text, numbers):
    assert hole_numbers(text) == numbers


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("4", (4,)),
        ("4;5", (4, 5)),
        ("4.0", (4,)),
        ("par 4", (4,)),
        ("72", ()),
        ("7", ()),
        ("x", ()),
        (None, ()),
    ],
)
def test_pars(text, found):
    assert pars(text) == found


@pytest.mark.parametrize(
    ("text", "found"), [("7", (7,)), ("07", (7,)), ("7;8", (7, 8)), ("21", (21,)), ("?", ()), (None, ())]
)
def test_stroke_indexes(text, found):
    assert stroke_indexes(text) == found


@pytest.mark.parametrize(
    ("text", "length_m"),
    [
        # Source: OpenStreetMap wiki, Key:dist: metres unless a unit is written.
        ("120", 120.0),
        ("120 m", 120.0),
        # Source: International Yard and Pound Agreement, 1959: 120 x 0.9144 m, 300 x 0.3048 m.
        ("120 yd", 109.728),
        ("120yds", 109.728),
        ("300 ft", 91.44),
        ("349,5", 349.5),
        ("0.35 km", 350.0),
        ("0", None),
        ("-3", None),
        ("long", None),
        ("1e9", None),
        (None, None),
    ],
)
def test_lengths(text, length_m):
    assert tag_length_m(text) == (None if length_m is None else pytest.approx(length_m))


@pytest.mark.parametrize(
    ("tags", "names"),
    [
        ({"tee": "blue"}, ("blue",)),
        ({"colour": "white;yellow"}, ("white", "yellow")),
        ({"name": "Hole 7 White tee"}, ("White",)),
        ({"name": "White", "colour": "white"}, ("white",)),
        ({"ref": "7"}, ()),
        ({"ref": "Championship"}, ("Championship",)),
        ({"name": "7th tee"}, ()),
        ({}, ()),
    ],
)
def test_tee_names(tags, names):
    assert tee_names(tags) == names


def test_values_for_single_tees():
    tags = {"par": "4", "par:red": "5", "handicap:red": "3", "dist:blue": "300", "name:de": "x"}
    assert subkey_tees(tags) == ("red", "blue")
    assert find_tag(tags, "par", "Red") == "5"
    assert find_tag(tags, "par", "blue") == "4"
    assert find_tag(tags, "par") == "4"
    assert find_tag(tags, "handicap") == "3"
    assert find_tag(tags, "ref") is None
