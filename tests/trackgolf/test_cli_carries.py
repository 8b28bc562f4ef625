"""The commands that learn from many rounds, on folders of rebuilt rounds and on a library."""

import json
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from tests.simulator.seasons import simulate_season
from trackgolf.bag import read_bag
from trackgolf.cli import main

INVENTED_BAG = """# invented player and bag
units = "yd"
[player]
name = "Invented \\"Quoted\\" Player"
target_score = 100
"""


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """Folders of rounds as `trackgolf reconstruct` writes them, of an invented season, and its bag."""
    top = tmp_path_factory.mktemp("invented_season")
    played = simulate_season(31, rounds=5, named=0.7)
    text = INVENTED_BAG
    for club in played.bag.clubs:
        text += f'[[club]]\nname = "{club.name}"\ncarry = {club.carry_m / 0.9144:.2f}\nroll = {club.roll_m / 0.9144:.2f}\n'
    last = played.bag.clubs[-1]
    text += f'[[approach]]\nclub = "{last.name}"\ndistance = {last.distance_m / 0.9144 - 1:.1f}\n'
    text += f'[[part_swing]]\nclub = "{last.name}"\nfrom = 12\nto = 40\n'
    (top / "bag.toml").write_text(text, encoding="utf-8")
    for number, shots in played.shots.groupby("round"):
        folder = top / "rounds" / f"round {number}"
        folder.mkdir(parents=True)
        features = []
        for shot in shots.drop(columns=["round", "day", "leave_before_m"]).to_dict("records"):
            shot["start_time"] = f"2026-0{4 + number}-03T10:00:00.000Z"
            line = {"type": "LineString", "coordinates": [[-31.0, 47.0], [-31.0, 47.001]]}
            features.append({"type": "Feature", "geometry": line, "properties": shot})
        document = {"type": "FeatureCollection", "features": features}
        (folder / "shots.geojson").write_text(json.dumps(document), encoding="utf-8")
        holes = played.holes[played.holes["round"] == number].drop(columns=["round", "day"])
        holes.to_csv(folder / "holes.csv", index=False)
        (folder / "comparison.csv").write_text("hole,shot,planned_club\n", encoding="utf-8")
    return top


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


class TestCarries:
    def test_json_has_what_other_programs_rely_on(self, season):
        result = run("carries", "--rounds", season / "rounds", "--bag", season / "bag.toml", "--json")
        assert result.exit_code == 0, result.output
        document = json.loads(result.stdout)
        assert document["player"] == 'Invented "Quoted" Player'
        assert document["rounds"] == 5
        for club in document["clubs"]:
            assert {
                "club",
                "shots",
                "path_m",
                "plan_m",
                "spread_long_m",
                "spread_side_m",
                "mishit_share",
            } <= set(club)
            assert club["distance_80_m"][0] < club["distance_m"] < club["distance_80_m"][1]
            assert club["carry_80_m"][0] < club["carry_m"] < club["carry_80_m"][1]
            assert club["carry_m"] < club["distance_m"]
        assert sum(document["account"].values()) == 2 * document["account"]["all shots"]
        used = sum(count for reason, count in document["account"].items() if reason.startswith("full swings"))
        assert document["heights"] == {"set right": 0, "too unsure": 0, "unknown": used}

    def test_text_is_in_the_units_of_the_bag_and_accounts_for_all(self, season):
        result = run("carries", "--rounds", season / "rounds", "--bag", season / "bag.toml")
        assert "Lengths in yd" in result.stdout
        assert "from sand" in result.stdout
        assert "Part swings" in result.stdout
        assert "All clubs together go" in result.stdout
        assert "no distance is set right for height" in result.stdout

    def test_heights_of_rounds_set_distances_right(self, season, tmp_path):
        """Every shot 6 m uphill, known to a metre: the counts are told, and clubs come out longer."""
        for source in (season / "rounds").iterdir():
            folder = tmp_path / source.name
            shutil.copytree(source, folder)
            document = json.loads((folder / "shots.geojson").read_text(encoding="utf-8"))
            for feature in document["features"]:
                feature["properties"] |= {"rise_m": 6.0, "rise_sigma_m": 1.0}
            (folder / "shots.geojson").write_text(json.dumps(document), encoding="utf-8")
        flat, hilly = (
            json.loads(run("carries", "--rounds", place, "--bag", season / "bag.toml", "--json").stdout)
            for place in (season / "rounds", tmp_path)
        )
        assert hilly["heights"]["too unsure"] == hilly["heights"]["unknown"] == 0
        assert hilly["heights"]["set right"] == flat["heights"]["unknown"]
        assert sum(club["shots_levelled"] for club in hilly["clubs"]) == hilly["heights"]["set right"]
        # Derived: a metre a metre of height, drawn in by what the bag states, and by clubs inferred anew.
        gain = [b["distance_m"] - a["distance_m"] for a, b in zip(flat["clubs"], hilly["clubs"], strict=True)]
        assert 2.0 < np.mean(gain) < 7.0

    def test_single_folders_are_the_same_as_the_folder_of_them(self, season):
        one_by_one = []
        for folder in sorted((season / "rounds").iterdir(), reverse=True):
            one_by_one += ["--rounds", folder]
        bag = ("--bag", season / "bag.toml", "--json")
        assert (
            run("carries", *one_by_one, *bag).stdout
            == run("carries", "--rounds", season / "rounds", *bag).stdout
        )

    def test_since(self, season):
        common = ("carries", "--rounds", season / "rounds", "--bag", season / "bag.toml", "--json", "--since")
        assert json.loads(run(*common, "2026-07-03").stdout)["rounds"] == 2
        late = run(*common, "2027-01-01")
        assert late.exit_code == 2
        assert "--since" in late.stderr

    def test_writes_a_bag_that_the_planner_takes(self, season, tmp_path):
        path = tmp_path / "new.toml"
        words = ("carries", "--rounds", season / "rounds", "--bag", season / "bag.toml")
        document = json.loads(run(*words, "--json", "--write-bag", path).stdout)
        text = path.read_text(encoding="utf-8")
        assert text.startswith("# invented")
        bag = read_bag(path)
        before = read_bag(season / "bag.toml")
        assert bag.player == before.player
        assert [club.name for club in bag.clubs] == [club.name for club in before.clubs]
        for club, learned in zip(bag.clubs, document["clubs"], strict=True):
            # Derived: written to a tenth of a yard, twice.
            assert club.distance_m == pytest.approx(learned["distance_m"], abs=0.1)
            assert club.mishit_share == pytest.approx(learned["mishit_share"], abs=0.0051)
            assert club.assumed == ()
        assert len(bag.approaches) == len(bag.part_swings) == 1
        assert bag.warnings == ()
        assert tomllib.loads(text)["units"] == "yd"

    def test_page_with_the_plan_before_and_after(self, season, tmp_path):
        path = tmp_path / "page.html"
        course = Path(__file__).parents[2] / "demo_tracks" / "course.geojson"
        words = ("carries", "--rounds", season / "rounds", "--bag", season / "bag.toml")
        result = run(*words, "--html", path, "--course", course, "--tee", "short")
        assert result.exit_code == 0, result.output
        page = path.read_text(encoding="utf-8")
        for told in ("5 rounds", "The plan before and after", "From where you reach the green", "Invented"):
            assert told in page
        alone = run(*words, "--course", course)
        assert alone.exit_code == 2
        assert "--html" in alone.stderr

    def test_the_bag_that_was_read_is_not_written_over(self, season):
        bag = season / "bag.toml"
        before = bag.read_text(encoding="utf-8")
        result = run("carries", "--rounds", season / "rounds", "--bag", bag, "--write-bag", bag)
        assert result.exit_code == 2
        assert "not written over" in result.stderr
        assert bag.read_text(encoding="utf-8") == before

    @pytest.mark.parametrize(
        ("words", "told"),
        [
            (["--rounds", "{season}/rounds"], "give --bag"),
            (["--rounds", "{season}/rounds", "--bag", "{season}/bag.toml", "--player", "x"], "--player"),
            (["--rounds", "{season}", "--bag", "{season}/bag.toml"], "no rebuilt round is here"),
            (["--library", "{season}/none.db"], "none.db"),
        ],
    )
    def test_what_cannot_be_used_is_one_line(self, season, words, told):
        result = run("carries", *(word.format(season=season) for word in words))
        assert result.exit_code == 2, result.output
        assert told in result.stderr
        assert result.stderr.strip().splitlines()[-1].startswith("trackgolf: ")

    def test_a_broken_file_of_shots(self, season, tmp_path):
        (tmp_path / "shots.geojson").write_text('{"features": [{}]}', encoding="utf-8")
        result = run("carries", "--rounds", tmp_path, "--bag", season / "bag.toml")
        assert result.exit_code == 2
        assert str(Path("shots.geojson")) in result.stderr


