"""Club names as golfers write them: "8i", "Iron 8", "PW", "1 wood". Never a guess."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["ClubName", "find_club_name", "parse_club_name", "plain_name"]

# Words, run together, and the kind of club they mean. Words that also name a shot or a place ("sand", "lob",
# "approach", "drive") and single letters that mean several things ("p", "s", "d") are left out on purpose.
_KINDS = {
    "driver": ("driver", "dr", "drv"),
    "wood": ("wood", "w", "fw", "fairwaywood", "fairway", "woods"),
    "hybrid": ("hybrid", "h", "hy", "hyb", "hybridiron"),
    "iron": ("iron", "i", "irons", "ir"),
    "pitching wedge": ("pitchingwedge", "pw", "pwedge"),
    "gap wedge": ("gapwedge", "gw", "gwedge"),
    "approach wedge": ("approachwedge", "aw", "awedge"),
    "sand wedge": ("sandwedge", "sw", "swedge", "sandiron"),
    "lob wedge": ("lobwedge", "lw", "lwedge"),
    "wedge": ("wedge",),
    "putter": ("putter",),
}
_KIND_OF_WORD = {word: kind for kind, words in _KINDS.items() for word in words}
_WEDGES = frozenset(kind for kind in _KINDS if kind.endswith("wedge"))
# The same club under two names, where the bag has no club of the first.
_ALIASES = {"approach wedge": "gap wedge", "gap wedge": "approach wedge"}
_NUMBER_WORDS = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "eleven": 11,
}  # fmt: skip
_DEGREE_WORDS = frozenset({"deg", "degs", "degree", "degrees", "loft"})
_LAST_NUMBER = 11
# Lofts of wedges [deg]; a bare number outside them is no club name (marks are often just counted).
_WEDGE_LOFTS = (44.0, 66.0)


@dataclass(frozen=True, slots=True)
class ClubName:
    """
    What a club's name says.

    Attributes
    ----------
    kind : str or None
        ``driver``, ``wood``, ``hybrid``, ``iron``, ``putter``, ``wedge`` or a
        named wedge such as ``sand wedge``; None where only a loft is given.
    number : int or None
        The number of a wood, hybrid or iron.
    loft_deg : float or None
        A loft in the name [deg].
    """

    kind: str | None
    number: int | None
    loft_deg: float | None

    @property
    def is_wedge(self) -> bool:
        """Whether it is a wedge of any kind."""
        return self.kind in _WEDGES


def plain_name(text: str) -> str:
    """
    Strip a name down to its letters and digits, for comparing.

    Parameters
    ----------
    text : str
        Any name.

    Returns
    -------
    str
        Lower case, without spaces, dashes and the like.

    Examples
    --------
    >>> plain_name(" 8-Iron ")
    '8iron'
    """
    folded = unicodedata.normalize("NFKC", text).casefold()
    return "".join(char for char in folded if char.isalnum())


def parse_club_name(text: str) -> ClubName | None:
    """
    Understand a club's name without knowing the bag.

    Parameters
    ----------
    text : str
        A name such as ``"8i"``, ``"iron 8"``, ``"PW"``, ``"56 degree wedge"``.

    Returns
    -------
    ClubName or None
        What it says; None if it is not a usual name of a club.

    Examples
    --------
    >>> parse_club_name("Iron 8")
    ClubName(kind='iron', number=8, loft_deg=None)
    >>> parse_club_name("1w").kind
    'driver'
    """
    folded = unicodedata.normalize("NFKC", text).casefold()
    tokens = re.findall(r"\d+(?:[.,]\d+)?|[^\W\d_]+", folded)
    words = [token for token in tokens if not token[0].isdigit() and token not in _DEGREE_WORDS]
    numbers = [float(token.replace(",", ".")) for token in tokens if token[0].isdigit()]
    numbers += [float(_NUMBER_WORDS[word]) for word in words if word in _NUMBER_WORDS]
    joined = "".join(word for word in words if word not in _NUMBER_WORDS)

    if not joined:
        if len(numbers) == 1 and _WEDGE_LOFTS[0] <= numbers[0] <= _WEDGE_LOFTS[1]:
            return ClubName(None, None, numbers[0])
        return None
    kind = _KIND_OF_WORD.get(joined)
    if kind is None:
        return None
    if kind in _WEDGES or kind == "putter":
        return _with_loft(kind, None, numbers)
    if kind == "driver":
        return _with_loft(kind, None, [number for number in numbers if number != 1])
    if joined == "w" and len(numbers) == 1 and numbers[0] >= _WEDGE_LOFTS[0]:
        return ClubName("wedge", None, numbers[0])
    small = [number for number in numbers if number <= _LAST_NUMBER and number == int(number) and number >= 1]
    if len(small) > 1:
        return None
    number = int(small[0]) if small else None
    lofts = [loft for loft in numbers if loft not in small]
    if kind == "wood" and number == 1:
        return _with_loft("driver", None, lofts)
    if number is None and joined in ("w", "h", "i", "fairway"):
        return None
    return _with_loft(kind, number, lofts)


def find_club_name(text: str, names: Iterable[str]) -> str | None:
    """
    Find which of a bag's club names is meant.

    Parameters
    ----------
    text : str
        A name as somebody wrote it.
    names : iterable of str
        The names in the bag.

    Returns
    -------
    str or None
        The one name it can mean; None where it means none or more than one.

    Notes
    -----
    A name equal but for case, spaces and dashes comes first. Then what the
    name says is compared: a kind without number (``"hybrid"``) is the only
    club of that kind, a bare loft (``"56"``) the only wedge that states it.

    Examples
    --------
    >>> find_club_name("8i", ["driver", "8 iron", "sand wedge 56"])
    '8 iron'
    >>> find_club_name("56", ["driver", "8 iron", "sand wedge 56"])
    'sand wedge 56'
    """
    names = list(names)
    plain = plain_name(text)
    if not plain:
        return None
    same = [name for name in names if plain_name(name) == plain]
    if same:
        return same[0] if len(same) == 1 else None
    wanted = parse_club_name(text)
    if wanted is None:
        return None
    known = [(name, said) for name in names if (said := parse_club_name(name)) is not None]
    matches = [name for name, said in known if _fits(wanted, said)]
    if not matches and wanted.kind in _ALIASES:
        alias = ClubName(_ALIASES[wanted.kind], wanted.number, wanted.loft_deg)
        matches = [name for name, said in known if _fits(alias, said)]
    return matches[0] if len(matches) == 1 else None


def _with_loft(kind: str, number: int | None, lofts: list[float]) -> ClubName | None:
    """Build the name if at most one loft is left over."""
    if len(lofts) > 1:
        return None
    return ClubName(kind, number, lofts[0] if lofts else None)


def _fits(wanted: ClubName, said: ClubName) -> bool:
    """Whether a club of the bag is one that the wanted name may mean."""
    if wanted.loft_deg is not None and said.loft_deg is not None and wanted.loft_deg != said.loft_deg:
        return False
    if wanted.kind is None or wanted.kind == "wedge":
        stated = wanted.loft_deg is None or said.loft_deg is not None
        return (said.is_wedge or said.kind is None) and stated
    if wanted.kind != said.kind:
        return False
    return wanted.number is None or wanted.number == said.number
