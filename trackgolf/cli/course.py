"""``trackgolf course``: what was understood of a course, a row a hole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trackgolf.cli.options import verbose_option, warn
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
@click.argument("course_file", metavar="[COURSE]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--scorecard", type=click.Path(path_type=Path), help="Card (CSV) that fills in what the map lacks."
)
@click.option("--tee", help="Name of the tee to measure from.")
@click.option("--check", is_flag=True, help="Say too what the course is enough for, and what it lacks.")
@click.option("--json", "as_json", is_flag=True, help="Print the result for machines.")
@click.option(
    "--from-round",
    "round_folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Make a course of the confirmed holes of a round that was rebuilt without one.",
)
@click.option("--confirmed", metavar="1,2,5|all", help="Holes of that round that you confirm.")
@click.option("--name", help="Name for the course made.")
@click.option("--out", type=click.Path(path_type=Path), help="File for the course made (GeoJSON).")
@verbose_option
def course(
    course_file: Path | None,
    *,
    scorecard: Path | None,
    tee: str | None,
    check: bool,
    as_json: bool,
    round_folder: Path | None,
    confirmed: str | None,
    name: str | None,
    out: Path | None,
) -> None:
    """
    Check a course file or scorecard, hole by hole; or make one from a round.

    COURSE is GeoJSON with OpenStreetMap golf tags, OpenStreetMap XML (.osm),
    Overpass JSON, or a scorecard (CSV). What was mended, assumed or doubted
    goes to standard error.

    \b
    Example:
      trackgolf course my-course.osm --scorecard scorecard.csv --tee white --check

    A round rebuilt without a course leaves holes_guessed.geojson in its
    folder. Look over each hole there and in the report, then make a course of
    those you confirm. Nothing of the track but these holes goes into it.

    \b
      trackgolf course --from-round my-round --confirmed 1,2,5 --out course.geojson
    """
    from trackgolf.course import read_course
    from trackgolf.course_table import course_gaps, course_table

    if round_folder is not None:
        _refuse(
            "not with --from-round",
            {
                "COURSE": course_file,
                "--scorecard": scorecard,
                "--tee": tee,
                "--json": as_json,
                "--check": check,
            },
        )
        _make(round_folder, confirmed, name, out)
        return
    _refuse("only with --from-round", {"--confirmed": confirmed, "--name": name, "--out": out})
    if course_file is None:
        raise click.UsageError("Give a COURSE, or --from-round with the folder of a round.")
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


def _refuse(why: str, given: dict[str, object]) -> None:
    """Refuse arguments that belong to the other job of the command."""
    for name, value in given.items():
        if value is not None and value is not False:
            raise click.UsageError(f"{name} goes {why}.")


def _make(folder: Path, confirmed: str | None, name: str | None, out: Path | None) -> None:
    """Make a course of the confirmed holes of a round."""
    from geo.files import write_text
    from trackgolf.course_table import course_table
    from trackgolf.guess_file import confirmed_course, confirmed_geojson, read_confirmed

    if out is None:
        raise click.UsageError("Give --out, the file for the course.")
    guessed, holes = read_confirmed(folder, _numbers(confirmed))
    made = confirmed_course(guessed, holes, name or "")
    for warning in guessed.warnings:
        warn(warning)
    write_text(out, confirmed_geojson(made))
    left = sorted({hole.number for hole in guessed.holes} - set(holes))
    click.echo(_rows(course_table(made)))
    if left:
        click.echo(f"Not confirmed and left out: {', '.join(str(number) for number in left)}")
    click.echo(f"  {out}")


def _numbers(confirmed: str | None) -> tuple[int, ...] | None:
    """Read the holes confirmed on the command line; None stands for all."""
    if confirmed is None:
        return ()
    words = [word.strip() for word in confirmed.split(",") if word.strip()]
    if [word.lower() for word in words] == ["all"]:
        return None
    if not words or not all(word.isdecimal() for word in words):
        raise click.BadParameter(
            f"{confirmed!r} is not a list of holes such as 1,2,5, nor all", param_hint="--confirmed"
        )
    return tuple(int(word) for word in words)


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
