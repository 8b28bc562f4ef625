"""Text for a terminal: columns that line up, and nothing that a terminal would obey."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["printable", "text_table"]


def text_table(rows: Sequence[Sequence[str]]) -> str:
    """
    Lay out rows of cells in columns.

    Parameters
    ----------
    rows : sequence of sequence of str
        The cells, the heading first; every row as long as the others.

    Returns
    -------
    str
        A line a row: columns to the right, the last one as it is.

    Examples
    --------
    >>> print(text_table([("hole", "par", "notes"), ("1", "4", "bends left")]))
    hole  par  notes
       1    4  bends left
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)][:-1]
    return "\n".join(
        "  ".join([*(cell.rjust(width) for cell, width in zip(row, widths, strict=False)), row[-1]]).rstrip()
        for row in rows
    )


def printable(text: str) -> str:
    r"""
    Keep control characters of a file's texts out of the terminal.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The same with a space for each character that is not shown.

    Examples
    --------
    >>> printable("9 \x1b[2J iron")
    '9  [2J iron'
    """
    return "".join(char if char.isprintable() else " " for char in text)
