"""Rounds and reports that were made a moment ago, kept in the process: each look and each correction needs them."""

from __future__ import annotations

import hashlib
import sqlite3
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace
from typing import Generic, TypeVar

import pandas as pd

from geo.gpx import GpxFile
from geo.track import Track
from reports.page import round_report
from trackgolf.corrections import Corrections, write_corrections
from trackgolf.course import Course
from trackgolf.library.correcting import correct_round, read_notes, with_notes
from trackgolf.library.find import packed_recordings
from trackgolf.library.materials import Materials
from trackgolf.library.packing import unpack_recording
from trackgolf.library.read import materials_of
from trackgolf.library.rebuild import rebuild_round
from trackgolf.reconstruct import Laid, Round, lay_track
from trackgolf.tables import round_tables

__all__ = ["Shelf", "correct_at_hand", "report_at_hand", "round_at_hand"]

Value = TypeVar("Value")

# A round is some 2 MB, a report half of that; a person looks at a few. Common practice, no source.
_MOST_ROUNDS, _MOST_REPORTS = 8, 16


class Shelf(Generic[Value]):
    """
    The last few things that were made, by what they were made from.

    Parameters
    ----------
    most : int
        How many are kept.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Value] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """
        Give what is kept, or make it.

        Parameters
        ----------
        key : Hashable
            All that it is made from.
        make : callable
            Makes it; two who ask at once may both do so.

        Returns
        -------
        object
            What was made, now or earlier.
        """
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = make()
        self.put(key, made)
        return made

    def put(self, key: Hashable, value: Value) -> None:
        """
        Keep something.

        Parameters
        ----------
        key : Hashable
            All that it was made from.
        value : object
            It.
        """
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)


_ROUNDS: Shelf[Round] = Shelf(_MOST_ROUNDS)
_LAID: Shelf[Laid] = Shelf(_MOST_ROUNDS)
_REPORTS: Shelf[str] = Shelf(_MOST_REPORTS)


def round_at_hand(connection: sqlite3.Connection, number: int) -> Round:
    """
    Rebuild a round, unless that was done a moment ago.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    Round
        By today's method; its tables are not to be changed.

    Raises
    ------
    InputError
        If there is no such round, or it cannot be rebuilt.
    """
    materials, packed = materials_of(connection, number), packed_recordings(connection, number)
    return _rebuilt(materials, packed)


def correct_at_hand(
    connection: sqlite3.Connection, number: int, change: Callable[[Corrections], Corrections]
) -> Round:
    """
    Set something right in a round, and keep what comes of it.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.
    change : callable
        As of `trackgolf.library.correcting.correct_round`.

    Returns
    -------
    Round
        The round as it is now.

    Raises
    ------
    InputError
        As there; then nothing is changed.
    """
    materials, packed = materials_of(connection, number), packed_recordings(connection, number)
    played = correct_round(connection, number, change, rebuild=_rebuild)
    given = played.corrections
    text = write_corrections(given) if given is not None and given.entries else None
    if packed == packed_recordings(connection, number):
        # What it was made with, even if somebody corrected it again meanwhile.
        _ROUNDS.put(_key(replace(materials, corrections=text), packed), played)
    return played


def report_at_hand(connection: sqlite3.Connection, number: int) -> str:
    """
    Write the report of a round, unless that was done a moment ago.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    str
        An HTML page.

    Raises
    ------
    InputError
        If there is no such round, or it cannot be rebuilt.
    """
    materials, packed = materials_of(connection, number), packed_recordings(connection, number)
    notes = read_notes(connection, number)

    def write() -> str:
        return round_report(round_tables(with_notes(_rebuilt(materials, packed), notes)))

    return _REPORTS.get((_key(materials, packed), tuple(notes)), write)


def _rebuilt(materials: Materials, packed: list[bytes]) -> Round:
    return _ROUNDS.get(
        _key(materials, packed),
        lambda: _rebuild([unpack_recording(content) for content in packed], materials),
    )


def _rebuild(recordings: Sequence[GpxFile], materials: Materials) -> Round:
    """Rebuild a round, with its track laid on its course a moment ago."""

    def lay(track: Track, course: Course) -> Laid:
        # By the points themselves: what is kept must never be of another track.
        points = pd.util.hash_pandas_object(track.points, index=False).to_numpy()
        key = (materials.course, materials.tee, hashlib.sha256(points.tobytes()).digest())
        return _LAID.get(key, lambda: lay_track(track, course))

    return rebuild_round(recordings, materials, lay)


def _digests(packed: list[bytes]) -> tuple[bytes, ...]:
    return tuple(hashlib.sha256(content).digest() for content in packed)


def _key(materials: Materials, packed: list[bytes]) -> Hashable:
    """All that a round is made from; the method is that of this process."""
    return materials, _digests(packed)
