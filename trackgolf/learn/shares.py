"""How often something happens: shares with intervals that hold what they say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from trackgolf.errors import InputError

__all__ = ["Share", "counted_share", "mean_interval", "pool_shares", "share_of", "wilson_interval"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Share:
    """
    A share and what it rests on.

    Attributes
    ----------
    mean, sd : float
        Likely share and standard deviation of that, in [0, 1].
    low, high : float
        Bounds of the interval.
    hits, tries : float
        How often it happened, of how many.
    """

    mean: float
    sd: float
    low: float
    high: float
    hits: float
    tries: float


def share_of(
    hits: float, tries: float, interval: float = 0.8, prior: tuple[float, float] = (1.0, 1.0)
) -> Share:
    """
    Say what share is likely after some tries (beta-binomial).

    Parameters
    ----------
    hits, tries : float
        How often it happened, of how many; parts count where a thing is unsure.
    interval : float, optional
        Probability that the interval holds the share.
    prior : tuple of float, optional
        Hits and misses believed beforehand.

    Returns
    -------
    Share
        Mean, deviation and interval of the beta distribution.

    Raises
    ------
    InputError
        If there are more hits than tries, or negative ones.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis," 3rd ed., CRC Press, 2013, section 2.4.
    """
    if not 0 <= hits <= tries:
        raise InputError(f"{hits:g} hits of {tries:g} tries is no share")
    a, b = prior[0] + hits, prior[1] + tries - hits
    low, high = (stats.beta.ppf(at, a, b) for at in (0.5 - interval / 2, 0.5 + interval / 2))
    sd = float(np.sqrt(a * b / ((a + b) ** 2 * (a + b + 1))))
    return Share(a / (a + b), sd, float(low), float(high), float(hits), float(tries))


def wilson_interval(hits: int, tries: int, interval: float = 0.8) -> tuple[float, float]:
    """
    Give the interval of a share without any prior belief (Wilson's score interval).

    Parameters
    ----------
    hits, tries : int
        How often it happened, of how many.
    interval : float, optional
        Share of such intervals that hold the truth.

    Returns
    -------
    low, high : float
        The bounds; 0 and 1 without a try.

    References
    ----------
    .. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference," J. Am. Stat.
       Assoc., vol. 22, pp. 209-212, 1927.
    """
    if tries == 0:
        return 0.0, 1.0
    z = float(stats.norm.ppf(0.5 + interval / 2))
    p = hits / tries
    middle = (p + z**2 / (2 * tries)) / (1 + z**2 / tries)
    half = z / (1 + z**2 / tries) * np.sqrt(p * (1 - p) / tries + z**2 / (4 * tries**2))
    return float(max(0.0, middle - half)), float(min(1.0, middle + half))


def counted_share(hits: int, tries: int, interval: float = 0.8) -> Share:
    """
    Say a share as it was counted, without any prior belief.

    Parameters
    ----------
    hits, tries : int
        How often it happened, of how many.
    interval : float, optional
        Share of such intervals that hold the truth.

    Returns
    -------
    Share
        The share itself (a half without a try) with Wilson's interval.
    """
    low, high = wilson_interval(hits, tries, interval)
    share = hits / tries if tries else 0.5
    sd = float(np.sqrt(share * (1 - share) / tries)) if tries else 0.5
    return Share(share, sd, low, high, float(hits), float(tries))


def mean_interval(
    values: ArrayLike, interval: float = 0.8, least_sd: float = 0.0
) -> tuple[float, float, float]:
    """
    Give the mean of values with its interval (Student's t).

    Parameters
    ----------
    values : array_like, shape (n,)
        The values.
    interval : float, optional
        Share of such intervals that hold the true mean.
    least_sd : float, optional
        The values are taken to spread by no less than this.

    Returns
    -------
    mean, low, high : float
        NaN bounds with fewer than two values, NaN altogether with none.

    References
    ----------
    .. [1] Student, "The probable error of a mean," Biometrika, vol. 6, pp. 1-25, 1908.
    """
    x = np.asarray(values, dtype=float)
    if x.size < 2:
        return (float(x[0]) if x.size else np.nan), np.nan, np.nan
    half = float(
        stats.t.ppf(0.5 + interval / 2, x.size - 1) * max(float(x.std(ddof=1)), least_sd) / np.sqrt(x.size)
    )
    return float(x.mean()), float(x.mean() - half), float(x.mean() + half)


def pool_shares(
    hits: ArrayLike,
    tries: ArrayLike,
    interval: float = 0.8,
    strength: ArrayLike = (2.0, 5.0, 10.0, 20.0, 50.0),
) -> list[Share]:
    """
    Pull the shares of several groups towards their common share, by as much as they are alike.

    Parameters
    ----------
    hits, tries : array_like, shape (g,)
        How often it happened, of how many, a group.
    interval : float, optional
        Probability that an interval holds its share.
    strength : array_like, optional
        How many tries the common share may count for; weighed by the data.

    Returns
    -------
    list of Share
        One a group.
    """
    y, n = np.asarray(hits, dtype=float), np.asarray(tries, dtype=float)
    centres = np.linspace(0.01, 0.99, 99)
    worth = np.asarray(strength, dtype=float)
    a = (centres[:, None] * worth)[..., None]
    b = ((1 - centres)[:, None] * worth)[..., None]
    log_weight = (special.betaln(a + y, b + n - y) - special.betaln(a, b)).sum(axis=-1)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    grid = np.linspace(0, 1, 1001)[1:-1]
    keep = weight > 1e-4 * weight.max()
    log_grid, log_rest = np.log(grid), np.log1p(-grid)
    kept_weight, kept_a, kept_b = weight[keep], a[..., 0][keep][:, None], b[..., 0][keep][:, None]
    found = []
    for hit, tried in zip(y, n, strict=True):
        alpha, beta = kept_a + hit, kept_b + tried - hit
        log_density = (alpha - 1) * log_grid + (beta - 1) * log_rest - special.betaln(alpha, beta)
        density = kept_weight @ np.exp(log_density)
        total = np.cumsum(density)
        total /= total[-1]
        mean = float((grid * density).sum() / density.sum())
        sd = float(np.sqrt(((grid - mean) ** 2 * density).sum() / density.sum()))
        low, high = np.interp([0.5 - interval / 2, 0.5 + interval / 2], total, grid)
        found.append(Share(mean, sd, float(low), float(high), float(hit), float(tried)))
    return found
