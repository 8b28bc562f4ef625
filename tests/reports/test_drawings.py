from __future__ import annotations

import itertools
import math
import re

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geo.frame import LocalFrame
from reports.drawings import HolePainter, spread_labels
from reports.tables import HOLE_LINES, PLAN, SHAPES, check_table, empty_table
from tests.reports.invented import geo_table, invented_round

CENTRE = LocalFrame(-33.0, 44.0)


def lines(*ends, **columns):
    """Lines drawn in metres."""
    drawn = [CENTRE.geometry_to_degrees(shapely.LineString(xy)) for xy in ends]
    rows = [{"hole": 1} | {key: values[i] for key, values in columns.items()} for i in range(len(ends))]
    return geo_table(rows, drawn)


def numbers(path):
    return np.array([float(text) for text in re.findall(r"-?[\d.]+(?:e-?\d+)?", path)]).reshape(-1, 2)


def paint(bearing_deg, *, target=(0.0, 100.0), shapes=None):
    """A straight hole of 200 m in some direction, and one planned shot to a point seen from the tee."""
    angle = math.radians(bearing_deg)
    ahead, right = np.array([math.sin(angle), math.cos(angle)]), np.array([math.cos(angle), -math.sin(angle)])
    to = target[0] * right + target[1] * ahead
    plan = lines(
        [(0, 0), tuple(to)],
        shot=[1],
        club=["8 iron"],
        role=["tee"],
        distance_m=[100.0],
        leave_m=[100.0],
        tolerance_m=[10.0],
    )
    hole = check_table(lines([(0, 0), tuple(200.0 * ahead)]), HOLE_LINES)
    ground = empty_table(SHAPES) if shapes is None else shapes
    return HolePainter(ground, hole, check_table(plan, PLAN)).draw(1)


class TestHolePainter:
    @pytest.mark.parametrize("bearing_deg", [0.0, 37.0, 90.0, 180.0, 271.0])
    def test_the_tee_is_at_the_bottom_and_right_is_right(self, bearing_deg):
        drawing = paint(bearing_deg, target=(15.0, 100.0))
        tee, target = numbers(drawing.planned[0])
        assert target[1] < tee[1]
        assert target[0] > tee[0]
        # Derived: a hole towards the east has north on its left.
        assert math.cos(math.radians(drawing.north_deg + bearing_deg)) == pytest.approx(1.0, abs=1e-6)

    def test_lengths_are_true(self):
        drawing = paint(63.0)
        tee, target = numbers(drawing.planned[0])
        ring = drawing.targets[0]["ring"]
        # Derived: 100 m planned with a tolerance of 10 m.
        assert np.hypot(*(target - tee)) / ring == pytest.approx(10.0, rel=0.02)

    def test_stays_within_its_frame(self, round_tables):
        painter = painter_of(round_tables)
        for hole in range(1, 19):
            drawing = painter.draw(hole)
            xy = np.vstack(
                [numbers(path) for _, path in drawing.ground + drawing.played]
                + [numbers(path) for path in drawing.planned + drawing.track + drawing.misses]
            )
            assert (xy[:, 0] >= drawing.left - 0.1).all()
            assert (xy[:, 0] <= drawing.right + 0.1).all()
            assert (xy[:, 1] >= 0).all()
            assert (xy[:, 1] <= drawing.height).all()

    def test_labels_do_not_cover_each_other(self, round_tables):
        painter = painter_of(round_tables)
        for hole in range(1, 19):
            drawing = painter.draw(hole)
            for side in ("plan", "played"):
                places = sorted(label["at"] for label in drawing.labels if label["side"] == side)
                assert all(b - a > 29.0 for a, b in itertools.pairwise(places))

    def test_each_target_is_tied_to_its_finish(self, round_tables):
        drawing = painter_of(round_tables).draw(4)
        for path, target, finish in zip(drawing.misses, drawing.targets, drawing.finishes, strict=True):
            assert numbers(path).tolist() == [[target["x"], target["y"]], [finish["x"], finish["y"]]]

    def test_a_doubtful_shot_looks_doubtful(self, round_tables):
        doubtful = round_tables.shots[round_tables.shots["confidence"] < 0.6].iloc[0]
        drawing = painter_of(round_tables).draw(int(doubtful["hole"]))
        shown = {finish["shot"]: finish["doubtful"] for finish in drawing.finishes}
        assert shown[int(doubtful["shot"])]
        assert ("m-played doubtful") in [style for style, _ in drawing.played]

    def test_a_shape_with_a_crossing_outline_is_no_trouble(self):
        bow = shapely.Polygon([(-20, 50), (20, 90), (20, 50), (-20, 90)])
        shapes = geo_table([{"kind": "fairway", "hole": 1}], [CENTRE.geometry_to_degrees(bow)])
        assert paint(0.0, shapes=check_table(shapes, SHAPES)).ground

    def test_without_positions_there_is_no_drawing(self):
        empty = empty_table(HOLE_LINES)
        plan = check_table(gpd.GeoDataFrame(empty_table(PLAN)), PLAN)
        assert HolePainter(empty_table(SHAPES), empty, plan).draw(1) is None

    def test_a_hole_nobody_drew_has_none(self, round_tables):
        assert painter_of(round_tables).draw(19) is None

    def test_a_hole_on_the_antimeridian_is_as_long_as_elsewhere(self):
        heights = []
        for lon in (-33.0, 180.0):
            frame = LocalFrame(lon, 44.0)
            line = frame.geometry_to_degrees(shapely.LineString([(-150, 0), (150, 0)]))
            table = check_table(geo_table([{"hole": 1}], [line]), HOLE_LINES)
            heights.append(HolePainter(empty_table(SHAPES), table, empty_table(PLAN)).draw(1).height)
        assert heights[0] == pytest.approx(heights[1], abs=0.5)


def painter_of(tables):
    return HolePainter(
        tables.shapes,
        tables.hole_lines,
        tables.plan,
        shots=tables.shots,
        track=tables.track,
        comparison=tables.comparison,
    )


class TestSpreadLabels:
    @given(st.lists(st.floats(0.0, 100.0), max_size=9))
    def test_keeps_apart_in_order_and_inside(self, wanted):
        places = spread_labels(wanted, 10.0, 0.0, 100.0)
        ordered = sorted(range(len(wanted)), key=lambda i: wanted[i])
        assert all(places[b] - places[a] >= 10.0 - 1e-9 for a, b in itertools.pairwise(ordered))
        assert all(5.0 - 1e-9 <= place <= 95.0 + 1e-9 for place in places)

    @given(st.lists(st.integers(0, 20), max_size=8, unique=True))
    def test_leaves_alone_what_has_room(self, tens):
        wanted = [10.0 * ten + 5.0 for ten in tens]
        assert spread_labels(wanted, 10.0, 0.0, 300.0) == pytest.approx(wanted)

    def test_more_than_fit_run_over_the_top(self):
        # Without room for all they keep their distance all the same.
        places = spread_labels([5.0] * 4, 10.0, 0.0, 20.0)
        assert sorted(places) == pytest.approx([-15.0, -5.0, 5.0, 15.0])


def test_the_drawing_of_a_round_is_the_same_every_time():
    one, other = (painter_of(invented_round(holes=2)).draw(2) for _ in range(2))
    assert one == other
