"""Players, what their rounds say, and the new bag, asked as a browser would ask."""

import io

import pytest

from geo.units import YARD_M
from tests.reports.invented import HOSTILE
from tests.trackgolf.library import invented
from tests.trackgolf.web.conftest import PORT, hidden, visit
from tests.trackgolf.web.test_pages import HOLE, as_file
from trackgolf.library.coaching import read_player_notes
from trackgolf.library.find import current_bag, current_bag_bytes
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_round
from trackgolf.library.shelf import read_bags
from trackgolf.web.settings import WebSettings

CLUBS = "/players/1/carries"


@pytest.fixture
def connection(library):
    opened = open_library(library)
    yield opened
    opened.close()


class TestPlayers:
    def test_overview_leads_to_the_player_and_on(self, visitor):
        page = visitor.get("/players").text
        assert "1 player</h1>" in page
        assert invented.PLAYER in page
        assert "not ranked" in page
        assert "consent" in page
        one = visitor.get("/players/1").text
        # Derived: one round of three holes has a score; progress takes five rounds.
        assert "1 round, the last on" in one
        assert "too few rounds to tell (it takes 5)" in one
        assert "do not bear out any one thing yet" in one
        assert 'href="/rounds/1"' in one
        assert f'href="{CLUBS}"' in one
        assert 'href="/players/1/evidence#ev-green-h"' in one

    def test_a_corrected_round_is_looked_at_anew(self, visitor):
        before = {path: visitor.get(path).text for path in ("/players", "/players/1")}
        assert before == {path: visitor.get(path).text for path in before}
        visitor.post(f"{HOLE}/score", {"do": "not_played", "visit": "0"}, page=HOLE)
        for path, text in before.items():
            assert visitor.get(path).text != text

    def test_since_a_day(self, visitor):
        for path in ("/players", "/players/1"):
            assert "no round" in visitor.get(f"{path}?since=2999-01-01").text.casefold()
            for wrong in ("yesterday", "2026-13-01", "2026-1-1", "٢٠٢٦-٠١-٠١"):
                told = visitor.get(f"{path}?since={wrong}")
                assert told.status_code == 400
                assert "is not a day" in told.text
        assert "no rounds to learn from" in visitor.get(f"{CLUBS}?since=2999-01-01").text

    def test_who_is_not_there(self, visitor, tmp_path):
        for path in ("", "/carries", "/evidence", "/new-bag.toml"):
            assert visitor.get(f"/players/7{path}").status_code == 404
        assert visitor.post("/players/7/bag").status_code == 404
        empty = visit(WebSettings(tmp_path / "none.sqlite", PORT))
        assert "No players" in empty.get("/players").text
        assert empty.get("/players/1").status_code == 404


class TestNotes:
    def test_written_shown_and_taken_out(self, visitor, connection):
        told = visitor.post("/players/1/notes", {"text": " rushes the \n long putts "}, page="/players/1")
        assert (told.status_code, told.location) == (303, "/players/1#notes-h")
        assert [note.text for note in read_player_notes(connection, invented.PLAYER)] == [
            "rushes the long putts"
        ]
        assert "rushes the long putts" in visitor.get("/players/1").text
        assert ", 1 note</p>" in visitor.get("/players").text
        for wrong in ("7", "x", "", "99999999999999999999"):
            told = visitor.post("/players/1/notes/remove", {"note": wrong}, page="/players/1")
            assert told.status_code == 400
        told = visitor.post("/players/1/notes/remove", {"note": "1"}, page="/players/1")
        assert told.status_code == 303
        assert read_player_notes(connection) == []

    def test_what_is_no_note(self, visitor, connection):
        assert visitor.post("/players/1/notes", {"text": " \t "}, page="/players/1").status_code == 400
        assert visitor.post("/players/7/notes", {"text": "x"}, page="/plans").status_code == 404
        assert (
            visitor.client.post("/players/1/notes", data={"text": "x"}, base_url=visitor.base).status_code
            == 403
        )
        assert read_player_notes(connection) == []


