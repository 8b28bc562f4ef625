"""``trackgolf export``: rounds of the library for other programs, and to share."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from trackgolf.cli.options import library_option, the_library

__all__ = ["export"]


@click.command(epilog="All lengths are metres and all times UTC, whatever the units of the bag.")
@click.argument("round_numbers", nargs=-1, metavar="[ROUND]...", type=click.IntRange(1))
@click.option("--player", metavar="NAME", help="All rounds of this player.")
@click.option(
    "--since", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Played on this day or later."
)
@click.option(
    "--table",
    type=click.Choice(["shots", "holes", "comparison", "rounds", "notes"]),
    default="shots",
    show_default=True,
    help="What a CSV file holds.",
)
@click.option("--share", is_flag=True, help="Leave out what exposes a person.")
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    help="The file; its ending says the format: .geojson, .csv, .gpkg, .gpx.",
)
@library_option
def export(
    round_numbers: tuple[int, ...],
    *,
    player: str | None,
    since: datetime | None,
    table: str,
    share: bool,
    out: Path,
    library_path: Path | None,
) -> None:
    """
    Write rounds of the library into a file for other programs: all of them, or those named.

    GeoJSON holds tracks and shots, GeoPackage these and the courses, holes and comparisons as layers for GIS programs,
    CSV one table, GPX the track of one round. Notes on players and rounds go along. With --share there are no names, days or clock times in it, no marks
    and notes, and nothing that lies off the course.

    \b
    Example:
      trackgolf export --out season.gpkg
      trackgolf export 3 --share --out to-show.geojson
    """
    from trackgolf.library import read_rounds
    from trackgolf.library.exporting import export_rounds, write_export
    from trackgolf.library.read import round_row

    with the_library(library_path, read_only=True) as connection:
        for number in round_numbers:
            round_row(connection, number)
        listed = read_rounds(connection, player, since=None if since is None else since.date())[
            "round"
        ].tolist()
        wanted = [number for number in listed if not round_numbers or number in round_numbers]
        result = export_rounds(connection, wanted, share=share)
    write_export(result, out, table)
    count = len(result.rounds)
    click.echo(f"{count} {'round' if count == 1 else 'rounds'}, {len(result.shots)} shots: {out}")
    if result.left_out:
        click.echo(f"  left out {result.left_out} points and shots off the course")
