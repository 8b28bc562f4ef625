from __future__ import annotations

import datetime as dt
import re
from importlib import resources
from string import Formatter

import pytest
from markupsafe import Markup

from reports.phrases import ENGLISH
from reports.phrases_evidence import EVIDENCE_ENGLISH
from reports.phrases_plan import PLAN_ENGLISH
from reports.rows import CARD_COLUMNS
from reports.words import Words
from tests.reports.invented import HOSTILE

PACKAGE = resources.files("reports")
SOURCES = {
    file.name: file.read_text(encoding="utf-8")
    for folder in (PACKAGE, PACKAGE / "templates")
    for file in folder.iterdir()
    if file.name.endswith((".py", ".html", ".svg")) and not file.name.startswith("phrases")
}


@pytest.fixture
def words():
    return Words("yd")


class TestWords:
    def test_values_are_escaped_and_never_read_as_phrases(self, words):
        text = words("title_plan", player="{course} <b>", course="{0.__class__}")
        assert text == "{course} &lt;b&gt;, {0.__class__}: the plan"

    def test_plain_text_is_not_escaped(self, words):
        assert words.plain("hole", number="<4>") == "Hole <4>"

    def test_markup_is_kept(self, words):
        assert words("hole", number=Markup("<b>4</b>")) == "Hole <b>4</b>"

    def test_an_unknown_code_is_shown_as_it_is(self, words):
        assert words.term("lie", "penalty_area") == "penalty area"
        assert words.term("lie", "<moon>") == "&lt;moon&gt;"
        assert words.term("lie", "") == "unknown"
        assert words.terms("source", "marked, inferred") == "marked, from its distance"
        assert words.terms("source", "2 inferred, 1 plan") == "2 from its distance, 1 only from the plan"

    def test_one_and_many(self, words):
        assert words.count("hole_putts", 1) == "1 putt"
        assert words.count("hole_putts", 0) == "0 putts"

    def test_lists_read_like_a_sentence(self, words):
        assert words.list([4]) == "4"
        assert words.list([4, 9, "<b>"]) == "4, 9 and &lt;b&gt;"

    def test_a_length_stands_in_both_units(self, words):
        text = words.length(96.0)
        assert text == '<span class="yd">105\u00a0yd</span><span class="me">96\u00a0m</span>'
        assert words.length(0.2, unit=False) == "0"
        assert words.length(None) == words.length(float("nan")) == "–"

    def test_differences_have_a_sign(self, words):
        assert words.signed_length(-9.144) == '<span class="yd">−10</span><span class="me">−9</span>'
        assert words.signed_length(0.1) == "0"

    @pytest.mark.parametrize(
        ("long_m", "right_m", "said"),
        [
            (-9.144, 4.572, "10\u00a0yd short, 5\u00a0yd right"),
            (9.144, -4.572, "10\u00a0yd long, 5\u00a0yd left"),
            (0.3, 0.3, "on target"),
            (0.0, 9.144, "10\u00a0yd right"),
            (float("nan"), 1.0, "not compared"),
        ],
    )
    def test_a_finish_in_words(self, words, long_m, right_m, said):
        assert words.plain_offset(long_m, right_m) == said

    def test_dates_and_times_are_of_the_place(self, words):
        # Source: IANA time zone database, Pacific/Auckland is UTC+13 in January.
        moment = dt.datetime(2026, 1, 31, 23, 30, tzinfo=dt.UTC)
        assert words.date(moment, "Pacific/Auckland") == "1 February 2026"
        assert words.clock(moment, "Pacific/Auckland") == "12:30"

    def test_another_language_takes_over(self):
        words = Words("m", {**ENGLISH, "hole": "Loch {number}"})
        assert words("hole", number=3) == "Loch 3"


class TestPhrases:
    def test_every_phrase_a_template_asks_for_exists(self):
        asked = {key for text in SOURCES.values() for key in re.findall(r"\bw\([\"'](\w+)[\"'][,)]", text)}
        assert asked
        assert asked <= set(ENGLISH) | set(EVIDENCE_ENGLISH) | set(PLAN_ENGLISH)

    def test_every_phrase_is_used(self):
        text = "\n".join(SOURCES.values())
        made = (
            "month_",
            "lie_",
            "source_",
            "role_",
            "notes_",
            "plan_caution_",
            "item_p",
            "tag_",
            "to_",
            "cause_",
            "lede_most_",
            "doubt_",
            "headline_n",
        )
        card = {f"col_{name}" for name in CARD_COLUMNS}
        for key in ENGLISH:
            stem = re.sub(r"_(one|many|worst)$", "", key)
            assert re.search(f"[\"']{stem}[\"']", text) or key in card or key.startswith(made), key

    def test_no_phrase_holds_markup(self):
        assert not [key for key, phrase in ENGLISH.items() if re.search(r"[<>&]", phrase)]

    def test_one_and_many_have_the_same_gaps(self):
        for key in ENGLISH:
            if key.endswith("_one"):
                assert gaps(ENGLISH[key]) == gaps(ENGLISH[key.removesuffix("_one") + "_many"]), key


def gaps(phrase):
    return {name for _, name, _, _ in Formatter().parse(phrase) if name}


def test_the_hostile_name_holds_what_it_should():
    for part in ("{{7*7}}", "{%", "{#", "</script>", "${1}", "`", "<img src=x onerror=alert(1)>"):
        assert part in HOSTILE
