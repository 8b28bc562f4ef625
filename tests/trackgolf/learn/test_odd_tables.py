"""Odd tables of shots: nothing fails, nothing unknown becomes a number, JSON stays JSON."""

import json

import numpy as np
import pandas as pd
import pytest

from reports.evidence_page import evidence_page
from trackgolf.bag import Approach, Bag, Club
from trackgolf.learn.carries import learn_carries
from trackgolf.learn.carries_show import carries_json, carries_text
from trackgolf.learn.evidence_tables import evidence_tables
from trackgolf.learn.many_rounds import join_rounds
from trackgolf.learn.players import look_at_player, players_json, players_text
from trackgolf.scoring import HOLE_COLUMNS
from trackgolf.shots import SHOT_COLUMNS


def invented_bag(clubs):
    made = tuple(Club(f"club {n}", 180.0 - 12 * n, 5.0, 9.0, 8.0, 0.1, avoid=n == 1) for n in range(clubs))
    return Bag("Invented Player", "yd", 100, None, made, (Approach("club 0", 100.0),))


def odd_round(rng, shots):
    rows = [
        dict.fromkeys(SHOT_COLUMNS)
        | {
            "round": 1, "day": "2026-05-01", "hole": n // 4 + 1, "visit": n // 4, "shot": n % 4 + 1, "confidence": 0.9,
            "club": str(rng.choice(["", "club 0", "club 1", "mashie"])), "lie": "fairway", "penalty": 0, "detour": False,
            "club_source": str(rng.choice(["", "marked", "inferred", "plan", "card"])),
            "distance_m": float(rng.choice([0.0, 1e-3, 5.0, 60.0, 170.0, 900.0, np.nan])),
            "leave_m": float(rng.choice([0.0, 20.0, 80.0, 200.0, np.nan])),
            "end_lie": str(rng.choice(["green", "rough", "lost", "picked_up", "unknown"])),
        }
        for n in range(shots)
    ]  # fmt: skip
    holes = [
        dict.fromkeys(HOLE_COLUMNS)
        | {
            "round": 1, "day": "2026-05-01", "hole": n + 1, "visit": n, "length_m": 300.0, "personal_par": 5, "shots": 3,
            "regulation_shots": 3, "putts": rng.choice([0, 2, np.nan]), "penalties": 0, "strokes": rng.choice([5, np.nan]),
        }
        for n in range((shots + 3) // 4)
    ]  # fmt: skip
    columns = ["round", "day"]
    return join_rounds(
        pd.DataFrame(rows, columns=[*columns, *SHOT_COLUMNS]),
        pd.DataFrame(holes, columns=[*columns, *HOLE_COLUMNS]),
        pd.DataFrame(columns=["round", "hole", "shot"]),
    )


@pytest.mark.parametrize("clubs", [1, 2, 14])
@pytest.mark.parametrize("shots", [0, 1, 5, 60])
def test_nothing_fails(clubs, shots):
    rounds, bag = odd_round(np.random.default_rng([clubs, shots]), shots), invented_bag(clubs)
    learned = learn_carries(rounds.shots, bag)
    # Whatever the shots, a distance is finite and shares are shares.
    assert np.isfinite(learned.clubs["distance_m"]).all()
    assert learned.clubs["mishit_share"].between(0, 1).all()
    account = dict(learned.account)
    assert account.pop("all shots") == sum(account.values()) == shots
    json.dumps(carries_json(learned), allow_nan=False)
    assert "Invented Player" in carries_text(learned, "yd")
    assert "Invented Player" in evidence_page(evidence_tables(rounds, bag, learned))
    overview = look_at_player("Invented Player", rounds)
    json.dumps(players_json([overview]), allow_nan=False)
    assert "Invented Player" in players_text([overview])
