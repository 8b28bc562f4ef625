"""Corrections laid over the stands of a round: what the player says of a shot holds, the rest is found around it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from trackgolf.corrections import Correction, Corrections
from trackgolf.course import Course
from trackgolf.decode import IMPOSSIBLE, Evidence, Story
from trackgolf.ground import Ground, TeeChoice
from trackgolf.settings import RoundSettings
from trackgolf.shots import Said
from trackgolf.told import Told

__all__ = [
    "Misfit",
    "Pins",
    "beside_removed",
    "misfit",
    "named_tee",
    "pin_evidence",
    "unfitting",
    "widened",
    "without_pauses",
]

Floats = NDArray[np.float64]

# What the player says of a stand, in logarithms: more than all that can speak against it, which is less than the three
# times `_UNLIKELY` of a stand and the flights to and from it; and little enough that sums in plain numbers hold it.
_SAID = 200.0
# A shot that nobody would believe is possible if the player says so.
_UNLIKELY = -25.0
# Out of the question, and hardly ever.
_DENIED, _SELDOM = -1.0e3, -100.0
# Stands of one pause: so little time lies between them, and they are so near the one that is no shot [s], [m]. The
# first is cut from the second where a player steps aside; at 1.3 m/s the two numbers say the same. Common practice.
_PAUSE_S, _PAUSE_M = 8.0, 10.0
_ENDS_HOLE = ("green", "holed", "picked_up")


@dataclass(frozen=True, slots=True)
class Misfit:
    """A correction that fits nothing in the round any more: its `id`, the `hole` it names (0 none), and why."""

    id: str
    hole: int
    why: str


def misfit(entry: Correction, why: str) -> Misfit:
    """
    Say that a correction fits nothing.

    Parameters
    ----------
    entry : Correction
        The correction.
    why : str
        What is in its way.

    Returns
    -------
    Misfit
        In one line.
    """
    return Misfit(entry.id, entry.hole or 0, f"{entry.label} fits nothing: {why}; it is kept")


@dataclass(frozen=True, slots=True)
class Pins:
    """
    Corrections of shots, bound to the stands of a round.

    Attributes
    ----------
    stands : pandas.DataFrame
        The stands, with those added that the player knows of, and moved where the player says.
    said : dict of int to Said
        What is said of the shot at a stand.
    holes : dict of int to int
        By stand, the index of the hole that it must be a shot of.
    removed : tuple of int
        Stands that are no shot.
    not_played : tuple of int
        Indices of holes that were not played.
    misfits : tuple of Misfit
        Corrections that fit nothing.
    entries : dict of int to list of Correction
        By stand, the corrections of the shot there.
    closed : tuple of (int, float, float)
        Index of a hole that has no further shots, and from when to when [s].
    """

    stands: pd.DataFrame
    said: dict[int, Said] = field(default_factory=dict)
    holes: dict[int, int] = field(default_factory=dict)
    removed: tuple[int, ...] = ()
    not_played: tuple[int, ...] = ()
    misfits: tuple[Misfit, ...] = ()
    entries: dict[int, list[Correction]] = field(default_factory=dict)
    closed: tuple[tuple[int, float, float], ...] = ()

    def penalties_on(self, hole: int, carded: int | None) -> int | None:
        """
        Say how many penalty strokes a hole has at least.

        Parameters
        ----------
        hole : int
            Index of the hole.
        carded : int or None
            What the card says.

        Returns
        -------
        int or None
            That, or more where the player says more of single shots.
        """
        paid = sum(self.said[stand].penalty or 0 for stand, owner in self.holes.items() if owner == hole)
        return max(carded or 0, paid) if paid else carded


def beside_removed(pins: Pins) -> tuple[int, ...]:
    """
    List the stands of a pause in which the player says that no shot was played.

    A player who stands, steps aside and stands again leaves two stands or more; told that one is no shot, the search
    would take the next one for it.

    Parameters
    ----------
    pins : Pins
        What the player says.

    Returns
    -------
    tuple of int
        Stands next to those removed, without them and without those that the player calls shots.
    """
    stands = pins.stands
    start, end = stands["start_s"].to_numpy(), stands["end_s"].to_numpy()
    east, north = stands["east_m"].to_numpy(), stands["north_m"].to_numpy()
    found: set[int] = set()
    for removed in pins.removed:
        for step in (-1, 1):
            other = removed + step
            while 0 <= other < len(stands):
                first, second = min(other, other - step), max(other, other - step)
                away_m = float(np.hypot(east[other] - east[removed], north[other] - north[removed]))
                if start[second] - end[first] > _PAUSE_S or away_m > _PAUSE_M:
                    break
                found.add(other)
                other += step
    return tuple(sorted(found - set(pins.removed) - set(pins.holes)))


def without_pauses(pins: Pins, before: Story) -> Pins:
    """
    Take out the pauses of the shots that were none.

    Parameters
    ----------
    pins : Pins
        What the player says.
    before : Story
        What would be found if no shot had been taken out: what is a shot
        there besides, the player has seen and left.

    Returns
    -------
    Pins
        The same, with more stands removed.
    """
    left = {event.stand for event in before.events if event.kind == "shot"}
    return replace(pins, removed=(*pins.removed, *(one for one in beside_removed(pins) if one not in left)))


def pin_evidence(evidence: Evidence, pins: Pins, ground: Ground, told: Mapping[int, Told]) -> Evidence:
    """
    Make the search honour what the player says.

    Parameters
    ----------
    evidence : Evidence
        Weighed over the stands of `pins`.
    pins : Pins
        What is said of them.
    ground : Ground
        The course.
    told : mapping of int to Told
        By number of the hole, what is said of its score; strokes that the player set right leave no room for more.

    Returns
    -------
    Evidence
        The same, but that a stand the player calls a shot outweighs everything, one that is none is impossible, and
        a shot can be followed only by what its end allows.
    """
    counted = {}
    for index, owner in enumerate(ground.holes):
        known = told.get(owner.number, Told())
        if "strokes" in known.corrected and known.most_shots is not None:
            # Where the player's words contradict each other, the shots confirmed hold.
            counted[index] = max(known.most_shots, list(pins.holes.values()).count(index))
    if not (pins.holes or pins.removed or pins.not_played or counted):
        return evidence
    changed = {
        name: getattr(evidence, name).copy()
        for name in (
            "tee",
            "shot",
            "flight",
            "flight_green",
            "unseen",
            "unseen_green",
            "from_tee",
            "count",
            "count_picked",
            "order",
        )
    }
    for index, most in counted.items():
        changed["count"][index, most + 1 :] += _DENIED
        changed["count_picked"][index, most + 1 :] += _DENIED
    tee, shot = changed["tee"], changed["shot"]
    tee[:, list(pins.not_played)] = IMPOSSIBLE
    shot[:, list(pins.not_played)] = IMPOSSIBLE
    out = list(pins.removed)
    tee[out], shot[out] = IMPOSSIBLE, IMPOSSIBLE
    start, end = pins.stands["start_s"].to_numpy(), pins.stands["end_s"].to_numpy()
    for hole, first_s, last_s in pins.closed:
        within = (end >= first_s) & (start <= last_s)
        for name in ("unseen", "unseen_green", "from_tee"):
            changed[name][within, ..., hole] = IMPOSSIBLE
        within[[stand for stand, mine in pins.holes.items() if mine == hole]] = False
        tee[within, hole], shot[within, hole] = IMPOSSIBLE, IMPOSSIBLE
    for stand, hole in pins.holes.items():
        for table in (tee, shot):
            score = max(float(table[stand, hole]), _UNLIKELY) + _SAID
            table[stand] = IMPOSSIBLE
            table[stand, hole] = score
        later, back = _after(stand, changed["flight"])
        changed["flight"][stand, :, hole] = np.maximum(changed["flight"][stand, :, hole], _UNLIKELY)
        for name in ("flight", "flight_green"):
            changed[name][later, back, hole] = np.maximum(changed[name][later, back, hole], _UNLIKELY)
    for stand, hole in pins.holes.items():
        # Nor is it given up and begun anew, to explain what is said of it.
        changed["order"][hole, hole] = _SELDOM
        later, back = _after(stand, changed["flight"])
        # Two words of the player's may contradict each other: the shots confirmed hold.
        free = np.array([pins.holes.get(int(other)) != hole for other in later], dtype=bool)
        later, back = later[free], back[free]
        for name in _denied(pins.said[stand].end_lie):
            changed[name][later, back, hole] += _DENIED
    return replace(evidence, **changed)


def widened(settings: RoundSettings, pins: Pins) -> RoundSettings:
    """
    Let the search look as far back, and count as far, as the corrections need.

    Parameters
    ----------
    settings : RoundSettings
        Bounds of the search.
    pins : Pins
        What the player says.

    Returns
    -------
    RoundSettings
        The same, or wider.
    """
    if not pins.holes:
        return settings
    order = sorted(pins.holes)
    gaps = [later - earlier for earlier, later in pairwise(order) if pins.holes[earlier] == pins.holes[later]]
    most = max(np.bincount(list(pins.holes.values())).tolist())
    return replace(
        settings,
        most_stands_between=max(
            settings.most_stands_between, min(max(gaps, default=0), 2 * settings.most_stands_between)
        ),
        most_shots=max(settings.most_shots, most + 2),
    )


def unfitting(unplayed: Sequence[Correction], pins: Pins, story: Story) -> list[Misfit]:
    """
    List what a story could not honour.

    Parameters
    ----------
    unplayed : sequence of Correction
        Corrections of holes that were not found.
    pins : Pins
        What the player says of shots.
    story : Story
        What was found.

    Returns
    -------
    list of Misfit
        Empty where all fits.
    """
    misfits = [misfit(entry, f"hole {entry.hole} is not found in the track") for entry in unplayed]
    found = {(event.stand, event.hole) for event in story.events if event.kind == "shot"}
    for stand, hole in pins.holes.items():
        if (stand, hole) not in found:
            # Cannot happen as long as every story is possible; told rather than passed over should it ever.
            misfits += [
                misfit(entry, "other corrections leave no room for it") for entry in pins.entries[stand]
            ]
    return misfits


def named_tee(
    corrections: Corrections | None, course: Course, ground: Ground
) -> tuple[TeeChoice | None, list[Misfit]]:
    """
    Find the tee that the player says the round was played from.

    Parameters
    ----------
    corrections : Corrections or None
        What the player set right.
    course : Course
        The course.
    ground : Ground
        The same in metres.

    Returns
    -------
    tee : TeeChoice or None
        The tee; None where nothing is said, or the course was read for that tee already.
    misfits : list of Misfit
        What is said of tees but fits nothing.
    """
    if corrections is None or corrections.tee is None:
        return None, []
    entry = [entry for entry in corrections.entries if entry.what == "tee"][-1]
    wanted = corrections.tee.casefold()
    if course.tee is not None:
        same = course.tee.casefold() == wanted
        return None, [] if same else [misfit(entry, f"the round is laid on the tee {course.tee!r}")]
    for choice in ground.tee_choices:
        if choice.name.casefold() == wanted:
            return choice, []
    return None, [misfit(entry, f"the course has no tee {corrections.tee!r}")]


def _denied(end_lie: str | None) -> tuple[str, ...]:
    """What cannot follow a shot that ended so."""
    if end_lie is None:
        return ()
    if end_lie == "picked_up":
        return ("flight", "unseen", "flight_green", "unseen_green")
    return ("flight", "unseen") if end_lie in _ENDS_HOLE else ("flight_green",)


def _after(stand: int, flight: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The stands that can follow one, and for each how many places back that lies."""
    back = np.arange(min(flight.shape[1], flight.shape[0] - 1 - stand))
    return stand + 1 + back, back
