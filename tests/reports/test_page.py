from __future__ import annotations

import dataclasses
import re
import time

import pytest

from reports.base import theme_style
from reports.offline import outside_requests
from reports.page import plan_page, round_report
from reports.phrases import ENGLISH
from reports.show import DARK, LIGHT
from tests.reports.invented import HOSTILE, invented_plan, invented_round

PAGES = ["round", "plan", "table"]


@pytest.fixture(scope="module")
def pages(round_tables, plan_tables):
    return {
        "round": round_report(round_tables),
        "plan": plan_page(plan_tables),
        "table": plan_page(invented_plan(positions=False)),
    }


class TestEveryPage:
    @pytest.mark.parametrize("name", PAGES)
    def test_reaches_nothing_outside(self, pages, name):
        assert outside_requests(pages[name]) == []

    @pytest.mark.parametrize("name", PAGES)
    def test_has_a_policy_and_no_style_or_handler_in_an_attribute(self, pages, name):
        assert pages[name].count('http-equiv="Content-Security-Policy"') == 1
        body = re.sub(r"<(script|style).*?</\1>", "", pages[name], flags=re.DOTALL)
        assert not re.search(r"<[^>]+\s(style|on\w+)=", body)

    @pytest.mark.parametrize("name", PAGES)
    def test_identifiers_are_unique(self, pages, name):
        body = re.sub(r"<(script|style).*?</\1>", "", pages[name], flags=re.DOTALL)
        found = re.findall(r'\sid="([^"]+)"', body)
        assert len(found) == len(set(found))
        asked = re.findall(r'(?:aria-labelledby|href)="#?([\w -]+)"', body)
        assert {word for words in asked for word in words.split()} <= set(found)

    @pytest.mark.parametrize("name", PAGES)
    def test_says_that_its_data_is_invented(self, pages, name):
        assert "Invented data" in pages[name]

    def test_hostile_names_reach_nothing_outside(self):
        assert outside_requests(round_report(invented_round(holes=3, text=HOSTILE))) == []
        assert outside_requests(plan_page(invented_plan(holes=3, text=HOSTILE))) == []


class TestRoundReport:
    def test_the_same_tables_give_the_same_bytes(self, pages):
        assert round_report(invented_round()) == pages["round"]

    def test_is_small(self, pages):
        assert len(pages["round"].encode()) < 1_000_000

    def test_is_written_fast(self, round_tables):
        round_report(round_tables)
        spent = []
        for _ in range(3):
            begin = time.process_time()
            round_report(round_tables)
            spent.append(time.process_time() - begin)
        assert min(spent) < 1.5

    def test_layups_come_first_after_the_sentence(self, pages):
        body = pages["round"].split('<main id="content">')[1]
        assert body.lstrip().startswith('<section class="layups"')
        order = re.findall(r'<h2 id="(\w+)-h"', body)
        assert order == ["layups", "numbers", "causes", "leaves", "holes", "map", "card", "clubs", "notes"]

    def test_real_data_says_nothing_of_invention(self, round_tables):
        real = dataclasses.replace(round_tables, header=dict(round_tables.header) | {"invented": False})
        assert "Invented data" not in round_report(real)

    def test_openstreetmap_is_credited_with_a_link(self, round_tables):
        # Source: OpenStreetMap Foundation, attribution guideline: credit with a link to the copyright page.
        head = dict(round_tables.header) | {"credit": "© OpenStreetMap contributors, ODbL 1.0"}
        page = round_report(dataclasses.replace(round_tables, header=head))
        assert "Map data: © OpenStreetMap contributors, ODbL 1.0" in page
        assert page.count('href="https://www.openstreetmap.org/copyright"') == 2
        assert outside_requests(page) == []

    def test_without_a_credit_there_is_none(self, round_tables):
        head = dict(round_tables.header) | {"credit": None}
        page = round_report(dataclasses.replace(round_tables, header=head))
        assert "Map data" not in page

    def test_cautions_are_there(self, pages):
        for key in ("caution_record", "caution_rules", "caution_share"):
            assert ENGLISH[key] in pages["round"]

    def test_a_round_with_nothing_but_a_card(self, round_tables):
        bare = type(round_tables)(header=round_tables.header, holes=round_tables.holes)
        page = round_report(bare)
        assert ENGLISH["map_no_positions"] in page
        assert ENGLISH["no_plan"] in page
        assert "Leaflet 1.9.4" not in page

    def test_another_language_goes_all_the_way(self, round_tables):
        turned = {key: phrase.upper() if "{" not in phrase else phrase for key, phrase in ENGLISH.items()}
        page = round_report(round_tables, phrases=turned | {"language": "xx"})
        assert '<html lang="xx"' in page
        assert "WHERE EACH LAYUP FINISHED" in page


class TestPlanPage:
    def test_cautions_are_there(self, pages):
        # Source: Rules of Golf 2023, 5.7 (lightning) and 4.3a (devices); R&A, Guidance on Running a Competition,
        # Appendix H (shelter); US National Weather Service, lightning safety (30 minutes).
        for key, word in (
            ("range", "out of range"),
            ("lightning", "30 minutes"),
            ("heat", "policy of the club"),
            ("devices", "Rule 4.3a"),
        ):
            assert word in ENGLISH[f"plan_caution_{key}"]
            assert ENGLISH[f"plan_caution_{key}"] in pages["plan"]

    def test_each_hole_warns_of_people_in_range(self, pages):
        assert pages["plan"].count(ENGLISH["plan_caution_each"]) == 18

    def test_a_course_without_positions_has_tables_and_no_drawing(self, pages):
        assert 'class="drawing"' not in pages["table"]
        assert pages["table"].count("<table") == pages["plan"].count("<table") == 19

    def test_the_same_tables_give_the_same_bytes(self, pages):
        assert plan_page(invented_plan()) == pages["plan"]


def test_the_style_sheet_has_every_colour_it_names():
    style = theme_style()
    for theme in (LIGHT, DARK):
        assert all(f"--{name}:{colour}" in style for name, colour in theme.items())


def test_no_rule_asks_for_an_unknown_colour():
    from reports.offline import own_file

    asked = set(re.findall(r"var\(--([\w-]+)\)", own_file("report.css")))
    assert asked <= set(LIGHT)
    assert set(LIGHT) <= asked
