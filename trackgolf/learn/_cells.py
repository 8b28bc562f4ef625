"""The cells of a rebuilt round's files, checked: a person or another program may have changed them since."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import Any

import pandas as pd

__all__ = ["check_flags", "check_numbers", "check_texts"]

# Whole numbers and what they may be; wider than golf, narrower than what arithmetic chokes on. Common practice, no source.
_WHOLE = {
    "hole": (1, 99),
    "shot": (1, 999),
    "visit": (0, 999),
    "penalty": (0, 99),
    "par": (1, 20),
    "personal_par": (-50, 99),
    "regulation_shots": (-50, 99),
    "shots": (0, 999),
    "putts": (0, 99),
    "penalties": (0, 99),
    "strokes": (0, 999),
}
_SHARES = ("confidence", "club_probability")
# Nothing on a course is longer or off by more [m].
_FARTHEST_M = 100_000.0
_MOST_SHOWN = 40


def check_numbers(
    table: pd.DataFrame,
    names: Collection[str],
    places: Sequence[str],
    faults: list[str],
    *,
    needed: Collection[str] = (),
) -> pd.DataFrame:
    """
    Turn columns into numbers.

    Parameters
    ----------
    table : pandas.DataFrame
        Cells as a file has them.
    names : collection of str
        The columns; one that is not there is passed over.
    places : sequence of str
        Where each row stands, for messages.
    faults : list of str
        What is no number, or one that cannot be, is added here.
    needed : collection of str, optional
        Columns in which every cell must have a number.

    Returns
    -------
    pandas.DataFrame
        The table with these columns as float64, NaN where empty; those needed as int64. Of no use if there are faults.
    """
    found = table.copy()
    for name in names:
        if name not in table:
            continue
        before = len(faults)
        low, high = (0, 1) if name in _SHARES else _WHOLE.get(name, (-_FARTHEST_M, _FARTHEST_M))
        numbers = []
        for place, cell in zip(places, table[name], strict=True):
            number = _number(cell)
            if number is None and name in needed:
                faults.append(f"{place}: no {name}")
            if number is not None and (
                not low <= number <= high or (name in _WHOLE and not number.is_integer())
            ):
                kind = "whole number" if name in _WHOLE else "number"
                faults.append(f"{place}: {name} {_shown(cell)} is not a {kind} from {low:g} to {high:g}")
            numbers.append(math.nan if number is None else number)
        as_whole = name in needed and len(faults) == before
        column = pd.Series(numbers, index=table.index, dtype="float64")
        found[name] = column.astype("int64") if as_whole else column
    return found


def check_texts(
    table: pd.DataFrame, names: Collection[str], places: Sequence[str], faults: list[str]
) -> pd.DataFrame:
    """
    Hold columns to text.

    Parameters
    ----------
    table : pandas.DataFrame
        Cells as a file has them.
    names : collection of str
        The columns; one that is not there is passed over.
    places : sequence of str
        Where each row stands, for messages.
    faults : list of str
        What is no text is added here.

    Returns
    -------
    pandas.DataFrame
        The table with ``""`` where nothing was given.
    """
    found = table.copy()
    for name in names:
        if name not in table:
            continue
        cells = ["" if _is_missing(cell) else cell for cell in table[name]]
        faults += [
            f"{place}: {name} {_shown(cell)} is not text"
            for place, cell in zip(places, cells, strict=True)
            if not isinstance(cell, str)
        ]
        found[name] = pd.Series(cells, index=table.index, dtype=object)
    return found


def check_flags(
    table: pd.DataFrame, names: Collection[str], places: Sequence[str], faults: list[str]
) -> pd.DataFrame:
    """
    Hold columns to yes and no.

    Parameters
    ----------
    table : pandas.DataFrame
        Cells as a file has them.
    names : collection of str
        The columns; one that is not there is passed over.
    places : sequence of str
        Where each row stands, for messages.
    faults : list of str
        What is neither is added here.

    Returns
    -------
    pandas.DataFrame
        The table with these columns as bool, False where nothing was given.
    """
    found = table.copy()
    for name in names:
        if name not in table:
            continue
        cells = [False if _is_missing(cell) else cell for cell in table[name]]
        faults += [
            f"{place}: {name} {_shown(cell)} is neither true nor false"
            for place, cell in zip(places, cells, strict=True)
            if not isinstance(cell, bool)
        ]
        found[name] = pd.Series([cell is True for cell in cells], index=table.index, dtype=bool)
    return found


def _is_missing(cell: Any) -> bool:
    return cell is None or (isinstance(cell, float) and math.isnan(cell))


def _number(cell: Any) -> float | None:
    """Read a number; NaN for what is none, so that no range holds it, and None for nothing."""
    if cell == "" or _is_missing(cell):
        return None
    if isinstance(cell, bool) or not isinstance(cell, int | float | str):
        return math.nan
    try:
        number = float(cell)
    except (ValueError, OverflowError):
        return math.nan
    return number


def _shown(cell: Any) -> str:
    said = "a number of very many digits" if isinstance(cell, int) and abs(cell) > 10**20 else repr(cell)
    return said if len(said) <= _MOST_SHOWN else f"{said[: _MOST_SHOWN - 4]} ..."
