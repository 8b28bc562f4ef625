"""Location and regression that a few wild values do not move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from trackgolf.errors import InputError

__all__ = ["Line", "huber_location", "huber_regression", "huber_scale_and_location", "spread_of_middle"]

Floats = NDArray[np.float64]

# Source: Huber, Robust Statistics (1981), 6.5 and 7.8; the usual bounds, 95 % as good as least squares on normal data.
_REGRESSION_BOUND, _LOCATION_BOUND = 1.345, 1.5
_STEPS, _CLOSE = 200, 1e-10
_QUARTILE = float(special.ndtri(0.75))


def spread_of_middle(values: ArrayLike) -> float:
    """
    Measure spread by the median of the distances from the median.

    Parameters
    ----------
    values : array_like, shape (n,)
        The values.

    Returns
    -------
    float
        Scaled to the standard deviation of a normal distribution.
    """
    x = np.asarray(values, dtype=float)
    return float(np.median(np.abs(x - np.median(x))) / _QUARTILE)


def huber_location(values: ArrayLike, bound: float = _LOCATION_BOUND) -> float:
    """
    Find the middle of values by Huber's estimate, with their spread taken from the middle half.

    Parameters
    ----------
    values : array_like, shape (n,)
        The values, at least one.
    bound : float, optional
        Deviations count no more than this many spreads.

    Returns
    -------
    float
        The location.

    References
    ----------
    .. [1] P. J. Huber, "Robust Statistics," Wiley, 1981, section 6.4.
    """
    x = _values(values)
    scale = spread_of_middle(x)
    return float(np.median(x)) if scale == 0 else _locate(x, float(np.median(x)), scale, bound)


def huber_scale_and_location(values: ArrayLike, bound: float = _LOCATION_BOUND) -> tuple[float, float]:
    """
    Find the middle and the spread of values together (Huber's proposal 2).

    Parameters
    ----------
    values : array_like, shape (n,)
        The values, at least one.
    bound : float, optional
        Deviations count no more than this many spreads.

    Returns
    -------
    location, scale : float
        The middle; the spread, consistent for normal data.

    References
    ----------
    .. [1] P. J. Huber, "Robust Statistics," Wiley, 1981, section 6.4.
    """
    x = _values(values)
    location, scale = float(np.median(x)), spread_of_middle(x)
    if scale == 0 or len(x) < 2:
        return location, scale
    # What the clipped square is worth on average for normal data.
    within = 2 * stats.norm.cdf(bound) - 1
    expected = within + bound**2 * (1 - within) - 2 * bound * stats.norm.pdf(bound)
    for _ in range(_STEPS):
        clipped = np.clip(x, location - bound * scale, location + bound * scale)
        moved = float(clipped.mean())
        widened = float(np.sqrt(((clipped - moved) ** 2).sum() / (len(x) - 1) / expected))
        near = abs(moved - location) < _CLOSE * scale and abs(widened - scale) < _CLOSE * scale
        location, scale = moved, widened
        if near:
            break
    return location, scale


@dataclass(frozen=True, slots=True)
class Line:
    """
    A linear relation fitted to data.

    Attributes
    ----------
    coefficients, errors : numpy.ndarray, shape (p,)
        Of each column, and their standard errors.
    scale : float
        Spread of the residuals.
    """

    coefficients: Floats
    errors: Floats
    scale: float


def huber_regression(columns: ArrayLike, values: ArrayLike, bound: float = _REGRESSION_BOUND) -> Line:
    """
    Fit a linear relation by Huber's method, by least squares weighted anew in each step.

    Parameters
    ----------
    columns : array_like, shape (n, p)
        What explains; a constant is a column of ones.
    values : array_like, shape (n,)
        What is explained; more values than columns.
    bound : float, optional
        Residuals count no more than this many spreads.

    Returns
    -------
    Line
        Coefficients with their errors.

    References
    ----------
    .. [1] P. J. Huber, "Robust Statistics," Wiley, 1981, section 7.8 and eq. 7.6.

    Raises
    ------
    InputError
        If there are not more values than columns.
    """
    a, y = np.asarray(columns, dtype=float), np.asarray(values, dtype=float)
    if len(y) <= a.shape[1]:
        raise InputError(f"{len(y)} values cannot fix {a.shape[1]} coefficients")
    found = np.linalg.lstsq(a, y, rcond=None)[0]
    scale = 0.0
    for _ in range(_STEPS):
        rest = y - a @ found
        # Residuals have no free middle: their spread is about nothing.
        scale = float(np.median(np.abs(rest)) / _QUARTILE)
        if scale == 0:
            return Line(found, np.zeros_like(found), 0.0)
        weight = np.minimum(1.0, bound * scale / np.maximum(np.abs(rest), 1e-300))
        moved = np.linalg.lstsq(a * np.sqrt(weight)[:, None], y * np.sqrt(weight), rcond=None)[0]
        near = np.max(np.abs(moved - found)) <= _CLOSE * (1 + np.max(np.abs(moved)))
        found = moved
        if near:
            break
    rest = (y - a @ found) / scale
    n, p = a.shape
    inside = (np.abs(rest) <= bound).astype(float)
    share = inside.mean()
    correction = 1 + p / n * (inside.var() / share**2)
    clipped = np.clip(rest, -bound, bound)
    variance = correction**2 * (clipped**2).sum() * scale**2 / (n - p) / share**2
    errors = np.sqrt(np.diag(np.linalg.inv(a.T @ a)) * variance)
    return Line(found, errors, scale)


def _values(values: ArrayLike) -> Floats:
    x = np.asarray(values, dtype=float)
    if x.size == 0:
        raise InputError("there are no values to find the middle of")
    return x


def _locate(x: Floats, start: float, scale: float, bound: float) -> float:
    at = start
    for _ in range(_STEPS):
        moved = float(np.clip(x, at - bound * scale, at + bound * scale).mean())
        if abs(moved - at) < _CLOSE * scale:
            return moved
        at = moved
    return at