class TestApproaches:
    def test_json(self, season):
        result = run("approaches", "--rounds", season / "rounds", "--bag", season / "bag.toml", "--json")
        assert result.exit_code == 0, result.output
        document = json.loads(result.stdout)
        assert set(document["curves"]) == {"green", "near", "down_in_two", "down_in_three", "strokes"}
        for step in document["curves"]["green"]:
            assert 0 <= step["range_80"][0] <= step["value"] <= step["range_80"][1] <= 1
        # Derived: causes add up to the score against personal par.
        total = sum(cause["strokes"] for cause in document["causes"])
        assert total == pytest.approx(document["against_personal_par"], abs=0.01)

    def test_curves_by_lie(self, season):
        result = run("approaches", "--rounds", season / "rounds", "--bag", season / "bag.toml", "--json")
        document = json.loads(result.stdout)
        assert set(document["curves_by_lie"]["rough"]) == {"green", "strokes"}
        fairway, rough = document["curves"]["green"], document["curves_by_lie"]["rough"]["green"]
        assert [step["leave_m"] for step in fairway] == [step["leave_m"] for step in rough]

    def test_page(self, season, tmp_path):
        words = ("approaches", "--rounds", season / "rounds", "--bag", season / "bag.toml", "--html")
        result = run(*words, tmp_path / "page.html")
        assert result.exit_code == 0, result.output
        page = (tmp_path / "page.html").read_text(encoding="utf-8")
        assert "How often the green is reached, by lie" in page
        refused = run(*words, season / "bag.toml")
        assert refused.exit_code == 2
        assert "not written over" in refused.stderr

    def test_text(self, season):
        result = run("approaches", "--rounds", season / "rounds", "--bag", season / "bag.toml")
        assert result.exit_code == 0, result.output
        for told in (
            "you reach the green",
            "In regulation by personal par",
            "putts over eighteen holes",
            "Most goes on",
        ):
            assert told in result.stdout


class TestPlayers:
    def test_notes_need_the_page(self, season):
        result = run("players", "--library", season / "none.db", "--notes", season / "bag.toml")
        assert result.exit_code == 2
        assert "--out" in result.stderr

    def test_no_library(self, season):
        result = run("players", "--library", season / "none.db")
        assert result.exit_code == 2
        assert "none.db" in result.stderr
