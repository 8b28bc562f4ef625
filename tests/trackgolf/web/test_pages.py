"""Rounds come in, are shown, set right and set back, without any script."""

import io
import re
import zipfile

import pytest

from tests.reports.invented import HOSTILE
from tests.trackgolf.library import invented
from tests.trackgolf.web.conftest import PORT, hidden, shot_names, visit
from trackgolf.library.correcting import add_note, read_corrections_of
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_holes, read_rounds, read_shots
from trackgolf.web.settings import WebSettings

HOLE = "/rounds/1/holes/1"


def table(library, reader):
    connection = open_library(library)
    try:
        return reader(connection)
    finally:
        connection.close()


def as_file(path, name=None):
    return (io.BytesIO(path.read_bytes()), name or path.name)


class TestShown:
    def test_rounds_lead_to_holes_and_report(self, visitor):
        page = visitor.get("/").text
        assert "1 round</h1>" in page
        assert invented.PLAYER in page
        assert 'href="/rounds/1"' in page
        assert 'href="/rounds/1/holes/3"' in visitor.get("/rounds/1").text
        assert len(shot_names(visitor.get(HOLE).text)) == 3
        report = visitor.get("/rounds/1/report")
        assert report.status_code == 200
        assert "Invented Links" in report.text
        assert report.text.count('<a href="/rounds/1">') == 1

    def test_lengths_are_in_the_units_of_the_bag(self, visitor, tmp_path, invented_files):
        # Derived: from (0, 0) to (5, 150) are 150.1 m; the invented tee shot ends there, 164 yd away.
        assert re.search(r"1\. <b>.*, (149|150|151) m, from tee", visitor.get(HOLE).text)
        bag = invented.bag().replace('units = "m"', 'units = "yd"').encode()
        browser = visit(WebSettings(tmp_path / "yards.sqlite", PORT))
        browser.upload({
            "tracks": as_file(invented_files / "round_000.gpx"), "bag": (io.BytesIO(bag), "bag.toml"),
            "course_file": as_file(invented_files / "course.geojson"),
        })  # fmt: skip
        assert re.search(r"1\. <b>.*, (163|164|165) yd, from tee", browser.get(HOLE).text)

    def test_a_library_that_is_not_there_yet(self, tmp_path):
        browser = visit(WebSettings(tmp_path / "none.sqlite", PORT))
        assert "No rounds" in browser.get("/").text
        assert browser.get("/rounds/1").status_code == 404
        assert 'name="new_clubs"' in browser.get("/import").text
        assert not (tmp_path / "none.sqlite").exists()

    def test_no_page_has_a_script_or_reaches_outside(self, visitor):
        for path in ("/", "/import", "/rounds/1", HOLE, "/rounds/9"):
            text = visitor.get(path).text
            assert "<script" not in text
            assert "http://" not in text
            assert "https://" not in text
            assert "style=" not in text


