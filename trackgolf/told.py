"""What is said of the score of each hole: by the card, and by the player's corrections over it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from trackgolf.corrections import Correction, Corrections

if TYPE_CHECKING:
    from trackgolf.shots import Visit

__all__ = ["Told", "tell_holes", "tell_visits"]

_OF_HOLES = ("putts", "penalties", "strokes", "picked_up")


@dataclass(frozen=True, slots=True)
class Told:
    """
    What is said of one hole, None unknown.

    Attributes are `strokes`, `putts` and `penalties`, whether it was `picked_up`, and in `corrected` the names of
    those among them that the player set right by hand.
    """

    strokes: int | None = None
    putts: int | None = None
    penalties: int | None = None
    picked_up: bool = False
    corrected: frozenset[str] = frozenset()

    def source(self, name: str) -> str:
        """
        Say where a value is from.

        Parameters
        ----------
        name : str
            One of the attributes.

        Returns
        -------
        str
            ``corrected`` or ``card``.
        """
        return "corrected" if name in self.corrected else "card"

    @property
    def most_shots(self) -> int | None:
        """Shots off the green that the strokes leave room for, at least the tee shot; None unknown."""
        if self.strokes is None:
            return None
        return max(self.strokes - (self.putts or 0) - (self.penalties or 0), 1)

    def penalty_room(self, shots: int) -> int | None:
        """
        Say how many penalty strokes a hole with so many shots can have.

        Parameters
        ----------
        shots : int
            Shots off the green.

        Returns
        -------
        int or None
            What is told, else what strokes and putts leave; None unknown.
        """
        if self.penalties is not None or self.strokes is None or self.putts is None:
            return self.penalties
        return max(self.strokes - self.putts - shots, 0)


def tell_holes(card: pd.DataFrame | None, corrections: Corrections | None) -> dict[int, Told]:
    """
    Say what is known of each hole before the round is decoded.

    Parameters
    ----------
    card : pandas.DataFrame or None
        As `trackgolf.card.read_card` gives it.
    corrections : Corrections or None
        What the player set right.

    Returns
    -------
    dict of int to Told
        By number of the hole; a hole of which nothing is said is left out.
    """
    told = _of_card(card)
    for entry in _of_holes(corrections):
        told[_hole(entry)] = _amended(told.get(_hole(entry), Told()), entry)
    return told


def tell_visits(
    card: pd.DataFrame | None, corrections: Corrections | None, visits: Iterable[Visit]
) -> tuple[dict[int, Told], list[Correction]]:
    """
    Say what is known of each playing of a hole.

    Parameters
    ----------
    card : pandas.DataFrame or None
        As `trackgolf.card.read_card` gives it; it speaks of every playing of a hole.
    corrections : Corrections or None
        What the player set right; with a time it speaks of the playing nearest to it, else of every one.
    visits : iterable of Visit
        The playings found.

    Returns
    -------
    told : dict of int to Told
        By number of the visit.
    left : list of Correction
        Those of holes that were not found.
    """
    by_hole = _of_card(card)
    playings = list(visits)
    told = {visit.visit: by_hole.get(visit.hole, Told()) for visit in playings}
    left = []
    for entry in _of_holes(corrections):
        here = [visit for visit in playings if visit.hole == entry.hole]
        if not here:
            left.append(entry)
        elif entry.time is not None:
            moment = entry.time.timestamp()
            here = [min(here, key=lambda visit: _away_s(visit, moment))]
        for visit in here:
            told[visit.visit] = _amended(told[visit.visit], entry)
    return told, left


def _of_card(card: pd.DataFrame | None) -> dict[int, Told]:
    if card is None:
        return {}
    # A card that never says a score, such as one of putts alone, does not say that a hole was picked up either.
    scored = bool(card["strokes"].notna().any())
    return {int(row["hole"]): _of_row(row, scored=scored) for row in card.to_dict("records")}


def _of_row(row: Mapping[Any, Any], *, scored: bool) -> Told:
    strokes, putts, penalties = (
        None if pd.isna(row[name]) else int(row[name]) for name in ("strokes", "putts", "penalties")
    )
    return Told(strokes, putts, penalties, picked_up=scored and strokes is None)


def _of_holes(corrections: Corrections | None) -> list[Correction]:
    return [] if corrections is None else [entry for entry in corrections.entries if entry.what in _OF_HOLES]


def _hole(entry: Correction) -> int:
    if entry.hole is None:
        raise ValueError("a correction of a hole names none")
    return entry.hole


def _amended(told: Told, entry: Correction) -> Told:
    if entry.what == "picked_up":
        changes: dict[str, Any] = {"picked_up": entry.picked_up}
        if entry.picked_up:
            changes["strokes"] = None
    else:
        changes = {entry.what: getattr(entry, entry.what)}
        if entry.what == "strokes":
            changes["picked_up"] = False
    return replace(told, corrected=told.corrected | {entry.what}, **changes)


def _away_s(visit: Visit, moment_s: float) -> float:
    """How long before a playing began or after it ended [s]."""
    return max(visit.start_s - moment_s, moment_s - visit.end_s, 0.0)
