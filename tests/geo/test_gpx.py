import codecs
import gzip
import re
import shutil
import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import gpxpy
import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geo._gpx_time import IMPOSSIBLE, MISSING, OK, UNREADABLE, parse_times
from geo.errors import InputError
from geo.geodesic import line_length_m
from geo.gpx import PointAccount, read_gpx
from tests.geo.gpx_texts import GPX10, GPX11, invented_gpx, invented_point

DATA = Path(__file__).parents[1] / "data" / "gpxpy"
WALK = Path(__file__).parents[2] / "demo_tracks" / "walk.gpx"


@pytest.fixture
def read(tmp_path):
    """Read a text or bytes as a file named round.gpx."""

    def read_text(content, **options):
        path = tmp_path / "round.gpx"
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return read_gpx(path, **options)

    return read_text


@pytest.fixture
def refused(read):
    """The one line with which a text is refused, without the name of the file."""

    def message_of(content, **options):
        with pytest.raises(InputError) as caught:
            read(content, **options)
        message = str(caught.value)
        assert "\n" not in message
        where, _, rest = message.partition("round.gpx: ")
        assert where
        return rest

    return message_of


def assert_adds_up(gpx):
    account = gpx.account
    assert account.seen == account.kept + sum(account.dropped.values())
    assert account.kept == len(gpx.points)
    assert all(count > 0 for count in account.dropped.values())


def seconds(gpx):
    return gpx.points["time"].astype("int64").to_numpy() / 1e9


# Healthy files.


@pytest.mark.parametrize(
    "name",
    [
        "cerknicko-jezero.gpx",
        "cerknicko-jezero-no-creator.gpx",
        "cerknicko-without-times.gpx",
        "korita-zbevnica.gpx",
        "track-with-empty-segment.gpx",
        "track-with-less-sec-time.gpx",
        "track_with_speed.gpx",
        "gpx1.0_with_all_fields.gpx",
        "gpx1.1_with_all_fields.gpx",
    ],
)
def test_healthy_files_read_as_gpxpy_reads_them(name):
    ours = read_gpx(DATA / name)
    with (DATA / name).open(encoding="utf-8-sig") as file:
        document = gpxpy.parse(file)
    # Source: gpxpy 1.6.2, its own reader, on its own test files; points without a time are ours to drop.
    theirs = [
        (
            point.time.astimezone(UTC),
            point.longitude,
            point.latitude,
            point.elevation,
            point.horizontal_dilution,
        )
        for track in document.tracks
        for segment in track.segments
        for point in segment.points
        if point.time is not None
    ]
    assert_adds_up(ours)
    assert ours.account.seen == document.get_points_no()
    assert [time.to_pydatetime() for time in ours.points["time"]] == [point[0] for point in theirs]
    for column, at in (("lon_deg", 1), ("lat_deg", 2), ("ele_m", 3), ("hdop", 4)):
        values = np.array([np.nan if point[at] is None else point[at] for point in theirs], dtype=float)
        np.testing.assert_array_equal(ours.points[column], values)
    assert [(mark.lon_deg, mark.lat_deg, mark.name) for mark in ours.marks.itertuples(index=False)] == [
        (mark.longitude, mark.latitude, " ".join((mark.name or "").split())) for mark in document.waypoints
    ]
    assert (ours.creator, ours.version) == (document.creator or None, document.version)


def test_the_real_walk():
    walk = read_gpx(WALK)
    # Source: gpxpy 1.6.2 test_files/cerknicko-jezero.gpx, second track: 173 points in 2 469 s, 7 waypoints; geodesic
    # length 1 913.756 m and ends 41.739 m apart computed with pyproj 3.7.2.
    assert walk.account == PointAccount(173, 173, {})
    assert len(walk.marks) == 7
    assert (walk.points["time"].iloc[-1] - walk.points["time"].iloc[0]).total_seconds() == 2469
    lon, lat = walk.points["lon_deg"], walk.points["lat_deg"]
    assert line_length_m(lon, lat) == pytest.approx(1913.756, abs=1e-2)
    assert line_length_m(lon.iloc[[0, -1]], lat.iloc[[0, -1]]) == pytest.approx(41.739, abs=1e-3)
    assert walk.warnings == ()


