"""README and DEVELOPERS hold: commands exist and run, examples are read, nothing in them belongs to one machine."""

import importlib.util
import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.cli import main
from trackgolf.correction_fields import SCHEMA
from trackgolf.corrections import read_corrections
from trackgolf.course import course_from_scorecard, read_course
from trackgolf.plan_file import read_plan

TOP = Path(__file__).parents[1]
README = (TOP / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
CHANGELOG = (TOP / "CHANGELOG.md").read_text(encoding="utf-8")
PAGES = {"README": README, "DEVELOPERS": DEVELOPERS, "CHANGELOG": CHANGELOG}
COMMANDS = main.list_commands(None)


def blocks(text, language):
    """Give the fenced blocks of a language."""
    return re.findall(rf"^ *```{language}\n(.*?)^ *```$", text, flags=re.DOTALL | re.MULTILINE)


def lines(text):
    """Give every command line of the shell blocks."""
    return [line.strip() for block in blocks(text, "sh") for line in block.splitlines() if line.strip()]


def example(heading, language):
    """Give the first block of a language after the paragraph that begins with a file's name."""
    return blocks(README.split(f"\n**`{heading}`**", 1)[1], language)[0]


class TestReadme:
    def test_begins_with_the_job(self):
        title, first, *_ = README.split("\n\n")
        assert title == "# trackgolf"
        assert first.startswith("Plan a round of golf from green to tee")
        assert "GPX track" in first

    def test_then_comes_a_picture_that_is_there_and_small(self):
        path = re.match(r"!\[[^]]+\]\(([^)]+)\)", README.split("\n\n")[2])[1]
        content = (TOP / path).read_bytes()
        # Source: W3C, Portable Network Graphics, 5.2: the signature of every file.
        assert content.startswith(b"\x89PNG\r\n\x1a\n")
        assert len(content) < 200_000

    def test_two_commands_do_all_their_own_set_up(self):
        whole = [line for line in lines(README) if line.startswith("python3 -m venv")]
        assert len(whole) == 2
        assert whole[0].endswith("trackgolf demo")
        assert whole[1].endswith("-m pytest")
        for line in whole:
            assert "-c constraints.txt" in line
            assert " -e " not in line

    @pytest.mark.parametrize("name", COMMANDS)
    def test_every_command_is_named_and_has_help(self, name):
        assert f"trackgolf {name}" in README
        result = CliRunner().invoke(main, [name, "--help"])
        assert result.exit_code == 0
        assert len(result.output.split("Options:")[0].split()) > 15
        # Every option says what it does.
        for option in re.findall(r"^  (?:-\w, )?--.*$", result.output, flags=re.MULTILINE):
            assert len(option.split(None, 1)[1]) > len("TEXT"), option

    def test_the_worked_example_works(self, tmp_path, monkeypatch):
        round_folder = TOP / "demo_tracks" / "nuala" / "may_watch"
        shutil.copy(round_folder / "track.gpx", tmp_path / "round.gpx")
        shutil.copy(round_folder / "card.csv", tmp_path)
        shutil.copy(round_folder.parent / "bag.toml", tmp_path)
        shutil.copy(TOP / "demo_tracks" / "course.geojson", tmp_path)
        monkeypatch.chdir(tmp_path)
        monkeypatch.setenv("TRACKGOLF_LIBRARY", str(tmp_path / "library.sqlite"))
        example_lines = [line for line in lines(README) if line.startswith("trackgolf ")]
        used = [line.split()[1] for line in example_lines]
        assert used[:4] == ["course", "plan", "track", "reconstruct"]
        assert {"import", "rounds", "report", "export", "carries", "approaches", "players"} <= set(used)
        for line in example_lines:
            result = CliRunner().invoke(main, shlex.split(line)[1:])
            assert result.exit_code == 0, (line, result.output)
            assert result.stdout
        for name in ("plan.geojson", "plan.gpx", "plan.html", "my-round/report.html"):
            assert Path(name).is_file()

    def test_other_lines_in_the_text_are_commands_too(self):
        for line in re.findall(r"`trackgolf ([a-z][^`]*)`", README):
            name, *words = shlex.split(line)
            assert name in COMMANDS
            text = CliRunner().invoke(main, [name, "--help"]).output
            for word in words:
                assert not word.startswith("--") or word in text, line


class TestExamples:
    @pytest.fixture
    def bag_path(self, tmp_path):
        path = tmp_path / "bag.toml"
        path.write_text(example("bag.toml", "toml"), encoding="utf-8")
        return path

    @pytest.fixture
    def course_path(self, tmp_path):
        path = tmp_path / "course.geojson"
        path.write_text(example("course.geojson", "json"), encoding="utf-8")
        return path

    def test_bag(self, bag_path):
        bag = read_bag(bag_path)
        assert [club.name for club in bag.clubs] == ["5 wood", "7 iron", "sand wedge"]
        # Derived: 148 yd + 13 yd at 0.9144 m.
        assert bag.clubs[0].distance_m == pytest.approx(161 * 0.9144)
        assert bag.clubs[0].avoid
        assert len(bag.approaches) == len(bag.part_swings) == 1

    def test_card(self, bag_path, tmp_path):
        path = tmp_path / "card.csv"
        path.write_text(example("card.csv", "csv"), encoding="utf-8")
        card = read_card(path, read_bag(bag_path))
        assert card["clubs"].tolist() == [("5 wood", "7 iron", "sand wedge"), ("7 iron", "sand wedge")]
        # Derived: strokes are shots, putts and penalties together.
        shots = card["clubs"].map(len)
        assert (card["strokes"] == shots + card["putts"] + card["penalties"]).all()

    def test_corrections(self, tmp_path):
        path = tmp_path / "corrections.json"
        path.write_text(example("corrections.json", "json"), encoding="utf-8")
        assert len(read_corrections(path).entries) == 6
        # Every kind stands in the table below it.
        table = README.split("\n**`corrections.json`**", 1)[1].split("\n**", 1)[0]
        assert set(SCHEMA) <= set(re.findall(r"`(\w+)`", table))

    def test_scorecard(self, tmp_path):
        path = tmp_path / "scorecard.csv"
        path.write_text(example("scorecard.csv", "csv"), encoding="utf-8")
        course = course_from_scorecard(path)
        assert [hole.par for hole in course.holes] == [4, 3]
        assert course.has_positions

    def test_course_and_plan(self, bag_path, course_path, tmp_path):
        course = read_course(course_path)
        assert course.invented
        assert course.has_positions
        path = tmp_path / "plan.geojson"
        path.write_text(example("plan.geojson", "json"), encoding="utf-8")
        plan = read_plan(path, course, read_bag(bag_path))
        assert plan.shots["club"].tolist() == ["5 wood"]
        # What is written agrees with the line drawn.
        assert plan.notes == ()

    def test_kinds_of_shapes_are_those_the_reader_knows(self, tmp_path):
        text = README.split("**`course.geojson`**", 1)[1].split("\n\n", 1)[0]
        kinds = set(re.findall(r"`([a-z_]+)`", text.split("`golf` may be", 1)[1].split(";")[0]))
        document = json.loads(example("course.geojson", "json"))
        square = document["features"][1]["geometry"]
        document["features"] += [
            {"type": "Feature", "properties": {"golf": kind}, "geometry": square} for kind in sorted(kinds)
        ]
        path = tmp_path / "course.geojson"
        path.write_text(json.dumps(document), encoding="utf-8")
        found = set(read_course(path).shapes["kind"])
        # Source: OpenStreetMap wiki, Key:golf; two names of water hazards are kept as the colours of their stakes.
        renamed = {"water_hazard": "water_yellow", "lateral_water_hazard": "water_red"}
        assert {renamed.get(kind, kind) for kind in kinds} - {"pin"} <= found


class TestDevelopers:
    def test_every_module_that_runs_is_there(self):
        found = [line for line in lines(DEVELOPERS) if " -m tests." in line]
        assert found
        for line in found:
            module = re.search(r"-m (tests[.\w]+)", line)[1]
            spec = importlib.util.find_spec(module)
            assert spec is not None, line
            assert 'if __name__ == "__main__":' in Path(spec.origin).read_text(encoding="utf-8"), line

    def test_every_module_it_names_is_there(self):
        named = set(re.findall(r"`((?:geo|reports|trackgolf|tests)/[\w/.]+)`", DEVELOPERS))
        assert len(named) > 20
        assert {path for path in named if not (TOP / path).exists()} == set()

    @pytest.mark.parametrize("package", ["geo", "reports", "trackgolf", "trackgolf/library", "trackgolf/web"])
    def test_every_module_is_in_its_table(self, package):
        modules = {path.name for path in (TOP / package).glob("*.py") if not path.name.startswith("_")}
        said = set(
            re.findall(r"`(\w+\.py)`", DEVELOPERS.split(f"\n### `{package}/`", 1)[1].split("\n#", 1)[0])
        )
        assert modules == said


@pytest.mark.parametrize("page", PAGES)
class TestEveryPage:
    def test_names_no_machine_and_no_store_of_packages(self, page):
        text = PAGES[page]
        assert not re.search(r"(?<![\w.])/(?:work|tmp|home|root|usr|var|Users)\b", text)
        assert not re.search(r"https?://(?!(?:www\.)?openstreetmap\.org)", text)
        assert not re.search(r"localhost|127\.0\.0\.1|index-url|\bissue #?\d", text, re.IGNORECASE)

    def test_links_to_files_that_are_there(self, page):
        prose = re.sub(r"```.*?```", "", PAGES[page], flags=re.DOTALL)
        for target in re.findall(r"\]\((?!https?:|#)([^)]+)\)", prose):
            assert (TOP / target).exists(), target
