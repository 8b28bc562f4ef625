"""``trackgolf correct``: what was misread in a round, set right by hand."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trackgolf.cli.options import library_option, the_library, warn
from trackgolf.text_table import printable

if TYPE_CHECKING:
    import pandas as pd

    from trackgolf.corrections import Correction, Corrections
    from trackgolf.reconstruct import Round

__all__ = ["correct"]

# Options that name what a shot is, and the correction and its key that say so.
_OF_SHOT = ("club", "lie", "end_lie", "penalty", "to_hole")
_OF_HOLE = ("putts", "penalties", "strokes")
# A note's id is `n` and a number that the library counts up.
_LONGEST_ID = 20


class _Place(click.ParamType):  # type: ignore[type-arg]  # older clicks know no argument
    """A place as longitude and latitude."""

    name = "LON,LAT"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        if isinstance(value, tuple):
            return value
        try:
            lon_deg, lat_deg = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"{value!r} is not a longitude and a latitude, such as -31.0012,46.9985", param, ctx)
        return lon_deg, lat_deg


@click.command(
    epilog="A correction is kept beside the track and laid over the round whenever it is rebuilt, by whatever method."
)
@click.argument("round_number", metavar="ROUND", type=click.IntRange(1))
@click.option("--hole", type=click.IntRange(1), help="The hole.")
@click.option("--shot", type=click.IntRange(1), help="The shot on it, as listed.")
@click.option(
    "--playing", type=click.IntRange(1), help="Which playing of a hole that was played more than once."
)
@click.option("--club", metavar="NAME", help="The shot was played with this club.")
@click.option("--lie", metavar="LIE", help="The ball lay there: tee, fairway, rough, bunker, penalty_area.")
@click.option(
    "--end-lie", metavar="LIE", help="The ball came to rest there; also lost, out_of_bounds, holed, green."
)
@click.option("--penalty", type=click.IntRange(0), help="Penalty strokes that the shot brought.")
@click.option("--to-hole", type=click.IntRange(1), help="The shot belongs to this hole.")
@click.option("--confirm", is_flag=True, help="The shot was one.")
@click.option("--remove", is_flag=True, help="The shot was none.")
@click.option(
    "--move",
    type=_Place(),
    metavar="LON,LAT",
    help="The shot was played from there; write --move=-31.0012,46.9985.",
)
@click.option(
    "--add", metavar="TIME", help="A shot was played at this time of the course's clock, such as 10:52:50."
)
@click.option("--at", type=_Place(), metavar="LON,LAT", help="With --add: from there.")
@click.option("--putts", type=click.IntRange(0), help="Putts on the hole.")
@click.option("--penalties", type=click.IntRange(0), help="Penalty strokes on the hole.")
@click.option("--strokes", type=click.IntRange(1), help="Strokes on the hole.")
@click.option("--picked-up", is_flag=True, help="The hole was picked up.")
@click.option("--not-played", is_flag=True, help="The hole was not played.")
@click.option("--tee", metavar="NAME", help="The round was played from this tee.")
@click.option("--note", metavar="TEXT", help="A note on the round, hole or shot, or on what is set right.")
@click.option(
    "--from", "from_path", type=click.Path(path_type=Path), help="A file of corrections to add (JSON)."
)
@click.option("--card", "card_path", type=click.Path(path_type=Path), help="The card as played (CSV).")
@click.option("--plan", "plan_path", type=click.Path(path_type=Path), help="The plan of the round (GeoJSON).")
@click.option("--take-back", metavar="ID", help="Take back a correction or a note, named as listed.")
@library_option
def correct(round_number: int, *, library_path: Path | None, **given: Any) -> None:
    """
    Set right what was misread in a round of the library, or add a card, a plan or a note.

    With a ROUND alone, or with --hole, its shots, corrections and notes are listed. What is set right holds, and the
    rest of the round is found anew around it.

    \b
    Example:
      trackgolf correct 1 --hole 7
      trackgolf correct 1 --hole 7 --shot 2 --club "7 iron"
      trackgolf correct 1 --hole 7 --putts 1
      trackgolf correct 1 --card card.csv
      trackgolf correct 1 --hole 7 --note "wind against"
    """
    from trackgolf.errors import InputError

    wanted = {key: value for key, value in given.items() if value is not None and value is not False}
    changes = {key for key in wanted if key not in ("hole", "shot", "playing", "note", "at")}
    if "at" in wanted and "add" not in wanted:
        raise InputError("a place is of use with a shot to add only", "--at", "Give --add too, or use --move")
    with the_library(library_path, read_only=not changes and "note" not in wanted) as connection:
        if not changes and "note" not in wanted:
            _list(connection, round_number, wanted.get("hole"))
        elif not changes:
            from trackgolf.library.correcting import add_note

            add_note(
                connection, round_number, wanted["note"], hole=wanted.get("hole"), shot=wanted.get("shot")
            )
            click.echo("Noted.")
        elif "take_back" in changes and wanted["take_back"].startswith("n"):
            _take_note_back(connection, round_number, wanted["take_back"])
        else:
            _change(connection, round_number, wanted)


def _change(connection: sqlite3.Connection, number: int, wanted: dict[str, Any]) -> None:
    """Make the corrections that the options say, and tell what came of it."""
    from trackgolf.library.correcting import correct_round
    from trackgolf.library.gather import read_document
    from trackgolf.library.read import read_holes, read_shots, round_row

    row = round_row(connection, number)
    shots, before = (
        table[table["round"] == number] for table in (read_shots(connection), read_holes(connection))
    )
    asked = _asked(wanted, shots, row)
    card, plan = wanted.get("card_path"), wanted.get("plan_path")

    def change(corrections: Corrections) -> Corrections:
        if "from_path" in wanted:
            from trackgolf.corrections import read_corrections

            for entry in read_corrections(wanted["from_path"]).entries:
                corrections = corrections.adding(entry)
        if "take_back" in wanted:
            corrections = corrections.without(wanted["take_back"])
        for values in asked:
            corrections = corrections.adding(_correction(corrections, values))
        return corrections

    played = correct_round(
        connection,
        number,
        change,
        card=None if card is None else read_document(card, "card"),
        plan=None if plan is None else read_document(plan, "plan"),
    )
    _tell(played, before)


def _correction(corrections: Corrections, values: dict[str, Any]) -> Correction:
    import pandas as pd

    from trackgolf.corrections import Correction

    now = pd.Timestamp.now("UTC").floor("s")
    return Correction(id=corrections.next_id(), made=now, **values)


def _asked(wanted: dict[str, Any], shots: pd.DataFrame, row: pd.Series) -> list[dict[str, Any]]:
    """Turn the options into corrections, each without its id."""
    hole = wanted.get("hole")
    note = {"note": wanted["note"]} if "note" in wanted else {}
    asked: list[dict[str, Any]] = []
    if "tee" in wanted:
        asked.append({"what": "tee", "tee": wanted["tee"]})
    of_shot = [key for key in (*_OF_SHOT, "confirm", "remove", "move") if key in wanted]
    of_hole = [key for key in (*_OF_HOLE, "picked_up", "not_played") if key in wanted]
    if (of_shot or of_hole or "add" in wanted) and hole is None:
        raise click.UsageError("name the hole with --hole")
    if of_shot and "shot" not in wanted:
        raise click.UsageError("name the shot with --shot")
    if of_shot:
        base = {"hole": hole, "time": _time_of(shots, wanted)}
        for key in of_shot:
            if key == "move":
                lon_deg, lat_deg = wanted["move"]
                asked.append(base | {"what": "move", "lon_deg": lon_deg, "lat_deg": lat_deg})
            elif key == "to_hole":
                asked.append(base | {"what": "hole", "to_hole": wanted["to_hole"]})
            else:
                value = {key: wanted[key]} if key in _OF_SHOT else {}
                asked.append(base | {"what": key} | value)
    if "add" in wanted:
        entry: dict[str, Any] = {"what": "add", "hole": hole, "time": _clock(wanted["add"], row)}
        if "at" in wanted:
            entry |= dict(zip(("lon_deg", "lat_deg"), wanted["at"], strict=True))
        asked.append(entry)
    playing = {}
    if of_hole and "playing" in wanted:
        playing = {"time": _playing(shots, hole, wanted["playing"])["start_time"].iloc[0]}
    for key in of_hole:
        value = {key: wanted[key]} if key != "not_played" else {}
        asked.append({"what": key, "hole": hole} | value | (playing if key != "not_played" else {}))
    return [entry | note for entry in asked]


def _playing(shots: pd.DataFrame, hole: int | None, playing: int | None) -> pd.DataFrame:
    """The shots of one playing of a hole."""
    from trackgolf.errors import InputError

    mine: pd.DataFrame = shots[shots["hole"] == hole]
    visits = mine["visit"].drop_duplicates().tolist()
    if len(visits) > 1 and playing is None:
        raise InputError(f"hole {hole} was played {len(visits)} times", None, "Say which with --playing")
    if not visits or (playing or 1) > len(visits):
        raise InputError(
            f"there is no such playing of hole {hole} in the round",
            None,
            "See what there is: leave the rest out",
        )
    chosen: pd.DataFrame = mine[mine["visit"] == visits[(playing or 1) - 1]]
    return chosen


def _time_of(shots: pd.DataFrame, wanted: dict[str, Any]) -> pd.Timestamp:
    from trackgolf.errors import InputError

    mine = _playing(shots, wanted.get("hole"), wanted.get("playing"))
    mine = mine[mine["shot"] == wanted["shot"]]
    if mine.empty:
        what = f"hole {wanted['hole']} has no shot {wanted['shot']} that the track shows"
        raise InputError(what, None, "Add it with --add and its time")
    time: pd.Timestamp = mine["start_time"].iloc[0]
    return time


def _clock(text: str, row: pd.Series) -> pd.Timestamp:
    from trackgolf.library.correcting import clock_time

    return clock_time(text, row)


def _tell(played: Round, before: pd.DataFrame) -> None:
    """Say which holes are another now, and what the round says of corrections that do not fit."""
    old = _by_playing(before)
    said = 0
    for key, row in _by_playing(played.holes).items():
        was = old.pop(key, None)
        counted = ("shots", "putts", "penalties", "strokes")
        if was is None or any(_known(was[name]) != _known(row[name]) for name in counted):
            told = "not played before" if was is None else _score(was)
            click.echo(f"hole {row['hole']}: {_score(row)} (was {told})")
            said += 1
    for hole, _ in old:
        click.echo(f"hole {hole}: not played any more")
        said += 1
    click.echo("Set right." if said else "Set right; no hole's count changed.")
    for note in played.notes:
        if "correction" in note.text:
            warn(f"hole {note.hole}: {note.text}" if note.hole else note.text)


def _by_playing(holes: pd.DataFrame) -> dict[tuple[int, int], dict[Any, Any]]:
    """Rows by hole and by which playing of it they are; visits are numbered anew when a hole comes or goes."""
    playing = holes.groupby("hole").cumcount()
    rows = zip(holes["hole"], playing, holes.to_dict("records"), strict=True)
    return {(int(hole), int(number)): row for hole, number, row in rows}


def _score(row: dict[Any, Any]) -> str:
    strokes = _known(row["strokes"])
    total = "no score" if strokes is None else f"{strokes} strokes"
    return f"{total}, {_known(row['shots'])} shots, {_known(row['putts'])} putts, {_known(row['penalties'])} penalties"


def _known(value: Any) -> int | None:
    import pandas as pd

    return None if pd.isna(value) else int(value)


def _list(connection: sqlite3.Connection, number: int, hole: int | None) -> None:
    from trackgolf.library.correcting import read_corrections_of, read_notes
    from trackgolf.library.lists import round_line, shots_table
    from trackgolf.library.read import read_shots, round_row

    row = round_row(connection, number)
    click.echo(round_line(row))
    shots = read_shots(connection)
    shots = shots[(shots["round"] == number) & ((shots["hole"] == hole) | (hole is None))]
    click.echo(shots_table(shots, row["time_zone"]))
    entries = [
        entry for entry in read_corrections_of(connection, number).entries if hole in (None, entry.hole)
    ]
    if entries:
        click.echo("Set right:")
    for entry in entries:
        about = "" if entry.hole is None else f", hole {entry.hole}"
        click.echo(printable(f"  {entry.label}{about}{f': {entry.note}' if entry.note else ''}"))
    notes = [note for note in read_notes(connection, number) if hole in (None, note.hole)]
    if notes:
        click.echo("Noted:")
    for note in notes:
        about = (
            "the round"
            if note.hole is None
            else f"hole {note.hole}{f', shot {note.shot}' if note.shot else ''}"
        )
        click.echo(printable(f"  n{note.id} ({about}): {note.text}"))


def _take_note_back(connection: sqlite3.Connection, number: int, name: str) -> None:
    from trackgolf.errors import InputError
    from trackgolf.library.correcting import remove_note

    if not (name[1:].isascii() and name[1:].isdecimal() and len(name) <= _LONGEST_ID):
        raise InputError(
            f"{name[:40]!r} names no note or correction", "--take-back", "Name it as it is listed"
        )
    remove_note(connection, number, int(name[1:]))
    click.echo("Taken back.")
