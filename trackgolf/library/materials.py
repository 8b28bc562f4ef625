"""What a round is rebuilt from, as the bytes that people gave: course, bag, plan, card."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import pandas as pd

from trackgolf.bag import Bag, read_bag
from trackgolf.card import read_card
from trackgolf.course import Course, course_from_scorecard, read_course
from trackgolf.errors import InputError
from trackgolf.plan_file import read_plan
from trackgolf.reconstruct import Note
from trackgolf.scorecard import read_scorecard

__all__ = ["CourseFiles", "Materials", "read_bag_bytes", "read_cards", "read_course_files", "read_materials"]

# Courses and bags that one process keeps read: a folder of rounds comes from a few.
_MOST_AT_HAND = 16


@dataclass(frozen=True, slots=True)
class CourseFiles:
    """
    A course as it was given.

    Attributes
    ----------
    name : str
        What it is called; "" for the name in its map.
    map : bytes or None
        The course file.
    scorecard : bytes or None
        The scorecard.
    guessed : bool
        Whether the map is a guess from a track that nobody has confirmed.
    """

    name: str
    map: bytes | None
    scorecard: bytes | None
    guessed: bool = False


@dataclass(frozen=True, slots=True)
class Materials:
    """
    All that a round is rebuilt from, besides its recordings.

    Attributes
    ----------
    course : CourseFiles
        The course.
    tee : str or None
        The tee that was named.
    bag : bytes
        The bag file.
    plan, card : bytes or None
        The plan and the played card.
    corrections : str or None
        What the player set right, as `trackgolf.corrections` writes it.
    """

    course: CourseFiles
    tee: str | None
    bag: bytes
    plan: bytes | None = None
    card: bytes | None = None
    corrections: str | None = None


def read_course_files(files: CourseFiles, tee: str | None = None) -> Course:
    """
    Read a course from its bytes.

    Parameters
    ----------
    files : CourseFiles
        The course.
    tee : str, optional
        The tee to play from.

    Returns
    -------
    Course
        Under the name the library has for it.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    return _course(files, tee)


def read_bag_bytes(content: bytes) -> Bag:
    """
    Read a bag from its bytes.

    Parameters
    ----------
    content : bytes
        The bag file.

    Returns
    -------
    Bag
        The bag.

    Raises
    ------
    BagError
        If it cannot be read.
    """
    return _bag(content)


def read_materials(
    materials: Materials,
) -> tuple[Course, Bag, pd.DataFrame | None, pd.DataFrame | None, list[Note]]:
    """
    Read all that a round is rebuilt from.

    Parameters
    ----------
    materials : Materials
        The bytes.

    Returns
    -------
    course : Course
        The course.
    bag : Bag
        The bag.
    plan : pandas.DataFrame or None
        The planned shots.
    card : pandas.DataFrame or None
        The played card.
    told : list of Note
        What reading them had to say.

    Raises
    ------
    InputError
        If one of them cannot be read or does not fit the others.
    """
    course = _course(materials.course, materials.tee)
    bag = _bag(materials.bag)
    shots, card, told = None, None, []
    with _files({"plan.geojson": materials.plan, "card.csv": materials.card}) as folder:
        if materials.plan is not None:
            plan = read_plan(folder / "plan.geojson", course, bag)
            shots, told = plan.shots, [Note("mended", 0, text) for text in plan.notes]
        if materials.card is not None:
            card = read_card(folder / "card.csv", bag)
    return course, bag, shots, card, told


def read_cards(
    scorecard: bytes | None, card: bytes | None, bag: Bag
) -> tuple[pd.DataFrame | None, pd.DataFrame | None]:
    """
    Read the cards of a round without a course.

    Parameters
    ----------
    scorecard : bytes or None
        The course's own card, without positions.
    card : bytes or None
        The played card.
    bag : Bag
        The player's clubs.

    Returns
    -------
    scorecard, card : pandas.DataFrame or None
        As the readers give them.

    Raises
    ------
    InputError
        If one of them cannot be read.
    """
    with _files({"scorecard.csv": scorecard, "card.csv": card}) as folder:
        return (
            None if scorecard is None else read_scorecard(folder / "scorecard.csv"),
            None if card is None else read_card(folder / "card.csv", bag),
        )


@lru_cache(maxsize=_MOST_AT_HAND)
def _course(files: CourseFiles, tee: str | None) -> Course:
    with _files({"course": files.map, "scorecard.csv": files.scorecard}) as folder:
        scorecard = folder / "scorecard.csv"
        if files.map is None:
            course = course_from_scorecard(scorecard)
        else:
            card = scorecard if files.scorecard is not None else None
            course = read_course(folder / "course", scorecard=card, tee=tee)
    return replace(course, name=files.name) if files.name else course


@lru_cache(maxsize=_MOST_AT_HAND)
def _bag(content: bytes) -> Bag:
    with _files({"bag.toml": content}) as folder:
        return read_bag(folder / "bag.toml")


@contextmanager
def _files(contents: dict[str, bytes | None]) -> Iterator[Path]:
    """Put contents into files for the readers; what these say of them names no folder nobody knows."""
    with tempfile.TemporaryDirectory(prefix="trackgolf-") as name:
        folder = Path(name)
        for file, content in contents.items():
            if content is not None:
                (folder / file).write_bytes(content)
        try:
            yield folder
        except InputError as error:
            where = None if error.where is None else error.where.replace(f"{folder}/", "")
            raise type(error)(error.what, where, error.do, faults=error.faults) from error