def test_the_table_has_its_columns_and_types(read):
    gpx = read(
        invented_gpx(
            invented_point(0, inner="<ele>12.5</ele>"),
            invented_point(1, inner="<hdop>1.5</hdop>"),
            marks='<wpt lat="47" lon="-31"><time>2026-05-03T08:00:10Z</time><name> 7\n iron </name></wpt>'
            '<wpt lat="47" lon="-31"/>',
            head="<metadata><name>round</name><desc>Invented walk</desc></metadata>",
        )
    )
    assert {name: str(kind) for name, kind in gpx.points.dtypes.items()} == {
        "time": "datetime64[ns, UTC]",
        "lon_deg": "float64",
        "lat_deg": "float64",
        "ele_m": "float64",
        "hdop": "float64",
        "segment": "int64",
    }
    assert gpx.points["ele_m"].tolist()[0] == 12.5
    assert np.isnan(gpx.points["ele_m"][1])
    assert gpx.points["hdop"][1] == 1.5
    assert list(gpx.marks.columns) == ["time", "lon_deg", "lat_deg", "name"]
    assert gpx.marks["name"].tolist() == ["7 iron", ""]
    assert gpx.marks["time"][0] == pd.Timestamp("2026-05-03T08:00:10Z")
    assert pd.isna(gpx.marks["time"][1])
    assert (gpx.name, gpx.description, gpx.source) == ("round", "Invented walk", "round.gpx")


def test_segments_are_counted_over_the_file(read):
    text = invented_gpx(
        invented_point(0),
        "</trkseg><trkseg>",
        invented_point(1),
        "</trkseg></trk><trk><trkseg>",
        invented_point(2),
    )
    assert read(text).points["segment"].tolist() == [0, 1, 2]


@pytest.mark.parametrize(
    "change",
    [
        lambda text: re.sub(r"<(/?)(gpx|trk|trkseg|trkpt|time)\b", r"<\1p:\2", text).replace(
            "xmlns=", "xmlns:p="
        ),
        lambda text: re.sub(r' xmlns="[^"]*"', "", text),
        lambda text: text.replace("\n", "", 1),
        lambda text: "\n  " + text,
        lambda text: text.replace("<?xml", "<?xml", 1).replace("<time>", "<time>\n\t "),
        lambda text: text.replace("<trkseg>", "<!-- <trkpt lat='1' lon='1'> --><trkseg>"),
    ],
    ids=[
        "prefixed root",
        "no namespace",
        "one line",
        "space before the declaration",
        "space in times",
        "comment",
    ],
)
def test_odd_and_legal_forms_read_the_same(read, change):
    text = invented_gpx(*(invented_point(number) for number in range(5)))
    plain, odd = read(text), read(change(text))
    pd.testing.assert_frame_equal(plain.points, odd.points)
    assert odd.account == PointAccount(5, 5, {})


def test_extensions_are_passed_over_in_both_versions(read):
    inner = (
        '<extensions><x:time xmlns:x="urn:x">2001-01-01T00:00:00Z</x:time><trkpt lat="1" lon="1"/>'
        "<time>2001-01-01T00:00:00Z</time><a><b>3</b></a></extensions>"
        '<y:ele xmlns:y="urn:y">99</y:ele><course>12</course><speed>1.2</speed><ele>5</ele>'
    )
    gpx = read(invented_gpx(invented_point(0, inner=inner), invented_point(1), root=GPX10))
    assert gpx.account == PointAccount(2, 2, {})
    assert gpx.points["ele_m"][0] == 5.0
    assert gpx.points["time"].dt.year.tolist() == [2026, 2026]


def test_attributes_in_any_order_and_number(read):
    point = '<trkpt id="7" lon="-31" lat="47"><time>2026-05-03T08:00:00Z</time></trkpt>'
    assert read(invented_gpx(point)).points[["lon_deg", "lat_deg"]].to_numpy().tolist() == [[-31.0, 47.0]]


