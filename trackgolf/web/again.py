"""Forms that come too late: what was typed is kept, shown, and can be sent again."""

from __future__ import annotations

from flask import (
    Flask,
    Response,
    abort,
    current_app,
    jsonify,
    make_response,
    render_template,
    request,
    url_for,
)

from trackgolf.library.correcting import read_corrections_of
from trackgolf.web import forms
from trackgolf.web.opened import library_of_round
from trackgolf.web.settings import WebSettings

__all__ = ["STALE", "add_again", "kept_form"]

STALE = "This form is from before the program was last started."
# What a form carries besides what a person typed or chose.
_CARRIED = frozenset({"form_token", "seen", "shot", "visit", "hole", "id"})
_LABELS = {
    "end_lie": "Came to rest", "lie": "Played from", "penalty": "Penalty strokes from it", "to_hole": "Belongs to hole",
    "lon": "Longitude", "lat": "Latitude", "clock": "Time", "do": "Chosen", "penalties": "Penalty strokes",
}  # fmt: skip
_CHOSEN = {
    "remove": "it was none", "confirm": "it was a shot", "add": "a shot is missing", "picked_up": "it was picked up",
    "not_played": "it was not played",
}  # fmt: skip


def add_again(app: Flask, settings: WebSettings) -> None:
    """
    Answer forms that meet a round that was corrected elsewhere.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library.
    """

    @app.errorhandler(forms.ConflictError)
    def _conflict(error: forms.ConflictError) -> Response:
        if request.accept_mimetypes.best == "application/json":
            answer = jsonify(faults=[str(error)])
            answer.status_code = 409
            return answer
        return kept_form(str(error), 409, seen=_mark_now(settings))


def kept_form(said: str, status: int, *, seen: str | None = None, enter: bool = False) -> Response:
    """
    Show what was typed into a form that was not taken, to be sent again.

    Parameters
    ----------
    said : str
        Why it was not taken.
    status : int
        Status of the answer.
    seen : str, optional
        The state of the round to send it with; without one, and where it
        carried one, it can be looked at only.
    enter : bool
        Whether the token of the page must be said first.

    Returns
    -------
    flask.Response
        The page.
    """
    # Nothing is about to be done at an unknown place, and the token of the page is not written into one.
    if request.endpoint in (None, "enter"):
        abort(status, f"{said} Load the page again.")
    given = [(name, value) for name, value in request.form.items(multi=True) if name != "form_token"]
    stale = status == 403
    # Files do not come back.
    sendable = (stale or seen is not None) and not any(file.filename for file in request.files.values())
    number, hole = _round_and_hole()
    hidden = [
        (name, seen if name == "seen" and seen is not None else value)
        for name, value in given
        if len(value) <= 10_000
    ]
    shown = [
        (_LABELS.get(name, name.replace("_", " ").capitalize()), _CHOSEN.get(value, value.replace("_", " ")))
        for name, value in given
        if name not in _CARRIED and value.strip()
    ]
    page = render_template(
        "again.html",
        said=said,
        shown=shown,
        hidden=hidden if sendable else None,
        path=request.path,
        number=number,
        hole=hole,
        enter=enter,
        stale=stale,
        page=_page_of_form(number),
    )
    return make_response(page, status)


def _page_of_form(number: int | None) -> str:
    """Where the form can be found: some are sent to an address that shows nothing."""
    if number is not None:
        return url_for("review", number=number)
    adapter = current_app.create_url_adapter(request)
    shown = adapter is not None and adapter.test(request.path, method="GET")
    return request.path if shown else url_for("rounds")


def _mark_now(settings: WebSettings) -> str | None:
    """State of the round that a form is about; None where it cannot be sent again: the last correction is another."""
    number, _ = _round_and_hole()
    if number is None or "seen" not in request.form or request.endpoint == "undo":
        return None
    with library_of_round(settings) as connection:
        return forms.mark_of(read_corrections_of(connection, number))


def _round_and_hole() -> tuple[int | None, int | None]:
    """What a form is about, if it is a round: plans have numbers and holes too."""
    given = request.view_args or {}
    if not request.path.startswith("/rounds/"):
        return None, None
    return given.get("number"), given.get("hole")
