"""The bag file: read, filled in, refused."""

import math

import numpy as np
import pytest

from trackgolf.bag import Bag, Club, read_bag
from trackgolf.bag_priors import club_prior
from trackgolf.errors import BagError

INVENTED_BAG = """\
# invented
units = "yd"

[player]
name = "Ines Okafor"
target_score = 97

[[club]]
name = "driver"
carry = 165
roll = 15
avoid = true

[[club]]
name = "8 iron"
carry = 127
roll = 7
spread_long = 11
spread_side = 8

[[club]]
name = "gap wedge"
carry = 87
roll = 1
mishit_share = 0.05

[[club]]
name = "sand wedge"
carry = 70

[[approach]]
club = "GW"
distance = 88

[[part_swing]]
club = "sand wedge"
from = 15
to = 55
mishit_share = 0.3
"""


@pytest.fixture
def read(tmp_path):
    def write_and_read(text):
        path = tmp_path / "bag.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_bag(path)

    return write_and_read


@pytest.fixture
def refused(read):
    def message(text):
        with pytest.raises(BagError) as caught:
            read(text)
        return str(caught.value)

    return message


class TestReading:
    def test_lengths_come_in_metres(self, read):
        bag = read(INVENTED_BAG)
        iron = bag.find_club("8 iron")
        # Source: International Yard and Pound Agreement, 1959: one yard is 0.9144 m exactly.
        assert iron.carry_m == pytest.approx(127 * 0.9144, abs=1e-9)
        assert iron.distance_m == pytest.approx(134 * 0.9144, abs=1e-9)
        assert iron.spread_long_m == pytest.approx(11 * 0.9144, abs=1e-9)
        assert (bag.player, bag.units, bag.target_score, bag.playing_handicap) == (
            "Ines Okafor",
            "yd",
            97,
            None,
        )
        assert bag.invented
        assert bag.approaches[0].club == "gap wedge"
        assert bag.part_swings[0].to_m == pytest.approx(55 * 0.9144)
        assert bag.part_swings[0].mishit_share == 0.3

    def test_metres_stay_as_they_are(self, read):
        bag = read(INVENTED_BAG.replace('"yd"', '"m"').replace("# invented\n", ""))
        assert bag.find_club("8 iron").carry_m == 127
        assert not bag.invented

    @pytest.mark.parametrize("dress", [lambda t: "\ufeff" + t, lambda t: t.replace("\n", "\r\n")])
    def test_marks_and_line_ends_of_other_systems(self, read, dress):
        assert len(read(dress(INVENTED_BAG)).clubs) == 4

    def test_only_what_is_said_to_be_avoided_is(self, read):
        assert [club.name for club in read(INVENTED_BAG).clubs if club.avoid] == ["driver"]

    def test_a_name_no_club_has_is_none(self, read):
        assert read(INVENTED_BAG).find_club("3 wood") is None

    def test_neither_target_nor_handicap_can_be_read(self, read):
        bag = read(INVENTED_BAG.replace("target_score = 97", ""))
        assert bag.target_score is bag.playing_handicap is None

    @pytest.mark.parametrize("handicap", [25, 25.5, -2, 0])
    def test_a_playing_handicap_instead(self, read, handicap):
        bag = read(INVENTED_BAG.replace("target_score = 97", f"playing_handicap = {handicap}"))
        assert bag.playing_handicap == handicap


