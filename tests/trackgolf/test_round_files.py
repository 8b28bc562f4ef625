"""The files of a round, read back with other tools."""

import csv
import io
import json
import math
import re
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from pyproj import Geod

from tests.shapes import card_of, plan_of, tiny_bag, tiny_course, tiny_hole, track_of, trail_through
from trackgolf.errors import InputError
from trackgolf.reconstruct import reconstruct
from trackgolf.round_files import comparison_csv, holes_csv, prepare_folder, shots_geojson, write_round

GEOD = Geod(ellps="WGS84")
UTC = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?Z")
# Not an outside source, but what users rely on (README): what each file holds at least, CSV columns in this order.
SHOTS = {
    "hole", "shot", "club", "club_source", "start_time", "distance_m", "path_m", "progress_m", "leave_m", "lie", "end_lie",
    "confidence",
}  # fmt: skip
HOLES = (
    "hole", "par", "stroke_index", "length_m", "personal_par", "regulation_shots", "shots", "putts", "penalties", "strokes",
)  # fmt: skip
COMPARISON = (
    "hole", "shot", "planned_club", "club", "club_source", "planned_distance_m", "distance_m", "path_m", "long_m", "right_m",
    "miss_m", "planned_leave_m", "leave_m", "tolerance_m", "within_tolerance", "followed", "end_lie",
)  # fmt: skip
LIES = {"tee", "fairway", "rough", "bunker", "green", "penalty_area", "out_of_bounds", "unknown"}

HOLE = tiny_hole(1, ((0, 0), (0, 300)), pin=(3, 302))
LOST = [(-10, -30, 40), (0, 0, 50), (60, 150, 150), (0, 0, 45), (5, 155, 40), (2, 302, 90), (30, 330, 40)]
CARD = card_of((1, 6, 2, 1))
PLAN = plan_of(
    (1, 1, "5 wood", "tee", (0, 0), (0, 148), (3, 302)),
    (1, 2, "5 wood", "layup", (0, 0), (0, 148), (3, 302)),
    (1, 3, "7 iron", "approach", (0, 148), (3, 302), (3, 302)),
    (1, 4, "sand wedge", "approach", (0, 290), (3, 302), (3, 302)),
)


@pytest.fixture(scope="module")
def result():
    """A round with a lost ball, so that something is unknown in every file."""
    trail, _ = trail_through(*LOST)
    return reconstruct(track_of(trail), tiny_course(HOLE), tiny_bag(), card=CARD, plan=PLAN)


@pytest.fixture(scope="module")
def folder(result, tmp_path_factory):
    folder = tmp_path_factory.mktemp("round")
    write_round(result, folder, "<!DOCTYPE html><title>Invented</title>\n")
    return folder


def rows(text):
    return list(csv.DictReader(io.StringIO(text)))


class TestShots:
    def test_it_is_geojson_as_the_standard_has_it(self, result):
        document = json.loads(json.dumps(shots_geojson(result), allow_nan=False))
        # Source: RFC 7946, 3.1.4, 3.2, 3.3 and 4: features with the three members; longitude first; no crs member.
        assert document["type"] == "FeatureCollection"
        assert "crs" not in document
        for feature in document["features"]:
            assert {"type", "geometry", "properties"} <= set(feature)
            assert feature["type"] == "Feature"
            assert feature["geometry"]["type"] == "LineString"
            assert len(feature["geometry"]["coordinates"]) == 2
            for position in feature["geometry"]["coordinates"]:
                assert len(position) == 2
                assert position[0] == pytest.approx(-31.0, abs=0.01)
                assert position[1] == pytest.approx(47.0, abs=0.01)
                # Seven decimals are 12 mm, finer than anything measured here; RFC 7946, 11.2, warns of more.
                assert all(round(value, 7) == value for value in position)

    def test_every_property_of_the_contract(self, result):
        for feature in shots_geojson(result)["features"]:
            properties = feature["properties"]
            assert set(properties) >= SHOTS
            assert UTC.fullmatch(properties["start_time"])
            assert 0.0 <= properties["confidence"] <= 1.0
            assert properties["lie"] in LIES
            assert properties["end_lie"] in LIES | {"lost", "holed", "picked_up"}
            assert properties["club_source"] in {"marked", "card", "corrected", "inferred", "plan", ""}
            # What is invented says so in every feature.
            assert properties["invented"] == "yes"

    def test_a_real_course_is_not_called_invented(self, result):
        real = replace(result, course=replace(result.course, invented=False))
        assert all("invented" not in feature["properties"] for feature in shots_geojson(real)["features"])

    def test_what_is_unknown_is_null(self, result):
        first = shots_geojson(result)["features"][0]["properties"]
        assert first["end_lie"] == "lost"
        assert [first[name] for name in ("distance_m", "path_m", "progress_m", "leave_m")] == [None] * 4

    def test_read_with_geopandas(self, result, folder):
        table = gpd.read_file(folder / "shots.geojson")
        assert table.crs == "EPSG:4326"
        assert len(table) == len(result.shots) == 3
        assert table["hole"].tolist() == [1, 1, 1]
        assert table["shot"].tolist() == [1, 2, 3]
        # Derived: the drawn line, measured on the ellipsoid, is the distance to the centimetre or so that its decimals allow.
        for row in table[table["distance_m"].notna()].itertuples():
            assert GEOD.geometry_length(row.geometry) == pytest.approx(row.distance_m, abs=0.02)
        ends = np.array([line.coords[-1] for line in table.geometry])
        starts = np.array([line.coords[0] for line in table.geometry])
        # A shot is played from where the one before came to rest, unless that was lost.
        assert ends[1] == pytest.approx(starts[2], abs=1e-7)


