"""The pages that take tracks in."""

from __future__ import annotations

from flask import Flask, render_template, request

from trackgolf.library.find import known_courses, read_players
from trackgolf.library.opening import open_library
from trackgolf.web.opened import library_if_any
from trackgolf.web.settings import WebSettings
from trackgolf.web.uploads import import_uploads

__all__ = ["add_import_views"]

# The field of a form and what it is to the import; "course" is the choice among those there are.
_DOCUMENTS = {"course_file": "course"} | {kind: kind for kind in ("scorecard", "bag", "plan", "card")}


def add_import_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the pages of the import to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library, and the limits.
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
    def import_now() -> str:
        tracks = [file for file in request.files.getlist("tracks") if file.filename]
        documents = {kind: request.files[name] for name, kind in _DOCUMENTS.items() if _given(name)}
        connection = open_library(settings.library, create=True)
        try:
            outcomes = import_uploads(connection, tracks, documents, request.form, settings)
        finally:
            connection.close()
        return render_template("imported.html", outcomes=outcomes)

    def _given(kind: str) -> bool:
        return kind in request.files and bool(request.files[kind].filename)
