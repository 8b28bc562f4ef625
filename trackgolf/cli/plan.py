"""``trackgolf plan``: the plan of a round, from green to tee, with the odds."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path

import click

from trackgolf.cli.options import course_options, verbose_option, warn
from trackgolf.cli.progress import Progress

__all__ = ["plan"]

# Plays of each hole for players unlike the bag: enough to tell a tenth of a stroke.
_TRIALS = 2_000


@click.command(
    epilog="""\b
A target is no sign that it is safe to play: wait until everybody ahead is out of range.
In lightning stop and go indoors until 30 minutes after the last thunder.
Rule 4.3a: a plan made before the round may be read during it; the committee decides."""
)
@course_options
@click.option(
    "--bag",
    "bag_path",
    required=True,
    type=click.Path(path_type=Path),
    help="The player's clubs and target (TOML).",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="File for the plan (GeoJSON); the other two plans are written beside it.",
)
@click.option(
    "--gpx", type=click.Path(path_type=Path), help="File for the targets, for a watch or phone (GPX)."
)
@click.option("--html", type=click.Path(path_type=Path), help="File for the plan to read or print (HTML).")
@click.option("--json", "as_json", is_flag=True, help="Print the plan for machines instead of a table.")
@click.option(
    "--from",
    "from_path",
    type=click.Path(path_type=Path),
    help="A plan you have changed (GeoJSON): your targets and clubs are kept and planned around.",
)
@click.option(
    "--pin",
    "pins",
    multiple=True,
    metavar="HOLE:PLACE",
    help="Where a hole is cut: 7:front, 7:middle, 7:back or 7:LON,LAT. May be given several times.",
)
@click.option("--fewest-clubs", is_flag=True, help="Name the fewest clubs that cover every hole.")
@click.option(
    "--missed-price", "a", type=float, default=0.5, show_default=True, help="Price a: a green missed in time."
)
@click.option(
    "--high-price",
    "b",
    type=float,
    default=0.5,
    show_default=True,
    help="Price b: a score above personal par + 1.",
)
@click.option(
    "--avoid-price",
    "avoided",
    type=float,
    default=0.3,
    show_default=True,
    help="Price of a stroke with a club to avoid.",
)
@click.option(
    "--leave-price",
    "leave",
    type=float,
    default=0.05,
    show_default=True,
    help="Price of a leave you do not like.",
)
@click.option(
    "--grid",
    "grid_m",
    type=float,
    default=5.0,
    show_default=True,
    help="Side of a cell of the grid in metres; coarser is faster.",
)
@verbose_option
def plan(
    *,
    course_path: Path | None,
    scorecard_path: Path | None,
    tee: str | None,
    bag_path: Path,
    out: Path | None,
    gpx: Path | None,
    html: Path | None,
    as_json: bool,
    from_path: Path | None,
    pins: tuple[str, ...],
    fewest_clubs: bool,
    a: float,
    b: float,
    avoided: float,
    leave: float,
    grid_m: float,
) -> None:
    """
    Plan a round before it is played: what to play from everywhere, and what it risks.

    The least of expected strokes and prices is found backwards from each green. Two more plans are scored beside
    it: fewest strokes, without any price, and the rule of thumb. All prices are in strokes. From a scorecard
    without positions holes are straight and bare, and the plan is a table and no map.

    \b
    Example:
      trackgolf plan --course course.geojson --bag bag.toml --out plan.geojson --html plan.html
    """
    from geo.files import write_texts
    from reports.plan_pages import plan_book
    from trackgolf.bag import read_bag
    from trackgolf.cli.run import the_course
    from trackgolf.pins import set_pins
    from trackgolf.plan_book import plan_book_tables
    from trackgolf.plan_changes import read_changes
    from trackgolf.plan_odds import clubs_text, odds_json, odds_table
    from trackgolf.plan_show import PLAN_CAUTIONS
    from trackgolf.plan_text import plan_geojson_text, plan_gpx_text
    from trackgolf.strategy import clubs_subset
    from trackgolf.strategy.rounds import hole_tasks, run_tasks, strategy_plans
    from trackgolf.strategy.settings import Prices, StrategySettings
    from trackgolf.strategy.site import hole_sites

    prices, settings = Prices(a, b, avoided, leave), StrategySettings(cell_m=grid_m)
    course = set_pins(the_course(course_path, scorecard_path, tee), pins)
    bag = read_bag(bag_path)
    changed = None
    if from_path is not None:
        changed = read_changes(from_path, course, bag, hole_sites(course, settings))
    kept, changes = changed or ({}, ())
    tasks = hole_tasks(course, bag, settings=settings, prices=prices, kept=kept, trials=_TRIALS, zones=True)
    with Progress("planning holes") as progress:
        made = strategy_plans(course, bag, tasks, run_tasks(tasks, planned=progress.count))
        fewest = None
        if fewest_clubs:
            progress.doing("trying sets of clubs, hole by hole")
            fewest = clubs_subset.fewest_clubs(tasks, bag, partial(run_tasks, planned=progress.count))

    files: list[tuple[Path, str]] = []
    if out is not None:
        for number, (name, one) in enumerate(made.plans.items()):
            beside = f"{out.stem}-{name.replace(' ', '-')}{out.suffix}"
            path = out if number == 0 or not out.name else out.with_name(beside)
            files.append((path, plan_geojson_text(one, course, bag, remember=True)))
    if gpx is not None:
        files.append((gpx, plan_gpx_text(made.plans["on plan"], course, bag)))
    if html is not None:
        files.append((html, plan_book(plan_book_tables(made, course, bag, fewest))))
    # The plan that was changed may be written over by the one made around it.
    _spare([path for path, _ in files], [course_path, scorecard_path, bag_path])
    write_texts(files)

    for text in (*course.warnings, *bag.warnings, *changes):
        warn(text)
    if course.tee is None and len(course.tees) > 1:
        names = ", ".join(course.tees)
        warn(f"no tee was named, so shots begin where the hole lines do; choose one of {names} with --tee")
    if as_json:
        document = odds_json(made, course, bag, fewest)
        click.echo(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(odds_table(made, course, bag))
    if fewest is not None:
        click.echo(f"\n{clubs_text(fewest)}")
    click.echo()
    for caution in PLAN_CAUTIONS:
        click.echo(caution)
    if files:
        click.echo(f"\nWritten: {', '.join(str(path) for path, _ in files)}")


def _spare(written: list[Path], read: list[Path | None]) -> None:
    """Refuse to write over what was read."""
    from trackgolf.errors import InputError

    sources = [path.resolve() for path in read if path is not None]
    for path in written:
        if path.resolve() in sources:
            raise InputError("this file was read; it is not written over", str(path), "Choose another name")
