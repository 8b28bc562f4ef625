import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.geo.gpx_texts import invented_gpx, invented_point
from trackgolf.cli import main

TOP = Path(__file__).parents[2]
WALK = TOP / "demo_tracks" / "walk.gpx"
DATA = TOP / "tests" / "data" / "gpxpy"

KEYS = {
    "points_seen",
    "points_kept",
    "dropped",
    "first_time",
    "last_time",
    "gaps",
    "length_m",
    "stops",
    "marks",
    "warnings",
}


def run(*arguments):
    return CliRunner().invoke(main, ["track", *map(str, arguments)], prog_name="trackgolf")


def as_json(*arguments):
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_the_real_walk_for_machines():
    found = as_json(WALK)
    assert set(found) == KEYS
    # Source: gpxpy 1.6.2 test_files/cerknicko-jezero.gpx, second track: 173 points from 14:23:59 in 2 469 s, 7 waypoints;
    # geodesic length 1 913.756 m computed with pyproj 3.7.2.
    assert (found["points_seen"], found["points_kept"], found["dropped"]) == (173, 173, {})
    assert (found["first_time"], found["last_time"]) == ("2010-08-05T14:23:59Z", "2010-08-05T15:05:08Z")
    assert found["length_m"] == pytest.approx(1913.756, abs=0.01)
    assert len(found["marks"]) == 7
    assert found["marks"][1]["time"] is None
    assert found["stops"]
    for stop in found["stops"]:
        assert set(stop) == {"start_time", "dwell_s", "lon", "lat", "sigma_m"}
        assert found["first_time"] <= stop["start_time"] <= found["last_time"]
        assert 14.35 < stop["lon"] < 14.36
        assert 45.76 < stop["lat"] < 45.78
    assert set(found["gaps"][0]) == {"start_time", "end_time", "duration_s", "moved_m"}


def test_the_real_walk_for_people():
    lines = run(WALK).stdout.splitlines()
    stops = len(as_json(WALK)["stops"])
    # Derived: 14:23:59 UTC on 5 August is 16:23:59 in central European summer time (UTC+2).
    assert lines == [
        "Points   173 seen, 173 kept",
        "First    2010-08-05 16:23:59 (Europe/Ljubljana)",
        "Last     2010-08-05 17:05:08, 41 min 9 s later",
        "Length   1914 m",
        "Gaps     11, the longest 3 min 16 s; 163 m of the length lie in them",
        f"Stops    {stops}",
        "Marks    7: 001, BACK T TH, BIRDS NEST, FAGGIO, RAKOV12, RAKV SKCJN, VANSHNG LK",
    ]


def test_several_files_are_one_round():
    found = as_json(WALK, WALK)
    assert (found["points_seen"], found["points_kept"]) == (346, 173)
    assert found["dropped"] == {"second_recording": 173}
    assert len(found["marks"]) == 7


def test_warnings_go_to_standard_error_and_into_the_result():
    result = run(DATA / "korita-zbevnica.gpx", "--json")
    found = json.loads(result.stdout)
    assert found["dropped"] == {"no_time": 358}
    assert found["points_seen"] == found["points_kept"] + 358
    assert len(found["warnings"]) == 1
    assert result.stderr.count("\n") == 1
    assert found["warnings"][0] in result.stderr
    assert "Dropped  358 no time" in run(DATA / "korita-zbevnica.gpx").stdout


def test_times_that_are_no_whole_seconds(tmp_path):
    path = tmp_path / "round.gpx"
    path.write_text(invented_gpx(invented_point(0, time="2026-05-03T08:00:00.25Z"), invented_point(1)))
    found = as_json(path)
    assert (found["first_time"], found["last_time"]) == ("2026-05-03T08:00:00.250Z", "2026-05-03T08:00:01Z")


def test_one_point_is_a_track(tmp_path):
    path = tmp_path / "round.gpx"
    path.write_text(invented_gpx(invented_point(0)))
    found = as_json(path)
    assert (found["length_m"], found["gaps"], found["stops"], found["marks"]) == (0.0, [], [], [])
    assert "Gaps     none" in run(path).stdout
    # Derived: 31 degrees west is in the sea two hours behind UTC; the zone's own name there is Etc/GMT+2.
    assert "(UTC-02:00)" in run(path).stdout


def test_names_of_a_file_cannot_steer_the_terminal(tmp_path):
    path = tmp_path / "round.gpx"
    name = "a\u202eb\x9b31m&lt;b&gt;"
    mark = f'<wpt lat="47" lon="-31"><name>{name}</name></wpt>'
    path.write_text(invented_gpx(invented_point(0), marks=mark), encoding="utf-8")
    assert "Marks    1: a b 31m<b>" in run(path).stdout


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("none.gpx", None, "no such file"),
        ("folder.gpx", "folder", "this is a folder"),
        ("empty.gpx", b"", "the file is empty"),
        ("page.gpx", b"<!DOCTYPE html><html></html>", "web page (HTML)"),
        ("earth.gpx", b"<kml/>", "a KML file"),
        (
            "timeless.gpx",
            invented_gpx(invented_point(time=None)).encode(),
            "no point has a time. Record with times on",
        ),
    ],
)
def test_what_cannot_be_read_is_one_line_and_exit_status_2(tmp_path, name, content, said):
    path = tmp_path / name
    if content == "folder":
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    for options in ([], ["--json"]):
        result = run(path, *options)
        assert result.exit_code == 2
        assert result.stdout == ""
        assert result.stderr.count("\n") == 1
        assert said in result.stderr
        assert name in result.stderr


def test_no_file_named_is_a_wrong_call():
    assert run().exit_code == 2


@pytest.mark.parametrize(
    "command", [[sys.executable, "-m", "trackgolf"], [str(Path(sys.executable).with_name("trackgolf"))]]
)
def test_it_runs_as_a_program(command):
    result = subprocess.run(
        [*command, "track", str(WALK), "--json"], capture_output=True, text=True, check=False
    )
    assert (result.returncode, result.stderr) == (0, "")
    assert json.loads(result.stdout)["points_kept"] == 173
