"""Seasons of invented players as tables of shots, without tracks: true clubs, stated ones, errors of positions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trackgolf.bag import Bag, Club
from trackgolf.settings import RoundSettings

__all__ = ["Season", "simulate_season"]

# Share of the driver's distance and of roll in it; common practice, no source, as in the simulator of rounds.
_CLUBS = (
    ("driver", 1.0, 0.1), ("3 wood", 0.93, 0.09), ("5 wood", 0.87, 0.08), ("5 hybrid", 0.79, 0.07),
    ("6 iron", 0.73, 0.07), ("7 iron", 0.67, 0.06), ("8 iron", 0.61, 0.05), ("9 iron", 0.55, 0.04),
    ("pitching wedge", 0.49, 0.03), ("gap wedge", 0.42, 0.02), ("sand wedge", 0.35, 0.015),
)  # fmt: skip


@dataclass(frozen=True)
class Season:
    """What a player believes, what is true, and what was measured."""

    bag: Bag
    true_mean_m: np.ndarray  # mean of good strikes, a club
    true_mishit: np.ndarray
    true_spread_m: np.ndarray
    shots: pd.DataFrame
    holes: pd.DataFrame


def simulate_season(
    seed: int,
    *,
    rounds: int | None = None,
    named: float | None = None,
    mishits: float = 0.2,
    scheme: str | None = None,
    rough: float = 0.94,
) -> Season:
    """
    Play a season; the same arguments give the same one.

    `named` is the share of shots whose club somebody named; `scheme` how the truth differs from the bag: each club
    on its own between -12 % and +5 % ("apart"), or with what the player's clubs have in common ("together").
    """
    rng = np.random.default_rng([seed, 0x5EA5])
    rounds = int(rng.integers(2, 25)) if rounds is None else rounds
    named = float(rng.uniform(0.4, 1.0)) if named is None else named
    scheme = scheme or str(rng.choice(["apart", "together"]))
    driver_m = rng.uniform(120, 195)
    keep = np.sort(rng.choice(len(_CLUBS), int(rng.integers(8, 12)), replace=False))
    keep = np.union1d(keep, [0])
    share, roll = np.array([_CLUBS[k][1] for k in keep]), np.array([_CLUBS[k][2] for k in keep])
    stated = driver_m * share * rng.normal(1, 0.012, len(keep))
    if scheme == "apart":
        factor = rng.uniform(0.88, 1.05, len(keep))
    else:
        factor = np.clip(1 + rng.uniform(-0.1, 0.03) + rng.normal(0, 0.025, len(keep)), 0.88, 1.05)
    spread = rng.uniform(0.06, 0.1) * rng.uniform(0.85, 1.2, len(keep))
    mishit = np.clip(mishits * rng.uniform(0.65, 1.35, len(keep)), 0.02, 0.5)
    true = stated * factor
    clubs = tuple(
        Club(_CLUBS[k][0], s / (1 + r), s - s / (1 + r), s * 0.09, s * 0.07, 0.15)
        for k, s, r in zip(keep, stated, roll, strict=True)
    )
    bag = Bag("Invented Player", "yd", 100, None, clubs)
    rows, holes = [], []
    for number in range(rounds):
        sigma = rng.uniform(1.5, 4.5)
        for hole in range(1, 19):
            shots, made = _hole(rng, stated, true, spread, mishit, sigma, rough)
            for place, shot in enumerate(made, start=1):
                rows.append({"round": number, "day": number * 9, "hole": hole, "shot": place, **shot})
            holes.append({"round": number, "day": number * 9, "hole": hole, **shots})
    table = pd.DataFrame(rows)
    return Season(bag, true, mishit, true * spread, _name(rng, table, bag, named), pd.DataFrame(holes))


def _hole(rng, stated, true, spread, mishit, sigma, rough):
    """Play one hole from tee to green by what the player believes."""
    par = int(rng.choice([3, 4, 5], p=[0.22, 0.56, 0.22]))
    length = {3: rng.uniform(100, 170), 4: rng.uniform(240, 380), 5: rng.uniform(400, 470)}[par]
    left, lie, made = length, "tee", []
    green_m = rng.uniform(8, 14)
    while left > green_m and len(made) < 12:
        if left < 0.85 * stated.min():
            length_m, name = max(1.0, left * rng.normal(0.97, 0.22)), "part"
            if rng.random() < 0.25:
                length_m = left * (rng.uniform(0.1, 0.6) if rng.random() < 0.6 else rng.uniform(1.25, 1.8))
            club = len(stated) - 1
        else:
            enough = np.flatnonzero(stated >= left)
            usable = np.arange(len(stated)) if lie == "tee" else np.arange(1, len(stated))
            club = int(enough.max()) if len(enough) else int(rng.choice(usable[:4], p=_long(len(usable[:4]))))
            if rng.random() < 0.08:
                club = int(np.clip(club + rng.choice([-1, 1]), usable[0], len(stated) - 1))
            name = "full"
            swing = np.clip(left / stated[club], 0.85, 1.0)
            mean = true[club] * swing * (min(1.05, rng.normal(rough, 0.06)) if lie == "rough" else 1.0)
            length_m = mean * (1 + spread[club] * np.clip(rng.normal(), -2.5, 2.5))
            if rng.random() < mishit[club]:
                length_m = mean * (rng.uniform(0.2, 0.8) if rng.random() < 0.6 else rng.uniform(0.6, 0.95))
        aside = length_m * np.radians(rng.normal(0.5, 6.5))
        new = float(np.hypot(left - length_m, aside))
        end_lie = (
            "green"
            if new <= green_m
            else str(rng.choice(["fairway", "rough", "bunker"], p=[0.6, 0.34, 0.06]))
        )
        made.append(
            {
                "true_club": club,
                "kind": name,
                "true_m": float(length_m),
                "distance_m": float(max(1.0, length_m + rng.normal(0, sigma) + rng.normal(0, sigma))),
                "path_m": float(length_m * rng.uniform(1.0, 1.06) + 3.0),
                "leave_before_m": float(left),
                "leave_m": new,
                "lie": lie,
                "end_lie": end_lie,
                "confidence": float(rng.choice([1.0, 0.97, 0.8], p=[0.7, 0.2, 0.1])),
                "sigma_m": sigma,
                "end_sigma_m": sigma,
            }
        )
        left, lie = new, end_lie
    putts = int(rng.choice([1, 2, 3, 4], p=[0.18, 0.58, 0.21, 0.03]))
    strokes = len(made) + putts
    personal = par + (2 if rng.random() < 0.6 else 1)
    return {
        "par": par,
        "length_m": length,
        "personal_par": personal,
        "regulation_shots": max(1, personal - 2),
        "shots": len(made),
        "putts": putts,
        "penalties": 0,
        "strokes": strokes,
        "putts_source": "card",
    }, made


def _long(count):
    weight = np.array([0.45, 0.25, 0.2, 0.1])[:count]
    return weight / weight.sum()


def _name(rng, table, bag, named):
    """Name clubs: by a mark, or as the program guesses them from the length alone."""
    from trackgolf.clubs import choose_club, club_probabilities

    rules = RoundSettings()
    marked = rng.random(len(table)) < named
    clubs, sources = [], []
    for known, shot in zip(marked.tolist(), table.to_dict("records"), strict=True):
        if known:
            clubs.append(bag.clubs[shot["true_club"]].name)
            sources.append("marked")
            continue
        guess = choose_club(
            None,
            None,
            None,
            club_probabilities(shot["distance_m"], shot["leave_before_m"], shot["lie"], bag, rules),
            bag,
        )
        clubs.append(guess.name)
        sources.append(guess.source)
    return table.assign(club=clubs, club_source=sources)
