"""What several kinds of pages need: the library, who or what is meant, and reports with a way back."""

from __future__ import annotations

import contextlib
import re
import sqlite3
from collections.abc import Iterator, Mapping
from datetime import date

from flask import Response, abort, make_response
from markupsafe import Markup

from trackgolf.course import Course
from trackgolf.errors import InputError
from trackgolf.library.find import known_courses
from trackgolf.library.materials import read_course_files
from trackgolf.library.shelf import player_numbers
from trackgolf.web.opened import library_if_any
from trackgolf.web.settings import WebSettings

__all__ = [
    "attached",
    "chosen_course",
    "day_of",
    "known_courses_and_tees",
    "opened",
    "player_of",
    "report_answer",
    "whole_number",
]

_LARGEST = 999_999_999


@contextlib.contextmanager
def opened(settings: WebSettings) -> Iterator[sqlite3.Connection]:
    """
    Open the library for a page that needs one.

    Parameters
    ----------
    settings : WebSettings
        Where it is; without one the page is not there either.

    Yields
    ------
    sqlite3.Connection
        The library.
    """
    with library_if_any(settings) as connection:
        if connection is None:
            abort(404)
        yield connection


def player_of(connection: sqlite3.Connection, number: int) -> str:
    """
    Name a player of the library.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    number : int
        Number of the player; without such a player there is no page.

    Returns
    -------
    str
        The name.
    """
    name = player_numbers(connection).get(number)
    if name is None:
        abort(404)
    return name


def day_of(fields: Mapping[str, str]) -> date | None:
    """
    Read since when rounds count.

    Parameters
    ----------
    fields : mapping of str to str
        Of a form or address, perhaps with ``since``.

    Returns
    -------
    datetime.date or None
        The day.

    Raises
    ------
    InputError
        If it is none.
    """
    text = fields.get("since", "").strip()
    if not text:
        return None
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII):
            raise ValueError(text)  # noqa: TRY301
        return date.fromisoformat(text)
    except ValueError as fault:
        raise InputError(f"{text[:40]!r} is not a day", "since", "Write it as 2026-04-01") from fault


def whole_number(fields: Mapping[str, str], name: str) -> int | None:
    """
    Read a whole number that names something.

    Parameters
    ----------
    fields : mapping of str to str
        Of a form or address.
    name : str
        Which one.

    Returns
    -------
    int or None
        None where nothing is written.

    Raises
    ------
    InputError
        If something else is.
    """
    text = fields.get(name, "").strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise InputError(f"{text[:40]!r} is not one of the list", name, "Choose one of it")
    return int(text)


def known_courses_and_tees(connection: sqlite3.Connection) -> list[tuple[int, str, tuple[str, ...]]]:
    """
    List the courses for a form.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.

    Returns
    -------
    list of tuple
        Number, name and the names of its tees.
    """
    return [
        (known.course, known.files.name, tuple(read_course_files(known.files).tees))
        for known in known_courses(connection)
    ]


def chosen_course(connection: sqlite3.Connection, fields: Mapping[str, str]) -> Course | None:
    """
    Read the course and tee that were chosen.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    fields : mapping of str to str
        Perhaps with ``course``, a number, and ``tee``, a name.

    Returns
    -------
    Course or None
        None where none was chosen.

    Raises
    ------
    InputError
        If there is no such course, or it has no such tee.
    """
    number = whole_number(fields, "course")
    if number is None:
        return None
    for known in known_courses(connection):
        if known.course == number:
            return read_course_files(known.files, fields.get("tee", "").strip() or None)
    raise InputError("there is no such course in the library", "course", "Choose another")


def report_answer(page: str, back: str) -> Response:
    """
    Show a report with a way back to the other pages.

    Parameters
    ----------
    page : str
        As `reports` writes it; the policy it brings along is sent as a header too.
    back : str
        Markup of links, from a template of ours.

    Returns
    -------
    flask.Response
        The page.
    """
    found = re.search(r'<meta http-equiv="Content-Security-Policy" content="([^"]+)">', page)
    if found is None:
        abort(500)
    answer = make_response(page.replace('<header class="head">', f'<header class="head">{back}', 1))
    policy = str(Markup(found[1]).unescape())  # noqa: S704
    answer.headers["Content-Security-Policy"] = f"{policy}; frame-ancestors 'none'"
    return answer


def attached(text: str, name: str, kind: str) -> Response:
    """
    Give a file to keep.

    Parameters
    ----------
    text : str
        What it holds.
    name : str
        Its name, one of ours.
    kind : str
        Its media type.

    Returns
    -------
    flask.Response
        The file.
    """
    answer = Response(text.encode("utf-8"), mimetype=kind)
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
