"""Plans as files: what is written, what is read back, what is refused."""

import copy
import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, box

from geo.gpx import read_gpx
from tests.trackgolf.invented_holes import card_hole, ground_hole, invented_course, usual_bag
from trackgolf.errors import PlanError
from trackgolf.plan import PLAN_COLUMNS, plan_round
from trackgolf.plan_file import is_plan_mark, read_plan, write_plan, write_plan_gpx
from trackgolf.plan_text import PLAN_PROPERTIES, plan_geojson

BAG = usual_bag(target_score=20)
COURSE = invented_course(
    [
        ground_hole([(0, 0), (0, 382)], number=1, index=2),
        ground_hole([(80, 382), (120, 200), (80, 20)], number=2, index=3),
        ground_hole([(160, 0), (160, 168)], number=3, par=3, index=1, pin_yd=(163, 170)),
    ]
)
PLAN = plan_round(COURSE, BAG)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "plan.geojson"


@pytest.fixture
def document():
    return copy.deepcopy(plan_geojson(PLAN, COURSE, BAG))


def read(path, document, course=COURSE):
    path.write_text(document if isinstance(document, str) else json.dumps(document), encoding="utf-8")
    return read_plan(path, course, BAG)


def message(path, document, course=COURSE):
    with pytest.raises(PlanError) as caught:
        read(path, document, course)
    return str(caught.value)


class TestWritten:
    def test_geojson_by_the_rules(self, path):
        write_plan(path, PLAN, COURSE, BAG)
        document = json.loads(path.read_text(encoding="utf-8"))
        # Source: RFC 7946, sections 3.3, 3.2, 3.1.1, 3.1.4 and 4: a FeatureCollection of Features with properties and
        # geometry, positions longitude then latitude, a LineString of two or more, no crs member.
        assert document["type"] == "FeatureCollection"
        assert "crs" not in document
        assert len(document["features"]) == len(PLAN.shots)
        for feature, row in zip(document["features"], PLAN.shots.to_dict("records"), strict=True):
            assert feature["type"] == "Feature"
            assert set(PLAN_PROPERTIES) < set(feature["properties"])
            assert feature["properties"]["invented"] == "yes"
            assert feature["geometry"]["type"] == "LineString"
            (start_lon, start_lat), (target_lon, target_lat) = feature["geometry"]["coordinates"]
            # Source: RFC 7946, section 11.2: precision by decimals; 7 of them keep 0.012 m.
            assert start_lon == round(row["start_lon_deg"], 7)
            assert start_lat == round(row["start_lat_deg"], 7)
            assert (target_lon, target_lat) == (
                round(row["target_lon_deg"], 7),
                round(row["target_lat_deg"], 7),
            )

    def test_properties_keep_their_types(self, document):
        first = document["features"][0]["properties"]
        assert [type(first[name]) for name in PLAN_PROPERTIES] == [int, int, str, str, float, float, float]

    def test_from_a_card_the_geometry_is_null(self, path):
        # Source: RFC 7946, section 3.2: the geometry of an unlocated feature is null.
        course = invented_course([card_hole(382, number=1, index=1)])
        bag = usual_bag(target_score=5)
        plan = plan_round(course, bag)
        write_plan(path, plan, course, bag)
        assert [item["geometry"] for item in json.loads(path.read_text())["features"]] == [None] * 3
        pd.testing.assert_frame_equal(read_plan(path, course, bag).shots, plan.shots, atol=0.01, rtol=0)

    def test_a_course_at_the_antimeridian_is_cut_and_read_again(self, path):
        hole = replace(
            ground_hole([(0, 0), (0, 382)]),
            line=LineString([(179.9988, 10.0), (-179.998, 10.0)]),
            green=box(-179.9981, 9.9999, -179.9979, 10.0001),
        )
        course, bag = invented_course([hole]), usual_bag(target_score=5)
        plan = plan_round(course, bag)
        write_plan(path, plan, course, bag)
        kinds = [item["geometry"]["type"] for item in json.loads(path.read_text())["features"]]
        # Source: RFC 7946, section 3.1.9: a line that crosses the antimeridian is cut in two.
        assert "MultiLineString" in kinds
        back = read_plan(path, course, bag)
        np.testing.assert_allclose(back.shots["distance_m"], plan.shots["distance_m"], atol=0.03)

    def test_the_same_text_twice(self, path):
        write_plan(path, PLAN, COURSE, BAG)
        first = path.read_bytes()
        write_plan(path, PLAN, COURSE, BAG)
        assert path.read_bytes() == first

    def test_notes_and_credit_go_along(self):
        course = replace(COURSE, credit="© OpenStreetMap contributors", invented=False)
        document = plan_geojson(replace(PLAN, notes=("Hole 1: a note",)), course, BAG)
        assert document["notes"] == ["Hole 1: a note"]
        assert document["attribution"] == "© OpenStreetMap contributors"
        assert "invented" not in document["features"][0]["properties"]

    def test_gpx_holds_each_target_by_name(self, tmp_path):
        path = tmp_path / "plan.gpx"
        write_plan_gpx(path, PLAN, COURSE, BAG)
        text = path.read_text(encoding="utf-8")
        assert "Invented plan" in text
        # Source: GPX 1.1 schema: wpt is a place, rte an ordered list of turn points, trk what was recorded.
        assert text.count("<wpt ") == len(PLAN.shots)
        assert text.count("<rtept ") == len(PLAN.shots) + 3
        assert "<trk" not in text
        first = PLAN.shots.iloc[0]
        assert f"<name>1-1 tee {first['club']}</name>" in text
        assert "<name>2 tee</name>" in text

    def test_gpx_of_a_card_is_refused(self, tmp_path):
        course, bag = invented_course([card_hole(382)]), usual_bag(target_score=5)
        with pytest.raises(PlanError, match="no positions"):
            write_plan_gpx(tmp_path / "plan.gpx", plan_round(course, bag), course, bag)

    def test_targets_on_a_device_are_not_taken_for_marks(self, tmp_path):
        path = tmp_path / "plan.gpx"
        write_plan_gpx(path, PLAN, COURSE, BAG)
        # A recorded track that carries the plan's waypoints along.
        text = path.read_text(encoding="utf-8")
        track = '<trk><trkseg><trkpt lat="47" lon="-31"><time>2026-05-01T10:00:00Z</time></trkpt></trkseg></trk></gpx>'
        path.write_text(text.replace("</gpx>", track), encoding="utf-8")
        marks = read_gpx(path).marks
        assert len(marks) == len(PLAN.shots)
        assert all(is_plan_mark(name) for name in marks["name"])
        assert not any(is_plan_mark(name) for name in ("8 iron", "8i", "", "1", "tee", "7-2", "PW 90"))


