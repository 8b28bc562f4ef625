"""``trackgolf forget``: players and rounds out of the library for good."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from trackgolf.cli.options import library_option, the_library
from trackgolf.text_table import printable

__all__ = ["forget"]


@click.command(
    epilog="Reports and exports that were written elsewhere, and copies of the library, are not touched; delete them yourself."
)
@click.argument("round_numbers", nargs=-1, metavar="[ROUND]...", type=click.IntRange(1))
@click.option("--player", metavar="NAME", help="Forget this player with all rounds, bags, plans and notes.")
@click.option("--yes", is_flag=True, help="Do not ask first.")
@library_option
def forget(
    round_numbers: tuple[int, ...], *, player: str | None, yes: bool, library_path: Path | None
) -> None:
    """
    Take rounds, or a player, out of the library for good.

    Everything that belongs to them goes, the file is written anew without it, and the backups beside the library are
    deleted because they hold it too. It cannot be undone.

    \b
    Example:
      trackgolf forget 3
      trackgolf forget --player "Wilma Farrowdene"
    """
    from trackgolf.errors import InputError
    from trackgolf.library import default_path, read_rounds
    from trackgolf.library.find import player_name
    from trackgolf.library.forgetting import forget_player, forget_rounds
    from trackgolf.library.lists import round_line
    from trackgolf.library.read import round_row

    if bool(round_numbers) == (player is not None):
        raise click.UsageError("give the numbers of rounds, or --player")
    place = library_path if library_path is not None else default_path()
    with the_library(place) as connection:
        if player is not None:
            name = player_name(connection, player, exact=True)
            count = len(read_rounds(connection, name))
            what = f"{printable(name)} with {count} {'round' if count == 1 else 'rounds'}"
        else:
            what = "; ".join(round_line(round_row(connection, number)) for number in round_numbers)
        if not yes:
            if not sys.stdin.isatty():
                raise InputError("this cannot be undone", what, "Give --yes to do it")
            click.confirm(f"Forget {what}, for good?", abort=True, err=True)
        gone = (
            forget_player(connection, place, player)
            if player is not None
            else forget_rounds(connection, place, round_numbers)
        )
    click.echo(f"Forgotten: {what}.")
    for path in gone:
        click.echo(f"  deleted the backup {path}")
