"""``trackgolf plan``, from files to files."""

import json

import pytest
from click.testing import CliRunner

from geo.units import YARD_M
from tests.trackgolf.invented_course import geojson, invented_features
from tests.trackgolf.invented_holes import across, ground_hole, invented_course
from trackgolf.bag import read_bag
from trackgolf.cli import main
from trackgolf.course import read_course
from trackgolf.course_write import write_course
from trackgolf.plan_file import read_plan

INVENTED_BAG = """\
# invented
units = "yd"

[player]
name = "Ines {{7*7}} Okafor"
target_score = 19

[[club]]
name = "5 wood"
carry = 148
roll = 12

[[club]]
name = "8 iron"
carry = 123
roll = 7

[[club]]
name = "gap wedge"
carry = 95
roll = 1

[[approach]]
club = "gap wedge"
distance = 96
"""
INVENTED_SCORECARD = "hole,par,stroke_index,length_yd\n1,4,1,382\n2,4,3,395\n3,3,2,140\n"


@pytest.fixture
def folder(tmp_path):
    holes = [
        ground_hole([(0, 0), (0, 382)], number=1, index=1),
        ground_hole([(90, 400), (120, 200), (90, 10)], number=2, index=3),
        ground_hole([(180, 0), (180, 140)], number=3, par=3, index=2),
    ]
    write_course(tmp_path / "course.geojson", invented_course(holes, [("water_red", across(150, 158))]))
    (tmp_path / "bag.toml").write_text(INVENTED_BAG, encoding="utf-8")
    (tmp_path / "scorecard.csv").write_text(INVENTED_SCORECARD, encoding="utf-8")
    return tmp_path


@pytest.fixture
def run(folder, monkeypatch):
    monkeypatch.chdir(folder)

    def invoke(*arguments):
        # A coarse grid: what is tested here does not depend on it.
        return CliRunner().invoke(main, ["plan", "--grid", "15", *arguments])

    return invoke


def refused(result, folder):
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    assert {entry.name for entry in folder.iterdir()} == {"course.geojson", "bag.toml", "scorecard.csv"}
    return result.stderr


def test_a_course_becomes_a_plan_that_reads_back(run, folder):
    result = run("--course", "course.geojson", "--bag", "bag.toml", "--out", "plan.geojson")
    assert result.exit_code == 0, result.output
    course, bag = read_course("course.geojson"), read_bag("bag.toml")
    plan = read_plan("plan.geojson", course, bag)
    assert plan.shots["hole"].unique().tolist() == [1, 2, 3]
    assert plan.name == "on plan"
    assert "personal par" in result.stdout
    assert "safe to play" in result.stdout
    assert "Rule 4.3a" in result.stdout
    assert "filled in from general experience" in result.stderr


def test_several_tees_and_none_named_are_said(run, folder):
    (folder / "tees.geojson").write_text(json.dumps(geojson(invented_features())))
    (folder / "bag.toml").write_text(INVENTED_BAG.replace("target_score = 19", "target_score = 100"))
    result = run("--course", "tees.geojson", "--bag", "bag.toml", "--grid", "40")
    assert result.exit_code == 0, result.output
    assert (
        "note: no tee was named, so shots begin where the hole lines do; choose one of white, red"
        in result.stderr
    )
    assert (
        "no tee"
        not in run("--course", "tees.geojson", "--bag", "bag.toml", "--tee", "red", "--grid", "40").stderr
    )


def test_a_scorecard_alone_gives_a_table(run):
    result = run("--scorecard", "scorecard.csv", "--bag", "bag.toml")
    assert result.exit_code == 0, result.output
    first = next(line for line in result.stdout.splitlines() if line.lstrip().startswith("1 "))
    assert first.endswith("gap wedge 96") or "5 wood" in first
    assert "rule of thumb" in result.stdout
    assert "lengths alone" in result.stdout
    assert "Ines {{7*7}} Okafor" in result.stdout


def test_json_for_machines(run):
    result = run("--course", "course.geojson", "--bag", "bag.toml", "--json")
    assert result.exit_code == 0, result.output
    said = json.loads(result.stdout)
    assert [hole["hole"] for hole in said["holes"]] == [1, 2, 3]
    assert sum(hole["personal_par"] for hole in said["holes"]) == 19
    for hole in said["holes"]:
        # Source: PGA TOUR statistic definition: on the green in par - 2; here personal par, never below 1.
        assert hole["regulation_shots"] == max(1, hole["personal_par"] - 2)
        assert [plan["name"] for plan in hole["plans"]] == ["on plan", "fewest strokes", "rule of thumb"]
        for plan in hole["plans"]:
            assert 2.0 < plan["expected_strokes"] < 12.0
            assert 0.0 <= plan["regulation_probability"] <= 1.0
        plan = hole["plans"][2]
        assert plan["shots"][-1]["role"] == "approach"
        assert plan["shots"][0]["geometry"]["type"] == "LineString"
        total_yd = sum(shot["distance_m"] for shot in plan["shots"]) / YARD_M
        assert total_yd == pytest.approx(hole["length_m"] / YARD_M, abs=6)


