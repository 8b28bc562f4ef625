"""Fields of a form to corrections: reading only, no golf."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Mapping
from typing import Any

import pandas as pd

from trackgolf.bag import Bag
from trackgolf.corrections import Correction, Corrections, write_corrections
from trackgolf.errors import InputError
from trackgolf.library.correcting import clock_time

__all__ = ["ConflictError", "adding_all", "asked_of_hole", "asked_of_shot", "gone", "mark_of", "undoing"]


class ConflictError(InputError):
    """A round that was corrected elsewhere since its page was shown."""


def mark_of(corrections: Corrections) -> str:
    """
    Tell states of a round's corrections apart.

    Parameters
    ----------
    corrections : Corrections
        What was set right.

    Returns
    -------
    str
        Hexadecimal digits.
    """
    return hashlib.sha256(write_corrections(corrections).encode()).hexdigest()[:32]


def asked_of_shot(
    form: Mapping[str, str], hole: int, time: pd.Timestamp, bag: Bag, shot: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """
    Read what a form sets right in one shot.

    Parameters
    ----------
    form : mapping of str to str
        ``do`` ("confirm", "remove", or "" for the fields) and ``club``,
        ``lie``, ``end_lie``, ``penalty``, ``to_hole``, ``lon``, ``lat``,
        ``note``; what is empty or as it was is left as it is.
    hole : int
        The hole.
    time : pandas.Timestamp
        Moment of the stroke, UTC.
    bag : Bag
        The clubs there are.
    shot : mapping
        The shot as it is now.

    Returns
    -------
    list of dict
        Values of `trackgolf.corrections.Correction` but the id.

    Raises
    ------
    InputError
        If a field cannot be understood, or nothing is set right.
    """
    base = {"hole": hole, "time": time}
    do = form.get("do", "")
    asked: list[dict[str, Any]] = []
    if do in ("confirm", "remove"):
        asked.append(base | {"what": do})
        return _noted(asked, form)
    club = form.get("club", "").strip()
    if club:
        known = bag.find_club(club)
        if known is None:
            raise InputError(f"{club[:40]!r} is not in the bag", "club", "Choose one of the list")
        if known.name != shot["club"] or shot["club_source"] in ("inferred", "plan"):
            asked.append(base | {"what": "club", "club": known.name})
    for key in ("lie", "end_lie"):
        value = form.get(key, "").strip()
        if value and value != shot[key]:
            asked.append(base | {"what": key, key: value})
    penalty = _whole(form, "penalty")
    if penalty is not None and penalty != shot["penalty"]:
        asked.append(base | {"what": "penalty", "penalty": penalty})
    if form.get("lon", "").strip() or form.get("lat", "").strip():
        asked.append(
            base | {"what": "move", "lon_deg": _number(form, "lon"), "lat_deg": _number(form, "lat")}
        )
    to_hole = _whole(form, "to_hole")
    if to_hole is not None and to_hole != hole:
        asked.append(base | {"what": "hole", "to_hole": to_hole})
    return _noted(asked, form)


def asked_of_hole(
    form: Mapping[str, str], hole: int, time: pd.Timestamp | None, row: pd.Series
) -> list[dict[str, Any]]:
    """
    Read what a form sets right in a hole.

    Parameters
    ----------
    form : mapping of str to str
        ``do``: "add" with ``clock`` and perhaps ``lon``, ``lat``; "picked_up";
        "not_played"; or "" with ``putts``, ``penalties``, ``strokes``. And
        ``note``.
    hole : int
        The hole.
    time : pandas.Timestamp or None
        A moment of the playing that is meant, UTC.
    row : pandas.Series
        The round, a row of `trackgolf.library.read_rounds`.

    Returns
    -------
    list of dict
        Values of `trackgolf.corrections.Correction` but the id.

    Raises
    ------
    InputError
        If a field cannot be understood, or nothing is set right.
    """
    do = form.get("do", "")
    base: dict[str, Any] = {"hole": hole}
    if do == "add":
        added = base | {"what": "add", "time": clock_time(form.get("clock", "").strip(), row)}
        if form.get("lon", "").strip() or form.get("lat", "").strip():
            added |= {"lon_deg": _number(form, "lon"), "lat_deg": _number(form, "lat")}
        return _noted([added], form)
    if do == "not_played":
        return _noted([base | {"what": "not_played"}], form)
    if time is not None:
        base["time"] = time
    if do == "picked_up":
        return _noted([base | {"what": "picked_up"}], form)
    numbers = {key: _whole(form, key) for key in ("putts", "penalties", "strokes")}
    asked = [base | {"what": key, key: number} for key, number in numbers.items() if number is not None]
    return _noted(asked, form)


def adding_all(asked: list[dict[str, Any]], seen: str) -> Callable[[Corrections], Corrections]:
    """
    Add corrections, if the round is still as it was shown.

    Parameters
    ----------
    asked : list of dict
        From `asked_of_shot` or `asked_of_hole`.
    seen : str
        From `mark_of`, when the page was shown.

    Returns
    -------
    callable
        For `trackgolf.library.correcting.correct_round`; it raises
        `ConflictError`.
    """

    def change(corrections: Corrections) -> Corrections:
        _hold(corrections, seen)
        now = pd.Timestamp.now("UTC").floor("s")
        for values in asked:
            corrections = corrections.adding(Correction(id=corrections.next_id(), made=now, **values))
        return corrections

    return change


def undoing(taken_back: str, seen: str) -> Callable[[Corrections], Corrections]:
    """
    Take a correction back, if the round is still as it was shown.

    Parameters
    ----------
    taken_back : str
        Its id; "" for the last one.
    seen : str
        From `mark_of`, when the page was shown.

    Returns
    -------
    callable
        For `trackgolf.library.correcting.correct_round`; it raises
        `ConflictError`.
    """

    def change(corrections: Corrections) -> Corrections:
        _hold(corrections, seen)
        if not corrections.entries:
            raise InputError("there is nothing to undo")
        return corrections.without(taken_back or corrections.entries[-1].id)

    return change


def gone() -> ConflictError:
    """
    Say that a shot or playing that was meant is not in the round any more.

    Returns
    -------
    ConflictError
        To be raised.
    """
    return ConflictError(
        "what this is about is not in the round any more; nothing was changed",
        None,
        "Look at the round as it is now",
    )


def _hold(corrections: Corrections, seen: str) -> None:
    if mark_of(corrections) != seen:
        raise ConflictError(
            "the round was corrected elsewhere since this page was shown; nothing was changed",
            None,
            "Look at it as it is now, and do it again if it is still needed",
        )


def _noted(asked: list[dict[str, Any]], form: Mapping[str, str]) -> list[dict[str, Any]]:
    if not asked:
        raise InputError("nothing was set right", None, "Fill in or change a field first")
    note = form.get("note", "").strip()
    return [values | {"note": note} for values in asked] if note else asked


def _whole(form: Mapping[str, str], key: str) -> int | None:
    text = form.get(key, "").strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 6):
        raise InputError(f"{text[:40]!r} is not a whole number", key)
    return int(text)


def _number(form: Mapping[str, str], key: str) -> float:
    text = form.get(key, "").strip()
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(f"{text[:40]!r} is not a number of degrees", key, "Give both, as -31.0012")
    return value
