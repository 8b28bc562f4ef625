"""The round on the map, asked as its script asks: what it draws, and each change with its answer."""

import math

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as fuzz
from hypothesis import strategies as st

from geo.geodesic import distance_bearing
from tests.trackgolf.web.conftest import BASE, PORT, hidden, visit
from trackgolf.corrections import Correction
from trackgolf.library.correcting import correct_round, read_corrections_of
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_holes, read_shots
from trackgolf.web import at_hand
from trackgolf.web.at_hand import Shelf
from trackgolf.web.settings import WebSettings

MAP = "/rounds/1/map"
HEADERS = {"Origin": BASE, "Sec-Fetch-Site": "same-origin", "Accept": "application/json"}


def table(library, reader):
    connection = open_library(library)
    try:
        return reader(connection)
    finally:
        connection.close()


def entries(library):
    return table(library, lambda connection: read_corrections_of(connection, 1)).entries


class Sheet:
    """The script's side: the state it has, and what it asks."""

    def __init__(self, browser):
        self.browser = browser
        self.token = browser.get("/token").json["form_token"]
        self.state = browser.get(f"{MAP}/state").json

    def ask(self, path, **fields):
        data = {"form_token": self.token, "seen": self.state["seen"]} | fields
        told = self.browser.client.post(f"{MAP}/{path}", data=data, base_url=BASE, headers=HEADERS)
        if told.status_code == 200:
            self.state = told.json
        return told

    def shots(self, hole):
        return [shot for shot in self.state["shots"] if shot["hole"] == hole]


@pytest.fixture
def sheet(visitor):
    return Sheet(visitor)


class TestShown:
    def test_page_has_scripts_of_ours_only_and_a_way_without(self, visitor):
        told = visitor.get(f"{MAP}?hole=2")
        assert "script-src 'self'" in told.headers["Content-Security-Policy"]
        assert told.text.count("<script ") == told.text.count('<script src="/scripts/') == 4
        assert "style=" not in told.text
        assert 'href="/rounds/1/holes/3"' in told.text.split("<noscript>")[1].split("</noscript>")[0]
        for page in ("/rounds/1", "/rounds/1/holes/1"):
            assert 'href="/rounds/1/map' in visitor.get(page).text

    def test_ground_is_the_course_and_the_walk(self, visitor):
        ground = visitor.get(f"{MAP}/ground").json
        assert {line["hole"] for line in ground["lines"]} == {1, 2, 3}
        assert {shape["kind"] for shape in ground["shapes"]} >= {"green"}
        (stretch,) = ground["walk"]
        times = [time_s for _, _, time_s in stretch]
        assert times == sorted(times)
        lon, lat = zip(*[point[:2] for point in stretch], strict=True)
        gaps, _ = distance_bearing(lon[:-1], lat[:-1], lon[1:], lat[1:])
        # Derived: a point at least every 20 s, and the invented walker makes 1.4 m/s or so.
        assert max(gaps) < 40.0

    def test_shots_are_those_of_the_library(self, sheet, library):
        kept = table(library, read_shots)
        assert [shot["hole"] for shot in sheet.state["shots"]] == kept["hole"].tolist()
        for shot, row in zip(sheet.state["shots"], kept.to_dict("records"), strict=True):
            assert shot["name"] == row["start_time"].isoformat(timespec="microseconds")
            assert shot["start"] == pytest.approx([row["start_lon_deg"], row["start_lat_deg"]], abs=1e-6)
        holes = table(library, read_holes)
        assert [one["putts"] for one in sheet.state["playings"]] == holes["putts"].tolist()
        taken = {shot["time_s"] for shot in sheet.state["shots"]}
        assert sheet.state["stops"]
        assert all(min(abs(stop["time_s"] - time_s) for time_s in taken) > 1 for stop in sheet.state["stops"])

    def test_no_such_round(self, visitor):
        for end in ("", "/ground", "/state", "/seen"):
            assert visitor.get(f"/rounds/7/map{end}").status_code == 404


