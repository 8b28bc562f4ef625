"""``trackgolf reconstruct``: a round from its track, as files."""

from __future__ import annotations

from pathlib import Path

import click

from trackgolf.cli.options import course_options, verbose_option, warn
from trackgolf.cli.progress import Progress

__all__ = ["reconstruct"]


@click.command(epilog="Distances in the files are metres, times UTC; the report shows the units of the bag.")
@click.argument("tracks", nargs=-1, required=True, metavar="TRACK...", type=click.Path(path_type=Path))
@course_options
@click.option(
    "--bag", "bag_path", required=True, type=click.Path(path_type=Path), help="The player's clubs (TOML)."
)
@click.option("--plan", "plan_path", type=click.Path(path_type=Path), help="The plan of the round (GeoJSON).")
@click.option("--card", "card_path", type=click.Path(path_type=Path), help="The card as played (CSV).")
@click.option(
    "--corrections",
    "corrections_path",
    type=click.Path(path_type=Path),
    help="What you set right by hand (JSON); it holds, and the rest is found around it.",
)
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the files.")
@verbose_option
def reconstruct(
    tracks: tuple[Path, ...],
    *,
    course_path: Path | None,
    scorecard_path: Path | None,
    tee: str | None,
    bag_path: Path,
    plan_path: Path | None,
    card_path: Path | None,
    corrections_path: Path | None,
    out: Path,
) -> None:
    """
    Rebuild a round from its GPX track: holes, shots, clubs, and how they compare with the plan.

    Several TRACK files are one round. Writes shots.geojson, holes.csv, comparison.csv and report.html into the
    folder; other files there stay as they are.

    \b
    Example:
      trackgolf reconstruct round.gpx --course course.geojson --bag bag.toml \\
          --plan plan.geojson --card card.csv --out my-round

    Without --course the holes are guessed from the track, and everything that comes of it says so. They are
    written to holes_guessed.geojson as well: look over each hole, then see trackgolf course --from-round. A
    scorecard without positions and the card help to guess.

    A track shows where people were, and may begin at somebody's home: only points near the course are used and
    written. Share a report only with the consent of those it shows.
    """
    from reports.page import round_sentence
    from trackgolf.cli.run import rebuild_files
    from trackgolf.tables import round_tables

    with Progress("rebuilding the round"):
        result, paths = rebuild_files(
            tracks,
            course_path=course_path,
            scorecard_path=scorecard_path,
            tee=tee,
            bag_path=bag_path,
            plan_path=plan_path,
            card_path=card_path,
            corrections_path=corrections_path,
            out=out,
        )
    for note in result.notes:
        warn(f"hole {note.hole}: {note.text}" if note.hole else note.text)
    click.echo(
        f"{len(result.shots)} shots on {len(result.holes)} holes. {round_sentence(round_tables(result))}."
    )
    for path in paths:
        click.echo(f"  {path}")
