"""What a stand, a pair of stands or a mark says about strokes: log-likelihood ratios on plain arrays."""

from __future__ import annotations

import math
from copy import copy

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.special import expit, log_ndtr

from trackgolf.ground import HoleGround, stations
from trackgolf.settings import RoundSettings

__all__ = [
    "Shooter",
    "after_green_score",
    "aimed_log_density",
    "dwell_score",
    "flight_log_density",
    "green_score",
    "other_log_density",
    "tee_score",
    "tee_wait_log_density",
]

Floats = NDArray[np.float64]
_LOG_2PI = math.log(2.0 * math.pi)


class Shooter:
    """
    What a player's full clubs do, as far as the decoder needs to know.

    Parameters
    ----------
    distance_m : sequence of float, shape (c,)
        Carry and roll of each club, putter left out [m].
    spread_m : sequence of float, shape (c,)
        One standard deviation along the line [m].
    settings : RoundSettings
        Factor and spread of truth against the bag.
    """

    def __init__(self, distance_m: Floats, spread_m: Floats, settings: RoundSettings) -> None:
        stated = np.asarray(distance_m, dtype=float)
        self.distance_m = stated * settings.bag_factor
        self.spread_m = np.hypot(np.asarray(spread_m, dtype=float), stated * settings.bag_spread)
        self.longest_m = float(np.max(self.distance_m)) if stated.size else 180.0
        # Long clubs are played more than short ones where the green is out of reach.
        weight = self.distance_m / max(self.longest_m, 1.0)
        weight = weight**settings.long_club_power
        self.weight = weight / np.sum(weight) if stated.size else weight

    def expecting(self, planned: Floats, share: float) -> Shooter:
        """
        Expect some clubs more than others.

        Parameters
        ----------
        planned : numpy.ndarray, shape (c,)
            How often each club is planned on a hole.
        share : float
            Share of shots that are played as planned.

        Returns
        -------
        Shooter
            The same clubs with other weights; distances stay what the clubs do, whatever the targets.
        """
        other = copy(self)
        if np.sum(planned) > 0.0:
            other.weight = (1.0 - share) * self.weight + share * planned / np.sum(planned)
        return other


def _log_normal_pdf(value: Floats, median: float, spread: float) -> Floats:
    scaled = (np.log(np.maximum(value, 1.0)) - math.log(median)) / spread
    density: Floats = -0.5 * scaled**2 - math.log(spread) - 0.5 * _LOG_2PI - np.log(np.maximum(value, 1.0))
    return density


def tee_wait_log_density(
    hole: HoleGround, east_m: Floats, north_m: Floats, sigma_m: Floats, settings: RoundSettings
) -> Floats:
    """
    Density of stands that are no strokes on the tees of a hole, where the others tee off.

    Parameters
    ----------
    hole : HoleGround
        The hole.
    east_m, north_m, sigma_m : numpy.ndarray, shape (n,)
        Stands and their standard errors [m].
    settings : RoundSettings
        Share of such stands.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Natural logarithm of the density [1/m2]; minus a great number where the map draws no tee.
    """
    if not hole.tees:
        return np.full_like(east_m, -50.0)
    spots = shapely.points(east_m, north_m)
    near = sigma_m + settings.tee_wait_m
    density = np.zeros_like(east_m)
    for tee in hole.tees:
        gap = shapely.distance(tee, spots)
        density += np.exp(-0.5 * (gap / near) ** 2) / (tee.area + near * tee.length + math.pi * near**2)
    return np.asarray(np.log(settings.tee_wait_share * density / len(hole.tees) + 1e-20))


def dwell_score(dwell_s: Floats, settings: RoundSettings, *, kind: str = "shot") -> Floats:
    """
    Weigh the length of stands as strokes against stands of other kinds.

    Parameters
    ----------
    dwell_s : numpy.ndarray, shape (n,)
        Time stood [s].
    settings : RoundSettings
        Log-normal laws of both.
    kind : {"shot", "tee", "green"}, optional
        A stroke off the green; one from the tee, where people wait longer; anything done on a green.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Log-likelihood ratio, capped at 3 either way.
    """
    median, spread = {
        "shot": (settings.shot_dwell_s, settings.shot_dwell_spread),
        "tee": (settings.tee_dwell_s, settings.tee_dwell_spread),
        "green": (settings.green_dwell_s, settings.green_dwell_spread),
    }[kind]
    stroke = _log_normal_pdf(dwell_s, median, spread)
    other = np.logaddexp(
        math.log(settings.halt_share)
        + _log_normal_pdf(dwell_s, settings.halt_dwell_s, settings.halt_dwell_spread),
        math.log(1.0 - settings.halt_share)
        + _log_normal_pdf(dwell_s, settings.wait_dwell_s, settings.wait_dwell_spread),
    )
    capped: Floats = np.clip(stroke - other, -3.0, 3.0)
    return capped


