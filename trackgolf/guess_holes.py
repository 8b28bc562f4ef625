"""Holes guessed from the stands of a round: every tee with every green is weighed as a hole."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import logsumexp

from geo.gaps import split_parts
from trackgolf.course_facts import par_for_length
from trackgolf.decode import IMPOSSIBLE
from trackgolf.evidence import Shooter, aimed_log_density, other_log_density
from trackgolf.guess_settings import GuessSettings
from trackgolf.guess_stands import Walk, stand_kinds
from trackgolf.settings import RoundSettings

__all__ = [
    "HOLE_EVIDENCE",
    "LINK_EVIDENCE",
    "Guesses",
    "count_priors",
    "guess_weights",
    "pars_of",
    "weigh_guesses",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# What speaks for a hole, in the order of the last axis of `Guesses.hole`.
HOLE_EVIDENCE = (
    "tee", "green", "green_more", "cluster", "play", "pace", "walk", "short", "long", "green_time", "wait", "left_out",
)  # fmt: skip
# What speaks for a way from a green to the next tee, in the order of the last axis of `Guesses.link`.
LINK_EVIDENCE = ("way", "pause", "between")
_FAR_M = 1e4


@dataclass(frozen=True)
class Guesses:
    """
    All holes a round may hold; m stands, g candidates for greens, w stands looked back over.

    Attributes
    ----------
    first, last : numpy.ndarray, shape (g,)
        First and last stand of each candidate for a green.
    east_m, north_m : numpy.ndarray, shape (g,)
        Its centre [m].
    hole : numpy.ndarray, shape (g, w, len(HOLE_EVIDENCE))
        What speaks for the hole with its tee ``o + 1`` stands before the green.
    link : numpy.ndarray, shape (g, m, len(LINK_EVIDENCE))
        What speaks for each stand as the next tee.
    possible : numpy.ndarray, shape (g, w)
        Whether there may be such a hole at all.
    length_m : numpy.ndarray, shape (g, w)
        Its length [m].
    shots : numpy.ndarray, shape (g, w, k)
        Log-likelihood of the shots between, for each number of them, in the units of `play`.
    """

    first: Ints
    last: Ints
    east_m: Floats
    north_m: Floats
    hole: Floats
    link: Floats
    possible: NDArray[np.bool_]
    length_m: Floats
    shots: Floats


def weigh_guesses(
    stands: pd.DataFrame,
    walk: Walk,
    shooter: Shooter,
    extra_shots: float,
    settings: RoundSettings,
    guess: GuessSettings,
) -> Guesses:
    """
    Weigh every tee with every green of a round as a hole.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands as `geo.stops.find_stops` gives them, m rows.
    walk : tuple of numpy.ndarray, each shape (n,)
        Time [s], east and north [m] of the smoothed walk.
    shooter : Shooter
        The player's clubs.
    extra_shots : float
        Strokes the player receives on a hole, on average.
    settings : RoundSettings
        What is believed of golfers.
    guess : GuessSettings
        What is believed of holes.

    Returns
    -------
    Guesses
        Evidence for `trackgolf.guess_search.best_row`.
    """
    kinds = stand_kinds(stands, walk, settings)
    greens = _greens(stands, kinds[:, 2], settings, guess)
    first, last = greens["first"].to_numpy(), greens["last"].to_numpy()
    centre = greens["east_m"].to_numpy(), greens["north_m"].to_numpy()
    back = min(guess.most_stands, max(len(stands) - 1, 1))
    tee = first[:, None] - 1 - np.arange(back)[None, :]
    there = tee >= 0
    tee = np.maximum(tee, 0)
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    length = np.hypot(east[tee] - centre[0][:, None], north[tee] - centre[1][:, None])
    there &= length < guess.longest_m
    shots = _shot_chains(stands, kinds[:, 3], greens, there, length, shooter, settings, guess)
    counts = count_priors(extra_shots, guess, settings)
    play = logsumexp(shots + counts[pars_of(length)], axis=2)
    pace, way = _walk_evidence(stands, walk, first, tee, length, guess)
    wait = -_better_tee(stands, kinds[:, 1], back, guess)[tee, np.arange(back)[None, :]]
    columns = {
        "tee": kinds[tee, 1],
        "green": greens["green"].to_numpy()[:, None],
        "green_more": greens["green_more"].to_numpy()[:, None],
        "cluster": greens["cluster"].to_numpy()[:, None],
        "play": play,
        "pace": pace,
        "walk": way,
        "short": -np.maximum(guess.short_m[0] - length, 0.0) / guess.short_m[1],
        "long": -np.maximum(length - guess.long_m[0], 0.0) / guess.long_m[1],
        "green_time": greens["green_time"].to_numpy()[:, None],
        "wait": wait,
        "left_out": -_left_out(stands, kinds[:, 2], greens, guess)[:, None],
    }
    return Guesses(
        first=first,
        last=last,
        east_m=centre[0],
        north_m=centre[1],
        hole=np.stack([np.broadcast_to(columns[name], length.shape) for name in HOLE_EVIDENCE], axis=2),
        link=_links(stands, walk, last, centre, settings, guess),
        possible=there & (length >= guess.shortest_m) & (play > -200.0),
        length_m=length,
        shots=shots,
    )


@cache
def guess_weights() -> tuple[Floats, Floats]:
    """
    Give how much each kind of evidence counts.

    Returns
    -------
    hole, link : numpy.ndarray
        Weights in the order of `HOLE_EVIDENCE` and `LINK_EVIDENCE`.
    """
    text = resources.files("trackgolf").joinpath("data/guess_weights.json").read_text(encoding="utf-8")
    weights = json.loads(text)["holes"]
    return (
        np.array([weights[name] for name in HOLE_EVIDENCE]),
        np.array([weights[name] for name in LINK_EVIDENCE]),
    )


def count_priors(extra_shots: float, guess: GuessSettings, settings: RoundSettings) -> Floats:
    """
    Say how many shots off the green a hole takes this player.

    Parameters
    ----------
    extra_shots : float
        Strokes the player receives on a hole, on average.
    guess : GuessSettings
        Most shots of a hole.
    settings : RoundSettings
        Weights of counts against regulation.

    Returns
    -------
    numpy.ndarray, shape (7, k)
        Logarithms, by par and shots less one.
    """
    table = np.full((7, guess.most_shots), 1e-4)
    whole = math.floor(extra_shots)
    for par in (3, 4, 5, 6):
        for share, more in ((whole + 1.0 - extra_shots, whole), (extra_shots - whole, whole + 1)):
            regulation = max(par - 2 + more, 1)
            for place, weight in enumerate(settings.count_weights):
                if 1 <= (shots := regulation - 3 + place) <= guess.most_shots:
                    table[par, shots - 1] += share * weight
    return np.asarray(np.log(table / table.sum(axis=1, keepdims=True)))


def pars_of(length_m: Floats) -> Ints:
    """
    Tell the pars that go with lengths.

    Parameters
    ----------
    length_m : numpy.ndarray
        Lengths of holes [m].

    Returns
    -------
    numpy.ndarray
        As `trackgolf.course_facts.par_for_length` gives them, of the same shape.
    """
    lengths = np.arange(1000)
    table = np.array([par_for_length(float(length)) for length in lengths])
    return np.asarray(table[np.clip(length_m, 0, lengths[-1]).astype(int)])


def _greens(
    stands: pd.DataFrame, kind: Floats, settings: RoundSettings, guess: GuessSettings
) -> pd.DataFrame:
    """Runs of stands close together that may be one green, with their centre and what speaks for each."""
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    sigma, dwell = stands["sigma_m"].to_numpy(), np.sqrt(stands["dwell_s"].to_numpy())
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    moved = np.concatenate([[_FAR_M], np.hypot(np.diff(east), np.diff(north))])
    other = other_log_density(moved, settings)
    rows = []
    for first in range(1, len(stands)):
        for last in range(first, min(first + guess.most_green_stands, len(stands))):
            if last > first and start[last] - end[last - 1] > guess.green_pause_s:
                break
            run = slice(first, last + 1)
            # Long stands count for more: putts rather than a look at the flag.
            share = dwell[run] / np.sum(dwell[run])
            x, y = float(np.sum(share * east[run])), float(np.sum(share * north[run]))
            gap = np.hypot(east[run] - x, north[run] - y)
            if float(np.max(gap)) > 1.5 * guess.green_reach_m:
                break
            if float(np.max(gap)) > guess.green_reach_m:
                continue
            var = guess.green_spread_m**2 + sigma[run] ** 2
            inside = -0.5 * gap**2 / var - np.log(2.0 * math.pi * var)
            # The centre may be anywhere beforehand, and is found from the stands themselves.
            cluster = (
                np.sum(inside) - np.sum(other[run][1:]) + math.log(2.0 * math.pi * np.mean(var) / gap.size)
            )
            time = math.log(max(end[last] - start[first], 5.0) / guess.green_s) / guess.green_s_spread
            mean = float(np.mean(kind[run]))
            rows.append((first, last, x, y, mean, float(np.sum(kind[run])) - mean, cluster, -0.5 * time**2))
    names = ["first", "last", "east_m", "north_m", "green", "green_more", "cluster", "green_time"]
    return pd.DataFrame(rows, columns=names).astype({"first": int, "last": int})


def _shot_chains(
    stands: pd.DataFrame,
    kind: Floats,
    greens: pd.DataFrame,
    there: NDArray[np.bool_],
    length: Floats,
    shooter: Shooter,
    settings: RoundSettings,
    guess: GuessSettings,
) -> Floats:
    """Log-likelihood of all ways to play from each stand to each green in so many shots, the first one's kind left out."""
    spot = tuple(stands[name].to_numpy() for name in ("east_m", "north_m", "sigma_m"))
    size, back = there.shape
    first = greens["first"].to_numpy()
    at = np.maximum(first[:, None] - 1 - np.arange(back)[None, :], 0)
    aim = greens["east_m"].to_numpy(), greens["north_m"].to_numpy()

    def flown(green: Ints, begin: Ints, place: Ints, finish: Ints, extra_m: float) -> Floats:
        start = spot[0][begin], spot[1][begin], spot[2][begin]
        end = spot[0][finish], spot[1][finish], spot[2][finish]
        towards = aim[0][green], aim[1][green]
        moved = np.hypot(end[0] - start[0], end[1] - start[1])
        left = length[green, place]
        density = aimed_log_density(towards, left, start, end, shooter, settings, extra_m=extra_m)
        return density - other_log_density(moved, settings)

    to_green = np.full((size, back), IMPOSSIBLE)
    green, place = np.nonzero(there)
    to_green[green, place] = flown(green, at[green, place], place, first[green], settings.green_ball_m)
    between = np.full((size, back, back), IMPOSSIBLE)
    older, newer = np.tril_indices(back, -1)
    green, pair = np.nonzero(there[:, older] & there[:, newer])
    place = older[pair]
    between[green, place, newer[pair]] = flown(green, at[green, place], place, at[green, newer[pair]], 0.0)
    chains = np.full((size, back, guess.most_shots), IMPOSSIBLE)
    chains[:, :, 0] = to_green
    for shots in range(1, guess.most_shots):
        later = (kind[at] + chains[:, :, shots - 1])[:, None, :]
        chains[:, :, shots] = logsumexp(between + later, axis=2)
    # The green may lie at any distance and in any direction of the tee, alike beforehand.
    place_of_green = -math.log(guess.longest_m - guess.shortest_m) - np.log(
        2.0 * math.pi * np.maximum(length, 1.0)
    )
    chains += (place_of_green + math.log(settings.other_area_m2))[:, :, None]
    return np.where(there[:, :, None], chains, IMPOSSIBLE)


