"""The time zone of a place, for times that people read."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import tzfpy

__all__ = ["time_zone_of", "zone_named"]


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


def zone_named(name: str) -> ZoneInfo:
    """
    Give the zone of a name.

    Parameters
    ----------
    name : str
        IANA name.

    Returns
    -------
    zoneinfo.ZoneInfo
        The zone; UTC where the name is none that this machine knows.

    Examples
    --------
    >>> zone_named("Etc/GMT+2").key, zone_named("../of/nowhere").key
    ('Etc/GMT+2', 'UTC')
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        # A part of a name is a folder of the data base of zones, which opens like a file that may not be read.
        return ZoneInfo("UTC")
