"""The application: its limits, its guard, its pages, and what it says when something goes wrong."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable

import jinja2
from flask import Flask, Response, jsonify, render_template, request
from werkzeug.exceptions import HTTPException

from trackgolf.errors import InputError
from trackgolf.library.opening import library_faults
from trackgolf.web.again import add_again
from trackgolf.web.course_views import add_course_views
from trackgolf.web.evidence_views import add_evidence_views
from trackgolf.web.import_views import add_import_views
from trackgolf.web.job_views import add_job_views
from trackgolf.web.map_views import add_map_views
from trackgolf.web.plan_hole_views import add_plan_hole_views
from trackgolf.web.plan_views import add_plan_views
from trackgolf.web.safety import form_token, guard
from trackgolf.web.script_views import add_scripts
from trackgolf.web.settings import WebSettings
from trackgolf.web.views import add_views

__all__ = ["create_app"]


def create_app(settings: WebSettings, wake: Callable[[], None] = lambda: None) -> Flask:
    """
    Make the application.

    Parameters
    ----------
    settings : WebSettings
        Where it is served, of what library, with which limits.
    wake : callable, optional
        Tells whoever works on uploads that there is one.

    Returns
    -------
    flask.Flask
        For `trackgolf.web.serving`, or for tests.
    """
    app = Flask("trackgolf.web", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = settings.max_bytes
    app.jinja_env.undefined = jinja2.StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals["form_token"] = form_token(settings)
    app.jinja_env.globals["max_mb"] = settings.max_bytes // 1_000_000
    guard(app, settings)
    add_again(app, settings)
    add_scripts(app, settings)
    add_views(app, settings)
    add_import_views(app, settings, wake)
    add_job_views(app, settings)
    add_course_views(app, settings)
    add_map_views(app, settings)
    add_evidence_views(app, settings)
    add_plan_views(app, settings)
    add_plan_hole_views(app, settings)

    @app.errorhandler(InputError)
    def _input(error: InputError) -> tuple[str | Response, int]:
        lines = [str(error), *(error.faults if len(error.faults) > 1 else ())]
        return _told(lines), 400

    @app.errorhandler(HTTPException)
    def _http(error: HTTPException) -> tuple[str | Response, int]:
        said = error.description if error.code == 403 else None
        if error.code == 413:
            said = f"That is more than {settings.max_bytes // 1_000_000} MB. Give fewer files at once."
        return _told([said or f"{error.name}."]), error.code or 500

    @app.errorhandler(sqlite3.DatabaseError)
    def _library(error: sqlite3.DatabaseError) -> tuple[str | Response, int]:
        try:
            with library_faults(settings.library):
                raise error
        except InputError as told:
            return _told([str(told)]), 503

    @app.errorhandler(Exception)
    def _crash(error: Exception) -> tuple[str | Response, int]:
        logging.getLogger("trackgolf.web").error("a page failed", exc_info=error)
        return _told(["Something went wrong here. Nothing was changed."]), 500

    return app


def _told(lines: list[str]) -> str | Response:
    """Say what went wrong, as a page to people and as JSON to the scripts of pages."""
    if request.accept_mimetypes.best == "application/json":
        return jsonify(faults=lines)
    return render_template("fault.html", lines=lines)
