"""CSV as people and spreadsheets really write it: byte order marks, semicolons, Latin-1, blank cells."""

from __future__ import annotations

import csv
import io
import math
import os
import re
from collections.abc import Collection

from geo.errors import InputError, raise_faults
from geo.files import decode_text, read_small_file

__all__ = ["parse_number", "read_csv_table"]

_DELIMITERS = (",", ";", "\t")
# What spreadsheets and people put where nothing is known.
_BLANKS = frozenset({"", "-", "–", "—", "n/a", "na", "nan", "none", "null", "?"})
# Names of columns in a message, in letters.
_LONGEST_LIST = 200
_SEPARATOR_LINE = re.compile(r"""^"?sep=(.)"?\s*$""", re.IGNORECASE)


def read_csv_table(
    path: str | os.PathLike[str],
    error: type[InputError],
    *,
    kind: str = "CSV table",
    required: Collection[str] = (),
    spill: str | None = None,
) -> list[tuple[int, dict[str, str]]]:
    """
    Read a CSV table with a header, tolerantly.

    Comma, semicolon or tab, whichever the header uses most; UTF-8 with or
    without byte order mark, UTF-16, or Windows Latin; a ``sep=;`` line and
    empty lines are passed over.

    Parameters
    ----------
    path : str or os.PathLike
        The file.
    error : type
        The subclass of `InputError` to raise.
    kind : str
        What the file should be, for messages.
    required : collection of str
        Columns without which the file is of no use.
    spill : str, optional
        The last column, if surplus cells of a row belong to it (a list whose
        own separator is the delimiter of the file); joined with ``;``.

    Returns
    -------
    list of tuple
        For each row with something in it, the number of its first line in the
        file, from 1, and its cells by column name. Names are in lower case
        with ``_`` for spaces and hyphens; cells are stripped, and what stands
        for nothing (``-``, ``n/a``) is ``""``. Cells missing at the end of a
        row are ``""``.

    Raises
    ------
    InputError
        As `error`: all faults of the file at once, with their lines.
    """
    text = decode_text(read_small_file(path, error, kind))
    where = str(path)
    if "\0" in text:
        raise error(f"this is not a {kind} but a file of another kind", where, "Save it as CSV text")
    if text.lstrip()[:1] in ("<", "{"):
        raise error(f"this is not a {kind} but HTML, XML or JSON", where, "Save it as CSV text")

    lines = io.StringIO(text, newline="").readlines()
    first = 0
    delimiter = None
    while first < len(lines) and not lines[first].strip(" \t\r\n,;"):
        first += 1
    if first < len(lines) and (match := _SEPARATOR_LINE.match(lines[first])):
        delimiter = match[1]
        first += 1
    if first >= len(lines):
        raise error("there is no header line", where, "Begin with a line of column names")
    if delimiter is None:
        delimiter = max(_DELIMITERS, key=lines[first].count)

    reader = csv.reader(lines[first:], delimiter=delimiter, skipinitialspace=True)
    faults: list[str] = []
    rows: list[tuple[int, dict[str, str]]] = []
    names: list[str] = []
    line_number = first + 1
    try:
        for cells in reader:
            cells = [cell.strip() for cell in cells]  # noqa: PLW2901 - the raw row is of no further use
            if not names:
                names = [_column_name(cell) for cell in cells]
                faults += _header_faults(names, required, line_number)
            elif any(cells):
                row, fault = _row(names, cells, spill)
                rows.append((line_number, row))
                if fault:
                    faults.append(f"line {line_number}: {fault}")
            line_number = first + reader.line_num + 1
    except csv.Error as fault:
        faults.append(f"line {line_number}: cannot be read as CSV ({fault})")
    raise_faults(error, faults, where)
    return rows


def parse_number(text: str) -> float | None:
    """
    Read a number from a cell.

    Parameters
    ----------
    text : str
        A cell, such as ``"382"``, ``"349.3"``, or ``"349,3"`` with a comma as
        decimal sign.

    Returns
    -------
    float or None
        The number; None for a blank cell.

    Raises
    ------
    ValueError
        If the cell holds something else, or not a finite number.

    Examples
    --------
    >>> parse_number("349,3")
    349.3
    """
    text = text.strip()
    if text.lower() in _BLANKS:
        return None
    if not re.fullmatch(r"[+-]?\d*[.,]?\d+([.,])?", text, re.ASCII):
        message = f"{_cut(text)!r} is not a number"
        raise ValueError(message)
    number = float(text.replace(",", "."))
    if not math.isfinite(number):
        message = f"{_cut(text)!r} is too large"
        raise ValueError(message)
    return number


def _cut(text: str, longest: int = 40) -> str:
    """Cut a text to what fits a message."""
    return text if len(text) <= longest else f"{text[: longest - 4]} ..."


def _column_name(cell: str) -> str:
    """Bring a header cell to the form of the documented names."""
    return re.sub(r"[\s\-]+", "_", cell.strip().lower())


def _header_faults(names: list[str], required: Collection[str], line_number: int) -> list[str]:
    """Say which columns are missing or doubled."""
    missing = [name for name in required if name not in names]
    faults = []
    if missing:
        listed = _cut(", ".join(repr(_cut(name)) for name in names if name), _LONGEST_LIST)
        faults.append(f"line {line_number}: no column {' or '.join(missing)} in the header ({listed})")
    doubled = sorted({name for name in names if name and names.count(name) > 1})
    faults += [f"line {line_number}: the column {_cut(name)!r} is there twice" for name in doubled]
    return faults


def _row(names: list[str], cells: list[str], spill: str | None) -> tuple[dict[str, str], str | None]:
    """Give cells their names; surplus ones go to the spill column or are a fault."""
    fault = None
    surplus = cells[len(names) :]
    if any(surplus):
        if spill is not None and names[-1] == spill:
            cells = [*cells[: len(names) - 1], ";".join(cells[len(names) - 1 :])]
        else:
            fault = f"{len(cells)} cells under {len(names)} column names"
    cells = cells[: len(names)] + [""] * (len(names) - len(cells))
    row = {
        name: "" if cell.lower() in _BLANKS else cell for name, cell in zip(names, cells, strict=True) if name
    }
    return row, fault
