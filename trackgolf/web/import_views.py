"""The page that takes tracks in, and all that belongs to them."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Mapping

from flask import Flask, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from trackgolf.errors import InputError
from trackgolf.library.find import known_courses, read_players
from trackgolf.library.jobs import read_jobs
from trackgolf.library.kept import kept_bags, kept_plans, read_kept
from trackgolf.library.opening import open_library
from trackgolf.web.new_player import typed_bag
from trackgolf.web.opened import library_if_any
from trackgolf.web.settings import WebSettings
from trackgolf.web.uploads import document, keep_upload

__all__ = ["add_import_views"]

# The field of a form and what it is to the import; "course" is the choice among those there are.
_DOCUMENTS = {"course_file": "course"} | {kind: kind for kind in ("scorecard", "bag", "plan", "card")}


def add_import_views(app: Flask, settings: WebSettings, wake: Callable[[], None]) -> None:
    """
    Put the pages of the import to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library, and the limits.
    wake : callable
        Tells whoever works on uploads that there is one.
    """

    @app.get("/import")
    def import_form() -> str:
        return _form(settings, {}, ())

    @app.post("/import")
    def import_now() -> Response | tuple[str, int]:
        try:
            with contextlib.closing(open_library(settings.library, create=True)) as connection:
                tracks = [file for file in request.files.getlist("tracks") if file.filename]
                number = keep_upload(connection, tracks, _documents(connection), request.form)
        except InputError as error:
            lines = [str(error).split("\n", maxsplit=1)[0], *error.faults]
            return _form(settings, request.form, lines), 400
        wake()
        return redirect(url_for("job", number=number), 303)


def _documents(connection: sqlite3.Connection) -> dict[str, bytes]:
    """Read what came with the tracks, was chosen among what is kept, or was typed; a file counts before both."""
    found = {}
    for field, kind in _DOCUMENTS.items():
        if field in request.files and request.files[field].filename:
            found[kind] = document(request.files[field], kind)
    typed = typed_bag(request.form)
    if typed is not None:
        found.setdefault("bag", typed)
    for kind in ("bag", "plan"):
        chosen = request.form.get(f"kept_{kind}", "")
        if chosen and kind not in found:
            found[kind] = read_kept(connection, kind, chosen)
    return found


def _form(settings: WebSettings, given: Mapping[str, str], lines: tuple[str, ...] | list[str]) -> str:
    values: dict[str, object] = {"players": [], "courses": [], "bags": [], "plans": [], "going": []}
    with library_if_any(settings) as connection:
        if connection is not None:
            values = {
                "players": read_players(connection),
                "courses": [(known.course, known.files.name) for known in known_courses(connection)],
                "bags": kept_bags(connection),
                "plans": kept_plans(connection),
                "going": [job for job in read_jobs(connection) if job.state in ("waiting", "running")],
            }
    return render_template("import.html", given=given, lines=lines, **values)
