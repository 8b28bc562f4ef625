"""The pages: each reads the library, or asks it for one change, and shows what came of it."""

from __future__ import annotations

import hmac
import re
from functools import cache
from importlib import resources
from typing import Any

import pandas as pd
from flask import Flask, Response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from geo.units import to_yards
from reports.base import theme_style
from reports.offline import own_file
from trackgolf.correction_fields import END_LIES, LIES
from trackgolf.library.confirming import guessed_rounds
from trackgolf.library.correcting import read_corrections_of, read_notes
from trackgolf.library.jobs import read_jobs
from trackgolf.library.materials import read_bag_bytes
from trackgolf.library.read import read_holes, read_round, read_rounds, read_shots, round_row
from trackgolf.library.rebuild import local_time
from trackgolf.reconstruct import Round
from trackgolf.web import forms
from trackgolf.web.at_hand import correct_at_hand, report_at_hand
from trackgolf.web.common import report_answer
from trackgolf.web.entry_words import entry_words
from trackgolf.web.opened import library_if_any, library_of_round
from trackgolf.web.safety import give_pass
from trackgolf.web.settings import WebSettings

__all__ = ["add_views"]

_ROUND = "/rounds/<int(min=1,max=999999999):number>"
_HOLE = f"{_ROUND}/holes/<int(min=1,max=36):hole>"


