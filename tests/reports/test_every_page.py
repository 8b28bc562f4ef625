"""What holds for every kind of page: no width, theme, paper or reader is left out. A new page is one line in `PAGES`."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

import geopandas as gpd
import pandas as pd
import pypdf
import pytest
from axe_playwright_python.base import AXE_SCRIPT

from reports.bundles import RoundTables
from reports.coach_page import PlayerCard, coach_page
from reports.evidence_page import evidence_page
from reports.page import index_page, plan_page, round_report
from reports.plan_pages import PlanBook, plan_book
from tests.reports.invented import HOSTILE, invented_plan, invented_round
from tests.reports.test_evidence import invented_tables as invented_evidence

pytestmark = pytest.mark.browser

HOLES = 4


def _index(**options) -> str:
    tables = [invented_round(holes=2, **options), invented_plan(holes=2, **options)]
    return index_page([("a round/report.html", tables[0]), ("plan.html", tables[1])])


def _coach(text: str | None) -> str:
    figures = pd.DataFrame(
        [("layups", 0.4, 0.3, 0.5, 57)], columns=["figure", "value", "low", "high", "count"]
    )
    cards = [
        PlayerCard(
            text or name,
            3,
            "2026-07-04",
            "too few rounds to tell",
            text or "putts",
            figures,
            (text or "Tempo.",),
            "a b.html",
        )
        for name in ("Tamsin Arkwright", "Ines Okafor")
    ]
    return coach_page(cards, units="yd", invented=True)


def _book(text: str | None) -> str:
    tables = invented_plan(holes=HOLES, text=text)
    numbers = range(1, HOLES + 1)
    names = ("on plan", "fewest strokes", "rule of thumb")
    said = (text or "driver 190, gap wedge 88", text or "driver 174, gap wedge 80")
    odds = [(hole, name, 5.4, 0.8, 0.1, 0.02, 0.03, said) for hole in numbers for name in names]
    spots = [(hole, spot, said, 4.2) for hole in numbers for spot in ("short", "left", "bunker")]
    verdicts = [(hole, "worse", 0.3, 0.1, text or "left of the green") for hole in numbers]
    lines = dict(zip(tables.hole_lines["hole"], tables.hole_lines.geometry, strict=True))
    zones = [
        (hole, text or "8 iron", True, *lines[hole].centroid.coords[0], lines[hole].buffer(3e-4))
        for hole in numbers
    ]
    zone_columns = ["hole", "club", "at_green", "mark_lon_deg", "mark_lat_deg", "geometry"]
    return plan_book(
        PlanBook(
            tables,
            pd.DataFrame(
                odds,
                columns=[
                    "hole",
                    "name",
                    "expected_strokes",
                    "regulation_probability",
                    "high_score_probability",
                    "penalty_probability",
                    "expected_penalties",
                    "shots",
                ],
            ),
            pd.DataFrame(spots, columns=["hole", "spot", "next", "strokes_to_go"]),
            pd.DataFrame(verdicts, columns=["hole", "verdict", "more", "error", "miss"]),
            gpd.GeoDataFrame(pd.DataFrame(zones, columns=zone_columns), geometry="geometry", crs="EPSG:4326"),
            (text or "The rule of thumb is worse on four holes.",),
            (text or "Nine clubs are enough.",),
        )
    )


# Each writes its page for a text that stands for all names and notes; None leaves the usual ones.
PAGES: dict[str, Callable[[str | None], str]] = {
    "round": lambda text: round_report(invented_round(holes=HOLES, text=text)),
    "plan": lambda text: plan_page(invented_plan(holes=HOLES, text=text)),
    "index": lambda text: _index(text=text),
    "book": _book,
    "coach": _coach,
    "evidence": lambda text: evidence_page(
        invented_evidence(text or "Tamsin Arkwright", (text or "driver", "7 iron"))
    ),
}

WIDTHS, SCHEMES = (360, 768, 1280), ("light", "dark")

# Text and marks that lie outside what shows them: the window, or the box of a table.
SPILL = """() => {
  const seen = [];
  for (const e of document.querySelectorAll("h1, h2, h3, p, li, dt, dd, button, select, a, figcaption")) {
    if (!e.checkVisibility() || e.closest(".scroll, .skip, .map, .word") || !e.textContent.trim()) continue;
    const box = e.getBoundingClientRect();
    if (box.right > innerWidth + 1 || box.left < -1) seen.push(e.textContent.trim().slice(0, 40));
  }
  for (const svg of document.querySelectorAll("svg.chart, svg.drawing")) {
    const frame = svg.getBoundingClientRect();
    for (const text of svg.querySelectorAll("text")) {
      const box = text.getBoundingClientRect();
      if (box.width && (box.left < frame.left - 2 || box.right > frame.right + 2)) seen.push(text.textContent);
    }
  }
  return seen;
}"""

# Size of the letters of pictures as they are shown; below this nobody reads them on a phone [px].
SMALLEST = 7.5
LETTERS = """() => [...document.querySelectorAll("svg.chart text, svg.drawing text")]
  .filter((text) => text.getBoundingClientRect().width)
  .map((text) => parseFloat(getComputedStyle(text).fontSize) * Math.hypot(text.getScreenCTM().a, text.getScreenCTM().b))"""

# Fingers and canes hit what is 24 px high and wide, or apart enough, or part of a sentence.
# Source: W3C, Web Content Accessibility Guidelines 2.2, success criterion 2.5.8.
SMALL_BUTTONS = """() => [...document.querySelectorAll("button, select")].filter((e) => e.checkVisibility())
  .filter((e) => { const b = e.getBoundingClientRect(); return b.width < 24 || b.height < 24; })
  .map((e) => e.outerHTML.slice(0, 80))"""


@pytest.fixture(scope="module", params=sorted(PAGES))
def name(request):
    return request.param


@pytest.fixture(scope="module")
def html(name):
    return PAGES[name](None)


def test_is_whole_at_every_width_in_both_themes(open_page, html):
    page = open_page(html)
    grounds = set()
    for scheme in SCHEMES:
        page.emulate_media(color_scheme=scheme)
        grounds.add(page.evaluate("getComputedStyle(document.body).backgroundColor"))
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth") == width
            assert page.evaluate(SPILL) == []
            assert page.evaluate(SMALL_BUTTONS) == []
            assert min(page.evaluate(LETTERS), default=SMALLEST) >= SMALLEST
    assert len(grounds) == len(SCHEMES)


def test_nothing_serious_for_readers(open_page, html):
    page = open_page(html, width=360)
    page.evaluate(AXE_SCRIPT)
    assert faults(page) == []
    page.set_viewport_size({"width": 1280, "height": 900})
    page.emulate_media(color_scheme="dark")
    assert faults(page) == []


def faults(page):
    # Source: axe-core 4.12, its rules for WCAG 2.2 A and AA and for best practice; run inside the page.
    found = page.evaluate("() => axe.run(document, { resultTypes: ['violations'] })")["violations"]
    return [(fault["id"], fault["impact"], fault["nodes"][0]["html"][:120]) for fault in found]


def test_hostile_names_are_shown_letter_by_letter(open_page, name):
    page = open_page(PAGES[name](HOSTILE), width=360)
    shown = page.evaluate("() => document.body.innerText")
    assert " ".join(HOSTILE.split()) in " ".join(shown.split())
    assert "49" not in page.locator(".head").inner_text()
    assert page.locator("img").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    assert page.evaluate("[...document.querySelectorAll('script')].every((s) => !s.src)")


def test_paper_is_light_and_leaves_nothing_out(open_page, html):
    page = open_page(html, color_scheme="dark")
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator("button:visible").count() == 0
    boxes = page.locator(".scroll").evaluate_all("all => all.map((b) => getComputedStyle(b).overflowX)")
    assert set(boxes) <= {"visible"}


def test_no_hole_is_cut_in_two_on_paper(open_page, html):
    page = open_page(html)
    sheets = paper(page)
    # Source: ISO 216, A4 is 210 mm by 297 mm; a point is 25.4/72 mm.
    assert [round(float(side) * 25.4 / 72) for side in sheets[0].mediabox[2:]] == [210, 297]
    assert cut_holes(page, sheets) == []


def test_nor_is_one_without_a_drawing_to_hold_it_together(open_page):
    tables = invented_round(holes=8)
    talk = (
        "A note on where the ball went, and on what the wind had to do with it, for two lines or three. " * 2
    )
    shots = tables.shots.assign(note=talk).set_geometry([None] * len(tables.shots), crs="EPSG:4326")
    page = open_page(round_report(RoundTables(header=tables.header, holes=tables.holes, shots=shots)))
    assert page.locator(".drawing").count() == 0
    sheets = paper(page)
    assert cut_holes(page, sheets) == []
    # No heading stays behind when what it heads moves to the next sheet.
    heading = plain(page.locator("#holes-h").inner_text())
    assert any(heading in text and "Hole1" in text for text in map(plain, (s.extract_text() for s in sheets)))


def paper(page):
    return pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages


def cut_holes(page, sheets):
    """The holes of which no sheet has every part."""
    texts = [plain(sheet.extract_text()) for sheet in sheets]
    cut = []
    for hole in page.locator("article.hole").all():
        parts = hole.locator("h3, .facts, .shots li b, .shots li .outcome, .shots li .note, tbody tr")
        words = [plain(part) for part in parts.all_inner_texts()]
        assert words
        if not any(all(word in text for word in words) for text in texts):
            cut.append(words[0])
    return cut


def plain(text: str) -> str:
    """Letters and figures alone, for paper breaks lines elsewhere."""
    return re.sub(r"[^\w]", "", text)


def test_the_same_tables_make_the_same_bytes(name, html):
    assert PAGES[name](None) == html