class TestPriors:
    def test_what_is_silent_is_filled_and_named(self, read):
        bag = read(INVENTED_BAG)
        wedge = bag.find_club("sand wedge")
        assert wedge.assumed == ("roll", "spread_long", "spread_side", "mishit_share")
        assert bag.find_club("8 iron").assumed == ("mishit_share",)
        assert 0 < wedge.roll_m < wedge.carry_m
        assert any("filled in" in warning and "sand wedge" in warning for warning in bag.warnings)

    # common practice, no source: driver 5-15 %, mid iron 4-8 %, wedge 0-3 % of the carry on a fairway.
    @pytest.mark.parametrize(
        ("name", "low", "high"),
        [("driver", 0.05, 0.15), ("6 iron", 0.04, 0.08), ("56", 0, 0.03), ("PW", 0, 0.03)],
    )
    def test_roll_is_what_the_trade_expects(self, name, low, high):
        assert low <= club_prior(name, 100.0).roll_share <= high

    def test_spread_gives_the_published_pattern(self):
        # Source: Broadie, Every Shot Counts (2014): a golfer who shoots 90 leaves half the shots from 150 yd on a
        # fairway beyond 59 ft; the pattern is 1.5 times longer than wide, its centre 13 yd short.
        prior = club_prior("6 iron", 130.0)
        assert prior.long_share / prior.side_share == pytest.approx(1.5, abs=0.05)
        rng = np.random.default_rng(1)
        along_yd = rng.normal(-13, 150 * prior.long_share, 400_000)
        across_yd = rng.normal(0, 150 * prior.side_share, 400_000)
        assert np.median(np.hypot(along_yd, across_yd)) * 3 == pytest.approx(59, abs=1)

    @pytest.mark.parametrize(
        "name", ["driver", "5 wood", "4 hybrid", "3 iron", "7 iron", "sand wedge", "Betsy"]
    )
    def test_no_prior_is_tighter_than_a_tour_player(self, name):
        # Source: James & Rees, Int. J. Sports Sci. Coaching 3 (2008): median miss of tour players from 100 to
        # 200 yd on the fairway 4.6 to 5.3 % of the distance.
        prior = club_prior(name, 140.0)
        # The median of a circular normal of this width is 1.1774 sigma (chi-square, 2 df).
        assert 1.1774 * min(prior.long_share, prior.side_share) > 0.053

    def test_a_nameless_kind_goes_by_its_carry(self):
        assert club_prior("Betsy", 60.0) == club_prior("lob wedge", 60.0)
        assert club_prior("Betsy", 130.0) == club_prior("7 iron", 130.0)
        assert club_prior("Betsy", 170.0) == club_prior("4 hybrid", 170.0)

    def test_no_preferred_distance_takes_full_wedges(self, read):
        text = INVENTED_BAG.replace('[[approach]]\nclub = "GW"\ndistance = 88\n', "")
        bag = read(text)
        assert [approach.club for approach in bag.approaches] == ["gap wedge", "sand wedge"]
        assert any("no [[approach]]" in warning for warning in bag.warnings)


