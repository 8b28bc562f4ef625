"""``trackgolf demo``: the main job on the invented rounds that come along."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import Any

import click

__all__ = ["demo"]

_DEFAULT_OUT = Path("trackgolf-demo")


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=_DEFAULT_OUT,
    show_default=True,
    help="Folder for the reports.",
)
def demo(out: Path) -> None:
    """
    Rebuild the invented rounds that come along, and report on each.

    Needs no files of your own and no network. Course, players and rounds are made up.

    \b
    Example:
      trackgolf demo --out my-demo
    """
    from geo.files import write_texts
    from reports.page import index_page, plan_page
    from trackgolf.bag import read_bag
    from trackgolf.cli.run import rebuild_files
    from trackgolf.course import read_course
    from trackgolf.plan_file import read_plan
    from trackgolf.plan_show import plan_tables
    from trackgolf.tables import round_tables

    click.echo("Everything here is invented: no real course, player or round.\n")
    pages: list[tuple[str, Any]] = []
    plans: list[tuple[Path, str]] = []
    with _demo_data() as data:
        for row in _rounds(data):
            player, name = data / row["player"], f"{row['player']}-{row['round']}"
            folder, bag_path = player / row["round"], player / "bag.toml"
            bag = read_bag(bag_path)
            if not any(path.startswith(f"{row['player']}-plan/") for path, _ in pages):
                course = read_course(data / "course.geojson", tee=row["tee"])
                tables = plan_tables(read_plan(folder / "plan.geojson", course, bag), course, bag)
                pages.append((f"{row['player']}-plan/plan.html", tables))
                plans.append((out / pages[-1][0], plan_page(tables)))
                click.echo(f"{bag.player}, the plan\n  {plans[-1][0]}")
            result, _ = rebuild_files(
                sorted(folder.glob("track*.gpx*")),
                course_path=data / "course.geojson",
                scorecard_path=None,
                tee=row["tee"],
                bag_path=bag_path,
                plan_path=folder / "plan.geojson",
                card_path=folder / "card.csv" if row["card"] == "yes" else None,
                out=out / name,
            )
            pages.append((f"{name}/report.html", round_tables(result)))
            shots, holes = len(result.shots), len(result.holes)
            click.echo(f"{bag.player}, {row['what']}\n  {out / pages[-1][0]}: {shots} shots on {holes} holes")
        inputs = _copy_inputs(data, out / "inputs")
    index = out / "index.html"
    write_texts([*plans, (index, index_page(pages))])
    click.echo(f"\nThe files they were made from are in {inputs}, to copy and try.")
    click.echo(f"Open {index.resolve()} in a browser; it leads to all of them and needs no network.")


@contextmanager
def _demo_data() -> Iterator[Path]:
    """Find the demo data: inside an installed package, beside the packages in a source tree."""
    from geo.errors import InputError

    installed = resources.files("trackgolf") / "demo_tracks"
    beside = Path(__file__).resolve().parents[2] / "demo_tracks"
    if installed.is_dir():
        with resources.as_file(installed) as folder:
            yield folder
    elif beside.is_dir():
        yield beside
    else:
        raise InputError("the demo data are missing", str(installed), "Install trackgolf again")


def _copy_inputs(data: Path, out: Path) -> Path:
    """Put the demo's own files where a user can copy them."""
    from geo.errors import InputError

    try:
        shutil.copytree(data, out, dirs_exist_ok=True, ignore=shutil.ignore_patterns("*.png"))
    except (OSError, shutil.Error) as error:
        raise InputError("the demo files cannot be copied there", str(out), "Give another --out") from error
    return out


def _rounds(data: Path) -> list[dict[str, str]]:
    """List the rounds: player, folder, tee, whether there is a card, and what they show."""
    with (data / "rounds.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
