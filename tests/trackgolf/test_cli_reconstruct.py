"""``trackgolf reconstruct`` from files to files: what it writes, refuses and salvages."""

import csv
import html
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pytest
from click.testing import CliRunner
from pyproj import Geod
from shapely.geometry import LineString, Point, box

from geo.geodesic import destination
from tests.shapes import gpx_of, trail_through
from tests.trackgolf.invented_course import geojson
from trackgolf.bag import read_bag
from trackgolf.cli import main
from trackgolf.course import read_course
from trackgolf.plan import plan_round
from trackgolf.plan_file import write_plan

GEOD = Geod(ellps="WGS84")
WALK = Path(__file__).parents[2] / "demo_tracks" / "walk.gpx"
FILES = ("comparison.csv", "holes.csv", "report.html", "shots.geojson")
LINES = {1: ((0, 0), (0, 300)), 2: ((60, 300), (60, 150)), 3: ((120, 150), (120, 550))}
PARS = {1: 4, 2: 3, 3: 5}
PLACES = [
    (-10, -30, 40),
    (0, 0, 50), (5, 150, 40), (0, 262, 40), (2, 302, 90),
    (60, 300, 60), (60, 148, 80),
    (120, 150, 50), (125, 300, 40), (118, 420, 40), (120, 551, 90),
    (150, 560, 60),
]  # fmt: skip
CLUBS = {
    "driver": (170, 10),
    "5 wood": (152, 8),
    "7 iron": (124, 6),
    "9 iron": (106, 4),
    "sand wedge": (69, 1),
}
BAG = "\n".join(
    [
        '# invented\nunits = "m"\n[player]\nname = "Ines Okafor"\nplaying_handicap = 18',
        *(
            f'[[club]]\nname = "{name}"\ncarry = {carry}\nroll = {roll}\nspread_long = 12\nspread_side = 9\nmishit_share = 0.1'
            for name, (carry, roll) in CLUBS.items()
        ),
        '[[approach]]\nclub = "9 iron"\ndistance = 110\n',
    ]
)
# A course of three holes is worth a word, and nothing else about these files is.
ONLY_NOTE = "note: no hole 4, 5, 6, 7, 8, 9: only 3 holes are known\n"
CARD = "hole,strokes,putts,penalties\n1,5,2,0\n2,3,2,0\n3,5,2,0\n"


def features(*, indexes=(1, 2, 3)):
    drawn = [({"leisure": "golf_course", "name": "Invented Links"}, box(-80, -80, 220, 620))]
    for (number, line), index in zip(LINES.items(), indexes, strict=True):
        tags = {"golf": "hole", "ref": str(number), "par": str(PARS[number]), "handicap": str(index)}
        east, north = line[0]
        drawn += [
            (tags, LineString(line)),
            ({"golf": "tee"}, box(east - 4, north - 4, east + 4, north + 4)),
            ({"golf": "green"}, Point(line[-1]).buffer(12)),
        ]
    return drawn


def write_course(path, drawn, lon=-31.0, lat=47.0):
    path.write_text(json.dumps(geojson(drawn, lon, lat)), encoding="utf-8")


def rows(path):
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


@pytest.fixture(scope="module")
def originals(tmp_path_factory):
    """The files of a good round, made once."""
    folder = tmp_path_factory.mktemp("originals")
    trail, _ = trail_through(*PLACES)
    (folder / "track.gpx").write_text(gpx_of(trail), encoding="utf-8")
    write_course(folder / "course.geojson", features())
    (folder / "bag.toml").write_text(BAG, encoding="utf-8")
    (folder / "card.csv").write_text(CARD, encoding="utf-8")
    course, bag = read_course(folder / "course.geojson"), read_bag(folder / "bag.toml")
    write_plan(folder / "plan.geojson", plan_round(course, bag), course, bag)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture
def folder(originals, tmp_path):
    for name, content in originals.items():
        (tmp_path / name).write_bytes(content)
    return tmp_path


def arguments(folder, *, track="track.gpx", leave_out=(), out="out"):
    given = {
        "--course": "course.geojson",
        "--bag": "bag.toml",
        "--plan": "plan.geojson",
        "--card": "card.csv",
    }
    options = [
        word
        for option, name in given.items()
        if option not in leave_out
        for word in (option, str(folder / name))
    ]
    return ["reconstruct", str(folder / track), *options, "--out", str(folder / out)]


def run(folder, *more, **options):
    return CliRunner().invoke(main, [*arguments(folder, **options), *more], prog_name="trackgolf")


