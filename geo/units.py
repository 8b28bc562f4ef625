"""Exact conversions of length. Nothing else."""

from __future__ import annotations

__all__ = ["FOOT_M", "YARD_M", "to_metres", "to_yards"]

# Source: International Yard and Pound Agreement, 1959: one yard is 0.9144 m exactly.
YARD_M = 0.9144
FOOT_M = 0.3048


def to_metres(length_yd: float) -> float:
    """
    Convert yards to metres, exactly.

    Parameters
    ----------
    length_yd : float
        Length [yd].

    Returns
    -------
    float
        Length [m].

    Examples
    --------
    >>> to_metres(100.0)
    91.44
    """
    return length_yd * YARD_M


def to_yards(length_m: float) -> float:
    """
    Convert metres to yards, exactly.

    Parameters
    ----------
    length_m : float
        Length [m].

    Returns
    -------
    float
        Length [yd].

    Examples
    --------
    >>> to_yards(91.44)
    100.0
    """
    return length_m / YARD_M
