"""How numbers, times and colours reach the eye: metres or yards, rounding, local time, safe colours."""

from __future__ import annotations

import datetime as dt
import math
import re
from types import MappingProxyType
from zoneinfo import ZoneInfo

from geo.units import to_yards

__all__ = [
    "DARK",
    "LIGHT",
    "OKABE_ITO",
    "contrast_ratio",
    "in_unit",
    "local_time",
    "nice_step",
    "round_half_up",
    "short_club",
    "shorten",
    "whole_length",
]

# Source: M. Okabe and K. Ito, "Color Universal Design", 2008: eight colours that people with
# protanopia, deuteranopia and tritanopia can tell apart.
OKABE_ITO = MappingProxyType(
    {
        "black": "#000000",
        "orange": "#e69f00",
        "sky blue": "#56b4e9",
        "bluish green": "#009e73",
        "yellow": "#f0e442",
        "blue": "#0072b2",
        "vermillion": "#d55e00",
        "reddish purple": "#cc79a7",
    }
)

# What is planned and what was played come from that palette, the vermillion a shade darker; the ground is pale.
# Text colours meet 4.5 to 1 against the paper, marks 3 to 1 against every ground; tests hold both.
LIGHT = MappingProxyType(
    {
        "paper": "#fbfaf7",
        "panel": "#f1efe8",
        "ink": "#1c1d1f",
        "quiet": "#56585c",
        "rule": "#cfccc2",
        "shade": "#d6d3c8",
        "link": "#00557f",
        "plan": OKABE_ITO["blue"],
        "plan-text": "#005f96",
        "played": "#c25400",
        "played-text": "#a34700",
        "sure": "#00785a",
        "track": "#77777a",
        "ground": "#edeee6",
        "fairway": "#dbe6c9",
        "tee": "#c9dab0",
        "green": "#bfdcae",
        "sand": "#f3e6c0",
        "sand-mark": "#b9a46a",
        "water": "#d3e6f2",
        "water-mark": "#86b3cd",
        "built": "#d9d7d2",
        "edge": "#a9ab9e",
    }
)
DARK = MappingProxyType(
    {
        "paper": "#16181a",
        "panel": "#202326",
        "ink": "#ececea",
        "quiet": "#a9acb0",
        "rule": "#3d4145",
        "shade": "#4a4f54",
        "link": "#8ccdf2",
        "plan": OKABE_ITO["sky blue"],
        "plan-text": "#7cc4ee",
        "played": OKABE_ITO["orange"],
        "played-text": "#f0b12f",
        "sure": "#3fc79f",
        "track": "#8f9397",
        "ground": "#1f2420",
        "fairway": "#304531",
        "tee": "#35482f",
        "green": "#3d5e39",
        "sand": "#4a4430",
        "sand-mark": "#857a55",
        "water": "#1d3444",
        "water-mark": "#3f6a86",
        "built": "#33363a",
        "edge": "#5c6157",
    }
)


def in_unit(length_m: float, units: str) -> float:
    """
    Convert a length to the unit a person reads.

    Parameters
    ----------
    length_m : float
        Length [m].
    units : {"yd", "m"}
        The unit wanted.

    Returns
    -------
    float
        Length [yd] or [m].

    Examples
    --------
    >>> round(in_unit(91.44, "yd"), 6)
    100.0
    """
    return to_yards(length_m) if units == "yd" else length_m


def round_half_up(value: float) -> int:
    """
    Round to whole numbers as people do: a half goes away from zero.

    Parameters
    ----------
    value : float
        A finite number.

    Returns
    -------
    int
        The nearest whole number.

    Examples
    --------
    >>> round_half_up(2.5), round_half_up(-2.5), round_half_up(-0.2)
    (3, -3, 0)
    """
    # What a conversion leaves below 1e-9 must not decide about a half.
    size = math.floor(abs(value) + 0.5 + 1e-9)
    return int(math.copysign(size, value)) if size else 0


def whole_length(length_m: float, units: str) -> str:
    """
    Write a length in whole units, without the unit.

    Parameters
    ----------
    length_m : float
        Length [m].
    units : {"yd", "m"}
        The unit wanted.

    Returns
    -------
    str
        Such as ``"105"``; a dash where the length is unknown.

    Examples
    --------
    >>> whole_length(96.0, "yd"), whole_length(96.0, "m"), whole_length(float("nan"), "m")
    ('105', '96', '–')
    """
    if length_m is None or not math.isfinite(length_m):
        return "–"
    return f"{round_half_up(in_unit(length_m, units))}".replace("-", "−")


def local_time(time: dt.datetime, zone: str) -> dt.datetime:
    """
    Turn a moment into the clock time of a place.

    Parameters
    ----------
    time : datetime.datetime
        Zone-aware moment.
    zone : str
        IANA name of the zone.

    Returns
    -------
    datetime.datetime
        The same moment in that zone.

    Raises
    ------
    ValueError
        If the moment has no zone, for then nobody knows when it was.

    Examples
    --------
    >>> local_time(dt.datetime(2026, 7, 1, 12, 0, tzinfo=dt.UTC), "Europe/Vienna").isoformat()
    '2026-07-01T14:00:00+02:00'
    """
    if time.tzinfo is None:
        raise ValueError("a time without a zone")
    return time.astimezone(ZoneInfo(zone))


def nice_step(span: float, most: int) -> float:
    """
    Choose the distance between the lines of a scale.

    Parameters
    ----------
    span : float
        What the scale covers, above zero.
    most : int
        At most this many steps.

    Returns
    -------
    float
        1, 2 or 5 times a power of ten.

    Examples
    --------
    >>> nice_step(200.0, 5)
    50.0
    """
    raw = span / most
    power = 10.0 ** math.floor(math.log10(raw))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= raw * (1.0 - 1e-9))


def shorten(text: str, most: int) -> str:
    """
    Cut a text for a narrow place; the whole text stands elsewhere on the page.

    Parameters
    ----------
    text : str
        Any text.
    most : int
        Largest number of characters.

    Returns
    -------
    str
        The text, or its beginning and an ellipsis.

    Examples
    --------
    >>> shorten("pitching wedge", 9)
    'pitching…'
    """
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def short_club(name: str) -> str:
    """
    Write the name of a club in two or three letters, for a crowded picture.

    Parameters
    ----------
    name : str
        Any name.

    Returns
    -------
    str
        Number and first letter, or the initials, or the beginning.

    Examples
    --------
    >>> [short_club(name) for name in ("7 iron", "Pitching wedge", "driver", "9w")]
    ['7i', 'pw', 'dr', '9w']
    """
    numbered = re.fullmatch(r"(\d{1,2})[\s-]?([^\W\d_])[^\W\d_]*", name)
    if numbered:
        return f"{numbered[1]}{numbered[2].lower()}"
    parts = re.findall(r"[^\W_]+", name)
    if len(parts) in {2, 3} and all(part.isalpha() for part in parts):
        return "".join(part[0].lower() for part in parts)
    return name[:2].lower() if len(parts) == 1 and name.isalpha() else shorten(name, 5)


def contrast_ratio(colour: str, other: str) -> float:
    """
    Measure how clearly two colours stand against each other.

    Parameters
    ----------
    colour, other : str
        Colours as ``#rrggbb``.

    Returns
    -------
    float
        From 1 (the same) to 21 (black on white).

    References
    ----------
    W3C, Web Content Accessibility Guidelines 2.2, "contrast ratio" and
    "relative luminance".

    Examples
    --------
    >>> contrast_ratio("#000000", "#ffffff")
    21.0
    """
    lighter, darker = sorted((_luminance(colour), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
