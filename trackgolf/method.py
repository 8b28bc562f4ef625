"""Which method rebuilt a round: changes whenever the same track may give another result."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from importlib.resources import files

from trackgolf.settings import RoundSettings

__all__ = ["method_version"]

# Raise it with any change of the decoder that is not a number in the settings or a weight in the data folder.
_METHOD = 1


@lru_cache(maxsize=1)
def method_version() -> str:
    """
    Name the method.

    Returns
    -------
    str
        The number of the method, and a mark of all its settings and fitted
        weights.

    Examples
    --------
    >>> method_version().split("-")[0]
    '1'
    """
    total = hashlib.sha256(repr(RoundSettings()).encode("utf-8"))
    total.update(files("trackgolf").joinpath("data", "stand_weights.json").read_bytes())
    return f"{_METHOD}-{total.hexdigest()[:8]}"
