"""Many decimal texts at once to numbers, faults as NaN."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["parse_numbers"]

# The schema's decimals, and exponents, which some devices write though it forbids them. Python itself would also take
# underscores, "nan", "infinity" and the digits of other scripts.
_CHARACTERS = b"0123456789+-.eE \t\r\n"
# Longer texts are no measurement, and slow to convert.
_LONGEST = 60
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


def parse_numbers(texts: Sequence[str | None]) -> tuple[NDArray[np.float64], NDArray[np.bool_], int]:
    """
    Parse numbers as GPX files hold them.

    Parameters
    ----------
    texts : sequence of str or None
        The texts, None where there is none.

    Returns
    -------
    values : numpy.ndarray, shape (n,)
        The numbers, NaN where there is none or it cannot be read.
    bad : numpy.ndarray of bool, shape (n,)
        True where there is a text and it is no finite number.
    commas : int
        How many were written with a decimal comma.

    Examples
    --------
    >>> values, bad, commas = parse_numbers(["45.5", "45,5", "4_5", None])
    >>> values.tolist(), bad.tolist(), commas
    ([45.5, 45.5, nan, nan], [False, False, True, False], 1)
    """
    given = [text for text in texts if text is not None]
    present = np.ones(len(texts), dtype=bool)
    if len(given) < len(texts):
        present[:] = [text is not None for text in texts]
    values = np.full(len(texts), np.nan)
    bad = np.zeros(len(texts), dtype=bool)
    if not given:
        return values, bad, 0
    numbers, commas = _numbers(given)
    # "1e999" is written as a number and is none.
    numbers[~np.isfinite(numbers)] = np.nan
    values[present] = numbers
    bad[present] = np.isnan(numbers)
    return values, bad, commas


def _numbers(texts: Sequence[str]) -> tuple[NDArray[np.float64], int]:
    joined = "".join(texts)
    short = max(map(len, texts)) <= _LONGEST
    if short and joined.isascii() and not joined.encode("ascii").translate(None, _CHARACTERS):
        try:
            return np.array(texts, dtype=np.float64), 0
        except ValueError:
            pass
    commas = 0
    numbers = np.full(len(texts), np.nan)
    for row, text in enumerate(texts):
        plain = text.strip()[: _LONGEST + 1]
        if plain.count(",") == 1 and "." not in plain:
            plain = plain.replace(",", ".")
        if len(plain) <= _LONGEST and _NUMBER.fullmatch(plain):
            numbers[row] = float(plain)
            commas += "," in text
    return numbers, commas
