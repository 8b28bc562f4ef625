"""Work that waits its turn: what was uploaded, how far it is, and what became of it; all of it in the library."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO, Any, Literal

from trackgolf.errors import LibraryError
from trackgolf.library import sql
from trackgolf.library.keys import iso_time, player_key
from trackgolf.library.opening import writing
from trackgolf.library.outcomes import Outcome

__all__ = [
    "Job",
    "JobFile",
    "NewFile",
    "add_job",
    "begin_next",
    "copy_file",
    "end_job",
    "put_back",
    "read_job",
    "read_jobs",
    "read_outcomes",
    "read_pace",
    "record_outcome",
    "set_looked",
    "set_tracks",
]

# Pieces in which files go into the library and out of it [bytes].
_PIECE = 1 << 20
# How long it is told what became of an upload. Common practice, no source.
_KEPT = timedelta(days=30)
# Room that finished uploads leave in the file and nobody uses is given back from this much on [pages of 4 kB].
_MUCH_ROOM = 4_000


@dataclass(frozen=True, slots=True)
class NewFile:
    """
    A file that was uploaded.

    Attributes
    ----------
    kind : str
        ``track``, or which document: ``course``, ``scorecard``, ``bag``,
        ``plan``, ``card``.
    name : str
        What to call it in messages.
    stream : file object
        Its content; read from the start to the end.
    """

    kind: str
    name: str
    stream: IO[bytes]


@dataclass(frozen=True, slots=True)
class JobFile:
    """A file of a job in the library: its number `id`, its `kind` and `name` as of `NewFile`."""

    id: int
    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class Job:
    """
    An upload on its way to rounds.

    Attributes
    ----------
    id : int
        Its number.
    player : str
        Whose rounds.
    state : {"waiting", "running", "done", "failed"}
        How it stands.
    choices : dict
        What was chosen with it.
    made, begun, ended : str or None
        When it came, was last begun and ended, ISO 8601 UTC.
    tries : int
        How often it was begun.
    tracks : int or None
        How many tracks it holds; None until that is known.
    looked : int
        How many have been looked at since it was last begun.
    fault : str or None
        Why it failed.
    before : int
        How many jobs come before it.
    """

    id: int
    player: str
    state: Literal["waiting", "running", "done", "failed"]
    choices: dict[str, str]
    made: str
    begun: str | None
    ended: str | None
    tries: int
    tracks: int | None
    looked: int
    fault: str | None
    before: int


def add_job(
    connection: sqlite3.Connection, player: str, choices: Mapping[str, str], files: Iterable[NewFile]
) -> int:
    """
    Keep an upload whole, for a process to work on it.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    player : str
        Whose rounds it holds.
    choices : mapping of str to str
        What was chosen with it.
    files : iterable of NewFile
        Its files; copied in pieces.

    Returns
    -------
    int
        Number of the job; never given twice.
    """
    with writing(connection):
        values = {"player": player, "key": player_key(player), "choices": json.dumps(dict(choices))}
        job = int(connection.execute(sql.ADD_JOB, values | {"now": _now()}).lastrowid or 0)
        for position, file in enumerate(files):
            size = file.stream.seek(0, 2)
            file.stream.seek(0)
            row = connection.execute(sql.ADD_JOB_FILE, (job, position, file.kind, file.name, size)).lastrowid
            if not size:
                continue
            with connection.blobopen("job_file", "content", int(row or 0)) as blob:
                while piece := file.stream.read(_PIECE):
                    blob.write(piece)
    return job


def copy_file(connection: sqlite3.Connection, file: JobFile, place: Path) -> None:
    """
    Write a file of a job to the disk.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    file : JobFile
        From `begin_next`.
    place : pathlib.Path
        Where to.
    """
    with (
        place.open("wb") as out,
        connection.blobopen("job_file", "content", file.id, readonly=True) as blob,
    ):
        while piece := blob.read(_PIECE):
            out.write(piece)


def begin_next(connection: sqlite3.Connection) -> tuple[Job, list[JobFile]] | None:
    """
    Take the next job in hand; one that a process left unfinished comes first.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library. Only one process at a time may call this.

    Returns
    -------
    tuple of Job and list of JobFile, or None
        The job and its files; None if nothing waits.
    """
    number = connection.execute(sql.NEXT_JOB).fetchone()[0]
    if number is None:
        return None
    with writing(connection):
        connection.execute(sql.DELETE_OLD_JOBS, (iso_time(datetime.now(UTC) - _KEPT),))
        connection.execute(sql.BEGIN_JOB, (_now(), number))
    files = [JobFile(*row) for row in connection.execute(sql.JOB_FILES, (number,))]
    return read_job(connection, number), files


def put_back(connection: sqlite3.Connection, job: int) -> None:
    """
    Let a job wait again that was not finished, and through no fault of its own.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    job : int
        Number of the job.
    """
    with writing(connection):
        connection.execute(sql.PUT_JOB_BACK, (job,))


def end_job(connection: sqlite3.Connection, job: int, fault: str | None = None) -> None:
    """
    Say that a job is done with, and drop what was uploaded.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    job : int
        Number of the job.
    fault : str, optional
        Why it could not be finished.
    """
    with writing(connection):
        values = {"job": job, "state": "done" if fault is None else "failed", "now": _now(), "fault": fault}
        connection.execute(sql.END_JOB, values)
        connection.execute(sql.DELETE_JOB_FILES, (job,))
    pages, free = (int(connection.execute(ask).fetchone()[0]) for ask in (sql.PAGES, sql.FREE_PAGES))
    if free > max(_MUCH_ROOM, pages // 2):
        # Somebody may be reading; then there is more room to give back next time.
        with contextlib.suppress(sqlite3.OperationalError):
            connection.execute("VACUUM")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def read_job(connection: sqlite3.Connection, number: int) -> Job:
    """
    Say how a job stands.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The job.

    Returns
    -------
    Job
        The job.

    Raises
    ------
    LibraryError
        If there is none, or not any more.
    """
    row = None
    if 0 < number <= sql.LARGEST_NUMBER:
        row = connection.execute(sql.JOB, (number,)).fetchone()
    if row is None:
        raise LibraryError(f"there is no upload {str(number)[:20]}", None, "See the rounds there are")
    return _job(row)


def read_jobs(connection: sqlite3.Connection) -> list[Job]:
    """
    List the jobs.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    list of Job
        Those not forgotten yet, the last first.
    """
    return [_job(row) for row in connection.execute(sql.JOBS)]


def set_tracks(connection: sqlite3.Connection, job: int, tracks: int) -> None:
    """
    Say how many tracks a job holds.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    job : int
        Number of the job.
    tracks : int
        How many.
    """
    with writing(connection):
        connection.execute(sql.SET_JOB_TRACKS, (tracks, job))


def set_looked(connection: sqlite3.Connection, job: int, looked: int) -> None:
    """
    Say how many tracks of a job have been looked at.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    job : int
        Number of the job.
    looked : int
        How many.
    """
    with writing(connection):
        connection.execute(sql.SET_JOB_LOOKED, (looked, job))


def record_outcome(connection: sqlite3.Connection, job: int, outcome: Outcome) -> None:
    """
    Keep what became of tracks; call it within `opening.writing`.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    job : int
        Number of the job.
    outcome : Outcome
        What became of them.

    Raises
    ------
    LibraryError
        If the job is not running any more, because its player was forgotten:
        then nothing of it is to be kept.
    """
    values = {
        "job": job,
        "kind": outcome.kind,
        "round": outcome.round,
        "names": json.dumps(outcome.names),
        "text": outcome.text,
        "notes": json.dumps(outcome.notes),
    }
    if not connection.execute(sql.ADD_JOB_OUTCOME, values).rowcount:
        raise LibraryError("this upload was taken out of the library meanwhile")


def read_outcomes(connection: sqlite3.Connection, job: int) -> list[Outcome]:
    """
    Say what became of the tracks of a job.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    job : int
        Number of the job.

    Returns
    -------
    list of Outcome
        In the order they became known.
    """
    return [
        Outcome(_texts(row["names"]), row["kind"], row["round"], row["text"], _texts(row["notes"]))
        for row in connection.execute(sql.JOB_OUTCOMES, (job,))
    ]


def read_pace(connection: sqlite3.Connection) -> float | None:
    """
    Say how long a track took in the last jobs of this library.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    float or None
        Seconds a track [s]; None if there is no job to tell it from.
    """
    rows: Sequence[sqlite3.Row] = connection.execute(sql.JOB_PACES).fetchall()
    tracks = sum(row["tracks"] for row in rows)
    if not tracks:
        return None
    spans_s: list[float] = [
        (datetime.fromisoformat(row["ended"]) - datetime.fromisoformat(row["begun"])).total_seconds()
        for row in rows
    ]
    return sum(spans_s) / int(tracks)


def _job(row: sqlite3.Row) -> Job:
    values: dict[str, Any] = dict(row) | {"choices": json.loads(row["choices"])}
    return Job(**values)


def _texts(text: str) -> tuple[str, ...]:
    return tuple(str(one) for one in json.loads(text))


def _now() -> str:
    return iso_time(datetime.now(UTC))
