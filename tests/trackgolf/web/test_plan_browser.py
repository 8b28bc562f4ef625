"""A planned hole in a real browser: its targets moved by mouse, by keyboard, by thumb and by numbers, and kept."""

import json
import math

import pytest

from geo.geodesic import distance_bearing
from tests.reports.invented import HOSTILE
from tests.trackgolf.web.test_map_browser import Served, check, middle, plain
from trackgolf.library.opening import open_library
from trackgolf.library.shelf import list_plans, plan_content

pytestmark = pytest.mark.browser

HOLE = "plans/1/holes/3"


@pytest.fixture
def served(planned):
    program = Served(planned)
    yield program
    program.stop()


@pytest.fixture
def new_page(chromium, served):
    contexts, trouble = [], []

    def opener(width=1280, **options):
        context = chromium.new_context(viewport={"width": width, "height": 800}, **options)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: trouble.append(message.text))
        page.on("pageerror", lambda error: trouble.append(f"error: {error}"))
        page.on(
            "request",
            lambda asked: (
                None if asked.url.startswith((served.address, "data:")) else trouble.append(asked.url)
            ),
        )
        page.goto(served.address + HOLE)
        if options.get("java_script_enabled", True):
            page.locator("#plan-map[data-ready]").wait_for()
        return page

    yield opener
    for context in contexts:
        context.close()
    assert trouble == []


def first_targets(planned):
    """Where each version of the plan aims the first shot of the hole, newest version first."""
    connection = open_library(planned)
    try:
        documents = [json.loads(plan_content(connection, plan.id)) for plan in list_plans(connection)]
    finally:
        connection.close()
    shots = [
        next(
            one
            for one in document["features"]
            if (one["properties"]["hole"], one["properties"]["shot"]) == (3, 1)
        )
        for document in documents
    ]
    return [shot["geometry"]["coordinates"][1] for shot in shots]


def odds(page):
    return page.locator("#plan-odds b").all_inner_texts()


def moved(page, before):
    """Wait until the odds are those of the moved target."""
    page.wait_for_function(
        "before => [...document.querySelectorAll('#plan-odds b')].map(one => one.textContent).join() !== before",
        arg=",".join(before),
    )
    page.wait_for_function("() => !document.getElementById('plan').classList.contains('busy')")
    return odds(page)


def test_by_mouse_dragged_and_kept(new_page, planned):
    page = new_page()
    before = odds(page)
    x, y = middle(page.locator(".plan-handle").first)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20, y + 4, steps=4)
    # The odds change while the target is still held.
    during = moved(page, before)
    page.mouse.move(x + 45, y + 8, steps=4)
    after = moved(page, during)
    page.mouse.up()
    assert page.locator("#plan-state").inner_text() == "as moved, not kept"
    assert page.get_by_role("cell", name=" m").count() > 0
    page.get_by_role("button", name="Keep it so").click()
    page.get_by_text("Kept as a version of its own.").wait_for()
    page.locator("#plan-map[data-ready]").wait_for()
    assert odds(page) == after
    assert page.locator("#plan-state").inner_text() == "as kept"
    new, old = first_targets(planned)
    # Derived: right on the map is east.
    assert new[0] > old[0]
    assert float(after[0]) > float(during[0]) > float(before[0])


def test_by_keyboard_alone(new_page, planned):
    page = new_page()
    before = odds(page)
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.classList.contains('plan-handle')"):
            break
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("Target of shot 1, ")
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("ArrowDown")
    after = moved(page, before)
    # Once it is quiet the numbers are said, politely.
    page.wait_for_function("() => document.getElementById('plan-said').textContent.startsWith('Shot 1, ')")
    assert page.locator("#plan-said").get_attribute("role") == "status"
    assert f"{after[0]} strokes" in page.locator("#plan-said").inner_text()
    wanted = json.loads(page.locator("#plan-keep [name=wanted]").input_value())
    (start,) = first_targets(planned)
    # Derived: 20 m to the west and 1 m to the south, by the metres of the bag.
    distance_m, bearing_deg = distance_bearing(*start, wanted[0]["lon"], wanted[0]["lat"])
    assert float(distance_m) == pytest.approx(math.hypot(20, 1), abs=0.2)
    assert float(bearing_deg) == pytest.approx(270 - math.degrees(math.atan2(1, 20)), abs=0.5)
    page.keyboard.press("Escape")
    assert moved(page, after) == before
    assert page.locator("#plan-state").inner_text() == "as kept"


