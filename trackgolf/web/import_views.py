"""The pages that take tracks in."""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from flask import Flask, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from trackgolf.library.find import known_courses, read_players
from trackgolf.library.opening import open_library
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
        players: list[str] = []
        courses: list[tuple[int, str]] = []
        with library_if_any(settings) as connection:
            if connection is not None:
                players = read_players(connection)
                courses = [(known.course, known.files.name) for known in known_courses(connection)]
        return render_template("import.html", players=players, courses=courses)

    @app.post("/import")
    def import_now() -> Response:
        tracks = [file for file in request.files.getlist("tracks") if file.filename]
        documents = {
            kind: document(request.files[name], kind) for name, kind in _DOCUMENTS.items() if _given(name)
        }
        with contextlib.closing(open_library(settings.library, create=True)) as connection:
            number = keep_upload(connection, tracks, documents, request.form)
        wake()
        return redirect(url_for("job", number=number), 303)

    def _given(kind: str) -> bool:
        return kind in request.files and bool(request.files[kind].filename)