class TestImport:
    def test_first_round_of_a_new_library(self, tmp_path, invented_files):
        place = tmp_path / "new.sqlite"
        browser = visit(WebSettings(place, PORT))
        told = browser.upload({
            "tracks": as_file(invented_files / "round_000.gpx"),
            "bag": as_file(invented_files / "bag.toml"),
            "course_file": as_file(invented_files / "course.geojson"),
        })  # fmt: skip
        assert told.status_code == 200
        assert "1 round kept" in told.text
        # Derived: the walk of tests/trackgolf/library/invented.py has three, one and three shots on its holes.
        assert table(place, read_holes)["shots"].tolist() == [3, 1, 3]

    def test_a_zip_and_a_track_find_course_and_bag(self, visitor, library, invented_files):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.write(invented_files / "round_001.gpx", "../../season/round_001.gpx")
        packed.seek(0)
        told = visitor.upload({"tracks": [(packed, "season.zip"), as_file(invented_files / "round_002.gpx")]})
        assert "2 rounds kept" in told.text
        assert "season.zip: ../../season/round_001.gpx" in told.text
        assert len(table(library, read_rounds)) == 3
        again = visitor.upload({"tracks": as_file(invented_files / "round_002.gpx")})
        assert "the same track is round 3 already" in again.text

    def test_what_cannot_be_used_is_told_by_its_own_name(self, visitor, library, invented_files):
        told = visitor.upload({
            "tracks": [(io.BytesIO(b"no track"), "../../etc/<b>letter</b>.gpx"), as_file(invented_files / "round_001.gpx")],
        })  # fmt: skip
        assert told.status_code == 200
        assert "&lt;b&gt;letter&lt;/b&gt;.gpx" in told.text
        assert "trackgolf-" not in told.text
        assert len(table(library, read_rounds)) == 2

    def test_chosen_course_and_player(self, visitor, library, invented_files):
        form = {"course": "1", "player": invented.PLAYER, "together": "apart", "no_plan": "1"}
        told = visitor.upload(form | {"tracks": as_file(invented_files / "round_001.gpx")})
        assert "1 round kept" in told.text
        for wrong in ({"course": "7"}, {"player": "nobody"}):
            told = visitor.post("/import", wrong | {"tracks": as_file(invented_files / "round_002.gpx")})
            assert told.status_code == 400
        assert len(table(library, read_rounds)) == 2

    def test_nothing_given(self, visitor):
        told = visitor.post("/import", {})
        assert told.status_code == 400
        assert "no track was given" in told.text

    @pytest.mark.parametrize("limit", [{"max_members": 1}, {"max_unpacked": 1000}, {"max_ratio": 1.5}])
    def test_an_archive_past_a_limit_is_left_alone(self, library, invented_files, limit):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for number in (1, 2):
                archive.write(invented_files / f"round_00{number}.gpx", f"{number}.gpx")
        packed.seek(0)
        browser = visit(WebSettings(library, PORT, **limit))
        told = browser.upload({"tracks": (packed, "season.zip")})
        assert "No rounds kept" in told.text
        assert len(table(library, read_rounds)) == 1


