"""Curves over what is left, bands and verdicts, putts, regulation, and causes that add up."""

import numpy as np
import pandas as pd
import pytest
from scipy import special

from tests.simulator.seasons import simulate_season
from trackgolf.bag import Approach, Bag, Club
from trackgolf.errors import InputError
from trackgolf.learn.approach_shots import approach_shots
from trackgolf.learn.approaches import learn_approaches, preferred
from trackgolf.learn.approaches_show import cost_sentence, putt_sentences, verdicts
from trackgolf.learn.causes import CAUSES, causes_by_round, strokes_by_cause, strokes_to_come
from trackgolf.learn.curves import smooth_mean, smooth_share
from trackgolf.learn.many_rounds import ManyRounds, join_rounds
from trackgolf.learn.putts import account_for_putts, account_for_regulation

INVENTED_BAG = Bag(
    "Invented Player",
    "m",
    100,
    None,
    (Club("7 iron", 110.0, 7.0, 9.0, 8.0, 0.15), Club("sand wedge", 60.0, 1.0, 6.0, 5.0, 0.15)),
    (Approach("sand wedge", 50.0),),
)


class TestCurves:
    def test_at_one_place_it_is_the_beta_binomial(self):
        hits = np.repeat([1.0, 0.0], [437, 543])
        curve = smooth_share(np.full(980, 50.0), hits, [50.0], interval=0.95)
        # Source: Gelman et al., BDA3, section 2.4: mean 0.446, 95 % 0.415 to 0.477; the prior here differs a little.
        assert curve.mean[0] == pytest.approx(0.446, abs=1e-3)
        assert (curve.low[0], curve.high[0]) == pytest.approx((0.415, 0.477), abs=2e-3)

    def test_a_straight_slope_is_that_of_logistic_regression(self):
        import statsmodels.api as sm

        rng = np.random.default_rng(3)
        x = rng.uniform(20, 160, 400)
        hits = (rng.random(400) < special.expit(3.0 - 0.035 * x)).astype(float)
        curve = smooth_share(x, hits, [40.0, 90.0, 140.0])
        fit = sm.Logit(hits, sm.add_constant(x)).fit(disp=0)
        # Source: statsmodels, Logit on the same data; a curve free to bend lies within a few hundredths.
        assert curve.mean == pytest.approx(
            fit.predict(np.column_stack([np.ones(3), [40.0, 90.0, 140.0]])), abs=0.06
        )
        assert (curve.low < curve.mean).all()
        assert (curve.mean < curve.high).all()

    def test_intervals_hold_what_they_say(self):
        at = np.array([40.0, 80.0, 120.0])
        truth = special.expit(2.5 - 0.03 * at)
        inside = []
        for seed in range(60):
            rng = np.random.default_rng([seed, 8])
            x = rng.uniform(20, 150, 60)
            hits = (rng.random(60) < special.expit(2.5 - 0.03 * x)).astype(float)
            curve = smooth_share(x, hits, at)
            inside.append((curve.low <= truth) & (truth <= curve.high))
        # Derived: 180 intervals of 80 % hold 144, three standard errors are some 20 (three go together).
        assert 0.68 < np.mean(inside) < 0.92

    def test_effects_of_further_columns(self):
        rng = np.random.default_rng(5)
        x, worse = rng.uniform(20, 150, 600), rng.integers(0, 2, 600)
        hits = (rng.random(600) < special.expit(2.5 - 0.02 * x - 1.0 * worse)).astype(float)
        curve = smooth_share(x, hits, [80.0], columns=worse[:, None])
        # Derived: the data were drawn with a difference of -1 in log odds.
        assert curve.effects[0, 1] < -1.0 < curve.effects[0, 2]

    def test_a_curve_for_other_columns_lies_by_their_effect_aside(self):
        rng = np.random.default_rng(5)
        x, worse = rng.uniform(20, 150, 600), rng.integers(0, 2, 600)
        hits = (rng.random(600) < special.expit(2.5 - 0.02 * x - 1.0 * worse)).astype(float)
        plain, there = (
            smooth_share(x, hits, [50.0, 100.0], columns=worse[:, None], at_columns=at)
            for at in ([0.0], [1.0])
        )
        # Derived: on the scale of log odds both differ by the effect at every place, but for the width of each.
        assert special.logit(there.mean) - special.logit(plain.mean) == pytest.approx(
            plain.effects[0, 0], abs=0.05
        )
        # Derived: 2.5 - 0.02 x - 1 are log odds of 0.5 and -0.5 there.
        assert ((there.low < special.expit([0.5, -0.5])) & (special.expit([0.5, -0.5]) < there.high)).all()

    def test_means(self):
        x = np.linspace(0, 100, 101)
        curve = smooth_mean(x, 2.0 + 0.01 * x, [0.0, 50.0, 100.0])
        # Derived: the line itself.
        assert curve.mean == pytest.approx([2.0, 2.5, 3.0], abs=0.05)

    def test_nothing(self):
        with pytest.raises(InputError):
            smooth_share([], [], [1.0])


