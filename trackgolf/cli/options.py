"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from trackgolf.text_table import printable

__all__ = ["course_options", "warn"]


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


def warn(text: str) -> None:
    """Say something doubtful on standard error."""
    click.echo(f"note: {printable(text)}", err=True)
