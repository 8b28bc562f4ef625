"""``trackgolf rounds``: what the library holds."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from trackgolf.cli.options import library_option, the_library, warn

__all__ = ["rounds"]


@click.command(epilog="Times are those of a clock at the course; --json has UTC.")
@click.option("--player", metavar="NAME", help="Rounds of this player only.")
@click.option("--course", metavar="NAME", help="Rounds on courses with this in their name only.")
@click.option(
    "--since", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Played on this day or later."
)
@click.option(
    "--until", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Played on this day or before."
)
@click.option("--json", "as_json", is_flag=True, help="Print the list for machines.")
@click.option("--rebuild", is_flag=True, help="First rebuild rounds that an earlier method made.")
@library_option
def rounds(
    *,
    player: str | None,
    course: str | None,
    since: datetime | None,
    until: datetime | None,
    as_json: bool,
    rebuild: bool,
    library_path: Path | None,
) -> None:
    """
    List the rounds in the library, the oldest first.

    The number that heads a line names the round for the other commands.

    \b
    Example:
      trackgolf rounds --since 2026-05-01
    """
    from trackgolf.library import read_rounds
    from trackgolf.library.lists import rounds_json, rounds_table

    if rebuild:
        _rebuild(library_path)
    with the_library(library_path, read_only=True) as connection:
        found = read_rounds(
            connection,
            player,
            course=course,
            since=None if since is None else since.date(),
            until=None if until is None else until.date(),
        )
    if as_json:
        click.echo(rounds_json(found))
    elif found.empty:
        click.echo("No rounds.")
    else:
        click.echo(rounds_table(found))


def _rebuild(library_path: Path | None) -> None:
    from trackgolf.library.correcting import rebuild_older
    from trackgolf.library.runners import cores, on_cores

    with the_library(library_path) as connection, on_cores(cores()) as run:
        for number, fault in rebuild_older(connection, run=run):
            if fault:
                warn(f"round {number} stays as it was: {fault}")
            else:
                click.echo(f"rebuilt round {number}", err=True)