# Bytes: encodings, compression, size.


NAMED = invented_gpx(invented_point(0), invented_point(1), head="<metadata><name>Größe Å ½</name></metadata>")


@pytest.mark.parametrize(
    "content",
    [
        NAMED.encode("utf-8"),
        codecs.BOM_UTF8 + NAMED.encode("utf-8"),
        NAMED.replace("UTF-8", "UTF-16").encode("utf-16"),
        codecs.BOM_UTF16_BE + NAMED.encode("utf-16-be"),
        NAMED.encode("utf-16-le"),
        NAMED.encode("utf-16-be"),
        NAMED.encode("utf-32"),
        NAMED.replace("UTF-8", "ISO-8859-1").encode("iso-8859-1"),
        NAMED.replace("UTF-8", "windows-1252").encode("cp1252"),
        NAMED.replace("UTF-8", "utf-16").encode("utf-8"),
        gzip.compress(NAMED.encode("utf-8")),
        gzip.compress(NAMED[:90].encode("utf-8")) + gzip.compress(NAMED[90:].encode("utf-8")),
    ],
    ids=[
        *("utf-8", "utf-8 mark", "utf-16 mark", "utf-16 big mark", "utf-16 little", "utf-16 big", "utf-32"),
        *("latin-1 declared", "windows declared", "declared wrongly", "gzip", "gzip in two"),
    ],
)
def test_encodings_and_compression(read, content):
    gpx = read(content)
    assert gpx.name == "Größe Å ½"
    assert gpx.account == PointAccount(2, 2, {})
    assert gpx.warnings == ()


def test_latin_without_a_word_is_read_and_said(read):
    gpx = read(NAMED.encode("cp1252"))
    assert gpx.name == "Größe Å ½"
    assert any("UTF-8" in warning for warning in gpx.warnings)


def test_one_bad_byte_spoils_one_character_only(read):
    gpx = read(NAMED.encode("utf-8").replace(b"round", b"round").replace("½".encode(), b"\xe9"))
    assert gpx.name == "Größe Å é"


def test_an_unknown_encoding_is_read_as_utf8_and_said(read):
    gpx = read(NAMED.replace("UTF-8", "cp99999"))
    assert gpx.name == "Größe Å ½"
    assert any("cp99999" in warning for warning in gpx.warnings)


def test_encodings_that_are_slow_on_purpose_are_not_used(read):
    # Source: Python's list of standard encodings: punycode and idna are text encodings with quadratic decoders.
    assert read(NAMED.replace("UTF-8", "punycode")).name == "Größe Å ½"


def test_the_real_file_with_a_byte_order_mark_has_no_track():
    with pytest.raises(InputError, match="no track point in it, only 1 waypoint"):
        read_gpx(DATA / "unicode_with_bom.gpx")


def test_size_is_capped_before_and_after_unpacking(refused):
    text = invented_gpx(*(invented_point(number) for number in range(100)))
    assert "too large" in refused(text, max_bytes=2_000)
    packed = gzip.compress(text.encode())
    assert len(packed) < 2_000
    assert "too large" in refused(packed, max_bytes=2_000)
    # Decoding can double the size too.
    assert "too large" in refused("é".encode("utf-16-le") * 1_500 + text.encode("utf-16-le"), max_bytes=4_000)


def test_a_compressed_bomb_is_stopped_early(refused):
    packer = zlib.compressobj(9, wbits=31)
    bomb = b"".join(packer.compress(bytes(1_000_000)) for _ in range(300)) + packer.flush()
    assert len(bomb) < 400_000
    assert "too large" in refused(bomb, max_bytes=1_000_000)


