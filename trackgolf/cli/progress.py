"""How far a long command has come, on one line that goes away: for people who watch, never in a file or a pipe."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import Self

import click

__all__ = ["Progress"]

# What is over sooner needs no word, and a line is not written more often than an eye reads [s].
_PATIENCE_S = 1.0
_OFTEN_S = 0.1


class Progress:
    """
    A line on standard error that says what is being done.

    Nothing is written in the first second, nor where standard error is no terminal. Leaving it wipes the line.
    """

    def __init__(self, what: str, patience_s: float = _PATIENCE_S) -> None:
        self._watched = sys.stderr.isatty()
        self._what = self._text = what
        self._ready = time.monotonic() + patience_s
        self._last = 0.0
        self._shown = False
        self._lock = threading.Lock()
        # A step that takes long is said while it does, and not when it is over.
        self._timer = threading.Timer(patience_s, self._write)
        self._timer.daemon = True

    def __enter__(self) -> Self:
        if self._watched:
            self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.wipe()

    def doing(self, what: str) -> None:
        """Say what begins now; it stays on the line until the next."""
        self._what = self._text = what
        self._write()

    def count(self, done: int, total: int) -> None:
        """Say how much of it is done."""
        self._text = f"{self._what}: {done} of {total}"
        if done == total or time.monotonic() - self._last >= _OFTEN_S:
            self._write()

    def wipe(self) -> None:
        """Take the line away, before something else is written."""
        self._timer.cancel()
        with self._lock:
            if self._shown:
                click.echo("\r\x1b[K", err=True, nl=False)
                self._shown = False

    def _write(self) -> None:
        if not self._watched or time.monotonic() < self._ready:
            return
        with self._lock:
            self._last, self._shown = time.monotonic(), True
            click.echo(f"\r\x1b[K{self._text} ...", err=True, nl=False)
