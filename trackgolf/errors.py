"""Errors in the files of a round; all of them the user can mend."""

from __future__ import annotations

from geo.errors import InputError

__all__ = [
    "BagError",
    "CardError",
    "CorrectionsError",
    "CourseError",
    "InputError",
    "LibraryError",
    "PlanError",
]


class CourseError(InputError):
    """A course or scorecard cannot be used."""


class BagError(InputError):
    """A bag file cannot be used."""


class PlanError(InputError):
    """A plan cannot be read or does not fit the course."""


class CardError(InputError):
    """A played card cannot be used."""


class CorrectionsError(InputError):
    """A file of corrections cannot be used."""


class LibraryError(InputError):
    """The library cannot be opened or written, or does not hold what is asked for."""
