"""The time zone of a place, for times that people read."""

from __future__ import annotations

import tzfpy

__all__ = ["time_zone_of"]


def time_zone_of(lon_deg: float, lat_deg: float) -> str:
    """
    Find the time zone of a place.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The place [deg].

    Returns
    -------
    str
        Its IANA name; ``UTC`` where none is known.

    Examples
    --------
    >>> time_zone_of(-31.0, 47.0)
    'Etc/GMT+2'
    """
    return tzfpy.get_tz(lon_deg, lat_deg) or "UTC"