def refused(folder, *more, said, named=None, lines=1, **options):
    """Hold a refusal against the rules: status 2, one line that says what and where, nothing written."""
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    result = run(folder, *more, **options)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert result.stderr.count("\n") == lines, result.stderr
    assert said in result.stderr
    if named is not None:
        assert named in result.stderr
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    return result.stderr


class TestGood:
    @pytest.fixture(scope="module")
    @staticmethod
    def done(originals, tmp_path_factory):
        folder = tmp_path_factory.mktemp("good")
        for name, content in originals.items():
            (folder / name).write_bytes(content)
        (folder / "out").mkdir()
        (folder / "out" / "mine.txt").write_text("stays")
        (folder / "out" / "holes.csv").write_text("old")
        return folder / "out", run(folder)

    def test_it_says_what_it_wrote(self, done):
        out, result = done
        assert result.exit_code == 0, result.output
        assert result.stdout.splitlines()[0].startswith("7 shots on 3 holes. ")
        assert "layups finished where the plan wanted" in result.stdout
        for name in FILES:
            assert str(out / name) in result.stdout
        assert result.stderr == ONLY_NOTE

    def test_an_existing_folder_keeps_its_other_files(self, done):
        out, _ = done
        assert sorted(path.name for path in out.iterdir()) == sorted([*FILES, "mine.txt"])
        assert (out / "mine.txt").read_text() == "stays"
        assert (out / "holes.csv").read_text().startswith("hole,par")

    def test_what_the_files_hold(self, done):
        out, _ = done
        holes = rows(out / "holes.csv")
        assert [row["strokes"] for row in holes] == ["5", "3", "5"]
        shots = gpd.read_file(out / "shots.geojson")
        assert len(shots) == 7
        # Source: pyproj.Geod; the walk was drawn with 150.1 m between its first two stands.
        assert GEOD.geometry_length(shots.geometry[0]) == pytest.approx(150.08, abs=0.6)
        planned = rows(out / "comparison.csv")
        assert {row["hole"] for row in planned} == {"1", "2", "3"}
        assert all(
            re.fullmatch(r"-?\d+(\.\d+)?", row["miss_m"]) for row in planned if row["within_tolerance"]
        )

    def test_the_report_is_one_page_of_this_round(self, done):
        out, _ = done
        page = (out / "report.html").read_text(encoding="utf-8")
        assert page.lower().startswith("<!doctype html>")
        for text in ("Ines Okafor", "Invented Links", "7 iron"):
            assert text in page

    def test_without_plan_and_card(self, folder):
        result = run(folder, leave_out=("--plan", "--card"))
        assert result.exit_code == 0, result.output
        assert len((folder / "out" / "comparison.csv").read_text().splitlines()) == 1
        assert len((folder / "out" / "holes.csv").read_text().splitlines()) == 4

    def test_two_files_are_one_round_in_any_order(self, folder):
        whole = (folder / "track.gpx").read_text(encoding="utf-8")
        points = re.findall(r"<trkpt.*?</trkpt>", whole)
        head, tail = whole[: whole.index("<trkpt")], whole[whole.rindex("</trkpt>") + len("</trkpt>") :]
        (folder / "one.gpx").write_text(head + "".join(points[:700]) + tail, encoding="utf-8")
        (folder / "two.gpx").write_text(head + "".join(points[700:]) + tail, encoding="utf-8")
        result = run(folder, str(folder / "one.gpx"), track="two.gpx")
        assert result.exit_code == 0, result.output
        assert "7 shots on 3 holes." in result.stdout

    def test_as_a_program(self, folder):
        command = [sys.executable, "-m", "trackgolf", *arguments(folder)]
        result = subprocess.run(command, capture_output=True, text=True, check=False)
        assert (result.returncode, result.stderr) == (0, ONLY_NOTE)
        assert sorted(path.name for path in (folder / "out").iterdir()) == list(FILES)


def spoil(folder, name, content):
    if content == "missing":
        (folder / name).unlink()
    elif content == "folder":
        (folder / name).unlink()
        (folder / name).mkdir()
    else:
        (folder / name).write_bytes(content)