def test_gzip_cut_short_keeps_what_comes_out(read):
    text = invented_gpx(*(invented_point(number) for number in range(600)))
    packed = gzip.compress(text.encode())
    gpx = read(packed[: len(packed) // 2])
    assert 50 < gpx.account.kept < 600
    assert_adds_up(gpx)
    assert any("compressed" in warning for warning in gpx.warnings)
    assert any("cut short" in warning for warning in gpx.warnings)


def test_gzip_damaged_inside_keeps_what_comes_before(read):
    text = invented_gpx(*(invented_point(number) for number in range(600)))
    packed = bytearray(gzip.compress(text.encode()))
    middle = len(packed) // 2
    packed[middle : middle + 40] = b"\xff" * 40
    gpx = read(bytes(packed))
    assert gpx.account.kept > 50
    assert_adds_up(gpx)


# Attacks.


def test_an_entity_bomb_is_refused(refused):
    bomb = (
        '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
        f"<gpx {GPX11}><metadata><name>&b;</name></metadata><trk><trkseg>{invented_point()}</trkseg></trk></gpx>"
    )
    assert "document type" in refused(bomb)


def test_an_outside_entity_is_refused(refused, tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("hidden")
    text = (
        f'<!DOCTYPE gpx [<!ENTITY s SYSTEM "{secret.as_uri()}">]>'
        + invented_gpx(invented_point(), head="<metadata><name>&s;</name></metadata>").partition("\n")[2]
    )
    message = refused(text)
    assert "document type" in message
    assert "hidden" not in message


@pytest.mark.parametrize("inner", ["<extensions>{}</extensions>", "{}"], ids=["extensions", "plain"])
def test_depth_is_capped(refused, inner):
    nest = inner.format("<a>" * 5_000 + "</a>" * 5_000)
    assert "nested" in refused(invented_gpx(invented_point(), nest))


def test_nested_points_do_not_nest_the_parser(read):
    text = invented_gpx(*(invented_point(number).replace("</trkpt>", "") for number in range(500)))
    gpx = read(text)
    assert gpx.account == PointAccount(500, 500, {})
    assert any("end tag" in warning for warning in gpx.warnings)


# What is refused.


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b" \n\t ", "the file is empty"),
        (bytes(3000), "only zero bytes"),
        (b"<!DOCTYPE html><html><body>Log in</body></html>", "web page (HTML)"),
        (b"<html><head><meta charset=utf-8></head>", "web page (HTML)"),
        (b"<!-- saved -->\n<HTML><p>", "web page (HTML)"),
        (b'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document/></kml>', "a KML file"),
        (b'<?xml version="1.0"?><TrainingCenterDatabase/>', "root element is 'TrainingCenterDatabase'"),
        (b"time,lat,lon\n1,2,3\n", "not XML, it begins with 'time,lat,lon"),
        (b'{"type": "FeatureCollection"}', "JSON, not a GPX file"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00", "a picture, not a track"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01", "a picture, not a track"),
        (b"PK\x03\x04rest of a zip", "a zip archive"),
        (b"\x0e\x10\x43\x08\x28\x00\x00\x00.FIT rest", "a FIT file"),
        (b'<?xml version="1.0"?><gpx version="1.1" crea', "cut short before its first track point"),
        (invented_gpx().encode(), "no track point in it."),
        (invented_gpx().encode()[:-30], "the file is cut short"),
        (
            invented_gpx(invented_point(time=None), invented_point(time=None)).encode(),
            "no point has a time. Record",
        ),
        (invented_gpx(invented_point(time="")).encode(), "no point has a time"),
        (
            invented_gpx(invented_point(lat="100")).encode(),
            "nowhere on earth (the first: lat '100', lon '-31.0",
        ),
        (invented_gpx(invented_point(lat="100"), invented_point(time="x")).encode(), "none of its 2 points"),
        (
            invented_gpx(*(invented_point(n, time="2026-05-03T08:00:00Z") for n in range(3))).encode(),
            "all 3 points have one and the same time",
        ),
        (
            invented_gpx(invented_point(time="9999-12-31T23:59:59Z")).encode(),
            "dated before 1980 or after 2099",
        ),
    ],
)
def test_refused_with_one_line_that_says_why(refused, content, said):
    assert said in refused(content)


