"""Recordings and documents as compressed bytes, and back unchanged."""

from __future__ import annotations

import hashlib
import io
import json
import tokenize
import zipfile
import zlib
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geo.gpx import GpxFile, PointAccount
from trackgolf.errors import LibraryError

__all__ = [
    "DAMAGED",
    "digest_of",
    "pack_bytes",
    "pack_recording",
    "recording_digest",
    "unpack_bytes",
    "unpack_recording",
]

_NUMBERS = ("lon_deg", "lat_deg", "ele_m", "hdop")
# Decimals that files have; a number that none of them gives back exactly is kept as it is.
_MOST_DECIMALS = 9
# Whole numbers up to here are exact as doubles, and so is a power of ten this small (IEEE 754).
_LARGEST_EXACT = 2.0**53
# More than any document or recording that an import takes [byte].
_MOST_BYTES, _MOST_UNPACKED = 64_000_000, 1_000_000_000
_BROKEN = (zipfile.BadZipFile, zlib.error)
# What zip archives, the heads of arrays (which are read as Python), JSON and tables end in when their bytes are odd.
_ODD = (
    *_BROKEN,
    *(ValueError, LookupError, TypeError, AttributeError, ArithmeticError),
    *(OSError, EOFError, RuntimeError, SyntaxError, MemoryError, tokenize.TokenError),
)
DAMAGED = (
    "what is kept of a round, course or bag is damaged",
    "the library",
    "Take a backup copy in its place",
)


def digest_of(*parts: bytes | None) -> str:
    """
    Tell contents apart.

    Parameters
    ----------
    *parts : bytes or None
        What belongs together.

    Returns
    -------
    str
        SHA-256 of all of it, in hexadecimal.

    Examples
    --------
    >>> digest_of(b"a", None) == digest_of(b"a", b"")
    False
    """
    total = hashlib.sha256()
    for part in parts:
        total.update(b"-" if part is None else b"%d:" % len(part) + part)
    return total.hexdigest()


def pack_bytes(content: bytes) -> bytes:
    """
    Compress a document.

    Parameters
    ----------
    content : bytes
        Any bytes.

    Returns
    -------
    bytes
        In zlib's format (RFC 1950).
    """
    return zlib.compress(content, 9)


def unpack_bytes(packed: bytes) -> bytes:
    """
    Give back a document.

    Parameters
    ----------
    packed : bytes
        From `pack_bytes`.

    Returns
    -------
    bytes
        As it was.

    Raises
    ------
    LibraryError
        If it was damaged meanwhile.
    """
    packer = zlib.decompressobj()
    try:
        content = packer.decompress(packed, _MOST_BYTES)
    except (zlib.error, TypeError) as fault:
        raise LibraryError(*DAMAGED) from fault
    if not packer.eof:
        # Cut short, or longer than any document.
        raise LibraryError(*DAMAGED)
    return content


def recording_digest(points: pd.DataFrame) -> str:
    """
    Tell recordings apart by times and places, in whatever file they come.

    Parameters
    ----------
    points : pandas.DataFrame
        ``time``, ``lon_deg``, ``lat_deg``.

    Returns
    -------
    str
        The same for the same points to 0.1 microdegrees and a millisecond,
        in any order.
    """
    table = np.column_stack(
        [
            points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) // 1_000_000,
            np.rint(points["lon_deg"].to_numpy() * 1e7).astype(np.int64),
            np.rint(points["lat_deg"].to_numpy() * 1e7).astype(np.int64),
        ]
    )
    ordered = table[np.lexsort(table.T)]
    return digest_of(ordered.astype("<i8").tobytes())


