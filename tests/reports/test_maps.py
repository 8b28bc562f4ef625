from __future__ import annotations

import dataclasses
import json
import re
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geo.frame import LocalFrame
from geo.geodesic import distance_bearing
from reports.maps import round_map, simplified_track, tolerance_rings
from reports.tables import HOLE_LINES, PLAN, SHAPES, SHOTS, TRACK, empty_table
from reports.words import Words
from tests.reports.invented import FRAME, HOSTILE, invented_round

WORDS = Words("yd")
LAYERS = ["ground", "lines", "track", "rings", "planned", "misses", "played", "targets", "finishes", "pins"]


def drawn_features(drawn):
    """Read the features of each layer back out of the script."""
    calls = re.findall(r"geo_json_(\w+)_add\((\{.*\})\);", drawn.script)
    return {name: json.loads(text)["features"] for name, text in calls}


def drawn_styles(drawn, layer, count):
    """Read the class of each feature back out of the script, as its switch would choose it."""
    body = re.search(
        rf"function geo_json_{layer}_styler\(.*?\{{(.*?)\n\s*\}}\n\s*\}}", drawn.script, re.DOTALL
    )[1]
    branches = re.findall(r"((?:case \d+: )*|default:)\s*return \{\"className\": \"([\w -]+)\"\};", body)
    chosen = {int(number): name for cases, name in branches for number in re.findall(r"\d+", cases)}
    default = next(name for cases, name in branches if not re.search(r"\d", cases))
    return [chosen.get(number, default) for number in range(count)]


@pytest.fixture(scope="module")
def drawn(round_tables):
    return round_map(round_tables, WORDS)


class TestRoundMap:
    def test_has_one_layer_a_kind_with_a_constant_name(self, drawn):
        assert list(drawn_features(drawn)) == LAYERS
        assert drawn.island["layers"] == {name: f"geo_json_{name}" for name in LAYERS}

    def test_features_carry_numbers_only(self, drawn):
        for features in drawn_features(drawn).values():
            assert [feature["id"] for feature in features] == list(range(len(features)))
            for feature in features:
                assert set(feature) == {"type", "id", "properties", "geometry"}
                assert set(feature["properties"]) == {"hole"}
                assert isinstance(feature["properties"]["hole"], int)

    def test_no_word_of_a_person_reaches_the_script(self):
        # The library compiles what it has rendered as a template once more, so the script of a hostile round must
        # be, letter by letter, that of a harmless one.
        harmless, hostile = (round_map(invented_round(holes=3, text=text), WORDS) for text in ("x", HOSTILE))
        assert hostile.script == harmless.script
        assert HOSTILE in hostile.island["holes"][0]["items"][0]["item"][0]

    def test_a_finish_that_was_not_seen_is_drawn_as_doubtful(self):
        seen = invented_round(holes=1)
        shots = seen.shots.copy()
        shots.loc[0, ["distance_m", "leave_m"]] = np.nan
        shots["confidence"] = 1.0
        drawn = round_map(replace(seen, shots=shots), WORDS)
        played = [item for item in drawn.island["holes"][0]["items"] if item["kind"] == "played"]
        assert ["finish not seen" in item["item"][0] for item in played] == [True] + [False] * (
            len(played) - 1
        )
        styles = drawn_styles(drawn, "finishes", len(shots))
        assert ["doubtful" in style for style in styles] == [True] + [False] * (len(shots) - 1)

    def test_draws_longitude_first(self, drawn):
        # Source: RFC 7946 section 3.1.1: longitude, then latitude. The course lies at 33 W, 44 N.
        for features in drawn_features(drawn).values():
            for feature in features:
                lon, lat = shapely.get_coordinates(shapely.geometry.shape(feature["geometry"])).T
                assert (np.abs(lon + 33.0) < 0.1).all()
                assert (np.abs(lat - 44.0) < 0.1).all()

    def test_rings_of_a_tolerance_turn_counterclockwise(self, drawn):
        # Source: RFC 7946 section 3.1.6: exterior rings are counterclockwise.
        for feature in drawn_features(drawn)["rings"]:
            assert shapely.geometry.shape(feature["geometry"]).exterior.is_ccw

    def test_misses_lead_from_the_target_to_the_finish(self, drawn, round_tables):
        miss = drawn_features(drawn)["misses"][0]["geometry"]["coordinates"]
        target = round_tables.plan.geometry.iloc[0].coords[-1]
        finish = round_tables.shots.geometry.iloc[0].coords[-1]
        assert np.allclose(miss, [target, finish], atol=1e-6)
        compared = round_tables.comparison["miss_m"].notna().sum()
        assert len(drawn_features(drawn)["misses"]) == compared

    def test_a_doubtful_shot_has_a_style_of_its_own(self, drawn, round_tables):
        styles = drawn_styles(drawn, "played", len(round_tables.shots))
        doubtful = round_tables.shots["confidence"] < 0.6
        assert doubtful.any()
        assert styles == ["m-played doubtful" if doubt else "m-played" for doubt in doubtful]

    def test_lists_planned_before_played_shot_by_shot(self, drawn):
        items = drawn.island["holes"][3]["items"]
        assert [(item["shot"], item["kind"]) for item in items[:4]] == [
            (1, "planned"),
            (1, "played"),
            (2, "planned"),
            (2, "played"),
        ]

    def test_the_extent_of_a_hole_holds_its_shots(self, drawn, round_tables):
        for hole in drawn.island["holes"]:
            (south, west), (north, east) = hole["bounds"]
            shots = round_tables.shots[round_tables.shots["hole"] == hole["number"]]
            lon, lat = shapely.get_coordinates(shots.geometry.to_numpy()).T
            assert west < lon.min() < lon.max() < east
            assert south < lat.min() < lat.max() < north

    def test_is_the_same_every_time(self, drawn, round_tables):
        again = round_map(round_tables, WORDS)
        assert again == drawn

    def test_without_positions_there_is_none(self, round_tables):
        bare = {spec.name: empty_table(spec) for spec in (SHAPES, HOLE_LINES, TRACK, SHOTS, PLAN)}
        assert round_map(dataclasses.replace(round_tables, **bare), WORDS) is None

    @pytest.mark.parametrize("kept", ["track", "shots", "plan", "hole_lines", "shapes"])
    def test_any_one_table_is_enough(self, round_tables, kept):
        bare = {spec.name: empty_table(spec) for spec in (SHAPES, HOLE_LINES, TRACK, SHOTS, PLAN)}
        del bare[kept]
        drawn = round_map(dataclasses.replace(round_tables, **bare), WORDS)
        assert np.isfinite(drawn.island["bounds"]).all()

    def test_a_course_on_the_antimeridian_is_not_torn_apart(self, round_tables):
        fiji = LocalFrame(180.0, -17.0)

        def move(table):
            shapes = fiji.geometry_to_degrees(FRAME.geometry_to_metres(table.geometry.to_numpy()))
            return table.set_geometry(gpd.GeoSeries(shapes, crs="EPSG:4326"))

        tables = (round_tables.shapes, round_tables.hole_lines, round_tables.plan, round_tables.shots)
        moved = dict(zip(("shapes", "hole_lines", "plan", "shots"), map(move, tables), strict=True))
        drawn = round_map(dataclasses.replace(round_tables, track=empty_table(TRACK), **moved), WORDS)
        (_, west), (_, east) = drawn.island["bounds"]
        assert 0.0 < east - west < 0.02


