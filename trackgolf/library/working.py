"""One job of the library done: its files to rounds, going on where it was left."""

from __future__ import annotations

import sqlite3
import time
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from trackgolf.errors import InputError
from trackgolf.library import jobs
from trackgolf.library.find import known_courses
from trackgolf.library.gather import TrackSource, find_tracks
from trackgolf.library.importing import import_tracks
from trackgolf.library.jobs import Job, JobFile
from trackgolf.library.materials import CourseFiles, read_course_files
from trackgolf.library.opening import writing
from trackgolf.library.outcomes import ImportOptions, Outcome
from trackgolf.library.runners import Runner
from trackgolf.library.tasks import GIVE_COURSE

__all__ = ["ArchiveLimits", "Stopped", "check_archive", "do_job", "job_options"]

# A job that was begun so often and never ended takes its process down with it.
_MOST_TRIES = 3
# How often the number of tracks looked at is written down [s].
_BEAT_S = 0.5


class Stopped(Exception):  # noqa: N818
    """Somebody asked for a job to be left for later."""


@dataclass(frozen=True, slots=True)
class ArchiveLimits:
    """
    The most that is taken of an archive.

    Attributes
    ----------
    members : int
        Most files in it.
    unpacked : int
        Most that it may unpack to [bytes].
    ratio : float
        Most that one file of it may unpack to, times its packed size.
    """

    members: int
    unpacked: int
    ratio: float


def do_job(
    connection: sqlite3.Connection,
    job: Job,
    files: Sequence[JobFile],
    folder: Path,
    *,
    run: Callable[[int], Runner],
    limits: ArchiveLimits,
    stopping: Callable[[], bool] = lambda: False,
) -> None:
    """
    Rebuild the rounds of a job and keep them; what was kept of it already is left alone.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    job : Job
        From `jobs.begin_next`, with its `files`.
    files : sequence of JobFile
        Its files.
    folder : pathlib.Path
        An empty folder to put them into.
    run : callable
        Gives what tasks run on, for a number of tracks.
    limits : ArchiveLimits
        The most that is taken of an archive.
    stopping : callable, optional
        Whether to stop and leave the rest for later.

    Raises
    ------
    Stopped
        If it was left for later.
    """
    if job.tries > _MOST_TRIES:
        fault = "this upload was begun three times and never came to an end; what is listed here was kept"
        jobs.end_job(connection, job.id, fault)
        return
    try:
        _do(connection, job, files, folder, run=run, limits=limits, stopping=stopping)
    except InputError as error:
        jobs.end_job(connection, job.id, _plainly(str(error), {}))
    else:
        jobs.end_job(connection, job.id)


def _do(
    connection: sqlite3.Connection,
    job: Job,
    files: Sequence[JobFile],
    folder: Path,
    *,
    run: Callable[[int], Runner],
    limits: ArchiveLimits,
    stopping: Callable[[], bool],
) -> None:
    earlier = jobs.read_outcomes(connection, job.id)
    finished = {name for outcome in earlier for name in outcome.names}
    documents: dict[str, bytes] = {}
    sources: list[TrackSource] = []
    shown: dict[str, str] = {}
    count = 0
    for number, file in enumerate(files, start=1):
        place = folder / f"track-{number}.gpx"
        jobs.copy_file(connection, file, place)
        if file.kind != "track":
            documents[file.kind] = place.read_bytes()
            continue
        shown[str(place)] = file.name
        try:
            check_archive(place, file.name, limits)
            found, faults = find_tracks([place])
        except InputError as error:
            found, faults = [], [error]
        count += len(found) + len(faults)
        sources += [replace(one, name=one.name.replace(str(place), file.name)) for one in found]
        for fault in faults:
            if file.name not in finished:
                outcome = Outcome((file.name,), "fault", None, _plainly(str(fault), shown))
                _record(connection, job.id, outcome)
    jobs.set_tracks(connection, job.id, count)
    options = job_options(connection, job.choices, documents)
    sources = [source for source in sources if source.name not in finished]
    beat = time.monotonic()

    def looked(number: int) -> None:
        nonlocal beat
        if stopping():
            raise Stopped
        if time.monotonic() - beat > _BEAT_S or number == len(sources):
            beat = time.monotonic()
            jobs.set_looked(connection, job.id, number + count - len(sources))

    def record(outcome: Outcome) -> None:
        said = replace(outcome, text=_plainly(outcome.text, shown))
        jobs.record_outcome(connection, job.id, said)

    for _ in import_tracks(connection, sources, options, run=run(len(sources)), looked=looked, record=record):
        if stopping():
            raise Stopped


