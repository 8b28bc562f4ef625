"""Plans made in the background, kept, set for the next round, changed hole by hole: asked as a browser would ask."""

import io
import json
import re
import time

import gpxpy
import pytest
import shapely

from geo.geodesic import distance_bearing
from tests.reports.invented import HOSTILE
from tests.trackgolf.library import invented
from tests.trackgolf.web.conftest import ASKED, MADE, PORT, hidden, make_and_keep, visit, wait_for
from tests.trackgolf.web.test_pages import as_file
from trackgolf.library.find import current_plan_bytes, known_courses
from trackgolf.library.materials import CourseFiles
from trackgolf.library.opening import open_library, writing
from trackgolf.library.shelf import list_plans, read_bags
from trackgolf.library.versions import add_course, add_plan
from trackgolf.strategy.rounds import hole_tasks, run_tasks, strategy_plans
from trackgolf.web.plan_data import round_tasks
from trackgolf.web.settings import WebSettings

HOLE = "/plans/1/holes/3"


@pytest.fixture(scope="session")
def looker(planned_once):
    """A browser that changes nothing, so that holes are made ready once."""
    return visit(WebSettings(planned_once, PORT))


@pytest.fixture
def planner(planned):
    return visit(WebSettings(planned, PORT))


def connected(place, reader):
    connection = open_library(place)
    try:
        return reader(connection)
    finally:
        connection.close()


def shots_of(text):
    """The shots that the page of a hole goes by, as its script gets them."""
    return json.loads(re.findall(r'name="wanted" value="([^"]*)"', text)[-1].replace("&#34;", '"'))


class TestMaking:
    def test_a_plan_is_that_of_the_command(self, visitor, library):
        assert "Make the plan</button>" in visitor.get("/plans").text
        assert '<option value="1" selected>Invented Links</option>' in visitor.get("/plans?player=1").text
        for odd in ("7", "x", "99999999999999999999"):
            assert visitor.get(f"/plans?player={odd}").status_code in (200, 400)
        assert "Not made yet" in visitor.get(MADE).text
        visitor.post("/plans", ASKED, page="/plans")
        page = wait_for(visitor, MADE, "strokes on average by this plan").text
        # Source: what `trackgolf plan` runs, on the same files.
        course, bag, _ = round_tasks(*materials_of(library))
        tasks = hole_tasks(course, bag)[1:2]
        (made,) = run_tasks(tasks, 1)
        assert f'<td class="n">{made.plans["on plan"].odds.expected_strokes:.2f}</td>' in page
        plan = strategy_plans(course, bag, tasks, [made]).plans["on plan"]
        said = [f"<bdi>{row['club']} {row['distance_m']:.0f}</bdi>" for row in plan.shots.to_dict("records")]
        assert f'2</th><td class="plan">{", ".join(said)}</td>' in page
        book = visitor.get("/plans/made/book?bag=1&course=1")
        assert book.headers["Content-Security-Policy"].startswith("default-src 'none'; script-src 'sha256-")
        assert "Invented Links" in book.text
        assert 'href="/plans/made?bag=1&amp;course=1"' in book.text
        form = hidden(page) | ASKED
        assert visitor.post("/plans/keep", form, page="/plans").location == "/plans/1"
        # A second window is told; the pages of what was kept are at hand.
        assert visitor.post("/plans/keep", form, page="/plans").status_code == 409
        assert [plan.waits for plan in connected(library, list_plans)] == [False]
        assert 'href="/plans/1"' in visitor.get("/plans/1/book").text

    @pytest.mark.parametrize(
        ("form", "said"),
        [
            ({}, "no such bag"),
            ({"bag": "7", "course": "1"}, "no such bag"),
            ({"bag": "1", "course": "7"}, "no such course"),
            ({"bag": "x", "course": "1"}, "not one of the list"),
            ({"bag": "99999999999999999999", "course": "1"}, "not one of the list"),
            ({"bag": "1", "course": "1", "tee": "moon"}, "moon"),
        ],
    )
    def test_what_cannot_be_planned_is_told(self, visitor, form, said):
        for path in ("/plans", "/plans/keep"):
            told = visitor.post(path, form, page="/plans")
            assert told.status_code == 400
        assert said in visitor.post("/plans", form, page="/plans").text
        query = "&".join(f"{name}={value}" for name, value in form.items())
        for path in ("/plans/made", "/plans/made/book"):
            assert visitor.get(f"{path}?{query}").status_code in (200, 303, 400)

    def test_nothing_there(self, tmp_path, visitor):
        assert (
            "It takes a course and a player" in visit(WebSettings(tmp_path / "none", PORT)).get("/plans").text
        )
        for path in ("", "/book", "/plan.geojson", "/plan.gpx", "/holes/1", "/holes/1/ground"):
            assert visitor.get(f"/plans/9{path}").status_code == 404
        for path in ("/next", "/book", "/holes/1/try", "/holes/1/keep"):
            assert visitor.post(f"/plans/9{path}", page="/plans").status_code == 404


