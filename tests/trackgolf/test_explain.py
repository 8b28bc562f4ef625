"""A hole told in words: every stop once, with the numbers the decoder has."""

import math
import re

import pytest

from tests.shapes import START, plan_of, tiny_bag, tiny_course, tiny_hole, track_of, trail_through
from trackgolf.errors import InputError
from trackgolf.explain import _odds, explain_hole
from trackgolf.reconstruct import reconstruct

COURSE = tiny_course(
    tiny_hole(1, ((0, 0), (0, 300))),
    tiny_hole(2, ((60, 300), (60, 150)), par=3),
    tiny_hole(3, ((120, 150), (120, 550)), par=5),
)
# The stand of 20 s at 210 m is a wait: no club of the bag goes there from either side.
PLACES = [
    (-10, -30, 40), (0, 0, 50), (5, 150, 40), (6, 210, 8), (0, 262, 40), (2, 302, 90), (60, 300, 60), (60, 148, 80),
    (120, 150, 50), (125, 300, 40), (118, 420, 40), (120, 551, 90), (150, 560, 60),
]  # fmt: skip


@pytest.fixture(scope="module")
def played():
    trail, _ = trail_through(*PLACES)
    return reconstruct(track_of(trail), COURSE, tiny_bag())


class TestHole:
    def test_tells_every_shot_once_in_order(self, played):
        lines = explain_hole(played, 1, "UTC")
        shots = [re.search(r"shot (\d), (\d+)% sure", line) for line in lines]
        found = [(int(shot[1]), int(shot[2])) for shot in shots if shot]
        mine = played.shots[played.shots["hole"] == 1]
        assert [number for number, _ in found] == mine["shot"].tolist()
        assert [sure for _, sure in found] == [round(100 * share) for share in mine["confidence"]]
        assert lines[0].startswith("Hole 1, par 4, 300 m, played from 08:")

    def test_tells_the_stop_that_was_no_shot(self, played):
        (line,) = [
            line
            for line in explain_hole(played, 1, "UTC")
            if "no shot" in line and "from the shot before" in line
        ]
        # Derived: the wait lies 60 m beyond the second shot.
        apart = int(re.search(r"(\d+) m from the shot before", line)[1])
        assert apart == pytest.approx(60, abs=3)
        assert "by the stop itself" in line.lower()
        assert "against" in line

    def test_ends_with_the_green(self, played):
        lines = explain_hole(played, 1, "UTC")
        assert any("the hole ends here" in line for line in lines)
        assert not any("Hole 2" in line for line in lines)

    def test_in_time_of_the_place_and_units_of_the_bag(self, played):
        # Source: IANA tz database: Tokyo is nine hours ahead of UTC, all year.
        utc, tokyo = (explain_hole(played, 2, zone)[1] for zone in ("UTC", "Asia/Tokyo"))
        assert int(tokyo[:2]) - int(utc[:2]) == 9
        assert utc[2:8] == tokyo[2:8]
        assert START.hour == 8
        from dataclasses import replace

        yards = explain_hole(replace(played, bag=tiny_bag(units="yd")), 2, "UTC")[0]
        # Source: the yard is 0.9144 m exactly (international agreement of 1959); 150 m are 164 yd.
        assert "164 yd" in yards

    def test_says_where_a_club_is_known_from(self, played):
        trail, _ = trail_through(*PLACES)
        marked = reconstruct(
            track_of(trail, marks=[(75, 0, 0, "driver")]), COURSE, tiny_bag(),
            plan=plan_of((1, 1, "driver", "tee", (0, 0), (0, 180), (0, 300))),
        )  # fmt: skip
        assert "club: driver, by your mark (a full one goes 180 m by your bag)" in " ".join(
            explain_hole(marked, 1, "UTC")
        )

    @pytest.mark.parametrize("hole", [4, 18])
    def test_a_hole_the_course_does_not_have(self, played, hole):
        with pytest.raises(InputError, match=f"the course has no hole {hole}"):
            explain_hole(played, hole, "UTC")

    def test_a_hole_that_was_not_played(self):
        trail, _ = trail_through(*PLACES[:7])
        short = reconstruct(track_of(trail), COURSE, tiny_bag())
        with pytest.raises(InputError, match="hole 3 was not played"):
            explain_hole(short, 3, "UTC")


class TestOdds:
    @pytest.mark.parametrize(
        ("ratio", "text"),
        # Derived: odds are the likelihood ratio itself, turned round where it speaks against.
        [
            (4.0, "4.0 to 1 for"),
            (1 / 25, "25 to 1 against"),
            (1.2, "neither way"),
            (1e9, "1000 or more to 1 for"),
        ],
    )
    def test_are_the_ratio(self, ratio, text):
        assert _odds(math.log(ratio)) == text
