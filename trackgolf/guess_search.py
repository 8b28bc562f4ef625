"""The best row of holes through a round, by dynamic programming over its stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from trackgolf.decode import IMPOSSIBLE
from trackgolf.guess_hints import HoleHint, hint_score, hinted_play
from trackgolf.guess_holes import HOLE_EVIDENCE, Guesses, guess_weights
from trackgolf.guess_settings import GuessSettings

__all__ = ["Chosen", "best_row", "row_probabilities", "score_holes_and_links", "search_row"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Chosen:
    """
    One hole of the best row.

    Attributes are its `number`, the stand of its `tee`, its `green` among the candidates, and its `confidence`: the
    probability that a hole lies there, give or take what a guess may be off.
    """

    number: int
    tee: int
    green: int
    confidence: float


def best_row(
    guesses: Guesses,
    stands_m: Floats,
    counts: Floats,
    guess: GuessSettings,
    hints: Sequence[HoleHint] = (),
) -> list[Chosen]:
    """
    Find the row of holes that explains a round best.

    Parameters
    ----------
    guesses : Guesses
        Every hole the round may hold.
    stands_m : numpy.ndarray, shape (m, 2)
        Where the stands are, east and north [m].
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
        prior = _numbers(guess)
        row, score = search_row(guesses, hole[None], link, prior)
        numbers = list(range(1, len(row) + 1)) if score > 0.0 else []
        return _chosen(
            guesses, stands_m, row, numbers, row_probabilities(guesses, hole[None], link, prior), guess
        )
    ordered = sorted(hints, key=lambda hint: hint.number)
    known = np.stack([_hinted(guesses, hole, counts, hint, guess) for hint in ordered])
    size = len(ordered)
    prior = _numbers_of(size, guess)
    best, best_row_, best_turn = 0.0, [], list(range(size))
    for begin in range(size):
        first = {0: 0.8, 9: 0.14}.get(begin, 0.06 / size)
        turn = [(begin + place) % size for place in range(size)]
        row, score = search_row(guesses, known[turn], link, prior)
        if score + math.log(first) > best:
            best, best_row_, best_turn = score + math.log(first), row, turn
    numbers = [ordered[best_turn[place % size]].number for place in range(len(best_row_))]
    sure = row_probabilities(guesses, known[best_turn], link, prior)
    return _chosen(guesses, stands_m, best_row_, numbers, sure, guess)


def _hinted(guesses: Guesses, hole: Floats, counts: Floats, hint: HoleHint, guess: GuessSettings) -> Floats:
    """Score of every hole as the one that a hint is about."""
    place = HOLE_EVIDENCE.index("play")
    weight = float(guess_weights()[0][place])
    play = hinted_play(guesses, hint, counts, guess) - guesses.hole[:, :, place]
    told = hole + weight * play + hint_score(guesses, hint, guess)
    return np.where(guesses.possible, told, IMPOSSIBLE)


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


def row_probabilities(guesses: Guesses, hole: Floats, link: Floats, prior: Floats) -> Floats:
    """
    Weigh all rows of holes together: how likely each hole is in the round.

    Parameters
    ----------
    guesses : Guesses
        Stands of the candidates.
    hole, link, prior : numpy.ndarray
        As in `search_row`.

    Returns
    -------
    numpy.ndarray, shape (g, w)
        Probability of each hole, whichever of the round it is; forward and backward sums over the stands [1]_.

    References
    ----------
    .. [1] L. R. Rabiner, "A tutorial on hidden Markov models," Proc. IEEE, vol. 77, no. 2, 1989.
    """
    most, size = prior.size - 1, link.shape[1]
    first, last = guesses.first, guesses.last
    layers = np.arange(most) % hole.shape[0]
    places = [np.flatnonzero((first > stand) & (first <= stand + hole.shape[2])) for stand in range(size)]
    done = [np.flatnonzero(last < stand) for stand in range(size)]

    def added(stand: int) -> Floats:
        mine = places[stand]
        return np.asarray(hole[layers[:, None], mine[None, :], (first[mine] - 1 - stand)[None, :]].T)

    end = np.full((first.size, most + 1), IMPOSSIBLE)
    begin = np.full((size, most + 1), IMPOSSIBLE)
    begin[:, 0] = 0.0
    for stand in range(size):
        if done[stand].size:
            begin[stand, 1:] = logsumexp(end[done[stand], 1:] + link[done[stand], stand][:, None], axis=0)
        if places[stand].size:
            total = begin[stand, :-1] + added(stand)
            end[places[stand], 1:] = np.logaddexp(end[places[stand], 1:], total)
    whole = logsumexp(end[:, 1:] + prior[None, 1:])
    after = np.tile(prior, (first.size, 1))
    log_p = np.full(hole.shape[1:], IMPOSSIBLE)
    for stand in range(size - 1, -1, -1):
        mine = places[stand]
        if mine.size == 0:
            continue
        total = added(stand) + after[mine, 1:]
        log_p[mine, first[mine] - 1 - stand] = logsumexp(total + begin[stand, :-1], axis=1) - whole
        onward = link[done[stand], stand][:, None] + logsumexp(total, axis=0)
        after[done[stand], :-1] = np.logaddexp(after[done[stand], :-1], onward)
    return np.asarray(np.exp(np.minimum(log_p, 0.0)))


def _chosen(
    guesses: Guesses,
    stands_m: Floats,
    row: Sequence[tuple[int, int]],
    numbers: Sequence[int],
    probability: Floats,
    guess: GuessSettings,
) -> list[Chosen]:
    """Number the holes of a row, and say how sure each is: with all holes that lie as near as a right guess does."""
    greens, back = np.nonzero(probability > 1e-4)
    share = probability[greens, back]
    tees_m = stands_m[guesses.first[greens] - 1 - back]
    centres = np.column_stack([guesses.east_m, guesses.north_m])
    chosen = []
    for (tee, green), number in zip(row, numbers, strict=False):
        near = np.hypot(*(tees_m - stands_m[tee]).T) < guess.right_tee_m
        near &= np.hypot(*(centres[greens] - centres[green]).T) < guess.right_green_m
        # The same hole once more in the round is another one.
        near &= np.abs(guesses.first[greens] - guesses.first[green]) <= guess.most_green_stands
        chosen.append(Chosen(number, tee, green, min(float(np.sum(share[near])), 1.0)))
    return chosen


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