def materials_of(library):
    return connected(
        library,
        lambda connection: (known_courses(connection)[0].files, None, read_bags(connection, 1)[0].content),
    )


def with_plan(library, content):
    """Put a plan into the library as an import does."""

    def put(connection):
        with writing(connection):
            add_plan(connection, 1, 1, content, "2999-01-01T00:00:00.000000Z")

    connected(library, put)


class TestKept:
    def test_it_is_the_plan_of_the_next_round(self, planner, planned, invented_files):
        page = planner.get("/plans/1").text
        assert "Set for the next round here." in page
        assert 'href="/plans/1/holes/3"' in page
        told = planner.post("/plans/1/next", {"do": "unset"}, page="/plans/1")
        assert told.location == "/plans/1"
        assert [plan.waits for plan in connected(planned, list_plans)] == [False]
        planner.post("/plans/1/next", page="/plans/1")
        assert [plan.waits for plan in connected(planned, list_plans)] == [True]
        old = planner.get("/plans/1").text
        planner.post("/plans/1/next", {"do": "unset"}, page="/plans/1")
        assert planner.post("/plans/1/next", hidden(old), page="/plans/1").status_code == 409
        assert "Kept plans" in planner.get("/plans").text

    def test_downloads(self, planner, planned, tmp_path):
        told = planner.get("/plans/1/plan.geojson")
        assert told.headers["Content-Disposition"] == 'attachment; filename="plan.geojson"'
        document = json.loads(told.text)
        assert told.data == connected(planned, lambda c: current_plan_bytes(c, invented.PLAYER, 1))
        assert [one["hole"] for one in document["odds"]] == [1, 2, 3]
        # Source: gpxpy; a mark a target.
        assert len(gpxpy.parse(planner.get("/plans/1/plan.gpx").text).waypoints) == len(document["features"])

    def test_a_plan_from_elsewhere_is_the_player_s_as_a_whole(self, planner, planned):
        document = json.loads(planner.get("/plans/1/plan.geojson").text)
        for name in ("made_with", "odds"):
            del document[name]
        for feature in document["features"]:
            for name in ("planned_club", "planned_lon_deg", "planned_lat_deg"):
                del feature["properties"][name]
        text = json.dumps(document).replace('"name"', '"odds": [NaN, {"hole": 1e999}, 7], "name"', 1)
        with_plan(planned, text.encode())
        page = planner.get("/plans/2").text
        assert page.count("(yours)") == 3
        assert '<td class="n">–</td>' in page
        hole = planner.get("/plans/2/holes/3")
        assert [shot["club"] for shot in shots_of(hole.text)] == [
            one["properties"]["club"] for one in document["features"] if one["properties"]["hole"] == 3
        ]
        shots = shots_of(hole.text)[:1]
        shots[0]["lat"] -= 0.0001
        told = planner.post("/plans/2/holes/3/keep", {"wanted": json.dumps(shots)}, page="/plans/2/holes/3")
        assert told.location == "/plans/3/holes/3?done=1"
        assert planner.get("/plans/3").status_code == 200

    def test_a_plan_that_does_not_fit_is_told(self, planner, planned):
        text = planner.get("/plans/1/plan.geojson").text.replace('"club": "driver"', '"club": "broom"')
        with_plan(planned, text.encode())
        for path in ("", "/holes/1", "/book", "/plan.gpx"):
            told = planner.get(f"/plans/2{path}")
            assert told.status_code == 400
            assert "this plan: " in told.text
            assert "broom" in told.text
        assert planner.get("/plans/2/plan.geojson").status_code == 200

    def test_the_book_of_a_changed_plan_is_made_around_the_change(self, planner):
        assert "Not made yet" in planner.get("/plans/1/book").text
        shots = shots_of(planner.get(HOLE).text)[:1]
        shots[0]["lat"] -= 0.0003
        told = planner.post(f"{HOLE}/keep", {"wanted": json.dumps(shots)}, page=HOLE)
        mine = told.location.partition("/holes")[0]
        assert planner.post(f"{mine}/book", page=mine).location == f"{mine}/book"
        book = wait_for(planner, f"{mine}/book", 'id="content"')
        while "Refresh" in book.headers:
            time.sleep(0.1)
            book = wait_for(planner, f"{mine}/book", 'id="content"')
        assert f'href="{mine}"' in book.text
        assert "script-src 'sha256-" in book.headers["Content-Security-Policy"]
        strokes = json.loads(planner.get(f"{mine}/plan.geojson").text)["odds"][2]["expected_strokes"]
        assert f"{strokes:.2f}" in book.text