def _walk_evidence(
    stands: pd.DataFrame, walk: Walk, first: Ints, tee: Ints, length: Floats, guess: GuessSettings
) -> tuple[Floats, Floats]:
    """How the time and the way from tee to green fit the length of the hole."""
    time, walk_east, walk_north = walk
    gone = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(walk_east), np.diff(walk_north)))])
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    straight = np.maximum(length, 20.0)
    spent = np.maximum(start[first][:, None] - end[tee], 1.0)
    way = np.maximum(np.interp(start, time, gone)[first][:, None] - np.interp(end, time, gone)[tee], 1.0)
    pace = np.log(spent / straight / guess.pace_spm) / guess.pace_spread
    factor = np.log(way / straight / guess.walk_factor) / guess.walk_spread
    return -0.5 * np.minimum(pace**2, 25.0), -0.5 * np.minimum(factor**2, 25.0)


def _better_tee(stands: pd.DataFrame, kind: Floats, back: int, guess: GuessSettings) -> Floats:
    """How much a stand soon after and close by speaks for being the tee itself: shape (m, w), before the green."""
    size = len(stands)
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    better = np.zeros((size, back))
    for ahead in range(1, min(5, size, back)):
        near = np.hypot(east[ahead:] - east[:-ahead], north[ahead:] - north[:-ahead]) < guess.wait_m
        near &= start[ahead:] - end[:-ahead] < guess.wait_s
        # A tee `o + 1` stands before the green has no more than `o` stands on the way.
        found = np.where(near, np.maximum(kind[ahead:], 0.0), 0.0)
        better[:-ahead, ahead:] = np.maximum(better[:-ahead, ahead:], found[:, None])
    return better


