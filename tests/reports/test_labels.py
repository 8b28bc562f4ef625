from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.labels import label_box, place_labels


def scattered(seed, count, spread):
    rng = np.random.default_rng(seed)
    places = np.clip(rng.normal(0.0, spread, (count, 2)), -150.0, 150.0)
    return [{"x": x, "y": y, "club": "7i", "hole": hole % 18 + 1} for hole, (x, y) in enumerate(places)]


def touching(points):
    boxes = [label_box(point) for point in points]
    return [
        (one, other)
        for one, other in itertools.combinations(boxes, 2)
        if min(one[2], other[2]) > max(one[0], other[0]) and min(one[3], other[3]) > max(one[1], other[1])
    ]


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=20)
def test_a_round_of_labels_never_touches(seed):
    points = scattered(seed, 24, 45.0)
    place_labels(points, 160.0)
    assert touching(points) == []


def test_not_even_when_three_in_four_are_within_a_tolerance():
    points = scattered(3, 48, 35.0)
    place_labels(points, 160.0)
    assert touching(points) == []


@pytest.mark.parametrize("seed", range(3))
def test_labels_stay_in_the_picture(seed):
    points = scattered(seed, 30, 70.0)
    place_labels(points, 160.0)
    boxes = np.array([label_box(point) for point in points])
    assert np.abs(boxes).max() <= 161.0


def test_a_label_alone_stands_beside_its_point_without_a_line():
    points = [{"x": 10.0, "y": -20.0, "club": "pw", "hole": 4}]
    place_labels(points, 160.0)
    left, top, _, bottom = label_box(points[0])
    assert 10.0 < left < 25.0
    assert top < -20.0 < bottom
    assert points[0]["leader"] is None


def test_a_label_far_from_its_point_has_a_line_to_its_edge():
    points = [{"x": 0.0, "y": 0.0, "club": "7i", "hole": 4} for _ in range(30)]
    place_labels(points, 160.0)
    led = [point for point in points if point["leader"]]
    assert len(led) > 15
    for point in led:
        left, top, right, bottom = label_box(point)
        x, y = point["leader"]
        assert left - 2.0 <= x <= right + 2.0
        assert top - 2.0 <= y <= bottom + 2.0


def test_places_to_keep_free_are_kept_free():
    points = [{"x": 0.0, "y": 0.0, "club": "7i", "hole": 4}]
    place_labels(points, 160.0, keep_free=[(20.0, 0.0)])
    left, top, right, bottom = label_box(points[0])
    assert not (left < 20.0 < right and top < 0.0 < bottom)


def test_no_point_is_no_label():
    points = []
    place_labels(points, 160.0)
    assert points == []