class TestScorecard:
    def test_a_course_without_positions_has_a_plan_and_no_map(self, library):
        browser = visit(WebSettings(library, PORT))
        card = CourseFiles("Invented Card", None, b"hole,par,stroke_index,length_m\n1,4,1,330\n2,3,2,140\n")
        connection = open_library(library)
        with writing(connection):
            add_course(connection, card, shapely.MultiLineString(), "Invented Card", "UTC", "2026-01-01")
        connection.close()
        asked = ASKED | {"course": "2"}
        told = browser.post("/plans", asked, page="/plans")
        page = wait_for(browser, told.location, "strokes on average by this plan").text
        assert browser.post("/plans/keep", hidden(page) | asked, page="/plans").location == "/plans/1"
        assert "there are no targets to move" in browser.get("/plans/1").text
        hole = browser.get("/plans/1/holes/1")
        assert hole.status_code == 200
        assert "leaflet" not in hole.text
        assert browser.get("/plans/1/holes/1/ground").status_code == 404
        assert browser.get("/plans/1/plan.gpx").status_code == 400
        shots = json.dumps([{"club": "driver", "lon": 0, "lat": 0}])
        for path in ("try", "keep"):
            told = browser.post(f"/plans/1/holes/1/{path}", {"wanted": shots}, page="/plans/1")
            assert "has no positions" in told.text