class TestReadBack:
    def test_what_was_written(self, path):
        write_plan(path, PLAN, COURSE, BAG)
        back = read_plan(path, COURSE, BAG)
        assert tuple(back.shots.columns) == PLAN_COLUMNS
        pd.testing.assert_frame_equal(back.shots, PLAN.shots, atol=0.03, rtol=0)
        assert back.notes == ()
        assert back.name == PLAN.name

    def test_order_and_names_do_not_matter(self, path, document):
        document["features"].reverse()
        for feature in document["features"]:
            feature["properties"]["club"] = feature["properties"]["club"].upper().replace(" ", "-")
            feature["properties"]["hole"] = str(feature["properties"]["hole"])
        pd.testing.assert_frame_equal(read(path, document).shots, PLAN.shots, atol=0.03, rtol=0)

    def test_what_is_missing_is_measured(self, path, document):
        for feature in document["features"]:
            for name in ("distance_m", "leave_m", "tolerance_m", "role"):
                del feature["properties"][name]
        pd.testing.assert_frame_equal(read(path, document).shots, PLAN.shots, atol=0.03, rtol=0)

    def test_a_target_moved_by_hand_counts(self, path, document):
        line = document["features"][0]["geometry"]["coordinates"]
        line[1][1] += 0.0001
        back = read(path, document)
        # Source: WGS 84: one degree of latitude at 47 degrees is 111 170 m, so 0.0001 degrees are 11.1 m.
        moved_m = back.shots["distance_m"].iloc[0] - PLAN.shots["distance_m"].iloc[0]
        assert moved_m == pytest.approx(11.12, abs=0.05)
        assert "distance_m disagrees with the line drawn, which counts: hole 1 shot 1" in back.notes[0]

    def test_part_of_the_holes_will_do(self, path, document):
        document["features"] = [item for item in document["features"] if item["properties"]["hole"] == 2]
        assert read(path, document).shots["hole"].unique().tolist() == [2]

    def test_a_missing_shot_is_said(self, path, document):
        del document["features"][1]
        assert any("Hole 1: its shots are numbered 1, 3" in note for note in read(path, document).notes)

    def test_one_feature_alone(self, path, document):
        assert len(read(path, document["features"][0]).shots) == 1

    def test_positions_on_a_course_without(self, path, document):
        course = invented_course([card_hole(382, number=n, index=n) for n in (1, 2, 3)])
        back = read(path, document, course)
        assert back.shots["target_lon_deg"].notna().all()


