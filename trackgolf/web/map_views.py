"""A round on the map: what it draws, and each change made there, answered with the round as it is then."""

from __future__ import annotations

import sqlite3
from typing import Any

from flask import Flask, Response, abort, jsonify, request

from trackgolf.correction_fields import END_LIES, LIES
from trackgolf.corrections import Corrections
from trackgolf.library.correcting import read_corrections_of
from trackgolf.library.read import materials_of, round_row
from trackgolf.library.rebuild import local_time
from trackgolf.reconstruct import Round
from trackgolf.web import forms
from trackgolf.web.at_hand import correct_at_hand, round_at_hand
from trackgolf.web.map_data import ground_of, moment_name, state_of
from trackgolf.web.opened import library_of_round
from trackgolf.web.script_views import with_scripts
from trackgolf.web.settings import WebSettings

__all__ = ["add_map_views"]

_MAP = "/rounds/<int(min=1,max=999999999):number>/map"


def add_map_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the map of a round to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library.
    """

    @app.get(_MAP)
    def round_map(number: int) -> Response:
        with library_of_round(settings) as connection:
            row = round_row(connection, number)
            played = round_at_hand(connection, number)
            guessed = materials_of(connection, number).course.guessed
        return with_scripts(
            "map.html",
            number=number,
            player=row["player"],
            course=row["course"],
            invented=bool(row["invented"]),
            guessed=guessed,
            when=f"{local_time(row['start_time'], row['time_zone']):%Y-%m-%d %H:%M}",
            credit=played.course.credit or "",
            lies=LIES,
            end_lies=END_LIES,
            holes=sorted(hole.number for hole in played.course.holes),
            hole=request.args.get("hole", ""),
        )

    @app.get(f"{_MAP}/ground")
    def map_ground(number: int) -> Response:
        with library_of_round(settings) as connection:
            row = round_row(connection, number)
            played = round_at_hand(connection, number)
        return jsonify(ground_of(played, str(row["time_zone"])))

    @app.get(f"{_MAP}/state")
    def map_state(number: int) -> Response:
        with library_of_round(settings) as connection:
            return _state(connection, number, round_at_hand(connection, number))

    @app.get(f"{_MAP}/seen")
    def map_seen(number: int) -> Response:
        with library_of_round(settings) as connection:
            return jsonify(seen=forms.mark_of(read_corrections_of(connection, number)))

    @app.post(f"{_MAP}/change")
    def map_change(number: int) -> Response:
        with library_of_round(settings) as connection:
            asked = _asked(connection, number, round_at_hand(connection, number))
            change = forms.adding_all(asked, request.form.get("seen", ""))
            return _state(connection, number, correct_at_hand(connection, number, change))

    @app.post(f"{_MAP}/undo")
    def map_undo(number: int) -> Response:
        with library_of_round(settings) as connection:
            change = forms.undoing(request.form.get("id", "")[:64], request.form.get("seen", ""))
            return _state(connection, number, correct_at_hand(connection, number, change))


def _asked(connection: sqlite3.Connection, number: int, played: Round) -> list[dict[str, Any]]:
    """What a change sets right: in the shot it names, else in the hole."""
    name = request.form.get("shot", "")
    if name:
        mine = [shot for shot in played.shots.to_dict("records") if moment_name(shot["start_time"]) == name]
        if not mine:
            raise forms.gone()
        shot = {str(key): value for key, value in mine[0].items()}
        return forms.asked_of_shot(request.form, int(shot["hole"]), shot["start_time"], played.bag, shot)
    hole = request.form.get("hole", "")
    if hole not in {str(one.number) for one in played.course.holes}:
        abort(400)
    time = None
    holes = [one for one in played.holes.to_dict("records") if str(one["hole"]) == hole]
    # Where a hole was played once its number says which playing is meant.
    if len(holes) > 1:
        moments = [one["first_time"] for one in holes if str(one["visit"]) == request.form.get("visit", "")]
        if not moments:
            raise forms.gone()
        time = moments[0]
    return forms.asked_of_hole(request.form, int(hole), time, round_row(connection, number))


def _state(connection: sqlite3.Connection, number: int, played: Round) -> Response:
    row = round_row(connection, number)
    corrections = played.corrections or Corrections()
    clubs = [club.name for club in played.bag.clubs]
    state = state_of(played, corrections, str(row["time_zone"]), clubs)
    return jsonify(state | {"seen": forms.mark_of(corrections)})
