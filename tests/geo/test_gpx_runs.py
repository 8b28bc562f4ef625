"""Runs of plain points cut out before the parser: never another result than the parser's own."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geo._gpx_runs import RUN, cut_runs
from geo._gpx_scan import _scan_whole, scan_gpx
from geo.errors import InputError
from tests.geo.gpx_texts import GPX11, invented_gpx, invented_point

PLAIN = [invented_point(number, inner="<ele>3.5</ele>") for number in range(3)]
PULSE = "<extensions><x:one>\n<x:hr>120</x:hr><x:cad>7</x:cad></x:one><note>ok</note></extensions>"
AS_WATCHES_WRITE = [
    *PLAIN,
    invented_point(3),
    invented_point(4, time=None),
    invented_point(5).replace("</trkpt>", f"{PULSE}</trkpt>\n"),
    invented_point(6).replace("</trkpt>", "<sat>9</sat><hdop>1.2</hdop><vdop>2</vdop></trkpt>\n  "),
]
ODD = [
    invented_point(7).replace("<time>", "<time> "),
    invented_point(8).replace("<trkpt", "<g:trkpt").replace("</trkpt", "</g:trkpt"),
    invented_point(9).replace("</time>", "</time><!-- here -->"),
    invented_point(10).replace("</trkpt>", f"<extensions>{PLAIN[0]}</extensions></trkpt>"),
    invented_point(11).replace("</trkpt>", ""),
    invented_point(12).replace("<time>", "<time>&#50;"),
    invented_point(13, lat=""),
    invented_point(14).replace("</trkpt>", "<fix>none</fix><name>é\u202e</name></trkpt>"),
    f"<!-- {PLAIN[0]} -->",
    f"<![CDATA[{PLAIN[1]}]]>",
    f"<?p {PLAIN[1]} ?>",
    f'<a b="{PLAIN[0]}"/>',
    f"<name>{PLAIN[0]}</name>",
    f"<extensions>{PLAIN[0]}</extensions>",
    f"<wpt lat='1' lon='2'>{PLAIN[2]}</wpt>",
    "</trkseg><trkseg>",
    "</trk></gpx>",
    "\f",
    "\x0b",
    "]]>",
    "é",
    f"<{RUN}/>",
    "<trkpt/>",
    "<trkpt",
    "&",
]


def either(scan, data):
    try:
        return scan(data, "here")
    except InputError as error:
        return str(error)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.sampled_from(AS_WATCHES_WRITE * 3 + ODD), max_size=8),
    st.sampled_from([None, None, None, "cut", "bare"]),
    st.data(),
)
def test_is_what_the_parser_finds(parts, kind, data):
    text = "".join(parts) if kind == "bare" else invented_gpx(*parts)
    if kind == "cut":
        text = text[: data.draw(st.integers(0, len(text)))]
    content = text.encode()
    assert either(scan_gpx, content) == either(_scan_whole, content)


@pytest.mark.parametrize("point", AS_WATCHES_WRITE)
def test_points_as_watches_write_them_are_cut(point):
    rest, runs = cut_runs(invented_gpx(point, *PLAIN, "</trkseg><trkseg>", point).encode())
    assert [len(run.lats) for run in runs] == [4, 1]
    assert b"<trkpt" not in rest


@pytest.mark.parametrize("point", ODD[:8])
def test_other_points_are_left_to_the_parser(point):
    cut = cut_runs(invented_gpx(PLAIN[0], point, PLAIN[1]).encode())
    assert cut is not None
    assert b"trkpt" in cut[0]


def test_a_file_of_other_points_is_not_searched():
    assert cut_runs(invented_gpx(ODD[0], *PLAIN).encode()) is None


def test_a_file_with_our_own_mark_in_it():
    assert cut_runs(invented_gpx(*PLAIN, f"<{RUN}/>").encode()) is None


def test_nothing_is_lost_of_the_rest():
    whole = invented_gpx(*PLAIN, head="<metadata><name>Šumava 山 \U0001f3cc</name></metadata>", root=GPX11)
    rest, _ = cut_runs(whole.encode())
    assert rest.decode() == whole.replace("".join(PLAIN), f"<{RUN}/>")


def test_a_pattern_that_nearly_matches_takes_no_time():
    """Many values in extensions that never end are read once, not once for each way to part them."""
    nearly = invented_point(0).replace("</trkpt>", "<extensions><a>" + "<b>1</b>" * 50_000)
    rest, runs = cut_runs(invented_gpx(PLAIN[0], nearly, PLAIN[1]).encode())
    assert len(runs) == 2
    assert b"<b>" in rest
