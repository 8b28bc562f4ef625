from __future__ import annotations

import datetime as dt

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from reports import tables
from reports.header import HEADER_KEYS, check_header
from reports.tables import check_table, describe_tables, empty_table

SPECS = [value for value in vars(tables).values() if isinstance(value, tables.TableSpec)]


def notes(**columns):
    return pd.DataFrame({"kind": ["mended"], "hole": [3], "text": ["Turned."]} | columns)


class TestCheckTable:
    def test_names_every_missing_column(self):
        with pytest.raises(ValueError, match=r"^notes: missing kind, text$"):
            check_table(pd.DataFrame({"hole": [1]}), tables.NOTES)

    def test_leaves_its_input_alone(self):
        frame = notes(hole=[np.nan], text=[None])
        before = frame.copy(deep=True)
        checked = check_table(frame, tables.NOTES)
        pd.testing.assert_frame_equal(frame, before)
        assert checked is not frame
        assert checked.loc[0, "text"] == ""
        assert checked.loc[0, "hole"] is pd.NA

    def test_gives_each_kind_one_type(self):
        checked = check_table(notes(hole=["3"], kind=[True]), tables.NOTES)
        assert checked["hole"].dtype == "Int64"
        assert checked["kind"].tolist() == ["yes"]

    def test_keeps_further_columns_and_numbers_rows_anew(self):
        checked = check_table(notes(more=[1]).set_index(pd.Index([9])), tables.NOTES)
        assert checked["more"].tolist() == [1]
        assert checked.index.tolist() == [0]

    @pytest.mark.parametrize("hole", [1.5, "one"])
    def test_says_which_column_has_the_wrong_type(self, hole):
        with pytest.raises(ValueError, match="notes: column hole is not of kind whole"):
            check_table(notes(hole=[hole]), tables.NOTES)

    def test_wants_zone_aware_times(self):
        track = pd.DataFrame({"lon_deg": [1.0], "lat_deg": [2.0], "part": [0], "hole": [1]})
        naive = track.assign(time=pd.Timestamp("2026-05-14T10:00"))
        with pytest.raises(ValueError, match="track: column time"):
            check_table(naive, tables.TRACK)
        zoned = track.assign(time=pd.Timestamp("2026-05-14T12:00+02:00"))
        assert check_table(zoned, tables.TRACK).loc[0, "time"] == pd.Timestamp("2026-05-14T10:00Z")

    def test_wants_the_geometry_of_its_kind_in_degrees(self):
        rows = {"hole": [1]}
        line = shapely.LineString([(1.0, 2.0), (1.0, 2.1)])
        assert len(check_table(gpd.GeoDataFrame(rows, geometry=[line]), tables.HOLE_LINES)) == 1
        with pytest.raises(ValueError, match="hole_lines: geometry Point"):
            check_table(gpd.GeoDataFrame(rows, geometry=[shapely.Point(1, 2)]), tables.HOLE_LINES)
        with pytest.raises(ValueError, match="not a GeoDataFrame"):
            check_table(pd.DataFrame(rows), tables.HOLE_LINES)
        metres = gpd.GeoDataFrame(rows, geometry=[line], crs="EPSG:4326").to_crs("EPSG:32631")
        with pytest.raises(ValueError, match="EPSG:32631"):
            check_table(metres, tables.HOLE_LINES)
        # Source: RFC 7946 section 3.1.1, longitude comes first; 100 can be no latitude.
        swapped = shapely.LineString([(2.0, 100.0), (2.1, 100.0)])
        with pytest.raises(ValueError, match="no longitude and latitude"):
            check_table(gpd.GeoDataFrame(rows, geometry=[swapped]), tables.HOLE_LINES)

    def test_finds_the_geometry_by_its_role(self):
        line = shapely.LineString([(1.0, 2.0), (1.0, 2.1)])
        frame = gpd.GeoDataFrame({"hole": [1]}, geometry=[line]).rename_geometry("shape")
        assert check_table(frame, tables.HOLE_LINES).geometry.iloc[0].equals(line)

    def test_lets_a_row_have_no_geometry(self):
        frame = gpd.GeoDataFrame({"hole": [1]}, geometry=[None])
        assert check_table(frame, tables.HOLE_LINES).geometry.iloc[0] is None


class TestEmptyTable:
    @pytest.mark.parametrize("spec", SPECS, ids=lambda spec: spec.name)
    def test_passes_its_own_check(self, spec):
        frame = empty_table(spec)
        assert frame.empty
        assert check_table(frame, spec).dtypes.equals(frame.dtypes)


class TestCheckHeader:
    def header(self, round_tables, **changes):
        return dict(round_tables.header) | changes

    def test_names_every_missing_key(self):
        with pytest.raises(ValueError, match="header: missing player, course, units"):
            check_header({})

    def test_takes_none_only_where_it_may(self, round_tables):
        assert check_header(self.header(round_tables, strokes=None))["strokes"] is None
        assert check_header(self.header(round_tables, strokes=pd.NA))["strokes"] is None
        with pytest.raises(ValueError, match="player is missing"):
            check_header(self.header(round_tables, player=None))

    @pytest.mark.parametrize(
        ("key", "value"),
        [
            ("units", "ft"),
            ("time_zone", "Nowhere/City"),
            ("time_zone", "../../etc/passwd"),
            ("strokes", "90"),
            ("strokes", True),
            ("invented", "no"),
            ("start_time", dt.datetime(2026, 5, 14, 10, 0)),  # noqa: DTZ001 - the fault
        ],
    )
    def test_says_what_is_wrong(self, round_tables, key, value):
        with pytest.raises(ValueError, match=f"header: {key}"):
            check_header(self.header(round_tables, **{key: value}))

    def test_reports_all_faults_at_once(self, round_tables):
        with pytest.raises(ValueError, match=r"strokes.*putts"):
            check_header(self.header(round_tables, strokes="x", putts="y"))


def test_every_length_and_position_says_its_unit():
    for spec in SPECS:
        for column in spec.columns:
            if column.name.endswith(("_m", "_deg")):
                unit = "[m]" if column.name.endswith("_m") else "[deg]"
                assert unit in column.meaning, f"{spec.name}.{column.name}"


def test_the_description_lists_every_column():
    text = describe_tables()
    for spec in SPECS:
        for column in spec.columns:
            assert f"  {column.name} ({column.kind}): {column.meaning}" in text
    assert all(f"  {key}: " in text for key in HEADER_KEYS)