def test_all_times_in_1901_are_no_times():
    with pytest.raises(InputError, match=r"all 184 points are dated before 1980.*1901-12-13"):
        read_gpx(DATA / "Mojstrovka.gpx")


def test_a_route_is_no_track():
    with pytest.raises(InputError, match="only 55 route points"):
        read_gpx(DATA / "route.gpx")


def test_no_such_file_and_a_folder(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_gpx(tmp_path / "none.gpx")
    with pytest.raises(InputError, match="a folder, not a file"):
        read_gpx(tmp_path)
    with pytest.raises(InputError, match="cannot be read"):
        read_gpx("a\0b.gpx")


# What is salvaged.


@pytest.mark.parametrize(
    ("point", "reason"),
    [
        ('<trkpt lat="47"><time>2026-05-03T08:00:09Z</time></trkpt>', "no_position"),
        (invented_point(9, lat="NaN"), "bad_position"),
        (invented_point(9, lat="100"), "bad_position"),
        (invented_point(9, lat="-90.0001"), "bad_position"),
        (invented_point(9, lon="540"), "bad_position"),
        (invented_point(9, lon="180"), "bad_position"),
        (invented_point(9, lon="inf"), "bad_position"),
        (invented_point(9, lon="1e999"), "bad_position"),
        (invented_point(9, lat="4_7"), "bad_position"),
        (invented_point(9, lat="٤٧"), "bad_position"),
        (invented_point(9, lat=""), "bad_position"),
        (invented_point(9, inner="<fix>none</fix>"), "no_fix"),
        (invented_point(9, time=None), "no_time"),
        (invented_point(9, time="  "), "no_time"),
        (invented_point(9, time="noon"), "bad_time"),
        (invented_point(9, time="2026-02-30T08:00:00Z"), "bad_time"),
        (invented_point(9, time="1970-01-01T00:00:09Z"), "impossible_time"),
        (invented_point(9, time="2100-01-01T00:00:00Z"), "impossible_time"),
        (invented_point(9, lat="0", lon="0"), "zero_position"),
    ],
)
def test_one_bad_point_costs_that_point(read, point, reason):
    gpx = read(invented_gpx(*(invented_point(number) for number in range(9)), point, invented_point(10)))
    assert gpx.account == PointAccount(11, 10, {reason: 1})
    assert seconds(gpx)[-1] - seconds(gpx)[0] == 10
    assert len(gpx.warnings) == 1
    assert gpx.warnings[0].startswith("dropped 1 of 11 points: ")


@pytest.mark.parametrize(
    ("lat", "lon", "root"),
    [
        ("47", "180", GPX10),
        ("47", "-180", GPX11),
        ("90", "0", GPX11),
        ("-90", "0", GPX11),
        ("+47.0", "1e-3", GPX11),
    ],
)
def test_positions_at_the_edge_are_legal(read, lat, lon, root):
    # Source: GPX 1.0 and 1.1 schemas, latitudeType and longitudeType: both ends inclusive, but 180 not in 1.1.
    gpx = read(invented_gpx(invented_point(lat=lat, lon=lon), root=root))
    assert gpx.points[["lat_deg", "lon_deg"]].to_numpy().tolist() == [[float(lat), float(lon)]]


def test_a_walk_through_zero_zero_keeps_it(read):
    points = [invented_point(number, lat=f"{(number - 2) * 1e-5:.5f}", lon="0") for number in range(5)]
    assert read(invented_gpx(*points)).account == PointAccount(5, 5, {})


def test_decimal_commas_are_read_and_said(read):
    points = [invented_point(n).replace("47.", "47,").replace("-31.", "-31,") for n in range(3)]
    gpx = read(invented_gpx(*points))
    assert gpx.points["lat_deg"].tolist() == [47.0, 47.00001, 47.00002]
    assert any("decimal comma" in warning for warning in gpx.warnings)


def test_a_bad_elevation_or_hdop_loses_only_itself(read):
    gpx = read(
        invented_gpx(
            invented_point(0, inner="<ele>12m</ele><hdop>-1</hdop>"),
            invented_point(1, inner="<ele>13</ele><hdop>2</hdop>"),
        )
    )
    assert gpx.account == PointAccount(2, 2, {})
    assert np.isnan(gpx.points.loc[0, ["ele_m", "hdop"]].astype(float)).all()
    assert gpx.points.loc[1, ["ele_m", "hdop"]].tolist() == [13.0, 2.0]
    assert gpx.warnings == (
        "1 of 2 points have an unreadable elevation; left unknown",
        "1 of 2 points have an unreadable hdop; left unknown",
    )


def test_times_on_half_of_the_points(read):
    gpx = read(invented_gpx(*(invented_point(n, **({} if n % 2 else {"time": None})) for n in range(20))))
    assert gpx.account == PointAccount(20, 10, {"no_time": 10})
    assert gpx.warnings == ("dropped 10 of 20 points: without a time",)


def test_a_bad_waypoint_is_skipped_and_said(read):
    marks = '<wpt lat="x" lon="1"/><wpt lat="47" lon="-31"><name>ok</name></wpt><wpt lon="1"><name>no</name></wpt>'
    gpx = read(invented_gpx(invented_point(), marks=marks))
    assert gpx.marks["name"].tolist() == ["ok"]
    assert gpx.warnings == ("skipped 2 of 3 waypoints: no usable position, or damaged",)


def test_names_with_markup_are_text(read):
    name = "<b>7 & 8</b> {{7*7}} ]]>"
    written = name.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    marks = f'<wpt lat="47" lon="-31"><name>{written}</name></wpt><wpt lat="47" lon="-31"><name><![CDATA[{name[:-3]}]]></name></wpt>'
    gpx = read(invented_gpx(invented_point(), marks=marks))
    assert gpx.marks["name"].tolist() == [name, name[:-3].strip()]


def test_unescaped_text_costs_one_waypoint_and_no_point(read):
    marks = (
        '<wpt lat="47" lon="-31"><name>Tom & Jerry</name></wpt>'
        '<wpt lat="47" lon="-31"><name>fine</name></wpt>'
    )
    gpx = read(
        invented_gpx(
            invented_point(0), invented_point(1), marks=marks, head="<metadata><name>n</name></metadata>"
        )
    )
    assert gpx.account == PointAccount(2, 2, {})
    assert gpx.marks["name"].tolist() == ["fine"]
    assert gpx.name == "n"
    assert any("broken at line 2" in warning for warning in gpx.warnings)


def test_unescaped_text_in_the_name_of_the_file(read):
    gpx = read(
        invented_gpx(invented_point(0), invented_point(1), head="<metadata><name>A & B</name></metadata>")
    )
    assert gpx.account == PointAccount(2, 2, {})


@pytest.mark.parametrize(
    ("bad", "dropped"),
    [
        (invented_point(5).replace("<time>", "<time"), {"incomplete": 1}),
        (invented_point(5).replace('" lon', " lon"), {"incomplete": 1}),
        ("\x00" * 300, {}),
        (invented_point(5)[:40] + "\x00" * 300, {"incomplete": 1}),
        ("</trkseg></trk></gpx>\n<?xml version='1.0'?><gpx><trk><trkseg>" + invented_point(5), {}),
        ("&nbsp;", {}),
    ],
    ids=[
        "broken time tag",
        "broken attribute",
        "zeros",
        "zeros inside a point",
        "two documents",
        "html entity",
    ],
)
def test_damage_in_the_middle_costs_what_it_hits(read, bad, dropped):
    before = [invented_point(number) for number in range(5)]
    after = [invented_point(number) for number in range(6, 20)]
    gpx = read(invented_gpx(*before, bad, *after))
    own = bad.count("<trkpt")
    assert gpx.account == PointAccount(19 + own, 19 + own - sum(dropped.values()), dropped)
    assert gpx.points["segment"].nunique() == 2


def test_missing_version_and_creator_are_said(read):
    gpx = read(invented_gpx(invented_point(), root=""))
    assert gpx.account.kept == 1
    assert (gpx.version, gpx.creator) == (None, None)
    assert "no version and no creator" in gpx.warnings[0]
    assert "'9.9'" in read(invented_gpx(invented_point(), root='version="9.9" creator="c"')).warnings[0]


# Cut short.


COMPLETE = re.compile(rb"<trkpt\b[^>]*>.*?</trkpt>", re.DOTALL)


@pytest.mark.parametrize("path", [WALK, DATA / "track-with-empty-segment.gpx"], ids=["walk", "watch"])
def test_cut_at_every_97th_byte(path, read, refused):
    data = path.read_bytes()
    salvaged = 0
    for cut in range(0, len(data), 97 if path == WALK else 7):
        head = data[:cut]
        # Source: the text itself: elements closed, and elements begun with their name whole.
        complete, begun = len(COMPLETE.findall(head)), len(re.findall(rb"<trkpt\b", head))
        if complete == 0:
            assert "\n" not in refused(head)
            continue
        gpx = read(head)
        salvaged += 1
        assert gpx.account.kept == complete
        assert gpx.account.seen == begun
        assert_adds_up(gpx)
        if b"</gpx>" not in head:
            assert any(f"{complete} complete points" in warning for warning in gpx.warnings)
    assert salvaged > 100


def test_cut_inside_a_number_does_not_keep_the_stump(read):
    text = invented_gpx(invented_point(0), invented_point(1))
    cut = text.index("47.0000100") + 4
    assert read(text[:cut]).account == PointAccount(2, 1, {"incomplete": 1})


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_happens_to_a_file_the_account_adds_up(tmp_path, data):
    text = bytearray(
        invented_gpx(
            *(invented_point(number, inner="<ele>1</ele>") for number in range(12)),
            marks='<wpt lat="47" lon="-31"><name>m</name></wpt>',
        ).encode()
    )
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, max(len(text) - 1, 0)))
        length = data.draw(st.integers(0, 60))
        kinds = st.one_of(
            st.just(b""),
            st.binary(max_size=8),
            st.sampled_from([b"<", b">", b"&", b'"', b"<trkpt ", b"</trkpt>"]),
        )
        text[at : at + length] = data.draw(kinds)
    path = tmp_path / "round.gpx"
    path.write_bytes(bytes(text))
    try:
        gpx = read_gpx(path)
    except InputError:
        return
    assert_adds_up(gpx)
    assert gpx.account.seen <= bytes(text).count(b"trkpt")
    assert (gpx.points["lat_deg"].abs() <= 90).all()
    assert not gpx.points[["time", "lon_deg", "lat_deg"]].isna().any().any()


