"""Uploads in a real browser: dropped with the mouse, sent by keyboard, at the width of a phone, watched until they are done."""

import contextlib

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.trackgolf.library import invented
from tests.trackgolf.library.test_guessed import guessed_once  # noqa: F401
from tests.trackgolf.web.test_browser import address, new_page, plain  # noqa: F401
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_rounds

pytestmark = pytest.mark.browser


def players(library):
    with contextlib.closing(open_library(library)) as connection:
        return read_rounds(connection)["player"].tolist()


def drop(page, box, path):
    """Let a file fall onto a place of the page, as the mouse does."""
    session = page.context.new_cdp_session(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    # Source: Chrome DevTools Protocol, Input.dispatchDragEvent; operation 1 is to copy.
    data = {"items": [], "files": [str(path)], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        session.send("Input.dispatchDragEvent", {"type": kind, "x": x, "y": y, "data": data})


def test_dropped_with_the_mouse_and_watched(new_page, library, invented_files):  # noqa: F811
    page = new_page(1280)
    page.get_by_role("link", name="Add tracks").click()
    target = page.get_by_label("GPX files or zip")
    drop(page, target.bounding_box(), invented_files / "round_001.gpx")
    assert target.evaluate("box => [...box.files].map(file => file.name)") == ["round_001.gpx"]
    page.get_by_role("button", name="Add to the library").click()
    page.wait_for_url("**/jobs/1")
    # The page tells of the end by itself, and stays the page that it is.
    page.evaluate("document.body.dataset.mark = 'same'")
    page.get_by_role("heading", name="1 round kept").wait_for()
    assert page.evaluate("document.body.dataset.mark") == "same"
    assert page.title() == "Tracks added"
    page.get_by_role("link", name="round 2").click()
    page.wait_for_url("**/rounds/2")


def test_by_keyboard_with_a_new_player(new_page, library, invented_files):  # noqa: F811
    page = new_page(1280)
    page.goto(page.url + "import")
    page.get_by_label("GPX files or zip").set_input_files(invented_files / "round_002.gpx")
    page.locator("summary").first.focus()
    page.keyboard.press("Enter")
    for text in ("Tab", "Olu Brackwater", "Tab", "a playing", "Tab", "18", "Tab", "metres", "Tab"):
        page.keyboard.press("Tab") if text == "Tab" else page.keyboard.type(text)
    for club, (carry, _) in invented.CLUBS.items():
        page.keyboard.type(f"{club} {carry}")
        page.keyboard.press("Enter")
    page.get_by_role("button", name="Add to the library").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="1 round kept").wait_for()
    assert players(library) == [invented.PLAYER, "Olu Brackwater"]


@pytest.mark.parametrize("width", [360, 1280])
def test_pages_fit_and_are_accessible(new_page, address, library, guessed_once, width):  # noqa: F811
    page = new_page(width)
    page.get_by_role("link", name="Add tracks").click()
    page.get_by_label("GPX files or zip").set_input_files(
        {"name": f"{'long' * 30}.gpx", "mimeType": "text/xml", "buffer": b"no track"}
    )
    page.get_by_role("button", name="Add to the library").click()
    page.get_by_role("heading", name="No rounds kept").wait_for()
    # From now on another library, whose holes are guessed.
    library.write_bytes(guessed_once.read_bytes())
    for end in ("-wal", "-shm"):
        library.with_name(library.name + end).unlink(missing_ok=True)
    for path in ("", "rounds/1/course"):
        page.route("**/*", plain)
        page.goto(page.url if not path else address + path)
        for summary in page.locator("summary").all():
            summary.click()
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        page.unroute("**/*")
        for box in page.locator("button:visible, summary:visible, select:visible, .tick label:visible").all():
            # Source: WCAG 2.2, 2.5.8 (minimum): 24 CSS pixels.
            assert box.bounding_box()["height"] >= 24


def test_waiting_without_scripts_looks_again(chromium, library, invented_files):
    from trackgolf.library.jobs import add_job
    from trackgolf.web.app import create_app
    from trackgolf.web.settings import WebSettings

    with contextlib.closing(open_library(library)) as connection:
        add_job(connection, invented.PLAYER, {}, [])
    client = create_app(WebSettings(library, 8765)).test_client()
    text = client.get("/jobs/1", headers={"Host": "127.0.0.1:8765"}).text
    for scripts, reloads in ((False, True), (True, False)):
        context = chromium.new_context(java_script_enabled=scripts)
        page = context.new_page()
        asked = []
        page.route("**/*", answering(text, asked))
        page.goto("http://127.0.0.1:8765/jobs/1")
        page.wait_for_timeout(4000 if not scripts else 500)
        navigations = [url for url in asked if url.endswith("/jobs/1")]
        assert (len(navigations) > 1) == reloads
        if scripts:
            found = Axe().run(page)
            assert found.violations_count == 0, found.generate_report()
        context.close()


def answering(text, asked):
    """Answer whatever is asked for with one page, and note that it was."""

    def answer(route):
        asked.append(route.request.url)
        route.fulfill(body=text, content_type="text/html")

    return answer
