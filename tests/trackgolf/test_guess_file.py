"""Guessed holes as a file to look over, and the course of those that were confirmed."""

import json

import pytest
from click.testing import CliRunner
from shapely.geometry import Point, shape

from geo.frame import LocalFrame
from geo.geojson import geojson_text
from tests.shapes import gpx_of, trail_through
from tests.trackgolf.invented_walk import PARS, invented_walk
from trackgolf.cli import main
from trackgolf.course import read_course
from trackgolf.course_write import course_to_geojson
from trackgolf.errors import CourseError
from trackgolf.guess_course import GuessedHole, course_of_holes
from trackgolf.guess_file import (
    GUESSED_FILE,
    confirmed_course,
    confirmed_geojson,
    confirmed_holes,
    guessed_geojson,
    read_confirmed,
)

BAG = """# invented
units = "m"
[player]
name = "Ines Okafor"
playing_handicap = 18
[[club]]
name = "driver"
carry = 170
roll = 10
[[club]]
name = "7 iron"
carry = 124
roll = 6
[[club]]
name = "sand wedge"
carry = 69
"""
HOLES = [
    GuessedHole(1, (-31.0, 47.0), (-31.0, 47.003), 333.6, 4, 1),
    GuessedHole(2, (-31.001, 47.003), (-31.001, 47.0015), 166.8, 3, 3),
    GuessedHole(3, (-31.002, 47.001), (-31.002, 47.005), 444.7, 5, 2),
]


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words], prog_name="trackgolf")


def confirm(folder, *numbers):
    path = folder / GUESSED_FILE
    document = json.loads(path.read_text(encoding="utf-8"))
    for feature in document["features"]:
        if feature["properties"]["golf"] == "hole" and int(feature["properties"]["ref"]) in numbers:
            feature["properties"]["guessed"] = "confirmed"
    path.write_text(json.dumps(document), encoding="utf-8")


@pytest.fixture
def folder(tmp_path):
    (tmp_path / GUESSED_FILE).write_text(
        geojson_text(guessed_geojson(course_of_holes(HOLES))), encoding="utf-8"
    )
    return tmp_path


class TestGuessedFile:
    def test_every_feature_says_that_it_is_guessed(self, folder):
        document = json.loads((folder / GUESSED_FILE).read_text(encoding="utf-8"))
        assert len(document["features"]) == 9
        assert {feature["properties"]["guessed"] for feature in document["features"]} == {"yes"}
        assert "confirmed" in document["about"]

    def test_it_is_a_course_file(self, folder):
        course = read_course(folder / GUESSED_FILE)
        assert [hole.number for hole in course.holes] == [1, 2, 3]
        assert [hole.par for hole in course.holes] == [4, 3, 5]
        assert course.has_positions

    def test_positions_are_longitude_first_and_rings_turn_left(self, folder):
        # Source: RFC 7946, 3.1.1 and 3.1.6: longitude before latitude; outer rings run counterclockwise.
        document = json.loads((folder / GUESSED_FILE).read_text(encoding="utf-8"))
        for feature in document["features"]:
            drawn = shape(feature["geometry"])
            assert drawn.bounds[2] < -30.9
            if drawn.geom_type == "Polygon":
                assert drawn.exterior.is_ccw


class TestConfirmedHoles:
    def test_none_at_first(self, folder):
        assert confirmed_holes(folder / GUESSED_FILE) == ()

    def test_those_that_the_player_marked(self, folder):
        confirm(folder, 1, 3)
        assert confirmed_holes(folder / GUESSED_FILE) == (1, 3)

    @pytest.mark.parametrize(
        "content", ["", "[]", '{"features": 3}', '{"features": [1, {"properties": null}]}']
    )
    def test_what_is_no_such_file_confirms_nothing(self, tmp_path, content):
        (tmp_path / "x").write_text(content, encoding="utf-8")
        assert confirmed_holes(tmp_path / "x") == ()
        assert confirmed_holes(tmp_path / "not there") == ()


