"""The overview of players: intervals, counts, and no more said than the rounds bear."""

import numpy as np
import pandas as pd
import pytest

from tests.simulator.seasons import simulate_season
from trackgolf.learn.many_rounds import ManyRounds, join_rounds
from trackgolf.learn.players import (
    Mean,
    look_at_player,
    players_json,
    players_text,
    progress_sentence,
    work_sentence,
)


@pytest.fixture(scope="module")
def rounds():
    season = simulate_season(51, rounds=8)
    compared = pd.DataFrame(
        {
            "round": 0, "day": 0, "hole": range(1, 11), "shot": 1, "role": ["tee"] * 9 + ["approach"],
            "within_tolerance": ["yes"] * 4 + ["no"] * 3 + ["unsure"] * 2 + ["yes"],
        }
    )  # fmt: skip
    return join_rounds(season.shots, season.holes, compared)


def first(rounds, number):
    """The first rounds alone."""
    return ManyRounds(
        *(table[table["round"] < number] for table in (rounds.shots, rounds.holes, rounds.comparisons))
    )


def test_counts_and_intervals(rounds):
    found = look_at_player("Invented Player", rounds)
    assert found.rounds == 8
    # Derived: four of seven layups; two were too close to call, and the approach is none.
    assert (found.layups.hits, found.layups.tries) == (4, 7)
    assert found.layups.low < 4 / 7 < found.layups.high
    assert found.regulation.tries == 8 * 18
    holes = rounds.holes
    # Derived: strokes less personal par, a round.
    over = (holes["strokes"] - holes["personal_par"]).groupby(holes["round"]).sum()
    assert found.against_target.value == pytest.approx(over.mean())
    assert found.against_target.rounds == 8
    # The season knows no progress.
    assert found.progress.rounds == 8


def test_progress_follows_the_days_not_the_numbers(rounds):
    turned = ManyRounds(
        rounds.shots,
        rounds.holes.assign(day=(100 - rounds.holes["day"]).map("2026-{:03d}".format)),
        rounds.comparisons,
    )
    forward, back = (look_at_player("Invented Player", one).progress.value for one in (rounds, turned))
    # Derived: the same rounds in the opposite order.
    assert back == pytest.approx(-forward, abs=1e-6)


def test_one_round_proves_little(rounds):
    found = look_at_player("Invented Player", first(rounds, 1))
    assert found.work_on == ""
    assert not np.isfinite(found.progress.value)
    assert "too few rounds" in progress_sentence(found.progress)
    assert "do not bear out" in work_sentence(found)
    assert "one round" in players_text([found])


def test_progress_is_said_only_where_chance_does_not_do():
    assert progress_sentence(Mean(-6.0, -8.0, -4.0, 12)).startswith("6.0 strokes better")
    assert progress_sentence(Mean(-2.0, -5.0, 1.0, 12)).startswith("none that can be told from chance")


def test_a_cause_is_named_where_it_is_borne_out(rounds):
    worse = ManyRounds(
        rounds.shots,
        rounds.holes.assign(putts=rounds.holes["putts"] + 1, strokes=rounds.holes["strokes"] + 1),
        rounds.comparisons,
    )
    found = look_at_player("Invented Player", worse)
    assert found.work_on == "putts"
    # Derived: a putt more on each of 18 holes, and 2.09 putts a green before.
    assert found.work_cost.low < 18 + 18 * 0.09 < found.work_cost.high + 1.0
    assert found.work_sure


def test_players_are_not_ranked(rounds):
    one = look_at_player("Zora", rounds)
    other = look_at_player("alba", first(rounds, 3))
    text = players_text([one, other])
    assert text.index("alba") < text.index("Zora")
    names = [player["player"] for player in players_json([one, other])["players"]]
    assert names == ["alba", "Zora"]


def test_nothing_known():
    empty = ManyRounds(
        pd.DataFrame(columns=["round", "visit", "hole", "shot", "end_lie", "leave_m"]),
        pd.DataFrame(columns=["round", "visit", "hole", "putts", "strokes", "day"]),
        pd.DataFrame(),
    )
    document = players_json([look_at_player("Nobody", empty)])
    assert document["players"][0]["putts"] is None
    assert document["players"][0]["rounds"] == 0