def one_hole(
    shots, *, strokes, putts, penalties=0, personal_par=6, regulation=4, length=300.0, comparison=()
):
    """A hole from (leave before, leave, end lie) of each shot."""
    rows = [
        {
            "round": 1, "visit": 0, "hole": 1, "shot": n, "club": "", "club_source": "", "distance_m": 1.0, "lie": "fairway",
            "leave_before_m": before, "leave_m": left, "end_lie": end, "confidence": 1.0, "penalty": 0,
        }
        for n, (before, left, end) in enumerate(shots, start=1)
    ]  # fmt: skip
    hole = {
        "round": 1, "visit": 0, "hole": 1, "par": 4, "length_m": length, "personal_par": personal_par,
        "regulation_shots": regulation, "shots": len(shots), "putts": putts, "penalties": penalties, "strokes": strokes,
        "putts_source": "card",
    }  # fmt: skip
    compared = pd.DataFrame(
        comparison,
        columns=["round", "hole", "shot", "role", "planned_club", "followed", "within_tolerance", "long_m"],
    )
    return join_rounds(pd.DataFrame(rows), pd.DataFrame([hole]), compared)


THREE = [(300.0, 170.0, "fairway"), (170.0, 40.0, "rough"), (40.0, 6.0, "green")]


class TestApproachShots:
    def test_strokes_to_finish(self):
        found = approach_shots(one_hole(THREE, strokes=5, putts=2), longest_m=180.0)
        # Derived: from the second shot on 4 strokes, from the third 3.
        assert found["strokes"].tolist() == [4.0, 3.0]
        assert found["green"].tolist() == [False, True]
        # Derived: three more after the second shot, two more after the third.
        assert found["down_in_two"].tolist() == [0.0, 1.0]
        assert found["down_in_three"].tolist() == [1.0, 1.0]

    def test_lost_balls_count_as_not_reached_and_unseen_ends_not_at_all(self):
        lost = one_hole([(120.0, np.nan, "lost"), (120.0, 5.0, "green")], strokes=5, putts=2, penalties=1)
        assert approach_shots(lost, 180.0)["green"].tolist() == [False, True]
        unseen = one_hole([(120.0, np.nan, "picked_up")], strokes=np.nan, putts=np.nan)
        assert approach_shots(unseen, 180.0).empty


