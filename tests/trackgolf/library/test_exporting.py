"""Exports: read back by other programs, valid by published rules, and nothing in a share that exposes anybody."""

import csv
import io
import json
import re
import sqlite3
from pathlib import Path

import geopandas as gpd
import lxml.etree
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from click.testing import CliRunner

from tests.geo.test_gpx_write import schemas  # noqa: F401
from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.cli import main
from trackgolf.errors import InputError
from trackgolf.library.exporting import export_rounds, write_export
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_round, read_shots


@pytest.fixture(scope="module")
def exposed(tmp_path_factory):
    """A library that holds a way from home, kept whole because somebody asked for it, and a mark with a name."""
    folder = invented.season(tmp_path_factory.mktemp("exposed") / "in", 0)
    mark = '<wpt lat="47.0000100" lon="-31.0000100"><time>2026-05-03T08:01:00Z</time><name>Aunt Odile</name></wpt>'
    text = invented.track(home=True).replace("<trk>", f"{mark}<trk>", 1)
    assert mark in text
    (folder / "track.gpx").write_text(text)
    place = folder.parent / "library.sqlite"
    put_in(place, folder, whole=True)
    return place


@pytest.fixture(scope="module")
def exports(exposed, tmp_path_factory):
    """The exposed round in each format, whole and to share."""
    out = tmp_path_factory.mktemp("exports")
    connection = open_library(exposed)
    for name, share in (("whole", False), ("share", True)):
        result = export_rounds(connection, [1], share=share)
        for ending in ("geojson", "gpkg", "gpx"):
            write_export(result, out / f"{name}.{ending}")
        for table in ("shots", "holes", "comparison", "rounds"):
            write_export(result, out / f"{name}_{table}.csv", table)
    connection.close()
    return out


