"""What kind of round is played."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Scenario"]


@dataclass(frozen=True)
class Scenario:
    """
    The story of a round, apart from the golf; None means drawn from the seed.

    `holes` lists the holes in playing order. `files` cuts the recording in
    that many files. Times of day are local to the course.
    """

    holes: tuple[int, ...] | None = None  # default: all, in order
    group: int | None = None  # players in the group, the wearer included
    transport: str | None = None  # "carry", "trolley", "buggy"
    slow: bool = False
    warm_up: bool | None = None  # range and practice green before
    early_start: bool | None = None  # recording from the car park, else just before the first tee
    halfway: bool | None = None  # a stop at the clubhouse between two nines
    pause: bool = False  # lunch between two nines, recorder paused
    drive_home: bool = False
    files: int = 1
    searches: float = 1.0  # scales how often balls must be looked for
    dwell: float = 1.0  # scales the time over the ball, for checks of robustness
    bustle: float = 1.0  # scales all standing about that belongs to no stroke: waits, halts, partners, cards
    follow_plan: float | None = None  # share of shots that follow the plan
    late_start: int = 0  # holes played before the recorder was started
    dies_after: int | None = None  # holes after which the recorder stopped for good
    day: str = "2026-05-16"
    tee_time: str | None = None  # local "HH:MM"

    @classmethod
    def nine(cls, first: int = 1, **changes) -> Scenario:
        """Nine holes from a hole."""
        return cls(holes=tuple(range(first, first + 9)), **changes)

    @classmethod
    def back_first(cls, **changes) -> Scenario:
        """Back nine, then front nine."""
        return cls(holes=(*range(10, 19), *range(1, 10)), **changes)

    @classmethod
    def shotgun(cls, first: int, **changes) -> Scenario:
        """Start at any hole and play all round."""
        return cls(holes=tuple((first - 1 + i) % 18 + 1 for i in range(18)), **changes)

    @classmethod
    def nine_twice(cls, first: int = 1, **changes) -> Scenario:
        """Play the same nine holes twice."""
        nine = tuple(range(first, first + 9))
        return cls(holes=nine + nine, **changes)

    @classmethod
    def without(cls, *skipped: int, **changes) -> Scenario:
        """Leave out some holes."""
        return cls(holes=tuple(n for n in range(1, 19) if n not in skipped), **changes)

    @classmethod
    def walked_off(cls, after: int, **changes) -> Scenario:
        """Stop after some holes."""
        return cls(holes=tuple(range(1, after + 1)), **changes)
