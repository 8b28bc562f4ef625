import pytest

from geo.units import FOOT_M, YARD_M, to_metres, to_yards


def test_the_international_yard():
    # Source: International Yard and Pound Agreement, 1959: 0.9144 m exactly, a foot is a third of it.
    assert YARD_M == 0.9144
    assert pytest.approx(YARD_M, abs=1e-15) == 3 * FOOT_M


def test_there_and_back():
    assert to_yards(to_metres(372.0)) == pytest.approx(372.0, abs=1e-12)
