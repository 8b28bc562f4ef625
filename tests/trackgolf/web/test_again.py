"""Forms that come too late lose nothing of what was typed, and do nothing by themselves."""

import html
import io
import re

import pytest

from tests.trackgolf.web.conftest import BASE, PORT, hidden, shot_names, visit
from trackgolf.library.correcting import read_corrections_of
from trackgolf.library.opening import open_library
from trackgolf.web.settings import WebSettings

HOLE = "/rounds/1/holes/1"
HEADERS = {"Origin": BASE, "Sec-Fetch-Site": "same-origin"}


def entries(library):
    connection = open_library(library)
    try:
        return read_corrections_of(connection, 1).entries
    finally:
        connection.close()


def fields_of(page):
    """Every hidden field of the form on a page."""
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', page)
    return {name: html.unescape(value) for name, value in found}


def typed(browser):
    page = browser.get(HOLE).text
    note = 'thin <b>"shot"</b> {{7*7}}'
    return hidden(page) | {"shot": shot_names(page)[1], "club": "5 wood", "lie": "bunker", "note": note}


class TestAfterANewStart:
    def test_it_is_shown_and_sent_again(self, visitor, library):
        form = typed(visitor)
        anew = visit(WebSettings(library, PORT))
        anew.client.delete_cookie(f"trackgolf_{PORT}", domain="127.0.0.1")
        told = anew.client.post(f"{HOLE}/shot", data=form, base_url=BASE, headers=HEADERS)
        assert told.status_code == 403
        assert entries(library) == ()
        assert "5 wood" in told.text
        assert "thin &lt;b&gt;" in told.text
        assert "<b>&#34;" not in told.text
        again = anew.client.post(f"{HOLE}/shot", data=fields_of(told.text), base_url=BASE, headers=HEADERS)
        assert again.status_code == 303
        assert [(entry.what, entry.note) for entry in entries(library)] == [
            ("club", form["note"]),
            ("lie", form["note"]),
        ]

    # Source: W3C, Fetch Metadata Request Headers: what another site sends says so.
    def test_not_for_another_page(self, visitor, library):
        form = typed(visitor) | {"form_token": "0" * 64}
        told = visitor.client.post(f"{HOLE}/shot", data=form, base_url=BASE, headers={"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"})  # fmt: skip
        assert told.status_code == 403
        assert "5 wood" not in told.text
        assert "form_token" not in told.text

    def test_open_to_others_the_token_comes_first(self, library):
        base = f"http://192.0.2.7:{PORT}"
        headers = {"Origin": base, "Sec-Fetch-Site": "same-origin"}
        browser = visit(WebSettings(library, PORT, "192.0.2.7", token="invented-token"), base)
        told = browser.client.post(f"{HOLE}/shot", data={"club": "5 wood"}, base_url=base, headers=headers)
        assert told.status_code == 403
        assert "Say it in another window" in told.text
        assert "Set-Cookie" not in told.headers
        again = browser.client.post(f"{HOLE}/shot", data=fields_of(told.text), base_url=base, headers=headers)
        assert again.status_code == 403
        wrong = browser.client.post(
            "/enter", data={"token": "invented-token"}, base_url=base, headers=headers
        )
        assert wrong.status_code == 403
        assert "invented-token" not in wrong.text
        assert entries(library) == ()

    @pytest.mark.parametrize("path", ["//evil.example/x", "/none", "/rounds/1/nothing"])
    def test_no_form_leads_elsewhere(self, visitor, path):
        told = visitor.client.post(path, data={"note": "x"}, base_url=BASE, headers=HEADERS)
        assert told.status_code in (308, 403, 404)
        assert "evil.example" not in told.text.replace("href", "")
        assert "<form" not in told.text

    @pytest.mark.parametrize(
        ("path", "back"),
        [
            ("/plans/keep", "/"),
            ("/import", "/import"),
            ("/plans/1/next", "/"),
            ("/rounds/1/undo", "/rounds/1"),
        ],
    )
    def test_the_way_back_is_a_page(self, visitor, path, back):
        files = {"bag": (io.BytesIO(b"x"), "bag.toml"), "name": "typed"}
        told = visitor.client.post(path, data=files, base_url=BASE, headers=HEADERS)
        assert told.status_code == 403
        assert "typed" in told.text
        assert "<form" not in told.text
        assert f'<a href="{back}">Load the page again' in told.text
        assert visitor.get(back).status_code == 200


class TestCorrectedElsewhere:
    def test_it_is_shown_and_sent_to_the_round_as_it_is_now(self, visitor, library):
        form = typed(visitor)
        visitor.post(f"{HOLE}/score", {"putts": "1", "visit": "0"}, page=HOLE)
        told = visitor.client.post(f"{HOLE}/shot", data=form, base_url=BASE, headers=HEADERS)
        assert told.status_code == 409
        assert "corrected elsewhere" in told.text
        assert f'href="{HOLE}"' in told.text
        assert len(entries(library)) == 1
        again = visitor.client.post(f"{HOLE}/shot", data=fields_of(told.text), base_url=BASE, headers=HEADERS)
        assert again.status_code == 303
        assert [entry.what for entry in entries(library)] == ["putts", "club", "lie"]

    def test_the_last_is_not_undone_when_it_is_another(self, visitor, library):
        old = hidden(visitor.get(HOLE).text)
        visitor.post(f"{HOLE}/score", {"putts": "1", "visit": "0"}, page=HOLE)
        told = visitor.client.post("/rounds/1/undo", data=old, base_url=BASE, headers=HEADERS)
        assert told.status_code == 409
        assert "<form" not in told.text
        assert len(entries(library)) == 1