def other_log_density(moved_m: Floats, settings: RoundSettings) -> Floats:
    """
    Density of stands that are no strokes, at a distance from the stroke before.

    Parameters
    ----------
    moved_m : numpy.ndarray, shape (n,)
        Distance from the stand of the last stroke [m].
    settings : RoundSettings
        Share around that spot, and how it thins out.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Natural logarithm of the density [1/m2].
    """
    around = np.exp(-moved_m / settings.around_m) / (2.0 * math.pi * settings.around_m**2)
    density = settings.around_share * around + (1.0 - settings.around_share) / settings.other_area_m2
    return np.asarray(np.log(density))


def _round_normal(gap_m: Floats, sigma_m: Floats | float) -> Floats:
    """Log density of a circular normal at a distance from its centre [1/m2]."""
    var = np.square(sigma_m)
    density: Floats = -0.5 * gap_m**2 / var - np.log(var) - _LOG_2PI
    return density


def tee_score(
    hole: HoleGround,
    east_m: Floats,
    north_m: Floats,
    sigma_m: Floats,
    settings: RoundSettings,
    *,
    spot: tuple[float, float] | None = None,
    spot_spread_m: float = 0.0,
) -> Floats:
    """
    Weigh stands as tee shots of a hole by where they lie.

    Parameters
    ----------
    hole : HoleGround
        The hole.
    east_m, north_m, sigma_m : numpy.ndarray, shape (n,)
        Stands and their standard errors [m].
    settings : RoundSettings
        Spreads.
    spot : tuple of float, optional
        Where this round's tee is taken to be [m]; else the start of the line, and less surely so.
    spot_spread_m : float, optional
        How well that is known, each axis [m].

    Returns
    -------
    numpy.ndarray, shape (n,)
        Log density at the tee against that of stands in general.
    """
    known = spot is not None or hole.tee_named
    centre = spot if spot is not None else (float(hole.line[0, 0]), float(hole.line[0, 1]))
    spread = np.hypot(settings.named_tee_spread_m if known else settings.tee_spread_m, spot_spread_m)
    from_centre = np.hypot(east_m - centre[0], north_m - centre[1])
    if known:
        at_centre = settings.named_tee_share
    else:
        at_centre = 0.5 if hole.tees else 0.95 - settings.tee_ahead_share
    parts = [
        math.log(at_centre) + _round_normal(from_centre, np.hypot(spread, sigma_m)),
        math.log(0.05) + _round_normal(from_centre, np.hypot(30.0, sigma_m)),
    ]
    if not hole.tees and not known:
        # Any of several tees that nobody drew: evenly spread from behind the line's start to well ahead of it.
        along, across = stations(hole, east_m, north_m)
        ahead = min(settings.tee_ahead_m, 0.35 * hole.length_m)
        even = np.log(_even_pdf(along + 15.0, np.full_like(along, ahead + 15.0), sigma_m) + 1e-12)
        side = np.hypot(sigma_m, 6.0)
        parts.append(
            math.log(settings.tee_ahead_share)
            + even
            - 0.5 * (across / side) ** 2
            - np.log(side)
            - 0.5 * _LOG_2PI
        )
    if hole.tees:
        spots = shapely.points(east_m, north_m)
        near = 2.0 + sigma_m
        for tee in hole.tees:
            gap = shapely.distance(tee, spots)
            # Evenly spread over the tee, fading with the position's error and two club-lengths (Rule 6.2).
            area = tee.area + near * tee.length + math.pi * near**2
            share = (0.95 - min(at_centre, 0.93)) / len(hole.tees)
            parts.append(math.log(share) - 0.5 * (gap / near) ** 2 - np.log(area))
    density: Floats = np.logaddexp.reduce(parts, axis=0)
    return density + math.log(settings.other_area_m2)


