"""All the evidence of one round, put together for the search."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trackgolf.decode import IMPOSSIBLE, Evidence
from trackgolf.evidence import (
    Shooter,
    after_green_score,
    flight_log_density,
    green_score,
    other_log_density,
    tee_score,
    tee_wait_log_density,
)
from trackgolf.ground import Ground, HoleGround, TeeChoice, stations
from trackgolf.settings import RoundSettings

__all__ = ["HoleCount", "mark_cost", "weigh_round", "weigh_tees"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class HoleCount:
    """
    What is known beforehand of the strokes on a hole.

    Attributes are the player's own `regulation_shots`, and from the card, where it says so, the `strokes`,
    `putts` and `penalties` (None unknown), and `carded`: whether the card has a row for the hole at all.
    """

    regulation_shots: int
    strokes: int | None = None
    putts: int | None = None
    penalties: int | None = None
    carded: bool = False


# Putts a hole where the card does not tell. Common practice, no source: two, seldom three or one.
_PUTT_WEIGHTS = {0: 0.03, 1: 0.22, 2: 0.50, 3: 0.20, 4: 0.05}
# A stand whose logarithm of the probability to be on the green is lower ends no hole: one in 10^17.
_OFF_GREEN = -40.0
# One whose logarithm of that is higher is on it: nine in ten.
_ON_GREEN = math.log(0.9)
_PENALTY_WEIGHTS = {0: 0.86, 1: 0.11, 2: 0.03}


def weigh_round(
    stands: pd.DataFrame,
    walk: tuple[Floats, Floats, Floats],
    ground: Ground,
    shooters: list[Shooter],
    counts: list[HoleCount],
    marks: tuple[Floats, Floats, Floats],
    settings: RoundSettings,
    looks: Floats,
) -> Evidence:
    """
    Weigh every stand and every pair of stands of a round.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands as `geo.stops.find_stops` gives them, m rows.
    walk : tuple of numpy.ndarray, each shape (n,)
        Time [s], east and north [m] of the smoothed walk.
    ground : Ground
        The course, h holes.
    shooters : list of Shooter
        The player's clubs, a hole.
    counts : list of HoleCount
        What is known of the strokes, a hole.
    marks : tuple of numpy.ndarray, each shape (q,)
        Time [s] (NaN unknown), east and north [m] of the marks the player made.
    settings : RoundSettings
        What the decoder believes.
    looks : numpy.ndarray, shape (m, 3)
        Log-odds of what each stand looks like, as `stand_net.StandNet` gives them.

    Returns
    -------
    Evidence
        Logarithms for the search.
    """
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    sigma, dwell = stands["sigma_m"].to_numpy(), stands["dwell_s"].to_numpy()
    size, holes = len(stands), len(ground.holes)
    window = min(settings.most_stands_between, max(size - 1, 1))
    tee = weigh_tees(stands, ground, marks, settings, looks)
    shot, arrive, after = np.full((3, size, holes), IMPOSSIBLE)
    from_tee = np.full((size, holes), IMPOSSIBLE)
    flight = np.full((size, window, holes), IMPOSSIBLE)
    flight_green, unseen, unseen_green = flight.copy(), flight.copy(), flight.copy()

    stand = looks[:, 0] + _mark_score(stands, marks, settings)
    other = math.log(settings.other_area_m2)
    far = _excursions(stands, walk, window)
    for h, (hole, shooter) in enumerate(zip(ground.holes, shooters, strict=True)):
        where, along = _near(hole, east, north, settings)
        after[:, h] = math.log(1.0 - settings.green_share - settings.beside_green_share)
        if where.size == 0:
            continue
        x, y, s = east[where], north[where], sigma[where]
        log_on, log_off = green_score(hole, x, y, s)
        shot[where, h] = stand[where] + log_off
        arrive[where, h] = log_on + looks[where, 2]
        after[where, h] = after_green_score(hole, x, y, s, dwell[where], settings)
        zero = np.zeros_like(x)
        start = (zero + hole.line[0, 0], zero + hole.line[0, 1], zero + settings.tee_spread_m)
        from_tee[where, h] = (
            math.log(settings.unseen_shot)
            + other
            + flight_log_density(hole, start, (x, y, s), shooter, settings)
        )
        # Places in `where` first, to share what is known a stand.
        to, of = _pairs(where, window)
        if to.size == 0:
            continue
        later, offset = where[to], where[to] - where[of] - 1
        begin, finish = (x[of], y[of], s[of]), (x[to], y[to], s[to])
        moved = np.hypot(finish[0] - begin[0], finish[1] - begin[1])
        on_tee = tee_wait_log_density(hole, x, y, s, settings)
        elsewhere = -np.logaddexp(other_log_density(moved, settings), on_tee[to])
        # Who has stood on the green for long seldom plays another stroke from off it.
        putted = np.cumsum((log_on > _ON_GREEN) & (dwell[where] >= settings.putting_s))
        elsewhere = elsewhere + math.log(settings.back_off_green) * (putted[to - 1] > putted[of])
        flown = elsewhere + flight_log_density(hole, begin, finish, shooter, settings, along_m=along[of])
        replay = _replay_share(counts[h], settings)
        replayed = _replay_score(begin, finish, far[later, offset], replay, settings) + elsewhere
        flight[later, offset, h] = np.logaddexp(flown + math.log(1.0 - replay), replayed)
        two = _two_strokes(hole, begin, finish, shooter) + elsewhere + math.log(settings.unseen_shot)
        unseen[later, offset, h] = two
        # No ball rests on the green where the stand is hardly there.
        home = log_on[to] > _OFF_GREEN
        of, to, later, offset = of[home], to[home], later[home], offset[home]
        flight_green[later, offset, h] = elsewhere[home] + flight_log_density(
            hole,
            (x[of], y[of], s[of]),
            (x[to], y[to], s[to]),
            shooter,
            settings,
            extra_m=settings.green_ball_m,
            along_m=along[of],
        )
        unseen_green[later, offset, h] = two[home]
    count, picked = _count_tables(counts, settings)
    start_score, end_score, order = _order_tables(ground, counts, settings)
    return Evidence(
        tee=tee,
        shot=shot,
        arrive=arrive,
        after=after,
        flight=flight,
        flight_green=flight_green,
        unseen=unseen,
        unseen_green=unseen_green,
        from_tee=from_tee,
        count=count,
        count_picked=picked,
        start=start_score,
        end=end_score,
        order=order,
        stay=math.log(settings.stay_share),
        leave=math.log(1.0 - settings.stay_share),
    )


def weigh_tees(
    stands: pd.DataFrame,
    ground: Ground,
    marks: tuple[Floats, Floats, Floats],
    settings: RoundSettings,
    looks: Floats,
    choice: TeeChoice | None = None,
) -> Floats:
    """
    Weigh every stand as the first shot of every hole.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands, m rows.
    ground : Ground
        The course, h holes.
    marks : tuple of numpy.ndarray
        Time [s], east and north [m] of the marks.
    settings : RoundSettings
        What the decoder believes.
    looks : numpy.ndarray, shape (m, 3)
        Log-odds of what each stand looks like, as `stand_net.StandNet` gives them.
    choice : TeeChoice, optional
        Where the tees of this round are taken to be.

    Returns
    -------
    numpy.ndarray, shape (m, h)
        Logarithms for the search.
    """
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    sigma = stands["sigma_m"].to_numpy()
    stand = looks[:, 1] + _mark_score(stands, marks, settings)
    table = np.full((len(stands), len(ground.holes)), IMPOSSIBLE)
    for h, hole in enumerate(ground.holes):
        where, along = _near(hole, east, north, settings)
        if where.size:
            place = tee_score(
                hole,
                east[where],
                north[where],
                sigma[where],
                settings,
                spot=None if choice is None else (float(choice.spots[h, 0]), float(choice.spots[h, 1])),
                spot_spread_m=0.0 if choice is None else choice.spread_m,
            )
            table[where, h] = np.where(along < 0.6 * hole.length_m, place + stand[where], IMPOSSIBLE)
    return table


def _near(
    hole: HoleGround, east: Floats, north: Floats, settings: RoundSettings
) -> tuple[NDArray[np.int64], Floats]:
    """The stands near a hole's line of play, and how far along it they lie [m]."""
    along, across = stations(hole, east, north)
    near = (np.abs(across) < settings.corridor_m) & (along > -60.0) & (along < hole.length_m + 80.0)
    where = np.flatnonzero(near)
    return where, along[where]


