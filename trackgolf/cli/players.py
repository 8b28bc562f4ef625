"""``trackgolf players``: an overview of the players in the library, for a coach."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from trackgolf.cli.options import library_option, the_library
from trackgolf.cli.progress import Progress
from trackgolf.text_table import printable

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
@click.option("--player", metavar="NAME", help="This player only.")
@click.option("--note", metavar="TEXT", help="Note something about --player, and show nothing.")
@click.option("--remove-note", metavar="N", type=click.IntRange(1), help="Take note N on --player out again.")
@library_option
def players(
    *,
    player: str | None,
    note: str | None,
    remove_note: int | None,
    since: datetime | None,
    as_json: bool,
    out: Path | None,
    notes_path: Path | None,
    library_path: Path | None,
) -> None:
    """
    Give an overview of every player in the library: layups, regulation, putts, progress, what to work on.

    Each number has the range it lies in four times in five and what it rests on. Players are told by name and not
    ranked: a few rounds do not bear that. What was noted about a player stands with it.

    \b
    Example:
      trackgolf players --since 2026-04-01
      trackgolf players --player "Wilma Farrowdene" --note "aims left of every green"
    """
    if note is not None or remove_note is not None:
        _change_notes(player, note, remove_note, library_path)
        return
    from geo.files import write_texts
    from trackgolf.errors import InputError
    from trackgolf.learn.coach import coach_files, join_notes, read_notes
    from trackgolf.learn.many_rounds import read_library
    from trackgolf.learn.players import look_at_player, players_json, players_text
    from trackgolf.library import current_bag, read_player_notes, read_players
    from trackgolf.library.find import player_name
    from trackgolf.round_files import prepare_folder

    if notes_path is not None and out is None:
        raise InputError("notes stand on the page only", "--notes", "Give --out too, or leave them out")
    day = None if since is None else since.date()
    with the_library(library_path, read_only=True) as connection:
        names = read_players(connection) if player is None else [player_name(connection, player)]
        every = {name: read_library(connection, name, day) for name in names}
        kept = read_player_notes(connection, player)
        rounds = {name: found for name, found in every.items() if found.rounds}
        bags = {name: current_bag(connection, name) for name in rounds} if out is not None else {}
    if not rounds:
        raise InputError("there are no rounds to look at", None, "Import a round, or give an earlier --since")
    written = []
    with Progress("looking at players") as progress:
        found = []
        for number, (name, mine) in enumerate(rounds.items(), start=1):
            found.append(look_at_player(name, mine))
            progress.count(number, len(rounds))
    if out is not None:
        notes = {} if notes_path is None else read_notes(notes_path, list(rounds))
        pages = coach_files({name: (rounds[name], bags[name]) for name in rounds}, join_notes(kept, notes))
        folder = prepare_folder(out)
        written = [(folder / name, text) for name, text in pages]
        write_texts(written)
    if as_json:
        click.echo(json.dumps(players_json(found, kept), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(players_text(found, kept))
    if written:
        click.echo(f"\nWritten: {', '.join(str(path) for path, _ in written)}")


def _change_notes(player: str | None, note: str | None, remove_note: int | None, place: Path | None) -> None:
    """Add a note on a player, or take one out."""
    from trackgolf.library.coaching import add_player_note, remove_player_note
    from trackgolf.library.find import player_name

    if note is not None and remove_note is not None:
        raise click.UsageError("Give --note or --remove-note, not both.")
    with the_library(place) as connection:
        name = player_name(connection, player)
        if note is not None:
            number = add_player_note(connection, name, note)
            click.echo(f"Noted about {printable(name)} as note {number}.")
        elif remove_note is not None:
            remove_player_note(connection, name, remove_note)
            click.echo(f"Taken out: note {remove_note} on {printable(name)}.")