class TestClubs:
    def test_table_and_report_say_the_same(self, visitor):
        page = visitor.get(CLUBS).text
        for club in invented.CLUBS:
            assert club in page
        report = visitor.get("/players/1/evidence?course=1")
        assert "driver" in report.text
        policy = report.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; script-src 'sha256-")
        assert policy.endswith("frame-ancestors 'none'")
        assert 'href="/players/1/carries"' in report.text

    def test_lengths_in_the_units_of_the_bag(self, visitor, tmp_path, invented_files):
        # Source: the invented bag; 170 and 10 m are 180 m in all, 196.85 yd.
        assert '<td class="n plan">180</td>' in visitor.get(CLUBS).text
        assert round(180 / YARD_M) == 197
        bag = invented.bag().replace('units = "m"', 'units = "yd"').encode()
        browser = visit(WebSettings(tmp_path / "yards.sqlite", PORT))
        browser.upload({
            "tracks": as_file(invented_files / "round_000.gpx"), "bag": (io.BytesIO(bag), "bag.toml"),
            "course_file": as_file(invented_files / "course.geojson"),
        })  # fmt: skip
        page = browser.get(CLUBS).text
        assert "Lengths in yards" in page
        assert '<td class="n plan">180</td>' in page

    def test_before_and_after(self, visitor):
        page = visitor.get(f"{CLUBS}?course=1").text
        assert "With the new bag</th>" in page or "Both bags give the same plan" in page
        for wrong in ("course=7", "course=x", "course=1&tee=none", "course=99999999999999999999"):
            assert visitor.get(f"{CLUBS}?{wrong}").status_code == 400

    def test_download_is_the_new_bag(self, visitor):
        told = visitor.get("/players/1/new-bag.toml")
        assert told.headers["Content-Disposition"] == 'attachment; filename="new-bag.toml"'
        assert told.mimetype == "application/toml"
        assert told.text.startswith("# invented player and bag\n# bag from evidence\n# 1 round;")

    def test_taken_it_is_the_next_version(self, visitor, connection):
        before = current_bag_bytes(connection, invented.PLAYER)
        text = visitor.get("/players/1/new-bag.toml").text
        old = visitor.get(CLUBS).text
        told = visitor.post("/players/1/bag", {"bag": "1"}, page=CLUBS)
        assert (told.status_code, told.location) == (303, "/players/1?bag=1")
        assert "The new bag is the player" in visitor.get(told.location).text
        assert [bag.version for bag in read_bags(connection, 1)] == [2, 1]
        assert current_bag_bytes(connection, invented.PLAYER).decode() == text
        assert current_bag(connection, invented.PLAYER).player == invented.PLAYER
        # A round keeps the bag it was played with.
        assert read_round(connection, 1)[1].bag == before
        again = visitor.post("/players/1/bag", hidden(old) | {"bag": "1"}, page=CLUBS)
        assert again.status_code == 409
        assert len(read_bags(connection, 1)) == 2

    def test_changes_need_the_token_and_our_own_page(self, visitor, connection):
        told = visitor.client.post("/players/1/bag", data={"bag": "1"}, base_url=visitor.base)
        assert told.status_code == 403
        told = visitor.post("/players/1/bag", {"bag": "1", "form_token": "0"}, page=CLUBS)
        assert told.status_code == 403
        assert visitor.post("/players/1/bag", {"bag": "one"}, page=CLUBS).status_code == 400
        assert visitor.post("/players/1/bag", {"bag": "1", "since": "x"}, page=CLUBS).status_code == 400
        assert len(read_bags(connection, 1)) == 1


def test_no_text_of_a_person_means_anything(tmp_path, invented_files):
    browser = visit(WebSettings(tmp_path / "hostile.sqlite", PORT))
    bag = invented.bag("{{7*7}} </script> <img src=x onerror=alert(1)> 'a' & %s").encode()
    browser.upload({
        "tracks": as_file(invented_files / "round_000.gpx"),
        "bag": (io.BytesIO(bag), "bag.toml"),
        "course_file": (io.BytesIO(invented.course(HOSTILE).encode()), "course.geojson"),
    })  # fmt: skip
    browser.post("/players/1/notes", {"text": HOSTILE}, page="/players/1")
    assert "<img" not in browser.get("/players/1").text
    assert "&lt;img src=x onerror=alert(1)&gt;" in browser.get("/players/1").text
    for path in ("/players", "/players/1", f"{CLUBS}?course=1"):
        text = browser.get(path).text
        assert "<img" not in text
        assert "<script" not in text
        assert "{{7*7}} &lt;/script&gt; " in text
    assert "<img src=x" not in browser.get("/players/1/evidence?course=1").text
    told = browser.get("/players/1/new-bag.toml")
    assert "{{7*7}} </script>" in told.text
    assert told.headers["Content-Disposition"] == 'attachment; filename="new-bag.toml"'
