from __future__ import annotations

import datetime as dt
import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.show import (
    DARK,
    LIGHT,
    OKABE_ITO,
    contrast_ratio,
    in_unit,
    local_time,
    nice_step,
    round_half_up,
    short_club,
    shorten,
    whole_length,
)
from tests.reports.colour_science import MACHADO, difference

THEMES = pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
GROUNDS = ("paper", "panel", "ground", "fairway", "tee", "green", "sand", "water", "built")


class TestLengths:
    def test_a_yard_is_exact(self):
        # Source: International Yard and Pound Agreement, 1959: 1 yd = 0.9144 m.
        assert in_unit(0.9144, "yd") == 1.0
        assert whole_length(91.44, "yd") == "100"

    def test_a_half_goes_up_after_the_conversion_too(self):
        # Derived: 96.5 yd are 88.2396 m, and binary fractions must not turn that into 96.
        assert whole_length(96.5 * 0.9144, "yd") == "97"
        assert whole_length(-2.5, "m") == "−3"

    @pytest.mark.parametrize("length", [float("nan"), float("inf"), None])
    def test_the_unknown_is_a_dash(self, length):
        assert whole_length(length, "m") == "–"

    @given(st.floats(-1e6, 1e6))
    def test_rounding_is_never_off_by_more_than_a_half(self, value):
        assert abs(round_half_up(value) - value) <= 0.5 + 1e-9
        assert round_half_up(-value) == -round_half_up(value)

    @given(st.floats(0.5, 1e5), st.integers(1, 9))
    def test_a_step_is_one_two_or_five_and_few(self, span, most):
        step = nice_step(span, most)
        assert span / step <= most + 1e-6
        assert round(step / 10.0 ** math.floor(math.log10(step) + 1e-9), 6) in {1.0, 2.0, 5.0}


class TestLocalTime:
    def test_summer_time_counts(self):
        # Source: IANA time zone database, Europe/Lisbon is UTC in winter and UTC+1 in summer.
        for month, hour in ((1, 12), (7, 13)):
            moment = dt.datetime(2026, month, 1, 12, 0, tzinfo=dt.UTC)
            assert local_time(moment, "Europe/Lisbon").hour == hour

    def test_an_hour_that_comes_twice_stays_the_same_moment(self):
        moment = dt.datetime(2026, 10, 25, 1, 30, tzinfo=dt.UTC)
        assert local_time(moment, "Europe/Lisbon").timestamp() == moment.timestamp()

    def test_a_time_without_zone_is_refused(self):
        with pytest.raises(ValueError, match="without a zone"):
            local_time(dt.datetime(2026, 1, 1), "UTC")  # noqa: DTZ001 - the fault


class TestClubNames:
    @pytest.mark.parametrize(
        ("name", "short"),
        [
            ("7 iron", "7i"),
            ("7-iron", "7i"),
            ("10 Iron", "10i"),
            ("3W", "3w"),
            ("sand wedge", "sw"),
            ("driver", "dr"),
            ("60 degree wedge", "60 d…"),
            ("{{7*7}}", "{{7*…"),
            ("", ""),
        ],
    )
    def test_is_short(self, name, short):
        assert short_club(name) == short

    @given(st.text(max_size=40))
    def test_no_name_breaks_it(self, name):
        assert len(short_club(name)) <= 5

    def test_a_short_text_is_left_alone(self):
        assert shorten("8 iron", 6) == "8 iron"


class TestColours:
    def test_the_palette_is_the_published_one(self):
        # Source: M. Okabe and K. Ito, "Color Universal Design", 2008, palette of eight colours, RGB 0 to 255.
        published = {
            "black": (0, 0, 0),
            "orange": (230, 159, 0),
            "sky blue": (86, 180, 233),
            "bluish green": (0, 158, 115),
            "yellow": (240, 228, 66),
            "blue": (0, 114, 178),
            "vermillion": (213, 94, 0),
            "reddish purple": (204, 121, 167),
        }
        ours = {name: tuple(int(code[i : i + 2], 16) for i in (1, 3, 5)) for name, code in OKABE_ITO.items()}
        assert ours == published

    @THEMES
    @pytest.mark.parametrize("kind", [None, *MACHADO])
    def test_planned_and_played_differ_to_every_eye(self, theme, kind):
        # Derived: far above the just noticeable difference of 2.3; black to white is 100.
        assert difference(theme["plan"], theme["played"], kind) > 60.0
        assert difference(theme["plan-text"], theme["played-text"], kind) > 60.0

    @THEMES
    @pytest.mark.parametrize("kind", [None, *MACHADO])
    def test_within_and_outside_differ_to_every_eye(self, theme, kind):
        # Shape is the second sign here: a disc and a triangle.
        assert difference(theme["sure"], theme["played"], kind) > 30.0

    def test_the_simulation_confuses_what_such_eyes_confuse(self):
        # A red and a green of one lightness: the check above would fail for them, so it can fail.
        assert difference("#c86432", "#8c8c28") > 40.0
        assert difference("#c86432", "#8c8c28", "deuteranopia") < 15.0

    def test_contrast_is_the_published_formula(self):
        # Source: W3C, WCAG 2.2, contrast ratio; #767676 is the lightest grey with 4.5 to 1 on white.
        assert contrast_ratio("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
        assert contrast_ratio("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
        assert contrast_ratio("#123456", "#123456") == 1.0

    @THEMES
    def test_text_can_be_read(self, theme):
        # Source: W3C, WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.
        texts = ("ink", "quiet", "link", "plan-text", "played-text")
        for text, ground in itertools.product(texts, ("paper", "panel")):
            assert contrast_ratio(theme[text], theme[ground]) >= 4.5, (text, ground)

    @THEMES
    def test_marks_stand_out_from_every_ground(self, theme):
        # Source: W3C, WCAG 2.2, success criterion 1.4.11: 3 to 1 for what a picture needs.
        for mark, ground in itertools.product(("ink", "plan", "played", "sure"), GROUNDS):
            assert contrast_ratio(theme[mark], theme[ground]) >= 3.0, (mark, ground)

    def test_both_themes_name_the_same_colours(self):
        assert list(LIGHT) == list(DARK)
