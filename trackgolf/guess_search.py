"""The best row of holes through a round, by dynamic programming over its stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trackgolf.decode import IMPOSSIBLE
from trackgolf.guess_hints import HoleHint, hint_score, hinted_play
from trackgolf.guess_holes import Guesses, guess_weights
from trackgolf.guess_settings import GuessSettings

__all__ = ["Chosen", "best_row", "score_holes_and_links", "search_row"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Chosen:
    """
    One hole of the best row.

    Attributes are its `number`, the stand of its `tee`, its `green` among the candidates, and how many log units the
    hole adds by itself (`score`).
    """

    number: int
    tee: int
    green: int
    score: float


def best_row(
    guesses: Guesses, counts: Floats, guess: GuessSettings, hints: Sequence[HoleHint] = ()
) -> list[Chosen]:
    """
    Find the row of holes that explains a round best.

    Parameters
    ----------
    guesses : Guesses
        Every hole the round may hold.
    counts : numpy.ndarray, shape (7, k)
        Log prior of the shots off the green, by par.
    guess : GuessSettings
        How many holes a round has.
    hints : sequence of HoleHint, optional
        What is known of the holes of the course, all of them.

    Returns
    -------
    list of Chosen
        In order of play; empty where no hole is likelier than none. Without hints they are numbered from 1 as they
        were played; with hints, from the first hole that fits best.
    """
    if guesses.first.size == 0:
        return []
    hole, link = score_holes_and_links(guesses, *guess_weights())
    if not hints:
        row, score = search_row(guesses, hole[None], link, _numbers(guess))
        return _chosen(guesses, row, hole[None], [1 + k for k in range(len(row))]) if score > 0.0 else []
    ordered = sorted(hints, key=lambda hint: hint.number)
    play = guesses.hole[:, :, 4]
    weight = guess_weights()[0][4]
    known = np.stack(
        [
            np.where(
                guesses.possible,
                hole
                + weight * (hinted_play(guesses, hint, counts, guess) - play)
                + hint_score(guesses, hint, guess),
                IMPOSSIBLE,
            )
            for hint in ordered
        ]
    )
    best: tuple[float, list[Chosen]] = (0.0, [])
    size = len(ordered)
    for begin in range(size):
        first = {0: 0.8, 9: 0.14}.get(begin, 0.06 / size)
        turn = [(begin + k) % size for k in range(size)]
        row, score = search_row(guesses, known[turn], link, _numbers_of(size, guess))
        if (total := score + math.log(first)) > best[0]:
            numbers = [ordered[turn[k % size]].number for k in range(len(row))]
            best = (total, _chosen(guesses, row, known[turn], numbers))
    return best[1]


def score_holes_and_links(
    guesses: Guesses, hole_weights: Floats, link_weights: Floats
) -> tuple[Floats, Floats]:
    """
    Add up the evidence for every hole and every way to the next tee.

    Parameters
    ----------
    guesses : Guesses
        The evidence.
    hole_weights, link_weights : numpy.ndarray
        How much each kind counts.

    Returns
    -------
    hole : numpy.ndarray, shape (g, w)
        Holes; `IMPOSSIBLE` where there is none.
    link : numpy.ndarray, shape (g, m)
        Ways from a green to a tee.
    """
    hole = np.where(guesses.possible, guesses.hole @ hole_weights, IMPOSSIBLE)
    return hole, np.asarray(guesses.link @ link_weights)


def search_row(
    guesses: Guesses, hole: Floats, link: Floats, prior: Floats
) -> tuple[list[tuple[int, int]], float]:
    """
    Find the best row of holes exactly, over all numbers of holes.

    Parameters
    ----------
    guesses : Guesses
        Stands of the candidates.
    hole : numpy.ndarray, shape (k, g, w)
        Score of every hole as the first, second ... of the round; the last layers serve again where there are fewer
        than holes.
    link : numpy.ndarray, shape (g, m)
        Score of every way from a green to a tee.
    prior : numpy.ndarray, shape (n + 1,)
        Log prior of the number of holes.

    Returns
    -------
    row : list of tuple of int
        Stand of the tee, and green among the candidates, in order of play.
    score : float
        Of the whole row.
    """
    most, size = prior.size - 1, link.shape[1]
    first, last = guesses.first, guesses.last
    layers = np.arange(most) % hole.shape[0]
    # end[g, n]: best score of n holes of which the last ended on green g; begin: the same before a tee shot.
    end = np.full((first.size, most + 1), IMPOSSIBLE)
    tee_of = np.full((first.size, most + 1), -1)
    green_before = np.full((size, most + 1), -1)
    columns = np.arange(most + 1)
    for stand in range(size):
        begin = np.full(most + 1, IMPOSSIBLE)
        begin[0] = 0.0
        done = np.flatnonzero(last < stand)
        if done.size:
            score = end[done] + link[done, stand][:, None]
            best = np.argmax(score, axis=0)
            better = score[best, columns] > begin
            better[0] = False
            begin[better] = score[best, columns][better]
            green_before[stand, better] = done[best[better]]
        mine = np.flatnonzero((first > stand) & (first <= stand + hole.shape[2]))
        if mine.size == 0:
            continue
        added = hole[layers[:, None], mine[None, :], (first[mine] - 1 - stand)[None, :]].T
        total = begin[None, :-1] + added
        better = total > end[mine, 1:]
        end[mine, 1:] = np.where(better, total, end[mine, 1:])
        tee_of[mine, 1:] = np.where(better, stand, tee_of[mine, 1:])
    score = end + prior[None, :]
    score[:, 0] = IMPOSSIBLE
    green, count = (int(index) for index in np.unravel_index(int(np.argmax(score)), score.shape))
    best_score = float(score[green, count])
    row: list[tuple[int, int]] = []
    if best_score <= IMPOSSIBLE / 2.0:
        return row, IMPOSSIBLE
    while count > 0 and green >= 0:
        stand = int(tee_of[green, count])
        row.append((stand, green))
        count -= 1
        green = int(green_before[stand, count])
    return row[::-1], best_score


def _chosen(
    guesses: Guesses, row: Sequence[tuple[int, int]], hole: Floats, numbers: Sequence[int]
) -> list[Chosen]:
    return [
        Chosen(number, tee, green, float(hole[place % hole.shape[0], green, guesses.first[green] - 1 - tee]))
        for place, ((tee, green), number) in enumerate(zip(row, numbers, strict=True))
    ]


def _numbers(guess: GuessSettings) -> Floats:
    """Log prior of the number of holes where nobody says how many the course has."""
    rest = 1.0 - guess.eighteen_share - guess.nine_share
    prior = np.full(guess.most_holes + 1, rest / guess.most_holes)
    prior[18] += guess.eighteen_share
    prior[9] += guess.nine_share
    return np.asarray(np.log(prior) + guess.hole_worth * np.arange(prior.size))


def _numbers_of(named: int, guess: GuessSettings) -> Floats:
    """The same where a card names the holes: all of them as a rule, fewer, or all of them twice."""
    prior = np.full(2 * named + 1, (1.0 - guess.all_named_share) / (2 * named))
    prior[named] += guess.all_named_share
    return np.asarray(np.log(prior) + guess.hole_worth * np.arange(prior.size))
