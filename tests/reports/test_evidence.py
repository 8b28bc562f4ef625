"""The page about many rounds: its tables are checked, its pictures are to scale, nothing in a name is obeyed."""

import re

import numpy as np
import pandas as pd
import pytest

from reports.evidence_charts import curve_chart, range_chart
from reports.evidence_page import evidence_page, evidence_words
from reports.evidence_tables import CLUB_EVIDENCE, CURVES, NAMED, EvidenceTables
from reports.phrases import ENGLISH
from reports.phrases_evidence import EVIDENCE_ENGLISH
from reports.tables import empty_table
from tests.reports.invented import HOSTILE


def invented_clubs(*names):
    rows = []
    for place, name in enumerate(names):
        far = 200.0 - 40.0 * place
        row = dict.fromkeys((column.name for column in CLUB_EVIDENCE.columns), 0.0)
        row |= {
            "club": name, "shots": 12 - 12 * (place == 1), "shots_inferred": place, "club_confidence": 0.8, "distance_m": far,
            "distance_80_low_m": far - 5, "distance_80_high_m": far + 5, "distance_95_low_m": far - 9,
            "distance_95_high_m": far + 9, "carry_m": far * 0.92, "path_m": far * 1.05, "plan_m": far - 4,
            "mishit_share": 0.2, "mishit_80_low": 0.1, "mishit_80_high": 0.3, "stated_distance_m": far + 10,
            "side_shots": 9, "right_m": 6.0, "right_80_low_m": 2.0, "right_80_high_m": 10.0, "more_shots": 0,
            "change_m": np.nan,
        }  # fmt: skip
        rows.append(row)
    return pd.DataFrame(rows)


def invented_tables(player="Invented Player", clubs=("driver", "7 iron"), **more):
    leaves = np.arange(40.0, 141.0, 10.0)
    curves = pd.concat(
        [
            pd.DataFrame(
                {"curve": name, "leave_m": leaves, "value": top - leaves / 250, "low": 0.1, "high": 0.95}
            )
            for name, top in (("green", 0.9), ("near", 1.0), ("strokes", 4.0))
        ]
    )
    named = pd.DataFrame(
        [("7 iron", 100.0, 0.4, 0.2, 0.6, 9)], columns=[column.name for column in NAMED.columns]
    )
    header = {
        "player": player, "units": "yd", "invented": True, "rounds": 7, "first_day": "2026-04-01", "last_day": "2026-08-01",
    }  # fmt: skip
    values = {
        "against_stated": (-0.05, -0.07, -0.03), "curves": curves, "named": named,
        "causes": pd.DataFrame([("putts", 14.0, 2.0, 1.0, 3.0), ("penalties", -3.5, -0.5, -1.0, 0.1)],
                               columns=["cause", "strokes", "a_round", "low", "high"]),
        "figures": pd.DataFrame([("regulation", 0.6, 0.5, 0.7, 90), ("putts", 36.4, 35.0, 37.9, 7), ("against_par", 4.0, 2.0, 6.0, 7)],
                                columns=["figure", "value", "low", "high", "count"]),
        "account": pd.DataFrame([("all shots", 300)], columns=["reason", "shots"]),
        "sentences": (("From 91 to 106 yd.", "From 83 to 97 m."),), "notes": ("carry is modelled",),
    }  # fmt: skip
    return EvidenceTables(header=header, clubs=invented_clubs(*clubs), **(values | more))


class TestTables:
    def test_missing_columns_are_named(self):
        with pytest.raises(ValueError, match="path_m"):
            EvidenceTables(
                header=invented_tables().header,
                clubs=invented_clubs("driver").drop(columns="path_m"),
                against_stated=(0.0, 0.0, 0.0),
            )

    def test_a_header_without_player(self):
        with pytest.raises(ValueError, match="player"):
            EvidenceTables(header={}, clubs=empty_table(CLUB_EVIDENCE), against_stated=(0.0, 0.0, 0.0))