# Times.


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        # Source: XML Schema part 2, 3.2.7: 2000-03-04T23:00:00+03:00 and 2000-03-04T20:00:00Z are one moment.
        ("2000-03-04T23:00:00+03:00", "2000-03-04T20:00:00Z"),
        # Source: same, 3.2.7.1: 24:00:00 is the first moment of the next day.
        ("2026-05-03T24:00:00Z", "2026-05-04T00:00:00Z"),
        # Source: IERS Bulletin C 52: the leap second 2016-12-31 23:59:60, after which 2017 began.
        ("2016-12-31T23:59:60Z", "2017-01-01T00:00:00Z"),
        ("2016-12-31T23:59:60.5Z", "2017-01-01T00:00:00.5Z"),
        ("2026-05-03T08:00:00", "2026-05-03T08:00:00Z"),
        ("  2026-05-03T08:00:00Z\n", "2026-05-03T08:00:00Z"),
        ("2026-05-03t08:00:00z", "2026-05-03T08:00:00Z"),
        ("2026-05-03 08:00:00Z", "2026-05-03T08:00:00Z"),
        ("2026-05-03T08:00:00,25Z", "2026-05-03T08:00:00.25Z"),
        ("2026-05-03T08:00:00.1234567890123Z", "2026-05-03T08:00:00.123456789Z"),
        ("2026-05-03T08:00:00.5", "2026-05-03T08:00:00.5Z"),
        ("2026-05-03T08:00:00-0330", "2026-05-03T11:30:00Z"),
        ("2026-05-03T08:00:00+02", "2026-05-03T06:00:00Z"),
        ("2024-02-29T00:00:00Z", "2024-02-29T00:00:00Z"),
        ("1980-01-06T00:00:00Z", "1980-01-06T00:00:00Z"),
        ("2099-12-31T23:59:59.999999999Z", "2099-12-31T23:59:59.999999999Z"),
    ],
)
def test_times_that_are_understood(text, utc):
    time_ns, state = parse_times([text])
    assert state.tolist() == [OK]
    assert pd.Timestamp(int(time_ns[0]), tz="UTC") == pd.Timestamp(utc)