class TestRefused:
    def test_all_faults_at_once_with_the_club(self, refused):
        text = (
            INVENTED_BAG.replace("carry = 127", 'carry = "127"')
            .replace("carry = 87", "carry = -87")
            .replace("from = 15", "from = 60")
            .replace('club = "GW"', 'club = "lob wedge"')
            .replace("target_score = 97", "target_score = 97\nplaying_handicap = 25")
        )
        message = refused(text)
        for words in (
            "club 2 ('8 iron'): carry = '127' is not a number",
            "club 3 ('gap wedge'): carry = -87 is not between",
            "approach 1: no single club of this bag is meant by 'lob wedge'",
            "part_swing 1: from 60 to 55 is no range",
            "both target_score and playing_handicap",
        ):
            assert words in message
        assert message.splitlines()[0].endswith("5 faults.")

    @pytest.mark.parametrize(
        ("old", "new", "words"),
        [
            ("carry = 165", "carry = 700", "is not between 5 and 415: lengths are in yd here, feet"),
            ("carry = 165", "carry = true", "not a number"),
            ("carry = 165", "carry = inf", "not between"),
            ("carry = 165", "carry = nan", "not between"),
            ("carry = 165", f"carry = {'9' * 400}", "more than 20 digits"),
            ("carry = 165\n", "", "club 1 ('driver'): no carry"),
            ("roll = 15", "roll = -3", "roll = -3 is not between"),
            ("roll = 15", "roll = 300", "roll = 300 is not between"),
            ("spread_long = 11", "spread_long = 0", "standard deviation"),
            ("mishit_share = 0.05", "mishit_share = 5", "it is a share"),
            ("avoid = true", 'avoid = "yes"', "neither true nor false"),
            (
                'name = "sand wedge"',
                'name = "8i"',
                "club 4 ('8i'): this club is there twice, before as '8 iron'",
            ),
            ('name = "sand wedge"', "name = 56", "put it in quotes"),
            ('name = "sand wedge"\n', "", "club 4: no name"),
            ('name = "sand wedge"', 'name = " "', "name is empty"),
            ('units = "yd"\n', "", "no units"),
            ('units = "yd"', 'units = "feet"', "neither"),
            ("distance = 88", "distance = 140", "gap wedge goes 88 yd"),
            ("distance = 88\n", "", "approach 1: no distance"),
            ("to = 55", "to = 155", "sand wedge goes 71 yd"),
            ("to = 55\n", "", "no 'to'"),
            ("target_score = 97", "target_score = 9", "strokes of a whole round"),
            ("target_score = 97", "target_score = 97.5", "whole number"),
            ("target_score = 97", "playing_handicap = +2", "-2 for a plus player"),
            ("[player]", "[[player]]", "player must be a table"),
        ],
    )
    def test_one_fault(self, refused, old, new, words):
        assert INVENTED_BAG.count(old) >= 1
        assert words in refused(INVENTED_BAG.replace(old, new, 1))

    def test_a_syntax_error_names_the_line(self, refused):
        assert "line 10" in refused(INVENTED_BAG.replace("carry = 165", "carry = 165 yd"))

    @pytest.mark.parametrize(
        "text",
        ["<html>", '{"units": "yd"}', "a = " + "[" * 5000, "units = ", b"\xff\xfe\x00", "a = " + "9" * 5000],
    )
    def test_what_is_no_toml(self, refused, text):
        assert "not valid TOML" in refused(text)

    def test_no_clubs(self, refused):
        assert "no clubs" in refused('units = "m"\n')
        assert "no clubs but a putter" in refused('units = "m"\n[[club]]\nname = "putter"\n')
        assert "begun by [[club]]" in refused('units = "m"\nclub = ["driver"]\n')

    def test_no_file(self, tmp_path):
        with pytest.raises(BagError, match="no such file"):
            read_bag(tmp_path / "none.toml")

    def test_a_club_without_length_cannot_be_made(self):
        with pytest.raises(BagError):
            Club("8 iron", math.nan, 1, 1, 1, 0.1)


class TestWarned:
    def test_unknown_keys(self, read):
        bag = read(INVENTED_BAG.replace("roll = 15", "rol = 15"))
        assert (
            "club 1 ('driver'): 'rol' means nothing here and is passed over (did you mean 'roll'?)"
            in bag.warnings
        )

    def test_a_distance_a_little_beyond_the_club(self, read):
        bag = read(INVENTED_BAG.replace("distance = 88", "distance = 90"))
        assert bag.approaches[0].distance_m == pytest.approx(88 * 0.9144)
        assert any("planned so" in warning for warning in bag.warnings)

    def test_more_clubs_than_allowed(self, read):
        # Source: Rules of Golf 2023, 4.1b(1): no more than 14 clubs.
        more = "".join(f'[[club]]\nname = "spoon {n}"\ncarry = {60 + n}\n' for n in range(11))
        assert any("15 clubs" in warning for warning in read(INVENTED_BAG + more).warnings)

    def test_carries_beyond_a_tour_player(self, read):
        bag = read(INVENTED_BAG.replace('"yd"', '"m"').replace("carry = 165", "carry = 300"))
        assert any("is units = 'm' right" in warning for warning in bag.warnings)

    def test_a_putter_is_passed_over(self, read):
        bag = read(INVENTED_BAG + '[[club]]\nname = "putter"\n')
        assert len(bag.clubs) == 4

    def test_a_full_bag_warns_of_nothing(self, read):
        text = 'units = "yd"\n[player]\nname = "A"\ntarget_score = 97\n' + "".join(
            f'[[club]]\nname = "{n} iron"\ncarry = {n * 10}\nroll = 5\nspread_long = 9\nspread_side = 6\n'
            "mishit_share = 0.1\n"
            for n in (8, 9)
        )
        assert read(text + '[[approach]]\nclub = "8i"\ndistance = 85\n').warnings == ()


def test_bags_are_values():
    club = Club("8 iron", 116.0, 6.0, 10.0, 7.0, 0.1)
    assert Bag("A", "m", None, None, (club,)) == Bag("A", "m", None, None, (club,))
