"""Clubs learned from shots: topped shots, few shots, inferred clubs, and intervals that hold what they say."""

import numpy as np
import pandas as pd
import pytest

from tests.simulator.seasons import simulate_season
from trackgolf.bag import Bag, Club
from trackgolf.errors import BagError
from trackgolf.learn.carries import CARRY_COLUMNS, learn_carries
from trackgolf.learn.club_model import mixture_quantiles
from trackgolf.learn.directions import find_directions
from trackgolf.learn.part_swings import learn_part_swings
from trackgolf.learn.roll import RollModel
from trackgolf.learn.shot_evidence import gather_evidence

INVENTED_BAG = Bag(
    "Invented Player",
    "m",
    100,
    None,
    (
        Club("driver", 170.0, 17.0, 15.0, 15.0, 0.2),
        Club("5 wood", 150.0, 12.0, 12.0, 12.0, 0.2),
        Club("7 iron", 110.0, 7.0, 9.0, 8.0, 0.15),
        Club("sand wedge", 60.0, 1.0, 6.0, 5.0, 0.15),
    ),
)


def struck(club, lengths_m, source="marked", **more):
    return pd.DataFrame(
        {
            "round": np.arange(len(lengths_m)) // 4, "day": np.arange(len(lengths_m)) // 4 * 7, "hole": 1, "shot": 2,
            "club": club, "club_source": source, "distance_m": lengths_m,
            "path_m": np.asarray(lengths_m, dtype=float) * 1.04, "leave_m": 100.0, "leave_before_m": 320.0,
            "lie": "fairway", "end_lie": "fairway", "confidence": 1.0, "detour": False, "sigma_m": 2.0, "end_sigma_m": 2.0,
        } | more
    )  # fmt: skip


def of(result, club):
    return result.clubs.set_index("club").loc[club]


GOOD = [104.0, 111.0, 108.0, 117.0, 100.0, 113.0, 107.0, 109.0, 103.0, 112.0]


class TestLearnCarries:
    def test_a_topped_shot_moves_no_carry(self):
        clean = of(learn_carries(struck("7 iron", GOOD), INVENTED_BAG), "7 iron")
        topped = of(learn_carries(struck("7 iron", [*GOOD, 31.0]), INVENTED_BAG), "7 iron")
        # Derived: the plain mean of the eleven lies 7 m below that of the ten.
        assert abs(topped["distance_m"] - clean["distance_m"]) < 0.7
        assert topped["mishit_share"] > clean["mishit_share"]

    def test_columns_and_order(self):
        result = learn_carries(struck("7 iron", GOOD), INVENTED_BAG)
        assert list(result.clubs.columns) == list(CARRY_COLUMNS)
        assert result.clubs["club"].tolist() == [club.name for club in INVENTED_BAG.clubs]
        row = of(result, "7 iron")
        assert row["shots"] == row["shots_named"] == 10
        assert row["carry_m"] + row["roll_m"] == pytest.approx(row["distance_m"])
        # Derived: the bag's roll is 7 m on a carry of 110 m, all finishes on the fairway.
        assert row["roll_m"] / row["carry_m"] == pytest.approx(7 / 110)
        assert row["path_m"] / row["distance_m"] == pytest.approx(1.04, abs=1e-3)
        assert row["plan_m"] < row["distance_m"]
        assert (
            row["distance_95_low_m"]
            < row["distance_80_low_m"]
            < row["distance_m"]
            < row["distance_80_high_m"]
        )

    def test_one_club_tells_of_the_others(self):
        short = learn_carries(struck("7 iron", np.array(GOOD * 4) * 0.9), INVENTED_BAG)
        before = learn_carries(struck("7 iron", GOOD[:0]), INVENTED_BAG)
        # A driver nobody has hit is expected shorter where the irons are shorter, and less surely than they.
        assert of(short, "driver")["distance_m"] < of(before, "driver")["distance_m"]
        width = short.clubs["distance_80_high_m"] - short.clubs["distance_80_low_m"]
        assert (width / short.clubs["distance_m"])[0] > (width / short.clubs["distance_m"])[2]

    def test_without_shots_the_belief_stays(self):
        result = learn_carries(struck("7 iron", GOOD[:0]), INVENTED_BAG)
        row = of(result, "7 iron")
        assert row["shots"] == 0
        # common practice, no source: true distances lie -12 % to +5 % from what is stated.
        assert row["distance_80_low_m"] < 0.97 * 117 < row["distance_80_high_m"]
        assert row["more_shots"] > 0

    def test_the_same_shots_give_the_same_answer(self):
        one, two = (learn_carries(struck("7 iron", GOOD), INVENTED_BAG) for _ in range(2))
        pd.testing.assert_frame_equal(one.clubs, two.clubs)

    def test_clubs_nobody_named_are_inferred(self):
        rng = np.random.default_rng(4)
        named = pd.concat(
            [
                struck("driver", rng.normal(180, 13, 20), lie="tee"),
                struck("5 wood", rng.normal(150, 11, 10)),
                struck("7 iron", rng.normal(110, 8, 10)),
            ]
        )
        unnamed = struck("", rng.normal(110, 5, 12), source="", leave_before_m=112.0)
        result = learn_carries(pd.concat([named, unnamed], ignore_index=True), INVENTED_BAG)
        row = of(result, "7 iron")
        assert row["shots_inferred"] >= 11
        assert 0.8 < row["club_confidence"] <= 1

    def test_a_plan_proves_nothing(self):
        rows = struck("7 iron", [140.0] * 20, source="plan")
        result = learn_carries(pd.concat([struck("7 iron", GOOD), rows], ignore_index=True), INVENTED_BAG)
        assert result.account["club known only from the plan"] == 20
        assert (
            of(result, "7 iron")["distance_m"]
            == of(learn_carries(struck("7 iron", GOOD), INVENTED_BAG), "7 iron")["distance_m"]
        )

    def test_change_over_time_is_seen(self):
        lengths = 110 + np.linspace(-9, 9, 60) + np.tile([-5.0, 5.0, 2.0, -2.0], 15)
        row = of(learn_carries(struck("7 iron", lengths), INVENTED_BAG), "7 iron")
        # Derived: 18 m from the first shot to the last, drawn in a little by what is believed of changes.
        assert 8 < row["change_m"] < 19
        assert row["change_80_low_m"] > 0

    def test_a_bag_without_clubs(self):
        with pytest.raises(BagError):
            learn_carries(struck("7 iron", GOOD), Bag("Nobody", "m", 100, None, ()))


