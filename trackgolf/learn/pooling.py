"""Partial pooling of normal estimates: each alone is unsure, together they tell where each is likely to lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from trackgolf.errors import InputError

__all__ = ["NormalBelief", "Pooled", "log_marginal", "pool_given_spread", "pool_over_spread", "update_normal"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pooled:
    """
    Estimates pulled towards their common mean.

    Attributes
    ----------
    mean : numpy.ndarray, shape (n,)
        What each is likely to be.
    sd : numpy.ndarray, shape (n,)
        Standard deviation of that.
    centre, centre_sd : float
        The common mean, and how well it is known.
    """

    mean: Floats
    sd: Floats
    centre: float
    centre_sd: float


def pool_given_spread(
    estimate: ArrayLike, sigma: ArrayLike, spread: float, centre: tuple[float, float] | None = None
) -> Pooled:
    """
    Pool normal estimates whose truths scatter with a known spread about an unknown mean.

    Parameters
    ----------
    estimate, sigma : array_like, shape (n,)
        Estimates and their standard errors. An infinite error says nothing.
    spread : float
        Standard deviation of the truths about their mean; 0 pools them wholly.
    centre : tuple of float, optional
        Mean and standard deviation of what is believed about the common mean beforehand; without it, nothing.

    Returns
    -------
    Pooled
        Means and deviations.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis," 3rd ed., CRC Press, 2013, eq. 5.17 and 5.20.

    Examples
    --------
    >>> pooled = pool_given_spread([28.0, 8.0], [15.0, 10.0], 0.0)
    >>> print(f"{pooled.centre:.2f}")
    14.15
    """
    y, s = np.asarray(estimate, dtype=float), np.asarray(sigma, dtype=float)
    middle, certainty = _centre(y, s**2, spread**2, centre)
    # Written with ratios so that an infinite error and a spread of nothing both have their limits.
    if spread == 0:
        return Pooled(
            np.full(y.shape, middle),
            np.full(y.shape, certainty**-0.5),
            float(middle),
            float(certainty**-0.5),
        )
    pull = _share(s**2, spread**2)
    mean = pull * middle + (1 - pull) * np.where(np.isfinite(s), y, 0.0)
    variance = spread**2 * pull + pull**2 / certainty
    return Pooled(mean, np.sqrt(variance), float(middle), float(certainty**-0.5))


def log_marginal(
    estimate: ArrayLike, sigma: ArrayLike, spread: ArrayLike, centre: tuple[float, float] | None = None
) -> Floats:
    """
    Weigh spreads by how well they explain the estimates, the common mean summed out.

    Parameters
    ----------
    estimate, sigma : array_like, shape (n,)
        Estimates and their standard errors.
    spread : array_like, shape (k,)
        Standard deviations to weigh.
    centre : tuple of float, optional
        As for `pool_given_spread`.

    Returns
    -------
    numpy.ndarray, shape (k,)
        Logarithms of marginal likelihoods, up to a constant.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis," 3rd ed., CRC Press, 2013, eq. 5.21.
    """
    y, s2 = np.asarray(estimate, dtype=float), np.asarray(sigma, dtype=float) ** 2
    known = np.isfinite(s2)
    y, s2 = y[known], s2[known]
    tau2 = np.asarray(spread, dtype=float)[:, None] ** 2
    weight = 1.0 / (s2 + tau2)
    at, prior = (0.0, 0.0) if centre is None else (centre[0], centre[1] ** -2)
    certainty = weight.sum(axis=1) + prior
    middle = ((weight * y).sum(axis=1) + prior * at) / np.maximum(certainty, 1e-300)
    misfit = (weight * (y - middle[:, None]) ** 2).sum(axis=1) + prior * (at - middle) ** 2
    found: Floats = 0.5 * (np.log(weight).sum(axis=1) - np.log(np.maximum(certainty, 1e-300)) - misfit)
    return found


def pool_over_spread(
    estimate: ArrayLike,
    sigma: ArrayLike,
    spreads: ArrayLike,
    log_prior: ArrayLike | None = None,
    centre: tuple[float, float] | None = None,
) -> tuple[Pooled, Floats]:
    """
    Pool normal estimates over all spreads their truths may have.

    Parameters
    ----------
    estimate, sigma : array_like, shape (n,)
        Estimates and their standard errors.
    spreads : array_like, shape (k,)
        An even grid of spreads.
    log_prior : array_like, shape (k,), optional
        Logarithm of what is believed about each beforehand; all alike without.
    centre : tuple of float, optional
        As for `pool_given_spread`.

    Returns
    -------
    pooled : Pooled
        Means and deviations over all spreads.
    weight : numpy.ndarray, shape (k,)
        Probability of each spread.
    """
    grid = np.asarray(spreads, dtype=float)
    log_weight = log_marginal(estimate, sigma, grid, centre)
    if log_prior is not None:
        log_weight = log_weight + np.asarray(log_prior, dtype=float)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    each = [pool_given_spread(estimate, sigma, float(value), centre) for value in grid]
    means = np.array([one.mean for one in each])
    variances = np.array([one.sd**2 for one in each])
    mean = weight @ means
    sd = np.sqrt(weight @ (variances + (means - mean) ** 2))
    middles = np.array([one.centre for one in each])
    middle = float(weight @ middles)
    middle_sd = float(
        np.sqrt(weight @ (np.array([one.centre_sd**2 for one in each]) + (middles - middle) ** 2))
    )
    return Pooled(mean, sd, middle, middle_sd), weight


@dataclass(frozen=True, slots=True)
class NormalBelief:
    """
    What is believed about a normal quantity with unknown mean and variance (normal-inverse-gamma).

    Attributes
    ----------
    mean : float
        The likeliest mean.
    weight : float
        How many observations that mean is worth.
    shape, scale : float
        Of the inverse gamma distribution of the variance.
    """

    mean: float
    weight: float
    shape: float
    scale: float

    def __post_init__(self) -> None:
        if not (self.weight > 0 and self.shape > 0 and self.scale > 0):
            raise InputError(f"a belief needs a positive weight, shape and scale, not {self!r}")

    @property
    def variance(self) -> float:
        """Expected variance; infinite where the shape is at most 1."""
        return self.scale / (self.shape - 1) if self.shape > 1 else np.inf

    def mean_interval(self, share: float) -> tuple[float, float]:
        """Interval that holds the mean with a probability."""
        return self._interval(share, 1.0 / self.weight)

    def next_interval(self, share: float) -> tuple[float, float]:
        """Interval that holds the next observation with a probability."""
        return self._interval(share, 1.0 + 1.0 / self.weight)

    def _interval(self, share: float, factor: float) -> tuple[float, float]:
        half = float(special.stdtrit(2 * self.shape, 0.5 + share / 2)) * np.sqrt(
            self.scale / self.shape * factor
        )
        return float(self.mean - half), float(self.mean + half)


def update_normal(before: NormalBelief, data: ArrayLike, weights: ArrayLike | None = None) -> NormalBelief:
    """
    Learn from observations about a normal quantity with unknown mean and variance.

    Parameters
    ----------
    before : NormalBelief
        What was believed.
    data : array_like, shape (n,)
        What was observed.
    weights : array_like, shape (n,), optional
        How much each counts, 1 without.

    Returns
    -------
    NormalBelief
        What is believed now.

    References
    ----------
    .. [1] A. Gelman et al., "Bayesian Data Analysis," 3rd ed., CRC Press, 2013, section 3.3.
    """
    x = np.asarray(data, dtype=float)
    w = np.ones_like(x) if weights is None else np.asarray(weights, dtype=float)
    count = float(w.sum())
    if count == 0:
        return before
    average = float(w @ x) / count
    weight = before.weight + count
    mean = (before.weight * before.mean + count * average) / weight
    within = float(w @ (x - average) ** 2)
    between = before.weight * count * (average - before.mean) ** 2 / weight
    return NormalBelief(mean, weight, before.shape + count / 2, before.scale + 0.5 * (within + between))


def _centre(y: Floats, s2: Floats, tau2: float, prior: tuple[float, float] | None) -> tuple[float, float]:
    """The common mean and its precision."""
    weight = np.where(np.isfinite(s2), 1.0 / (s2 + tau2), 0.0)
    at, certainty = (0.0, 0.0) if prior is None else (prior[0], prior[1] ** -2)
    total = float(weight.sum()) + certainty
    if total <= 0:
        raise InputError("there is nothing to pool: no estimate has a finite error")
    return float((weight * np.where(weight > 0, y, 0.0)).sum() + certainty * at) / total, total


def _share(s2: Floats, tau2: float) -> Floats:
    """How far each estimate is pulled to the common mean, 1 wholly."""
    return 1.0 - tau2 / (s2 + tau2)