def test_by_thumb_at_360_px(new_page):
    page = new_page(360, has_touch=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    handle = page.locator(".plan-handle").first
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    # Source: WCAG 2.2, 2.5.5 (enhanced): 44 CSS pixels.
    assert min(box["width"], box["height"]) >= 44
    before = odds(page)
    x, y = middle(handle)
    # Source: Chrome DevTools Protocol, Input.dispatchTouchEvent: touches as a hand makes them.
    hand = page.context.new_cdp_session(page)
    for kind, points in (
        ("touchStart", [(x, y)]),
        ("touchMove", [(x + 8, y + 8)]),
        ("touchMove", [(x + 30, y + 24)]),
        ("touchEnd", []),
    ):
        hand.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": px, "y": py} for px, py in points]},
        )
    after = moved(page, before)
    assert after != before
    page.get_by_role("link", name="Take it back").tap()
    page.locator("#plan-map[data-ready]").wait_for()
    assert odds(page) == before


def test_without_scripts_on_a_phone(new_page, planned):
    page = new_page(360, java_script_enabled=False)
    before = odds(page)
    page.get_by_text("Move shot 1 by numbers").click()
    form = page.locator(".plan-form").first
    form.get_by_label("To the right of the line it has").fill("30")
    form.get_by_role("button", name="See the odds").click()
    page.get_by_text("as tried, not kept").wait_for()
    assert odds(page) != before
    page.get_by_role("button", name="Keep it so").click()
    page.get_by_text("Kept as a version of its own.").wait_for()
    new, old = first_targets(planned)
    assert float(distance_bearing(*old, *new)[0]) == pytest.approx(30.0, abs=0.6)


def test_what_a_person_wrote_is_shown_letter_by_letter(new_page):
    page = new_page()

    def hostile(route):
        answer = route.fetch()
        said = answer.json()
        said["shots"][0]["club"] = said["near"] = said["said"] = said["short"] = said["ends"] = HOSTILE
        said["notes"] = [HOSTILE]
        said["spots"] = [[HOSTILE, HOSTILE, HOSTILE]]
        said["odds"] = [[HOSTILE, HOSTILE]]
        route.fulfill(response=answer, json=said)

    page.route("**/try", hostile)
    page.locator(".plan-handle").first.press("ArrowLeft")
    page.locator("#plan-notes").get_by_text(HOSTILE).wait_for()
    page.locator("#plan-said").get_by_text(HOSTILE).wait_for()
    assert page.locator("#plan img, #plan script").count() == 0
    assert HOSTILE in page.locator(".plan-handle").first.get_attribute("aria-label")


@pytest.mark.parametrize(("width", "scheme"), [(360, "dark"), (1280, "light")])
def test_pages_fit_and_are_accessible(new_page, served, width, scheme):
    page = new_page(width, color_scheme=scheme)
    # The policy of the pages lets no script in, not even that of the check.
    page.route("**/*", plain)
    paths = (
        "players",
        "players/1",
        "players/1/carries?course=1",
        "plans",
        "plans/made?bag=1&course=1",
        "plans/1",
        HOLE,
    )
    for path in paths:
        page.goto(served.address + path)
        if path == HOLE:
            page.locator("#plan-map[data-ready]").wait_for()
            page.locator(".plan-handle").first.focus()
        for summary in page.locator("summary:visible").all():
            summary.click()
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        check(page)
        for box in page.locator("button:visible, summary:visible, select:visible, a.button:visible").all():
            # Source: WCAG 2.2, 2.5.5 (enhanced): 44 CSS pixels.
            assert box.bounding_box()["height"] >= 44, path
