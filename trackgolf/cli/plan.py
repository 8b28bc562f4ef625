"""``trackgolf plan``: the plan of a round, from green to tee."""

from __future__ import annotations

import json
from pathlib import Path

import click

from trackgolf.cli.options import course_options, warn

__all__ = ["plan"]


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
@click.option("--out", type=click.Path(path_type=Path), help="File for the plan (GeoJSON).")
@click.option(
    "--gpx", type=click.Path(path_type=Path), help="File for the targets, for a watch or phone (GPX)."
)
@click.option("--html", type=click.Path(path_type=Path), help="File for the plan to read or print (HTML).")
@click.option("--json", "as_json", is_flag=True, help="Print the plan for machines instead of a table.")
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
) -> None:
    """
    Plan a round before it is played: from each green back to the tee.

    Personal par gives each hole the shots to be on its green in. The last of them is a distance the player
    likes, the others set it up. From a scorecard without positions the plan is a table and no map.

    \b
    Example:
      trackgolf plan --course course.geojson --bag bag.toml --out plan.geojson --html plan.html
    """
    from geo.files import write_texts
    from reports.page import plan_page
    from trackgolf.bag import read_bag
    from trackgolf.cli.run import the_course
    from trackgolf.plan import plan_round
    from trackgolf.plan_show import PLAN_CAUTIONS, plan_json, plan_table, plan_tables
    from trackgolf.plan_text import plan_geojson_text, plan_gpx_text

    course = the_course(course_path, scorecard_path, tee)
    bag = read_bag(bag_path)
    made = plan_round(course, bag)

    files: list[tuple[Path, str]] = []
    if out is not None:
        files.append((out, plan_geojson_text(made, course, bag)))
    if gpx is not None:
        files.append((gpx, plan_gpx_text(made, course, bag)))
    if html is not None:
        files.append((html, plan_page(plan_tables(made, course, bag))))
    _spare([path for path, _ in files], [course_path, scorecard_path, bag_path])
    write_texts(files)

    for text in (*course.warnings, *bag.warnings):
        warn(text)
    if course.tee is None and len(course.tees) > 1:
        names = ", ".join(course.tees)
        warn(f"no tee was named, so shots begin where the hole lines do; choose one of {names} with --tee")
    if as_json:
        click.echo(json.dumps(plan_json(made, course, bag), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(plan_table(made, course, bag))
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