class TestRefused:
    @pytest.mark.parametrize("name", ["track.gpx", "course.geojson", "bag.toml", "plan.geojson", "card.csv"])
    @pytest.mark.parametrize(
        ("content", "said"),
        [("missing", "no such file"), ("folder", "this is a folder"), (b"", "empty"), (b" \n", "empty")],
    )
    def test_no_file_a_folder_an_empty_file(self, folder, name, content, said):
        spoil(folder, name, content)
        refused(folder, said=said, named=name)

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            (b"<!DOCTYPE html>\n<html><body>Please sign in</body></html>", "HTML"),
            (b"<html><head></head></html>", "HTML"),
            (b'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document/></kml>', "KML"),
        ],
    )
    def test_another_kind_of_file_saved_as_gpx(self, folder, content, said):
        spoil(folder, "track.gpx", content)
        refused(folder, said=said, named="track.gpx")

    def test_no_times_at_all(self, folder):
        text = (folder / "track.gpx").read_text(encoding="utf-8")
        spoil(folder, "track.gpx", re.sub(r"<time>.*?</time>", "", text).encode())
        refused(folder, said="no point has a time", named="track.gpx")

    def test_a_course_elsewhere_on_earth(self, folder):
        lon, lat = destination(-31.0, 47.0, 250.0, 812_000.0)
        write_course(folder / "course.geojson", features(), float(lon), float(lat))
        refused(folder, said="the track is 812 km from the course", leave_out=("--plan",))

    def test_a_real_walk_far_from_any_course(self, folder):
        spoil(folder, "track.gpx", WALK.read_bytes())
        refused(folder, said=" km from the course", leave_out=("--plan",))

    def test_a_stroke_index_twice(self, folder):
        write_course(folder / "course.geojson", features(indexes=(1, 2, 2)))
        message = refused(folder, said="stroke index 2")
        assert re.search(r"holes? (2 and 3|2, 3)", message) or ("hole 2" in message and "hole 3" in message)

    def test_a_stroke_index_twice_on_the_scorecard(self, folder):
        (folder / "scorecard.csv").write_text(
            "hole,par,stroke_index,length_m\n1,4,1,300\n2,3,1,150\n3,5,2,400\n"
        )
        refused(
            folder, "--scorecard", str(folder / "scorecard.csv"), said="stroke index 1", named="scorecard.csv"
        )

    def test_a_plan_for_other_holes(self, folder):
        document = json.loads((folder / "plan.geojson").read_text(encoding="utf-8"))
        for feature in document["features"]:
            if feature["properties"].get("hole") == 3:
                feature["properties"]["hole"] = 12
        spoil(folder, "plan.geojson", json.dumps(document).encode())
        refused(folder, said="12", named="plan.geojson")

    def test_a_plan_for_a_course_elsewhere(self, folder):
        document = json.loads((folder / "plan.geojson").read_text(encoding="utf-8"))
        for feature in document["features"]:
            if feature["geometry"]["type"] == "LineString":
                feature["geometry"]["coordinates"] = [
                    [lon + 5, lat] for lon, lat in feature["geometry"]["coordinates"]
                ]
        spoil(folder, "plan.geojson", json.dumps(document).encode())
        refused(folder, said="km", named="plan.geojson")

    def test_an_unknown_club_on_the_card(self, folder):
        spoil(
            folder,
            "card.csv",
            b"hole,strokes,putts,penalties,clubs\n1,5,2,0,driver;2 iron;sand wedge\n2,3,2,0,\n3,5,2,0,\n",
        )
        message = refused(folder, said="'2 iron'", named="card.csv")
        assert "hole 1" in message

    def test_a_card_for_other_holes(self, folder):
        spoil(folder, "card.csv", b"hole,strokes,putts,penalties\n1,5,2,0\n14,4,2,0\n")
        refused(folder, said="14")

    def test_several_faults_of_one_file_are_told_together(self, folder):
        spoil(folder, "card.csv", b"hole,strokes,putts,penalties\n1,five,2,0\n2,3,many,0\n3,5,2,0\n")
        message = refused(folder, said="2", named="card.csv", lines=3)
        first, *faults = message.splitlines()
        assert first.startswith("trackgolf: ")
        assert all(fault.startswith((" ", "\t")) for fault in faults)
        assert "'five'" in faults[0]
        assert "'many'" in faults[1]

    @pytest.mark.parametrize("out", ["file.txt", "file.txt/out"])
    def test_an_output_folder_that_cannot_be_written(self, folder, out):
        (folder / "file.txt").write_text("mine")
        refused(folder, out=out, said="Give another --out")

    def test_no_track_or_no_bag_is_a_wrong_call(self, folder):
        for words in (["reconstruct"], arguments(folder, leave_out=("--bag",))):
            result = CliRunner().invoke(main, words, prog_name="trackgolf")
            assert result.exit_code == 2
            assert result.stdout == ""

    @pytest.mark.parametrize("spoiled", ["far", "elsewhere"])
    def test_no_folder_is_left_behind(self, folder, spoiled):
        if spoiled == "far":
            spoil(folder, "track.gpx", WALK.read_bytes())
        else:
            spoil(folder, "card.csv", b"hole,strokes\n14,4\n")
        refused(folder, leave_out=("--plan",), said="course")
        assert not (folder / "out").exists()

    def test_an_old_result_stays_whole(self, folder):
        (folder / "out").mkdir()
        for name in FILES:
            (folder / "out" / name).write_text("old")
        spoil(folder, "track.gpx", b"")
        refused(folder, said="empty")
        assert {path.name: path.read_text() for path in (folder / "out").iterdir()} == dict.fromkeys(
            FILES, "old"
        )

    def test_as_a_program(self, folder):
        spoil(folder, "bag.toml", b"units = yards")
        command = [sys.executable, "-m", "trackgolf", *arguments(folder)]
        result = subprocess.run(command, capture_output=True, text=True, check=False)
        assert (result.returncode, result.stdout) == (2, "")
        assert result.stderr.startswith("trackgolf: ")
        assert "bag.toml" in result.stderr
        assert result.stderr.count("\n") == 1


