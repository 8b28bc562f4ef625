"""Uploads worked on behind the page, one after another, in processes of their own."""

from __future__ import annotations

import contextlib
import logging
import shutil
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

from trackgolf.errors import InputError
from trackgolf.library import jobs
from trackgolf.library.opening import open_library
from trackgolf.library.runners import Runner, cores, on_cores, one_by_one
from trackgolf.library.working import ArchiveLimits, Stopped, do_job
from trackgolf.web.settings import WebSettings

__all__ = ["Worker", "the_turn", "work_off"]

# How long until it is looked whether another process left work [s].
_LOOK_S = 2.0
# Processes that nobody needs are let go after this [s]; to start one takes some seconds.
_IDLE_S = 120.0
# A job that failed for no known reason is tried again, at most so often.
_MOST_TRIES = 3
_UNKNOWN = "something went wrong here; what is listed was kept, give the rest again"


class Worker:
    """
    A thread that works off the uploads of a library.

    Of all processes that serve one library one works at a time. What a
    process that was killed left unfinished the next one goes on with.

    Parameters
    ----------
    settings : WebSettings
        The library, and the limits.
    apart : bool
        Whether rounds are rebuilt in processes of their own, so that pages
        are shown as quickly as ever.
    """

    def __init__(self, settings: WebSettings, *, apart: bool = True) -> None:
        self._settings = settings
        self._apart = apart
        self._stop = threading.Event()
        self._woken = threading.Event()
        self._thread = threading.Thread(target=self._run, name="uploads", daemon=True)
        self._pool = contextlib.ExitStack()
        self._runner: Runner | None = None

    def start(self) -> None:
        """Begin to work."""
        self._thread.start()

    def wake(self) -> None:
        """Say that there is an upload."""
        self._woken.set()

    def stop(self) -> None:
        """Leave what is unfinished for the next start."""
        self._stop.set()
        self._woken.set()
        self._thread.join()

    def _run(self) -> None:
        place = self._settings.library
        with self._pool:
            while not self._stop.is_set():
                with contextlib.suppress(Exception), the_turn(place) as mine:
                    if mine:
                        self._work(place)
                self._pause(_LOOK_S)

    def _work(self, place: Path) -> None:
        """Work off what waits, for as long as this process has its turn."""
        last = time.monotonic()
        while not self._stop.is_set():
            did = False
            try:
                if place.exists():
                    did = work_off(self._settings, run=self._processes, stopping=self._stop.is_set)
            except BrokenProcessPool:
                # A process was killed, or the machine ran out of memory: the job is begun again.
                self._let_go()
            except (sqlite3.Error, OSError, InputError):
                # A full disk, say: told where somebody asks for a page, and tried again.
                logging.getLogger("trackgolf.web").warning("an upload has to wait", exc_info=True)
            if did:
                last = time.monotonic()
            else:
                if time.monotonic() - last > _IDLE_S:
                    self._let_go()
                self._pause(_LOOK_S)

    def _pause(self, longest_s: float) -> None:
        self._woken.wait(longest_s)
        self._woken.clear()

    def _processes(self, _tracks: int) -> Runner:
        if not self._apart:
            return one_by_one
        if self._runner is None:
            # Of these only as many are started as there is work for.
            self._runner = self._pool.enter_context(on_cores(cores(), apart=True))
        return self._runner

    def _let_go(self) -> None:
        self._runner = None
        self._pool.close()


def work_off(
    settings: WebSettings,
    *,
    run: Callable[[int], Runner] = lambda _tracks: one_by_one,
    stopping: Callable[[], bool] = lambda: False,
) -> bool:
    """
    Do the next upload that waits.

    Parameters
    ----------
    settings : WebSettings
        The library, and the limits.
    run : callable, optional
        Gives what tasks run on, for a number of tracks.
    stopping : callable, optional
        Whether to stop and leave the rest for later.

    Returns
    -------
    bool
        False if none waited.
    """
    limits = ArchiveLimits(settings.max_members, settings.max_unpacked, settings.max_ratio)
    with contextlib.closing(open_library(settings.library)) as connection:
        taken = jobs.begin_next(connection)
        if taken is None:
            return False
        job, files = taken
        try:
            with _folder_beside(settings.library) as folder:
                do_job(connection, job, files, folder, run=run, limits=limits, stopping=stopping)
        except Stopped:
            jobs.put_back(connection, job.id)
        except (BrokenProcessPool, sqlite3.Error, OSError):
            raise
        except Exception:
            logging.getLogger("trackgolf.web").exception("an upload failed")
            if job.tries >= _MOST_TRIES:
                jobs.end_job(connection, job.id, _UNKNOWN)
    return True


@contextlib.contextmanager
def the_turn(library: Path) -> Iterator[bool]:
    """
    Try to be the one process that works on the uploads of a library.

    Parameters
    ----------
    library : pathlib.Path
        The library.

    Yields
    ------
    bool
        Whether it is this process, until the end of the context; the system
        ends it with the process, however that ends.
    """
    # An empty database beside the library: SQLite knows how to lock a file on every system.
    with contextlib.closing(
        sqlite3.connect(library.with_name(f"{library.name}.turn"), timeout=0.0, isolation_level=None)
    ) as lock:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError:
            yield False
        else:
            yield True


@contextlib.contextmanager
def _folder_beside(library: Path) -> Iterator[Path]:
    """Give a folder for whole tracks, empty before and gone afterwards, also what a killed process left there."""
    folder = library.with_name(f"{library.name}.work")
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