def green_score(hole: HoleGround, east_m: Floats, north_m: Floats, sigma_m: Floats) -> tuple[Floats, Floats]:
    """
    Probabilities that stands are on a hole's green, and off it.

    Parameters
    ----------
    hole : HoleGround
        The hole.
    east_m, north_m, sigma_m : numpy.ndarray, shape (n,)
        Stands and their standard errors [m].

    Returns
    -------
    log_on, log_off : numpy.ndarray, shape (n,)
        Logarithms of both probabilities.
    """
    spots = shapely.points(east_m, north_m)
    edge = shapely.distance(shapely.boundary(hole.green), spots)
    signed = np.where(shapely.contains(hole.green, spots), -edge, edge)
    scaled = signed / np.hypot(sigma_m, 1.0)
    return np.asarray(log_ndtr(-scaled)), np.asarray(log_ndtr(scaled))


def after_green_score(
    hole: HoleGround,
    east_m: Floats,
    north_m: Floats,
    sigma_m: Floats,
    dwell_s: Floats,
    settings: RoundSettings,
) -> Floats:
    """
    Weigh stands as what happens once the green is reached: putts, marking, the bag beside the green.

    Parameters
    ----------
    hole : HoleGround
        The hole.
    east_m, north_m, sigma_m : numpy.ndarray, shape (n,)
        Stands and their standard errors [m].
    dwell_s : numpy.ndarray, shape (n,)
        Time stood [s].
    settings : RoundSettings
        Shares.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Log density against that of stands in general.
    """
    gap = shapely.distance(hole.green, shapely.points(east_m, north_m))
    area = max(float(hole.green.area), 50.0)
    on = (
        dwell_score(dwell_s, settings, kind="green")
        + math.log(settings.green_share / area)
        - 0.5 * (gap / np.hypot(sigma_m, 1.0)) ** 2
    )
    ring = float(hole.green.buffer(settings.beside_green_m).area)
    beside = (
        math.log(settings.beside_green_share / ring)
        - 0.5 * (np.maximum(gap - settings.beside_green_m, 0.0) / sigma_m) ** 2
    )
    rest = 1.0 - settings.green_share - settings.beside_green_share
    anywhere = np.full_like(gap, math.log(rest / settings.other_area_m2))
    density: Floats = np.logaddexp.reduce([on, beside, anywhere], axis=0)
    return density + math.log(settings.other_area_m2)


def flight_log_density(
    hole: HoleGround,
    from_m: tuple[Floats, Floats, Floats],
    to_m: tuple[Floats, Floats, Floats],
    shooter: Shooter,
    settings: RoundSettings,
    *,
    extra_m: float = 0.0,
    along_m: Floats | None = None,
) -> Floats:
    """
    Density of where a stroke's ball is played from next.

    A mixture: a stroke meant to reach the green, a full stroke with any club of the bag, a poor one that falls
    anywhere short, and a stray one; across the line a normal law with a wide tail. Errors of both stands and the
    player's place beside the ball are part of the spread.

    Parameters
    ----------
    hole : HoleGround
        The hole both stands are on.
    from_m, to_m : tuple of numpy.ndarray, each shape (n,)
        East, north and standard error of the first and of the second stand [m].
    shooter : Shooter
        The player's clubs.
    settings : RoundSettings
        Shares and spreads.
    extra_m : float, optional
        Further error of the second place, each axis [m].
    along_m : numpy.ndarray, shape (n,), optional
        How far along the hole's line the first stand lies [m], where that is known already.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Natural logarithm of the density [1/m2].
    """
    (x0, y0, _), (x1, y1, _) = from_m, to_m
    moved = np.hypot(x1 - x0, y1 - y0)
    left = np.hypot(hole.target[0] - x0, hole.target[1] - y0)
    aim = _aim(hole, x0, y0, moved, left, shooter.longest_m, along_m)
    return aimed_log_density(aim, left, from_m, to_m, shooter, settings, extra_m=extra_m)


