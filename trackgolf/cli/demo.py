"""``trackgolf demo``: the main job on the invented rounds that come along."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from trackgolf.bag import Bag
    from trackgolf.course import Course
    from trackgolf.plan import Plan

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
    from trackgolf.plan_show import plan_tables
    from trackgolf.tables import round_tables

    with _demo_data() as data:
        course_path = data / "course.geojson"
        course = read_course(course_path)
        click.echo(f"Rebuilding invented rounds on {course.name}; no real place, player or round.\n")
        pages: list[tuple[str, Any]] = []
        written: list[tuple[Path, str]] = []
        for player in _players(data):
            bag = read_bag(player / "bag.toml")
            page = f"{player.name}-plan/plan.html"
            tables = plan_tables(_plan_of(player, course, bag), course, bag)
            pages.append((page, tables))
            written.append((out / page, plan_page(tables)))
            click.echo(f"{bag.player}: the plan\n  {out / page}")
            for folder in _rounds(player):
                name = f"{player.name}-{folder.name}"
                result, _ = rebuild_files(
                    _tracks(folder),
                    course_path=course_path,
                    scorecard_path=None,
                    tee=None,
                    bag_path=player / "bag.toml",
                    plan_path=_if_there(folder / "plan.geojson"),
                    card_path=_if_there(folder / "card.csv"),
                    out=out / name,
                )
                pages.append((f"{name}/report.html", round_tables(result)))
                shots, holes = len(result.shots), len(result.holes)
                click.echo(
                    f"{bag.player}, {folder.name}: {shots} shots on {holes} holes\n  {out / name / 'report.html'}"
                )
        index = out / "index.html"
        write_texts([*written, (index, index_page(pages))])
    click.echo(f"\nOpen {index.resolve()} in a browser; it leads to all of them and needs no network.")


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


def _players(data: Path) -> list[Path]:
    return sorted(path.parent for path in data.glob("*/bag.toml"))


def _rounds(player: Path) -> list[Path]:
    return sorted(path for path in player.iterdir() if path.is_dir() and _tracks(path))


def _tracks(folder: Path) -> list[Path]:
    return sorted([*folder.glob("track*.gpx"), *folder.glob("track*.gpx.gz")])


def _if_there(path: Path) -> Path | None:
    return path if path.is_file() else None


def _plan_of(player: Path, course: Course, bag: Bag) -> Plan:
    """Take the fullest plan that a round was played to, or make one."""
    from trackgolf.plan import plan_round
    from trackgolf.plan_file import read_plan

    plans = [read_plan(path, course, bag) for path in sorted(player.glob("*/plan.geojson"))]
    return max(plans, key=lambda plan: len(plan.shots)) if plans else plan_round(course, bag)
