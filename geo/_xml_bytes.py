"""A file that should hold XML, as UTF-8 bytes: size capped, unpacked, decoded by what the bytes say of themselves."""

from __future__ import annotations

import codecs
import os
import re
import zlib

from geo.errors import InputError
from geo.files import read_capped

__all__ = ["read_xml_bytes", "unwrap_xml"]

_GZIP = b"\x1f\x8b"
_CHUNK = 16_384

# Longer marks first: the mark of UTF-32 begins with that of UTF-16.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# Source: XML 1.0, appendix F.1: how the first "<" looks without a byte order mark.
_FIRST_BYTES = (
    (b"<\x00\x00\x00", "utf-32-le"),
    (b"\x00\x00\x00<", "utf-32-be"),
    (b"<\x00", "utf-16-le"),
    (b"\x00<", "utf-16-be"),
)
_DECLARED = re.compile(rb"""\s*<\?xml[^>]{0,200}?encoding\s*=\s*["']([A-Za-z][\w.:-]{0,40})["']""")
# Encodings of one or more bytes a character in which "<" is the byte it is in ASCII; Python knows many more,
# among them some whose decoding is slow on purpose.
_DECODED_AS_DECLARED = re.compile(
    r"(iso[-_]?8859|latin|windows[-_]?\d|cp-?\d|koi8|mac|gb|big5|euc|shift|sjis|(us[-_]?)?ascii)",
    re.IGNORECASE,
)
# What the bytes of a file that is not UTF-8 after all most likely are: Windows-1252, and ISO 8859-1 where that has none.
_AS_LATIN = {
    0xDC00 + byte: bytes([byte]).decode("cp1252", "ignore") or chr(byte) for byte in range(0x80, 0x100)
}
_OTHER_FORMATS = (
    (b"PK\x03\x04", "a zip archive", "Unpack it and give the GPX file inside"),
    (b"%PDF", "a PDF document", "Export the track as GPX"),
    (b"{", "JSON", "Export the track as GPX"),
)


def read_xml_bytes(path: str | os.PathLike[str], max_bytes: int) -> tuple[bytes, list[str]]:
    """
    Read a file whole and bring it into UTF-8.

    Parameters
    ----------
    path : str or os.PathLike
        The file, plain or gzip (told by its first bytes, not its name).
    max_bytes : int
        Most bytes to accept, both before and after unpacking and decoding.

    Returns
    -------
    data : bytes
        UTF-8 text, valid, without a byte order mark, never empty.
    warnings : list of str
        What had to be guessed or mended.

    Raises
    ------
    InputError
        If there is no such file, or it is a folder, empty, too large or
        plainly of another format.
    """
    return unwrap_xml(read_capped(path, max_bytes, "track"), max_bytes, os.fspath(path))


def unwrap_xml(raw: bytes, max_bytes: int, where: str) -> tuple[bytes, list[str]]:
    """
    Bring the content of a file into UTF-8.

    Parameters
    ----------
    raw : bytes
        What the file holds, plain or gzip.
    max_bytes : int
        Most bytes to accept, both before and after unpacking and decoding.
    where : str
        What to call it in messages.

    Returns
    -------
    data : bytes
        As of `read_xml_bytes`.
    warnings : list of str
        What had to be guessed or mended.

    Raises
    ------
    InputError
        If it is empty, too large or plainly of another format.
    """
    if len(raw) > max_bytes:
        raise _too_large(max_bytes, where)
    _not_blank(raw, where)
    warnings: list[str] = []
    if raw.startswith(_GZIP):
        raw, whole = _unpack(raw, max_bytes, where)
        if not whole:
            warnings.append("the compressed file is cut short or damaged; read as far as it goes")
    _refuse_other_formats(raw, where)
    data = _to_utf8(raw, warnings)
    if len(data) > max_bytes:
        raise _too_large(max_bytes, where)
    data = data.lstrip()
    if not data:
        raise InputError("the file is empty", where, "Export the track again")
    return data, warnings


