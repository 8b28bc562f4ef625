"""Tracks found in what was named: files, folders, zip archives; and the bag, card, plan, course beside them."""

from __future__ import annotations

import lzma
import re
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from geo.files import read_capped
from geo.gpx import MAX_BYTES
from trackgolf.errors import InputError

__all__ = ["Beside", "TrackSource", "find_tracks", "read_document"]

_TRACK_ENDS = (".gpx", ".gpx.gz")
# What a person writes, or draws of one course; anything larger is some other file.
_DOCUMENT_BYTES = 20_000_000
# A federation's season in one archive; more is better unpacked first. Tracks are some 2 MB each. Common practice.
_MOST_MEMBERS = 20_000
_MOST_UNPACKED = 100_000_000_000
_BROKEN = (zipfile.BadZipFile, zlib.error, lzma.LZMAError)


@dataclass(frozen=True, slots=True)
class Beside:
    """
    Files found with the tracks of a folder that was named.

    Attributes
    ----------
    course, bag : pathlib.Path or None
        ``course.geojson`` and ``bag.toml`` in the folder of the track, or
        the nearest above it in the folder that was named.
    plan, card, corrections : pathlib.Path or None
        ``plan.geojson``, ``card.csv`` and ``corrections.json`` in the folder
        of the track.
    """

    course: Path | None = None
    bag: Path | None = None
    plan: Path | None = None
    card: Path | None = None
    corrections: Path | None = None


@dataclass(frozen=True, slots=True)
class TrackSource:
    """
    A track file.

    Attributes
    ----------
    name : str
        What to call it in messages.
    path : pathlib.Path
        Where it lies.
    beside : Beside
        What lies with it.
    member : str or None
        Its name in the zip archive that `path` is.
    """

    name: str
    path: Path
    beside: Beside = Beside()
    member: str | None = None

    @property
    def base_name(self) -> str:
        """Its name without the folder, which may be named after a person."""
        return self.path.name if self.member is None else re.split(r"[/\\]", self.member)[-1]

    def load(self) -> bytes:
        """
        Read it.

        Returns
        -------
        bytes
            Its content.

        Raises
        ------
        InputError
            If it cannot be read or is too large.
        """
        if self.member is not None:
            return _read_member(self)
        return read_capped(self.path, MAX_BYTES, "track")


def find_tracks(paths: Iterable[Path]) -> tuple[list[TrackSource], list[InputError]]:
    """
    Find the tracks that are meant.

    Parameters
    ----------
    paths : iterable of pathlib.Path
        Files, taken as they are, zip archives, and folders, searched for
        ``.gpx``, ``.gpx.gz`` and ``.zip`` however deep.

    Returns
    -------
    sources : list of TrackSource
        In the order given, folders and archives in order of name; each file
        once. Nothing of an archive is put on the disk.
    faults : list of InputError
        What is not there or holds no track.
    """
    sources: list[TrackSource] = []
    faults: list[InputError] = []
    seen: set[Path] = set()
    for path in paths:
        try:
            found = _in_folder(path) if path.is_dir() else [TrackSource(str(path), path)]
        except OSError as fault:
            reason = (fault.strerror or str(fault)).lower()
            faults.append(InputError(f"cannot be read ({reason})", str(path)))
            continue
        if not found:
            faults.append(
                InputError("no GPX file in this folder", str(path), "Name the folder of the tracks")
            )
        for source in found:
            whole = source.path.resolve()
            if whole in seen:
                continue
            seen.add(whole)
            try:
                sources += _in_archive(source) if _is_archive(source.path) else [source]
            except InputError as error:
                faults.append(error)
    return sources, faults


def read_document(path: Path, kind: str) -> bytes:
    """
    Read a document that a person wrote or drew.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    kind : str
        What it should be, for messages.

    Returns
    -------
    bytes
        Its content.

    Raises
    ------
    InputError
        If it cannot be read or is too large.
    """
    return _document(path, kind)


@lru_cache(maxsize=64)
def _document(path: Path, kind: str) -> bytes:
    return read_capped(path, _DOCUMENT_BYTES, kind)


def _in_folder(top: Path) -> list[TrackSource]:
    return [
        TrackSource(str(path), path, _beside(path.parent, top))
        for path in sorted(top.rglob("*"))
        if path.name.lower().endswith((*_TRACK_ENDS, ".zip"))
        and not path.name.startswith(".")
        and path.is_file()
    ]


def _is_archive(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            # Source: APPNOTE.TXT 6.3.10 (ZIP), 4.3.7 and 4.3.16: a member's header, or the end of an empty archive.
            return file.read(4) in (b"PK\x03\x04", b"PK\x05\x06")
    except OSError:
        return False


def _in_archive(source: TrackSource) -> list[TrackSource]:
    """List the tracks of an archive; what it unpacks to is looked at before any of it is."""
    where = source.name
    members = [
        member
        for member in _opened(source.path).infolist()
        if not member.is_dir()
        and member.filename.lower().endswith(_TRACK_ENDS)
        and not re.split(r"[/\\]", member.filename)[-1].startswith(".")
    ]
    if not members:
        raise InputError("no GPX file in this archive", where, "Give the archive of the tracks")
    if len(members) > _MOST_MEMBERS:
        raise InputError(
            f"more than {_MOST_MEMBERS} tracks in this archive", where, "Unpack it and name the folder"
        )
    total = sum(member.file_size for member in members)
    if total > _MOST_UNPACKED:
        what = f"unpacks to {total / 1e9:.0f} GB, too much for tracks"
        raise InputError(what, where, "Unpack it and name the folder, if it is what you think")
    return [
        TrackSource(f"{where}: {member.filename}", source.path, source.beside, member.filename)
        for member in sorted(members, key=lambda member: member.filename)
    ]


def _read_member(source: TrackSource) -> bytes:
    try:
        # What the archive claims of sizes is not believed.
        with _opened(source.path).open(source.member or "") as file:
            content = file.read(MAX_BYTES + 1)
    except (OSError, ValueError, KeyError, RuntimeError, EOFError, NotImplementedError, *_BROKEN) as fault:
        raise InputError(
            f"cannot be unpacked ({str(fault)[:80]})", source.name, "Unpack it by hand"
        ) from fault
    if len(content) > MAX_BYTES:
        raise InputError(f"larger than {MAX_BYTES / 1e6:g} MB, too large for a track", source.name)
    return content


@lru_cache(maxsize=2)
def _opened(path: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(path)
    except (OSError, ValueError, NotImplementedError, *_BROKEN) as fault:
        raise InputError(
            f"the archive is damaged ({str(fault)[:80].lower()})", str(path), "Pack or copy it again"
        ) from fault


@lru_cache(maxsize=4096)
def _beside(folder: Path, top: Path) -> Beside:
    above = [folder]
    while above[-1] != top:
        above.append(above[-1].parent)

    def nearest(name: str) -> Path | None:
        return next((place / name for place in above if (place / name).is_file()), None)

    def here(name: str) -> Path | None:
        return folder / name if (folder / name).is_file() else None

    return Beside(
        course=nearest("course.geojson"),
        bag=nearest("bag.toml"),
        plan=here("plan.geojson"),
        card=here("card.csv"),
        corrections=here("corrections.json"),
    )
