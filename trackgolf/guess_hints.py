"""What bag and cards say of a round whose course nobody has drawn, before its track is looked at."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logsumexp

from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.evidence import Shooter
from trackgolf.guess_holes import Guesses, pars_of
from trackgolf.guess_settings import GuessSettings
from trackgolf.settings import RoundSettings

__all__ = [
    "HoleHint",
    "bag_for_course",
    "bag_shooter",
    "extra_shots_of",
    "hint_score",
    "hinted_play",
    "hints_of",
]

Floats = NDArray[np.float64]

_FULL_ROUND = 18
_FEWEST_CARDED = 9
# Par of 18 holes, to turn a target into strokes received before any hole is known. Common practice, no source.
_USUAL_PAR = 72
# A target for fewer strokes than this is one for nine holes. Common practice, no source.
_NINE_HOLE_TARGET = 63
# Most strokes over par a hole that a target may ask for: 54 on 18 holes (Rules of Handicapping, the highest index).
_MOST_OVER = 3.0


@dataclass(frozen=True, slots=True)
class HoleHint:
    """
    What is known of a hole beforehand.

    Attributes are its `number`, and where they are known its `par`, its `length_m`, and from the card as played the
    `shots` from off the green (least and most).
    """

    number: int
    par: int | None = None
    length_m: float | None = None
    shots: tuple[int, int] | None = None


def hints_of(scorecard: pd.DataFrame | None, card: pd.DataFrame | None) -> list[HoleHint]:
    """
    Gather what cards say of the holes.

    Parameters
    ----------
    scorecard : pandas.DataFrame or None
        The course's own card.
    card : pandas.DataFrame or None
        The card as played.

    Returns
    -------
    list of HoleHint
        A hint for each hole of the scorecard, else of the card as played; none where that is of fewer than nine holes
        and so does not tell which holes there are.
    """
    own = {} if scorecard is None else {int(row["hole"]): row for row in scorecard.to_dict("records")}
    played = {} if card is None else {int(row["hole"]): row for row in card.to_dict("records")}
    if not own and len(played) < _FEWEST_CARDED:
        return []
    hints = []
    for number in sorted(own or played):
        row, written = own.get(number, {}), played.get(number, {})
        hints.append(
            HoleHint(
                number,
                None if pd.isna(par := row.get("par")) else int(par),
                None if pd.isna(length := row.get("length_m")) else float(length),
                _shots_written(written),
            )
        )
    return hints


def hinted_play(guesses: Guesses, hint: HoleHint | None, counts: Floats, settings: GuessSettings) -> Floats:
    """
    Weigh the shots of every hole as those of a hole that something is known of.

    Parameters
    ----------
    guesses : Guesses
        All holes the round may hold.
    hint : HoleHint or None
        What is known.
    counts : numpy.ndarray, shape (7, k)
        Log prior of the shots off the green, by par.
    settings : GuessSettings
        Trust in cards.

    Returns
    -------
    numpy.ndarray, shape (g, w)
        In place of the evidence ``play``.
    """
    prior = counts[pars_of(guesses.length_m)] if hint is None or hint.par is None else counts[hint.par]
    if hint is not None and hint.shots is not None:
        told = np.full(guesses.shots.shape[2], settings.card_error / guesses.shots.shape[2])
        low, high = (min(max(n, 1), told.size) for n in hint.shots)
        told[low - 1 : high] += (1.0 - settings.card_error) / (high - low + 1)
        prior = np.log(told)
    return np.asarray(logsumexp(guesses.shots + prior, axis=2))


def hint_score(guesses: Guesses, hint: HoleHint, guess: GuessSettings) -> Floats:
    """
    Weigh the length of every hole against that of one on a scorecard.

    Parameters
    ----------
    guesses : Guesses
        All holes the round may hold.
    hint : HoleHint
        What is known of the hole.
    guess : GuessSettings
        Trust in lengths.

    Returns
    -------
    numpy.ndarray, shape (g, w)
        Log-likelihood ratio against a hole of any length; zero where the length is not known.
    """
    if hint.length_m is None:
        return np.zeros(guesses.length_m.shape)
    length = np.maximum(guesses.length_m, 1.0)
    scaled = np.log(length / hint.length_m) / guess.length_spread
    density = np.exp(-0.5 * scaled**2) / (length * guess.length_spread * math.sqrt(2.0 * math.pi))
    floor = 0.02
    return np.log((1.0 - floor) * density * (guess.longest_m - guess.shortest_m) + floor)


def bag_shooter(bag: Bag, settings: RoundSettings) -> Shooter:
    """
    Describe the player's clubs as the decoder needs them.

    Parameters
    ----------
    bag : Bag
        The clubs.
    settings : RoundSettings
        Truth against the bag.

    Returns
    -------
    Shooter
        The clubs.
    """
    return Shooter(
        np.array([club.distance_m for club in bag.clubs]),
        np.array([club.spread_long_m for club in bag.clubs]),
        settings,
    )


def extra_shots_of(bag: Bag) -> float:
    """
    Tell how many strokes the player receives on a hole, before any hole is known.

    Parameters
    ----------
    bag : Bag
        With the player's target or handicap.

    Returns
    -------
    float
        Strokes a hole over par; zero where neither is known.
    """
    if bag.playing_handicap is not None:
        return bag.playing_handicap / _FULL_ROUND
    if bag.target_score is None:
        return 0.0
    holes = _target_holes(bag.target_score)
    return (bag.target_score - _USUAL_PAR * holes / _FULL_ROUND) / holes


def bag_for_course(bag: Bag, course: Course) -> tuple[Bag, str | None]:
    """
    Fit a target for a whole round to the holes that were guessed.

    Parameters
    ----------
    bag : Bag
        With the player's target or handicap.
    course : Course
        The guessed course.

    Returns
    -------
    bag : Bag
        The same, its target that of as many holes.
    told : str or None
        What was changed.
    """
    if bag.target_score is None:
        return bag, None
    count, par = len(course.holes), sum(hole.par for hole in course.holes)
    meant = _target_holes(bag.target_score)
    if count == meant and par < bag.target_score + 10 and bag.target_score < par + _MOST_OVER * count:
        return bag, None
    target = round(par + extra_shots_of(bag) * count)
    text = f"the target of {bag.target_score} for {meant} holes counts as {target} for the {count} found"
    return replace(bag, target_score=target), text


def _target_holes(target: int) -> int:
    return 9 if target < _NINE_HOLE_TARGET else _FULL_ROUND


def _shots_written(row: Mapping[Any, Any]) -> tuple[int, int] | None:
    """Shots from off the green that a card allows: strokes less putts and penalties, with two of doubt where unknown."""
    strokes, putts, penalties = (row.get(name) for name in ("strokes", "putts", "penalties"))
    if strokes is None or pd.isna(strokes):
        return None
    most = int(strokes) - (0 if pd.isna(penalties) else int(penalties))
    if putts is None or pd.isna(putts):
        return max(most - 3, 1), max(most - 1, 1)
    shots = max(most - int(putts), 1)
    return shots, shots
