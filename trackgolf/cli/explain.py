"""``trackgolf explain``: how a hole was read from the track, in words."""

from __future__ import annotations

from pathlib import Path

import click

from trackgolf.cli.options import library_option, the_library
from trackgolf.cli.progress import Progress

__all__ = ["explain"]


@click.command(epilog="Times are those of a clock at the course.")
@click.argument("round_number", metavar="ROUND", type=click.IntRange(1))
@click.option("--hole", required=True, type=click.IntRange(1), help="Number of the hole.")
@library_option
def explain(round_number: int, *, hole: int, library_path: Path | None) -> None:
    """
    Tell how a hole of a round in the library was read from the track.

    Every stop on the hole is listed with what it was taken for and how surely: a shot, the green, or nothing. The odds
    say what speaks for a stroke: the stop itself, that is its length and the way you stood and walked around it, and
    its place, that is whether a ball from the shot before comes to rest there. How sure a shot is in the end also rests
    on all other stops of the round, the order of the holes, and the card.

    \b
    Example:
      trackgolf explain 1 --hole 7
    """
    from trackgolf.explain import explain_hole
    from trackgolf.library import read_round
    from trackgolf.library.rebuild import rebuild_round
    from trackgolf.text_table import printable

    with the_library(library_path, read_only=True) as connection:
        line, materials, recordings = read_round(connection, round_number)
    with Progress("rebuilding the round"):
        played = rebuild_round(recordings, materials)
    for text in explain_hole(played, hole, line["time_zone"]):
        click.echo(printable(text))
