"""The page in a real browser: by mouse, by keyboard, at the width of a phone, with scripts switched off."""

import threading

import pytest
from axe_playwright_python.sync_playwright import Axe

from trackgolf.library.correcting import read_corrections_of
from trackgolf.library.opening import open_library
from trackgolf.web.app import create_app
from trackgolf.web.serving import bind, make_server, page_address
from trackgolf.web.settings import WebSettings
from trackgolf.web.worker import Worker

pytestmark = pytest.mark.browser


@pytest.fixture
def address(library):
    bound = bind("127.0.0.1", 0)
    settings = WebSettings(library, bound.getsockname()[1])
    worker = Worker(settings, apart=False)
    worker.start()
    server = make_server(create_app(settings, worker.wake), settings, bound)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield page_address(settings)
    server.close()
    thread.join(10)
    worker.stop()


@pytest.fixture
def new_page(chromium, address):
    contexts, trouble = [], []

    def opener(width, **options):
        context = chromium.new_context(viewport={"width": width, "height": 800}, **options)
        contexts.append(context)
        page = context.new_page()
        # The browser itself remarks on the page that is not there on purpose.
        page.on("console", lambda message: None if "404" in message.text else trouble.append(message.text))
        page.on("pageerror", lambda error: trouble.append(f"error: {error}"))
        page.on(
            "request",
            lambda request: (
                None if request.url.startswith((address, "data:")) else trouble.append(request.url)
            ),
        )
        page.goto(address)
        return page

    yield opener
    for context in contexts:
        context.close()
    assert trouble == []


def entries(library):
    connection = open_library(library)
    try:
        return read_corrections_of(connection, 1).entries
    finally:
        connection.close()


def test_add_correct_and_undo_on_a_phone_without_scripts(new_page, library, invented_files):
    page = new_page(360, java_script_enabled=False)
    page.get_by_role("link", name="Add tracks").click()
    page.get_by_label("GPX files or zip").set_input_files(invented_files / "round_001.gpx")
    page.get_by_role("button", name="Add to the library").click()
    page.get_by_role("link", name="round 2").wait_for()
    page.get_by_role("link", name="Rounds", exact=True).click()
    page.locator("tbody a").nth(2).click()
    page.get_by_role("link", name="hole 1").click()
    shot = page.locator("details").nth(1)
    shot.locator("summary").click()
    shot.get_by_label("Club").select_option("5 wood")
    shot.get_by_role("button", name="Set right").click()
    page.get_by_text("Set right.", exact=True).wait_for()
    assert [(entry.what, entry.club) for entry in entries(library)] == [("club", "5 wood")]
    page.get_by_role("button", name="Undo the last").click()
    page.get_by_text("Set right.", exact=True).wait_for()
    assert entries(library) == ()


def test_by_keyboard_alone(new_page, library):
    page = new_page(1280)
    page.goto(page.url + "rounds/1/holes/1")
    page.get_by_label("Putts").focus()
    page.keyboard.type("1")
    page.keyboard.press("Enter")
    page.get_by_text("Set right.", exact=True).wait_for()
    assert [(entry.what, entry.putts) for entry in entries(library)] == [("putts", 1)]


@pytest.mark.parametrize("width", [360, 1280])
def test_every_page_fits_and_is_accessible(new_page, address, width):
    page = new_page(width)
    for path in ("", "import", "rounds/1", "rounds/1/holes/1", "rounds/7"):
        # The policy of the pages lets no script in, not even that of the check.
        page.route("**/*", plain)
        page.goto(address + path)
        for summary in page.locator("summary").all():
            summary.click()
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        page.unroute("**/*")
        for box in page.locator("button:visible, summary:visible, select:visible").all():
            # Source: WCAG 2.2, 2.5.5 (enhanced): 44 CSS pixels.
            assert box.bounding_box()["height"] >= 44


def plain(route):
    answer = route.fetch()
    headers = {name: value for name, value in answer.headers.items() if name != "content-security-policy"}
    route.fulfill(response=answer, headers=headers)