class TestChange:
    def test_each_kind_is_a_correction_answered_with_the_round(self, sheet, library):
        first = sheet.shots(1)[0]["name"]
        second = sheet.shots(1)[1]
        place = [second["start"][0], second["start"][1] + 0.0001]
        for fields in (
            {"shot": second["name"], "lon": place[0], "lat": place[1], "note": "further on"},
            {"shot": second["name"], "club": "5 wood"},
            {"shot": second["name"], "lie": "bunker"},
            {"shot": second["name"], "end_lie": "rough"},
            {"shot": second["name"], "penalty": "1"},
            {"shot": first, "do": "confirm"},
            {"hole": "1", "visit": "0", "putts": "1"},
        ):
            assert sheet.ask("change", **fields).status_code == 200, fields
        now = sheet.shots(1)[1]
        # Derived: the degrees that were sent.
        assert now["start"] == pytest.approx(place, abs=1e-6)
        assert (now["club"], now["lie"], now["end_lie"], now["penalty"]) == ("5 wood", "bunker", "rough", 1)
        assert [entry.what for entry in entries(library)] == ["move", "club", "lie", "end_lie", "penalty", "confirm", "putts"]  # fmt: skip
        assert sheet.state["entries"][0]["note"] == "further on"
        assert sheet.state["seen"] == sheet.browser.get(f"{MAP}/seen").json["seen"]

    def test_remove_add_and_undo(self, sheet, library):
        before = sheet.state
        third = sheet.shots(1)[2]
        sheet.ask("change", shot=third["name"], do="remove")
        assert len(sheet.shots(1)) == 2
        assert any(abs(stop["time_s"] - third["time_s"]) < 30 for stop in sheet.state["stops"])
        sheet.ask("change", hole="1", visit="0", do="add", clock=third["name"].replace("+00:00", "Z"))
        assert len(sheet.shots(1)) == 3
        assert sheet.shots(1)[2]["start"] == pytest.approx(third["start"], abs=1e-4)
        sheet.ask("undo", id=sheet.state["entries"][0]["id"])
        sheet.ask("undo")
        assert sheet.state == before
        assert entries(library) == ()
        assert sheet.ask("undo").status_code == 400

    def test_to_another_hole(self, sheet):
        name = sheet.shots(1)[2]["name"]
        sheet.ask("change", shot=name, to_hole="2")
        assert name in [shot["name"] for shot in sheet.shots(2)]

    def test_second_window_is_told_and_nothing_is_overwritten(self, sheet, visitor, library):
        other = Sheet(visitor)
        name = sheet.shots(1)[0]["name"]
        sheet.ask("change", shot=name, club="5 wood")
        for path, fields in (("change", {"shot": name, "club": "7 iron"}), ("undo", {})):
            told = other.ask(path, **fields)
            assert told.status_code == 409
            assert "corrected elsewhere" in told.json["faults"][0]
        assert other.state["seen"] != visitor.get(f"{MAP}/seen").json["seen"]
        assert [entry.club for entry in entries(library)] == ["5 wood"]

    @pytest.mark.parametrize(
        ("fields", "status"),
        [
            ({"shot": "2020-01-01T00:00:00.000000+00:00", "do": "remove"}, 409),
            ({"hole": "77", "putts": "1"}, 400),
            ({"hole": "", "putts": "1"}, 400),
            ({"hole": "1", "do": "add", "clock": "later"}, 400),
            ({"hole": "1"}, 400),
            ({"form_token": "0"}, 403),
        ],
    )
    def test_what_cannot_be_changes_nothing(self, sheet, library, fields, status):
        told = sheet.ask("change", **fields)
        assert (told.status_code, told.mimetype) == (status, "application/json")
        assert told.json["faults"][0]
        assert entries(library) == ()

    def test_a_form_and_the_map_see_each_other(self, sheet, visitor, library):
        sheet.ask("change", hole="1", visit="0", putts="1")
        assert hidden(visitor.get("/rounds/1/holes/1").text)["seen"] == sheet.state["seen"]


