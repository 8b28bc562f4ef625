"""Names for the clubs of a round, from corrections, marks, card, track and plan."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trackgolf.bag import Bag
from trackgolf.clubs import ClubGuess, choose_club, club_probabilities
from trackgolf.settings import RoundSettings
from trackgolf.shots import Said, Visit
from trackgolf.weigh import mark_cost

__all__ = ["name_clubs"]

Floats = NDArray[np.float64]


def name_clubs(
    shots: pd.DataFrame,
    visits: list[Visit],
    stands: pd.DataFrame,
    mark_table: pd.DataFrame,
    marks: tuple[Floats, Floats, Floats],
    plan: pd.DataFrame | None,
    card: pd.DataFrame | None,
    bag: Bag,
    settings: RoundSettings,
    said: Mapping[int, Said] | None = None,
) -> pd.DataFrame:
    """
    Fill in the club of each shot, and where it is known from.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots without clubs.
    visits : list of Visit
        The holes played.
    stands : pandas.DataFrame
        The stands of the round.
    mark_table : pandas.DataFrame
        Marks of the track with their `name`.
    marks : tuple of numpy.ndarray
        Their times [s], east and north [m].
    plan, card : pandas.DataFrame or None
        Planned shots; the played card.
    bag : Bag
        The player's clubs.
    settings : RoundSettings
        How far truth may be from the bag.
    said : mapping of int to Said, optional
        By stand, what the player says of the shot there; a club named so is certain.

    Returns
    -------
    pandas.DataFrame
        The same shots with `club`, `club_source` and `club_probability`.
    """
    marked = _marked_clubs(shots, stands, mark_table, marks, bag, settings)
    carded = _carded_clubs(shots, visits, card)
    planned = (
        {} if plan is None else {(row["hole"], row["shot"]): row["club"] for row in plan.to_dict("records")}
    )
    clubs, sources, chances = [], [], []
    for index, shot in enumerate(shots.to_dict("records")):
        distance = shot["distance_m"]
        if np.isfinite(distance):
            weights = club_probabilities(
                float(distance), float(shot["leave_before_m"]), shot["lie"], bag, settings
            )
        else:
            weights = np.full(len(bag.clubs), 1.0 / max(len(bag.clubs), 1))
        guess = choose_club(
            marked.get(index), carded.get(index), planned.get((shot["hole"], shot["shot"])), weights, bag
        )
        known = (said or {}).get(int(shot["stand"]))
        if known is not None and known.club is not None:
            guess = ClubGuess(known.club, "corrected", 1.0)
        clubs.append(guess.name)
        sources.append(guess.source)
        chances.append(guess.probability)
    return shots.assign(club=clubs, club_source=sources, club_probability=chances)


def _marked_clubs(
    shots: pd.DataFrame,
    stands: pd.DataFrame,
    mark_table: pd.DataFrame,
    marks: tuple[Floats, Floats, Floats],
    bag: Bag,
    settings: RoundSettings,
) -> dict[int, str]:
    """The club named by a mark at a shot's stand; the nearest mark wins."""
    if mark_table.empty or shots.empty:
        return {}
    of_stand = {int(stand): index for index, stand in enumerate(shots["stand"])}
    best: dict[int, tuple[float, str]] = {}
    for name, time_s, east_m, north_m in zip(mark_table["name"], *marks, strict=True):
        club = bag.find_club(str(name))
        if club is None:
            continue
        cost = mark_cost(stands, float(time_s), float(east_m), float(north_m), settings)
        near = {stand: float(cost[stand]) for stand in of_stand if cost[stand] < 1.0}
        if near:
            stand = min(near, key=near.__getitem__)
            index = of_stand[stand]
            if index not in best or near[stand] < best[index][0]:
                best[index] = (near[stand], club.name)
    return {index: name for index, (_, name) in best.items()}


def _carded_clubs(shots: pd.DataFrame, visits: list[Visit], card: pd.DataFrame | None) -> dict[int, str]:
    """Clubs in the order of the card, where it names one for each shot off the green."""
    if card is None:
        return {}
    named = {
        row["hole"]: [club for club in row["clubs"] if club.lower() != "putter"]
        for row in card.to_dict("records")
    }
    found: dict[int, str] = {}
    for visit in visits:
        clubs = named.get(visit.hole, [])
        mine = np.flatnonzero((shots["visit"] == visit.visit).to_numpy())
        if len(clubs) != visit.shots:
            continue
        for index in mine.tolist():
            name = clubs[int(shots["shot"].iloc[index]) - 1]
            if name:
                found[index] = name
    return found