class TestReadConfirmed:
    def test_marked_and_named_ones_together(self, folder):
        confirm(folder, 1)
        assert read_confirmed(folder, (3,))[1] == (1, 3)
        assert read_confirmed(folder, None)[1] == (1, 2, 3)

    @pytest.mark.parametrize(("also", "said"), [((), "no hole is confirmed"), ((7,), "no hole 7")])
    def test_faults(self, folder, also, said):
        with pytest.raises(CourseError, match=said):
            read_confirmed(folder, also)

    def test_a_round_on_a_known_course_has_none(self, tmp_path):
        with pytest.raises(CourseError, match="without --course"):
            read_confirmed(tmp_path)

    def test_a_green_that_was_moved_by_hand_stays_moved(self, folder):
        path = folder / GUESSED_FILE
        document = json.loads(path.read_text(encoding="utf-8"))
        frame = LocalFrame(-31.0, 47.003)
        for feature in document["features"]:
            tags = feature["properties"]
            if tags["ref"] == "1" and tags["golf"] == "green":
                moved = frame.geometry_to_degrees(Point(12.0, 5.0).buffer(10.0))
                feature["geometry"] = json.loads(json.dumps(moved.__geo_interface__))
        path.write_text(json.dumps(document), encoding="utf-8")
        course, _ = read_confirmed(folder, None)
        green = frame.geometry_to_metres(course.hole(1).green).centroid
        assert (green.x, green.y) == pytest.approx((12.0, 5.0), abs=0.02)


class TestConfirmedCourse:
    def test_holds_nothing_but_the_confirmed_holes(self, folder):
        course, confirmed = read_confirmed(folder, (1, 3))
        made = confirmed_course(course, confirmed, "Invented Links")
        tags = [feature["properties"] for feature in json.loads(confirmed_geojson(made))["features"]]
        assert sorted(tag["ref"] for tag in tags if tag.get("golf") == "hole") == ["1", "3"]
        assert [tag.get("golf") for tag in tags].count("green") == 2
        assert all("confirmed by the player" in tag["source"] for tag in tags)
        assert [hole.number for hole in made.holes] == [1, 3]

    def test_its_name_comes_back(self, folder, tmp_path):
        course, confirmed = read_confirmed(folder, None)
        path = tmp_path / "made.geojson"
        path.write_text(confirmed_geojson(confirmed_course(course, confirmed, 'A "B" & C')), encoding="utf-8")
        assert read_course(path).name == 'A "B" & C'

    def test_without_a_name_nothing_but_holes_is_drawn(self, folder):
        course, confirmed = read_confirmed(folder, None)
        kinds = {
            feature["properties"].get("golf")
            for feature in course_to_geojson(confirmed_course(course, confirmed))["features"]
        }
        assert kinds == {"hole", "green", "tee"}


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """A round rebuilt without a course, as the command does it."""
    folder = tmp_path_factory.mktemp("played")
    home = [(-3000, -2000, 300), (-1500, -900, 0), (-60, -40, 60)]
    (folder / "track.gpx").write_text(gpx_of(invented_walk(before=home)), encoding="utf-8")
    (folder / "bag.toml").write_text(BAG, encoding="utf-8")
    result = run("reconstruct", folder / "track.gpx", "--bag", folder / "bag.toml", "--out", folder / "out")
    return folder, result