def pack_recording(file: GpxFile) -> bytes:
    """
    Compress a recording; every number of it comes back exactly.

    Parameters
    ----------
    file : geo.gpx.GpxFile
        The recording.

    Returns
    -------
    bytes
        A NumPy archive (``npz``) of whole numbers: differences of times
        [ns], and of positions and heights times a power of ten where that is
        exact. ``about`` is JSON that says which.
    """
    about: dict[str, Any] = {
        "name": file.name,
        "description": file.description,
        "creator": file.creator,
        "version": file.version,
        "source": file.source,
        "warnings": list(file.warnings),
        "seen": file.account.seen,
        "dropped": file.account.dropped,
        "mark_names": file.marks["name"].tolist(),
    }
    arrays: dict[str, NDArray[Any]] = {
        "time": _steps(_nanoseconds(file.points)),
        "segment": _steps(file.points["segment"].to_numpy(dtype=np.int64)),
        "mark_time": _nanoseconds(file.marks),
        "mark_lon_deg": file.marks["lon_deg"].to_numpy(dtype=np.float64),
        "mark_lat_deg": file.marks["lat_deg"].to_numpy(dtype=np.float64),
    }
    for column in _NUMBERS:
        decimals, arrays[column] = _as_whole(file.points[column].to_numpy(dtype=np.float64))
        about[f"{column}_decimals"] = decimals
    arrays["about"] = np.frombuffer(json.dumps(about).encode("utf-8"), dtype=np.uint8)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, **arrays)
    return buffer.getvalue()


def unpack_recording(packed: bytes) -> GpxFile:
    """
    Give back a recording.

    Parameters
    ----------
    packed : bytes
        From `pack_recording`.

    Returns
    -------
    geo.gpx.GpxFile
        As it was.

    Raises
    ------
    LibraryError
        If it was damaged meanwhile.
    """
    try:
        return _unpacked(packed)
    except _ODD as fault:
        raise LibraryError(*DAMAGED) from fault


def _unpacked(packed: bytes) -> GpxFile:
    with np.load(io.BytesIO(packed), allow_pickle=False) as archive:
        if sum(member.file_size for member in archive.zip.infolist()) > _MOST_UNPACKED:
            raise ValueError("far too long")
        arrays = {name: archive[name] for name in archive.files}
    about = json.loads(arrays["about"].tobytes().decode("utf-8"))
    points = pd.DataFrame({"time": _utc(np.cumsum(arrays["time"]))})
    for column in _NUMBERS:
        points[column] = _as_numbers(arrays[column], about[f"{column}_decimals"])
    points["segment"] = np.cumsum(arrays["segment"])
    marks = pd.DataFrame(
        {
            "time": _utc(arrays["mark_time"]),
            "lon_deg": arrays["mark_lon_deg"],
            "lat_deg": arrays["mark_lat_deg"],
            "name": pd.Series(about["mark_names"], dtype=str),
        }
    )
    return GpxFile(
        points=points,
        marks=marks,
        account=PointAccount(about["seen"], len(points), about["dropped"]),
        warnings=tuple(about["warnings"]),
        name=about["name"],
        description=about["description"],
        creator=about["creator"],
        version=about["version"],
        source=about["source"],
    )


def _nanoseconds(table: pd.DataFrame) -> NDArray[np.int64]:
    return table["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64)


def _utc(time_ns: NDArray[np.int64]) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(time_ns.view("datetime64[ns]"), tz="UTC")


def _steps(values: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.diff(values, prepend=np.int64(0))


def _as_whole(values: NDArray[np.float64]) -> tuple[int | None, NDArray[Any]]:
    """Find the decimals that give every number back exactly, and the steps of whole numbers; else leave it as it is."""
    known = np.isfinite(values)
    if known.all():
        for decimals in range(_MOST_DECIMALS + 1):
            whole = np.rint(values * 10.0**decimals)
            if np.all(np.abs(whole) < _LARGEST_EXACT) and np.array_equal(whole / 10.0**decimals, values):
                # A negative zero would come back as a plain one.
                if np.signbit(values[values == 0.0]).any():
                    break
                return decimals, _steps(whole.astype(np.int64))
    elif not known.any() and np.isnan(values).all():
        return -1, np.array([values.size], dtype=np.int64)
    return None, values


def _as_numbers(values: NDArray[Any], decimals: int | None) -> NDArray[np.float64]:
    if decimals is None:
        return np.asarray(values, dtype=np.float64)
    if decimals < 0:
        return np.full(int(values[0]), np.nan)
    return np.asarray(np.cumsum(values) / 10.0**decimals, dtype=np.float64)
