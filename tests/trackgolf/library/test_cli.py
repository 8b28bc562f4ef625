"""The commands on the library, as a person calls them."""

import json
import re

import pytest
from click.testing import CliRunner

from tests.trackgolf.library import invented
from trackgolf.cli import main


@pytest.fixture(autouse=True)
def own_library(tmp_path, monkeypatch):
    monkeypatch.setenv("TRACKGOLF_LIBRARY", str(tmp_path / "own" / "library.sqlite"))


def call(*words, status=0):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == status, result.output
    return result


class TestImport:
    def test_a_folder_and_one_bad_file(self, tmp_path):
        folder = invented.season(tmp_path / "season", 2)
        (folder / "broken.gpx").write_text("not a track")
        result = call("import", folder, "--workers", "1", status=2)
        assert result.stdout.count("Ines Okafor, Invented Links, 3 holes") == 2
        assert "2 rounds imported." in result.stdout
        assert result.stderr.splitlines()[-1].startswith("trackgolf: ")
        assert "broken.gpx" in result.stderr.splitlines()[-1]
        again = call("import", folder / "round_000.gpx")
        assert "the same track is round 1 already" in again.stdout
        assert "0 rounds imported, 1 there already. The library is " in again.stdout
        assert again.stderr == ""

    def test_says_what_it_did_not_add_to_a_round_that_is_there(self, tmp_path):
        folder = invented.season(tmp_path / "season", 1)
        call("import", folder, "--workers", "1")
        card = tmp_path / "late.csv"
        card.write_text("hole,strokes\n1,9\n")
        again = call("import", folder / "round_000.gpx", "--card", card)
        assert "round 1 stays as it was, without --card" in again.stderr
        assert "trackgolf correct 1" in again.stderr

    def test_all_faults_are_listed(self, tmp_path):
        (tmp_path / "a.gpx").write_text("")
        (tmp_path / "bag.toml").write_text(invented.bag())
        result = call(
            "import",
            tmp_path / "a.gpx",
            tmp_path / "b.gpx",
            tmp_path / "none",
            "--bag",
            tmp_path / "bag.toml",
            status=2,
        )
        lines = result.stderr.splitlines()
        assert "trackgolf: 3 tracks were left out." in lines
        for name in ("a.gpx", "b.gpx", "none"):
            assert any(line.startswith("  ") and name in line for line in lines)

    def test_what_is_named_and_cannot_be_read_is_told_before_anything(self, tmp_path):
        folder = invented.season(tmp_path / "season", 1)
        (folder / "bag.toml").write_text("units = yards")
        result = call("import", folder / "round_000.gpx", "--bag", folder / "bag.toml", status=2)
        assert "bag.toml" in result.stderr
        assert not (tmp_path / "own").exists()


class TestRounds:
    def test_local_time_of_the_course(self, tmp_path):
        call("import", invented.season(tmp_path / "season", 1))
        (start,) = re.findall(r"2026-05-03  (\d\d:\d\d)", call("rounds").stdout)
        listed = json.loads(call("rounds", "--json").stdout)
        assert [row["round"] for row in listed] == [1]
        # Source: IANA tz database, Etc/GMT+2 is two hours behind UTC; the sea at 31 degrees west has that zone.
        assert listed[0]["time_zone"] == "Etc/GMT+2"
        assert int(listed[0]["start_time"][11:13]) - int(start[:2]) == 2
        assert call("rounds", "--since", "2026-05-04").stdout == "No rounds.\n"

    def test_without_a_library(self):
        result = call("rounds", status=2)
        assert "there is no library yet" in result.stderr
        assert result.stderr.count("\n") == 1

    def test_an_earlier_method_is_marked(self, tmp_path, monkeypatch):
        call("import", invented.season(tmp_path / "season", 1))
        assert "*" not in call("rounds").stdout
        monkeypatch.setattr("trackgolf.library.lists.method_version", lambda: "2-later")
        assert "1*" in call("rounds").stdout


class TestReport:
    def test_writes_the_files_of_a_round(self, tmp_path):
        call("import", invented.season(tmp_path / "season", 1))
        result = call("report", 1, "--out", tmp_path / "out")
        assert "7 shots on 3 holes." in result.stdout
        assert {path.name for path in (tmp_path / "out").iterdir()} == {
            "comparison.csv", "holes.csv", "report.html", "shots.geojson",
        }  # fmt: skip

    def test_a_round_that_is_not_there(self, tmp_path):
        call("import", invented.season(tmp_path / "season", 1))
        result = call("report", 7, "--out", tmp_path / "out", status=2)
        assert "the library has no round 7" in result.stderr