def cut_in_tag(text):
    return text[: text.index("<trkpt", len(text) - 300) + 20]


def cut_in_number(text):
    place = text.rindex('<trkpt lat="')
    return text[: place + len('<trkpt lat="47.00')]


def no_times_on_half(text):
    points = iter(range(10**6))
    return re.sub(
        r"<time>[^<]*</time></trkpt>", lambda found: found[0] if next(points) % 2 else "</trkpt>", text
    )


def bad_elevation(text):
    return text.replace("<ele>12.5</ele>", "<ele>high</ele>", 1)


def latitude_100(text):
    return re.sub(r'<trkpt lat="[^"]*"', '<trkpt lat="100"', text, count=1)


def bad_waypoint(text):
    return text.replace("<trk>", '<wpt lat="north" lon="-31"><name>7 iron</name></wpt><trk>', 1)


class TestCorrections:
    def given(self, folder, *entries):
        path = folder / "corrections.json"
        document = {"format": "trackgolf corrections", "version": 1, "corrections": list(entries)}
        path.write_text(json.dumps(document), encoding="utf-8")
        return "--corrections", str(path)

    def test_what_the_player_says_stands_in_every_file(self, folder):
        assert run(folder).exit_code == 0
        first = json.loads((folder / "out" / "shots.geojson").read_text())["features"][1]["properties"]
        about = {"hole": 1, "time": first["start_time"]}
        options = self.given(
            folder,
            {"id": "a", "what": "club", "club": "9i", **about},
            {"id": "b", "what": "lie", "lie": "bunker", **about},
            {"id": "c", "what": "putts", "hole": 3, "putts": 3},
            {"id": "d", "what": "strokes", "hole": 3, "strokes": 6},
        )
        result = run(folder, *options)
        assert result.exit_code == 0, result.output
        assert result.stderr == ONLY_NOTE
        shot = json.loads((folder / "out" / "shots.geojson").read_text())["features"][1]["properties"]
        assert (shot["club"], shot["club_source"]) == ("9 iron", "corrected")
        assert (shot["lie"], shot["confidence"], shot["corrected"]) == ("bunker", 1.0, True)
        assert shot["start_time"] == first["start_time"]
        hole = rows(folder / "out" / "holes.csv")[2]
        assert (hole["putts"], hole["strokes"], hole["putts_source"], hole["strokes_source"]) == (
            "3",
            "6",
            "corrected",
            "corrected",
        )
        assert "corrected" in (folder / "out" / "report.html").read_text(encoding="utf-8")

    def test_what_fits_nothing_is_one_line_and_no_fault(self, folder):
        options = self.given(
            folder, {"id": "a", "what": "confirm", "hole": 1, "time": "2001-01-01T00:00:00Z"}
        )
        result = run(folder, *options)
        assert result.exit_code == 0
        assert result.stderr.splitlines()[-1] == (
            "note: hole 1: correction 'a' (confirm at 00:00:00 UTC) fits nothing: it lies outside the time of the "
            "track; it is kept"
        )

    def test_faults_are_told_one_a_line(self, folder):
        options = self.given(folder, {"id": "a", "what": "putts", "hole": 0, "putts": 2}, {"what": "remove"})
        said = refused(folder, *options, said="4 faults", named="corrections.json", lines=5)
        assert said.splitlines()[1].startswith("  correction 1 ('a'): hole is 0")

    def test_without_a_course_there_is_nothing_they_belong_to(self, folder):
        options = self.given(folder, {"id": "a", "what": "putts", "hole": 1, "putts": 2})
        said = refused(
            folder,
            *options,
            leave_out=("--course", "--plan"),
            said="there is no course",
            named="--corrections",
        )
        assert "leave --corrections out" in said

    def test_a_file_of_another_kind(self, folder):
        refused(folder, "--corrections", str(folder / "plan.geojson"), said="these are no corrections")
        refused(folder, "--corrections", str(folder / "none.json"), said="no such file")


