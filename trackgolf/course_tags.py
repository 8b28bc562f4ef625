"""What the tags of a course mean: kinds of shapes, hole numbers, pars, lengths and tee names."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping

from geo.units import FOOT_M, YARD_M

__all__ = [
    "AREA_KINDS",
    "COURSE_TAGS",
    "GOLF_TAG_OF_KIND",
    "LINE_TAGS",
    "SHAPE_KINDS",
    "clean_tags",
    "find_tag",
    "hole_numbers",
    "pars",
    "shape_kind",
    "stroke_indexes",
    "subkey_tees",
    "tag_length_m",
    "tee_names",
]

SHAPE_KINDS = (
    "tee",
    "fairway",
    "green",
    "rough",
    "bunker",
    "water_yellow",
    "water_red",
    "water",
    "out_of_bounds",
    "cartpath",
    "driving_range",
    "clubhouse",
    "course",
)
# What is a piece of ground, so that a mere line or point for it wants mending.
AREA_KINDS = frozenset({"tee", "fairway", "green", "rough", "bunker", "water_yellow", "water_red", "water"})

# Tags of which something can be of a course (no values: every value), and those whose closed ways are
# no areas.
COURSE_TAGS = {
    "golf": frozenset[str](),
    "leisure": frozenset({"golf_course"}),
    "natural": frozenset({"water"}),
    "waterway": frozenset({"riverbank"}),
}
LINE_TAGS = {"golf": frozenset({"hole", "cartpath", "path", "out_of_bounds"}), "highway": frozenset[str]()}

# Source: OpenStreetMap wiki, Key:golf: the values in use; a water hazard is yellow, a lateral one red.
_GOLF = {
    "hole": "hole",
    "pin": "pin",
    "tee": "tee",
    "green": "green",
    "fairway": "fairway",
    "bunker": "bunker",
    "rough": "rough",
    "water_hazard": "water_yellow",
    "lateral_water_hazard": "water_red",
    "out_of_bounds": "out_of_bounds",
    "cartpath": "cartpath",
    "driving_range": "driving_range",
    "clubhouse": "clubhouse",
}
GOLF_TAG_OF_KIND = {kind: tag for tag, kind in _GOLF.items()}
# Other words people write for the same things.
_ALIASES = {
    "teebox": "tee",
    "tee_box": "tee",
    "teeing_area": "tee",
    "teeing_ground": "tee",
    "sand": "bunker",
    "sand_trap": "bunker",
    "semi_rough": "rough",
    "first_cut": "rough",
    "fringe": "fairway",
    "apron": "fairway",
    "flag": "pin",
    "cup": "pin",
    "ob": "out_of_bounds",
    "cart_path": "cartpath",
    "water": "water",
    "penalty_area": "water",
    "range": "driving_range",
    "club_house": "clubhouse",
}
# Nobody reads more of a name; a file of another kind may have millions of letters in one.
_LONGEST_TEXT = 500
# Known, and nothing that a round is played over.
_LEFT_OUT = frozenset(
    {"path", "practice", "practice_green", "putting_green", "tree", "trees", "no", "course"}
)
_LIST = re.compile(r"[;,/|&+]")
_TEE_WORDS = re.compile(
    r"\b(\d+(st|nd|rd|th)?|hole|holes|tee|tees|teebox|box|no|no\.|the|from)\b|[#:()\-–]", re.IGNORECASE
)


def clean_tags(row: Mapping[str, object]) -> dict[str, str]:
    """
    Bring tags to one spelling of their keys.

    Parameters
    ----------
    row : mapping
        Tags as they stand in a file; values that are no text are dropped.

    Returns
    -------
    dict
        Keys in lower case, values stripped, empty ones left out. What a
        terminal could take for a command is a space.
    """
    texts = (
        (_printable(key).lower(), _printable(value)) for key, value in row.items() if isinstance(value, str)
    )
    return {key: value for key, value in texts if value}


def shape_kind(tags: Mapping[str, str]) -> tuple[str | None, str | None]:
    """
    Tell what a feature is.

    Parameters
    ----------
    tags : mapping
        Tags as `clean_tags` returns them.

    Returns
    -------
    kind : str or None
        One of `SHAPE_KINDS`, ``hole`` or ``pin``; None if it is nothing of a
        course. A golf tag wins over ``natural=water``, so that a shape with
        both counts once.
    doubt : str or None
        The golf value as written, if it is misspelt or not known.

    Examples
    --------
    >>> shape_kind({"golf": "fariway"})
    ('fairway', 'fariway')
    >>> shape_kind({"golf": "water_hazard", "natural": "water"})
    ('water_yellow', None)
    """
    written = tags.get("golf", "")
    doubt = None
    for part in written.split(";"):
        word = re.sub(r"[\s\-]+", "_", part.strip().lower())
        if not word or word in _LEFT_OUT:
            continue
        if word in _GOLF:
            return _GOLF[word], None if word == written else written
        known = _GOLF | _ALIASES
        # Three letters are too few to guess from.
        close = [word] if word in _ALIASES else []
        if not close and len(word) > 3:
            close = difflib.get_close_matches(word, known, n=1, cutoff=0.8)
        if close:
            return known[close[0]], written
        doubt = written
    if tags.get("leisure") == "golf_course":
        return "course", doubt
    if tags.get("natural") == "water" or tags.get("waterway") == "riverbank":
        return "water", doubt
    return None, doubt


def find_tag(tags: Mapping[str, str], key: str, tee: str | None = None) -> str | None:
    """
    Look up a tag that may be given for each tee.

    Parameters
    ----------
    tags : mapping
        Tags as `clean_tags` returns them.
    key : str
        The key, such as ``par``.
    tee : str, optional
        Name of a tee, for keys such as ``par:red``.

    Returns
    -------
    str or None
        The value for the tee, else the one without a tee, else the first for
        any; None if there is none.
    """
    if tee is not None and f"{key}:{tee.lower()}" in tags:
        return tags[f"{key}:{tee.lower()}"]
    if key in tags:
        return tags[key]
    return next((tags[name] for name in sorted(tags) if name.startswith(f"{key}:")), None)


def hole_numbers(text: str | None) -> tuple[int, ...]:
    """
    Read the number of a hole, or the numbers of one that is played twice.

    Parameters
    ----------
    text : str or None
        A tag ``ref`` or ``name``.

    Returns
    -------
    tuple of int
        Numbers from 1 to 99; empty if there is none.

    Examples
    --------
    >>> hole_numbers("07 "), hole_numbers("1;10"), hole_numbers("Hole 12 North")
    ((7,), (1, 10), (12,))
    """
    found = []
    for part in _LIST.split(text or ""):
        digits = re.search(r"(?<!\d)0*([1-9]\d?)(?!\d)", part, re.ASCII)
        if digits and int(digits[1]) not in found:
            found.append(int(digits[1]))
    return tuple(found)


def pars(text: str | None) -> tuple[int, ...]:
    """
    Read the pars in a tag.

    Parameters
    ----------
    text : str or None
        A tag ``par``, such as ``4``, ``4.0`` or ``4;5``.

    Returns
    -------
    tuple of int
        Those from 3 to 6.
    """
    return tuple(
        int(digit) for digit in re.findall(r"(?<![\d.,])([3-6])(?:[.,]0+)?(?![\d.])", text or "", re.ASCII)
    )


def stroke_indexes(text: str | None) -> tuple[int, ...]:
    """
    Read the stroke indexes in a tag.

    Parameters
    ----------
    text : str or None
        A tag ``handicap``, such as ``7`` or, for a hole played twice, ``7;8``.

    Returns
    -------
    tuple of int
        Every whole number in it, in the order written.
    """
    return tuple(int(digits) for digits in re.findall(r"(?<![\d.,])\d{1,3}(?![\d.])", text or "", re.ASCII))


def tag_length_m(text: str | None) -> float | None:
    """
    Read a length from a tag.

    Parameters
    ----------
    text : str or None
        Such as ``349``, ``382 yd`` or ``349,5 m``; metres unless a unit is
        written [1]_.

    Returns
    -------
    float or None
        The length [m]; None if there is none to be read.

    References
    ----------
    .. [1] OpenStreetMap wiki, Key:dist.

    Examples
    --------
    >>> print(f"{tag_length_m('120 yd'):.3f}")
    109.728
    """
    match = re.fullmatch(
        r"(\d{1,5}(?:[.,]\d+)?)\s*(m|metres?|meters?|yd|yds|yards?|ft|feet|km)?\.?",
        (text or "").strip().lower(),
        re.ASCII,
    )
    if match is None:
        return None
    unit = (match[2] or "m")[:1]
    factor = {"m": 1.0, "y": YARD_M, "f": FOOT_M, "k": 1000.0}[unit]
    length_m = float(match[1].replace(",", ".")) * factor
    return length_m if length_m > 0.0 else None


def tee_names(tags: Mapping[str, str]) -> tuple[str, ...]:
    """
    Collect what a tee is called.

    Parameters
    ----------
    tags : mapping
        Tags of a tee as `clean_tags` returns them.

    Returns
    -------
    tuple of str
        From ``tee``, ``colour``, ``ref`` and ``name``, without hole numbers
        and words such as ``tee`` and ``hole``.

    Examples
    --------
    >>> tee_names({"name": "White tee, hole 7", "colour": "white;yellow"})
    ('white', 'yellow')
    """
    names: dict[str, str] = {}
    for key in ("tee", "colour", "color", "ref", "name"):
        for part in _LIST.split(tags.get(key, "")):
            bare = " ".join(_TEE_WORDS.sub(" ", part).split())
            if bare and not bare.isdigit():
                names.setdefault(bare.lower(), bare)
    return tuple(names.values())


def subkey_tees(tags: Mapping[str, str]) -> tuple[str, ...]:
    """
    Collect the tees that a hole has values of its own for.

    Parameters
    ----------
    tags : mapping
        Tags of a hole as `clean_tags` returns them.

    Returns
    -------
    tuple of str
        Such as ``red`` from ``par:red``.
    """
    found = [key.split(":", 1)[1] for key in tags if re.match(r"(par|handicap|dist):\S", key)]
    return tuple(dict.fromkeys(found))


def _printable(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text[:_LONGEST_TEXT]).strip()
