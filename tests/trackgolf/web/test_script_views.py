"""Scripts of our own and no others, for those who may enter, under a policy that lets nothing else run."""

import pytest

from reports.offline import LEAFLET_SHA256
from tests.trackgolf.web.conftest import PORT, visit
from trackgolf.web.app import create_app
from trackgolf.web.script_views import script_files, with_scripts
from trackgolf.web.settings import WebSettings


class TestFiles:
    def test_each_is_served_as_a_script(self, visitor):
        assert {"leaflet", "talk"} <= set(script_files())
        for name, text in script_files().items():
            told = visitor.get(f"/scripts/{name}.js")
            assert (told.status_code, told.text) == (200, text)
            # Source: RFC 9239, 6: text/javascript is the one type of scripts.
            assert told.mimetype == "text/javascript"
        # Source: leaflet.js 1.9.4 as `LEAFLET_SHA256` says, which opens with its version.
        assert LEAFLET_SHA256["leaflet.js"]
        assert "Leaflet 1.9.4" in script_files()["leaflet"][:80]

    @pytest.mark.parametrize(
        "path",
        ["/scripts/none.js", "/scripts/../safety.js", "/scripts/%2e%2e/app.js", "/scripts/talk", "/scripts/", "/scripts/talk.js.js", "/scripts/.js", "/scripts/%00.js"],
    )  # fmt: skip
    def test_nothing_else_is(self, visitor, path):
        assert visitor.get(path).status_code in (404, 308)

    def test_nothing_without_the_token(self, library):
        browser = visit(
            WebSettings(library, PORT, "192.0.2.7", token="t0ken-invented"), f"http://192.0.2.7:{PORT}"
        )
        for path in ("/scripts/talk.js", "/scripts/leaflet.js", "/map.css", "/token"):
            assert browser.get(path).status_code == 401

    def test_style_of_the_map_asks_for_nothing(self, visitor):
        text = visitor.get("/map.css").text
        assert ".leaflet-container" in text
        assert text.count("url(") == text.count("url(data:") + text.count("url(#")

    def test_scripts_put_no_text_in_as_markup(self):
        for name, text in script_files().items():
            if name != "leaflet":
                for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "Function(", "http://", "https://"):  # fmt: skip
                    assert word not in text.replace("never innerHTML", ""), (name, word)


class TestPolicy:
    def test_of_a_page_with_scripts(self, settings):
        app = create_app(settings)
        app.add_url_rule("/invented", view_func=lambda: with_scripts("fault.html", lines=["invented"]))
        policy = (
            app.test_client()
            .get("/invented", base_url=f"http://127.0.0.1:{PORT}")
            .headers["Content-Security-Policy"]
        )
        rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
        # Source: W3C, Content Security Policy Level 3: 'self' without 'unsafe-inline' runs files of this origin only.
        assert rules["default-src"] == "'none'"
        assert (
            rules["script-src"]
            == rules["style-src"]
            == rules["connect-src"]
            == rules["form-action"]
            == "'self'"
        )
        assert rules["base-uri"] == rules["frame-ancestors"] == "'none'"

    def test_of_a_page_of_forms_runs_nothing(self, visitor):
        policy = visitor.get("/").headers["Content-Security-Policy"]
        assert "script-src" not in policy
        assert policy.startswith("default-src 'none'")


class TestFaults:
    def test_scripts_are_told_in_json(self, visitor):
        told = visitor.get("/rounds/77", headers={"Accept": "application/json"})
        assert (told.status_code, told.mimetype) == (404, "application/json")
        assert told.json["faults"]
        assert visitor.get("/rounds/77").mimetype == "text/html"

    def test_a_fresh_token_is_the_one_that_forms_need(self, visitor):
        token = visitor.get("/token").json["form_token"]
        told = visitor.post("/rounds/1/undo", {"form_token": token})
        assert told.status_code == 409
