"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trackgolf.text_table import printable

if TYPE_CHECKING:
    import sqlite3

__all__ = ["course_options", "library_option", "the_library", "warn"]


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
