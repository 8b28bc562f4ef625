"""``trackgolf players``: an overview of the players in the library, for a coach."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from trackgolf.cli.options import library_option, the_library

__all__ = ["players"]


@click.command(epilog="A player's rounds belong to the player: keep and show them with consent only.")
@click.option(
    "--since", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Rounds of this day or later only."
)
@click.option("--json", "as_json", is_flag=True, help="Print the overview for machines.")
@library_option
def players(*, since: datetime | None, as_json: bool, library_path: Path | None) -> None:
    """
    Give an overview of every player in the library: layups, regulation, putts, progress, what to work on.

    Each number has the range it lies in four times in five and what it rests on. Players are told by name and not
    ranked: a few rounds do not bear that.

    \b
    Example:
      trackgolf players --since 2026-04-01
    """
    from trackgolf.errors import InputError
    from trackgolf.learn.many_rounds import read_library
    from trackgolf.learn.players import look_at_player, players_json, players_text
    from trackgolf.library import read_players

    day = None if since is None else since.date()
    with the_library(library_path, read_only=True) as connection:
        names = read_players(connection)
        found = [look_at_player(name, read_library(connection, name, day)) for name in names]
    found = [one for one in found if one.rounds]
    if not found:
        raise InputError("there are no rounds to look at", None, "Import a round, or give an earlier --since")
    if as_json:
        click.echo(json.dumps(players_json(found), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(players_text(found))