class TestCharts:
    def test_places_are_to_scale(self):
        chart = range_chart(invented_clubs("driver", "7 iron"))
        first, second = chart.rows
        # Derived: means 40 m apart, a range of 10 m, the bag 10 m beyond.
        px = (first["mean"] - second["mean"]) / 40
        assert first["high"] - first["low"] == pytest.approx(10 * px, abs=0.2)
        assert first["stated"] - first["mean"] == pytest.approx(10 * px, abs=0.2)
        # Derived: 50 yd are 45.72 m, on the same scale.
        yards, metres = chart.grid["yd"], chart.grid["m"]
        assert (yards[1]["at"] - yards[0]["at"]) / (
            float(yards[1]["label"]) - float(yards[0]["label"])
        ) == pytest.approx(0.9144 * px, rel=0.02)
        assert (metres[1]["at"] - metres[0]["at"]) / (
            float(metres[1]["label"]) - float(metres[0]["label"])
        ) == pytest.approx(px, rel=0.02)
        assert (first["seen"], second["seen"]) == (True, False)
        assert range_chart(empty_table(CLUB_EVIDENCE)) is None

    def test_curve_is_to_scale(self):
        tables = invented_tables()
        chart = curve_chart(tables.curves, tables.named)
        points = [tuple(map(float, pair.split())) for pair in re.split("[ML]", chart.line)[1:]]
        # Derived: from 0.74 at 40 m to 0.34 at 140 m of a field from 0 to 1.
        height = chart.bottom - chart.top
        assert points[0] == pytest.approx((chart.left, chart.bottom - 0.74 * height), abs=0.1)
        assert points[-1] == pytest.approx((chart.right, chart.bottom - 0.34 * height), abs=0.1)
        (mark,) = chart.marks
        assert mark["x"] == pytest.approx(chart.left + 0.6 * (chart.right - chart.left), abs=0.1)
        assert curve_chart(empty_table(CURVES), tables.named) is None


class TestPage:
    def test_says_what_matters(self):
        page = evidence_page(invented_tables())
        for told in (
            "Your clubs go 5 % less far than your bag says",
            "7 rounds",
            "1 April 2026 to 1 August 2026",
            "carry is modelled",
        ):
            assert told in page
        assert '<span class="yd">From 91 to 106 yd.</span>' in page
        assert EVIDENCE_ENGLISH["ev_no_curve"] not in page
        # Derived: 200 m are 219 yd.
        assert '<span class="yd">219</span><span class="me">200</span>' in page
        # The total is that of all causes: 2.0 less 0.5.
        assert re.search(r"against personal par</th><td class=\"n strong\">\+1\.5", page)

    def test_a_range_over_nothing_is_no_verdict(self):
        page = evidence_page(invented_tables(against_stated=(-0.01, -0.03, 0.02)))
        assert "as far as your bag says" in page

    def test_fetches_nothing_and_obeys_no_name(self):
        page = evidence_page(
            invented_tables(
                player=HOSTILE, clubs=(HOSTILE, "7 iron"), notes=(HOSTILE,), sentences=((HOSTILE, HOSTILE),)
            )
        )
        assert "{{7*7}}" in page
        assert "<img src=x" not in page
        assert "</script> $" not in page
        assert not re.search(r"(?:src|href)=[\"']?(?:https?:)?//", page)
        assert "Content-Security-Policy" in page

    def test_with_hardly_anything(self):
        page = evidence_page(
            EvidenceTables(
                header=invented_tables().header,
                clubs=invented_clubs("driver"),
                against_stated=(0.0, -0.1, 0.1),
            )
        )
        assert EVIDENCE_ENGLISH["ev_no_curve"] in page
        assert EVIDENCE_ENGLISH["ev_causes_heading"] not in page

    def test_plans_side_by_side_show_holes_that_change(self):
        replan = pd.DataFrame(
            [
                (1, 1, "driver", 180.0, "driver", 180.0),
                (2, 1, "driver", 180.0, "5 wood", 150.0),
                (2, 2, "", np.nan, "7 iron", 90.0),
            ],
            columns=["hole", "shot", "club_before", "distance_before_m", "club_after", "distance_after_m"],
        )
        page = evidence_page(invented_tables(replan=replan))
        rows = re.findall(r'<tr><th scope="row">(\d+)</th><td class="plan">', page)
        assert rows == ["2"]
        same = evidence_page(invented_tables(replan=replan.iloc[:1]))
        assert EVIDENCE_ENGLISH["ev_replan_same"] in same


class TestPhrases:
    def test_are_new_and_hold_no_markup(self):
        assert not set(ENGLISH) & set(EVIDENCE_ENGLISH)
        assert not [key for key, phrase in EVIDENCE_ENGLISH.items() if re.search(r"[<>&]", phrase)]

    def test_another_language_takes_over(self):
        words = evidence_words("m", {**ENGLISH, **EVIDENCE_ENGLISH, "ev_col_club": "Schläger"})
        assert words("ev_col_club") == "Schläger"
