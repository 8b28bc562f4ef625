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
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Write the overview as a page into this folder, with a page a player to hand over.",
)
@click.option(
    "--notes",
    "notes_path",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Notes for the page (TOML): [[note]] with player, text, and plan, the page of a plan you set.",
)
@library_option
def players(
    *,
    since: datetime | None,
    as_json: bool,
    out: Path | None,
    notes_path: Path | None,
    library_path: Path | None,
) -> None:
    """
    Give an overview of every player in the library: layups, regulation, putts, progress, what to work on.

    Each number has the range it lies in four times in five and what it rests on. Players are told by name and not
    ranked: a few rounds do not bear that.

    \b
    Example:
      trackgolf players --since 2026-04-01
    """
    from geo.files import write_texts
    from trackgolf.errors import InputError
    from trackgolf.learn.coach import coach_files, read_notes
    from trackgolf.learn.many_rounds import read_library
    from trackgolf.learn.players import look_at_player, players_json, players_text
    from trackgolf.library import current_bag, read_players
    from trackgolf.round_files import prepare_folder

    if notes_path is not None and out is None:
        raise InputError("notes stand on the page only", "--notes", "Give --out too, or leave them out")
    day = None if since is None else since.date()
    with the_library(library_path, read_only=True) as connection:
        every = {name: read_library(connection, name, day) for name in read_players(connection)}
        rounds = {name: found for name, found in every.items() if found.rounds}
        bags = {name: current_bag(connection, name) for name in rounds} if out is not None else {}
    if not rounds:
        raise InputError("there are no rounds to look at", None, "Import a round, or give an earlier --since")
    written = []
    if out is not None:
        notes = {} if notes_path is None else read_notes(notes_path, list(rounds))
        pages = coach_files({name: (rounds[name], bags[name]) for name in rounds}, notes)
        folder = prepare_folder(out)
        written = [(folder / name, text) for name, text in pages]
        write_texts(written)
    found = [look_at_player(name, mine) for name, mine in rounds.items()]
    if as_json:
        click.echo(json.dumps(players_json(found), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(players_text(found))
    if written:
        click.echo(f"\nWritten: {', '.join(str(path) for path, _ in written)}")
