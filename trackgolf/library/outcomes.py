"""What is asked of an import, and what became of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from trackgolf.library.materials import CourseFiles

__all__ = ["ImportOptions", "Outcome"]


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """
    What was named for an import; what was not is found.

    Attributes
    ----------
    course : CourseFiles or None
        The course; else the one of the library that lies at the track.
    tee : str or None
        The tee.
    player : str or None
        The player; else whom the bag names, or the only one there is.
    bag : bytes or None
        The bag; else the one the player named last.
    plan : bytes or None
        The plan; else the one the player named last for the course.
    card : bytes or None
        The card of the one round there is.
    corrections : str or None
        What was set right in the one round there is.
    find_plan : bool
        Whether to look for a plan at all.
    guess : bool
        Whether to guess the holes of a track that no known course lies at.
    whole : bool
        Whether to keep what was recorded away from the course too.
    together : {"ask", "join", "apart"}
        Whether recordings of the same player and time are one round.
    """

    course: CourseFiles | None = None
    tee: str | None = None
    player: str | None = None
    bag: bytes | None = None
    plan: bytes | None = None
    card: bytes | None = None
    corrections: str | None = None
    find_plan: bool = True
    guess: bool = False
    whole: bool = False
    together: Literal["ask", "join", "apart"] = "ask"


@dataclass(frozen=True, slots=True)
class Outcome:
    """
    What became of the tracks of one round.

    Attributes
    ----------
    names : tuple of str
        The tracks.
    kind : {"new", "joined", "known", "offered", "fault"}
        A new round; put to a round that was there; a round that is there
        already; left out until somebody says whether it is that round; or
        not usable.
    round : int or None
        Number of the round.
    text : str
        What there is to say.
    notes : tuple of str
        What was doubted about it.
    """

    names: tuple[str, ...]
    kind: Literal["new", "joined", "known", "offered", "fault"]
    round: int | None
    text: str
    notes: tuple[str, ...] = ()