def _pairs(where: NDArray[np.int64], window: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """All pairs of chosen stands at most `window` apart: the places in `where` of the later and of the earlier one."""
    first = np.searchsorted(where, where - window)
    before = np.arange(where.size) - first
    later = np.repeat(np.arange(where.size), before)
    return later, np.arange(later.size) - np.repeat(np.cumsum(before) - before - first, before)


def _excursions(stands: pd.DataFrame, walk: tuple[Floats, Floats, Floats], window: int) -> Floats:
    """How far the player went between two stands at one place: shape (m, w), zero where not needed [m]."""
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    time, walk_east, walk_north = walk
    far = np.zeros((len(stands), window))
    for j in range(len(stands)):
        first = max(j - window, 0)
        apart = np.hypot(east[first:j] - east[j], north[first:j] - north[j])
        for i in (np.flatnonzero(apart < 15.0) + first).tolist():
            low, high = np.searchsorted(time, [end[i], start[j]])
            if high > low:
                out = np.hypot(walk_east[low:high] - east[i], walk_north[low:high] - north[i])
                far[j, j - 1 - i] = float(np.max(out))
    return far


def _replay_share(known: HoleCount, settings: RoundSettings) -> float:
    """How likely a stroke is played again from its spot: it costs a penalty, so the card may speak for or against."""
    if known.penalties is None:
        if known.strokes is None or known.putts is None:
            return settings.replay
        # The count of such a hole holds it against fewer shots that a penalty is rare; here there is one.
        return min(settings.replay / _PENALTY_WEIGHTS[1], 0.5)
    return settings.replay_carded if known.penalties else settings.replay / 20.0


def _replay_score(
    begin: tuple[Floats, Floats, Floats],
    finish: tuple[Floats, Floats, Floats],
    far_m: Floats,
    replay: float,
    settings: RoundSettings,
) -> Floats:
    """Stroke and distance: back at the spot just left, after having been away from it."""
    gap = np.hypot(finish[0] - begin[0], finish[1] - begin[1])
    var = begin[2] ** 2 + finish[2] ** 2 + 2.0 * settings.beside_ball_m**2 + 2.0**2
    score: Floats = math.log(replay) - 0.5 * gap**2 / var - np.log(2.0 * math.pi * var)
    return np.where(far_m > 30.0, score, IMPOSSIBLE)


def _two_strokes(
    hole: HoleGround,
    begin: tuple[Floats, Floats, Floats],
    finish: tuple[Floats, Floats, Floats],
    shooter: Shooter,
) -> Floats:
    """Log density of where two strokes lead: anywhere forward within twice the longest club [1/m2]."""
    moved = np.hypot(finish[0] - begin[0], finish[1] - begin[1])
    left = np.hypot(hole.target[0] - begin[0], hole.target[1] - begin[1])
    remain = np.hypot(hole.target[0] - finish[0], hole.target[1] - finish[1])
    reach = np.minimum(1.8 * shooter.longest_m, np.maximum(1.3 * left, 15.0))
    width = 0.25 * np.maximum(moved, 20.0) + 5.0
    inside = (moved < reach) & (remain < left + 10.0)
    return np.where(inside, -np.log(reach * width * 2.5), IMPOSSIBLE)


def _mark_score(
    stands: pd.DataFrame, marks: tuple[Floats, Floats, Floats], settings: RoundSettings
) -> Floats:
    score = np.zeros(len(stands))
    time, east, north = marks
    if time.size == 0 or stands.empty:
        return score
    share_of = np.zeros(len(stands))
    for index in range(time.size):
        cost = mark_cost(stands, float(time[index]), float(east[index]), float(north[index]), settings)
        near = np.where(cost < 1.0, np.exp(-3.0 * cost**2), 0.0)
        if near.sum() > 0.0:
            # Made at the bag or at the ball: the stands beside a mark share it.
            share_of = np.maximum(share_of, near / near.sum())
    here = share_of > 0.15
    found = int(np.count_nonzero(share_of > 0.5))
    # A player who marks most shots says something by not marking, one who marks a few does not.
    share = min(found / max(0.35 * len(stands), 1.0), 0.9)
    score[~here] = math.log(1.0 - 0.85 * share)
    odds = settings.mark_is_shot / (1.0 - settings.mark_is_shot)
    score[here] = math.log(odds) + 1.0 + np.log(share_of[here])
    return score


def mark_cost(
    stands: pd.DataFrame, time_s: float, east_m: float, north_m: float, settings: RoundSettings
) -> Floats:
    """
    Measure how far a mark is from each stand, in place and time.

    Parameters
    ----------
    stands : pandas.DataFrame
        Stands with `start_s`, `end_s`, `east_m`, `north_m`.
    time_s : float
        Time of the mark [s], NaN unknown.
    east_m, north_m : float
        Its place [m].
    settings : RoundSettings
        Scales of both.

    Returns
    -------
    numpy.ndarray, shape (m,)
        Below 1 where the mark may belong to the stand.
    """
    gap = (
        np.hypot(stands["east_m"].to_numpy() - east_m, stands["north_m"].to_numpy() - north_m)
        / settings.mark_m
    )
    if math.isnan(time_s):
        return gap
    early = np.maximum(stands["start_s"].to_numpy() - time_s, 0.0)
    late = np.maximum(time_s - stands["end_s"].to_numpy(), 0.0)
    cost: Floats = np.hypot(gap, (early + late) / settings.mark_s)
    return cost


def _count_tables(counts: list[HoleCount], settings: RoundSettings) -> tuple[Floats, Floats]:
    most = settings.most_shots
    table = np.full((len(counts), most + 1), IMPOSSIBLE)
    picked = np.full((len(counts), most + 1), IMPOSSIBLE)
    for h, known in enumerate(counts):
        prior = np.zeros(most + 1)
        for place, weight in enumerate(settings.count_weights):
            shots = known.regulation_shots - 3 + place
            if 1 <= shots <= most:
                prior[shots] += weight
        prior[1:] = (prior[1:] + 1e-4) ** settings.count_power
        prior /= prior.sum()
        pick = settings.pick_up
        if known.strokes is not None:
            prior = _card_counts(known, known.strokes, prior, settings.card_error)
            pick = settings.card_error
        elif known.carded:
            pick = 0.5
        table[h, 1:] = np.log(prior[1:] * (1.0 - pick) + 1e-12)
        # Given up after many strokes rather than few.
        late = np.where(np.arange(most + 1) < known.regulation_shots, 0.3, 1.0)
        picked[h, 1:] = np.log(pick * late[1:] / late[1:].sum())
    return table, picked


def _card_counts(known: HoleCount, strokes: int, prior: Floats, card_error: float) -> Floats:
    putts = _PUTT_WEIGHTS if known.putts is None else {known.putts: 1.0}
    penalties = _PENALTY_WEIGHTS if known.penalties is None else {known.penalties: 1.0}
    told = np.zeros_like(prior)
    for putt, weight in putts.items():
        for penalty, share in penalties.items():
            shots = strokes - putt - penalty
            if 1 <= shots < prior.size:
                told[shots] += weight * share
    if told.sum() <= 0.0:
        return prior
    blend: Floats = (1.0 - card_error) * told / told.sum() + card_error * prior
    return blend


def _order_tables(
    ground: Ground, counts: list[HoleCount], settings: RoundSettings
) -> tuple[Floats, Floats, Floats]:
    """Scores of the first hole, of the last, and of which hole follows which; a hole on the card is seldom passed."""
    size = len(ground.holes)
    start = np.full(size, math.log(0.06 / max(size, 1)))
    end = np.full(size, math.log(0.02))
    start[0] = math.log(0.80)
    end[-1] = math.log(0.90)
    if size == 18:
        start[9] = math.log(0.14)
        end[8] = math.log(0.5)
    order = np.full((size, size), math.log(settings.skip_hole * 0.3 / max(size, 1)))
    for h in range(size):
        follow = (h + 1) % size
        order[h, follow] = math.log(settings.next_hole if follow else 0.3)
        if size > 2:
            passed = counts[follow].strokes is not None
            order[h, (h + 2) % size] = math.log(settings.skip_hole * (settings.card_error if passed else 1.0))
        if size == 18 and ground.holes[h].number == 9:
            order[h, 0] = math.log(0.02)
    for h in range(size - 1):
        if counts[h + 1].strokes is not None and not (size == 18 and h == 8):
            end[h] += math.log(settings.card_error)
    return start, end, order
