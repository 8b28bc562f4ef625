"""What was decided and why: the same numbers as the result, said once, and only when asked for."""

import logging
import re
from dataclasses import replace

import pytest
from click.testing import CliRunner

from tests.shapes import tiny_bag, track_of, trail_through
from tests.trackgolf.library import invented
from tests.trackgolf.test_explain import COURSE, PLACES
from trackgolf.cli import main
from trackgolf.cli.progress import Progress
from trackgolf.decisions import log_decisions, round_decisions
from trackgolf.reconstruct import reconstruct


@pytest.fixture(scope="module")
def played():
    trail, _ = trail_through(*PLACES)
    return reconstruct(track_of(trail), COURSE, tiny_bag())


@pytest.fixture
def files(tmp_path):
    """A round of three holes as files, with plan and card."""
    (tmp_path / "bag.toml").write_text(invented.bag())
    (tmp_path / "course.geojson").write_text(invented.course())
    (tmp_path / "card.csv").write_text(invented.CARD)
    (tmp_path / "round.gpx").write_text(invented.track())
    return tmp_path


def run(*words):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 0, result.output
    return result


def whys(result):
    return [line.removeprefix("why: ") for line in result.stderr.splitlines() if line.startswith("why: ")]


class TestRound:
    def test_stops_and_shots_add_up(self, played):
        told = re.match(
            r"(\d+) stops weighed: (\d+) taken for shots, (\d+) for greens", round_decisions(played)[0]
        )
        left = len(played.stands) - len(played.shots)
        assert tuple(map(int, told.groups())) == (len(played.stands), len(played.shots), left)

    def test_every_hole_once_with_its_shots(self, played):
        lines = [line for line in round_decisions(played) if line.startswith("hole ")]
        assert [int(line.split()[1].rstrip(":")) for line in lines] == played.holes["hole"].tolist()
        for line, (_, row) in zip(lines, played.holes.iterrows(), strict=True):
            mine = played.shots[played.shots["visit"] == row["visit"]]
            kept = re.search(r"kept \((.*) sure\)", line)[1]
            assert [int(share[:-1]) for share in kept.split(", ")] == [
                round(100 * p) for p in mine["confidence"]
            ]
            assert f"{row['strokes']} strokes by the track alone" in line

    def test_the_order_and_what_is_missing(self, played):
        assert round_decisions(played)[1] == "3 holes played in this order: 1 to 3"
        back = replace(played, holes=played.holes.iloc[[2, 0]])
        assert round_decisions(back)[1].endswith("3, then 1; not found in the track: 2")

    def test_a_card_that_says_otherwise(self, played):
        holes = played.holes.assign(card_strokes=played.holes["strokes"] + 1)
        line = round_decisions(replace(played, holes=holes))[2]
        assert "; the card says" in line

    def test_in_full_it_is_the_explanation(self, played, caplog):
        with caplog.at_level(logging.DEBUG, logger="trackgolf"):
            log_decisions(played)
        assert any(
            "stood" in record.getMessage() for record in caplog.records if record.levelno == logging.DEBUG
        )

    def test_nothing_is_made_where_nobody_listens(self, played, monkeypatch):
        monkeypatch.setattr("trackgolf.decisions.round_decisions", lambda _: pytest.fail("nobody asked"))
        log_decisions(played)


class TestCommands:
    def test_reconstruct(self, files):
        words = [
            "reconstruct",
            files / "round.gpx",
            "--course",
            files / "course.geojson",
            "--bag",
            files / "bag.toml",
        ]
        words += ["--card", files / "card.csv", "--out", files / "out"]
        plain, told = run(*words), run(*words, "-v")
        assert not whys(plain)
        assert told.stdout == plain.stdout
        lines = "\n".join(whys(told))
        for said in (
            "round.gpx:",
            "points:",
            "marks:",
            "weighed",
            "played in this order: 1 to 3",
            "by the card",
            "clubs of",
        ):
            assert said in lines
        assert len(whys(run(*words, "-vv"))) > len(whys(told))

    def test_it_is_over_with_the_command(self, files):
        run("track", files / "round.gpx", "-v")
        assert not whys(run("track", files / "round.gpx"))
        assert not logging.getLogger("geo").handlers

    def test_track(self, files):
        (line, *_) = whys(run("track", files / "round.gpx", "-v", "--json"))
        assert re.fullmatch(
            r"round\.gpx: (\d+) points seen, \1 usable; 1 recording, with a point every 1 s as a rule", line
        )

    def test_two_devices(self, files):
        other = re.sub(
            r"<trkpt[^>]*>(?:(?!</trkpt>).)*</trkpt>\s*(<trkpt)", r"\1", invented.track(), flags=re.DOTALL
        )
        (files / "other.gpx").write_text(other)
        lines = whys(run("track", files / "round.gpx", files / "other.gpx", "-v"))
        assert any(
            "the one with most points a second counts" in line and "of other.gpx" in line for line in lines
        )

    def test_course(self, files):
        lines = whys(run("course", files / "course.geojson", "-v"))
        assert lines[0].startswith("map: 3 lines of holes")
        assert [line for line in lines if line.startswith("hole 2: line of 150 m")]

    def test_plan(self, files):
        lines = whys(
            run(
                "plan",
                "--course",
                files / "course.geojson",
                "--bag",
                files / "bag.toml",
                "--grid",
                "10",
                "-v",
            )
        )
        assert lines[-3].startswith("hole 1: ")
        assert any(line.startswith("personal par: the playing handicap 18") for line in lines)

    def test_import(self, files):
        words = [
            "import",
            files / "round.gpx",
            "--course",
            files / "course.geojson",
            "--bag",
            files / "bag.toml",
        ]
        lines = whys(run(*words, "--library", files / "l.sqlite", "--workers", "2", "-v"))
        assert any(
            "course 'Invented Links', as named; bag of Ines Okafor; plan none; card none" in line
            for line in lines
        )
        assert any("played in this order" in line for line in lines)


class TestProgress:
    def watched(self, monkeypatch):
        told = []
        monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
        monkeypatch.setattr("trackgolf.cli.progress.click.echo", lambda text, **_: told.append(text))
        return told

    def test_counts_where_somebody_watches_and_goes_away(self, monkeypatch):
        told = self.watched(monkeypatch)
        with Progress("planning holes", patience_s=0.0) as progress:
            progress.count(18, 18)
        assert told[-2:] == ["\r\x1b[Kplanning holes: 18 of 18 ...", "\r\x1b[K"]

    def test_nothing_of_what_is_soon_over(self, monkeypatch):
        told = self.watched(monkeypatch)
        with Progress("planning holes") as progress:
            progress.count(18, 18)
        assert told == []

    def test_nothing_where_nobody_watches(self, monkeypatch):
        told = self.watched(monkeypatch)
        monkeypatch.setattr("sys.stderr.isatty", lambda: False, raising=False)
        with Progress("planning holes", patience_s=0.0) as progress:
            progress.count(1, 18)
        assert told == []