@pytest.mark.parametrize(
    ("text", "state"),
    [
        (None, MISSING),
        ("", MISSING),
        ("now", UNREADABLE),
        ("2026-05-03", UNREADABLE),
        ("2026-05-03T25:00:00Z", UNREADABLE),
        ("2026-05-03T24:00:01Z", UNREADABLE),
        ("2026-05-03T08:60:00Z", UNREADABLE),
        ("2026-05-03T08:00:61Z", UNREADABLE),
        ("2026-13-03T08:00:00Z", UNREADABLE),
        ("2026-00-03T08:00:00Z", UNREADABLE),
        ("2026-05-00T08:00:00Z", UNREADABLE),
        ("2023-02-29T08:00:00Z", UNREADABLE),
        ("2026-05-03T08:00:00.Z", UNREADABLE),
        ("2026-05-03T08:00:00+15:00", UNREADABLE),
        ("２０２６-05-03T08:00:00Z", UNREADABLE),
        ("2026-05-03T08:00:00X", UNREADABLE),
        ("1901-12-13T20:45:52.2073437Z", IMPOSSIBLE),
        ("1980-01-05T23:59:59Z", IMPOSSIBLE),
        ("9999-12-31T23:59:59Z", IMPOSSIBLE),
        ("-0044-03-15T12:00:00Z", IMPOSSIBLE),
        ("12026-05-03T08:00:00Z", IMPOSSIBLE),
        ("0000-01-01T00:00:00Z", IMPOSSIBLE),
    ],
)
def test_times_that_are_not(text, state):
    time_ns, states = parse_times([text])
    assert (states.tolist(), time_ns.tolist()) == ([state], [0])


