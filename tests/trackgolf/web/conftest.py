"""The page on a library of invented rounds, asked as a browser would ask."""

import re
import shutil
import time

import pytest

from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.web.app import create_app
from trackgolf.web.settings import WebSettings
from trackgolf.web.worker import work_off

PORT = 8765
BASE = f"http://127.0.0.1:{PORT}"
# A plan of the whole course with the player's only bag.
ASKED = {"bag": "1", "course": "1"}
MADE = "/plans/made?bag=1&course=1"
# Deadlines are generous: machines that run tests do other things too.
PATIENCE_S = 90


@pytest.fixture(scope="session")
def invented_files(tmp_path_factory):
    return invented.season(tmp_path_factory.mktemp("files"), 3)


@pytest.fixture(scope="session")
def made_once(invented_files, tmp_path_factory):
    place = tmp_path_factory.mktemp("made") / "library.sqlite"
    put_in(place, invented_files / "round_000.gpx", **named(invented_files))
    return place


def named(folder):
    """What the command line would name beside a track."""
    from trackgolf.library.materials import CourseFiles

    return {
        "course": CourseFiles("Invented Links", (folder / "course.geojson").read_bytes(), None),
        "bag": (folder / "bag.toml").read_bytes(),
    }


@pytest.fixture
def library(made_once, tmp_path):
    place = tmp_path / "library.sqlite"
    shutil.copy(made_once, place)
    return place


@pytest.fixture
def settings(library):
    return WebSettings(library, PORT)


@pytest.fixture
def visitor(settings):
    """A browser that has looked at the page once."""
    return visit(settings)


def visit(settings, base=BASE):
    client = create_app(settings).test_client()
    client.environ_base["HTTP_HOST"] = base.removeprefix("http://")
    client.get("/", base_url=base)
    return Browser(client, base, settings)


class Browser:
    """Follows links and sends forms."""

    def __init__(self, client, base, settings):
        self.client, self.base, self.settings = client, base, settings

    def get(self, path, **options):
        return self.client.get(path, base_url=self.base, **options)

    def post(self, path, form=None, *, page="/import", headers=None, **options):
        """Send a form with the hidden fields of a page."""
        fields = hidden(self.get(page).text) | (form or {})
        wanted = {"Origin": self.base, "Sec-Fetch-Site": "same-origin"} if headers is None else headers
        return self.client.post(path, data=fields, base_url=self.base, headers=wanted, **options)

    def upload(self, form, **options):
        """Send tracks, have them worked off, and look at what became of them."""
        told = self.post("/import", form, **options)
        assert told.status_code == 303, told.text
        while work_off(self.settings):
            pass
        return self.get(told.location)


def hidden(text):
    """The token and state that the forms of a page carry."""
    return dict(re.findall(r'<input type="hidden" name="(form_token|seen)" value="([^"]*)">', text))


def shot_names(text):
    """What names the shots of a hole's page, in order."""
    return re.findall(r'name="shot" value="([^"]+)"', text)


def wait_for(browser, path, word):
    """Ask again as the page does by itself."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        told = browser.get(path)
        if word in told.text:
            return told
        assert told.headers["Refresh"] == "2"
        time.sleep(0.1)
    raise AssertionError(told.text)


def make_and_keep(browser, **more):
    told = browser.post("/plans", ASKED, page="/plans")
    assert (told.status_code, told.location) == (303, MADE)
    page = wait_for(browser, MADE, "strokes on average by this plan").text
    return browser.post("/plans/keep", hidden(page) | ASKED | {"next": "1"} | more, page="/plans")


@pytest.fixture(scope="session")
def planned_once(made_once, tmp_path_factory):
    place = tmp_path_factory.mktemp("planned") / "library.sqlite"
    shutil.copy(made_once, place)
    assert make_and_keep(visit(WebSettings(place, PORT))).status_code == 303
    return place


@pytest.fixture
def planned(planned_once, tmp_path):
    """A library with a kept plan."""
    place = tmp_path / "planned.sqlite"
    shutil.copy(planned_once, place)
    return place
