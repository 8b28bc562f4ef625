"""What people set right and note: kept beside the round, laid over it whenever it is rebuilt."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import pandas as pd

from geo.gpx import GpxFile
from trackgolf.corrections import Corrections, parse_corrections, write_corrections
from trackgolf.errors import InputError, LibraryError
from trackgolf.library import keys, sql, store
from trackgolf.library.coaching import note_text
from trackgolf.library.find import packed_recordings
from trackgolf.library.materials import Materials
from trackgolf.library.opening import writing
from trackgolf.library.read import read_round, round_row
from trackgolf.library.rebuild import local_time, rebuild_round, result_of
from trackgolf.library.runners import Runner, one_by_one
from trackgolf.library.tasks import RebuildTask, rebuild_task
from trackgolf.method import method_version
from trackgolf.reconstruct import Round

__all__ = [
    "RoundNote",
    "add_note",
    "clock_time",
    "correct_round",
    "read_corrections_of",
    "read_notes",
    "rebuild_older",
    "remove_note",
    "with_notes",
]

# Somebody else may correct the same round at the same time; so often it is tried again.
_MOST_TRIES = 5


@dataclass(frozen=True, slots=True)
class RoundNote:
    """
    What somebody noted about a round, a hole or a shot.

    Attributes
    ----------
    id : int
        Its number.
    hole, shot : int or None
        What it is about; None for the whole round or hole.
    text : str
        The note.
    made : str
        When, ISO 8601 UTC.
    """

    id: int
    hole: int | None
    shot: int | None
    text: str
    made: str


def read_corrections_of(connection: sqlite3.Connection, number: int) -> Corrections:
    """
    Read what was set right in a round.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    Corrections
        In the order they were made.

    Raises
    ------
    LibraryError
        If there is no such round.
    """
    _, materials, _ = read_round(connection, number)
    return _parsed(materials.corrections)


def correct_round(
    connection: sqlite3.Connection,
    number: int,
    change: Callable[[Corrections], Corrections],
    *,
    card: bytes | None = None,
    plan: bytes | None = None,
    rebuild: Callable[[Sequence[GpxFile], Materials], Round] = rebuild_round,
) -> Round:
    """
    Set something right in a round, and rebuild it; all in one transaction.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.
    change : callable
        Gives the new corrections for those that are there; called again
        should somebody else have corrected the round meanwhile.
    card, plan : bytes, optional
        A card and a plan for the round, in place of what it has.
    rebuild : callable, optional
        Rebuilds a round, as `trackgolf.library.rebuild.rebuild_round` does.

    Returns
    -------
    Round
        The round as it is now.

    Raises
    ------
    InputError
        If there is no such round, or it cannot be rebuilt like that; then
        nothing is changed.
    """
    for _ in range(_MOST_TRIES):
        _, materials, recordings = read_round(connection, number)
        corrections = change(_parsed(materials.corrections))
        text = write_corrections(corrections) if corrections.entries else None
        wanted = Materials(
            course=materials.course,
            tee=materials.tee,
            bag=materials.bag,
            plan=materials.plan if plan is None else plan,
            card=materials.card if card is None else card,
            corrections=text,
        )
        played = rebuild(recordings, wanted)
        result = result_of(played)
        with writing(connection):
            if store.set_corrections(connection, number, materials.corrections, text):
                if card is not None or plan is not None:
                    store.set_materials(connection, number, wanted)
                store.store_result(connection, number, result)
                return played
    raise LibraryError(f"round {number} is being corrected by another program", do="Do it again")


def clock_time(text: str, row: pd.Series) -> pd.Timestamp:
    """
    Understand a time of the course's clock on the day of a round, or a whole moment with its zone.

    Parameters
    ----------
    text : str
        Such as ``10:52:50``, or ISO 8601.
    row : pandas.Series
        The round, a row of `trackgolf.library.read.read_rounds`.

    Returns
    -------
    pandas.Timestamp
        UTC; after midnight if the round began late.

    Raises
    ------
    InputError
        If it is not a time, or one that the clocks there showed twice or
        never because they were changed.
    """
    start = local_time(row["start_time"], row["time_zone"])
    try:
        moment = pd.Timestamp(text if "T" in text else f"{row['day']}T{text}")
        if moment.tzinfo is None:
            moment = _on_the_clock(moment, row, start.tzinfo, text)
        if "T" not in text and moment < start - pd.Timedelta(hours=12):
            moment += pd.Timedelta(days=1)
        found: pd.Timestamp = moment.tz_convert("UTC")
    except (ValueError, OverflowError, TypeError, AttributeError) as fault:
        raise InputError(f"{text[:40]!r} is not a time", None, "Write it as 10:52:50") from fault
    if not text or pd.isna(found):
        raise InputError("no time was given", None, "Write it as 10:52:50")
    return found


def _on_the_clock(local: pd.Timestamp, row: pd.Series, zone: Any, text: str) -> pd.Timestamp:
    """Find when a clock showed a time: twice in the hour that is repeated in autumn, never in the one left out in spring."""
    both = [local.tz_localize(zone, ambiguous=summer, nonexistent="NaT") for summer in (True, False)]
    moments = list(dict.fromkeys(moment for moment in both if not pd.isna(moment)))
    if len(moments) > 1:
        played = [moment for moment in moments if row["start_time"] <= moment <= row["end_time"]]
        moments = played or moments
    if not moments:
        raise InputError(f"the clocks there never showed {text[:40]!r}: they were put forward past it")
    if len(moments) > 1:
        ways = " or ".join(moment.isoformat() for moment in moments)
        raise InputError(
            f"the clocks there showed {text[:40]!r} twice: they were put back", None, f"Write {ways}"
        )
    return moments[0]


def rebuild_older(connection: sqlite3.Connection, *, run: Runner = one_by_one) -> Iterator[tuple[int, str]]:
    """
    Rebuild the rounds that another method made, each in a transaction of its own.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    run : Runner, optional
        What the work runs on.

    Yields
    ------
    number : int
        A round that was rebuilt, or could not be.
    fault : str
        Why it could not be; "" if it was.
    """
    numbers = [int(row["id"]) for row in connection.execute(sql.OLDER_METHOD, (method_version(),))]
    old: dict[int, str | None] = {}

    def tasks() -> Iterator[RebuildTask]:
        for number in numbers:
            _, materials, _ = read_round(connection, number)
            old[number] = materials.corrections
            yield RebuildTask((), tuple(packed_recordings(connection, number)), b"", materials)

    for number, done in zip(numbers, run(rebuild_task, tasks()), strict=True):
        if done.result is not None:
            with writing(connection):
                # Corrected meanwhile, it was rebuilt by today's method with that.
                if store.set_corrections(connection, number, old[number], old[number]):
                    store.store_result(connection, number, done.result)
        yield number, done.fault


def add_note(
    connection: sqlite3.Connection,
    number: int,
    text: str,
    *,
    hole: int | None = None,
    shot: int | None = None,
) -> None:
    """
    Note something about a round, a hole or a shot.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.
    text : str
        The note.
    hole, shot : int, optional
        What it is about.

    Raises
    ------
    LibraryError
        If there is no such round, or the note is empty or of a shot without
        a hole.
    """
    round_row(connection, number)
    said = note_text(text)
    if not said or (shot is not None and hole is None):
        raise LibraryError("the note is empty" if not said else "a shot is named without its hole", "--note")
    if max(hole or 0, shot or 0) > sql.LARGEST_NUMBER:
        raise LibraryError("there is no such hole or shot", "--note", "Name one that was played")
    with writing(connection):
        connection.execute(sql.ADD_NOTE, (number, hole, shot, said, keys.iso_time(datetime.now(UTC))))


def remove_note(connection: sqlite3.Connection, number: int, note: int) -> None:
    """
    Take a note back.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.
    note : int
        Number of the note.

    Raises
    ------
    LibraryError
        If the round has no such note.
    """
    round_row(connection, number)
    with writing(connection):
        gone = 0
        if note <= sql.LARGEST_NUMBER:
            gone = connection.execute(sql.DELETE_NOTE, (number, note)).rowcount
    if not gone:
        raise LibraryError(
            f"round {number} has no note {str(note)[:20]}", do="See its notes with: trackgolf correct"
        )


def read_notes(connection: sqlite3.Connection, number: int) -> list[RoundNote]:
    """
    Read the notes on a round.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    list of RoundNote
        Of the round, then by hole and shot.
    """
    return [RoundNote(*row) for row in connection.execute(sql.NOTES, (number,))]


def with_notes(played: Round, notes: list[RoundNote]) -> Round:
    """
    Put notes where a report shows them: beside the hole or shot they are about.

    Parameters
    ----------
    played : Round
        The round.
    notes : list of RoundNote
        From `read_notes`.

    Returns
    -------
    Round
        With the notes in the column ``note`` of its holes and shots; a note
        on the whole round stands at its first hole.
    """
    shots, holes = played.shots.copy(), played.holes.copy()
    for note in notes:
        table, rows = holes, holes["hole"] == note.hole
        if note.hole is None:
            rows = pd.Series(holes.index == holes.index[0], index=holes.index)
        elif note.shot is not None:
            table, rows = shots, (shots["hole"] == note.hole) & (shots["shot"] == note.shot)
        head = "noted of the round" if note.hole is None else "noted"
        table.loc[rows, "note"] = [
            "; ".join(filter(None, (str(said), f"{head}: {note.text}"))) for said in table.loc[rows, "note"]
        ]
    return replace(played, shots=shots, holes=holes)


def _parsed(text: str | None) -> Corrections:
    return Corrections() if text is None else parse_corrections(text, "corrections of the library")
