"""TOML files that people write by hand: every fault told, with the place it is in."""

from __future__ import annotations

import difflib
import math
import os
import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from geo.errors import InputError
from geo.files import decode_text, read_small_file

__all__ = ["TomlTable", "read_toml"]

_LONGEST_TEXT = 80


def read_toml(path: str | os.PathLike[str], error: type[InputError], kind: str) -> tuple[dict[str, Any], str]:
    """
    Read a TOML file.

    Parameters
    ----------
    path : str or os.PathLike
        The file.
    error : type
        The subclass of `InputError` to raise.
    kind : str
        What the file should be, for messages.

    Returns
    -------
    values : dict
        What it says.
    text : str
        The file as text, for what TOML drops, such as comments.

    Raises
    ------
    InputError
        As `error`, if it cannot be read or is not TOML; with the line.
    """
    text = decode_text(read_small_file(path, error, kind))
    try:
        return tomllib.loads(text), text
    except ValueError as fault:
        raise error(f"not valid TOML: {fault}", str(path), _hint(text)) from fault
    except RecursionError as fault:
        raise error("not valid TOML: nested too deeply", str(path)) from fault


@dataclass(frozen=True, slots=True)
class TomlTable:
    """
    One table of a TOML file, read value by value.

    Attributes
    ----------
    values : dict
        What the table holds.
    where : str
        Where it stands, for messages; empty for the top of the file.
    faults, warnings : list of str
        Shared by all tables of a file; reading appends to them.
    """

    values: dict[str, Any]
    where: str
    faults: list[str]
    warnings: list[str]

    def fault(self, message: str) -> None:
        """
        Note a fault of this table.

        Parameters
        ----------
        message : str
            What is wrong.
        """
        self.faults.append(f"{self.where}: {message}" if self.where else message)

    def warn(self, message: str) -> None:
        """
        Note a warning about this table.

        Parameters
        ----------
        message : str
            What is doubtful.
        """
        self.warnings.append(f"{self.where}: {message}" if self.where else message)

    def text(self, key: str) -> str | None:
        """
        Read a text.

        Parameters
        ----------
        key : str
            Its key.

        Returns
        -------
        str or None
            The text without surplus white space; None if it is missing or
            faulty (then a fault is noted).
        """
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, str):
            self.fault(f"{key} = {_shown(value)} is not text: put it in quotes")
            return None
        if any(not char.isprintable() and not char.isspace() for char in value) or len(value) > _LONGEST_TEXT:
            self.fault(f"{key} is longer than {_LONGEST_TEXT} letters or has unprintable ones")
            return None
        value = " ".join(value.split())
        if not value:
            self.fault(f"{key} is empty")
            return None
        return value

    def number(self, key: str, low: float, high: float, hint: str = "") -> float | None:
        """
        Read a number.

        Parameters
        ----------
        key : str
            Its key.
        low, high : float
            The smallest and the largest that makes sense.
        hint : str, optional
            What else to say where it lies outside.

        Returns
        -------
        float or None
            The number; None if it is missing or faulty (then a fault is noted).
        """
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fault(
                f"{key} = {_shown(value)} is not a number: write it without quotes, with a decimal point"
            )
            return None
        if not low <= value <= high or math.isnan(value):
            said = f"{key} = {_shown(value)} is not between {low:g} and {high:g}"
            self.fault(f"{said}: {hint}" if hint else said)
            return None
        return float(value)

    def flag(self, key: str) -> bool:
        """
        Read a yes or no.

        Parameters
        ----------
        key : str
            Its key.

        Returns
        -------
        bool
            The value; False if it is missing or faulty (then a fault is noted).
        """
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            self.fault(f"{key} = {_shown(value)} is neither true nor false")
            return False
        return value

    def tables(self, key: str) -> list[dict[str, Any]]:
        """
        Read a list of tables, ``[[key]]``.

        Parameters
        ----------
        key : str
            Its key.

        Returns
        -------
        list of dict
            The tables in their order; a single ``[key]`` counts as one.
        """
        value = self.values.get(key, [])
        if isinstance(value, dict):
            return [value]
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.fault(f"{key} must be tables, each begun by [[{key}]]")
            return []
        return value

    def check_keys(self, known: Collection[str]) -> None:
        """
        Warn of keys that mean nothing here.

        Parameters
        ----------
        known : collection of str
            The keys that mean something.
        """
        for key in self.values:
            if key not in known:
                near = difflib.get_close_matches(key, known, n=1)
                meant = f" (did you mean {near[0]!r}?)" if near else ""
                self.warn(f"{_shown(key)} means nothing here and is passed over{meant}")


def _shown(value: object) -> str:
    """Quote a value of the file, cut to what fits a message."""
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 10**20:
        return "a number of more than 20 digits"
    said = repr(value)
    return said if len(said) <= 40 else f"{said[:36]} ..."


def _hint(text: str) -> str:
    """Name the likely cause of a syntax error."""
    if text.lstrip()[:1] in ("<", "{"):
        return "This looks like another kind of file"
    return "Text stands in quotes, numbers have a decimal point, each club begins with [[club]]"