class TestGeoPackage:
    def test_keeps_the_rules_of_the_standard(self, exports):
        db = sqlite3.connect(exports / "whole.gpkg")
        content = (exports / "whole.gpkg").read_bytes()
        # Source: OGC 12-128r19 (GeoPackage 1.4), requirements 2 and 3: application_id "GPKG", user_version from 10200.
        assert content[68:72] == b"GPKG"
        assert db.execute("PRAGMA user_version").fetchone()[0] >= 10200
        # Requirements 6 and 7: SQLite's own checks.
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        # Requirement 10: these rows of gpkg_spatial_ref_sys, and 11: WGS 84 as 4326.
        systems = {row[0] for row in db.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
        assert {-1, 0, 4326} <= systems
        # Requirement 13: gpkg_contents lists every table, with a known data type.
        listed = dict(db.execute("SELECT table_name, data_type FROM gpkg_contents"))
        assert listed == {
            "shots": "features", "tracks": "features", "courses": "features",
            "rounds": "attributes", "holes": "attributes", "comparison": "attributes",
        }  # fmt: skip
        geometry = {row[0]: row[1:] for row in db.execute(
            "SELECT table_name, column_name, geometry_type_name, srs_id, z, m FROM gpkg_geometry_columns"
        )}  # fmt: skip
        # Requirements 22 to 26: one geometry column a feature table, a known type, the system of gpkg_contents.
        assert set(geometry) == {"shots", "tracks", "courses"}
        assert {row[2] for row in geometry.values()} == {4326}
        # Requirement 5: the types a column may have.
        types = re.compile(
            r"BOOLEAN|TINYINT|SMALLINT|MEDIUMINT|INT|INTEGER|FLOAT|DOUBLE|REAL|(TEXT|BLOB)(\(\d+\))?|DATE|DATETIME"
        )
        for table in listed:
            columns = db.execute(f"PRAGMA table_info({table})").fetchall()
            # Requirements 29 and 119: an integer primary key.
            assert [row[2] for row in columns if row[5]] == ["INTEGER"]
            for column in columns:
                if table not in geometry or column[1] != geometry[table][0]:
                    assert types.fullmatch(column[2]), (table, column)
        for table, (column, *_) in geometry.items():
            # Requirement 19: every geometry is a blob that begins with "GP", version 0, then flags and the system.
            for (blob,) in db.execute(f"SELECT {column} FROM {table}"):
                assert blob[:3] == b"GP\x00"
                assert int.from_bytes(blob[4:8], "little" if blob[3] & 1 else "big") == 4326
        db.close()

    def test_gdal_reads_what_the_library_holds(self, exports, exposed):
        connection = open_library(exposed)
        stored = read_shots(connection)
        connection.close()
        shots = pyogrio.read_dataframe(exports / "whole.gpkg", layer="shots")
        assert shots.crs.to_epsg() == 4326
        assert shots["club"].tolist() == stored["club"].tolist()
        assert shots["distance_m"].tolist() == pytest.approx(stored["distance_m"].tolist())
        assert shapely.get_x(shapely.get_point(shots.geometry, -1)).tolist() == pytest.approx(
            stored["end_lon_deg"].tolist(), abs=1e-12
        )
        # Source: OGC 12-128r19, table 1: DATETIME is UTC; GDAL reads it as such.
        assert (pd.to_datetime(shots["start_time"]) - stored["start_time"]).abs().max() < pd.Timedelta("2ms")
        courses = gpd.read_file(exports / "whole.gpkg", layer="courses")
        assert set(courses["kind"]) == {"course", "tee", "green", "hole_line"}

    def test_an_old_file_is_replaced_whole(self, connection, tmp_path):
        place = tmp_path / "out.gpkg"
        write_export(export_rounds(connection, [1, 2]), place)
        write_export(export_rounds(connection, [3]), place)
        assert pyogrio.read_dataframe(place, layer="rounds")["round"].tolist() == [3]
        assert sorted(path.name for path in tmp_path.iterdir() if "out" in path.name) == ["out.gpkg"]


class TestGpx:
    @pytest.mark.parametrize("name", ["whole", "share"])
    def test_is_valid(self, exports, schemas, name):  # noqa: F811
        schemas["1.1"].assertValid(lxml.etree.parse(exports / f"{name}.gpx"))

    def test_is_the_recording(self, exports, exposed):
        from geo.gpx import read_gpx

        connection = open_library(exposed)
        _, _, (kept,) = read_round(connection, 1)
        connection.close()
        back = read_gpx(exports / "whole.gpx").points
        pd.testing.assert_frame_equal(back, kept.points)

    def test_holds_one_round(self, connection, tmp_path):
        with pytest.raises(InputError, match="one round, not 3"):
            write_export(export_rounds(connection, [1, 2, 3]), tmp_path / "out.gpx")


class TestGeoJson:
    def test_is_read_by_gdal(self, exports):
        table = pyogrio.read_dataframe(exports / "whole.geojson")
        assert table["kind"].value_counts().to_dict() == {"shot": 7, "track": 1}
        document = json.loads((exports / "whole.geojson").read_text())
        assert {feature["properties"]["invented"] for feature in document["features"]} == {"yes"}


def everything(folder, start):
    """Texts of all files of an export, whatever the format keeps inside."""
    for path in sorted(folder.glob(f"{start}*")):
        yield path.name, path.read_bytes().decode("latin-1")


class TestShare:
    def test_no_clock_time_no_name_no_day(self, exports):
        told = 0
        # GeoPackage notes when the file itself was made; the round was played on another day.
        for name, text in everything(exports, "share"):
            assert "2026-05-03" not in text, name
            assert not re.search(r"\b0[89]:\d\d\b", text) or name.endswith("gpkg"), name
            assert "Okafor" not in text, name
            assert "Odile" not in text, name
            told += 1
        assert told == 7
        # The same searches find them in the whole export.
        whole = dict(everything(exports, "whole"))
        assert "2026-05-03" in whole["whole_shots.csv"]
        assert "Okafor" in whole["whole_rounds.csv"]
        assert "Odile" in whole["whole.gpx"]

    def test_no_column_of_a_geopackage_is_a_time(self, exports):
        for layer, _ in pyogrio.list_layers(exports / "share.gpkg"):
            for field, kind in zip(
                *(pyogrio.read_info(exports / "share.gpkg", layer=layer)[k] for k in ("fields", "dtypes")),
                strict=True,
            ):
                assert "datetime" not in str(kind), (layer, field)
                assert "time" not in field, (layer, field)

    def test_no_point_off_the_course(self, exports):
        places = []
        for name, text in everything(exports, "share"):
            if name.endswith(".gpx"):
                places += [
                    (float(lon), float(lat)) for lat, lon in re.findall(r'lat="([^"]+)" lon="([^"]+)"', text)
                ]
            elif name.endswith(".geojson"):
                for feature in json.loads(text)["features"]:
                    places += feature["geometry"]["coordinates"]
            elif name.endswith("shots.csv"):
                for row in csv.DictReader(io.StringIO(text)):
                    places += [
                        (float(row[f"{end}_lon_deg"]), float(row[f"{end}_lat_deg"]))
                        for end in ("start", "end")
                    ]
        for layer in ("shots", "tracks"):
            table = gpd.read_file(exports / "share.gpkg", layer=layer)
            places += shapely.get_coordinates(table.geometry).tolist()
        lon, lat = np.asarray(places, dtype=float).T
        assert len(lon) > 1000
        # Derived: the outline is 80 m west of the first tee; 76.1 km a degree of longitude and 111.2 of latitude.
        east_m, north_m = (lon + 31.0) * 76_100, (lat - 47.0) * 111_200
        assert east_m.min() > -81
        assert east_m.max() < 221
        assert north_m.min() > -81
        assert north_m.max() < 622

    def test_a_gap_is_where_points_were_left_out(self, tmp_path):
        # From the second green home and back to the third tee: no line may be drawn across.
        places = [*invented.PLACES[:7], invented.HOME, *invented.PLACES[7:]]
        folder = invented.season(tmp_path / "in", 0)
        (folder / "track.gpx").write_text(invented.track(places=places))
        put_in(tmp_path / "library.sqlite", folder, whole=True)
        connection = open_library(tmp_path / "library.sqlite")
        share, whole = (export_rounds(connection, [1], share=share) for share in (True, False))
        connection.close()
        assert len(whole.tracks) == 1
        assert len(share.tracks) == 2
        assert share.points["segment"].nunique() == 2


class TestCommand:
    @pytest.fixture(autouse=True)
    def own_library(self, library, monkeypatch):
        monkeypatch.setenv("TRACKGOLF_LIBRARY", str(library))

    def test_all_or_some(self, tmp_path):
        out = tmp_path / "out.csv"
        result = CliRunner().invoke(main, ["export", "--out", str(out), "--table", "holes"])
        assert result.exit_code == 0, result.output
        assert len(out.read_text().splitlines()) == 1 + 9
        result = CliRunner().invoke(main, ["export", "2", "--out", str(out), "--table", "rounds"])
        assert result.exit_code == 0, result.output
        assert [row["round"] for row in csv.DictReader(io.StringIO(out.read_text()))] == ["2"]

    @pytest.mark.parametrize(
        "words", [["9", "--out", "a.csv"], ["--out", "a.xls"], ["--player", "Nobody", "--out", "a.csv"]]
    )
    def test_refuses_in_one_line(self, tmp_path, words, monkeypatch):
        monkeypatch.chdir(tmp_path)
        result = CliRunner().invoke(main, ["export", *words])
        assert result.exit_code == 2
        assert result.stderr.count("\n") == 1
        assert not Path(words[-1]).exists()
