"""Files in and out: read whole with clear errors, written so that a half file never exists."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

from geo.errors import InputError

__all__ = ["decode_text", "file_faults", "read_capped", "read_small_file", "write_text", "write_texts"]

# What a person writes by hand is a few kilobytes; anything near this is some other file.
_MAX_BYTES = 20_000_000


def read_capped(
    path: str | os.PathLike[str],
    max_bytes: int,
    kind: str,
    *,
    error: type[InputError] = InputError,
    if_large: str | None = None,
) -> bytes:
    """
    Read a file whole, unless it is larger than it can be meant.

    Parameters
    ----------
    path : str or os.PathLike
        The file.
    max_bytes : int
        The largest size that is read [bytes].
    kind : str
        What the file should be, for the message, such as ``"bag"``.
    error : type
        The subclass of `InputError` to raise.
    if_large : str, optional
        What to do about a file that is too large.

    Returns
    -------
    bytes
        Its content; may be empty.

    Raises
    ------
    InputError
        As `error`, if there is no such file, if it is a folder, cannot be
        read or is too large.
    """
    where = str(path)
    try:
        if Path(path).is_dir():
            raise error("this is a folder, not a file", where, f"Give the {kind} file itself")
        with Path(path).open("rb") as file:
            content = _read_most(file, max_bytes + 1)
    except FileNotFoundError as fault:
        raise error("no such file", where, "Check the name and the folder") from fault
    except (OSError, ValueError) as fault:
        raise error(f"cannot be read ({_reason(fault)})", where) from fault
    if len(content) > max_bytes:
        what = f"larger than {max_bytes / 1e6:g} MB, too large for a {kind}"
        raise error(what, where, if_large or "Is it the right file")
    return content


def _read_most(file: BinaryIO, most: int) -> bytes:
    """Read so many bytes at the most; room is made for what is there, not for all that might be."""
    # The size is a hint alone: what is no plain file has none, and a file may grow.
    size = min(os.fstat(file.fileno()).st_size, most - 1)
    content = file.read(size + 1)
    return content + file.read(most - len(content)) if len(content) > size else content


def read_small_file(path: str | os.PathLike[str], error: type[InputError], kind: str) -> bytes:
    """
    Read a file that a person wrote, whole.

    Parameters
    ----------
    path : str or os.PathLike
        The file.
    error : type
        The subclass of `InputError` to raise.
    kind : str
        What the file should be, for the message, such as ``"bag"``.

    Returns
    -------
    bytes
        Its content, never empty.

    Raises
    ------
    InputError
        As `error`, if there is no such file, if it is a folder, cannot be
        read, is empty or is far too large.
    """
    content = read_capped(path, _MAX_BYTES, kind, error=error)
    if not content.strip():
        raise error("the file is empty", str(path), f"Give a {kind} file")
    return content


def decode_text(content: bytes) -> str:
    """
    Decode text by its byte order mark, else as UTF-8, else as Windows Latin.

    Parameters
    ----------
    content : bytes
        The bytes of a text file.

    Returns
    -------
    str
        Its text without a byte order mark. Never fails: the last resort,
        ISO 8859-1, knows every byte.

    Examples
    --------
    >>> decode_text("Händler".encode("cp1252"))
    'Händler'
    """
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    for encoding in ("utf-8-sig", "cp1252"):
        with contextlib.suppress(UnicodeDecodeError):
            return content.decode(encoding)
    return content.decode("iso-8859-1")


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """
    Write a text file in one step: afterwards it is the old file or the new one, never half of it.

    Parameters
    ----------
    path : str or os.PathLike
        The file; folders on the way to it are made.
    text : str
        What it shall hold; written as UTF-8 with the line ends it has.

    Raises
    ------
    InputError
        If the file cannot be written there.
    """
    write_texts([(path, text)])


def write_texts(files: Sequence[tuple[str | os.PathLike[str], str]]) -> None:
    """
    Write several text files; if one cannot be written, none is.

    Parameters
    ----------
    files : sequence of tuple
        Each file and what it shall hold; folders on the way are made.

    Raises
    ------
    InputError
        If a file cannot be written, or two of them are the same.
    """
    staged: list[tuple[Path, Path]] = []
    try:
        for name, text in files:
            path = Path(name)
            try:
                if path.is_dir():
                    raise InputError("cannot be written (it is a folder)", str(path), "Name a file to write")
                if any(path.resolve() == other.resolve() for _, other in staged):
                    raise InputError("two results go to this file", str(path), "Give each its own name")
                path.parent.mkdir(parents=True, exist_ok=True)
                staged.append((_stage(path, text), path))
            except (OSError, ValueError) as fault:
                raise _unwritable(path, fault) from fault
        for part, path in staged:
            try:
                part.replace(path)
            except OSError as fault:
                raise _unwritable(path, fault) from fault
    finally:
        for part, _ in staged:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)


@contextlib.contextmanager
def file_faults(path: str | os.PathLike[str]) -> Iterator[None]:
    """
    Tell what the file system refuses while a file is written.

    Parameters
    ----------
    path : str or os.PathLike
        The file, for the message.

    Raises
    ------
    InputError
        In place of any `OSError`.
    """
    try:
        yield
    except OSError as fault:
        raise _unwritable(Path(path), fault) from fault


def _stage(path: Path, text: str) -> Path:
    """Write a text beside the file it will replace."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8", errors="replace"))
        part.chmod(0o666 & ~_umask())
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    return part


def _unwritable(path: Path, fault: Exception) -> InputError:
    """Say that a file cannot be written, and why."""
    return InputError(
        f"cannot be written ({_reason(fault)})", str(path), "Choose another place or check its rights"
    )


def _umask() -> int:
    """Read the mask for new files; there is no way to ask without setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _reason(fault: Exception) -> str:
    """Say why in a few words, without the path that the message names already."""
    return (fault.strerror or str(fault)).lower() if isinstance(fault, OSError) else str(fault)