class TestRefused:
    def test_all_faults_at_once(self, path, document):
        features = document["features"]
        features[0]["properties"]["club"] = "niblick"
        features[1]["properties"]["role"] = "putt"
        features[2]["properties"]["distance_m"] = -4
        features[3]["geometry"] = {"type": "Point", "coordinates": [0, 0]}
        features[4]["geometry"]["coordinates"] = [[47.0, -131.0], [47.0, -131.0]]
        features[5]["properties"]["shot"] = 1.5
        text = message(path, document)
        assert text.splitlines()[0].endswith("6 faults.")
        for words in (
            "feature 1 (hole 1, shot 1): 'niblick' is no club of the bag, or not one alone (driver, 5 wood,",
            "role 'putt' is none of tee, layup, approach",
            "distance_m '-4' is not a number from 0.1",
            "its geometry is not a LineString",
            "is not longitude, latitude",
            "shot '1.5' is not a whole number",
        ):
            assert words in text

    def test_a_plan_for_other_holes(self, path, document):
        document["features"][0]["properties"]["hole"] = 17
        assert "a plan for other holes: 17 not on the course (it has 1 to 3)" in message(path, document)

    def test_holes_numbered_otherwise(self, path, document):
        for feature in document["features"]:
            feature["properties"]["hole"] = feature["properties"]["hole"] % 3 + 1
        # Derived: what was hole 3 is hole 1 now, what was hole 1 is hole 2.
        assert "a plan for other holes: hole 1 ends at the green of hole 3, hole 2 ends at" in message(
            path, document
        )

    def test_layups_alone_are_no_plan_for_other_holes(self, path, document):
        document["features"] = [f for f in document["features"] if f["properties"]["role"] != "approach"]
        assert set(read(path, document).shots["role"]) == {"tee", "layup"}

    def test_a_plan_elsewhere_on_earth(self, path, document):
        for feature in document["features"]:
            for place in feature["geometry"]["coordinates"]:
                place[1] -= 7
        # Derived: 7 degrees of latitude from 40 to 47 are 7 x 111.1 = 778 km.
        assert "a plan for another place: it lies 778 km from the course" in message(path, document)

    def test_one_target_far_away(self, path, document):
        document["features"][1]["geometry"]["coordinates"][1][1] += 0.5
        assert "hole 1, shot 2: its target lies 55" in message(path, document)

    def test_a_shot_twice(self, path, document):
        document["features"].append(document["features"][0])
        assert "hole 1, shot 1: there 2 times" in message(path, document)

    @pytest.mark.parametrize("name", ["hole", "shot", "club"])
    def test_what_must_be_there(self, path, document, name):
        del document["features"][0]["properties"][name]
        assert f"no {name}" in message(path, document).replace("'", "")

    @pytest.mark.parametrize("value", ["1e999", "many", True, float("nan"), 10**400, [1]])
    def test_no_number(self, path, document, value):
        document["features"][0]["properties"]["leave_m"] = value
        assert "is not a number" in message(path, document)

    @pytest.mark.parametrize("line", [[[0, 0]], [], "x", None, [[0], [1]], [["a", "b"], ["c", "d"]]])
    def test_no_line(self, path, document, line):
        document["features"][0]["geometry"] = {"type": "LineString", "coordinates": line}
        assert "feature 1 (hole 1, shot 1)" in message(path, document)

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("", "empty"),
            ("{", "not valid JSON"),
            ('{"features": [,]}', "line 1, column 15"),
            ("[" * 100_000, "not valid JSON"),
            ("[]", "not GeoJSON"),
            ("{}", "not a GeoJSON FeatureCollection"),
            ('{"features": []}', "no shots"),
            ('{"features": [3, {}, null]}', "3 faults"),
            ('{"features": [{"properties": {"golf": "green"}}]}', "this is a course, not a plan"),
            ("<gpx/>", "not valid JSON"),
        ],
    )
    def test_no_plan(self, path, text, words):
        assert words in message(path, text)

    def test_no_file_and_a_folder(self, tmp_path):
        with pytest.raises(PlanError, match="no such file"):
            read_plan(tmp_path / "none", COURSE, BAG)
        with pytest.raises(PlanError, match="folder"):
            read_plan(tmp_path, COURSE, BAG)
