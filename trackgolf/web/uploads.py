"""Files that came by a form: put aside under names of ours, held to limits, given to the import."""

from __future__ import annotations

import sqlite3
import tempfile
import threading
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import IO, Literal, Protocol

from trackgolf.errors import InputError
from trackgolf.library.find import known_courses
from trackgolf.library.gather import TrackSource, find_tracks
from trackgolf.library.importing import ImportOptions, Outcome, import_tracks
from trackgolf.library.materials import CourseFiles, read_bag_bytes, read_course_files
from trackgolf.text_table import printable
from trackgolf.web.settings import WebSettings

__all__ = ["Upload", "check_archive", "import_uploads"]

# As for documents that a command reads.
_DOCUMENT_BYTES = 20_000_000
# One import at a time: the next waits its turn.
_TURN = threading.Lock()


class Upload(Protocol):
    """A file of a form, as Werkzeug has it."""

    filename: str | None
    stream: IO[bytes]

    def save(self, dst: Path) -> None:
        """
        Write it somewhere.

        Parameters
        ----------
        dst : pathlib.Path
            The place.
        """


def import_uploads(
    connection: sqlite3.Connection,
    tracks: Sequence[Upload],
    documents: Mapping[str, Upload],
    chosen: Mapping[str, str],
    settings: WebSettings,
) -> list[Outcome]:
    """
    Import tracks that came by a form.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    tracks : sequence of Upload
        Tracks, or zip archives of them.
    documents : mapping of str to Upload
        ``course``, ``scorecard``, ``bag``, ``plan`` and ``card``, where given.
    chosen : mapping of str to str
        ``player``, ``course`` (number of a course of the library), ``tee``,
        ``together``, ``no_plan``; "" or missing for what was left open.
    settings : WebSettings
        The limits.

    Returns
    -------
    list of Outcome
        What became of each track; a round is kept whole or not at all.

    Raises
    ------
    InputError
        If there is no track, or what was named cannot be used.
    """
    options = _options(connection, documents, chosen)
    with _aside(tracks) as files, _TURN:
        sources: list[TrackSource] = []
        outcomes: list[Outcome] = []
        for path, name in files:
            try:
                check_archive(path, name, settings)
            except InputError as error:
                outcomes.append(Outcome((name,), "fault", None, str(error)))
                continue
            found, faults = find_tracks([path])
            sources += [replace(source, name=source.name.replace(str(path), name)) for source in found]
            outcomes += [Outcome((name,), "fault", None, str(fault)) for fault in faults]
        if not sources and not outcomes:
            raise InputError("no track was given", None, "Choose one or more GPX files, or a zip of them")
        outcomes += import_tracks(connection, sources, options)
        return [_plainly(outcome, files) for outcome in outcomes]


def check_archive(path: Path, name: str, settings: WebSettings) -> None:
    """
    Refuse an archive that holds more than tracks need, before anything of it is unpacked.

    Parameters
    ----------
    path : pathlib.Path
        A file; one that is no archive passes.
    name : str
        What to call it.
    settings : WebSettings
        The limits.

    Raises
    ------
    InputError
        If a limit is passed or it is damaged.
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
    if len(members) > settings.max_members:
        raise InputError(
            f"{len(members)} files in this archive, more than {settings.max_members}",
            name,
            "Give fewer at once",
        )
    total = sum(member.file_size for member in members)
    if total > settings.max_unpacked:
        raise InputError(f"unpacks to {total / 1e6:.0f} MB, too much at once", name, "Give fewer at once")
    for member in members:
        if member.file_size > settings.max_ratio * max(member.compress_size, 1):
            raise InputError("unpacks to far more than a track would", name, "Give the tracks as they are")


@contextmanager
def _aside(uploads: Sequence[Upload]) -> Iterator[list[tuple[Path, str]]]:
    """Put files into a folder of our own, under names of ours; give the names they had for messages only."""
    with tempfile.TemporaryDirectory(prefix="trackgolf-", ignore_cleanup_errors=True) as folder:
        files = []
        for number, upload in enumerate(uploads, start=1):
            path = Path(folder) / f"track-{number}.gpx"
            upload.save(path)
            shown = printable(upload.filename or "").strip()[:80]
            files.append((path, shown or f"track {number}"))
        yield files


def _options(
    connection: sqlite3.Connection, documents: Mapping[str, Upload], chosen: Mapping[str, str]
) -> ImportOptions:
    contents = {kind: _document(upload, kind) for kind, upload in documents.items()}
    tee = chosen.get("tee", "").strip() or None
    course = None
    if "course" in contents or "scorecard" in contents:
        files = CourseFiles("", contents.get("course"), contents.get("scorecard"))
        course = replace(files, name=read_course_files(files, tee).name)
    elif chosen.get("course", ""):
        wanted = {str(known.course): known.files for known in known_courses(connection)}
        if chosen["course"] not in wanted:
            raise InputError("there is no such course in the library", None, "Choose another")
        course = wanted[chosen["course"]]
    if "bag" in contents:
        read_bag_bytes(contents["bag"])
    together: dict[str, Literal["ask", "join", "apart"]] = {"join": "join", "apart": "apart"}
    return ImportOptions(
        course=course,
        tee=tee,
        player=chosen.get("player", "").strip() or None,
        bag=contents.get("bag"),
        plan=contents.get("plan"),
        card=contents.get("card"),
        find_plan=not chosen.get("no_plan"),
        together=together.get(chosen.get("together", ""), "ask"),
    )


def _document(upload: Upload, kind: str) -> bytes:
    content = upload.stream.read(_DOCUMENT_BYTES + 1)
    if len(content) > _DOCUMENT_BYTES:
        raise InputError(f"larger than {_DOCUMENT_BYTES / 1e6:g} MB, too large for a {kind}", kind)
    return content


def _plainly(outcome: Outcome, files: Sequence[tuple[Path, str]]) -> Outcome:
    """Name files as the person did, not as we put them aside; and options by the fields of the form."""
    text = outcome.text
    for path, name in files:
        text = text.replace(str(path), name)
    text = text.replace(
        "Give --join if it is the same round, --apart if it is not",
        "Give it again, and say whether it is the same round",
    )
    return replace(outcome, text=text)
