"""``trackgolf import``: rounds into the library."""

from __future__ import annotations

import logging
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trackgolf.cli.options import course_options, library_option, verbose_option, warn
from trackgolf.cli.progress import Progress
from trackgolf.text_table import printable

if TYPE_CHECKING:
    import sqlite3

    from trackgolf.library.importing import ImportOptions, Outcome

__all__ = ["import_"]


@click.command(
    "import",
    epilog="Only the course and a margin of 150 m around its holes are kept of a track, "
    "and of the file neither title nor description. Keep rounds of others only with their consent, of minors only with "
    "that of their guardians too.",
)
@click.argument("tracks", nargs=-1, required=True, metavar="TRACK...", type=click.Path(path_type=Path))
@course_options
@click.option("--bag", "bag_path", type=click.Path(path_type=Path), help="The player's clubs (TOML).")
@click.option("--player", metavar="NAME", help="Whose rounds these are, if no bag is given.")
@click.option("--plan", "plan_path", type=click.Path(path_type=Path), help="The plan of the round (GeoJSON).")
@click.option("--no-plan", is_flag=True, help="Compare with no plan, not even the player's current one.")
@click.option("--card", "card_path", type=click.Path(path_type=Path), help="The card of the one round (CSV).")
@click.option(
    "--corrections",
    "corrections_path",
    type=click.Path(path_type=Path),
    help="What was set right in the one round.",
)
@click.option("--join/--apart", "join", default=None, help="Recordings of one time: one round, or several.")
@click.option("--guess", is_flag=True, help="Guess the holes of a track that no known course lies at.")
@click.option("--whole-track", is_flag=True, help="Keep points recorded away from the course too.")
@click.option("--workers", type=click.IntRange(1, 64), help="Processes to use; by default one a core.")
@click.option("--dask", "dask_address", metavar="ADDRESS", help="Scheduler of a Dask cluster to do the work.")
@library_option
@verbose_option
def import_(
    tracks: tuple[Path, ...],
    *,
    course_path: Path | None,
    scorecard_path: Path | None,
    tee: str | None,
    bag_path: Path | None,
    player: str | None,
    plan_path: Path | None,
    no_plan: bool,
    card_path: Path | None,
    corrections_path: Path | None,
    join: bool | None,
    guess: bool,
    whole_track: bool,
    workers: int | None,
    dask_address: str | None,
    library_path: Path | None,
) -> None:
    """
    Rebuild rounds from their tracks and keep them in the library.

    TRACK is a GPX file, or a folder or zip archive of them. What is not named is found: the course of the library that lies at the
    track, the player's current bag, and the current plan. In a folder, course.geojson and bag.toml beside the tracks
    or above them count, and plan.geojson, card.csv and corrections.json beside the tracks of one round.

    \b
    Example:
      trackgolf import round.gpx --course course.geojson --bag bag.toml --card card.csv
      trackgolf import next-round.gpx

    The same track twice is one round. Files that follow each other within half an hour are one round. Where two
    recordings cover the same time you are asked whether they are one round. A track that cannot be used does not stop
    the others; the unusable ones are listed at the end, with exit status 2. With -v one process does all the work.
    """
    from trackgolf.library import default_path
    from trackgolf.library.gather import find_tracks
    from trackgolf.library.importing import import_tracks
    from trackgolf.library.opening import library_faults, open_library
    from trackgolf.library.runners import cores, on_cluster, on_cores

    place = library_path if library_path is not None else default_path()
    options = _options(
        course_path=course_path,
        scorecard_path=scorecard_path,
        tee=tee,
        player=player,
        bag_path=bag_path,
        plan_path=plan_path,
        card_path=card_path,
        corrections_path=corrections_path,
        find_plan=not no_plan,
        guess=guess,
        whole=whole_track,
        join=join,
    )
    sources, missing = find_tracks(tracks)
    of_round = {"--card": card_path, "--plan": plan_path, "--corrections": corrections_path}
    unread = [name for name, path in of_round.items() if path is not None]
    outcomes: list[Outcome] = []
    with library_faults(place):
        connection = open_library(place, create=True)
        try:
            # A process takes about as long to start as a few rounds take.
            wanted = workers if workers is not None else min(cores(), max(1, len(sources) // 4))
            if logging.getLogger("trackgolf").isEnabledFor(logging.INFO):
                # What other processes decide is not heard here.
                wanted = 1
            with on_cluster(dask_address) if dask_address is not None else on_cores(wanted) as run:
                progress = Progress(f"looking at {len(sources)} tracks and rebuilding rounds")

                def ask(question: str) -> bool:
                    progress.wipe()
                    return _ask(question)

                watched = sys.stdin.isatty() and sys.stderr.isatty()
                found = import_tracks(
                    connection,
                    sources,
                    options,
                    run=run,
                    ask=ask if watched else None,
                    looked=lambda count: progress.count(count, len(sources)),
                )
                for outcome in _shown(found, progress):
                    outcomes.append(outcome)
                    done = sum(len(one.names) for one in outcomes)
                    _tell(connection, outcome, f"[{done}/{len(sources)}] " if len(sources) > 1 else "")
                    if outcome.kind == "known" and outcome.round is not None and unread:
                        warn(
                            f"round {outcome.round} stays as it was, without {' and '.join(unread)}; "
                            f"add to it with: trackgolf correct {outcome.round}"
                        )
        finally:
            connection.close()
    _end(outcomes, [str(fault) for fault in missing], place)


def _options(
    *,
    course_path: Path | None,
    scorecard_path: Path | None,
    tee: str | None,
    player: str | None,
    bag_path: Path | None,
    plan_path: Path | None,
    card_path: Path | None,
    corrections_path: Path | None,
    find_plan: bool,
    guess: bool,
    whole: bool,
    join: bool | None,
) -> ImportOptions:
    """Read what was named; what cannot be read is told before anything is opened."""
    from trackgolf.bag import read_bag
    from trackgolf.cli.run import the_course
    from trackgolf.corrections import read_corrections, write_corrections
    from trackgolf.library.gather import read_document
    from trackgolf.library.importing import ImportOptions
    from trackgolf.library.materials import CourseFiles

    course = None
    if course_path is not None or scorecard_path is not None:
        name = the_course(course_path, scorecard_path, tee).name
        course = CourseFiles(
            name,
            None if course_path is None else read_document(course_path, "course"),
            None if scorecard_path is None else read_document(scorecard_path, "scorecard"),
        )
    if bag_path is not None:
        read_bag(bag_path)
    return ImportOptions(
        course=course,
        tee=tee,
        player=player,
        bag=None if bag_path is None else read_document(bag_path, "bag"),
        plan=None if plan_path is None else read_document(plan_path, "plan"),
        card=None if card_path is None else read_document(card_path, "card"),
        corrections=None
        if corrections_path is None
        else write_corrections(read_corrections(corrections_path)),
        find_plan=find_plan,
        guess=guess,
        whole=whole,
        together="ask" if join is None else "join" if join else "apart",
    )


def _shown(found: Iterator[Outcome], progress: Progress) -> Iterator[Outcome]:
    """Pass outcomes on, and say on a line between them that more is being done."""
    with progress:
        for outcome in found:
            progress.wipe()
            yield outcome
            progress.doing("rebuilding the next round")


def _ask(question: str) -> bool:
    return click.confirm(printable(question), err=True)


def _tell(connection: sqlite3.Connection, outcome: Outcome, count: str) -> None:
    from trackgolf.library.lists import round_line
    from trackgolf.library.read import round_row

    names = ", ".join(printable(name) for name in outcome.names)
    if outcome.kind in ("new", "joined"):
        word = "" if outcome.kind == "new" else ", joined to what was there"
        click.echo(f"{count}{names}: {round_line(round_row(connection, outcome.round or 0))}{word}")
        for note in outcome.notes:
            warn(f"{names}: {note}")
    elif outcome.kind == "known":
        click.echo(f"{count}{names}: {printable(outcome.text)}")
    else:
        click.echo(f"{count}{names}: left out", err=True)


def _end(outcomes: Sequence[Outcome], missing: Sequence[str], place: Path) -> None:
    """Count what became of the tracks; list what could not be used, and then end with status 2."""
    from trackgolf.errors import InputError

    new = sum(outcome.kind == "new" for outcome in outcomes)
    joined = sum(outcome.kind == "joined" for outcome in outcomes)
    known = sum(outcome.kind == "known" for outcome in outcomes)
    parts = [f"{new} {'round' if new == 1 else 'rounds'} imported"]
    parts += [f"{joined} joined"] if joined else []
    parts += [f"{known} there already"] if known else []
    click.echo(f"{', '.join(parts)}. The library is {place}.")
    offered = [f"{outcome.names[0]}: {outcome.text}" for outcome in outcomes if outcome.kind == "offered"]
    faults = [*missing, *(outcome.text for outcome in outcomes if outcome.kind == "fault"), *offered]
    if len(faults) == 1:
        raise InputError(faults[0].rstrip("."))
    if faults:
        raise InputError(f"{len(faults)} tracks were left out", faults=faults)
