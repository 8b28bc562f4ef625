"""What the library tells players, courses and moments apart by."""

from __future__ import annotations

from datetime import datetime

import pandas as pd

from trackgolf.library.materials import CourseFiles
from trackgolf.library.packing import digest_of

__all__ = ["course_digest", "iso_time", "player_key"]


def player_key(name: str) -> str:
    """
    Tell players apart by name, however it is written.

    Parameters
    ----------
    name : str
        A name.

    Returns
    -------
    str
        Without differences of case and white space.

    Examples
    --------
    >>> player_key(" Wilma  FARROWDENE")
    'wilma farrowdene'
    """
    return " ".join(name.split()).casefold()


def course_digest(files: CourseFiles) -> str:
    """
    Tell versions of courses apart.

    Parameters
    ----------
    files : CourseFiles
        A course.

    Returns
    -------
    str
        The same for the same map and scorecard.
    """
    return digest_of(files.map, files.scorecard)


def iso_time(time: pd.Timestamp | datetime) -> str:
    """
    Write a moment so that text sorts as time does.

    Parameters
    ----------
    time : pandas.Timestamp or datetime.datetime
        With a zone.

    Returns
    -------
    str
        ISO 8601, UTC, to the microsecond.

    Examples
    --------
    >>> iso_time(pd.Timestamp("2026-05-01T09:00+02:00"))
    '2026-05-01T07:00:00.000000Z'
    """
    return pd.Timestamp(time).tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%S.%fZ")
