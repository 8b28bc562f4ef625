"""The page that leads to several others."""

from __future__ import annotations

import re

import pytest

from reports.offline import outside_requests
from reports.page import index_page
from tests.reports.invented import HOSTILE, invented_plan, invented_round


@pytest.fixture(scope="module")
def page(round_tables, plan_tables):
    return index_page([("plan/plan.html", plan_tables), ("may round/report.html", round_tables)])


def body_of(page):
    return re.sub(r"<(script|style).*?</\1>", "", page, flags=re.DOTALL)


def test_leads_to_every_page_and_nowhere_else(page):
    assert re.findall(r'<li><a href="([^"]+)"', page) == ["plan/plan.html", "may%20round/report.html"]
    assert outside_requests(page) == []


def test_says_each_round_in_the_sentence_of_its_report(page, round_tables):
    head = round_tables.header
    assert f"{head['layups_within']} of {head['layups']} layups finished where the plan wanted them" in page
    assert "Invented data" in page
    assert body_of(page).count("<h2 id=") == len({head["player"]})


def test_names_are_shown_letter_by_letter():
    hostile = invented_round(holes=3, text=HOSTILE)
    page = index_page([("a/report.html", hostile), ("b/plan.html", invented_plan(holes=3, text=HOSTILE))])
    assert outside_requests(page) == []
    assert "{{7*7}}" in page
    assert "<img" not in page


def test_a_list_of_nothing_is_refused():
    with pytest.raises(ValueError, match="no page"):
        index_page([])


@pytest.mark.parametrize("link", ["report.html", "a/b-1.html", "a%20b/c.html"])
def test_a_link_to_a_file_beside_the_page_is_no_request(link):
    assert outside_requests(f'<a href="{link}">x</a>') == []


@pytest.mark.parametrize(
    "link", ["../a.html", "/etc/passwd", "//example.org", "a//b", "javascript:x", "mailto:x", "a?b", ""]
)
def test_other_links_are_found(link):
    assert outside_requests(f'<a href="{link}">x</a>') == [f"a href {link}"]


def test_only_links_may_lead_to_files_beside_the_page():
    assert outside_requests('<use href="a.svg"/>') == ["use href a.svg"]