@settings(max_examples=300, deadline=None)
@given(
    moments=st.lists(
        st.tuples(
            st.datetimes(datetime(1980, 1, 8), datetime(2099, 12, 30)),  # noqa: DTZ001
            st.integers(0, 9),
            st.sampled_from([None, 0, -570, 120, 840]),
        ),
        max_size=12,
    )
)
def test_many_times_at_once_agree_with_the_standard_library(moments):
    texts, expected = [], []
    for moment, digits, offset in moments:
        second = moment.replace(microsecond=0)
        fraction = f".{moment.microsecond:06d}000"[: digits + 1] if digits else ""
        local = second + timedelta(minutes=offset or 0)
        zone = (
            "Z"
            if offset is None
            else f"{'-' if offset < 0 else '+'}{abs(offset) // 60:02d}:{abs(offset) % 60:02d}"
        )
        texts.append(f"{local:%Y-%m-%dT%H:%M:%S}{fraction}{zone}")
        whole = int(second.replace(tzinfo=UTC).timestamp())
        expected.append(whole * 10**9 + (int(fraction[1:].ljust(9, "0")) if digits else 0))
    time_ns, state = parse_times(texts)
    assert time_ns.tolist() == expected
    assert (state == OK).all()


def test_reading_leaves_the_file_alone(tmp_path):
    path = tmp_path / "round.gpx"
    shutil.copy(WALK, path)
    before = path.read_bytes()
    first, second = read_gpx(path), read_gpx(path)
    assert path.read_bytes() == before
    pd.testing.assert_frame_equal(first.points, second.points)


def test_an_account_that_does_not_add_up_cannot_be_made():
    with pytest.raises(ValueError, match="3 points seen"):
        PointAccount(3, 1, {"no_time": 1})
