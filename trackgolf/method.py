"""Which method rebuilt a round: changes whenever the same track may give another result."""

from __future__ import annotations

import hashlib
import re
from functools import lru_cache
from pathlib import Path

__all__ = ["method_modules", "method_version"]

_TOP = Path(__file__).parents[1]
_FIRST = "trackgolf.reconstruct"
_IMPORT = re.compile(
    r"^\s*(?:from\s+((?:geo|trackgolf)[\w.]*)\s+import\s+(\([^)]*\)|[^\n]*)|import\s+((?:geo|trackgolf)[\w.]*))",
    flags=re.MULTILINE,
)


@lru_cache(maxsize=1)
def method_version() -> str:
    """
    Name the method.

    Returns
    -------
    str
        A mark of the code of `method_modules` and of the data it reads, so
        that nobody need remember to count it up.
    """
    total = hashlib.sha256()
    for name in method_modules():
        total.update(_file_of(name).read_bytes())
    for path in sorted((_TOP / "trackgolf" / "data").glob("*.json")):
        total.update(path.read_bytes())
    return total.hexdigest()[:10]


@lru_cache(maxsize=1)
def method_modules() -> tuple[str, ...]:
    """
    List what rebuilding a round rests on.

    Returns
    -------
    tuple of str
        `trackgolf.reconstruct` and all modules of ours that it imports,
        directly or not, in order of name.
    """
    known: set[str] = set()
    waiting = [_FIRST]
    while waiting:
        name = waiting.pop()
        if name in known or not _file_of(name).is_file():
            continue
        known.add(name)
        for package, names, plain in _IMPORT.findall(_file_of(name).read_text(encoding="utf-8")):
            waiting += [package or plain, *(f"{package}.{word}" for word in re.findall(r"\w+", names))]
    return tuple(sorted(known))


def _file_of(name: str) -> Path:
    return _TOP.joinpath(*name.split(".")).with_suffix(".py")