def _not_blank(raw: bytes, where: str) -> bytes:
    if not raw.strip(b"\x00 \t\r\n"):
        what = "the file holds only zero bytes" if b"\x00" in raw else "the file is empty"
        raise InputError(what, where, "Export the track again")
    return raw


def _too_large(max_bytes: int, where: str) -> InputError:
    return InputError(
        f"larger than {max_bytes / 1e6:g} MB, too large for a track", where, "Is it the right file"
    )


def _unpack(packed: bytes, max_bytes: int, where: str) -> tuple[bytes, bool]:
    """Unpack gzip, one member after another; a damaged end costs only the end."""
    pieces: list[bytes] = []
    size = 0
    whole = False
    while packed.startswith(_GZIP):
        member = zlib.decompressobj(wbits=31)
        fed = 0
        while not member.eof and fed < len(packed):
            before = member.copy()
            chunk = packed[fed : fed + _CHUNK]
            try:
                # Never asks for more than the cap allows, so a bomb is stopped before it grows.
                piece = member.decompress(chunk, max_bytes + 1 - size)
                broken = False
            except zlib.error:
                piece, broken = _last_bytes(before, chunk, max_bytes + 1 - size), True
            pieces.append(piece)
            size += len(piece)
            if size > max_bytes:
                raise _too_large(max_bytes, where)
            if broken:
                return _something(pieces, where), False
            fed += len(chunk)
        whole = member.eof
        packed = member.unused_data + packed[fed:] if whole else b""
    return _something(pieces, where), whole


def _last_bytes(member: zlib._Decompress, chunk: bytes, most: int) -> bytes:
    """Give what a damaged chunk holds before the damage."""
    out = bytearray()
    try:
        for position in range(len(chunk)):
            out += member.decompress(chunk[position : position + 1], most)
            if len(out) > most:
                break
    except zlib.error:
        pass
    return bytes(out)


def _something(pieces: list[bytes], where: str) -> bytes:
    raw = b"".join(pieces)
    if not raw:
        raise InputError(
            "the compressed file is empty or damaged from the start", where, "Export the track again"
        )
    return raw


def _refuse_other_formats(raw: bytes, where: str) -> None:
    start = raw.lstrip()
    for first_bytes, name, do in _OTHER_FORMATS:
        if start.startswith(first_bytes):
            raise InputError(f"this is {name}, not a GPX file", where, do)
    # Source: FIT protocol, file header: the characters .FIT at bytes 8 to 11.
    if raw[8:12] == b".FIT":
        raise InputError("this is a FIT file, not a GPX file", where, "Export or convert the track as GPX")


def _to_utf8(raw: bytes, warnings: list[str]) -> bytes:
    """Decode by byte order mark, then declaration, then as UTF-8, and encode as UTF-8."""
    for mark, encoding in _MARKS:
        if raw.startswith(mark):
            return _decoded(raw[len(mark) :], encoding, warnings)
    for start, encoding in _FIRST_BYTES:
        if raw.startswith(start):
            return _decoded(raw, encoding, warnings)
    declared = _DECLARED.match(raw)
    if declared and _DECODED_AS_DECLARED.match(name := declared[1].decode("ascii")):
        try:
            return _decoded(raw, codecs.lookup(name).name, warnings)
        except LookupError:
            warnings.append(f"declares the unknown encoding {name!r}; read as UTF-8")
    return _decoded(raw, "utf-8", warnings)


def _decoded(raw: bytes, encoding: str, warnings: list[str]) -> bytes:
    if encoding != "utf-8":
        # A file cut short may end inside a character; one that does not fit is shown as such.
        text = raw.decode(encoding, "replace")
        return text.encode("utf-8", "replace")
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.reason == "unexpected end of data":
            return raw[: error.start]
        warnings.append("is not all UTF-8; the odd bytes were read as Windows-1252")
        text = raw.decode("utf-8", "surrogateescape").translate(_AS_LATIN)
        return text.encode("utf-8", "replace")
    return raw
