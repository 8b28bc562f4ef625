"""Rounds whose course nobody has drawn: its holes guessed when the round comes in, kept, and marked as guessed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import shapely

from geo.geojson import geojson_text
from geo.gpx import GpxFile
from geo.track import join_tracks
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.guess_course import GUESSED_NAME, course_of_holes, guess_holes
from trackgolf.guess_file import guessed_geojson
from trackgolf.guess_hints import bag_for_course
from trackgolf.guess_round import HOLE_NOTE
from trackgolf.library.keeping import course_lines
from trackgolf.library.materials import CourseFiles, Materials, read_bag_bytes, read_cards
from trackgolf.reconstruct import Note, Round

__all__ = ["as_guessed", "hole_confidence", "with_confidence", "with_guessed_course"]


def with_guessed_course(
    files: Sequence[GpxFile], materials: Materials
) -> tuple[Materials, shapely.MultiLineString]:
    """
    Guess the holes of a round.

    Parameters
    ----------
    files : sequence of geo.gpx.GpxFile
        Its recordings, whole.
    materials : Materials
        Bag and card; of the course at most a scorecard without positions.

    Returns
    -------
    materials : Materials
        With the guessed course, marked as such.
    lines : shapely.MultiLineString
        Its lines of play.

    Raises
    ------
    InputError
        If no hole can be made out.
    """
    bag = read_bag_bytes(materials.bag)
    scorecard, card = read_cards(materials.course.scorecard, materials.card, bag)
    holes = guess_holes(join_tracks(files), bag, scorecard=scorecard, card=card)
    course = course_of_holes(holes)
    document = guessed_geojson(course, {hole.number: hole.confidence for hole in holes})
    document["warnings"] = list(course.warnings)
    content = geojson_text(document).encode()
    files_of_course = CourseFiles(materials.course.name or GUESSED_NAME, content, None, guessed=True)
    return replace(materials, course=files_of_course), course_lines(course)


def as_guessed(files: CourseFiles, course: Course, bag: Bag, told: Sequence[Note]) -> tuple[Bag, list[Note]]:
    """
    Fit a bag to a guessed course, and say what is guessed.

    Parameters
    ----------
    files : CourseFiles
        The guessed course.
    course : Course
        What was read from it.
    bag : Bag
        The player's bag.
    told : sequence of Note
        What there is to say already.

    Returns
    -------
    bag : Bag
        With a target for as many holes as there are.
    told : list of Note
        And what is guessed.
    """
    said = _document(files).get("warnings")
    texts = [str(text) for text in said] if isinstance(said, list) else []
    fitted, text = bag_for_course(bag, course)
    texts += [] if text is None else [text]
    return fitted, [*told, *(Note("assumed", 0, text) for text in texts)]


def with_confidence(played: Round, files: CourseFiles) -> Round:
    """
    Say of each hole how sure its guess is.

    Parameters
    ----------
    played : Round
        A round on a guessed course.
    files : CourseFiles
        The course.

    Returns
    -------
    Round
        With that in the column ``note`` of its holes.
    """
    sure = hole_confidence(files)
    notes = [
        "; ".join(
            text for text in (note, HOLE_NOTE.format(100.0 * sure[hole]) if hole in sure else "") if text
        )
        for hole, note in zip(played.holes["hole"], played.holes["note"], strict=True)
    ]
    return replace(played, holes=played.holes.assign(note=notes))


def hole_confidence(files: CourseFiles) -> dict[int, float]:
    """
    Read how sure each guessed hole is.

    Parameters
    ----------
    files : CourseFiles
        A guessed course.

    Returns
    -------
    dict of int to float
        By number of the hole, 0 to 1.
    """
    found = {}
    for feature in _document(files).get("features", []):
        tags = feature["properties"]
        if tags.get("golf") == "hole" and "confidence" in tags:
            found[int(tags["ref"])] = float(tags["confidence"])
    return found


def _document(files: CourseFiles) -> dict[str, Any]:
    """What this module wrote itself."""
    document: dict[str, Any] = json.loads(files.map or b"{}")
    return document