class TestAtHand:
    def test_nothing_is_made_twice_and_nothing_old_is_shown(self, sheet, visitor, library, monkeypatch):
        made = []
        right = at_hand.rebuild_round
        monkeypatch.setattr(at_hand, "rebuild_round", lambda *given: made.append(1) or right(*given))
        sheet.ask("change", shot=sheet.shots(1)[0]["name"], club="5 wood")
        report = visitor.get("/rounds/1/report").text
        assert visitor.get("/rounds/1/report").text == report
        visitor.get(f"{MAP}/ground")
        # Derived: once, for the correction itself.
        assert made == [1]
        assert "5 wood" in report
        connection = open_library(library)
        putts = Correction("c2", "putts", hole=1, putts=3)
        correct_round(connection, 1, lambda corrections: corrections.adding(putts))
        connection.close()
        assert visitor.get("/rounds/1/report").text != report
        assert made == [1, 1]

    def test_a_track_is_laid_once_and_no_result_depends_on_it(self, sheet, monkeypatch):
        laid, right = [], at_hand.lay_track
        monkeypatch.setattr(at_hand, "_LAID", Shelf(2))
        monkeypatch.setattr(at_hand, "lay_track", lambda *given: laid.append(1) or right(*given))
        for putts in ("1", "3"):
            sheet.ask("change", hole="1", visit="0", putts=putts)
        assert laid == [1]
        kept = sheet.state
        monkeypatch.setattr(at_hand, "_ROUNDS", Shelf(2))
        monkeypatch.setattr(at_hand, "_LAID", Shelf(2))
        assert sheet.browser.get(f"{MAP}/state").json == kept

    def test_the_shelf_forgets_what_was_not_asked_for_longest(self):
        shelf, made = Shelf(2), []
        for key in "abaca":
            shelf.get(key, lambda key=key: made.append(key))
        # Derived: c puts b out, a was asked for meanwhile and stays.
        assert made == ["a", "b", "c"]
        shelf.get("b", lambda: made.append("b"))
        assert made == ["a", "b", "c", "b"]


class TestFuzz:
    WORDS = st.text(max_size=20) | st.sampled_from(["1", "0", "-1", "nan", "1e999", "\x00", "24:61", "10:52:50", "2026-05-16T09:00:00Z", "NaT", "add", "remove", "confirm", "picked_up", "not_played", "5 wood", "tee"])  # fmt: skip
    FIELDS = st.dictionaries(
        st.sampled_from(["do", "shot", "hole", "visit", "clock", "lon", "lat", "putts", "strokes", "club", "lie", "end_lie", "penalty", "to_hole", "note", "id"]),
        WORDS,
        max_size=6,
    )  # fmt: skip

    @fuzz(
        max_examples=60,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )
    @given(
        path=st.sampled_from(["change", "undo"]),
        fields=FIELDS,
        pick=st.integers(-1, 6),
        query=st.dictionaries(st.sampled_from(["hole", "x"]), WORDS, max_size=2),
    )
    def test_nothing_breaks_it(self, sheet, visitor, path, fields, pick, query):
        if pick >= 0 and sheet.state["shots"]:
            fields = fields | {"shot": sheet.state["shots"][pick % len(sheet.state["shots"])]["name"]}
        told = sheet.ask(path, **fields)
        assert told.status_code in (200, 400, 409)
        for shot in sheet.state["shots"]:
            assert shot["start"] is None or all(math.isfinite(value) for value in shot["start"])
        assert visitor.get(MAP, query_string=query).status_code == 200


def test_open_to_others_it_needs_the_token(library):
    browser = visit(
        WebSettings(library, PORT, "192.0.2.7", token="t0ken-invented"), f"http://192.0.2.7:{PORT}"
    )
    for end in ("", "/ground", "/state", "/seen"):
        assert browser.get(f"{MAP}{end}").status_code == 401