def _left_out(stands: pd.DataFrame, kind: Floats, greens: pd.DataFrame, guess: GuessSettings) -> Floats:
    """How much the stands just before and after each candidate speak for belonging to the same green."""
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    first, last = greens["first"].to_numpy(), greens["last"].to_numpy()
    total = np.zeros(len(greens))
    for step in (-2, -1, 1, 2):
        other = (first if step < 0 else last) + step
        inside = (other >= 0) & (other < len(stands))
        other = np.clip(other, 0, len(stands) - 1)
        pause = start[first] - end[other] if step < 0 else start[other] - end[last]
        gap = np.hypot(east[other] - greens["east_m"].to_numpy(), north[other] - greens["north_m"].to_numpy())
        inside &= (gap < 1.2 * guess.green_reach_m) & (pause < guess.green_pause_s)
        total += np.where(inside, np.maximum(kind[other], 0.0), 0.0)
    return total


def _links(
    stands: pd.DataFrame,
    walk: Walk,
    last: Ints,
    centre: tuple[Floats, Floats],
    settings: RoundSettings,
    guess: GuessSettings,
) -> Floats:
    """What speaks for each stand as the next tee after each green, shape (g, m, 3)."""
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    gap = np.maximum(np.hypot(centre[0][:, None] - east, centre[1][:, None] - north), 5.0)
    scaled = np.log(gap / guess.link_m) / guess.link_spread
    near = np.exp(-0.5 * scaled**2) / (gap * guess.link_spread * math.sqrt(2.0 * math.pi))
    far = np.exp(-gap / guess.far_link_m) / guess.far_link_m
    density = (1.0 - guess.far_link_share) * near + guess.far_link_share * far
    way = np.log(density / (2.0 * math.pi * gap)) + math.log(settings.other_area_m2)
    pause = np.maximum(start[None, :] - end[last][:, None], 10.0)
    usual = -0.5 * (np.log(pause / guess.link_s) / guess.link_s_spread) ** 2
    pause_score = np.logaddexp(usual, math.log(guess.pause_share))
    between = np.arange(len(stands))[None, :] - last[:, None] - 1
    # Where the recorder was off on the way, holes may be missing: neither how far it is nor how long it took says much.
    unseen = _gaps_before(walk, start, guess)[None, :] > _gaps_before(walk, end, guess)[last][:, None]
    way = np.where(unseen, np.maximum(way, math.log(guess.unseen_share)), np.maximum(way, -8.0))
    pause_score = np.where(unseen, np.maximum(pause_score, math.log(guess.unseen_share)), pause_score)
    return np.stack([way, pause_score, -np.clip(between, 0, 12).astype(float)], axis=2)


def _gaps_before(walk: Walk, time_s: Floats, guess: GuessSettings) -> Ints:
    """Count the long gaps with movement before each time."""
    time = walk[0]
    parts = split_parts(*walk)
    gaps = np.flatnonzero((np.diff(parts) > 0) & (np.diff(time) > guess.unseen_s))
    return np.asarray(np.searchsorted(time[gaps], time_s))
