"""A player who is new and has no bag file yet: name, target and clubs as typed into a form."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping

from geo.errors import raise_faults
from trackgolf.errors import BagError
from trackgolf.library.coaching import note_text
from trackgolf.library.materials import read_bag_bytes

__all__ = ["FIELDS", "typed_bag"]

FIELDS = ("new_name", "new_target", "new_target_is", "new_units", "new_clubs")
"""The fields of the form."""

_MOST_CLUBS = 30
# A club and its carry, as people write them: "7 iron 118", "7 iron: 118", "7 iron, 118 yd".
_CLUB = re.compile(
    r"(?P<name>.*[^\s:,;=])[\s:,;=]+(?P<carry>\d{1,3}(?:\.\d{1,2})?)\s*(?:yd|yds|yards|m|metres|meters)?\.?",
    re.ASCII | re.IGNORECASE,
)


def typed_bag(form: Mapping[str, str]) -> bytes | None:
    """
    Write the bag that somebody typed.

    Parameters
    ----------
    form : mapping of str to str
        With `FIELDS`: the name, the target, whether that is a
        ``target_score`` or a ``playing_handicap``, the units, and a club and
        its carry a line.

    Returns
    -------
    bytes or None
        A bag file; None if nothing was typed.

    Raises
    ------
    BagError
        With all faults.
    """
    name, target = (note_text(form.get(key, "")) for key in ("new_name", "new_target"))
    lines = [line for line in map(note_text, form.get("new_clubs", "")[:4000].splitlines()) if line]
    if not (name or target or lines):
        return None
    faults = []
    if not name:
        faults.append("the name is missing")
    if not re.fullmatch(r"[+-]?\d{1,3}", target, re.ASCII):
        faults.append(f"the target is missing or no whole number: {target[:40]!r}")
    if not lines or len(lines) > _MOST_CLUBS:
        faults.append(f"between 1 and {_MOST_CLUBS} clubs are needed, one a line")
    clubs = []
    for number, line in enumerate(lines[:_MOST_CLUBS], start=1):
        found = _CLUB.fullmatch(line)
        if found is None:
            faults.append(f"line {number} of the clubs is no club and its carry: {line[:40]!r}")
        else:
            clubs.append(f"[[club]]\nname = {_quoted(found['name'])}\ncarry = {found['carry']}\n")
    raise_faults(BagError, faults, "new player", "Write a club a line, such as: 7 iron 118")
    kind = "playing_handicap" if form.get("new_target_is") == "playing_handicap" else "target_score"
    units = "m" if form.get("new_units") == "m" else "yd"
    head = f'units = "{units}"\n[player]\nname = {_quoted(name)}\n{kind} = {int(target)}\n'
    content = "\n".join([head, *clubs]).encode()
    try:
        read_bag_bytes(content)
    except BagError as error:
        raise BagError(error.what, "new player", error.do, faults=error.faults) from error
    return content


def _quoted(text: str) -> str:
    """Write a TOML string: as in JSON, for what is not printable is gone already (TOML 1.0, Basic strings)."""
    return json.dumps(text, ensure_ascii=False)
