"""The demo from end to end, as a new user runs it."""

import csv
import json
import re
from urllib.parse import unquote

import pytest
from click.testing import CliRunner

import trackgolf.cli.demo
from reports.offline import outside_requests
from trackgolf.cli import main


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    out = tmp_path_factory.mktemp("demo") / "here"
    result = CliRunner().invoke(main, ["demo", "--out", str(out)])
    assert result.exit_code == 0, result.output
    return out, result.stdout


@pytest.fixture(scope="module")
def rounds():
    with trackgolf.cli.demo._demo_data() as data, (data / "rounds.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_says_that_all_is_invented_and_what_to_open(made):
    out, said = made
    assert "invented" in said
    assert str(out / "index.html") in said


def test_every_round_has_its_files(made, rounds):
    out, said = made
    assert len(rounds) >= 4
    assert len({row["player"] for row in rounds}) >= 2
    for row in rounds:
        folder = out / f"{row['player']}-{row['round']}"
        names = {path.name for path in folder.iterdir()}
        assert names == {"shots.geojson", "holes.csv", "comparison.csv", "report.html"}
        assert str(folder / "report.html") in said
        assert outside_requests((folder / "report.html").read_text(encoding="utf-8")) == []


def test_the_list_leads_to_every_page_there_is(made):
    out, _ = made
    index = (out / "index.html").read_text(encoding="utf-8")
    linked = {out / unquote(path) for path in re.findall(r'<li><a href="([^"]+)"', index)}
    assert linked == set(out.glob("*/*.html"))
    assert outside_requests(index) == []


def test_rounds_come_out_whole(made, rounds):
    out, _ = made
    for row in rounds:
        folder = out / f"{row['player']}-{row['round']}"
        with (folder / "holes.csv").open(encoding="utf-8", newline="") as file:
            holes = list(csv.DictReader(file))
        shots = json.loads((folder / "shots.geojson").read_text(encoding="utf-8"))["features"]
        # Derived: a round has as many holes as its description says, "holes 10 to 18" being nine.
        assert len(holes) == (18 if row["what"].startswith("18 holes") else 9)
        counted = sum(int(hole["shots"]) for hole in holes)
        # Strokes without a stop in the track are counted and not drawn.
        assert 0.9 * counted <= len(shots) <= counted
        assert all(shot["properties"]["invented"] == "yes" for shot in shots)


def test_needs_no_folder_named(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trackgolf-demo").write_text("in the way")
    result = CliRunner().invoke(main, ["demo"])
    assert result.exit_code == 2
    # One line that says what, where and what to do.
    assert re.fullmatch(r"trackgolf: trackgolf-demo/\S+: .*cannot be written.*\n", result.stderr)
