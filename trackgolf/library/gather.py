"""Tracks found in what was named: files and folders, with the bag, card, plan and course that lie beside them."""

from __future__ import annotations

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


@dataclass(frozen=True, slots=True)
class Beside:
    """
    Files found with the tracks of a folder that was named.

    Attributes
    ----------
    course, bag : pathlib.Path or None
        ``course.geojson`` and ``bag.toml`` in the folder of the track, or
        the nearest above it in the folder that was named.
    plan, card : pathlib.Path or None
        ``plan.geojson`` and ``card.csv`` in the folder of the track.
    """

    course: Path | None = None
    bag: Path | None = None
    plan: Path | None = None
    card: Path | None = None


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
    """

    name: str
    path: Path
    beside: Beside = Beside()

    @property
    def base_name(self) -> str:
        """Its name without the folder, which may be named after a person."""
        return self.path.name

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
        return read_capped(self.path, MAX_BYTES, "track")


def find_tracks(paths: Iterable[Path]) -> tuple[list[TrackSource], list[InputError]]:
    """
    Find the tracks that are meant.

    Parameters
    ----------
    paths : iterable of pathlib.Path
        Files, taken as they are, and folders, searched for ``.gpx`` and
        ``.gpx.gz`` however deep.

    Returns
    -------
    sources : list of TrackSource
        In the order given, folders in order of name; each file once.
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
            if whole not in seen:
                seen.add(whole)
                sources.append(source)
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
        if path.name.lower().endswith(_TRACK_ENDS) and not path.name.startswith(".") and path.is_file()
    ]


@lru_cache(maxsize=4096)
def _beside(folder: Path, top: Path) -> Beside:
    above = [folder]
    while above[-1] != top:
        above.append(above[-1].parent)

    def nearest(name: str) -> Path | None:
        return next((place / name for place in above if (place / name).is_file()), None)

    def here(name: str) -> Path | None:
        return folder / name if (folder / name).is_file() else None

    return Beside(nearest("course.geojson"), nearest("bag.toml"), here("plan.geojson"), here("card.csv"))
