"""A course made of the guessed holes of a round that somebody confirmed, hole by hole or in a file mended by hand."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from geo.errors import raise_faults
from geo.geojson import geojson_text
from trackgolf.course import Course
from trackgolf.errors import CourseError, InputError, LibraryError
from trackgolf.guess_file import (
    GUESSED_FILE,
    confirmed_course,
    confirmed_geojson,
    confirmed_holes,
    read_confirmed,
)
from trackgolf.library import sql
from trackgolf.library.coaching import note_text
from trackgolf.library.find import KnownCourse, known_courses
from trackgolf.library.guessed import hole_confidence
from trackgolf.library.keeping import course_lines
from trackgolf.library.keys import iso_time
from trackgolf.library.materials import CourseFiles, Materials, read_course_files
from trackgolf.library.opening import writing
from trackgolf.library.read import materials_of, read_holes, read_round
from trackgolf.library.rebuild import rebuild_round, result_of
from trackgolf.library.store import set_course_version, store_result
from trackgolf.library.versions import add_course_version

__all__ = [
    "GuessedHoleRow",
    "HoleAsConfirmed",
    "confirm_course",
    "drawn_meanwhile",
    "guessed_holes",
    "guessed_rounds",
    "move_round",
]

_NAME = 80


@dataclass(frozen=True, slots=True)
class GuessedHoleRow:
    """
    A guessed hole for somebody to look over.

    Attributes
    ----------
    number, par : int
        As guessed.
    stroke_index : int or None
        As guessed.
    length_m : float
        From tee to green [m].
    confidence : float or None
        How sure the guess is, 0 to 1.
    """

    number: int
    par: int
    stroke_index: int | None
    length_m: float
    confidence: float | None


@dataclass(frozen=True, slots=True)
class HoleAsConfirmed:
    """
    What a hole really is.

    Attributes
    ----------
    number, par : int
        As on the course's card.
    stroke_index : int or None
        As on the card; None if nobody said.
    """

    number: int
    par: int
    stroke_index: int | None


def guessed_rounds(connection: sqlite3.Connection) -> frozenset[int]:
    """
    Say which rounds lie on guessed holes.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    frozenset of int
        Their numbers.
    """
    return frozenset(int(row["id"]) for row in connection.execute(sql.GUESSED_ROUNDS))


def guessed_holes(connection: sqlite3.Connection, number: int) -> tuple[list[GuessedHoleRow], CourseFiles]:
    """
    List the guessed holes of a round.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Returns
    -------
    holes : list of GuessedHoleRow
        In order.
    files : CourseFiles
        What they are read from.

    Raises
    ------
    LibraryError
        If there is no such round, or its course is not guessed.
    """
    files = materials_of(connection, number).course
    if not files.guessed:
        raise LibraryError(f"the holes of round {number} are not guessed", None, "See the round")
    sure = hole_confidence(files)
    holes = [
        GuessedHoleRow(hole.number, hole.par, hole.stroke_index, hole.length_m, sure.get(hole.number))
        for hole in read_course_files(files).holes
    ]
    return holes, files


def confirm_course(
    connection: sqlite3.Connection,
    number: int,
    name: str,
    holes: Mapping[int, HoleAsConfirmed],
    mended: bytes | None = None,
) -> tuple[int, bool]:
    """
    Make a course of confirmed holes and keep it.

    If all holes of the round are confirmed, the round is rebuilt on the
    course; if not, it stays on its guessed holes.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.
    name : str
        What the course is called.
    holes : mapping of int to HoleAsConfirmed
        The holes confirmed, by their number as guessed.
    mended : bytes, optional
        The file of guessed holes as somebody mended it, in place of `holes`:
        of its holes those count that it marks as confirmed, or all if it
        marks none.

    Returns
    -------
    course : int
        Number of the course.
    moved : bool
        Whether the round lies on it now.

    Raises
    ------
    InputError
        If the round's course is not guessed, no hole is confirmed, or the
        course is not enough to rebuild rounds on.
    """
    called = note_text(name)[:_NAME]
    if not called:
        raise CourseError("the course has no name", None, "Give it one")
    _, materials, recordings = read_round(connection, number)
    if not materials.course.guessed:
        raise LibraryError(f"the holes of round {number} are not guessed", None, "See the round")
    made = _made(materials.course, called, holes, mended)
    files = CourseFiles(called, confirmed_geojson(made).encode(), None)
    lines = course_lines(read_course_files(files))
    played = read_holes(connection)
    mine = set(played.loc[played["round"] == number, "hole"].tolist())
    whole = len(made.holes) >= len(mine) if mended is not None else set(holes) >= mine
    result = result_of(rebuild_round(recordings, replace(materials, course=files))) if whole else None
    with _unchanged(connection, number, materials):
        course = int(connection.execute(sql.ROUND_COURSE, (number,)).fetchone()["course"])
        version = add_course_version(connection, course, files, lines, iso_time(datetime.now(UTC)))
        connection.execute(sql.NAME_COURSE, (called, course))
        if result is not None:
            set_course_version(connection, number, version)
            store_result(connection, number, result)
    return course, whole


def drawn_meanwhile(connection: sqlite3.Connection, number: int) -> KnownCourse | None:
    """
    Say whether the course of a round is known by now, by another round of it.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        A round on guessed holes.

    Returns
    -------
    KnownCourse or None
        The course; None if nobody has confirmed its holes yet.
    """
    course = connection.execute(sql.ROUND_COURSE, (number,)).fetchone()["course"]
    return next((known for known in known_courses(connection) if known.course == course), None)


def move_round(connection: sqlite3.Connection, number: int) -> None:
    """
    Rebuild a round on guessed holes on the course that is known by now.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        The round.

    Raises
    ------
    InputError
        If its holes are not guessed, its course is not known, or the round
        cannot be rebuilt on it.
    """
    _, materials, recordings = read_round(connection, number)
    known = drawn_meanwhile(connection, number)
    if not materials.course.guessed or known is None:
        raise LibraryError(f"there is no course to rebuild round {number} on", None, "See the round")
    result = result_of(rebuild_round(recordings, replace(materials, course=known.files)))
    with _unchanged(connection, number, materials):
        now = iso_time(datetime.now(UTC))
        version = add_course_version(connection, known.course, known.files, known.lines, now)
        set_course_version(connection, number, version)
        store_result(connection, number, result)


@contextlib.contextmanager
def _unchanged(connection: sqlite3.Connection, number: int, materials: Materials) -> Iterator[None]:
    """Write, if the round is still what it was rebuilt from."""
    with writing(connection):
        if materials_of(connection, number) != materials:
            raise LibraryError(f"round {number} was changed meanwhile; nothing was kept", None, "Do it again")
        yield


def _made(
    files: CourseFiles, name: str, holes: Mapping[int, HoleAsConfirmed], mended: bytes | None
) -> Course:
    if mended is None and not holes:
        raise CourseError("no hole is confirmed", None, "Mark the holes that are right")
    content = _as_confirmed(files, holes) if mended is None else mended
    also = {hole.number for hole in holes.values()}
    with tempfile.TemporaryDirectory(prefix="trackgolf-") as folder:
        place = Path(folder) / GUESSED_FILE
        place.write_bytes(content)
        try:
            if mended is not None:
                course, numbers = read_confirmed(folder, () if confirmed_holes(place) else None)
            else:
                course, numbers = read_confirmed(folder, also)
        except InputError as error:
            where = "the mended file" if mended is not None else None
            what = error.what.replace(str(place), "it")
            do = "Mend it, and give it again" if mended is not None else "Mark the holes that are right"
            raise CourseError(what, where, do, faults=error.faults) from error
    return confirmed_course(course, numbers, name)


def _as_confirmed(files: CourseFiles, holes: Mapping[int, HoleAsConfirmed]) -> bytes:
    """Write what somebody said of the holes into the file of guesses."""
    faults = []
    new = [hole.number for hole in holes.values()]
    faults += [f"two holes have the number {one}" for one in sorted(set(new)) if new.count(one) > 1]
    indexes = [hole.stroke_index for hole in holes.values() if hole.stroke_index is not None]
    faults += [f"two holes have stroke index {one}" for one in sorted(set(indexes)) if indexes.count(one) > 1]
    raise_faults(CourseError, faults, "course")
    document = json.loads(files.map or b"{}")
    kept = []
    for feature in document["features"]:
        tags = feature["properties"]
        said = holes.get(int(tags["ref"]))
        if said is None:
            continue
        tags["ref"] = str(said.number)
        if tags["golf"] == "hole":
            tags["par"] = str(said.par)
            tags.pop("handicap", None)
            if said.stroke_index is not None:
                tags["handicap"] = str(said.stroke_index)
        kept.append(feature)
    return geojson_text(document | {"features": kept}).encode()
