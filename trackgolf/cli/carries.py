"""``trackgolf carries``: what the clubs really do, from many rounds."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from trackgolf.cli.evidence import evidence_options, spare_sources, the_rounds

__all__ = ["carries"]


@click.command(epilog="Lengths in the JSON are metres; on the screen they have the unit of the bag.")
@evidence_options
@click.option("--json", "as_json", is_flag=True, help="Print the result for machines.")
@click.option(
    "--write-bag",
    "new_bag",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write a new bag with what was measured (TOML), for the next plan.",
)
def carries(
    *,
    folders: tuple[Path, ...],
    bag_path: Path | None,
    player: str | None,
    since: datetime | None,
    library_path: Path | None,
    as_json: bool,
    new_bag: Path | None,
) -> None:
    """
    Say what each club really does: distance, spread, mishits, each with the range it surely lies in.

    Mishits do not move a distance, clubs with few shots learn from the others, and clubs that nobody named are
    inferred. Which shots were left out, and why, is said at the end.

    \b
    Example:
      trackgolf carries --since 2026-04-01 --write-bag new-bag.toml
    """
    from geo.files import write_texts
    from trackgolf.learn.approaches import learn_approaches, preferred
    from trackgolf.learn.bag_write import bag_text
    from trackgolf.learn.carries import learn_carries
    from trackgolf.learn.carries_show import carries_json, carries_text

    rounds, bag = the_rounds(
        folders=folders, bag_path=bag_path, player=player, since=since, library_path=library_path
    )
    learned = learn_carries(rounds.shots, bag)
    files: list[tuple[Path, str]] = []
    if new_bag is not None:
        distances = dict(zip(learned.clubs["club"], learned.clubs["distance_m"], strict=True))
        files.append(
            (new_bag, bag_text(bag, learned, preferred(bag, learn_approaches(rounds, bag), distances)))
        )
    spare_sources([path for path, _ in files], [bag_path])
    write_texts(files)
    if as_json:
        click.echo(json.dumps(carries_json(learned), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(carries_text(learned, bag.units))
    if files:
        click.echo(f"\nWritten: {', '.join(str(path) for path, _ in files)}")