def job_options(
    connection: sqlite3.Connection, choices: Mapping[str, str], documents: Mapping[str, bytes]
) -> ImportOptions:
    """
    Say what was named for an import.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    choices : mapping of str to str
        ``player``, ``course`` (number of a course of the library, or
        ``guess``), ``tee``, ``together``, ``no_plan``; "" or missing for what
        was left open.
    documents : mapping of str to bytes
        ``course``, ``scorecard``, ``bag``, ``plan`` and ``card``, where given.

    Returns
    -------
    ImportOptions
        The same for the import.

    Raises
    ------
    InputError
        If a course cannot be read or is not there.
    """
    tee = choices.get("tee", "").strip() or None
    guess = choices.get("course", "") == "guess"
    course = None
    if "course" in documents or "scorecard" in documents:
        files = CourseFiles("", documents.get("course"), documents.get("scorecard"))
        course = replace(files, name=read_course_files(files, tee).name)
    elif choices.get("course", "") and not guess:
        wanted = {str(known.course): known.files for known in known_courses(connection)}
        if choices["course"] not in wanted:
            raise InputError("there is no such course in the library", None, "Choose another")
        course = wanted[choices["course"]]
    together: dict[str, Literal["ask", "join", "apart"]] = {"join": "join", "apart": "apart"}
    return ImportOptions(
        course=course,
        tee=tee,
        player=choices.get("player", "").strip() or None,
        bag=documents.get("bag"),
        plan=documents.get("plan"),
        card=documents.get("card"),
        find_plan=not choices.get("no_plan"),
        guess=guess,
        together=together.get(choices.get("together", ""), "ask"),
    )


def check_archive(path: Path, name: str, limits: ArchiveLimits) -> None:
    """
    Refuse an archive that holds more than tracks need, before anything of it is unpacked.

    Parameters
    ----------
    path : pathlib.Path
        A file; one that is no archive passes.
    name : str
        What to call it.
    limits : ArchiveLimits
        The limits.

    Raises
    ------
    InputError
        If it holds too many files, unpacks to too much, or to far more than
        its size.
    """
    with path.open("rb") as file:
        # Source: APPNOTE.TXT 6.3.10 (ZIP), 4.3.7 and 4.3.16: a member's header, or the end of an empty archive.
        if file.read(4) not in (b"PK\x03\x04", b"PK\x05\x06"):
            return
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
    except (OSError, ValueError, NotImplementedError, zipfile.BadZipFile) as fault:
        raise InputError("the archive is damaged", name, "Pack it again") from fault
    if len(members) > limits.members:
        what = f"{len(members)} files in this archive, more than {limits.members}"
        raise InputError(what, name, "Give fewer at once")
    total = sum(member.file_size for member in members)
    if total > limits.unpacked:
        raise InputError(f"unpacks to {total / 1e6:.0f} MB, too much at once", name, "Give fewer at once")
    for member in members:
        if member.file_size > limits.ratio * max(member.compress_size, 1):
            raise InputError("unpacks to far more than a track would", name, "Give the tracks as they are")


def _record(connection: sqlite3.Connection, job: int, outcome: Outcome) -> None:
    with writing(connection):
        jobs.record_outcome(connection, job, outcome)


def _plainly(text: str, shown: Mapping[str, str]) -> str:
    """Name files as the person did, not as they lie here; and options by the fields of the form."""
    for place, name in shown.items():
        text = text.replace(place, name)
    for option, field in (
        (
            "Give --join if it is the same round, --apart if it is not",
            "Give it again, and say whether it is the same round",
        ),
        (GIVE_COURSE, "Give it again with the course it was played on, or have its holes guessed"),
    ):
        text = text.replace(option, field)
    return text
