"""Files that are damaged or made to do harm: one clear error each, in lines that a terminal can show."""

import json

import pytest

from geo.errors import InputError
from trackgolf.bag import Bag
from trackgolf.card import read_card
from trackgolf.corrections import parse_corrections
from trackgolf.course import read_course
from trackgolf.errors import CorrectionsError, CourseError
from trackgolf.guess_file import GUESSED_FILE, confirmed_holes, read_confirmed
from trackgolf.round_files import prepare_folder

# JSON knows whole numbers of any length, a double ends at some 1.8e308 (IEEE 754).
HUGE = int("9" * 400)


def line_of_hole(coordinates, **tags):
    properties = {"golf": "hole", "ref": "1", "par": "4"} | tags
    geometry = {"type": "LineString", "coordinates": coordinates}
    feature = {"type": "Feature", "properties": properties, "geometry": geometry}
    return json.dumps({"type": "FeatureCollection", "features": [feature]})


class TestNumbersThatNoFloatHolds:
    @pytest.mark.parametrize("key", ["lon_deg", "lat_deg"])
    def test_in_corrections(self, key):
        move = {
            "id": "c1",
            "what": "move",
            "hole": 1,
            "time": "2026-05-16T09:31:12Z",
            "lon_deg": 1,
            "lat_deg": 2,
        }
        text = json.dumps(
            {"format": "trackgolf corrections", "version": 1, "corrections": [move | {key: HUGE}]}
        )
        with pytest.raises(CorrectionsError, match=f"{key} is 9999"):
            parse_corrections(text, "c.json")

    def test_in_a_course(self, tmp_path):
        (tmp_path / "course.geojson").write_text(line_of_hole([[HUGE, 1], [1, 1.001]]))
        with pytest.raises(CourseError):
            read_course(tmp_path / "course.geojson")


class TestGuessedHoles:
    def write(self, tmp_path, text, encoding="utf-8"):
        (tmp_path / GUESSED_FILE).write_text(text, encoding=encoding)
        return tmp_path / GUESSED_FILE

    def test_a_number_of_thousands_of_digits(self, tmp_path):
        text = line_of_hole([[1, 1], [1, 1.003]], ref="9" * 5000, guessed="confirmed")
        assert confirmed_holes(self.write(tmp_path, text)) == ()

    def test_nested_without_end(self, tmp_path):
        file = self.write(tmp_path, "[" * 100_000)
        assert confirmed_holes(file) == ()
        with pytest.raises(InputError):
            read_confirmed(tmp_path)

    def test_as_another_program_saves_it(self, tmp_path):
        text = line_of_hole([[1, 1], [1, 1.003]], guessed="confirmed")
        assert confirmed_holes(self.write(tmp_path, text, "utf-16")) == (1,)

    def test_what_was_confirmed_is_not_lost_for_a_comma(self, tmp_path):
        text = line_of_hole([[1, 1], [1, 1.003]], guessed="confirmed").replace(
            ', "features"', '\n "features"'
        )
        with pytest.raises(CourseError, match="damaged at line 2, and speaks of confirmed holes"):
            confirmed_holes(self.write(tmp_path, text))


class TestMessagesStayShort:
    @pytest.mark.parametrize(
        "text",
        ["[" * 100_000, f"hole,{'x' * 100_000},{'x' * 100_000}\n1,2\n", f"hole,strokes\n1,{'x' * 100_000}\n"],
    )
    def test_of_a_card(self, tmp_path, text):
        (tmp_path / "card.csv").write_text(text)
        with pytest.raises(InputError) as fault:
            read_card(tmp_path / "card.csv", Bag("P", "m", None, None, ()))
        assert max(map(len, str(fault.value).replace(str(tmp_path), "").split("\n"))) < 400


def test_a_folder_whose_name_is_too_long(tmp_path):
    with pytest.raises(InputError, match="too long"):
        prepare_folder(tmp_path / ("x" * 300))