class TestSimplifiedTrack:
    def track(self, east, north, hole=1, part=0):
        lon, lat = FRAME.to_degrees(np.asarray(east, dtype=float), np.asarray(north, dtype=float))
        return pd.DataFrame({"lon_deg": lon, "lat_deg": lat, "hole": hole, "part": part})

    def test_stays_within_its_tolerance(self, round_tables):
        lines = simplified_track(round_tables.track, FRAME, 1.0)
        east, north = FRAME.to_metres(round_tables.track["lon_deg"], round_tables.track["lat_deg"])
        drawn = shapely.union_all([line for _, line in lines])
        assert shapely.distance(shapely.points(east, north), drawn).max() <= 1.0 + 1e-6
        assert sum(len(line.coords) for _, line in lines) < 0.2 * len(round_tables.track)

    def test_parts_are_not_joined_but_holes_are(self):
        steps = np.arange(6.0) * 10.0
        track = self.track(steps, steps * 0, hole=[1, 1, 2, 2, 2, 2], part=[0, 0, 0, 0, 1, 1])
        lines = [(hole, [xy[0] for xy in line.coords]) for hole, line in simplified_track(track, FRAME, 1.0)]
        assert [(hole, np.round(east).tolist()) for hole, east in lines] == [
            (1, [0.0, 20.0]),
            (2, [20.0, 30.0]),
            (2, [40.0, 50.0]),
        ]

    def test_no_point_is_no_line(self):
        assert simplified_track(self.track([], []), FRAME, 1.0) == []
        assert simplified_track(self.track([1.0], [1.0]), FRAME, 1.0) == []


def test_a_ring_has_its_radius_on_the_ground():
    # Source: the geodesic on WGS 84 (Karney 2013, in pyproj): each corner lies 9.144 m from the target.
    ring = FRAME.geometry_to_degrees(tolerance_rings(np.array([[100.0, 50.0]]), np.array([9.144]), 24)[0])
    lon, lat = FRAME.to_degrees(100.0, 50.0)
    corners = np.array(ring.exterior.coords)
    distance_m, _ = distance_bearing(lon, lat, corners[:, 0], corners[:, 1])
    assert distance_m == pytest.approx(9.144, abs=0.001)


def test_a_target_without_tolerance_has_no_ring():
    rings = tolerance_rings(np.zeros((2, 2)), np.array([np.nan, 0.0]), 24)
    assert all(ring.is_empty for ring in rings)
