"""``trackgolf course``: a row a hole, warnings aside, one line for what cannot be used."""

import json

import pytest
from click.testing import CliRunner

from tests.trackgolf.invented_course import (
    INDEXES,
    PARS,
    find,
    geojson,
    invented_features,
    lengths_m,
    osm_xml,
)
from trackgolf.cli import main


@pytest.fixture
def run():
    def _run(*arguments):
        return CliRunner().invoke(main, ["course", *(str(argument) for argument in arguments)])

    return _run


@pytest.fixture
def invented_map(tmp_path):
    path = tmp_path / "invented.geojson"
    path.write_text(json.dumps(geojson(invented_features())))
    return path


@pytest.fixture
def invented_card(tmp_path):
    path = tmp_path / "invented.csv"
    rows = [f"{n + 1},{PARS[n]},{INDEXES[n]},{lengths_m()[n]}" for n in range(18)]
    path.write_text("\n".join(["hole,par,stroke_index,length_m", *rows]))
    return path


class TestTable:
    def test_a_row_a_hole(self, run, invented_map):
        result = run(invented_map, "--check")
        assert result.exit_code == 0
        assert result.stderr == ""
        lines = result.stdout.splitlines()
        assert lines[0] == "Invented Links (invented)"
        # Derived: 10 x 350 + 4 x 150 + 4 x 480 m; 6020 / 0.9144 = 6584 yd.
        assert lines[1] == "18 holes, par 72, 6020 m (6584 yd)"
        assert lines[2] == "Tees: white, red (lengths begin where the hole lines do; choose a tee with --tee)"
        # Derived: 350 m are 383 yd; the green is a circle of 12 m as 64 chords, 452 m2.
        assert lines[4].split() == ["1", "4", "7", "350", "383", "452", "1", "0", "yes"]
        assert len(lines) == 4 + 18 + 3
        assert lines[-1] == "Enough to rebuild a round from its track: yes"

    def test_lengths_from_a_tee(self, run, invented_map):
        # Derived: red tees stand 40 m further on: 6020 - 18 x 40.
        lines = run(invented_map, "--tee", "red").stdout.splitlines()
        assert lines[1:3] == ["18 holes, par 72, 5300 m (5796 yd) from red tees", "Tees: white, red"]

    def test_without_check_no_verdict(self, run, invented_map):
        assert "Enough" not in run(invented_map).stdout

    def test_warnings_go_to_standard_error_and_into_the_row(self, run, tmp_path):
        features = invented_features()
        del find(features, ref=2)[0]["par"]
        path = tmp_path / "invented.osm"
        path.write_text(osm_xml(features))
        result = run(path)
        assert result.exit_code == 0
        note = "par is missing: taken as 4 by its length (Rules of Handicapping, Appendix F)"
        assert result.stderr == f"note: hole 2: {note}\n"
        row = next(line for line in result.stdout.splitlines() if line.startswith("   2 "))
        assert row.endswith(note)
        assert "© OpenStreetMap contributors, ODbL 1.0, openstreetmap.org/copyright" in result.stdout

    def test_a_scorecard_alone(self, run, invented_card):
        result = run(invented_card, "--check")
        assert result.exit_code == 0
        lines = result.stdout.splitlines()
        assert lines[3].split() == ["1", "4", "7", "350", "383", "-", "0", "-", "-"]
        assert lines[-3:] == [
            "Enough to plan with handicap strokes: yes",
            "Enough to plan on the map: no: no hole has a position",
            "Enough to rebuild a round from its track: no: no hole has a position",
        ]

    def test_map_and_scorecard(self, run, tmp_path, invented_card):
        features = invented_features()
        for tags, _ in find(features):
            del tags["handicap"], tags["par"]
        path = tmp_path / "bare.geojson"
        path.write_text(json.dumps(geojson(features)))
        result = run(path, "--scorecard", invented_card)
        assert result.exit_code == 0
        assert result.stderr == ""
        assert "par 72" in result.stdout


class TestJson:
    def test_for_machines(self, run, invented_map):
        result = run(invented_map, "--json", "--check")
        document = json.loads(result.stdout)
        assert [hole["par"] for hole in document["holes"]] == list(PARS)
        assert [hole["stroke_index"] for hole in document["holes"]] == list(INDEXES)
        assert document["holes"][0]["length_m"] == pytest.approx(350.0, abs=0.01)
        assert document["has_positions"] is True
        assert document["lacks"] == {"plan": [], "map": [], "rebuild": []}
        assert document["tees"] == ["white", "red"]
        # Machine-readable lengths are metres only.
        assert "length_yd" not in document["holes"][0]

    def test_unknown_is_null(self, run, tmp_path):
        path = tmp_path / "invented.csv"
        path.write_text("hole,par,length_m\n1,4,350\n2,3,150\n")
        hole = json.loads(run(path, "--json").stdout)["holes"][0]
        assert (hole["stroke_index"], hole["green_m2"], hole["water"]) == (None, None, None)


class TestRefused:
    @pytest.mark.parametrize(
        ("content", "complaint"),
        [
            (b"", "the file is empty"),
            (b"<!doctype html><html>", "web page"),
            (b"<gpx/>", "GPX track"),
            (b"{", "damaged"),
            (b"{}", "not a map"),
            (b'{"type":"FeatureCollection","features":[]}', "nothing of a course"),
            (b"hole,par,stroke_index\n1,4,1\n2,4,1\n", "line 3: stroke index 1 is on line 2 already"),
        ],
    )
    def test_in_one_line_with_status_2(self, run, tmp_path, content, complaint):
        path = tmp_path / "course.file"
        path.write_bytes(content)
        result = run(path)
        assert result.exit_code == 2
        assert result.stdout == ""
        assert complaint in result.stderr
        assert result.stderr.count("\n") == 1
        assert "Traceback" not in result.stderr

    def test_a_missing_file_a_folder_a_wrong_tee(self, run, tmp_path, invented_map):
        for arguments, complaint in (
            ((tmp_path / "none",), "no such file"),
            ((tmp_path,), "folder"),
            ((invented_map, "--tee", "blue"), "Known are white, red"),
            ((invented_map, "--scorecard", tmp_path / "none.csv"), "no such file"),
        ):
            result = run(*arguments)
            assert result.exit_code == 2
            assert complaint in result.stderr

    def test_several_faults_one_indented_line_each(self, run, tmp_path):
        features = invented_features()
        find(features, ref=5)[0]["handicap"] = "7"
        find(features, ref=6)[0]["handicap"] = "40"
        path = tmp_path / "invented.geojson"
        path.write_text(json.dumps(geojson(features)))
        result = run(path)
        assert result.exit_code == 2
        head, *faults = result.stderr.splitlines()
        assert "2 faults" in head
        assert all(fault.startswith("  ") for fault in faults)

    def test_no_control_character_reaches_the_terminal(self, run, tmp_path):
        features = invented_features()
        features[0][0]["name"] = "Links\x1b[31m\x07"
        features.append(({"golf": "x\x1b[2Jyz"}, features[0][1]))
        path = tmp_path / "invented.geojson"
        path.write_text(json.dumps(geojson(features)))
        result = run(path)
        assert result.exit_code == 0
        assert "\x1b" not in result.output
        assert "\x07" not in result.output