class TestCsv:
    def test_columns_of_the_contract_come_in_its_order(self, result):
        for text, wanted in ((holes_csv(result), HOLES), (comparison_csv(result), COMPARISON)):
            header = text.splitlines()[0].split(",")
            assert [name for name in header if name in wanted] == list(wanted)
            assert len(header) == len(set(header))
            assert "\r" not in text

    def test_numbers_are_plain_and_unknown_is_empty(self, result):
        for row in rows(holes_csv(result)) + rows(comparison_csv(result)):
            for name, cell in row.items():
                assert cell.lower() not in ("nan", "none", "<na>", "nat", "-0.0", "inf")
                if name.endswith(("_m", "shots", "strokes", "putts")) or name in ("hole", "shot", "par"):
                    assert cell == "" or re.fullmatch(r"-?\d+(\.\d+)?", cell)

    def test_holes(self, result):
        (row,) = rows(holes_csv(result))
        assert [row[name] for name in ("hole", "par", "shots", "putts", "penalties", "strokes")] == [
            "1",
            "4",
            "3",
            "2",
            "1",
            "6",
        ]
        # Whole numbers stay whole beside missing ones, and times are UTC.
        assert (row["card_strokes"], row["reached_in_regulation"]) == ("6", "no")
        assert UTC.fullmatch(row["first_time"])
        assert UTC.fullmatch(row["last_time"])

    def test_comparison_has_a_row_a_planned_shot(self, result):
        table = rows(comparison_csv(result))
        assert [row["shot"] for row in table] == ["1", "2", "3", "4"]
        assert (table[0]["end_lie"], table[0]["miss_m"], table[0]["within_tolerance"]) == ("lost", "", "")
        second = table[1]
        assert float(second["long_m"]) ** 2 + float(second["right_m"]) ** 2 == pytest.approx(
            float(second["miss_m"]) ** 2, abs=0.02
        )
        assert second["within_tolerance"] in ("yes", "no", "unsure")
        assert table[3]["note"] == "on the green before"

    def test_without_a_plan_the_header_alone(self, result):
        bare = replace(result, comparison=result.comparison.iloc[:0])
        assert comparison_csv(bare) == comparison_csv(result).splitlines()[0] + "\n"

    def test_a_name_with_commas_and_quotes_stays_one_cell(self, result):
        name = 'my "good", old wood\n2'
        odd = replace(result, comparison=result.comparison.assign(planned_club=name))
        assert {row["planned_club"] for row in rows(comparison_csv(odd))} == {name}

    def test_read_with_pandas(self, folder):
        assert pd.read_csv(folder / "holes.csv")["strokes"].tolist() == [6]
        assert pd.read_csv(folder / "comparison.csv")["planned_distance_m"][0] == pytest.approx(148.0)


class TestWriting:
    def test_the_four_files_and_nothing_else(self, folder):
        assert sorted(path.name for path in folder.iterdir()) == [
            "comparison.csv",
            "holes.csv",
            "report.html",
            "shots.geojson",
        ]

    def test_other_files_stay_and_ours_are_replaced(self, result, tmp_path):
        (tmp_path / "notes.txt").write_text("mine")
        (tmp_path / "holes.csv").write_text("old")
        paths = write_round(result, tmp_path, "<html></html>")
        assert (tmp_path / "notes.txt").read_text() == "mine"
        assert (tmp_path / "holes.csv").read_text(encoding="utf-8") == holes_csv(result)
        assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
            ["notes.txt", *(path.name for path in paths)]
        )

    def test_twice_the_same_bytes(self, result, tmp_path):
        contents = []
        for _ in range(2):
            paths = write_round(result, tmp_path, "<html></html>")
            contents.append([path.read_bytes() for path in paths])
        assert contents[0] == contents[1]

    def test_a_folder_that_cannot_be_made(self, result, tmp_path):
        (tmp_path / "file").write_text("mine")
        with pytest.raises(InputError, match="Give another --out") as caught:
            write_round(result, tmp_path / "file" / "round", "<html></html>")
        assert "file" in str(caught.value)
        assert (tmp_path / "file").read_text() == "mine"

    def test_a_file_instead_of_a_folder(self, tmp_path):
        (tmp_path / "file").write_text("mine")
        with pytest.raises(InputError, match="Give another --out"):
            prepare_folder(tmp_path / "file")

    def test_one_file_in_the_way_leaves_all_as_they_were(self, result, tmp_path):
        (tmp_path / "holes.csv").write_text("old")
        (tmp_path / "report.html").mkdir()
        with pytest.raises(InputError, match="a folder"):
            write_round(result, tmp_path, "<html></html>")
        assert (tmp_path / "holes.csv").read_text() == "old"
        assert sorted(path.name for path in tmp_path.iterdir()) == ["holes.csv", "report.html"]

    def test_a_new_folder_in_a_new_folder(self, tmp_path):
        assert prepare_folder(tmp_path / "one" / "two").is_dir()
        assert list((tmp_path / "one" / "two").iterdir()) == []


def test_nothing_written_lies_away_from_the_course(tmp_path):
    # From home, 900 m west of the first tee, to the course and back.
    home = (-900, 100, 300)
    trail, _ = trail_through(home, *LOST, home)
    result = reconstruct(track_of(trail), tiny_course(HOLE), tiny_bag(), card=CARD, plan=PLAN)
    for feature in shots_geojson(result)["features"]:
        for lon, lat in feature["geometry"]["coordinates"]:
            _, _, away_m = GEOD.inv(lon, lat, -31.0, 47.0)
            assert away_m < 500.0
    assert math.isclose(result.walk["lon_deg"].min(), -31.0, abs_tol=0.0025)