class TestHole:
    def moved(self, planner, north_deg, count=1):
        """The first shots of the hole, the last of them moved north."""
        shots = shots_of(planner.get(HOLE).text)[:count]
        shots[-1]["lat"] += north_deg
        return shots

    def ask(self, planner, shots, **more):
        return planner.post(
            f"{HOLE}/try",
            {"wanted": shots if isinstance(shots, str) else json.dumps(shots)} | more,
            page=HOLE,
            headers={"Origin": planner.base, "Sec-Fetch-Site": "same-origin", "Accept": "application/json"},
        )

    def test_the_page_says_what_was_kept(self, looker):
        page = looker.get(HOLE)
        odds = json.loads(looker.get("/plans/1/plan.geojson").text)["odds"][2]
        assert f"<b>{odds['expected_strokes']:.2f}</b>" in page.text
        assert "as kept" in page.text
        assert "script-src 'self'" in page.headers["Content-Security-Policy"]
        assert "<script>" not in page.text
        assert "style=" not in page.text

    def test_a_moved_target_has_other_odds(self, looker):
        before = self.ask(looker, "").json
        # Derived: 0.0005 degrees of latitude are 55.6 m, shorter on this hole that is played north.
        answer = self.ask(looker, self.moved(looker, -0.0005)).json
        assert answer["wanted"] == 1
        assert float(answer["odds"][0][1]) > float(before["odds"][0][1])
        first, second = answer["shots"][:2]
        assert first["target"] == second["start"]
        assert int(before["shots"][0]["distance"]) - int(first["distance"]) == pytest.approx(55.6, abs=1.1)
        assert answer["said"].startswith(f"Shot 1, {first['club']} {first['distance']} m: ")

    def test_beyond_the_club_is_said(self, looker):
        answer = self.ask(looker, self.moved(looker, 0.0006)).json
        assert "the odds are for the nearest that it can do" in answer["said"]

    @pytest.mark.parametrize(
        "wanted",
        [
            "x", "[]", "{}", "[1]", "null", "[[]]", '[{"club": "driver"}]', '[{"club": "broom", "lon": -31, "lat": 47}]',
            '[{"club": "driver", "lon": NaN, "lat": 47}]', '[{"club": "driver", "lon": 1e999, "lat": 47}]',
            '[{"club": "driver", "lon": 12, "lat": 47}]', '[{"club": "driver", "lon": -31, "lat": -47}]',
            "[" * 5000, '[{"club": "driver", "lon": -31.0, "lat": 47.0}' + ', {"club": "driver", "lon": -31.0, "lat": 47.0}' * 40 + "]",
        ],
    )  # fmt: skip
    def test_what_cannot_be_is_told(self, looker, planned_once, wanted):
        assert self.ask(looker, wanted).status_code == 400
        for path in ("try", "keep"):
            assert looker.post(f"{HOLE}/{path}", {"wanted": wanted}, page=HOLE).status_code == 400
        assert len(connected(planned_once, list_plans)) == 1

    def test_without_a_script_by_numbers(self, planner, planned):
        shots = json.dumps(shots_of(planner.get(HOLE).text)[:1])
        told = planner.post(
            f"{HOLE}/try", {"wanted": shots, "club": "5 wood", "distance": "120", "side": "-10"}, page=HOLE
        )
        assert told.status_code == 200
        assert "as tried, not kept" in told.text
        wanted = re.findall(
            r'name="seen" value="[^"]*">\s*<input type="hidden" name="wanted" value="([^"]*)"', told.text
        )[0]
        first = json.loads(wanted.replace("&#34;", '"'))[0]
        # Derived: 120 m on along the line and 10 m to the left of it are 120.4 m.
        start = json.loads(planner.get("/plans/1/plan.geojson").text)["features"]
        start = next(one for one in start if one["properties"]["hole"] == 3)["geometry"]["coordinates"][0]
        distance_m, _ = distance_bearing(*start, first["lon"], first["lat"])
        assert float(distance_m) == pytest.approx((120**2 + 10**2) ** 0.5, abs=0.1)
        assert first["club"] == "5 wood"
        for wrong in ({"distance": "far"}, {"side": "nan"}, {"club": "broom"}, {"distance": "690"}):
            assert planner.post(f"{HOLE}/try", {"wanted": shots} | wrong, page=HOLE).status_code == 400
        told = planner.post(
            f"{HOLE}/keep", hidden(told.text) | {"wanted": wanted.replace("&#34;", '"')}, page=HOLE
        )
        assert told.location == "/plans/2/holes/3?done=1"

    def test_kept_it_is_a_version_and_takes_the_place_for_the_next_round(self, planner, planned):
        old = planner.get(HOLE).text
        shots = self.moved(planner, -0.0003)
        tried = self.ask(planner, shots).json
        told = planner.post(f"{HOLE}/keep", hidden(old) | {"wanted": json.dumps(shots)}, page=HOLE)
        assert told.location == "/plans/2/holes/3?done=1"
        page = planner.get(told.location).text
        assert "Kept as a version of its own." in page
        # What was tried is what is kept, and it is shown so again.
        assert f"<b>{tried['odds'][0][1]}</b>" in page
        plans = connected(planned, list_plans)
        assert [(plan.version, plan.waits) for plan in plans] == [(2, True), (1, False)]
        assert "(yours)" in planner.get("/plans/2").text
        first, second = (json.loads(planner.get(f"/plans/{n}/plan.geojson").text) for n in (1, 2))
        same = [one for one in first["features"] if one["properties"]["hole"] != 3]
        assert [one for one in second["features"] if one["properties"]["hole"] != 3] == same
        mine = next(one for one in second["features"] if one["properties"]["hole"] == 3)
        assert mine["properties"]["planned_lat_deg"] == pytest.approx(shots[0]["lat"] + 0.0003, abs=1e-7)
        assert mine["geometry"]["coordinates"][1][1] == pytest.approx(shots[0]["lat"], abs=1e-6)
        # A second window is told, and nothing is overwritten.
        again = planner.post(f"{HOLE}/keep", hidden(old) | {"wanted": json.dumps(shots)}, page=HOLE)
        assert again.status_code == 409
        # As the planner has it again.
        told = planner.post("/plans/2/holes/3/keep", {"do": "planner"}, page="/plans/2/holes/3")
        assert "(yours)" not in planner.get(told.location.partition("/holes")[0]).text

    def test_ground_is_of_numbers_and_kinds(self, looker):
        ground = looker.get(f"{HOLE}/ground").json
        assert {shape["kind"] for shape in ground["shapes"]} >= {"green", "tee"}
        assert len(ground["line"]) == 2
        assert looker.get("/plans/1/holes/9").status_code == 404

    def test_changes_need_the_token_and_our_own_page(self, looker, planned_once):
        for path in ("try", "keep"):
            told = looker.client.post(f"{HOLE}/{path}", data={"wanted": "[]"}, base_url=looker.base)
            assert told.status_code == 403
            assert looker.post(f"{HOLE}/{path}", {"form_token": "0"}, page=HOLE).status_code == 403
        assert len(connected(planned_once, list_plans)) == 1


def test_no_text_of_a_person_means_anything(tmp_path, invented_files):
    place = tmp_path / "hostile.sqlite"
    browser = visit(WebSettings(place, PORT))
    club = "<img src=x onerror=alert(1)>"
    bag = invented.bag("{{7*7}} </script> 'a' & %s").replace("driver", club).encode()
    browser.upload({
        "tracks": as_file(invented_files / "round_000.gpx"),
        "bag": (io.BytesIO(bag), "bag.toml"),
        "course_file": (io.BytesIO(invented.course(HOSTILE).encode()), "course.geojson"),
    })  # fmt: skip
    assert make_and_keep(browser).status_code == 303
    for path in ("/plans", MADE, "/plans/1", HOLE):
        text = browser.get(path).text
        assert "<img" not in text
        assert "<script>" not in text
        assert "{{7*7}} &lt;/script&gt; " in text
    assert "&lt;img src=x" in browser.get(HOLE).text
    assert "<img src=x" not in browser.get("/plans/made/book?bag=1&course=1").text
    for name in ("plan.geojson", "plan.gpx"):
        told = browser.get(f"/plans/1/{name}")
        assert told.headers["Content-Disposition"] == f'attachment; filename="{name}"'