class TestDirections:
    def test_a_lean_is_found_where_a_plan_had_targets(self):
        rng = np.random.default_rng(1)
        rows = struck(
            "7 iron",
            np.full(60, 110.0),
            right_m=rng.normal(9.0, 8.0, 60),
            planned_club="7 iron",
            planned_distance_m=117.0,
        )
        row = of(learn_carries(rows, INVENTED_BAG), "7 iron")
        # Derived: 9 m to the right; a sample spread of 7.0 m less 2.8 m of error of positions.
        assert row["right_m"] == pytest.approx(9.0, abs=2.0)
        assert row["right_80_low_m"] > 0
        assert row["spread_side_m"] == pytest.approx(6.4, abs=0.8)
        assert 55 <= row["side_shots"] <= 60

    def test_a_player_who_is_wider_than_stated_is_so_with_every_club(self):
        rng = np.random.default_rng(3)
        rows = struck(
            "7 iron",
            np.full(60, 110.0),
            right_m=rng.normal(0.0, 16.0, 60),
            planned_club="7 iron",
            planned_distance_m=117.0,
        )
        driver = of(learn_carries(rows, INVENTED_BAG), "driver")
        # Derived: twice the 8 m that the bag states for the iron, so some twice the 15 m it states for the driver.
        assert 20.0 < driver["spread_side_m"] < 34.0

    def test_angle_from_three_lengths(self):
        rows = struck("7 iron", np.full(40, 120.0), leave_before_m=125.0, leave_m=np.sqrt(20.0**2 + 5.0**2))
        full = gather_evidence(rows, INVENTED_BAG).full
        found = find_directions(full, np.full(40, 2), np.full(4, np.nan))
        # Derived: by the law of cosines the angle is 9.2 degrees, 0.160; a little less for the error of positions.
        assert 0.13 < found.spread[2] < 0.185
        assert found.shots[2] == 0


def test_roll():
    # Derived: 10 % of roll is 20 m on 200 m of carry.
    assert RollModel().carry_m(220.0, 0.1) == pytest.approx(200.0)
    assert RollModel(firmness=2.0).carry_m(240.0, 0.1) == pytest.approx(200.0)
    assert RollModel().carry_m(220.0, 0.1, ["rough"]) > 200.0


def test_quantiles_of_one_normal():
    found = mixture_quantiles(np.array([[3.0]]), np.array([[2.0]]), (0.1, 0.5, 0.9))
    # Source: any table of the normal distribution, 1.2816.
    assert found[0] == pytest.approx([3 - 2 * 1.2816, 3, 3 + 2 * 1.2816], abs=2e-3)


def test_part_swings_by_length():
    season = simulate_season(77, rounds=20)
    part = learn_part_swings(gather_evidence(season.shots, season.bag).part)
    known = part[part["shots"] > 40]
    assert len(known) >= 2
    # The simulator fails a quarter of them, wherever from.
    assert ((known["mishit_80_low"] < 0.30) & (known["mishit_80_high"] > 0.20)).all()
    assert (known["green_share"].diff().dropna() < 0.05).all()


class TestSeasons:
    """A small version of the benchmark, on seeds of its own."""

    @pytest.fixture(scope="class")
    @staticmethod
    def seasons():
        rows = []
        for seed in range(9000, 9010):
            season = simulate_season(seed, rounds=8)
            clubs = learn_carries(season.shots, season.bag).clubs
            counts = np.bincount(
                season.shots.loc[season.shots["kind"] == "full", "true_club"], minlength=len(clubs)
            )
            rows.append(clubs.assign(truth_m=season.true_mean_m, true_shots=counts))
        return pd.concat(rows, ignore_index=True)

    def test_intervals_hold_what_they_say(self, seasons):
        inside = (seasons["distance_80_low_m"] <= seasons["truth_m"]) & (
            seasons["truth_m"] <= seasons["distance_80_high_m"]
        )
        # Derived: of some 95 clubs an 80 % interval holds 76, give or take 3 standard errors of 4 (clubs of one
        # player go together).
        assert 0.68 < inside.mean() < 0.92

    def test_no_bias(self, seasons):
        many = seasons[seasons["true_shots"] >= 30]
        assert len(many) > 30
        # Derived: under 1 % is asked of many seasons; the mean of ten players has a standard error of 0.25 %.
        assert abs((many["distance_m"] / many["truth_m"] - 1).mean()) < 0.01 + 2 * 0.0025
