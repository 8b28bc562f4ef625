"""The round on the map in a real browser: set right by mouse, by keyboard and by thumb, undone, in two windows."""

import threading

import pytest
from axe_playwright_python.sync_playwright import Axe

from geo.geodesic import distance_bearing
from tests.reports.invented import HOSTILE
from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.library.correcting import read_corrections_of
from trackgolf.library.materials import CourseFiles
from trackgolf.library.opening import open_library
from trackgolf.web.app import create_app
from trackgolf.web.serving import bind, make_server, page_address
from trackgolf.web.settings import WebSettings

pytestmark = pytest.mark.browser


class Served:
    """The program, which can be started anew at its address: with other secrets."""

    def __init__(self, library):
        bound = bind("127.0.0.1", 0)
        self.settings = WebSettings(library, bound.getsockname()[1])
        self.address = page_address(self.settings)
        self.start()
        self.server = make_server(self.answer, self.settings, bound)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()

    def start(self):
        self.app = create_app(WebSettings(self.settings.library, self.settings.port))

    def answer(self, *asked):
        return self.app(*asked)

    def stop(self):
        self.server.close()
        self.thread.join(10)


@pytest.fixture
def served(library):
    program = Served(library)
    yield program
    program.stop()


@pytest.fixture
def open_map(chromium, served):
    contexts, trouble = [], []

    def opener(width=1280, hole=1, **options):
        context = chromium.new_context(viewport={"width": width, "height": 800}, **options)
        contexts.append(context)
        page = context.new_page()
        # Refusals are asked for here, and the browser remarks on each.
        page.on(
            "console",
            lambda message: (
                None
                if "status of 4" in message.text or "ERR_INTERNET" in message.text
                else trouble.append(message.text)
            ),
        )
        page.on("pageerror", lambda error: trouble.append(f"error: {error}"))
        page.on(
            "request",
            lambda request: (
                None if request.url.startswith((served.address, "data:")) else trouble.append(request.url)
            ),
        )
        page.goto(f"{served.address}rounds/1/map?hole={hole}")
        page.locator(".shot-handle").first.wait_for()
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


def said(page, text):
    """Wait until the page says that something is done."""
    page.wait_for_function("text => document.getElementById('status').textContent.startsWith(text)", arg=text)


def middle(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page, number, by):
    x, y = middle(page.locator(".shot-handle").nth(number))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by[0] / 2, y + by[1] / 2, steps=3)
    page.mouse.move(x + by[0], y + by[1], steps=3)
    page.mouse.up()


def test_by_mouse_drag_then_undo(open_map, library):
    page = open_map()
    lines = page.locator("#shots label")
    before = lines.all_inner_texts()
    x, y = middle(page.locator(".shot-handle").nth(1))
    drag(page, 1, (30, 24))
    said(page, "Done: shot 2 of hole 1 moved")
    (entry,) = entries(library)
    assert entry.what == "move"
    # The handle lies where it was dropped, and the round was found anew around it.
    now = middle(page.locator(".shot-handle").nth(1))
    assert now == pytest.approx((x + 30, y + 24), abs=2)
    assert lines.all_inner_texts() != before
    page.keyboard.press("u")
    said(page, "Done: undone")
    assert entries(library) == ()
    assert lines.all_inner_texts() == before
    assert middle(page.locator(".shot-handle").nth(1)) == pytest.approx((x, y), abs=1)


def test_by_keyboard_alone(open_map, library):
    page = open_map()
    page.locator("#shots input").first.focus()
    page.keyboard.press("ArrowDown")
    assert page.locator("#shot-h").inner_text() == "Shot 2"
    page.get_by_role("button", name="Move with arrow keys").focus()
    page.keyboard.press("Enter")
    for key in (
        "Shift+ArrowUp",
        "ArrowUp",
        "ArrowRight",
        "Escape",
        "Shift+ArrowRight",
        "ArrowRight",
        "Enter",
    ):
        page.keyboard.press(key)
    said(page, "Done: shot 2 of hole 1 moved")
    page.get_by_label("Club").focus()
    page.keyboard.type("7")
    page.keyboard.press("Tab")
    said(page, "Done: shot 2 of hole 1 club 7")
    move, club = entries(library)
    assert club.club.startswith("7")
    # Derived: what came before Escape is taken back; one step of 10 m and one of 1 m east are left.
    walked = page.evaluate("fetch('/rounds/1/map/state').then(answer => answer.json())")
    # Twice in a row takes back two, though the first is not done when the second is asked for.
    page.locator("#undo").focus()
    page.keyboard.press("Control+z")
    page.keyboard.press("u")
    page.wait_for_function("() => document.getElementById('undo').disabled")
    first = page.evaluate("fetch('/rounds/1/map/state').then(answer => answer.json())")
    distance_m, bearing_deg = distance_bearing(*first["shots"][1]["start"], move.lon_deg, move.lat_deg)
    assert distance_m == pytest.approx(11.0, abs=0.1)
    assert bearing_deg == pytest.approx(90.0, abs=1.0)
    assert walked["shots"][1]["start"] == pytest.approx([move.lon_deg, move.lat_deg], abs=1e-6)
    page.locator("#shots input").nth(2).focus()
    page.keyboard.press("Space")
    page.keyboard.press("Delete")
    said(page, "Done: shot 3 of hole 1 taken out")
    page.keyboard.press("a")
    page.keyboard.press("Tab")
    page.keyboard.type(first["shots"][2]["clock"])
    page.keyboard.press("Enter")
    said(page, "Done: shot added to hole 1")
    assert [entry.what for entry in entries(library)] == ["remove", "add"]
    page.get_by_label("Putts").focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("3")
    page.keyboard.press("Enter")
    said(page, "Done: hole 1: putts")


