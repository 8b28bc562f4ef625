"""Smooth curves through scattered outcomes, with intervals: shares and means that change slowly along a length."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from trackgolf.errors import InputError

__all__ = ["Curve", "smooth_mean", "smooth_share"]

Floats = NDArray[np.float64]

_STEPS, _CLOSE = 60, 1e-8
# Stiffness of the curve, tried from free to nearly straight, and weighed by the data.
_STIFFNESS = np.exp(np.linspace(np.log(0.3), np.log(300.0), 8))
# Standard deviations believed of level and slope over the whole length, and of an effect; wide on these scales.
_LEVEL_SD, _EFFECT_SD = 3.0, 1.0


@dataclass(frozen=True)
class Curve:
    """
    A curve at some places.

    Attributes
    ----------
    place : numpy.ndarray, shape (k,)
        The places.
    mean, low, high : numpy.ndarray, shape (k,)
        What is likely there, and the bounds of the interval.
    effects : numpy.ndarray, shape (p, 3)
        What each further column adds (on the scale of the curve's link): likely, low, high.
    """

    place: Floats
    mean: Floats
    low: Floats
    high: Floats
    effects: Floats


def smooth_share(
    x: ArrayLike,
    hits: ArrayLike,
    at: ArrayLike,
    *,
    columns: ArrayLike | None = None,
    at_columns: ArrayLike | None = None,
    knots: int = 12,
    interval: float = 0.8,
) -> Curve:
    """
    Follow a share along a length.

    A logistic curve whose bends are held small by as much as the data allow (a second-order random walk on hats at
    even knots), by Laplace's method; stiffnesses are weighed by their marginal likelihood.

    Parameters
    ----------
    x : array_like, shape (n,)
        Where each try was.
    hits : array_like, shape (n,)
        1 where it came off, 0 where not.
    at : array_like, shape (k,)
        Where the curve is wanted.
    columns : array_like, shape (n, p), optional
        What else explains the outcome.
    at_columns : array_like, shape (p,), optional
        Their values that the curve is for; zeros without.
    knots : int, optional
        How many knots.
    interval : float, optional
        Probability that an interval holds the share.

    Returns
    -------
    Curve
        Shares in [0, 1]; effects are differences of log odds.

    Raises
    ------
    InputError
        If there is no try.
    """
    y = np.asarray(hits, dtype=float)
    if y.size == 0:
        raise InputError("there is nothing to draw a curve through")
    start = float(special.logit((y.sum() + 0.5) / (len(y) + 1)))
    mean, sd, effects = _fit(x, y, at, columns, at_columns, knots, start, scale=None)
    z = float(special.ndtri(0.5 + interval / 2))
    # The mean of a logistic normal, by the usual probit approximation.
    middle = special.expit(mean / np.sqrt(1 + np.pi * sd**2 / 8))
    return Curve(
        np.asarray(at, dtype=float),
        middle,
        special.expit(mean - z * sd),
        special.expit(mean + z * sd),
        _bounds(effects, z),
    )


def smooth_mean(
    x: ArrayLike,
    values: ArrayLike,
    at: ArrayLike,
    *,
    columns: ArrayLike | None = None,
    at_columns: ArrayLike | None = None,
    knots: int = 12,
    interval: float = 0.8,
) -> Curve:
    """
    Follow a mean along a length.

    Parameters
    ----------
    x, values : array_like, shape (n,)
        Where each value was, and what it was.
    at : array_like, shape (k,)
        Where the curve is wanted.
    columns : array_like, shape (n, p), optional
        What else explains the values.
    at_columns : array_like, shape (p,), optional
        Their values that the curve is for; zeros without.
    knots : int, optional
        How many knots.
    interval : float, optional
        Probability that an interval holds the mean.

    Returns
    -------
    Curve
        In the unit of the values.

    Raises
    ------
    InputError
        If there is no value.
    """
    y = np.asarray(values, dtype=float)
    if y.size == 0:
        raise InputError("there is nothing to draw a curve through")
    scale = 1.0
    if len(y) > 3:
        line = (
            np.polyfit(np.asarray(x, dtype=float), y, 1)
            if np.ptp(np.asarray(x, dtype=float)) > 0
            else [0.0, y.mean()]
        )
        scale = max(0.1, float(np.std(y - np.polyval(line, np.asarray(x, dtype=float)), ddof=2)))
    mean, sd, effects = _fit(x, y, at, columns, at_columns, knots, float(y.mean()), scale=scale)
    z = float(special.ndtri(0.5 + interval / 2))
    return Curve(np.asarray(at, dtype=float), mean, mean - z * sd, mean + z * sd, _bounds(effects, z))


def _fit(
    x: ArrayLike,
    y: Floats,
    at: ArrayLike,
    columns: ArrayLike | None,
    at_columns: ArrayLike | None,
    knots: int,
    start: float,
    scale: float | None,
) -> tuple[Floats, Floats, Floats]:
    """Mean and standard deviation of the curve at places, and of effects; `scale` None is logistic."""
    place, wanted = np.asarray(x, dtype=float), np.asarray(at, dtype=float)
    low, high = min(place.min(), wanted.min()), max(place.max(), wanted.max())
    grid = np.linspace(low, high if high > low else low + 1, knots)
    more = np.zeros((len(place), 0)) if columns is None else np.asarray(columns, dtype=float)
    p = more.shape[1]
    design = np.hstack([_hats(place, grid), more])
    there = np.zeros(p) if at_columns is None else np.asarray(at_columns, dtype=float)
    target = np.hstack([_hats(wanted, grid), np.tile(there, (len(wanted), 1))])
    bend = np.diff(np.eye(knots), n=2, axis=0)
    ramp = np.linspace(-0.5, 0.5, knots)
    basis = np.stack([np.ones(knots) / knots, ramp / (ramp @ ramp)])
    fits = []
    for stiffness in _STIFFNESS:
        prior = np.zeros((knots + p, knots + p))
        # A second difference between knots is believed to be some 1 / sqrt(stiffness) of the link's unit.
        prior[:knots, :knots] = stiffness * bend.T @ bend + (basis.T @ basis) / _LEVEL_SD**2
        prior[knots:, knots:] = np.eye(p) / _EFFECT_SD**2
        fits.append(_newton(design, y, prior, start, scale))
    weights = np.array([fit[2] for fit in fits])
    weights = np.exp(weights - weights.max())
    weights /= weights.sum()
    curves = np.array([target @ fit[0] + start for fit in fits])
    variances = np.array([np.einsum("ij,jk,ik->i", target, fit[1], target) for fit in fits])
    mean = weights @ curves
    sd = np.sqrt(weights @ (variances + (curves - mean) ** 2))
    found = np.array([fit[0][knots:] for fit in fits])
    spread = np.array([np.diag(fit[1])[knots:] for fit in fits])
    effect = weights @ found
    effect_sd = np.sqrt(weights @ (spread + (found - effect) ** 2))
    return mean, sd, np.stack([effect, effect_sd], axis=1)


def _newton(
    design: Floats, y: Floats, prior: Floats, start: float, scale: float | None
) -> tuple[Floats, Floats, float]:
    """Mode, covariance and log marginal likelihood by Laplace's method."""
    found = np.zeros(design.shape[1])
    hessian = prior
    for _ in range(_STEPS):
        eta = design @ found + start
        if scale is None:
            fitted = special.expit(eta)
            weight, gradient = fitted * (1 - fitted), y - fitted
        else:
            weight, gradient = np.full(len(y), scale**-2), (y - eta) / scale**2
        hessian = design.T @ (design * weight[:, None]) + prior
        step = np.linalg.solve(hessian, design.T @ gradient - prior @ found)
        found = found + step
        if np.max(np.abs(step)) < _CLOSE:
            break
    eta = design @ found + start
    if scale is None:
        likelihood = float((y * eta - np.logaddexp(0, eta)).sum())
    else:
        likelihood = float(-0.5 * (((y - eta) / scale) ** 2).sum())
    log_marginal = likelihood - 0.5 * float(found @ prior @ found)
    log_marginal += 0.5 * (np.linalg.slogdet(prior)[1] - np.linalg.slogdet(hessian)[1])
    covariance: Floats = np.asarray(np.linalg.inv(hessian), dtype=float)
    return found, covariance, float(log_marginal)


def _hats(x: Floats, grid: Floats) -> Floats:
    """Weights of the two knots around each place, falling linearly from each."""
    step = grid[1] - grid[0]
    weights: Floats = np.maximum(0.0, 1.0 - np.abs(np.clip(x, grid[0], grid[-1])[:, None] - grid) / step)
    return weights


def _bounds(effects: Floats, z: float) -> Floats:
    found: Floats = np.stack(
        [effects[:, 0], effects[:, 0] - z * effects[:, 1], effects[:, 0] + z * effects[:, 1]], axis=1
    )
    return found