class TestBands:
    @pytest.fixture(scope="class")
    @staticmethod
    def rounds():
        rng = np.random.default_rng(11)
        rows, holes = [], []
        for n in range(120):
            far = 50.0 if n % 2 else 90.0
            on = rng.random() < (0.2 if far == 50.0 else 0.75)
            rows.append({"round": n // 18, "visit": n % 18, "hole": n % 18 + 1, "shot": 3, "club": "", "club_source": "",
                         "distance_m": far, "leave_before_m": far + rng.uniform(-4, 4), "leave_m": 5.0 if on else 25.0,
                         "lie": "fairway", "end_lie": "green" if on else "rough", "confidence": 1.0})  # fmt: skip
            holes.append(
                {"round": n // 18, "visit": n % 18, "hole": n % 18 + 1, "strokes": 6, "shots": 4, "putts": 2}
            )
        return ManyRounds(pd.DataFrame(rows), pd.DataFrame(holes), pd.DataFrame())

    def test_the_better_distance_is_found_and_said(self, rounds):
        found = learn_approaches(rounds, INVENTED_BAG)
        # Derived: drawn with 75 % at 90 m and 20 % at the 50 m that were named, 60 shots each.
        assert found.best.from_m < 90.0 < found.best.to_m
        assert found.best.green.mean == pytest.approx(0.75, abs=0.12)
        assert found.named[0].green.mean == pytest.approx(0.2, abs=0.12)
        assert found.sure
        (sentence,) = verdicts(found, "m")
        assert "you named 50 m" in sentence
        assert sentence.endswith("surely less.")

    def test_the_next_bag_prefers_it(self, rounds):
        found = learn_approaches(rounds, INVENTED_BAG)
        approaches = preferred(INVENTED_BAG, found, {"7 iron": 117.0, "sand wedge": 61.0})
        assert approaches[0].club == "7 iron"
        assert found.best.from_m < approaches[0].distance_m < found.best.to_m
        assert approaches[1:] == INVENTED_BAG.approaches

    def test_few_shots_change_nothing(self, rounds):
        few = ManyRounds(rounds.shots.iloc[:12], rounds.holes.iloc[:12], rounds.comparisons)
        found = learn_approaches(few, INVENTED_BAG)
        assert not found.sure
        assert (
            preferred(INVENTED_BAG, found, {"7 iron": 117.0, "sand wedge": 61.0}) == INVENTED_BAG.approaches
        )
        none = learn_approaches(
            ManyRounds(rounds.shots.iloc[:2], rounds.holes.iloc[:2], rounds.comparisons), INVENTED_BAG
        )
        assert verdicts(none, "yd") == [
            "There are too few shots at the green to say from where you reach it best."
        ]
        assert none.curves == {}

    def test_near_is_no_less_than_on(self, rounds):
        curves = learn_approaches(rounds, INVENTED_BAG).curves
        assert (curves["near"].mean >= curves["green"].mean).all()


class TestRegulationAndPutts:
    def test_on_the_green_in_time(self):
        found = account_for_regulation(one_hole(THREE, strokes=5, putts=2, regulation=3, personal_par=5))
        assert (found.on.hits, found.on.tries) == (1, 1)

    def test_beside_it_then_chip_and_one(self):
        late = [(150.0, 15.0, "rough"), (15.0, 2.0, "green")]
        found = account_for_regulation(one_hole(late, strokes=3, putts=1, regulation=1, personal_par=3))
        assert (found.on.hits, found.beside.hits, found.chip_and_one.hits, found.chip_and_two.hits) == (
            0,
            1,
            1,
            0,
        )

    def test_putts_by_length_of_the_first(self):
        season = simulate_season(40, rounds=12)
        rounds = join_rounds(season.shots, season.holes, pd.DataFrame())
        found = account_for_putts(rounds)
        assert found.by_length["greens"].sum() > 150
        # Derived: the season has 1 to 4 putts with shares 0.18, 0.58, 0.21, 0.03: 2.09 a green, 37.6 a round.
        assert found.a_round[1] < 37.62 < found.a_round[2]
        assert found.three.low < 0.24 < found.three.high
        assert any("above 36" in text and "lesson" in text for text in putt_sentences(found))

    def test_guessed_putts_do_not_count(self):
        rounds = one_hole(THREE, strokes=5, putts=2)
        guessed = ManyRounds(rounds.shots, rounds.holes.assign(putts_source="track"), rounds.comparisons)
        assert putt_sentences(account_for_putts(guessed)) == ["No card tells the putts of these rounds."]


class TestCauses:
    def test_adds_up_exactly_on_a_season(self):
        season = simulate_season(41, rounds=6)
        costs = strokes_by_cause(join_rounds(season.shots, season.holes, pd.DataFrame()))
        # Source: Broadie 2012, the identity of strokes gained: over a hole they add up to the score less the start.
        assert costs[list(CAUSES)].sum(axis=1).to_numpy() == pytest.approx(
            costs["against_par"].to_numpy(), abs=1e-9
        )
        assert (
            costs["against_par"].sum() == season.holes["strokes"].sum() - season.holes["personal_par"].sum()
        )
        by_cause = causes_by_round(costs)
        assert by_cause["strokes"].sum() == pytest.approx(costs["against_par"].sum())

    def test_identity_for_any_table(self):
        # Source: Broadie 2012: gained = E(start) - E(end) - 1, summing to E(tee) - score for any table E.
        leaves = [300.0, 170.0, 40.0, 0.0]
        for power in (0.3, 0.6, 1.0):
            e = [strokes_to_come(left, 300.0, 6, 4, power) for left in leaves]
            gained = [e[k] - e[k + 1] - 1 for k in range(3)]
            assert sum(gained) == pytest.approx(e[0] - e[-1] - 3)

    @pytest.mark.parametrize(
        ("comparison", "shot_cause"),
        [
            ([(1, 1, 1, "tee", "7 iron", "no", "no", -5.0)], "off the plan"),
            ([(1, 1, 1, "tee", "7 iron", "yes", "no", -25.0)], "layup missed short"),
            ([(1, 1, 1, "tee", "7 iron", "yes", "no", 25.0)], "layup missed long"),
            ([(1, 1, 1, "tee", "7 iron", "yes", "yes", 1.0)], "other full shots"),
        ],
    )
    def test_causes_of_a_tee_shot(self, comparison, shot_cause):
        (row,) = strokes_by_cause(one_hole(THREE, strokes=5, putts=2, comparison=comparison)).to_dict(
            "records"
        )
        # Derived: the first shot takes 6 strokes to come to 2 + 4 (170 / 300)^0.6 and costs one.
        cost = 1 + 2 + 4 * (170 / 300) ** 0.6 - 6
        others = 0.0 if shot_cause != "other full shots" else 1 + 4 * ((40 / 300) ** 0.6 - (170 / 300) ** 0.6)
        assert row[shot_cause] == pytest.approx(cost + others)
        assert sum(row[cause] for cause in CAUSES) == pytest.approx(row["against_par"]) == -1

    def test_putts_penalties_and_strokes_nobody_saw(self):
        rounds = one_hole(THREE, strokes=9, putts=3, penalties=1)
        rounds = ManyRounds(rounds.shots, rounds.holes.assign(shots=5), rounds.comparisons)
        (row,) = strokes_by_cause(rounds).to_dict("records")
        # Derived: three putts for two, one penalty, five shots of which three were seen.
        assert (row["putts"], row["penalties"], row["shots not seen"]) == (1.0, 1.0, 2.0)
        assert sum(row[cause] for cause in CAUSES) == pytest.approx(3.0)

    def test_a_hole_picked_up_is_left_out(self):
        assert strokes_by_cause(one_hole(THREE, strokes=None, putts=None)).empty

    def test_what_cost_most_is_said_with_its_doubt(self):
        table = pd.DataFrame(
            [("putts", 30.0, 3.0, 2.0, 4.0, 10), ("penalties", 12.0, 1.2, 0.5, 1.9, 10)],
            columns=["cause", "strokes", "a_round", "low", "high", "rounds"],
        )
        assert cost_sentence(table).endswith("surely more than anything else.")
        table.loc[1, "high"] = 2.5
        assert cost_sentence(table).endswith("penalties may be as dear.")
