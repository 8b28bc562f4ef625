"""``trackgolf course``: what was understood of a course, a row a hole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trackgolf.cli.options import warn
from trackgolf.text_table import text_table

if TYPE_CHECKING:
    import pandas as pd

    from trackgolf.course import Course

__all__ = ["course"]

_USES = {
    "plan": "plan with handicap strokes",
    "map": "plan on the map",
    "rebuild": "rebuild a round from its track",
}


@click.command()
@click.argument("course_file", metavar="COURSE", type=click.Path(path_type=Path))
@click.option(
    "--scorecard", type=click.Path(path_type=Path), help="Card (CSV) that fills in what the map lacks."
)
@click.option("--tee", help="Name of the tee to measure from.")
@click.option("--check", is_flag=True, help="Say too what the course is enough for, and what it lacks.")
@click.option("--json", "as_json", is_flag=True, help="Print the result for machines.")
def course(course_file: Path, scorecard: Path | None, tee: str | None, check: bool, as_json: bool) -> None:
    """
    Check a course file or scorecard, hole by hole.

    COURSE is GeoJSON with OpenStreetMap golf tags, OpenStreetMap XML (.osm),
    Overpass JSON, or a scorecard (CSV). What was mended, assumed or doubted
    goes to standard error.

    \b
    Example:
      trackgolf course my-course.osm --scorecard scorecard.csv --tee white --check
    """
    from trackgolf.course import read_course
    from trackgolf.course_table import course_gaps, course_table

    read = read_course(course_file, scorecard=scorecard, tee=tee)
    table = course_table(read)
    gaps = course_gaps(read)
    for warning in read.warnings:
        warn(warning)
    if as_json:
        click.echo(_json(read, table, gaps if check else None))
        return
    click.echo(_heading(read, table))
    click.echo(_rows(table))
    if read.credit is not None:
        click.echo(read.credit)
    if check:
        for use, lacks in gaps.items():
            verdict = "yes" if not lacks else f"no: {', '.join(lacks)}"
            click.echo(f"Enough to {_USES[use]}: {verdict}")


def _heading(read: Course, table: pd.DataFrame) -> str:
    lines = [f"{read.name}{' (invented)' if read.invented else ''}"]
    total = f"{len(table)} holes, par {table['par'].sum()}, "
    total += f"{table['length_m'].sum():.0f} m ({table['length_yd'].sum():.0f} yd)"
    lines.append(f"{total} from {read.tee} tees" if read.tee else total)
    if read.tees:
        unnamed = read.tee is None and len(read.tees) > 1
        hint = " (lengths begin where the hole lines do; choose a tee with --tee)" if unnamed else ""
        lines.append(f"Tees: {', '.join(read.tees)}{hint}")
    return "\n".join(lines)


def _rows(table: pd.DataFrame) -> str:
    header = ("hole", "par", "index", "m", "yd", "green m2", "bunkers", "water", "pin", "notes")
    rows = [
        (
            str(row["hole"]),
            str(row["par"]),
            _known(row["stroke_index"]),
            f"{row['length_m']:.0f}",
            f"{row['length_yd']:.0f}",
            _known(round(row["green_m2"]) if row["green_m2"] == row["green_m2"] else None),
            str(row["bunkers"]),
            _known(row["water"]),
            "yes" if row["pin"] else "-",
            row["notes"],
        )
        for row in table.to_dict("records")
    ]
    return text_table([header, *rows])


def _known(value: object) -> str:
    """Write a number, or a dash for what is not known."""
    return "-" if value is None or str(value) == "<NA>" else str(value)


def _json(read: Course, table: pd.DataFrame, gaps: dict[str, tuple[str, ...]] | None) -> str:
    document = {
        "name": read.name,
        "invented": read.invented,
        "credit": read.credit,
        "tee": read.tee,
        "tees": list(read.tees),
        "has_positions": read.has_positions,
        # Through pandas, which writes every kind of missing value as null.
        "holes": json.loads(table.drop(columns="length_yd").to_json(orient="records", double_precision=3)),
        "warnings": list(read.warnings),
    }
    if gaps is not None:
        document["lacks"] = {use: list(lacks) for use, lacks in gaps.items()}
    return json.dumps(document, ensure_ascii=False, indent=2)