def test_all_files_at_once(run, folder):
    result = run(
        "--course", "course.geojson", "--bag", "bag.toml", "--out", "o/plan.geojson", "--gpx", "o/p.gpx", "--html",
        "o/p.html",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    plans = ["plan-fewest-strokes.geojson", "plan-rule-of-thumb.geojson", "plan.geojson"]
    assert sorted(entry.name for entry in (folder / "o").iterdir()) == ["p.gpx", "p.html", *plans]
    page = (folder / "o" / "p.html").read_text(encoding="utf-8")
    assert "Ines {{7*7}} Okafor" in page
    assert "4.3a" in page
    assert "<name>1-1 tee " in (folder / "o" / "p.gpx").read_text(encoding="utf-8")


def test_html_of_a_scorecard(run, folder):
    result = run(
        "--scorecard", "scorecard.csv", "--bag", "bag.toml", "--html", "p.html", "--out", "plan.geojson"
    )
    assert result.exit_code == 0, result.output
    assert "gap wedge" in (folder / "p.html").read_text(encoding="utf-8")


def test_the_same_files_twice(run, folder):
    arguments = (
        "--course",
        "course.geojson",
        "--bag",
        "bag.toml",
        "--out",
        "plan.geojson",
        "--html",
        "p.html",
    )
    run(*arguments)
    first = [(folder / name).read_bytes() for name in ("plan.geojson", "p.html")]
    run(*arguments)
    assert [(folder / name).read_bytes() for name in ("plan.geojson", "p.html")] == first


def test_a_changed_plan_is_planned_around(run, folder):
    run("--course", "course.geojson", "--bag", "bag.toml", "--out", "plan.geojson")
    document = json.loads((folder / "plan.geojson").read_text(encoding="utf-8"))
    document["features"][0]["properties"]["club"] = "gap wedge"
    (folder / "plan.geojson").write_text(json.dumps(document), encoding="utf-8")
    result = run(
        "--course", "course.geojson", "--bag", "bag.toml", "--from", "plan.geojson", "--out", "plan.geojson", "--pin",
        "3:back", "--missed-price", "1",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert "note: Hole 1: kept as you have it: shot 1 gap wedge" in result.stderr
    assert "Prices, in strokes: 1 for a green missed" in result.stdout
    made = json.loads((folder / "plan.geojson").read_text(encoding="utf-8"))
    assert made["features"][0]["properties"]["club"] == "gap wedge"


class TestRefused:
    def test_a_price_out_of_reason(self, run, folder):
        said = refused(run("--course", "course.geojson", "--bag", "bag.toml", "--high-price", "99"), folder)
        assert "the price of a score above personal par + 1 is 99. A price is from 0 to 10 strokes" in said

    def test_no_course(self, run, folder):
        assert "--course" in refused(run("--bag", "bag.toml"), folder)

    def test_a_tee_of_a_scorecard(self, run, folder):
        said = refused(run("--scorecard", "scorecard.csv", "--bag", "bag.toml", "--tee", "red"), folder)
        assert said == (
            "trackgolf: scorecard.csv: there is no tee 'red'. A scorecard has no tees: leave --tee out.\n"
        )

    def test_no_bag(self, run, folder):
        assert "--bag" in refused(run("--course", "course.geojson"), folder)

    def test_faults_of_the_bag(self, run, folder):
        bag = INVENTED_BAG.replace("carry = 95", "carry = 950").replace("target_score = 19", "")
        (folder / "bag.toml").write_text(bag)
        text = refused(
            run("--course", "course.geojson", "--bag", "bag.toml", "--out", "plan.geojson"), folder
        )
        assert "bag.toml: club 3 ('gap wedge')" in text or "2 faults" in text

    def test_no_target(self, run, folder):
        (folder / "bag.toml").write_text(INVENTED_BAG.replace("target_score = 19", ""))
        text = refused(
            run("--course", "course.geojson", "--bag", "bag.toml", "--out", "plan.geojson"), folder
        )
        assert "neither a target score nor a playing handicap" in text

    @pytest.mark.parametrize("place", ["bag.toml/plan.geojson", "."])
    @pytest.mark.parametrize("option", ["--out", "--gpx", "--html"])
    def test_a_place_that_cannot_be_written_leaves_nothing(self, run, folder, place, option):
        arguments = {"--out": "plan.geojson", "--gpx": "plan.gpx", "--html": "plan.html"} | {option: place}
        flat = [word for pair in arguments.items() for word in pair]
        refused(run("--course", "course.geojson", "--bag", "bag.toml", *flat), folder)

    def test_what_was_read_is_not_written_over(self, run, folder):
        before = (folder / "course.geojson").read_bytes()
        text = refused(
            run("--course", "course.geojson", "--bag", "bag.toml", "--out", "course.geojson"), folder
        )
        assert "not written over" in text
        assert (folder / "course.geojson").read_bytes() == before

    def test_a_map_of_a_scorecard(self, run, folder):
        text = refused(run("--scorecard", "scorecard.csv", "--bag", "bag.toml", "--gpx", "plan.gpx"), folder)
        assert "no positions" in text


def test_help_shows_an_example_and_the_cautions(run):
    result = run("--help")
    assert "trackgolf plan --course" in result.output
    assert "safe to play" in result.output
