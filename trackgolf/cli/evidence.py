"""What the commands that learn from many rounds have in common: which rounds, whose bag."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trackgolf.cli.options import library_option, the_library, warn

if TYPE_CHECKING:
    from trackgolf.bag import Bag
    from trackgolf.learn.many_rounds import ManyRounds

__all__ = ["evidence_options", "spare_sources", "the_rounds"]


def evidence_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say which rounds to learn from."""
    for option in (
        click.option(
            "--rounds",
            "folders",
            multiple=True,
            metavar="DIR",
            type=click.Path(path_type=Path),
            help="Folder of a rebuilt round, or of several, in place of the library; may be given again. Needs --bag.",
        ),
        click.option(
            "--bag",
            "bag_path",
            type=click.Path(path_type=Path),
            help="The player's clubs (TOML); by default the bag the library has.",
        ),
        click.option(
            "--since",
            type=click.DateTime(["%Y-%m-%d"]),
            metavar="DATE",
            help="Rounds of this day or later only.",
        ),
        click.option("--player", metavar="NAME", help="Whose rounds, where the library has several players."),
    ):
        command = option(command)
    return library_option(command)


def the_rounds(
    *,
    folders: tuple[Path, ...],
    bag_path: Path | None,
    player: str | None,
    since: datetime | None,
    library_path: Path | None,
) -> tuple[ManyRounds, Bag]:
    """Read the rounds and the bag that the options mean, and pass on what is doubtful about the bag."""
    from trackgolf.bag import read_bag
    from trackgolf.errors import InputError
    from trackgolf.learn.many_rounds import read_folders, read_library
    from trackgolf.library import current_bag
    from trackgolf.library.find import player_name

    day = None if since is None else since.date()
    if folders:
        if player is not None:
            raise InputError(
                "folders of rounds do not know their player", "--player", "Leave it out, or --rounds"
            )
        if bag_path is None:
            raise InputError(
                "no bag is named", "--bag", "Folders of rounds need the player's bag: give --bag"
            )
        bag = read_bag(bag_path)
        rounds = read_folders(folders, day)
    else:
        with the_library(library_path, read_only=True) as connection:
            name = player_name(connection, player)
            bag = current_bag(connection, name) if bag_path is None else read_bag(bag_path)
            rounds = read_library(connection, name, day)
        if rounds.shots.empty:
            raise InputError(
                "there are no rounds to learn from", None, "Import a round, or give an earlier --since"
            )
    for text in bag.warnings:
        warn(text)
    return rounds, bag


def spare_sources(written: list[Path], read: list[Path | None]) -> None:
    """Refuse to write over what was read."""
    from trackgolf.errors import InputError

    sources = [path.resolve() for path in read if path is not None]
    for path in written:
        if path.resolve() in sources:
            raise InputError("this file was read; it is not written over", str(path), "Choose another name")
