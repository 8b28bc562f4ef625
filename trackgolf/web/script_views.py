"""Scripts that pages ask for: files of our own and the map library, no others, and the page that may run them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import resources

from flask import Flask, Response, abort, jsonify, make_response, render_template

from reports.offline import leaflet_script, leaflet_style
from trackgolf.web.safety import SCRIPT_POLICY, form_token
from trackgolf.web.settings import WebSettings

__all__ = ["add_scripts", "script_files", "with_scripts"]

_FOLDER = resources.files("trackgolf.web") / "scripts"


def add_scripts(app: Flask, settings: WebSettings) -> None:
    """
    Serve the scripts, and the style of maps.

    Parameters
    ----------
    app : flask.Flask
        The application; who may enter it may have its scripts.
    settings : WebSettings
        Where it is served.
    """

    @app.get("/scripts/<name>.js")
    def script(name: str) -> Response:
        text = script_files().get(name)
        if text is None:
            abort(404)
        return Response(text, mimetype="text/javascript")

    @app.get("/map.css")
    def map_style() -> Response:
        own = (resources.files("trackgolf.web") / "map.css").read_text(encoding="utf-8")
        return Response(leaflet_style() + own, mimetype="text/css")

    @app.get("/token")
    def token() -> Response:
        return jsonify(form_token=form_token(settings))


@cache
def script_files() -> Mapping[str, str]:
    """
    Read the scripts once.

    Returns
    -------
    mapping of str to str
        Their text by name, without ``.js``.
    """
    own = {
        file.name.removesuffix(".js"): file.read_text(encoding="utf-8")
        for file in _FOLDER.iterdir()
        if file.name.endswith(".js")
    }
    return own | {"leaflet": leaflet_script()}


def with_scripts(template: str, **values: object) -> Response:
    """
    Show a page that may run the scripts served beside it, and no others.

    Parameters
    ----------
    template : str
        Name of a template; its scripts are ``<script src="/scripts/x.js" defer></script>``.
    **values : object
        What it shows.

    Returns
    -------
    flask.Response
        The page, with `SCRIPT_POLICY`.
    """
    answer = make_response(render_template(template, **values))
    answer.headers["Content-Security-Policy"] = SCRIPT_POLICY
    return answer
