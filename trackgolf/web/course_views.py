"""Guessed holes looked over one by one, and the course made of those that are right; courses to download."""

from __future__ import annotations

import re

from flask import Flask, Response, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from trackgolf.errors import CourseError, InputError
from trackgolf.library.confirming import (
    GuessedHoleRow,
    HoleAsConfirmed,
    confirm_course,
    drawn_meanwhile,
    guessed_holes,
    move_round,
)
from trackgolf.library.find import known_courses
from trackgolf.library.materials import read_bag_bytes
from trackgolf.library.read import materials_of, round_row
from trackgolf.library.rebuild import local_time
from trackgolf.web.opened import library_if_any, library_of_round
from trackgolf.web.settings import WebSettings
from trackgolf.web.uploads import document

__all__ = ["add_course_views"]

_COURSE = "/rounds/<int(min=1,max=999999999):number>/course"


def add_course_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the pages of guessed holes and courses to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library.
    """

    @app.get(_COURSE)
    def guessed_course(number: int) -> str | AnyResponse:
        with library_of_round(settings) as connection:
            if not materials_of(connection, number).course.guessed:
                return redirect(url_for("review", number=number), 303)
        return _page(settings, number, [])

    @app.get(f"{_COURSE}.geojson")
    def guessed_file(number: int) -> Response:
        with library_of_round(settings) as connection:
            files = materials_of(connection, number).course
        if not files.guessed or files.map is None:
            abort(404)
        return _file(files.map, "holes_guessed.geojson")

    @app.post(_COURSE)
    def make_course(number: int) -> AnyResponse | tuple[str, int]:
        with library_of_round(settings) as connection:
            try:
                if request.form.get("do") == "move":
                    move_round(connection, number)
                    return redirect(url_for("review", number=number), 303)
                mended = None
                if "mended" in request.files and request.files["mended"].filename:
                    mended = document(request.files["mended"], "course")
                holes, _ = guessed_holes(connection, number)
                said = {} if mended is not None else _confirmed(holes)
                course, moved = confirm_course(connection, number, request.form.get("name", ""), said, mended)
            except InputError as error:
                return _page(settings, number, [str(error).split("\n", maxsplit=1)[0], *error.faults]), 400
        return redirect(url_for("made_course", course=course, number=number, moved=int(moved)), 303)

    @app.get("/courses/<int(min=1,max=999999999):course>/made")
    def made_course(course: int) -> str:
        with library_if_any(settings) as connection:
            found = [] if connection is None else known_courses(connection)
        known = next((one for one in found if one.course == course), None)
        if known is None:
            abort(404)
        back = request.args.get("number", "")
        return render_template(
            "course_made.html",
            course=known,
            number=int(back) if re.fullmatch(r"[1-9][0-9]{0,8}", back, re.ASCII) else None,
            moved=request.args.get("moved") == "1",
        )

    @app.get("/courses/<int(min=1,max=999999999):course>.geojson")
    def course_file(course: int) -> Response:
        with library_if_any(settings) as connection:
            found = [] if connection is None else known_courses(connection)
        content = next((one.files.map for one in found if one.course == course), None)
        if content is None:
            abort(404)
        return _file(content, "course.geojson")


def _confirmed(holes: list[GuessedHoleRow]) -> dict[int, HoleAsConfirmed]:
    """Read what somebody said of each hole."""
    every = request.form.get("do") == "all"
    said = {}
    for hole in holes:
        if every or request.form.get(f"right-{hole.number}"):
            said[hole.number] = HoleAsConfirmed(
                _whole(f"number-{hole.number}", 1, 36) or hole.number,
                _whole(f"par-{hole.number}", 3, 7) or hole.par,
                _whole(f"index-{hole.number}", 1, 36) or hole.stroke_index,
            )
    return said


def _whole(field: str, low: int, high: int) -> int | None:
    text = request.form.get(field, "").strip()
    if not text:
        return None
    if not re.fullmatch(r"\d{1,2}", text, re.ASCII) or not low <= int(text) <= high:
        kind, hole = field.split("-")
        what = f"{kind} of hole {hole} is {text[:20]!r}"
        raise CourseError(what, None, f"Give a whole number from {low} to {high}")
    return int(text)


def _page(settings: WebSettings, number: int, lines: list[str]) -> str:
    with library_of_round(settings) as connection:
        row = round_row(connection, number)
        holes, _ = guessed_holes(connection, number)
        drawn = drawn_meanwhile(connection, number)
        units = read_bag_bytes(materials_of(connection, number).bag).units
    return render_template(
        "course_guessed.html",
        number=number,
        player=row["player"],
        when=f"{local_time(row['start_time'], row['time_zone']):%Y-%m-%d %H:%M}",
        holes=holes,
        drawn=None if drawn is None else drawn.files.name,
        yards=units == "yd",
        lines=lines,
        given=request.form,
    )


def _file(content: bytes, name: str) -> Response:
    """Hand over a file under a name of ours, never shown as a page."""
    answer = Response(content, mimetype="application/geo+json")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
