"""``trackgolf approaches``: from where the green is really reached, and what strokes went on."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from trackgolf.cli.evidence import evidence_options, spare_sources, the_rounds

__all__ = ["approaches"]


@click.command(epilog="Lengths in the JSON are metres; on the screen they have the unit of the bag.")
@evidence_options
@click.option("--json", "as_json", is_flag=True, help="Print the result for machines.")
@click.option(
    "--html",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the page of carries --html, which has all of it.",
)
def approaches(
    *,
    folders: tuple[Path, ...],
    bag_path: Path | None,
    player: str | None,
    since: datetime | None,
    library_path: Path | None,
    as_json: bool,
    html: Path | None,
) -> None:
    """
    Say from which distances you really reach the green, beside those you named, and what strokes went on.

    Greens in regulation by personal par, what comes of shots from beside the green, putts by the length of the first,
    and the strokes over personal par by cause, adding up exactly.

    \b
    Example:
      trackgolf approaches --since 2026-04-01
    """
    from trackgolf.learn.approaches import learn_approaches
    from trackgolf.learn.approaches_show import approaches_json, approaches_text
    from trackgolf.learn.causes import causes_by_round, strokes_by_cause
    from trackgolf.learn.putts import account_for_putts, account_for_regulation

    rounds, bag = the_rounds(
        folders=folders, bag_path=bag_path, player=player, since=since, library_path=library_path
    )
    found = (
        learn_approaches(rounds, bag),
        account_for_regulation(rounds),
        account_for_putts(rounds),
        causes_by_round(strokes_by_cause(rounds)),
        bag.units,
    )
    if html is not None:
        from geo.files import write_texts
        from reports.evidence_page import evidence_page
        from trackgolf.learn.carries import learn_carries
        from trackgolf.learn.evidence_tables import evidence_tables

        spare_sources([html], [bag_path])
        write_texts([(html, evidence_page(evidence_tables(rounds, bag, learn_carries(rounds.shots, bag))))])
    if as_json:
        click.echo(json.dumps(approaches_json(*found), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(approaches_text(*found))
    if html is not None:
        click.echo(f"\nWritten: {html}")