def aimed_log_density(
    aim_m: tuple[Floats, Floats],
    left_m: Floats,
    from_m: tuple[Floats, Floats, Floats],
    to_m: tuple[Floats, Floats, Floats],
    shooter: Shooter,
    settings: RoundSettings,
    *,
    extra_m: float = 0.0,
) -> Floats:
    """
    Density of where a stroke's ball is played from next, for strokes aimed at given spots.

    Parameters
    ----------
    aim_m : tuple of numpy.ndarray, each shape (n,)
        East and north of the spots aimed at [m].
    left_m : numpy.ndarray, shape (n,)
        Distances to the hole [m].
    from_m, to_m : tuple of numpy.ndarray, each shape (n,)
        East, north and standard error of the first and of the second stand [m].
    shooter : Shooter
        The player's clubs.
    settings : RoundSettings
        Shares and spreads.
    extra_m : float, optional
        Further error of the second place, each axis [m].

    Returns
    -------
    numpy.ndarray, shape (n,)
        Natural logarithm of the density [1/m2].
    """
    (x0, y0, s0), (x1, y1, s1) = from_m, to_m
    (aim_x, aim_y), left = aim_m, left_m
    moved = np.hypot(x1 - x0, y1 - y0)
    error = np.sqrt(s0**2 + s1**2 + 2.0 * settings.beside_ball_m**2 + extra_m**2)
    norm = np.maximum(np.hypot(aim_x - x0, aim_y - y0), 0.1)
    along = ((x1 - x0) * (aim_x - x0) + (y1 - y0) * (aim_y - y0)) / norm
    across = ((x1 - x0) * (aim_y - y0) - (y1 - y0) * (aim_x - x0)) / norm

    reach = shooter.longest_m * 1.05
    reachable = expit((reach - left) / (0.06 * reach))
    meant = settings.aim_green * reachable
    meant = np.where(left < 0.45 * shooter.longest_m, 0.85, meant)
    green_spread = np.hypot(
        np.maximum(settings.chip_spread_share * left * np.exp(-left / 90.0), 0.09 * left), error
    )
    to_green = _normal_pdf(along, left * 0.97, green_spread)
    spreads = np.hypot(shooter.spread_m[None, :], error[:, None])
    full = np.sum(
        shooter.weight[None, :] * _normal_pdf(along[:, None], shooter.distance_m[None, :], spreads), axis=1
    )
    longest = np.minimum(shooter.longest_m * 1.05, np.maximum(left * 1.35, 8.0))
    short = _even_pdf(along, longest, error)
    good = 1.0 - settings.short_share
    radial = good * (meant * to_green + (1.0 - meant) * full) + settings.short_share * short
    tight = np.hypot(settings.side_share * moved, error)
    wide = np.hypot(settings.wild_share * moved, error)
    lateral = (1.0 - settings.wild_probability) * _normal_pdf(across, 0.0, tight)
    lateral += settings.wild_probability * _normal_pdf(across, 0.0, wide)
    stray_var = settings.stray_radius_m**2
    stray = settings.stray_share * np.exp(-0.5 * moved**2 / stray_var) / (2.0 * math.pi * stray_var)
    density: Floats = np.log((1.0 - settings.stray_share) * radial * lateral + stray + 1e-30)
    return density


def _aim(
    hole: HoleGround,
    x0: Floats,
    y0: Floats,
    moved: Floats,
    left: Floats,
    longest_m: float,
    along: Floats | None,
) -> tuple[Floats, Floats]:
    """Where a player would aim: at the hole within reach, else at the line of play ahead."""
    if along is None:
        along, _ = stations(hole, x0, y0)
    ahead = along + np.maximum(moved, np.minimum(0.7 * longest_m, left))
    station = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(hole.line, axis=0).T))])
    aim_x = np.interp(ahead, station, hole.line[:, 0])
    aim_y = np.interp(ahead, station, hole.line[:, 1])
    near = (ahead >= station[-1] - 5.0) | (left <= 0.9 * longest_m)
    return np.where(near, hole.target[0], aim_x), np.where(near, hole.target[1], aim_y)


def _normal_pdf(value: Floats, mean: Floats | float, spread: Floats) -> Floats:
    density: Floats = np.exp(-0.5 * ((value - mean) / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
    return density


def _even_pdf(value: Floats, longest: Floats, error: Floats) -> Floats:
    """Evenly spread between nothing and the longest, its edges softened by the error."""
    soft = np.maximum(error, 0.5)
    inside = expit(value / (0.6 * soft)) * expit((longest - value) / (0.6 * soft))
    density: Floats = inside / longest
    return density