def test_by_thumb_at_360_px(open_map, library):
    page = open_map(360, has_touch=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    handle = page.locator(".shot-handle").nth(1)
    handle.tap()
    box = handle.bounding_box()
    # Source: WCAG 2.2, 2.5.5 (enhanced): 44 CSS pixels.
    assert min(box["width"], box["height"]) >= 44
    for one in page.locator(
        "button:visible, select:visible, .shot-list label:visible, summary:visible, .leaflet-bar a"
    ).all():
        assert one.bounding_box()["height"] >= 44
    x, y = middle(handle)
    # Source: Chrome DevTools Protocol, Input.dispatchTouchEvent: touches as a hand makes them.
    hand = page.context.new_cdp_session(page)
    for kind, points in (
        ("touchStart", [(x, y)]),
        ("touchMove", [(x + 8, y + 8)]),
        ("touchMove", [(x + 20, y + 16)]),
        ("touchEnd", []),
    ):
        hand.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": px, "y": py} for px, py in points]},
        )
    said(page, "Done: shot 2 of hole 1 moved")
    page.get_by_role("button", name="Tap its place").tap()
    map_x, map_y = middle(page.locator("#map"))
    page.touchscreen.tap(map_x, map_y)
    page.wait_for_function("() => document.getElementById('entries').childElementCount === 2")
    assert middle(page.locator(".shot-handle").nth(1)) == pytest.approx((map_x, map_y), abs=2)
    page.get_by_role("button", name="Add a shot").tap()
    page.touchscreen.tap(map_x, map_y - 30)
    page.get_by_role("button", name="Add it").tap()
    page.wait_for_function("() => document.getElementById('entries').childElementCount === 3")
    assert [entry.what for entry in entries(library)] == ["move", "move", "add"]


@pytest.mark.parametrize("hole", ["99", "0", "-1", "x", ""])
def test_an_odd_address_shows_the_round(open_map, served, hole):
    page = open_map()
    page.goto(f"{served.address}rounds/1/map?hole={hole}")
    page.locator(".shot-handle, .hole-number").first.wait_for()


def test_second_window_is_told_and_loses_nothing(open_map, library):
    first, second = open_map(), open_map()
    second.get_by_label("Why, if you want to remember it; goes").fill("thin, into the wind")
    drag(first, 1, (20, 20))
    said(first, "Done: shot 2")
    second.locator("#shots input").nth(1).check()
    second.get_by_label("Club").select_option("5 wood")
    second.get_by_text("corrected elsewhere").wait_for()
    assert len(entries(library)) == 1
    second.get_by_role("button", name="Show it as it is now").click()
    second.get_by_text("This is the round as it is now.").first.wait_for()
    assert second.get_by_label("Why, if you want to remember it; goes").input_value() == "thin, into the wind"
    assert second.locator("#entries li").count() == 1
    second.get_by_role("button", name="Do it again: shot 2 of hole 1 club 5 wood").click()
    said(second, "Done: shot 2 of hole 1 club 5 wood")
    move, club = entries(library)
    assert (move.what, club.club, club.note) == ("move", "5 wood", "thin, into the wind")
    # Looked at again, the other window notices by itself.
    first.evaluate("window.dispatchEvent(new Event('focus'))")
    first.get_by_text("corrected elsewhere").wait_for()


def test_goes_on_after_a_new_start_of_the_program(open_map, served, library):
    page = open_map()
    page.context.set_offline(True)
    page.get_by_label("Club").select_option("5 wood")
    page.get_by_text("does not answer").wait_for()
    assert entries(library) == ()
    page.context.set_offline(False)
    served.start()
    page.get_by_role("button", name="Do it again: shot 1 of hole 1 club 5 wood").click()
    said(page, "Done: shot 1 of hole 1 club 5 wood")
    assert len(entries(library)) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_is_accessible(open_map, scheme):
    for width in (360, 1280):
        page = open_map(width, color_scheme=scheme)
        page.route("**/*", plain)
        page.reload()
        page.locator(".shot-handle").first.wait_for()
        page.locator("summary").click()
        check(page)
        page.get_by_role("button", name="Add a shot").click()
        check(page)
        page.get_by_role("button", name="Cancel").first.click()
        page.locator("#playing").select_option("")
        check(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def check(page):
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def plain(route):
    """Let the check's own script in, which the policy of the page does not."""
    answer = route.fetch()
    headers = {name: value for name, value in answer.headers.items() if name != "content-security-policy"}
    route.fulfill(response=answer, headers=headers)


class TestLiteral:
    @pytest.fixture
    def library(self, tmp_path, invented_files):
        place = tmp_path / "hostile.sqlite"
        bag = invented.bag("{{7*7}} </script> <img src=x onerror=alert(1)> 'a' & %s")
        put_in(
            place,
            invented_files / "round_000.gpx",
            course=CourseFiles(HOSTILE, invented.course(HOSTILE).encode(), None),
            bag=bag.replace("5 wood", "<b>5</b> {{1}} wood").encode(),
        )
        return place

    def test_no_text_of_a_person_runs(self, open_map, library):
        page = open_map()
        page.on("dialog", lambda dialog: pytest.fail("a text ran"))
        note = "<img src=x onerror=alert(2)> {{7*7}} ${7*7} </script>"
        page.get_by_label("Why, if you want to remember it; goes").fill(note)
        page.get_by_label("Club").select_option("<b>5</b> {{1}} wood")
        said(page, "Done: shot 1 of hole 1 club <b>5</b> {{1}} wood")
        assert note in page.locator("#entries").inner_text()
        assert "<b>5</b> {{1}} wood" in page.locator("#shots").inner_text()
        assert "{{7*7}} </script> <img src=x" in page.locator(".who").inner_text()
        assert page.locator("main img, main b, header img").count() == 0
