"""Plans made in the background: one at a time, in other processes, with how far they are."""

from __future__ import annotations

import logging
import multiprocessing
import os
import threading
from collections import OrderedDict
from collections.abc import Hashable, Sequence
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field

from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import InputError
from trackgolf.strategy.moved import ReadyHole, make_ready
from trackgolf.strategy.plans import HolePlans, HoleTask, plan_hole
from trackgolf.strategy.rounds import RoundPlans, strategy_plans

__all__ = ["HolesAtHand", "Making", "PlanMaker"]

# So few holes are not worth another process.
_ALONE = 3
# Plans kept at hand, and holes made ready: each of these takes some 20 MB.
_MOST_PLANS, _MOST_HOLES = 8, 6
# Plans that may wait for their turn.
_MOST_WAITING = 4


@dataclass
class Making:
    """
    A plan that is being made.

    Attributes
    ----------
    course, bag : Course, Bag
        What for, with what.
    tasks : tuple of HoleTask
        The holes.
    done : int
        How many of them are planned.
    fault : str
        Why it cannot be made, "" if nothing is known against it.
    plans : RoundPlans or None
        Once it is made.
    """

    course: Course
    bag: Bag
    tasks: tuple[HoleTask, ...]
    done: int = 0
    fault: str = ""
    plans: RoundPlans | None = None
    pages: dict[str, str] = field(default_factory=dict)

    @property
    def under_way(self) -> bool:
        """Whether there is something to wait for."""
        return self.plans is None and not self.fault


class PlanMaker:
    """Makes plans one after the other, and keeps the last ones at hand."""

    def __init__(self) -> None:
        self._made: OrderedDict[Hashable, Making] = OrderedDict()
        self._lock = threading.Lock()
        self._turn = threading.Lock()

    def look(self, key: Hashable) -> Making | None:
        """
        Look whether a plan was asked for.

        Parameters
        ----------
        key : hashable
            What it is made from.

        Returns
        -------
        Making or None
            None for one that is not at hand.
        """
        with self._lock:
            found = self._made.get(key)
            if found is not None:
                self._made.move_to_end(key)
            return found

    def ask(self, key: Hashable, course: Course, bag: Bag, tasks: Sequence[HoleTask]) -> Making:
        """
        Have a plan made; one that is at hand or under way is not made again.

        Parameters
        ----------
        key : hashable
            What it is made from.
        course : Course
            The course.
        bag : Bag
            The bag.
        tasks : sequence of HoleTask
            The holes.

        Returns
        -------
        Making
            How far it is.

        Raises
        ------
        InputError
            If several others are waiting.
        """
        with self._lock:
            found = self._made.get(key)
            if found is not None and not found.fault:
                return found
            if sum(one.under_way for one in self._made.values()) >= _MOST_WAITING:
                raise InputError("several plans are being made already", None, "Wait for them")
            making = self._made[key] = Making(course, bag, tuple(tasks))
            while len(self._made) > _MOST_PLANS:
                ended = next((old for old, one in self._made.items() if not one.under_way), None)
                if ended is None:
                    break
                del self._made[ended]
        threading.Thread(target=self._make, args=(making,), name="plan", daemon=True).start()
        return making

    def _make(self, making: Making) -> None:
        with self._turn:
            try:
                holes = _plan_holes(making)
                making.plans = strategy_plans(making.course, making.bag, making.tasks, holes)
            except InputError as fault:
                making.fault = str(fault)
            except Exception:
                logging.getLogger("trackgolf.web").exception("a plan could not be made")
                making.fault = "Something went wrong here. No plan was made."


def _give_way() -> None:
    """Let the pages that people look at meanwhile go first."""
    if hasattr(os, "nice"):
        os.nice(10)


def _plan_holes(making: Making) -> list[HolePlans]:
    if len(making.tasks) <= _ALONE:
        made = []
        for task in making.tasks:
            made.append(plan_hole(task))
            making.done += 1
        return made
    found: dict[int, HolePlans] = {}
    # A new interpreter rather than a copy of this one: copies of a process with threads may hang.
    context = multiprocessing.get_context("spawn")
    # The longest holes first, so that no process is left with one at the end.
    order = sorted(making.tasks, key=lambda task: -float(task.site.pin_m[1]))
    try:
        with ProcessPoolExecutor(os.cpu_count() or 1, mp_context=context, initializer=_give_way) as pool:
            for future in as_completed([pool.submit(plan_hole, task) for task in order]):
                hole = future.result()
                found[hole.number] = hole
                making.done = len(found)
    except BrokenExecutor:
        # A machine may end processes that it has no room for: what is left is planned here.
        logging.getLogger("trackgolf.web").warning("a process that planned holes was ended")
    for task in order:
        if task.site.number not in found:
            found[task.site.number] = plan_hole(task)
            making.done = len(found)
    return [found[task.site.number] for task in making.tasks]


class HolesAtHand:
    """Holes made ready for moving targets; each once, however many ask for it."""

    def __init__(self) -> None:
        self._ready: OrderedDict[Hashable, ReadyHole] = OrderedDict()
        self._locks: dict[Hashable, threading.Lock] = {}
        self._lock = threading.Lock()

    def take(self, key: Hashable, task: HoleTask) -> ReadyHole:
        """
        Give a hole that is ready, or make it so.

        Parameters
        ----------
        key : hashable
            What it is made from.
        task : HoleTask
            The same for the planner.

        Returns
        -------
        ReadyHole
            The hole.
        """
        with self._lock:
            mine = self._locks.setdefault(key, threading.Lock())
        with mine:
            with self._lock:
                if key in self._ready:
                    self._ready.move_to_end(key)
                    return self._ready[key]
            made = make_ready(task)
            with self._lock:
                self._ready[key] = made
                while len(self._ready) > _MOST_HOLES:
                    old, _ = self._ready.popitem(last=False)
                    self._locks.pop(old, None)
            return made
