"""The facts that head a page: which there are, and the checks at the door."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

__all__ = ["HEADER_KEYS", "PLAN_HEADER_KEYS", "check_header", "is_missing"]

# Key: (type, may be None, meaning). Where None is allowed the key must still be there.
HEADER_KEYS: dict[str, tuple[tuple[type, ...], bool, str]] = {
    "player": ((str,), False, "Name of the player."),
    "course": ((str,), False, "Name of the course."),
    "units": ((str,), False, "Length people read first: yd or m."),
    "time_zone": ((str,), False, "IANA name of the zone the course lies in."),
    "start_time": ((dt.datetime,), True, "First shot, zone-aware."),
    "end_time": ((dt.datetime,), True, "Last hole finished, zone-aware."),
    "credit": ((str,), True, "Whom the map data must be credited to."),
    "invented": ((bool, np.bool_), False, "Course, player and round are made up."),
    "strokes": ((int, np.integer), True, "Strokes of the round."),
    "par": ((int, np.integer), True, "Par of the holes played."),
    "personal_par": ((int, np.integer), True, "Personal par of the holes played."),
    "putts": ((int, np.integer), True, "Putts of the round."),
    "penalties": ((int, np.integer), True, "Penalty strokes of the round."),
    "shots_to_green": ((int, np.integer), True, "Shots and penalties until on the greens."),
    "regulation_shots": ((int, np.integer), True, "Shots the personal par allows to be on the greens in."),
    "layups": ((int, np.integer), True, "Layups that could be compared with the plan."),
    "layups_within": ((int, np.integer), True, "Layups within tolerance."),
    "layups_unsure": ((int, np.integer), True, "Layups too close to the edge of the tolerance to say."),
    "median_leave_error_m": ((int, float, np.floating), True, "Median of |leave - planned leave| [m]."),
}
PLAN_HEADER_KEYS = ("player", "course", "units", "credit", "invented")


def check_header(header: Mapping[str, Any], *, keys: tuple[str, ...] = tuple(HEADER_KEYS)) -> dict[str, Any]:
    """
    Check the facts that head a page.

    Parameters
    ----------
    header : mapping
        As in `HEADER_KEYS`.
    keys : tuple of str, optional
        The keys that must be there; by default all.

    Returns
    -------
    dict
        A copy; missing numbers as None, times as `datetime.datetime`.

    Raises
    ------
    ValueError
        Naming every key that is missing or of the wrong kind.
    """
    missing = [key for key in keys if key not in header]
    if missing:
        raise ValueError(f"header: missing {', '.join(missing)}")
    checked, faults = dict(header), []
    for key in keys:
        types, optional, _ = HEADER_KEYS[key]
        value = header[key]
        if is_missing(value):
            checked[key] = None
            if not optional:
                faults.append(f"{key} is missing")
        elif not isinstance(value, types) or (isinstance(value, bool) and bool not in types):
            faults.append(f"{key} is {value!r}")
        elif isinstance(value, dt.datetime):
            if value.tzinfo is None:
                faults.append(f"{key} has no time zone")
            checked[key] = pd.Timestamp(value).to_pydatetime(warn=False)
    if not faults and checked["units"] not in {"yd", "m"}:
        faults.append(f"units is {checked['units']!r}, not 'yd' or 'm'")
    if not faults and checked.get("time_zone") is not None:
        try:
            ZoneInfo(checked["time_zone"])
        except (KeyError, ValueError, OSError):
            faults.append(f"time_zone is {checked['time_zone']!r}, no IANA name")
    if faults:
        raise ValueError(f"header: {'; '.join(faults)}")
    return checked


def is_missing(value: Any) -> bool:
    """
    Tell None, NaN, NaT and NA from a value; a list or a table is a value.

    Parameters
    ----------
    value : object
        Anything.

    Returns
    -------
    bool
        True if nothing is known.
    """
    return bool(pd.api.types.is_scalar(value) and pd.isna(value))
