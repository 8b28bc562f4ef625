"""The one kind of error a user can cause."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["InputError", "raise_faults"]

_MOST_FAULTS = 20
# Letters of one fault; what quotes a file can have any length.
_LONGEST = 600


class InputError(Exception):
    """
    Something the user gave cannot be used.

    Prints as one line, ``where: what. do.``; a file with several faults
    prints that line and then one indented line a fault, 20 at most.

    Parameters
    ----------
    what : str
        What is wrong, quoting the offending text, without a final full stop.
    where : str, optional
        File, line, option or hole it was found in.
    do : str, optional
        What the user can do about it.
    faults : sequence of str, optional
        The single faults of a file that has several.

    Examples
    --------
    >>> print(InputError("no point has a time", "round.gpx", "Record with times on"))
    round.gpx: no point has a time. Record with times on.
    """

    def __init__(
        self, what: str, where: str | None = None, do: str | None = None, *, faults: Sequence[str] = ()
    ) -> None:
        super().__init__(what)
        self.what = _cut(_one_line(what))
        self.where = None if where is None else _one_line(where)
        self.do = None if do is None else _one_line(do)
        self.faults = tuple(_cut(_one_line(fault)) for fault in faults)

    def __str__(self) -> str:
        head = f"{self.where}: " if self.where else ""
        tail = f" {self.do.rstrip('.')}." if self.do else ""
        lines = [f"{head}{self.what.rstrip('.')}.{tail}"]
        lines += [f"  {fault}" for fault in self.faults[:_MOST_FAULTS]]
        if len(self.faults) > _MOST_FAULTS:
            lines.append(f"  and {len(self.faults) - _MOST_FAULTS} more")
        return "\n".join(lines)


def raise_faults(kind: type[InputError], faults: Sequence[str], where: str, do: str | None = None) -> None:
    """
    Raise all faults of one file as one error, or return if there are none.

    Parameters
    ----------
    kind : type
        The subclass of `InputError` to raise.
    faults : sequence of str
        Each fault in one line; a single fault becomes the message itself.
    where : str
        The file they were found in.
    do : str, optional
        What the user can do.

    Raises
    ------
    InputError
        If there is at least one fault.
    """
    if len(faults) == 1:
        raise kind(faults[0], where, do)
    if faults:
        raise kind(f"{len(faults)} faults", where, do, faults=faults)


def _one_line(text: str) -> str:
    """Keep control characters and line ends of a user's text out of a message."""
    return "".join(char if char.isprintable() else " " for char in text).strip()


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]} (and more)"