class TestCorrect:
    def fix(self, visitor, number, **form):
        name = shot_names(visitor.get(HOLE).text)[number - 1]
        return visitor.post(f"{HOLE}/shot", {"shot": name} | form, page=HOLE)

    def shots(self, library):
        return table(library, read_shots).query("hole == 1")

    def test_club_lie_and_penalty_hold(self, visitor, library):
        told = self.fix(visitor, 2, club="5 wood", lie="bunker", penalty="1", note="thin")
        assert (told.status_code, told.location) == (303, f"{HOLE}?done=1")
        second = self.shots(library).iloc[1]
        assert (second["club"], second["club_source"], second["lie"]) == ("5 wood", "corrected", "bunker")
        assert second["penalty"] == 1
        page = visitor.get("/rounds/1").text
        assert "thin" in page
        assert re.search(r"hole 1, \d\d:\d\d:\d\d: club 5 wood", page)
        assert "played from bunker" in page
        assert "Set right." in visitor.get(told.location).text

    def test_a_guessed_club_can_be_affirmed(self, visitor, library):
        club = self.shots(library).iloc[1]["club"]
        assert self.fix(visitor, 2, club=club).status_code == 303
        assert self.shots(library).iloc[1]["club_source"] == "corrected"
        assert self.fix(visitor, 2, club=club).status_code == 400

    def test_remove_then_undo_is_as_before(self, visitor, library):
        before = self.shots(library)
        self.fix(visitor, 2, do="remove")
        assert len(self.shots(library)) == len(before) - 1
        told = visitor.post("/rounds/1/undo", {"hole": "1"}, page=HOLE)
        assert told.location == f"{HOLE}?done=1"
        assert self.shots(library).equals(before)
        told = visitor.post("/rounds/1/undo", page=HOLE)
        assert "nothing to undo" in told.text

    def test_move_confirm_and_other_hole(self, visitor, library):
        second = self.shots(library).iloc[1]
        lat = second["start_lat_deg"] + 0.0001
        self.fix(visitor, 2, lon=f"{second['start_lon_deg']}", lat=f"{lat}")
        assert self.shots(library).iloc[1]["start_lat_deg"] == pytest.approx(lat, abs=1e-6)
        self.fix(visitor, 1, do="confirm")
        assert self.shots(library).iloc[0]["confidence"] > 0.99
        self.fix(visitor, 3, to_hole="2")
        kinds = [entry.what for entry in corrections(library)]
        assert kinds == ["move", "confirm", "hole"]

    def test_add_and_putts(self, visitor, library):
        zone = table(library, read_rounds)["time_zone"].iloc[0]
        third = self.shots(library).iloc[2]["start_time"]
        clock = f"{third.tz_convert(zone):%H:%M:%S}"
        self.fix(visitor, 3, do="remove")
        visitor.post(f"{HOLE}/score", {"do": "add", "clock": clock}, page=HOLE)
        assert len(self.shots(library)) == 3
        visitor.post(f"{HOLE}/score", {"putts": "1", "visit": "0"}, page=HOLE)
        hole = table(library, read_holes).iloc[0]
        # Derived: three shots, one putt.
        assert (hole["putts"], hole["strokes"]) == (1, 4)

    @pytest.mark.parametrize(
        ("form", "said"),
        [
            ({}, "nothing was set right"),
            ({"club": "broom"}, "not in the bag"),
            ({"lie": "tree"}, "&#39;tree&#39;"),
            ({"penalty": "many"}, "not a whole number"),
            ({"lon": "3"}, "not a number of degrees"),
            ({"lon": "nan", "lat": "1"}, "not a number of degrees"),
            ({"lon": "1", "lat": "91"}, "lat_deg"),
            ({"to_hole": "99"}, "99"),
        ],
    )
    def test_what_cannot_be_changes_nothing(self, visitor, library, form, said):
        told = self.fix(visitor, 1, **form)
        assert told.status_code == 400
        assert said in told.text
        assert corrections(library) == ()

    def test_a_second_window_is_told_and_nothing_is_overwritten(self, visitor, library):
        name = shot_names(visitor.get(HOLE).text)[0]
        old = visitor.get(HOLE).text
        self.fix(visitor, 1, club="5 wood")
        first = corrections(library)
        for path, form in ((f"{HOLE}/shot", {"shot": name, "club": "7 iron"}), ("/rounds/1/undo", {})):
            told = visitor.post(path, hidden(old) | form, page=HOLE)
            assert told.status_code == 409
            assert "corrected elsewhere" in told.text
        assert corrections(library) == first

    def test_a_shot_that_is_not_there_any_more(self, visitor):
        told = visitor.post(f"{HOLE}/shot", {"shot": "2020-01-01T00:00:00+00:00", "do": "remove"}, page=HOLE)
        assert told.status_code == 409


def corrections(library):
    return table(library, lambda connection: read_corrections_of(connection, 1)).entries


class TestLiteral:
    def test_no_text_of_a_person_means_anything(self, tmp_path, invented_files):
        place = tmp_path / "hostile.sqlite"
        browser = visit(WebSettings(place, PORT))
        # Names in bags are short.
        bag = invented.bag("{{7*7}} </script> <img src=x onerror=alert(1)> 'a' & %s").encode()
        course = invented.course(HOSTILE).encode()
        told = browser.upload({
            "tracks": as_file(invented_files / "round_000.gpx", "<script>alert(1)</script>.gpx"),
            "bag": (io.BytesIO(bag), "bag.toml"),
            "course_file": (io.BytesIO(course), "course.geojson"),
        })  # fmt: skip
        assert "1 round kept" in told.text
        connection = open_library(place)
        add_note(connection, 1, HOSTILE)
        connection.close()
        browser.post(
            f"{HOLE}/score", {"putts": "1", "visit": "0", "note": HOSTILE.replace("\u2028", " ")}, page=HOLE
        )
        pages = [told.text, *(browser.get(path).text for path in ("/", "/import", "/rounds/1", HOLE))]
        for text in pages:
            assert "<img" not in text
            assert "<script" not in text
        for text in pages[1:]:
            assert "{{7*7}} " in text
            assert "&lt;/script&gt; " in text
        assert "<img src=x" not in browser.get("/rounds/1/report").text
