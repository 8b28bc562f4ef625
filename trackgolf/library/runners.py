"""How tasks are run: here one by one, on the cores of this machine, or on a cluster; results always in order."""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from typing import Any, Protocol, TypeVar

from trackgolf.errors import InputError

__all__ = ["Runner", "cores", "in_order", "on_cluster", "on_cores", "one_by_one"]

Task = TypeVar("Task")
Done = TypeVar("Done")
# Tasks handed out a worker and not yet fetched: enough to keep it busy, few enough that memory stays flat.
_AHEAD = 2
# How long a scheduler may take to answer [s].
_PATIENCE_S = 10


class Runner(Protocol):
    """Runs a function over tasks and gives the results in the order of the tasks."""

    def __call__(self, function: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
        """
        Run.

        Parameters
        ----------
        function : callable
            What to do with each task.
        tasks : iterable
            The tasks; taken only as they are needed.

        Returns
        -------
        iterator
            The results, in order.
        """
        ...


def cores() -> int:
    """
    Count the cores this process may use.

    Returns
    -------
    int
        At least 1.
    """
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def one_by_one(function: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
    """
    Run tasks in this process.

    Parameters
    ----------
    function : callable
        What to do with each task.
    tasks : iterable
        The tasks.

    Returns
    -------
    iterator
        The results, in order.
    """
    return map(function, tasks)


@contextmanager
def on_cores(workers: int, *, apart: bool = False) -> Iterator[Runner]:
    """
    Run tasks in processes of this machine.

    Parameters
    ----------
    workers : int
        How many processes; 1 is this process itself.
    apart : bool
        Whether even one is to be a process of its own, which leaves this one
        free for other work.

    Yields
    ------
    Runner
        What runs tasks, until the end of the context.
    """
    if workers <= 1 and not apart:
        yield one_by_one
        return
    # A fresh process holds no open library and no lock of this one.
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_end_with_parent)
    try:

        def run(function: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
            return in_order(lambda task: pool.submit(function, task), tasks, _AHEAD * workers)

        yield run
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def on_cluster(address: str) -> Iterator[Runner]:
    """
    Run tasks on a cluster that Dask's scheduler hands them to.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://10.0.0.5:8786``.

    Yields
    ------
    Runner
        What runs tasks, until the end of the context. The workers need
        trackgolf of the same version and no file of this machine: tracks
        travel with their tasks.

    Raises
    ------
    InputError
        If Dask is not installed or nobody answers at the address.
    """
    try:
        from distributed import Client
    except ImportError as fault:
        what = "Dask's scheduler is not installed here"
        raise InputError(what, "--dask", "Install it with: pip install 'trackgolf[cluster]'") from fault
    try:
        connect: Any = Client
        client = connect(address, timeout=_PATIENCE_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as fault:
        raise InputError(
            "no scheduler answers there", f"--dask {address[:80]}", "Check the address"
        ) from fault
    with client:
        ahead = _AHEAD * max(1, sum(client.nthreads().values()))

        def submit(function: Callable[[Any], Any], task: Any) -> Any:
            # Sent on its own, for a track is large for a part of a task's description.
            sent = client.scatter(task, hash=False)
            return client.submit(function, sent, pure=False)

        def run(function: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
            return in_order(lambda task: submit(function, task), tasks, ahead)

        yield run


def _end_with_parent() -> None:
    """Let a process end when the one it works for is killed, rather than wait for work for ever."""
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def in_order(submit: Callable[[Any], Future[Any]], tasks: Iterable[Any], ahead: int) -> Iterator[Any]:
    """
    Hand out tasks some way ahead, and give their results in order.

    Parameters
    ----------
    submit : callable
        Hands out a task, and gives what its result is fetched from.
    tasks : iterable
        The tasks.
    ahead : int
        How many are handed out and not yet fetched, at most.

    Yields
    ------
    object
        The results.
    """
    waiting: deque[Future[Any]] = deque()
    try:
        for task in tasks:
            waiting.append(submit(task))
            if len(waiting) >= ahead:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()
