"""Positions smoothed by a model of walking, with the error that is left. All in metres and seconds."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from geo._chain import add_steps, solve_chain
from geo._positions import FloatArray
from geo.errors import InputError
from geo.gaps import GapSettings, find_gaps

__all__ = ["SmoothSettings", "SmoothedTrack", "local_level_smooth", "smooth_positions"]

# Shorter steps are counted as this long: the model of a step of a millisecond is too stiff for 16 digits.
_SHORTEST_STEP_S = 0.05
# Derived: radius that holds half of a circular normal error of 1, sqrt(2 ln 2).
_RAYLEIGH_MEDIAN = 1.1774


@dataclass(frozen=True, slots=True)
class SmoothSettings:
    """
    How a person moves and how positions err.

    Parameters
    ----------
    slow_sigma_m : float, default 2.9
        One standard deviation per axis of the error that stays for minutes
        [m]; no smoothing removes it, so it is added to the reported error.
        With `fast_sigma_m` it makes up 3.25 m, the error per axis of a phone
        under open sky if its 4.9 m radius (gps.gov, citing van Diggelen and
        Enge, ION GNSS+ 2015) is meant at 68 %, 4.9 / 1.5096.
    slow_time_s : float, default 100
        Time in which the slow error's correlation falls to 1/e [s]; 100 s is
        0.99 a second. Our measurement on a real 1 Hz watch walk: 0.99 at 1 s.
    fast_sigma_m : float, default 1.4
        One standard deviation per axis of the error that changes within
        seconds [m]; together with `acceleration_m2ps3` it sets how much is
        smoothed. Fitted to simulated walks whose error of 2 to 4 m keeps 0.98
        or more a second: the path from leaving one stop to reaching the next
        is right within 2.5 %.
    acceleration_m2ps3 : float, default 0.03
        Spectral density of the acceleration per axis [m2/s3]; a walk from
        rest to 1.3 m/s and back once a minute has 2 * 1.3^2 / 60 s for both
        axes together, 0.03 each.
    start_speed_mps : float, default 2
        One standard deviation per axis of the speed when the recording begins
        [m/s]. Common practice, no source.
    still_sigma_m : float, default 1
        One standard deviation per axis of what a person moves in a gap with
        little movement [m]. Half of the 1.5 m that gaps of a real watch walk
        moved in the median is error.
    degrees_of_freedom : float, default 4
        Of the Student t distribution of the fast error; a small number lets
        single wild positions go. Common practice, no source.
    rounds : int, default 4
        How often the track is solved; each time but the first with weights
        found anew.
    usual_residual_m : float, default 0.45
        Median distance of the recorded positions from the smoothed track per
        axis, divided by 1.1774 as for a circular normal error, at which the
        errors above hold [m]. A track that shakes more errs more, slowly too:
        both errors grow in proportion, never below the values above. Fitted
        to simulated rounds, in which the whole error was 5 to 8 times this.
    most_scale : float, default 3
        The errors grow to this many times at most. Common practice, no
        source.
    usual_hdop : float, default 1
        The horizontal dilution of precision at which the errors above hold;
        they grow in proportion. Common practice, no source.
    gaps : GapSettings, optional
        What counts as a gap in which the person stood still.

    Raises
    ------
    InputError
        If a value is not a positive number.
    """

    slow_sigma_m: float = 2.9
    slow_time_s: float = 100.0
    fast_sigma_m: float = 1.4
    acceleration_m2ps3: float = 0.03
    start_speed_mps: float = 2.0
    still_sigma_m: float = 1.0
    degrees_of_freedom: float = 4.0
    rounds: int = 4
    usual_residual_m: float = 0.45
    most_scale: float = 3.0
    usual_hdop: float = 1.0
    gaps: GapSettings = field(default_factory=GapSettings)

    def __post_init__(self) -> None:
        for name in self.__slots__:
            value = getattr(self, name)
            least = 0.0 if name == "slow_sigma_m" else np.finfo(float).tiny
            if name != "gaps" and not (np.isfinite(value) and value >= least):
                raise InputError(f"{name} is {value!r}", "smoothing settings", "Give a positive number")


@dataclass(frozen=True, slots=True)
class SmoothedTrack:
    """
    A smoothed track, one row a position that went in.

    Parameters
    ----------
    east_m, north_m : numpy.ndarray, shape (n,)
        Positions [m].
    east_mps, north_mps : numpy.ndarray, shape (n,)
        Velocity [m/s].
    speed_mps : numpy.ndarray, shape (n,)
        Its length [m/s].
    sigma_m : numpy.ndarray, shape (n,)
        One standard deviation of the position per axis, slow error included
        [m].
    smooth_sigma_m : numpy.ndarray, shape (n,)
        The part of it that is independent from one place to the next; what
        is left of the fast error [m].
    weight : numpy.ndarray, shape (n,)
        How far the position that went in was believed, from 0 (not at all,
        or unknown) to 1.
    error_scale : float
        How many times larger than usual the errors of this recording were
        found to be.
    """

    east_m: FloatArray
    north_m: FloatArray
    east_mps: FloatArray
    north_mps: FloatArray
    speed_mps: FloatArray
    sigma_m: FloatArray
    smooth_sigma_m: FloatArray
    weight: FloatArray
    error_scale: float


_DEFAULT = SmoothSettings()


def smooth_positions(
    time_s: npt.ArrayLike,
    east_m: npt.ArrayLike,
    north_m: npt.ArrayLike,
    *,
    hdop: npt.ArrayLike | None = None,
    settings: SmoothSettings = _DEFAULT,
) -> SmoothedTrack:
    """
    Smooth a recorded track with a model of constant velocity.

    Each axis is a position and a velocity with white acceleration between
    recorded times however far apart, observed with Student t error; solved as
    one weighted least-squares problem over the whole track, which gives what
    a Kalman filter and a smoother running back over it would [1]_, with
    weights found anew in a few rounds.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times, strictly increasing [s].
    east_m, north_m : array_like, shape (n,)
        Recorded positions [m]. A row with NaN is estimated from its
        neighbours, with an error that grows with the distance to them.
    hdop : array_like, shape (n,), optional
        Horizontal dilution of precision; NaN where unknown.
    settings : SmoothSettings, optional
        How people move and positions err.

    Returns
    -------
    SmoothedTrack
        Positions, velocities and their errors. All NaN where no position is
        known.

    Raises
    ------
    InputError
        If the times do not increase, the arrays differ in length or a
        position is infinite.

    Notes
    -----
    In a gap with little movement (`geo.gaps.find_gaps`) the person stood:
    the position stays put and the velocity begins anew. Across a gap with
    movement nothing is assumed but the model, and the error grows with the
    gap; such a step is no walked path (`geo.gaps.split_parts`).

    The error of satellite positions wanders over minutes. To tell the wander
    from a walk is impossible, so the smoothed track follows it, and
    `sigma_m` contains it in full.

    References
    ----------
    .. [1] H. E. Rauch, F. Tung and C. T. Striebel, "Maximum likelihood
       estimates of linear dynamic systems," AIAA Journal, vol. 3, no. 8,
       pp. 1445-1450, 1965.

    Examples
    --------
    >>> track = smooth_positions([0.0, 5.0, 10.0, 15.0], [0.0, 6.5, 13.0, 19.5], [0.0, 0.0, 0.0, 0.0])
    >>> print(f"{track.speed_mps[2]:.1f} m/s")
    1.3 m/s
    """
    time, east, north = (np.asarray(values, dtype=np.float64) for values in (time_s, east_m, north_m))
    still, _ = find_gaps(time, east, north, settings=settings.gaps)
    if np.isinf(east).any() or np.isinf(north).any():
        raise InputError("a position is infinite", do="Leave unknown positions as NaN")
    known = ~(np.isnan(east) | np.isnan(north))
    if not known.any():
        nothing = np.full(time.size, np.nan)
        return SmoothedTrack(
            nothing, nothing, nothing, nothing, nothing, nothing, nothing, np.zeros(time.size), 1.0
        )
    # Near zero there are more digits left for the fractions of a metre.
    middle = np.array([np.median(east[known]), np.median(north[known])])
    seen = np.where(known[:, None], np.column_stack([east, north]) - middle, 0.0)
    dilution = _dilution(hdop, time.size, settings)
    fast_m = settings.fast_sigma_m * dilution * _crowding(time, known)
    precision = np.where(known, 1.0 / fast_m**2, 0.0)

    step, step_information = _steps(time, still, settings)
    start = np.zeros((time.size, 2, 2))
    start[0, 1, 1] = 1.0 / settings.start_speed_mps**2
    freedom = settings.degrees_of_freedom
    weight = np.ones(time.size)
    scale = 1.0
    rounds = max(int(settings.rounds), 1)
    for turn in range(rounds):
        last = turn == rounds - 1
        information = start.copy()
        information[:, 0, 0] += weight * precision
        right_side = np.zeros((time.size, 2, 2))
        right_side[:, 0, :] = seen * (weight * precision)[:, None]
        diagonal, beside = add_steps(information, step, step_information)
        mean, covariance = solve_chain(diagonal, beside, right_side, covariance=last)
        if not last:
            off_m = np.hypot(*(seen - mean[:, 0, :]).T)
            if turn == 0:
                # Once, from the first solution: a track smoothed more would leave more, and the scale run away.
                usual = float(np.median((off_m / dilution)[known])) / _RAYLEIGH_MEDIAN
                scale = float(np.clip(usual / settings.usual_residual_m, 1.0, settings.most_scale))
                precision /= scale**2
            off2 = off_m**2 * precision
            # The weight of a Student t error in two dimensions, held at 1 so that good positions stay as they are.
            weight = np.minimum(1.0, (freedom + 2.0) / (freedom + off2))

    smooth_m2 = np.maximum(covariance[:, 0, 0], 0.0)
    east_mps, north_mps = mean[:, 1, 0], mean[:, 1, 1]
    return SmoothedTrack(
        east_m=mean[:, 0, 0] + middle[0],
        north_m=mean[:, 0, 1] + middle[1],
        east_mps=east_mps,
        north_mps=north_mps,
        speed_mps=np.hypot(east_mps, north_mps),
        sigma_m=np.sqrt(smooth_m2 + (scale * settings.slow_sigma_m * dilution) ** 2),
        smooth_sigma_m=np.sqrt(smooth_m2),
        weight=np.where(known, weight, 0.0),
        error_scale=scale,
    )


def local_level_smooth(
    time_s: npt.ArrayLike,
    value: npt.ArrayLike,
    *,
    observation_variance: float,
    level_variance: float,
    start: float = 0.0,
    start_variance: float = np.inf,
) -> tuple[FloatArray, FloatArray]:
    """
    Smooth a series whose level walks at random.

    The local level model [1]_, by the same solver as `smooth_positions`.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times, strictly increasing [s, or any unit of time].
    value : array_like, shape (n,)
        Observations, NaN where missing.
    observation_variance : float
        Variance of each observation about the level.
    level_variance : float
        Variance by which the level changes in one unit of time.
    start : float, default 0
        Level expected at the first time, before any observation.
    start_variance : float, default inf
        Its variance; infinite when nothing is known.

    Returns
    -------
    level : numpy.ndarray, shape (n,)
        Expected level, given all observations.
    variance : numpy.ndarray, shape (n,)
        Its variance.

    Raises
    ------
    InputError
        If the times do not increase, the arrays differ in length, a variance
        is not positive or nothing at all is known.

    References
    ----------
    .. [1] J. Durbin and S. J. Koopman, "Time Series Analysis by State Space
       Methods," 2nd ed., Oxford University Press, 2012, chapter 2.

    Examples
    --------
    >>> level, variance = local_level_smooth([0, 1], [2.0, 4.0], observation_variance=1.0, level_variance=1.0)
    >>> [round(float(x), 3) for x in level], [round(float(x), 3) for x in variance]
    ([2.667, 3.333], [0.667, 0.667])
    """
    time, seen = np.asarray(time_s, dtype=np.float64), np.asarray(value, dtype=np.float64)
    if time.shape != seen.shape or time.ndim != 1:
        raise InputError(f"times and values differ in length: {time.shape}, {seen.shape}")
    if not np.all(np.diff(time) > 0.0):
        raise InputError("the times of a series do not increase")
    if not (observation_variance > 0.0 and level_variance > 0.0 and start_variance > 0.0):
        raise InputError("a variance is not positive", do="Give positive variances")
    if not time.size:
        return np.empty(0), np.empty(0)
    known = np.isfinite(seen)
    if not known.any() and np.isinf(start_variance):
        raise InputError("nothing is known of the series", do="Give a value or a start")
    information = np.where(known, 1.0 / observation_variance, 0.0)
    right_side = np.where(known, seen, 0.0) * information
    information[0] += 1.0 / start_variance
    right_side[0] += start / start_variance
    diagonal, beside = add_steps(
        information[:, None, None],
        np.ones((time.size - 1, 1, 1)),
        (1.0 / (level_variance * np.diff(time)))[:, None, None],
    )
    mean, covariance = solve_chain(diagonal, beside, right_side[:, None, None])
    return mean[:, 0, 0], covariance[:, 0, 0]


def _dilution(hdop: npt.ArrayLike | None, n: int, settings: SmoothSettings) -> FloatArray:
    """Give the factor on the error of each position; 1 where nothing usable is said."""
    if hdop is None:
        return np.ones(n)
    factor = np.asarray(hdop, dtype=np.float64) / settings.usual_hdop
    if factor.shape != (n,):
        raise InputError(f"{factor.size} values of hdop for {n} positions")
    # Beyond these the figure says more about the receiver's habits than about the position.
    return np.where(factor > 0.0, np.clip(factor, 0.5, 10.0), 1.0)


def _crowding(time_s: FloatArray, known: npt.NDArray[np.bool_]) -> FloatArray:
    """Give the factor on the fast error that makes ten positions in one second worth no more than one."""
    factor = np.ones(time_s.size)
    rows = np.flatnonzero(known)
    if rows.size > 1:
        step_s = np.diff(time_s[rows])
        own_s = (np.append(step_s, step_s[-1]) + np.insert(step_s, 0, step_s[0])) / 2.0
        factor[rows] = 1.0 / np.sqrt(np.clip(own_s, _SHORTEST_STEP_S, 1.0))
    return factor


def _steps(
    time_s: FloatArray, still: npt.NDArray[np.bool_], settings: SmoothSettings
) -> tuple[FloatArray, FloatArray]:
    """Give for each step the matrix that takes (position, velocity) onwards, and the information on what it adds."""
    step_s = np.maximum(np.diff(time_s), _SHORTEST_STEP_S)
    step = np.zeros((step_s.size, 2, 2))
    step[:, 0, 0] = step[:, 1, 1] = 1.0
    step[:, 0, 1] = step_s
    # Inverse of q * [[t^3 / 3, t^2 / 2], [t^2 / 2, t]], the covariance that white acceleration adds in the time t.
    information = np.empty_like(step)
    information[:, 0, 0] = 12.0 / step_s**3
    information[:, 0, 1] = information[:, 1, 0] = -6.0 / step_s**2
    information[:, 1, 1] = 4.0 / step_s
    information /= settings.acceleration_m2ps3

    rows = np.flatnonzero(still)
    if not rows.size:
        return step, information
    # Consecutive steps of one rest, which rows without a position cut up, share what the rest adds.
    first = np.concatenate([[True], np.diff(rows) > 1])
    rest = np.cumsum(first) - 1
    rest_s = np.bincount(rest, weights=step_s[rows])
    drift_m2 = 2.0 * settings.slow_sigma_m**2 * -np.expm1(-rest_s / settings.slow_time_s)
    moved_m2 = (settings.still_sigma_m**2 + drift_m2) / rest_s
    ends = np.concatenate([first[1:], [True]])
    step[rows, 0, 1] = step[rows, 1, 1] = 0.0
    information[rows, 0, 0] = 1.0 / (moved_m2[rest] * step_s[rows])
    information[rows, 0, 1] = information[rows, 1, 0] = 0.0
    # Standing has no velocity; where the rest ends any speed may begin.
    information[rows, 1, 1] = np.where(ends, 1.0 / settings.start_speed_mps**2, 1e4)
    return step, information
