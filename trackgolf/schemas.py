"""What the commands print for machines, as JSON Schema: a file a command in ``data/schemas``."""

from __future__ import annotations

import json
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any

from trackgolf.errors import InputError

__all__ = ["described_commands", "output_schema"]


def described_commands() -> tuple[str, ...]:
    """
    List the commands that print JSON.

    Returns
    -------
    tuple of str
        Those with the option ``--json``, in order of name.

    Examples
    --------
    >>> "track" in described_commands()
    True
    """
    names = (file.name for file in _folder().iterdir())
    return tuple(sorted(name.removesuffix(".json") for name in names if name.endswith(".json")))


def output_schema(command: str) -> dict[str, Any]:
    """
    Describe what a command prints with ``--json``.

    Parameters
    ----------
    command : str
        Such as ``track``.

    Returns
    -------
    dict
        A JSON Schema of draft 2020-12 [1]_; every value has a description,
        with its unit in brackets.

    Raises
    ------
    InputError
        If that command prints no JSON.

    References
    ----------
    .. [1] JSON Schema, draft 2020-12, https://json-schema.org/draft/2020-12.

    Examples
    --------
    >>> output_schema("track")["properties"]["length_m"]["type"]
    'number'
    """
    known = described_commands()
    if command not in known:
        raise InputError(f"no command {command[:40]!r} prints JSON", do=f"Those that do: {', '.join(known)}")
    schema: dict[str, Any] = json.loads(_folder().joinpath(f"{command}.json").read_text(encoding="utf-8"))
    return schema


def _folder() -> Traversable:
    return resources.files("trackgolf") / "data" / "schemas"
