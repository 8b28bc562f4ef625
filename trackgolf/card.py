"""The played card: strokes, putts, penalties and clubs of each hole, from a CSV file."""

from __future__ import annotations

import os
import re

import pandas as pd

from geo.errors import raise_faults
from trackgolf.bag import Bag
from trackgolf.club_names import parse_club_name
from trackgolf.csv_table import parse_number, read_csv_table
from trackgolf.errors import CardError

__all__ = ["read_card"]

_LAST_HOLE = 36
# Whole numbers a card can hold; beyond them a slip of the pen. Common practice, no source.
_RANGES = {"strokes": (1, 40), "putts": (0, 20), "penalties": (0, 20)}
_PLAYED = frozenset({*_RANGES, "clubs"})
# What people write instead of strokes for a hole they did not finish.
_PICKED_UP = frozenset({"x", "xx", "pu", "p/u", "nr", "n/r", "dnf", "picked up", "wd"})
_SUM_ROWS = frozenset({"out", "in", "total", "sum", "tot", "front", "back", "f9", "b9", "front 9", "back 9"})


def read_card(path: str | os.PathLike[str], bag: Bag) -> pd.DataFrame:
    """
    Read the card of a round that was played.

    Parameters
    ----------
    path : str or os.PathLike
        CSV with the column ``hole`` and any of ``strokes``, ``putts``,
        ``penalties``, ``clubs`` (names separated by ``;``, the putter not
        needed). Any cell may be empty; rows of sums are passed over.
    bag : Bag
        The clubs that names can mean.

    Returns
    -------
    pandas.DataFrame
        A row a hole, in the order of the file: ``hole`` (int), ``strokes``,
        ``putts``, ``penalties`` (Int64, missing where unknown; a hole picked
        up has no strokes), ``clubs`` (tuple of names as the bag has them,
        ``""`` within it for a shot whose club is not given, ``()`` unknown).

    Raises
    ------
    CardError
        With all faults of the file and the line of each.
    """
    faults: list[str] = []
    rows: list[dict[str, object]] = []
    lines_of: dict[int, int] = {}
    table = read_csv_table(path, CardError, kind="played card", required=("hole",), spill="clubs")
    columns = set(table[0][1]) if table else set()
    if "par" in columns and not columns & _PLAYED:
        # Else every hole would read as picked up.
        raise CardError(
            "this looks like the course's own card: it has no strokes, putts, penalties or clubs",
            str(path),
            "Give that as --scorecard",
        )
    for line, cells in table:
        if cells["hole"].lower() in _SUM_ROWS:
            continue
        where = f"line {line}"
        hole = _whole(cells["hole"], "hole", (1, _LAST_HOLE), where, faults)
        if hole is None:
            if not cells["hole"]:
                faults.append(f"{where}: no hole number")
            continue
        where = f"line {line}, hole {hole}"
        if hole in lines_of:
            faults.append(f"{where}: this hole is on line {lines_of[hole]} already")
            continue
        lines_of[hole] = line

        numbers: dict[str, int | None] = {}
        for name, limits in _RANGES.items():
            cell = cells.get(name, "")
            if name == "strokes" and cell.lower() in _PICKED_UP:
                cell = ""
            numbers[name] = _whole(cell, name, limits, where, faults)
        clubs = _clubs(cells.get("clubs", ""), bag, where, faults)
        faults += _contradictions(numbers, clubs, where)
        rows.append({"hole": hole, **numbers, "clubs": clubs})

    if not rows and not faults:
        faults.append("there are no holes below the header")
    raise_faults(CardError, faults, str(path))
    card = pd.DataFrame(rows, columns=["hole", "strokes", "putts", "penalties", "clubs"])
    return card.astype({"hole": "int64", "strokes": "Int64", "putts": "Int64", "penalties": "Int64"})


def _whole(cell: str, name: str, limits: tuple[int, int], where: str, faults: list[str]) -> int | None:
    """Read a whole number in a range; what is none is a fault."""
    try:
        number = parse_number(cell)
    except ValueError as fault:
        faults.append(f"{where}: {name}: {fault}")
        return None
    if number is None:
        return None
    low, high = limits
    if number != int(number) or not low <= number <= high:
        picked_up = "; leave it empty for a hole picked up" if name == "strokes" and number == 0 else ""
        faults.append(f"{where}: {name} {cell!r} is not a whole number from {low} to {high}{picked_up}")
        return None
    return int(number)


def _clubs(cell: str, bag: Bag, where: str, faults: list[str]) -> tuple[str, ...]:
    """Turn written names into those of the bag; the putter is not counted among them."""
    clubs: list[str] = []
    for said in re.split(r"[;,|]", cell):
        said = said.strip()  # noqa: PLW2901 - the raw piece is of no further use
        parsed = parse_club_name(said)
        if parsed is not None and parsed.kind == "putter":
            continue
        club = bag.find_club(said)
        if said.strip("?-–—") == "":
            clubs.append("")
        elif club is None:
            names = ", ".join(club.name for club in bag.clubs)
            faults.append(f"{where}: {said[:40]!r} is no club of the bag, or not one alone ({names})")
        else:
            clubs.append(club.name)
    while clubs and not clubs[-1]:
        clubs.pop()
    return tuple(clubs)


def _contradictions(numbers: dict[str, int | None], clubs: tuple[str, ...], where: str) -> list[str]:
    """Say where the numbers of a hole cannot all be true: at least one stroke is neither putt nor penalty."""
    strokes = numbers["strokes"]
    if strokes is None:
        return []
    putts, penalties = numbers["putts"] or 0, numbers["penalties"] or 0
    if putts + penalties >= strokes:
        return [f"{where}: {strokes} strokes cannot hold {putts} putts, {penalties} penalties and a tee shot"]
    if len(clubs) > strokes - penalties:
        return [f"{where}: {len(clubs)} clubs for {strokes} strokes, {penalties} of them penalties"]
    return []
