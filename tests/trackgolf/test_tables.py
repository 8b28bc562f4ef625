"""A rebuilt round as the tables of a report."""

from dataclasses import replace

import pandas as pd
import pytest

from reports.bundles import RoundTables
from reports.page import round_report
from tests.shapes import STRAIGHT, card_of, plan_of, tiny_bag, tiny_course, tiny_hole, track_of, trail_through
from trackgolf.reconstruct import Note, reconstruct
from trackgolf.tables import round_tables

COURSE = tiny_course(tiny_hole(1, STRAIGHT, pin=(3, 302)), tiny_hole(2, ((60, 300), (60, 150)), par=3))
ONE = [(0, 0, 50), (5, 150, 40), (0, 262, 40), (2, 302, 90)]
TWO = [(60, 300, 60), (60, 148, 80)]
PLAN = plan_of(
    (1, 1, "5 wood", "tee", (0, 0), (0, 148), (3, 302)),
    (1, 2, "9 iron", "layup", (0, 148), (0, 240), (3, 302)),
    (1, 3, "sand wedge", "approach", (0, 250), (3, 302), (3, 302)),
    (2, 1, "7 iron", "approach", (60, 300), (60, 150), (60, 150)),
)
CARD = card_of((1, 5, 2, 0, ("driver", "9 iron", "sand wedge")), (2, 3, 2, 0, ("7 iron",)))


def rebuilt(*, places=(*ONE, *TWO), card=CARD, plan=PLAN, course=COURSE):
    trail, _ = trail_through((-10, -30, 40), *places, (80, 120, 40))
    return reconstruct(track_of(trail), course, tiny_bag(), card=card, plan=plan)


@pytest.fixture(scope="module")
def result():
    return rebuilt()


@pytest.fixture(scope="module")
def tables(result):
    return round_tables(result)


class TestHeader:
    def test_sums_are_those_of_the_holes(self, tables):
        header = tables.header
        # Derived: 5 and 3 strokes on par 4 and 3; 18 strokes over 18 holes are one a hole.
        wanted = {
            "strokes": 8,
            "par": 7,
            "personal_par": 9,
            "putts": 4,
            "penalties": 0,
            "shots_to_green": 4,
            "regulation_shots": 5,
        }
        assert {name: header[name] for name in wanted} == wanted

    def test_layups_are_the_planned_shots_before_the_approach(self, tables):
        # Derived: misses of hypot(5, 2) and 22 m against 15 m; leaves of 152.0 and 40.1 m against 154.0 and 62.1 m.
        header = tables.header
        assert (header["layups"], header["layups_within"], header["layups_unsure"]) == (2, 1, 0)
        assert header["median_leave_error_m"] == pytest.approx((2.0 + 22.0) / 2, abs=0.7)

    def test_who_where_and_when(self, result, tables):
        header = tables.header
        assert (header["player"], header["course"], header["units"]) == ("Ines Okafor", "Invented Links", "m")
        assert header["invented"] is True
        # Source: IANA: at sea, 31 degrees west is two hours behind UTC.
        assert header["time_zone"] == "Etc/GMT+2"
        assert header["start_time"] == result.shots["start_time"].min()
        assert header["end_time"] >= result.shots["start_time"].max()

    def test_unknown_stays_unknown(self):
        card = card_of((1, None, None, None), (2, None, None, None))
        places = [(0, 0, 50), (5, 150, 40), (30, 200, 40), (60, 300, 60), (90, 230, 60)]
        header = round_tables(rebuilt(places=places, card=card, plan=None)).header
        assert header["strokes"] is None
        assert header["putts"] is None
        assert (header["layups"], header["median_leave_error_m"]) == (0, None)


class TestTables:
    def test_every_row_arrives(self, result, tables):
        assert isinstance(tables, RoundTables)
        assert len(tables.shots) == len(result.shots) == 4
        assert len(tables.holes) == 2
        assert len(tables.plan) == len(tables.comparison) == 4
        assert len(tables.track) == len(result.walk)

    def test_lines_run_from_start_to_end(self, result, tables):
        for row, line in zip(result.shots.to_dict("records"), tables.shots.geometry, strict=True):
            assert line.coords[0] == pytest.approx((row["start_lon_deg"], row["start_lat_deg"]))
            assert line.coords[1] == pytest.approx((row["end_lon_deg"], row["end_lat_deg"]))
        assert tables.shots.crs == tables.plan.crs == "EPSG:4326"

    def test_pins_and_greens_are_among_the_shapes(self, tables):
        kinds = tables.shapes.groupby("kind")["hole"].apply(lambda holes: sorted(holes.dropna()))
        assert kinds["green"] == [1, 2]
        assert kinds["tee"] == [1, 2]
        assert kinds["pin"] == [1]
        assert tables.hole_lines["hole"].tolist() == [1, 2]

    def test_clubs_come_in_the_order_of_the_bag(self, tables):
        clubs = tables.clubs
        assert clubs["club"].tolist() == ["driver", "7 iron", "9 iron", "sand wedge"]
        assert clubs["shots"].tolist() == [1, 1, 1, 1]
        assert clubs["stated_distance_m"].tolist() == pytest.approx([180, 130, 110, 70])
        assert clubs["median_distance_m"].tolist() == pytest.approx([150.1, 152.0, 112.1, 40.0], abs=0.7)
        assert set(clubs["sources"]) == {"1 card"}

    def test_a_club_that_only_the_plan_names_is_not_measured(self):
        result = rebuilt(card=None)
        assert (result.shots["club_source"] == "plan").any()
        measured = result.shots[~result.shots["club_source"].isin(["plan", ""])]
        clubs = round_tables(result).clubs
        assert clubs["shots"].sum() == len(measured)
        assert not clubs["sources"].str.contains("plan").any()

    def test_a_detour_says_nothing_of_a_club(self):
        places = [(0, 0, 50), (140, 20, 5), (5, 150, 40), *ONE[2:], *TWO]
        result = rebuilt(places=places)
        assert bool(result.shots["detour"][0])
        assert pd.isna(round_tables(result).clubs["median_path_m"][0])

    def test_notes_know_their_hole(self, result):
        notes = (Note("doubted", 2, "two"), Note("salvaged", 0, "cut short"), Note("doubted", 0, "all"))
        table = round_tables(replace(result, notes=notes)).notes
        assert sorted(table["text"]) == ["all", "cut short", "two"]
        holes = dict(zip(table["text"], table["hole"], strict=True))
        assert holes["two"] == 2
        assert pd.isna(holes["all"])

    def test_without_a_plan(self):
        tables = round_tables(rebuilt(plan=None))
        assert tables.plan.empty
        assert tables.comparison.empty
        assert tables.header["layups"] == 0

    def test_the_same_holes_twice(self):
        result = rebuilt(places=[*ONE, *TWO, *ONE, *TWO], card=None)
        assert result.holes["hole"].tolist() == [1, 2, 1, 2]
        tables = round_tables(result)
        assert len(tables.holes) == 4
        assert tables.holes["hole"].is_unique
        assert tables.header["par"] == 14


def test_a_report_can_be_made_of_it(tables):
    page = round_report(tables)
    assert page.lower().startswith("<!doctype html>")
    assert "Ines Okafor" in page
    assert "Invented Links" in page
