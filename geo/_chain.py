"""Least squares on a chain of states that each know only their neighbours, in time linear in its length."""

from __future__ import annotations

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from geo._positions import FloatArray

__all__ = ["add_steps", "solve_chain"]


def add_steps(
    information: FloatArray, step: FloatArray, step_information: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """
    Tie each state of a chain to the next one.

    Parameters
    ----------
    information : numpy.ndarray, shape (n, d, d)
        What is known of each state alone: the inverse of its covariance.
    step : numpy.ndarray, shape (n - 1, d, d)
        Matrix that takes a state to its expected successor.
    step_information : numpy.ndarray, shape (n - 1, d, d)
        Inverse of the covariance of what the step adds.

    Returns
    -------
    diagonal : numpy.ndarray, shape (n, d, d)
        Blocks on the diagonal of the joint information matrix.
    beside : numpy.ndarray, shape (n - 1, d, d)
        Blocks right of the diagonal.
    """
    back = step.transpose(0, 2, 1) @ step_information
    diagonal = information.copy()
    diagonal[:-1] += back @ step
    diagonal[1:] += step_information
    return diagonal, -back


def solve_chain(
    diagonal: FloatArray, beside: FloatArray, right_side: FloatArray, *, covariance: bool = True
) -> tuple[FloatArray, FloatArray]:
    """
    Solve a block tridiagonal system and give the covariance of each state.

    Parameters
    ----------
    diagonal : numpy.ndarray, shape (n, d, d)
        Blocks on the diagonal of the information matrix.
    beside : numpy.ndarray, shape (n - 1, d, d)
        Blocks right of the diagonal.
    right_side : numpy.ndarray, shape (n, d, m)
        Information times observation, m columns with the same matrix.
    covariance : bool, default True
        Whether the covariances are wanted; they cost a second factorisation.

    Returns
    -------
    mean : numpy.ndarray, shape (n, d, m)
        Expected states.
    covariance : numpy.ndarray, shape (n, d, d)
        Covariance of each state; empty where not wanted.

    Notes
    -----
    A Cholesky factor from the front holds, block by block, the information
    on a state from all before it and itself; one from the back that from all
    after it and itself. Their sum, less what was counted twice, is all that
    is known of the state, and its inverse the covariance: what a filter and
    a smoother running over the chain would give.
    """
    n, d, m = right_side.shape
    front = _factor(diagonal, beside)
    mean = cho_solve_banded((front, True), right_side.reshape(n * d, m), check_finite=False).reshape(n, d, m)
    if not covariance:
        return mean, np.empty((0, d, d))
    back = _factor(diagonal[::-1], beside[::-1].transpose(0, 2, 1))
    known = _from_one_side(front, n, d) + _from_one_side(back, n, d)[::-1] - diagonal
    return mean, np.asarray(np.linalg.inv(known), dtype=np.float64)


def _factor(diagonal: FloatArray, beside: FloatArray) -> FloatArray:
    """Factorise, in the lower banded storage of LAPACK: row i of the band is the i-th subdiagonal."""
    n, d, _ = diagonal.shape
    band = np.zeros((2 * d, n * d))
    for row in range(d):
        for column in range(d):
            if column <= row:
                band[row - column, column::d] = diagonal[:, row, column]
            band[d + row - column, column : (n - 1) * d : d] = beside[:, column, row]
    return np.asarray(cholesky_banded(band, lower=True, overwrite_ab=True, check_finite=False))


def _from_one_side(factor: FloatArray, n: int, d: int) -> FloatArray:
    """Multiply out the diagonal blocks of a banded Cholesky factor."""
    blocks = np.zeros((n, d, d))
    for row in range(d):
        for column in range(row + 1):
            blocks[:, row, column] = factor[row - column, column::d]
    return np.asarray(blocks @ blocks.transpose(0, 2, 1))
