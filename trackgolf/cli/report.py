"""``trackgolf report``: the files of a round that is in the library."""

from __future__ import annotations

from pathlib import Path

import click

from trackgolf.cli.options import library_option, the_library, warn
from trackgolf.cli.progress import Progress

__all__ = ["report"]


@click.command(epilog="Distances in the files are metres, times UTC; the report shows the units of the bag.")
@click.argument("round_number", metavar="ROUND", type=click.IntRange(1))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files.")
@library_option
def report(round_number: int, *, out: Path, library_path: Path | None) -> None:
    """
    Write the report of a round in the library, and its shots, holes and comparison as files.

    ROUND is its number, as trackgolf rounds lists it. The round is rebuilt by today's method from what is kept of it.

    \b
    Example:
      trackgolf report 1 --out my-round
    """
    from reports.page import round_report, round_sentence
    from trackgolf.library import read_round
    from trackgolf.library.correcting import read_notes, with_notes
    from trackgolf.library.rebuild import rebuild_round
    from trackgolf.round_files import write_round
    from trackgolf.tables import round_tables

    with the_library(library_path, read_only=True) as connection:
        _, materials, recordings = read_round(connection, round_number)
        notes = read_notes(connection, round_number)
    with Progress("rebuilding the round"):
        result = with_notes(rebuild_round(recordings, materials), notes)
        tables = round_tables(result)
        paths = write_round(result, out, round_report(tables))
    for note in result.notes:
        warn(f"hole {note.hole}: {note.text}" if note.hole else note.text)
    click.echo(f"{len(result.shots)} shots on {len(result.holes)} holes. {round_sentence(tables)}.")
    for path in paths:
        click.echo(f"  {path}")
