"""Guessed holes looked over in the browser's way, and the course made of them."""

import io
import json
import re

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as fuzz
from hypothesis import strategies as st

from tests.reports.invented import HOSTILE
from tests.trackgolf.library.test_guessed import guessed_once  # noqa: F401
from tests.trackgolf.web.conftest import PORT, visit
from trackgolf.web.settings import WebSettings

PAGE = "/rounds/1/course"


@pytest.fixture
def browser(guessed_once, tmp_path):  # noqa: F811
    place = tmp_path / "guessed.sqlite"
    place.write_bytes(guessed_once.read_bytes())
    return visit(WebSettings(place, PORT))


def ticked(*holes):
    return {f"right-{hole}": "1" for hole in holes}


class TestPages:
    def test_lead_from_the_round_to_the_course(self, browser):
        assert 'href="/rounds/1/course"' in browser.get("/rounds/1").text
        page = browser.get(PAGE).text
        assert len(re.findall(r'name="right-\d+" type="checkbox"', page)) == 18
        assert "% sure" in page
        told = browser.post(PAGE, {"do": "all", "name": HOSTILE}, page=PAGE)
        assert told.status_code == 303
        made = browser.get(told.location)
        assert "18 holes" in made.text
        assert "was rebuilt on it" in made.text
        for path in (told.location, "/rounds/1", "/import"):
            text = browser.get(path).text
            assert "<img" not in text
            assert "<script" not in text
        assert browser.get(PAGE).status_code == 303
        assert 'href="/rounds/1/course"' not in browser.get("/rounds/1").text

    def test_some_of_them(self, browser):
        told = browser.post(PAGE, ticked(1, 2) | {"name": "Park", "par-2": "5", "number-2": "3"}, page=PAGE)
        assert "stays on its guessed holes" in browser.get(told.location).text
        file = browser.get("/courses/1.geojson")
        # Source: RFC 6266, 4.2: the browser is to keep it, not to show it.
        assert file.headers["Content-Disposition"] == 'attachment; filename="course.geojson"'
        lines = {
            tags["ref"]: tags["par"]
            for tags in (feature["properties"] for feature in json.loads(file.text)["features"])
            if tags.get("golf") == "hole"
        }
        assert set(lines) == {"1", "3"}
        assert lines["3"] == "5"

    def test_a_file_goes_out_and_comes_back(self, browser):
        file = browser.get(f"{PAGE}.geojson")
        assert file.mimetype == "application/geo+json"
        form = {"name": "Park", "mended": (io.BytesIO(file.data), "mine.geojson")}
        told = browser.post(PAGE, form, page=PAGE)
        assert "18 holes" in browser.get(told.location).text

    @pytest.mark.parametrize(
        ("form", "said"),
        [
            ({"name": "Park"}, "no hole is confirmed"),
            ({"name": "Park", "do": "move"}, "there is no course to rebuild round 1 on"),
            ({"name": ""} | ticked(1), "the course has no name"),
            ({"name": "Park", "par-1": "12"} | ticked(1), "par of hole 1 is &#39;12&#39;"),
            ({"name": "Park", "number-1": "x"} | ticked(1), "number of hole 1"),
            ({"name": "Park", "number-1": "2"} | ticked(1, 2), "two holes have the number 2"),
        ],
    )
    def test_what_cannot_be_is_told_and_what_was_said_stays(self, browser, form, said):
        told = browser.post(PAGE, form, page=PAGE)
        assert told.status_code == 400
        assert said in told.text
        assert f'name="name" required maxlength="80" autocomplete="off" value="{form["name"]}"' in told.text
        assert (" checked" in told.text) == ("right-1" in form)
        assert browser.get("/courses/1.geojson").status_code == 404

    def test_a_drawn_course_has_no_such_page(self, visitor):
        told = visitor.get(PAGE)
        assert (told.status_code, told.location) == (303, "/rounds/1")
        assert visitor.get(f"{PAGE}.geojson").status_code == 404
        told = visitor.post(PAGE, {"name": "Park", "do": "all"}, page="/import")
        assert told.status_code == 400
        assert "are not guessed" in told.text


@fuzz(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    st.dictionaries(
        st.sampled_from(["do", "name", *(f"{kind}-{hole}" for kind in ("right", "number", "par", "index") for hole in (1, 2, 18, 99))]),
        st.text(max_size=12) | st.sampled_from(["1", "0", "-1", "4", "٣", "99", "all", "1e3"]),
        max_size=10,
    )
)  # fmt: skip
def test_no_form_breaks_it(browser, form):
    told = browser.post(PAGE, form, page="/import")
    assert told.status_code in (303, 400)
    for path in (PAGE, "/rounds/1", "/courses/1/made?number=x&moved=7"):
        assert browser.get(path).status_code in (200, 303, 404)
