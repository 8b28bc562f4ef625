"""Options that several commands share."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trackgolf.text_table import printable

if TYPE_CHECKING:
    import sqlite3

__all__ = ["course_options", "library_option", "the_library", "verbose_option", "warn"]

# The two packages that decide things; each module logs under its own name.
_DECIDING = ("geo", "trackgolf")


def course_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that name a course: the file, a scorecard, a tee."""
    for option in (
        click.option("--tee", metavar="NAME", help="Tee the round is played from, as the course names it."),
        click.option(
            "--scorecard",
            "scorecard_path",
            type=click.Path(path_type=Path),
            help="Scorecard of the course (CSV); fills in or replaces what the shapes lack.",
        ),
        click.option(
            "--course",
            "course_path",
            type=click.Path(path_type=Path),
            help="Course file: GeoJSON, OpenStreetMap XML or Overpass JSON.",
        ),
    ):
        command = option(command)
    return command


def library_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option that names a library."""
    return click.option(
        "--library",
        "library_path",
        metavar="FILE",
        envvar="TRACKGOLF_LIBRARY",
        type=click.Path(path_type=Path),
        help="The library; by default in the platform's data folder, or where TRACKGOLF_LIBRARY says.",
    )(command)


def verbose_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option that has said on standard error what was decided and why."""
    return click.option(
        "-v",
        "--verbose",
        count=True,
        expose_value=False,
        callback=_listen,
        help="Say on standard error what was decided and why; -vv tells each step in full.",
    )(command)


class _Telling(logging.Handler):
    """Puts what the library logs on standard error, as long as a command runs."""

    def emit(self, record: logging.LogRecord) -> None:
        click.echo(f"why: {printable(record.getMessage())}", err=True)


def _listen(ctx: click.Context, _option: click.Parameter, count: int) -> None:
    if not count or ctx.resilient_parsing:
        return
    handler = _Telling()
    loggers = [logging.getLogger(name) for name in _DECIDING]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.addHandler(handler)
        logger.setLevel(logging.INFO if count == 1 else logging.DEBUG)

    def stop() -> None:
        for logger, level in zip(loggers, before, strict=True):
            logger.removeHandler(handler)
            logger.setLevel(level)

    ctx.call_on_close(stop)


@contextmanager
def the_library(path: Path | None, *, read_only: bool = False) -> Iterator[sqlite3.Connection]:
    """Open the library that is meant, and say what goes wrong with it as something the user can act on."""
    from trackgolf.library import default_path, library_faults, open_library

    place = path if path is not None else default_path()
    with library_faults(place):
        connection = open_library(place, read_only=read_only)
        try:
            yield connection
        finally:
            connection.close()


def warn(text: str) -> None:
    """Say something doubtful on standard error."""
    click.echo(f"note: {printable(text)}", err=True)
