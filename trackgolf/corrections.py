"""What a player sets right by hand: a layer beside the track, kept as JSON and laid over every new decoding."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass, fields, replace
from typing import Any

import pandas as pd

from geo.errors import raise_faults
from geo.files import decode_text, read_small_file
from trackgolf.correction_fields import END_LIES, LIES, SCHEMA, quoted, read_fields
from trackgolf.errors import CorrectionsError

__all__ = [
    "END_LIES",
    "LIES",
    "SCHEMA",
    "VERSION",
    "Correction",
    "Corrections",
    "parse_corrections",
    "read_corrections",
    "write_corrections",
]

VERSION = 1
_FORMAT = "trackgolf corrections"


@dataclass(frozen=True, slots=True)
class Correction:
    """
    One thing a player set right.

    Attributes
    ----------
    id : str
        Its own name within the file.
    what : str
        One of `SCHEMA`.
    hole : int or None
        Number of the hole on the card.
    time : pandas.Timestamp or None
        Moment of the stroke (UTC). For what belongs to a whole hole: any moment of the playing that is meant, where
        the hole was played more than once.
    lon_deg, lat_deg : float or None
        Where the shot was played from, WGS 84 [deg].
    to_hole : int or None
        The hole a shot really belongs to.
    club, lie, end_lie : str or None
        Of the shot.
    penalty : int or None
        Penalty strokes that followed from the shot.
    putts, penalties, strokes : int or None
        Of the hole.
    picked_up : bool or None
        Whether the hole was picked up.
    tee : str or None
        Tee that the round was played from.
    note : str
        What the player wants to remember of it.
    made : pandas.Timestamp or None
        When the correction was made (UTC).
    """

    id: str
    what: str
    hole: int | None = None
    time: pd.Timestamp | None = None
    lon_deg: float | None = None
    lat_deg: float | None = None
    to_hole: int | None = None
    club: str | None = None
    lie: str | None = None
    end_lie: str | None = None
    penalty: int | None = None
    putts: int | None = None
    penalties: int | None = None
    strokes: int | None = None
    picked_up: bool | None = None
    tee: str | None = None
    note: str = ""
    made: pd.Timestamp | None = None

    @property
    def of_shot(self) -> bool:
        """Whether it speaks of one shot, not of a hole or the round."""
        return "time" in SCHEMA[self.what][0]

    @property
    def label(self) -> str:
        """The correction in a few words, for messages."""
        moment = "" if self.time is None else f" at {_iso(self.time)[11:19]} UTC"
        return f"correction {self.id!r} ({self.what}{moment})"


@dataclass(frozen=True, slots=True)
class Corrections:
    """Corrections in the order they were made: of two that contradict each other the later counts."""

    entries: tuple[Correction, ...] = ()

    @property
    def tee(self) -> str | None:
        """The tee that the round was played from, where the player says so."""
        named = [entry.tee for entry in self.entries if entry.what == "tee"]
        return named[-1] if named else None

    def adding(self, correction: Correction) -> Corrections:
        """
        Add a correction at the end.

        Parameters
        ----------
        correction : Correction
            A new one.

        Returns
        -------
        Corrections
            These and the new one.

        Raises
        ------
        CorrectionsError
            If it is not complete, or its id is taken.
        """
        return parse_corrections(
            write_corrections(Corrections((*self.entries, correction))), f"correction {correction.id!r}"
        )

    def without(self, taken_back: str) -> Corrections:
        """
        Take a correction back.

        Parameters
        ----------
        taken_back : str
            Its id.

        Returns
        -------
        Corrections
            The others.

        Raises
        ------
        CorrectionsError
            If there is none of that id.
        """
        left = tuple(entry for entry in self.entries if entry.id != taken_back)
        if len(left) == len(self.entries):
            raise CorrectionsError(
                f"there is no correction {taken_back[:40]!r}", None, "Give the id of one that is there"
            )
        return replace(self, entries=left)

    def next_id(self) -> str:
        """
        Make an id that is not taken.

        Returns
        -------
        str
            ``c1``, ``c2`` and so on.
        """
        taken = {entry.id for entry in self.entries}
        number = len(taken) + 1
        while f"c{number}" in taken:
            number += 1
        return f"c{number}"


def read_corrections(path: str | os.PathLike[str]) -> Corrections:
    """
    Read a file of corrections.

    Parameters
    ----------
    path : str or os.PathLike
        JSON as `write_corrections` writes it and the README describes it.

    Returns
    -------
    Corrections
        In the order of the file.

    Raises
    ------
    CorrectionsError
        With all faults of the file.
    """
    return parse_corrections(decode_text(read_small_file(path, CorrectionsError, "corrections")), str(path))


def parse_corrections(text: str, where: str) -> Corrections:
    """
    Understand corrections written as JSON.

    Parameters
    ----------
    text : str
        A JSON document.
    where : str
        What it was read from, for messages.

    Returns
    -------
    Corrections
        In the order of the document.

    Raises
    ------
    CorrectionsError
        With all faults of the document.

    Examples
    --------
    >>> text = '{"format": "trackgolf corrections", "version": 1, "corrections": []}'
    >>> parse_corrections(text, "invented.json")
    Corrections(entries=())
    """
    document = _load(text, where)
    faults: list[str] = []
    version = document.get("version")
    if isinstance(version, int) and not isinstance(version, bool) and version > VERSION:
        raise CorrectionsError(
            f"version {version} of the corrections is newer than this program, which knows {VERSION}",
            where,
            "Use a newer trackgolf",
        )
    if isinstance(version, bool) or version != VERSION:
        faults.append(f"version is {quoted(version)}, not {VERSION}")
    strange = sorted(set(document) - {"format", "version", "corrections", "invented"})
    faults += [f"{key[:40]!r} is not known here" for key in strange]
    listed = document.get("corrections")
    if not isinstance(listed, list):
        faults.append("corrections is not a list")
        listed = []
    seen: dict[str, int] = {}
    entries = []
    for number, values in enumerate(listed, start=1):
        told: list[str] = []
        read = read_fields(values, told)
        entry = None if read is None else Correction(**read)
        name = values.get("id") if isinstance(values, dict) else None
        said = f" ({name[:40]!r})" if isinstance(name, str) and name else ""
        if entry is not None and entry.id in seen:
            told.append(f"its id is that of correction {seen[entry.id]}")
        faults += [f"correction {number}{said}: {fault}" for fault in told]
        if entry is not None:
            seen.setdefault(entry.id, number)
            entries.append(entry)
    raise_faults(CorrectionsError, faults, where)
    return Corrections(tuple(entries))


def write_corrections(corrections: Corrections) -> str:
    """
    Write corrections as JSON.

    Parameters
    ----------
    corrections : Corrections
        What was set right.

    Returns
    -------
    str
        One correction a line; times ISO 8601 UTC, positions WGS 84 [deg]. `read_corrections` gives the same again.
    """
    lines = [json.dumps(_values(entry), ensure_ascii=False) for entry in corrections.entries]
    inner = "".join(f"\n  {line}{',' if number < len(lines) else ''}" for number, line in enumerate(lines, 1))
    end = "\n" if lines else ""
    return f'{{"format": "{_FORMAT}", "version": {VERSION}, "corrections": [{inner}{end}]}}\n'


def _values(entry: Correction) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for item in fields(entry):
        value = getattr(entry, item.name)
        if value is None or value == "":
            continue
        values[item.name] = _iso(value) if isinstance(value, pd.Timestamp) else value
    return values


def _iso(time: pd.Timestamp) -> str:
    text = time.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%S.%f").rstrip("0").rstrip(".")
    return f"{text}Z"


def _load(text: str, where: str) -> dict[str, Any]:
    try:
        document = json.loads(text, object_pairs_hook=_no_twins, parse_constant=_no_constant)
    except _TwinError as fault:
        raise CorrectionsError(f"{str(fault)[:40]!r} is given twice in one place", where) from fault
    except json.JSONDecodeError as fault:
        raise CorrectionsError(
            f"not valid JSON: {fault.msg.lower()}, line {fault.lineno}, column {fault.colno}", where
        ) from fault
    except ValueError as fault:
        raise CorrectionsError(f"not valid JSON: {fault}", where) from fault
    except RecursionError as fault:
        raise CorrectionsError("not valid JSON: nested too deeply", where) from fault
    if not isinstance(document, dict) or document.get("format") != _FORMAT:
        raise CorrectionsError(
            f'these are no corrections: "format" is not "{_FORMAT}"', where, "Give a file of corrections"
        )
    return document


class _TwinError(ValueError):
    """A key that is there twice, of which JSON would silently keep one."""


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for key, value in pairs:
        if key in values:
            raise _TwinError(key)
        values[key] = value
    return values


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")
