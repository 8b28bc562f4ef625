"""``trackgolf carries``: what the clubs really do, from many rounds."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from trackgolf.cli.evidence import evidence_options, spare_sources, the_rounds
from trackgolf.cli.progress import Progress

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
@click.option(
    "--html",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write a page with all of it, and with approaches, putts and what strokes went on.",
)
@click.option(
    "--course",
    "course_path",
    type=click.Path(path_type=Path),
    help="A course; the page then shows its plan with the bag as stated and as measured.",
)
@click.option("--tee", metavar="NAME", help="Tee of that course.")
def carries(
    *,
    folders: tuple[Path, ...],
    bag_path: Path | None,
    player: str | None,
    since: datetime | None,
    library_path: Path | None,
    as_json: bool,
    new_bag: Path | None,
    html: Path | None,
    course_path: Path | None,
    tee: str | None,
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
    from reports.evidence_page import evidence_page
    from trackgolf.errors import InputError
    from trackgolf.learn.approaches import learn_approaches, preferred
    from trackgolf.learn.bag_write import bag_text
    from trackgolf.learn.carries import learn_carries
    from trackgolf.learn.carries_show import carries_json, carries_text
    from trackgolf.learn.evidence_tables import evidence_tables
    from trackgolf.learn.replan import plan_before_and_after

    if course_path is not None and html is None:
        raise InputError(
            "a course is of use to the page only", "--course", "Give --html too, or leave it out"
        )
    if tee is not None and course_path is None:
        raise InputError("a tee is of use with a course only", "--tee", "Give --course too, or leave it out")
    rounds, bag = the_rounds(
        folders=folders, bag_path=bag_path, player=player, since=since, library_path=library_path
    )
    files: list[tuple[Path, str]] = []
    with Progress("learning from shots") as progress:
        learned = learn_carries(rounds.shots, bag)
        distances = dict(zip(learned.clubs["club"], learned.clubs["distance_m"], strict=True))
        text = bag_text(bag, learned, preferred(bag, learn_approaches(rounds, bag), distances))
        if new_bag is not None:
            files.append((new_bag, text))
        if html is not None:
            progress.doing(
                "writing the page" if course_path is None else "planning with the old bag and the new"
            )
            replan = None if course_path is None else plan_before_and_after(course_path, tee, bag, text)
            files.append((html, evidence_page(evidence_tables(rounds, bag, learned, replan=replan))))
    spare_sources([path for path, _ in files], [bag_path, course_path])
    write_texts(files)
    if as_json:
        click.echo(json.dumps(carries_json(learned), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(carries_text(learned, bag.units))
    if files:
        click.echo(f"\nWritten: {', '.join(str(path) for path, _ in files)}")