class TestSalvaged:
    @pytest.mark.parametrize(
        ("damage", "said"),
        [
            (cut_in_tag, ("track.gpx", "cut short")),
            (cut_in_number, ("track.gpx", "cut short")),
            (no_times_on_half, ("track.gpx", "time")),
            (bad_elevation, ("track.gpx", "elevation")),
            (latitude_100, ("track.gpx", "1")),
            (bad_waypoint, ("track.gpx", "waypoint")),
        ],
    )
    def test_it_goes_on_and_says_so_twice(self, folder, damage, said):
        spoil(folder, "track.gpx", damage((folder / "track.gpx").read_text(encoding="utf-8")).encode())
        result = run(folder)
        assert result.exit_code == 0, result.output
        assert "7 shots on 3 holes." in result.stdout
        lines = result.stderr.splitlines()
        assert lines
        told = [line for line in lines if said[0] in line]
        assert any(said[1] in line.lower() for line in told), result.stderr
        # The same sentences stand in the report, with a count where points were dropped.
        page = (folder / "out" / "report.html").read_text(encoding="utf-8")
        shown = " ".join(html.unescape(page).split())
        for line in told:
            assert line.removeprefix("note: ").split("track.gpx: ", 1)[1] in shown
        if damage in (no_times_on_half, latitude_100):
            assert any(re.search(r"dropped \d+ of \d+ points", line) for line in told)

    def test_a_plan_from_other_tees_is_said(self, folder):
        document = json.loads((folder / "plan.geojson").read_text(encoding="utf-8"))
        moved = 0
        for feature in document["features"]:
            if feature["properties"]["shot"] == 1 and feature["properties"]["hole"] != 2:
                lon, lat = feature["geometry"]["coordinates"][0]
                # 0.0004 degrees of latitude are 44 m.
                feature["geometry"]["coordinates"][0] = [lon, lat - 0.0004]
                moved += 1
        assert moved == 2
        spoil(folder, "plan.geojson", json.dumps(document).encode())
        result = run(folder)
        assert result.exit_code == 0, result.output
        assert "on 2 of 3 holes the plan begins elsewhere than the round, by 4" in result.stderr
        assert "it is likely for another tee" in (folder / "out" / "report.html").read_text(encoding="utf-8")

    def test_what_the_plan_reader_mended_is_said(self, folder):
        document = json.loads((folder / "plan.geojson").read_text(encoding="utf-8"))
        shot = next(feature for feature in document["features"] if "distance_m" in feature["properties"])
        shot["properties"]["distance_m"] += 30
        spoil(folder, "plan.geojson", json.dumps(document).encode())
        result = run(folder)
        assert result.exit_code == 0, result.output
        assert "disagrees with the line drawn" in result.stderr

    def test_nothing_written_lies_far_from_the_course(self, folder):
        # From home, 900 m to the west, and back: no file may hold a point of the way.
        trail, _ = trail_through((-900, 100, 300), *PLACES, (-900, 100, 300))
        spoil(folder, "track.gpx", gpx_of(trail).encode())
        result = run(folder)
        assert result.exit_code == 0, result.output
        # A degree of longitude is 76.1 km at 47 degrees: 250 m west of the first tee, 400 m east of it.
        west, east = -31.0 - 250 / 76_100, -31.0 + 400 / 76_100
        for name in FILES:
            text = (folder / "out" / name).read_text(encoding="utf-8")
            found = [float(number) for number in re.findall(r"-3[01]\.\d{2,}", text)]
            assert all(west <= lon <= east for lon in found), name
            assert found or name.endswith(".csv")