class TestCommands:
    def test_reconstruct_says_that_it_guessed(self, played):
        folder, result = played
        assert result.exit_code == 0
        assert "guessed from the track" in result.stderr
        assert "pars are guessed" in result.stderr
        assert str(folder / "out" / GUESSED_FILE) in result.stdout
        for name in ("report.html", "holes.csv"):
            assert "guessed from the track" in (folder / "out" / name).read_text(encoding="utf-8")

    def test_nothing_written_lies_far_from_the_holes(self, played):
        # The home lies 3.6 km off; the course is within 0.9 km of its first tee.
        place = LocalFrame(-31.0, 47.0)
        folder, _ = played
        for name in (GUESSED_FILE, "shots.geojson"):
            document = json.loads((folder / "out" / name).read_text(encoding="utf-8"))
            for feature in document["features"]:
                west, south, _, _ = place.geometry_to_metres(shape(feature["geometry"])).bounds
                assert min(west, south) > -200.0

    def test_the_course_made_rebuilds_the_same_round(self, played):
        folder, _ = played
        made, again = folder / "course.geojson", folder / "again"
        result = run(
            "course",
            "--from-round",
            folder / "out",
            "--confirmed",
            "all",
            "--name",
            "Invented",
            "--out",
            made,
        )
        assert result.exit_code == 0
        assert "invented" not in result.stderr
        course = read_course(made)
        assert tuple(hole.par for hole in course.holes) == PARS
        words = ("--bag", folder / "bag.toml", "--course", made, "--out", again)
        assert run("reconstruct", folder / "track.gpx", *words).exit_code == 0
        first, second = (
            [
                (f["properties"]["hole"], f["properties"]["shot"], f["properties"]["club"], f["geometry"])
                for f in json.loads((place / "shots.geojson").read_text(encoding="utf-8"))["features"]
            ]
            for place in (folder / "out", again)
        )
        assert first == second

    def test_confirmed_holes_are_never_written_over(self, played, tmp_path):
        folder, _ = played
        out = tmp_path / "out"
        out.mkdir()
        (out / GUESSED_FILE).write_bytes((folder / "out" / GUESSED_FILE).read_bytes())
        confirm(out, 2)
        before = (out / GUESSED_FILE).read_bytes()
        result = run("reconstruct", folder / "track.gpx", "--bag", folder / "bag.toml", "--out", out)
        assert result.exit_code == 2
        assert "confirmed" in result.stderr
        assert "--course" in result.stderr
        assert (out / GUESSED_FILE).read_bytes() == before

    def test_some_holes_confirmed_and_the_rest_named(self, folder):
        result = run("course", "--from-round", folder, "--confirmed", "1,3", "--out", folder / "made.geojson")
        assert result.exit_code == 0
        assert "left out: 2" in result.stdout

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("--from-round", "DIR", "--confirmed", "1-3", "--out", "x"), "not a list of holes"),
            (("--from-round", "DIR", "--confirmed", "1"), "--out"),
            (("--from-round", "DIR", "--out", "x"), "no hole is confirmed"),
            (("--from-round", "DIR", "course.geojson", "--out", "x"), "not with --from-round"),
            (("course.geojson", "--confirmed", "1"), "only with --from-round"),
            ((), "COURSE"),
        ],
    )
    def test_wrong_calls(self, folder, monkeypatch, words, said):
        monkeypatch.chdir(folder)
        result = run("course", *(str(folder) if word == "DIR" else word for word in words))
        assert result.exit_code == 2
        assert said in result.stderr
        assert not (folder / "x").exists()

    @pytest.mark.parametrize(("option", "value"), [("--tee", "white"), ("--plan", "plan.geojson")])
    def test_what_belongs_to_a_course_needs_one(self, played, option, value):
        folder, _ = played
        result = run(
            "reconstruct",
            folder / "track.gpx",
            "--bag",
            folder / "bag.toml",
            option,
            value,
            "--out",
            folder / "no",
        )
        assert result.exit_code == 2
        assert option in result.stderr
        assert not (folder / "no").exists()

    def test_a_scorecard_and_a_card_help(self, played, tmp_path):
        folder, _ = played
        rows = [f"{n + 1},{par},{n + 1}" for n, par in enumerate(PARS)]
        (tmp_path / "scorecard.csv").write_text("\n".join(["hole,par,stroke_index", *rows]), encoding="utf-8")
        (tmp_path / "card.csv").write_text("hole,strokes,putts\n1,5,2\n2,5,2\n", encoding="utf-8")
        result = run(
            "reconstruct", folder / "track.gpx", "--bag", folder / "bag.toml", "--scorecard", tmp_path / "scorecard.csv",
            "--card", tmp_path / "card.csv", "--out", tmp_path / "out",
        )  # fmt: skip
        assert result.exit_code == 0
        assert "pars are guessed" not in result.stderr
        assert "guessed from the track" in result.stderr

    def test_no_golf_at_all_is_one_line(self, tmp_path):
        walk, _ = trail_through((0, 0, 60), (20, 0, 60), (0, 10, 60))
        (tmp_path / "track.gpx").write_text(gpx_of(walk), encoding="utf-8")
        (tmp_path / "bag.toml").write_text(BAG, encoding="utf-8")
        result = run(
            "reconstruct", tmp_path / "track.gpx", "--bag", tmp_path / "bag.toml", "--out", tmp_path / "out"
        )
        assert result.exit_code == 2
        assert len(result.stderr.strip().splitlines()) == 1
        assert "track.gpx" in result.stderr
        assert not (tmp_path / "out").exists()