def add_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the pages to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library, and the limits.
    """
    _add_shell(app, settings)
    _add_round(app, settings)
    _add_corrections(app, settings)


def _add_shell(app: Flask, settings: WebSettings) -> None:
    @app.get("/style.css")
    def style() -> Response:
        text = theme_style() + own_file("report.css") + _own_style()
        return Response(text, mimetype="text/css")

    @app.route("/enter", methods=["GET", "POST"])
    def enter() -> str | tuple[str, int] | AnyResponse:
        if request.method == "GET" or settings.token is None:
            return redirect(url_for("rounds"), 303)
        said = request.form.get("token", "").strip()
        if not hmac.compare_digest(said.encode("utf-8", "replace"), settings.token.encode()):
            return render_template("enter.html", wrong=True), 403
        answer = redirect(url_for("rounds"), 303)
        give_pass(answer, settings)
        return answer

    @app.get("/")
    def rounds() -> str:
        with library_if_any(settings) as connection:
            found = [] if connection is None else read_rounds(connection).to_dict("records")
            uploads = [] if connection is None else read_jobs(connection)
        going = [job for job in reversed(uploads) if job.state in ("waiting", "running")]
        return render_template("rounds.html", going=going, rounds=[_line(row) for row in reversed(found)])


def _add_round(app: Flask, settings: WebSettings) -> None:
    @app.get(_ROUND)
    def review(number: int) -> str:
        with library_of_round(settings) as connection:
            row = round_row(connection, number)
            holes = _of_round(read_holes(connection), number)
            corrections = read_corrections_of(connection, number)
            notes = read_notes(connection, number)
            guessed = number in guessed_rounds(connection)
        return render_template(
            "round.html",
            guessed=guessed,
            round=_line(row.to_dict()),
            holes=[_plain(hole) for hole in holes.to_dict("records")],
            entries=[
                {"id": entry.id, "note": entry.note, "words": entry_words(entry, str(row["time_zone"]))}
                for entry in corrections.entries
            ],
            notes=notes,
            seen=forms.mark_of(corrections),
        )

    @app.get(f"{_ROUND}/report")
    def report(number: int) -> Response:
        with library_of_round(settings) as connection:
            page = report_at_hand(connection, number)
        return report_answer(page, render_template("back.html", number=number))

    @app.get(_HOLE)
    def one_hole(number: int, hole: int) -> str:
        return _hole_page(settings, number, hole, said=["Set right."] if "done" in request.args else [])


def _add_corrections(app: Flask, settings: WebSettings) -> None:
    @app.post(f"{_HOLE}/shot")
    def correct_shot(number: int, hole: int) -> str | AnyResponse:
        with library_of_round(settings) as connection:
            _, materials, _ = read_round(connection, number)
            shots = _of_round(read_shots(connection), number)
            mine = [shot for shot in shots.to_dict("records") if _name_of(shot) == request.form.get("shot")]
            if not mine or mine[0]["hole"] != hole:
                raise forms.gone()
            shot = mine[0]
            bag = read_bag_bytes(materials.bag)
            asked = forms.asked_of_shot(request.form, hole, shot["start_time"], bag, _plain(shot))
            played = correct_at_hand(connection, number, forms.adding_all(asked, _seen()))
        return _after(settings, played, number, hole)

    @app.post(f"{_HOLE}/score")
    def correct_hole(number: int, hole: int) -> str | AnyResponse:
        with library_of_round(settings) as connection:
            row = round_row(connection, number)
            holes = _of_round(read_holes(connection), number)
            mine = [one for one in holes.to_dict("records") if one["hole"] == hole]
            visit = request.form.get("visit", "")
            time = None
            # Where a hole was played once its number says which playing is meant.
            if len(mine) > 1:
                moments = [one["first_time"] for one in mine if str(one["visit"]) == visit]
                if not moments:
                    raise forms.gone()
                time = moments[0]
            asked = forms.asked_of_hole(request.form, hole, time, row)
            played = correct_at_hand(connection, number, forms.adding_all(asked, _seen()))
        return _after(settings, played, number, hole)

    @app.post(f"{_ROUND}/undo")
    def undo(number: int) -> AnyResponse:
        with library_of_round(settings) as connection:
            change = forms.undoing(request.form.get("id", "")[:64], _seen())
            correct_at_hand(connection, number, change)
        back = request.form.get("hole", "")
        if re.fullmatch(r"[1-9]|[12][0-9]|3[0-6]", back):
            return redirect(url_for("one_hole", number=number, hole=int(back), done=1), 303)
        return redirect(url_for("review", number=number), 303)


@cache
def _own_style() -> str:
    return (resources.files("trackgolf.web") / "serve.css").read_text(encoding="utf-8")


def _seen() -> str:
    return request.form.get("seen", "")


def _after(settings: WebSettings, played: Round, number: int, hole: int) -> str | AnyResponse:
    """Go back to the hole; where a correction does not fit the round, say so first."""
    doubts = [note.text for note in played.notes if "correction" in note.text]
    if doubts:
        return _hole_page(settings, number, hole, said=["Set right.", *doubts])
    return redirect(url_for("one_hole", number=number, hole=hole, done=1), 303)


def _hole_page(settings: WebSettings, number: int, hole: int, *, said: list[str]) -> str:
    with library_of_round(settings) as connection:
        row, materials, _ = read_round(connection, number)
        holes = _of_round(read_holes(connection), number)
        shots = _of_round(read_shots(connection), number)
        corrections = read_corrections_of(connection, number)
    bag = read_bag_bytes(materials.bag)
    numbers = holes["hole"].drop_duplicates().tolist()
    zone = str(row["time_zone"])
    playings = [
        _plain(one)
        | {
            "shots_listed": [
                _shot(shot, zone)
                for shot in shots[(shots["hole"] == hole) & (shots["visit"] == one["visit"])].to_dict(
                    "records"
                )
            ]
        }
        for one in holes[holes["hole"] == hole].to_dict("records")
    ]
    at = numbers.index(hole) if hole in numbers else None
    return render_template(
        "hole.html",
        round=_line(row.to_dict()),
        hole=hole,
        playings=playings,
        before=numbers[at - 1] if at else None,
        after=numbers[at + 1] if at is not None and at + 1 < len(numbers) else None,
        clubs=[club.name for club in bag.clubs],
        length=lambda length_m: _length(length_m, bag.units),
        lies=LIES,
        end_lies=END_LIES,
        last=entry_words(corrections.entries[-1], zone) if corrections.entries else None,
        seen=forms.mark_of(corrections),
        said=said,
    )


def _of_round(table: pd.DataFrame, number: int) -> pd.DataFrame:
    found: pd.DataFrame = table[table["round"] == number]
    return found


def _plain(row: dict[Any, Any]) -> dict[str, Any]:
    """Values with None for what is not known."""
    return {
        str(key): None if not isinstance(value, str) and pd.isna(value) else value
        for key, value in row.items()
    }


def _line(row: dict[Any, Any]) -> dict[str, Any]:
    start = local_time(row["start_time"], row["time_zone"])
    return _plain(row) | {"when": f"{start:%Y-%m-%d %H:%M}"}


def _length(length_m: float, units: str) -> str:
    return f"{to_yards(length_m):.0f} yd" if units == "yd" else f"{length_m:.0f} m"


def _name_of(shot: dict[Any, Any]) -> str:
    """What names a shot in a form: the moment of its stroke, as in corrections."""
    return str(shot["start_time"].isoformat())


def _shot(shot: dict[Any, Any], zone: str) -> dict[str, Any]:
    return _plain(shot) | {
        "name": _name_of(shot),
        "clock": f"{local_time(shot['start_time'], zone):%H:%M:%S}",
    }
