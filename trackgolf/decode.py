"""The exact search: the best story of a round, and how sure each part of it is."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trackgolf._sums import IMPOSSIBLE, story_sums

__all__ = ["IMPOSSIBLE", "Event", "Evidence", "Story", "best_story", "probabilities"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Evidence:
    """
    Everything the search weighs, as logarithms; m stands, h holes, k shots a hole, w stands looked back over.

    The search walks over the stands in order of time. A hole is entered by a tee shot at a stand, goes on with
    flights between stands, and ends with a first stand on its green or by being picked up. After the green the
    player is either still around it or away; from away the next hole is entered, or the round ends.

    Attributes
    ----------
    tee, shot, arrive, after : shape (m, h)
        Stand as tee shot; as a later shot off the green; as the first stand on the green; as one that follows.
    flight, flight_green : shape (m, w, h)
        From the stand ``o + 1`` places back to this one: to the next shot, and to the first stand on the green.
    unseen, unseen_green : shape (m, w, h)
        The same with one stroke between that left no stand.
    from_tee : shape (m, h)
        Second shot after a tee shot that left no stand.
    count, count_picked : shape (h, k + 1)
        Shots off the green, for a hole that reached its green and for one picked up.
    start, end : shape (h,)
        First and last hole of the round.
    order : shape (h, h)
        From a hole to the next one played.
    stay, leave : float
        Staying around the green for one more stand, and leaving it.
    """

    tee: Floats
    shot: Floats
    arrive: Floats
    after: Floats
    flight: Floats
    flight_green: Floats
    unseen: Floats
    unseen_green: Floats
    from_tee: Floats
    count: Floats
    count_picked: Floats
    start: Floats
    end: Floats
    order: Floats
    stay: float
    leave: float

    def tempered(self, power: float) -> Evidence:
        """
        Raise every probability to a power.

        Parameters
        ----------
        power : float
            Below 1 makes the outcome less sure, for evidence that is not independent.

        Returns
        -------
        Evidence
            The same evidence, weaker.
        """
        fields = {name: getattr(self, name) * power for name in self.__slots__}
        return Evidence(**fields)

    def looked_at(self, change: Floats) -> Evidence:
        """
        Change what stands look like; what was impossible stays so.

        Parameters
        ----------
        change : numpy.ndarray, shape (m, 3)
            To add for each stand as a shot, a first shot and an arrival on the green.

        Returns
        -------
        Evidence
            The evidence with the change.
        """
        fields = {}
        for column, name in enumerate(("shot", "tee", "arrive")):
            before = getattr(self, name)
            fields[name] = np.where(before > IMPOSSIBLE / 2, before + change[:, column, None], before)
        return replace(self, **fields)


@dataclass(frozen=True, slots=True)
class Event:
    """
    One part of a story: `kind` is `shot`, `green` or `unseen` at a stand on a hole.

    For a shot `number` counts those off the green on this visit to the hole, from 1; an unseen stroke came
    between the stand and the shot before. `visit` counts the holes played, from 0.
    """

    stand: int
    hole: int
    number: int
    kind: str
    visit: int


@dataclass(frozen=True, slots=True)
class Story:
    """The best story: its events in order of time, the holes visited, and its log-likelihood ratio."""

    events: tuple[Event, ...]
    visits: tuple[int, ...]
    score: float


@dataclass(slots=True)
class _Forward:
    shots: Floats  # (m, h, k + 1)
    green: Floats  # (m, h)
    away: Floats  # (m, h)
    total: float


def _forward(evidence: Evidence) -> _Forward:
    stands, holes = evidence.tee.shape
    counts = evidence.count.shape[1]
    window = evidence.flight.shape[1]
    shots = np.full((stands, holes, counts), IMPOSSIBLE)
    green = np.full((stands, holes), IMPOSSIBLE)
    away = np.full((stands, holes), IMPOSSIBLE)
    near: NDArray[np.bool_] = np.max([evidence.shot, evidence.tee, evidence.arrive], axis=0) > IMPOSSIBLE / 2
    tables = (evidence.flight_green, evidence.unseen_green)
    ends = np.any([np.max(table, axis=1) > IMPOSSIBLE / 2 for table in tables], axis=0)
    entry = evidence.start
    for j in range(stands):
        if j:
            entry = np.maximum(evidence.start, np.max(away[j - 1][:, None] + evidence.order, axis=0))
        chosen = np.flatnonzero(near[j])
        if chosen.size:
            first = max(j - window, 0)
            # Row o of the flights is the stand o + 1 places back.
            before = shots[first:j][::-1][:, chosen]
            back = before.shape[0]
            here = np.full((chosen.size, counts), IMPOSSIBLE)
            here[:, 1] = entry[chosen] + evidence.tee[j, chosen]
            here[:, 2] = entry[chosen] + evidence.from_tee[j, chosen] + evidence.shot[j, chosen]
            if back:
                flown = np.max(before + evidence.flight[j, :back, chosen].T[:, :, None], axis=0)
                unseen = np.max(before + evidence.unseen[j, :back, chosen].T[:, :, None], axis=0)
                shot = evidence.shot[j, chosen][:, None]
                here[:, 1:] = np.maximum(here[:, 1:], flown[:, :-1] + shot)
                here[:, 2:] = np.maximum(here[:, 2:], unseen[:, :-2] + shot)
                home = ends[j, chosen]
                if home.any():
                    reached = chosen[home]
                    arrivals = _arrivals(evidence, before[:, home], j, reached)
                    green[j, reached] = evidence.arrive[j, reached] + arrivals
            shots[j, chosen] = here
            away[j, chosen] = np.max(here + evidence.count_picked[chosen], axis=1)
        if j:
            green[j] = np.maximum(green[j], green[j - 1] + evidence.stay + evidence.after[j])
            away[j] = np.maximum(away[j], away[j - 1])
        away[j] = np.maximum(away[j], green[j] + evidence.leave)
    return _Forward(shots, green, away, float(np.max(away[-1] + evidence.end)))


def _arrivals(evidence: Evidence, before: Floats, j: int, chosen: NDArray[np.int64]) -> Floats:
    back = before.shape[0]
    count = evidence.count[chosen]
    seen = before + evidence.flight_green[j, :back, chosen].T[:, :, None] + count
    hidden = before[:, :, :-1] + evidence.unseen_green[j, :back, chosen].T[:, :, None] + count[:, 1:]
    return np.asarray(np.maximum(np.max(seen, axis=(0, 2)), np.max(hidden, axis=(0, 2))))


def best_story(evidence: Evidence) -> Story:
    """
    Find the story with the highest probability, exactly.

    Viterbi over a semi-Markov chain: a shot is followed by any later stand within the window, whatever lies
    between being of no account.

    Parameters
    ----------
    evidence : Evidence
        What is weighed.

    Returns
    -------
    Story
        Empty where no stand fits any hole.

    References
    ----------
    .. [1] S.-Z. Yu, "Hidden semi-Markov models," Artificial Intelligence, vol. 174, 2010.
    """
    if evidence.tee.shape[0] == 0:
        return Story((), (), IMPOSSIBLE)
    table = _forward(evidence)
    if table.total < IMPOSSIBLE / 2:
        return Story((), (), IMPOSSIBLE)
    events: list[Event] = []
    visits: list[int] = []
    j = evidence.tee.shape[0] - 1
    hole = int(np.argmax(table.away[j] + evidence.end))
    while True:
        j, number, arrived = _unwind_away(evidence, table, j, hole)
        visits.append(hole)
        if arrived:
            events.append(Event(j, hole, 0, "green", len(visits) - 1))
            back, number, hidden = _unwind_arrival(evidence, table, j, hole)
            if hidden:
                events.append(Event(j, hole, number + 1, "unseen", len(visits) - 1))
            j = back
        while True:
            events.append(Event(j, hole, number, "shot", len(visits) - 1))
            back, steps = _unwind_shot(evidence, table, j, hole, number)
            if steps == 2:
                events.append(Event(j, hole, number - 1, "unseen", len(visits) - 1))
            if back < 0:
                break
            j, number = back, number - steps
        if j == 0:
            break
        follow = table.away[j - 1] + evidence.order[:, hole]
        if float(np.max(follow)) <= float(evidence.start[hole]):
            break
        hole, j = int(np.argmax(follow)), j - 1
    last = len(visits) - 1
    ordered = tuple(
        Event(event.stand, event.hole, event.number, event.kind, last - event.visit)
        for event in reversed(events)
    )
    return Story(ordered, tuple(reversed(visits)), table.total)


def _same(one: float, two: float) -> bool:
    # Sums of the same numbers in another order differ in their last digits; a shot confirmed by hand makes them large.
    return abs(one - two) <= 1e-12 * max(1e4, abs(one))


def _unwind_away(evidence: Evidence, table: _Forward, j: int, hole: int) -> tuple[int, int, bool]:
    """Go back to the last shot before a pick-up, or to the arrival on the green."""
    while True:
        score = float(table.away[j, hole])
        if _same(score, float(table.green[j, hole]) + evidence.leave):
            break
        picked = table.shots[j, hole] + evidence.count_picked[hole]
        if _same(score, float(np.max(picked))):
            return j, int(np.argmax(picked)), False
        j -= 1
    while j and _same(
        float(table.green[j, hole]),
        float(table.green[j - 1, hole]) + evidence.stay + float(evidence.after[j, hole]),
    ):
        j -= 1
    return j, 0, True


def _unwind_arrival(evidence: Evidence, table: _Forward, j: int, hole: int) -> tuple[int, int, bool]:
    first = max(j - evidence.flight.shape[1], 0)
    before = table.shots[first:j, hole][::-1]
    back = before.shape[0]
    seen = before + evidence.flight_green[j, :back, hole][:, None] + evidence.count[hole]
    hidden = before[:, :-1] + evidence.unseen_green[j, :back, hole][:, None] + evidence.count[hole, 1:]
    unseen = float(np.max(hidden)) > float(np.max(seen))
    offset, number = np.unravel_index(
        int(np.argmax(hidden if unseen else seen)), (hidden if unseen else seen).shape
    )
    return j - 1 - int(offset), int(number), unseen


def _unwind_shot(evidence: Evidence, table: _Forward, j: int, hole: int, number: int) -> tuple[int, int]:
    """The stand of the shot before and the strokes since; -1 where the hole begins here."""
    score = float(table.shots[j, hole, number])
    first = max(j - evidence.flight.shape[1], 0)
    before = table.shots[first:j, hole][::-1]
    back = before.shape[0]
    shot = float(evidence.shot[j, hole])
    if back and number >= 2:
        flown = before[:, number - 1] + evidence.flight[j, :back, hole] + shot
        if _same(score, float(np.max(flown))):
            return j - 1 - int(np.argmax(flown)), 1
    if back and number >= 3:
        hidden = before[:, number - 2] + evidence.unseen[j, :back, hole] + shot
        if _same(score, float(np.max(hidden))):
            return j - 1 - int(np.argmax(hidden)), 2
    return -1, 1 if number == 1 else 2


def probabilities(evidence: Evidence) -> tuple[Floats, Floats, Floats]:
    """
    Weigh all stories together, by forward and backward sums.

    Parameters
    ----------
    evidence : Evidence
        What is weighed.

    Returns
    -------
    shot : numpy.ndarray, shape (m, h)
        Probability that the stand is a shot off the green of the hole.
    green : numpy.ndarray, shape (m, h)
        Probability that the stand is the first on the green of the hole.
    first : numpy.ndarray, shape (m, h)
        Probability that the stand is the first shot of the hole; at most `shot`.

    References
    ----------
    .. [1] S.-Z. Yu, "Hidden semi-Markov models," Artificial Intelligence, vol. 174, 2010.
    """
    stands, holes = evidence.tee.shape
    if stands == 0:
        return np.empty((0, holes)), np.empty((0, holes)), np.empty((0, holes))
    sums = story_sums(evidence)
    if sums is None:
        return np.zeros((stands, holes)), np.zeros((stands, holes)), np.zeros((stands, holes))
    shot, green, first = (np.clip(one, 0.0, 1.0) for one in sums)
    return shot, green, first
