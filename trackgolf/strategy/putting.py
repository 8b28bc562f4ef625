"""How many putts a green takes, by distance and by the level of the player."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["MOST_PUTTS", "putt_shares"]

Floats = npt.NDArray[np.float64]

MOST_PUTTS = 4
_FOOT_M = 0.3048
# One putt, tour: Source: Broadie, Every Shot Counts (2014), one-putt % by feet.
_TOUR_FT = (1, 2, 3, 4, 5, 10, 15, 20, 30, 40, 50, 60, 100)
_TOUR_ONE = (0.999, 0.99, 0.96, 0.88, 0.77, 0.40, 0.23, 0.15, 0.07, 0.04, 0.03, 0.02, 0.01)
# Three putts, tour: Derived: 2.0 putts expected at 33 ft, so as many threes as ones there; the rest from memory.
_TOUR_THREE = (0.0003, 0.0005, 0.001, 0.002, 0.004, 0.007, 0.013, 0.022, 0.05, 0.10, 0.16, 0.23, 0.42)
# A golfer who shoots 90: Source for 3 and 5 ft: the same book; the rest from memory.
_NINETY_FT = (1, 2, 3, 4, 5, 10, 20, 30, 40, 60, 100)
_NINETY_ONE = (0.995, 0.95, 0.84, 0.65, 0.50, 0.20, 0.06, 0.02, 0.012, 0.006, 0.003)
_NINETY_THREE = (0.001, 0.003, 0.007, 0.012, 0.02, 0.04, 0.09, 0.18, 0.30, 0.51, 0.72)
_NINETY_OVER = 18.0
# Beyond this the player of 90 says nothing more; common practice, no source.
_MOST_OVER = 36.0
# Of greens with three putts or more, those with four; common practice, no source.
_FOUR_OF_THREE = 0.06


def putt_shares(distance_m: npt.ArrayLike, over_par: float) -> Floats:
    """
    Say how often a green takes one, two, three and four putts.

    Parameters
    ----------
    distance_m : array_like, shape (...)
        From the ball to the hole, not below 0 [m].
    over_par : float
        What the player scores over par in 18 holes; 0 putts like a tour
        player, 18 like one who shoots 90, between and beyond in log odds.

    Returns
    -------
    numpy.ndarray, shape (..., 4)
        Probabilities of 1 to 4 putts; they add up to 1.

    References
    ----------
    M. Broadie, Every Shot Counts, 2014.

    Examples
    --------
    >>> putt_shares(8 * 0.3048, 0.0).dot([1, 2, 3, 4]).round(1)
    np.float64(1.5)
    """
    feet = np.log(np.maximum(np.asarray(distance_m, dtype=np.float64) / _FOOT_M, 0.5))
    weight = np.clip(over_par, 0.0, _MOST_OVER) / _NINETY_OVER

    def blend(tour: tuple[float, ...], ninety: tuple[float, ...]) -> Floats:
        low = np.interp(feet, np.log(_TOUR_FT), _log_odds(tour))
        high = np.interp(feet, np.log(_NINETY_FT), _log_odds(ninety))
        return np.asarray(1.0 / (1.0 + np.exp(-(low + weight * (high - low)))))

    one = blend(_TOUR_ONE, _NINETY_ONE)
    three = np.minimum(blend(_TOUR_THREE, _NINETY_THREE), 1.0 - one)
    shares = [one, 1.0 - one - three, three * (1 - _FOUR_OF_THREE), three * _FOUR_OF_THREE]
    return np.stack(shares, axis=-1)


def _log_odds(shares: tuple[float, ...]) -> Floats:
    values = np.asarray(shares, dtype=np.float64)
    return np.asarray(np.log(values / (1.0 - values)))
