"""Files that came by a form: held to limits, looked at as far as that is quick, and kept whole for the work on them."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Mapping, Sequence
from typing import IO, Protocol

from trackgolf.errors import InputError
from trackgolf.library.find import player_name
from trackgolf.library.jobs import NewFile, add_job
from trackgolf.library.keys import player_key
from trackgolf.library.materials import read_bag_bytes
from trackgolf.library.working import job_options
from trackgolf.text_table import printable

__all__ = ["CHOICES", "Upload", "document", "keep_upload"]

CHOICES = ("player", "course", "tee", "together", "no_plan")
"""The fields of the form that go with an upload as they are."""

# As for documents that a command reads.
_DOCUMENT_BYTES = 20_000_000
# What is kept of a name or a choice, in characters. Common practice, no source.
_LONGEST = 80


class Upload(Protocol):
    """A file of a form, as Werkzeug has it: its ``filename`` and ``stream``."""

    filename: str | None
    stream: IO[bytes]


def keep_upload(
    connection: sqlite3.Connection,
    tracks: Sequence[Upload],
    documents: Mapping[str, bytes],
    chosen: Mapping[str, str],
) -> int:
    """
    Keep an upload for its turn.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    tracks : sequence of Upload
        Tracks, or zip archives of them.
    documents : mapping of str to bytes
        ``course``, ``scorecard``, ``bag``, ``plan`` and ``card``, where given.
    chosen : mapping of str to str
        What `trackgolf.library.working.job_options` takes.

    Returns
    -------
    int
        Number of the job.

    Raises
    ------
    InputError
        If there is no track, or what was named cannot be used; then nothing
        is kept.
    """
    if not tracks:
        raise InputError("no track was given", None, "Choose one or more GPX files, or a zip of them")
    choices = {name: chosen.get(name, "")[:_LONGEST].strip() for name in CHOICES}
    job_options(connection, choices, documents)
    player = _player(connection, choices["player"], documents.get("bag"))
    files = [NewFile(kind, kind, io.BytesIO(content)) for kind, content in documents.items()]
    names: set[str] = set()
    for number, upload in enumerate(tracks, start=1):
        shown = printable(upload.filename or "").strip()[:_LONGEST] or f"track {number}"
        # Tracks of several folders may have one name; what became of each is told by it.
        name, again = shown, 2
        while name in names:
            name, again = f"{shown} ({again})", again + 1
        names.add(name)
        files.append(NewFile("track", name, upload.stream))
    return add_job(connection, player, choices, files)


def document(upload: Upload, kind: str) -> bytes:
    """
    Read a document of a form.

    Parameters
    ----------
    upload : Upload
        The file.
    kind : str
        What it is, for messages.

    Returns
    -------
    bytes
        Its content.

    Raises
    ------
    InputError
        If it is too large for a document.
    """
    content = upload.stream.read(_DOCUMENT_BYTES + 1)
    if len(content) > _DOCUMENT_BYTES:
        raise InputError(f"larger than {_DOCUMENT_BYTES / 1e6:g} MB, too large for a {kind}", kind)
    return content


def _player(connection: sqlite3.Connection, named: str, bag: bytes | None) -> str:
    """Say whose rounds an upload holds."""
    if bag is None:
        return player_name(connection, named or None)
    owner = read_bag_bytes(bag).player
    if named and player_key(named) != player_key(owner):
        what = f"the bag is of {owner[:60]!r}, not of {named[:60]!r}"
        raise InputError(what, "bag", "Choose its player, or give the other player's bag")
    return owner
