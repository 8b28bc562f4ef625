"""What a correction may say: its kinds, their keys, and the checks of every value."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Collection
from datetime import UTC, datetime
from typing import Any

import pandas as pd

__all__ = ["END_LIES", "LIES", "SCHEMA", "quoted", "read_fields"]

# A ball is never played from the green as a shot (that is a putt), nor from out of bounds (Rules of Golf 2023, 18.2).
LIES = ("tee", "fairway", "rough", "bunker", "penalty_area", "unknown")
END_LIES = (
    "fairway", "rough", "bunker", "penalty_area", "tee", "green", "out_of_bounds", "lost", "holed", "picked_up", "unknown",
)  # fmt: skip

# What may be set right: the keys that each kind of correction needs, and those it may have. All have `id` and `what`,
# and may have `note` and `made`.
SCHEMA: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "confirm": (("hole", "time"), ()),
    "remove": (("hole", "time"), ()),
    "add": (("hole", "time"), ("lon_deg", "lat_deg")),
    "move": (("hole", "time", "lon_deg", "lat_deg"), ()),
    "hole": (("hole", "time", "to_hole"), ()),
    "club": (("hole", "time", "club"), ()),
    "lie": (("hole", "time", "lie"), ()),
    "end_lie": (("hole", "time", "end_lie"), ()),
    "penalty": (("hole", "time", "penalty"), ()),
    "putts": (("hole", "putts"), ("time",)),
    "penalties": (("hole", "penalties"), ("time",)),
    "strokes": (("hole", "strokes"), ("time",)),
    "picked_up": (("hole",), ("time", "picked_up")),
    "settled": (("hole",), ("time",)),
    "not_played": (("hole",), ()),
    "tee": (("tee",), ()),
}
_LAST_HOLE = 36
_LONGEST = {"id": 64, "club": 80, "tee": 80, "note": 500}
# Whole numbers a card can hold, as for the card; strokes of penalty that one shot can bring. Common practice, no source.
_WHOLE = {
    "hole": (1, _LAST_HOLE),
    "to_hole": (1, _LAST_HOLE),
    "penalty": (0, 5),
    "putts": (0, 20),
    "penalties": (0, 20),
    "strokes": (1, 40),
}


def read_fields(values: object, faults: list[str]) -> dict[str, Any] | None:
    """
    Read one correction as JSON has it.

    Parameters
    ----------
    values : object
        What should be an object with the keys of `SCHEMA`.
    faults : list of str
        What is wrong with it is added here, each in a few words.

    Returns
    -------
    dict or None
        By key, times in UTC; None where there is a fault.
    """
    if not isinstance(values, dict):
        faults.append("not an object in braces")
        return None
    what = values.get("what")
    known = isinstance(what, str) and what in SCHEMA
    if what is not None and not known:
        faults.append(f"what is {quoted(what)}, not one of {', '.join(SCHEMA)}")
    needed, further = SCHEMA[what] if known else ((), ())  # type: ignore[index]
    faults += [f"{key} is missing" for key in ("id", "what", *needed) if values.get(key) is None]
    # Of what kind it is not known, its other keys cannot be said to be wrong.
    allowed: Collection[str] = ("id", "what", "note", "made", *needed, *further) if known else values.keys()
    faults += [f"{str(key)[:40]!r} does not belong to {what}" for key in values if key not in allowed]
    if (values.get("lon_deg") is None) != (values.get("lat_deg") is None) and what == "add":
        faults.append("lon_deg and lat_deg go together")
    read: dict[str, Any] = {}
    for key, reader in _READERS.items():
        if key in allowed and values.get(key) is not None:
            try:
                read[key] = reader(values[key])
            except ValueError as fault:
                faults.append(f"{key} {fault}")
    if what == "picked_up":
        read.setdefault("picked_up", True)
    return None if faults else {"what": what} | read


def quoted(value: object) -> str:
    """
    Quote what a file says, cut to a size that fits a message.

    Parameters
    ----------
    value : object
        A value of a JSON document.

    Returns
    -------
    str
        In one line.
    """
    return repr(value)[:42] if isinstance(value, str) else json.dumps(value, default=str)[:40]


def _text(key: str) -> Callable[[object], str]:
    def read(value: object) -> str:
        if not isinstance(value, str) or not value.strip():
            raise ValueError(f"is {quoted(value)}, not a text")
        if len(value) > _LONGEST[key]:
            raise ValueError(f"is longer than {_LONGEST[key]} characters")
        if not value.isprintable():
            raise ValueError(f"holds a character that cannot be printed: {quoted(value)}")
        return value.strip()

    return read


def _whole(key: str) -> Callable[[object], int]:
    low, high = _WHOLE[key]

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ValueError(f"is {quoted(value)}, not a whole number from {low} to {high}")
        return value

    return read


def _degrees(most: float) -> Callable[[object], float]:
    def read(value: object) -> float:
        no_number = isinstance(value, float) and math.isnan(value)
        if isinstance(value, bool) or not isinstance(value, int | float) or no_number:
            raise ValueError(f"is {quoted(value)}, not a number of degrees")
        # Compared before it is made a float: JSON knows whole numbers that no float can hold.
        if not -most <= value <= most:
            raise ValueError(f"is {quoted(value)}, not from -{most:g} to {most:g} degrees")
        return float(value)

    return read


def _one_of(names: tuple[str, ...]) -> Callable[[object], str]:
    def read(value: object) -> str:
        if not isinstance(value, str) or value not in names:
            raise ValueError(f"is {quoted(value)}, not one of {', '.join(names)}")
        return value

    return read


def _yes_no(value: object) -> bool:
    if value is not True and value is not False:
        raise ValueError(f"is {quoted(value)}, not true or false")
    return value


def _moment(value: object) -> pd.Timestamp:
    try:
        moment = datetime.fromisoformat(value.strip() if isinstance(value, str) else "")
    except ValueError as fault:
        raise ValueError(f'is {quoted(value)}, not a time such as "2026-05-16T09:31:12Z"') from fault
    if moment.tzinfo is None:
        raise ValueError(f"is {quoted(value)}, which has no zone: end it with Z for UTC")
    try:
        return pd.Timestamp(moment.astimezone(UTC)).as_unit("ns")
    except (OverflowError, ValueError) as fault:
        raise ValueError(f"is {quoted(value)}, which is too long ago or too far ahead") from fault


_READERS: dict[str, Callable[[object], Any]] = {
    "id": _text("id"),
    "hole": _whole("hole"),
    "time": _moment,
    "lon_deg": _degrees(180.0),
    "lat_deg": _degrees(90.0),
    "to_hole": _whole("to_hole"),
    "club": _text("club"),
    "lie": _one_of(LIES),
    "end_lie": _one_of(END_LIES),
    "penalty": _whole("penalty"),
    "putts": _whole("putts"),
    "penalties": _whole("penalties"),
    "strokes": _whole("strokes"),
    "picked_up": _yes_no,
    "tee": _text("tee"),
    "note": _text("note"),
    "made": _moment,
}
