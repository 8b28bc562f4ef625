"""Pages of plans: those there are, a new one made in the background, one that is kept."""

from __future__ import annotations

import sqlite3
from collections.abc import Hashable
from typing import Any

from flask import Flask, Response, abort, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from reports.plan_pages import plan_book
from reports.show import whole_length
from trackgolf.errors import InputError
from trackgolf.library.find import known_courses
from trackgolf.library.packing import digest_of
from trackgolf.library.read import read_rounds
from trackgolf.library.shelf import (
    PlanVersion,
    keep_plan,
    list_plans,
    plan_content,
    plans_mark,
    player_numbers,
    read_bags,
    set_next_plan,
)
from trackgolf.plan_book import plan_book_tables
from trackgolf.plan_edit import MadeWith, hole_odds_of, plan_to_keep
from trackgolf.plan_odds import prices_text, thumb_text, totals
from trackgolf.plan_show import PLAN_CAUTIONS, plan_holes
from trackgolf.plan_text import plan_gpx_text
from trackgolf.web.common import attached, known_courses_and_tees, opened, report_answer, whole_number
from trackgolf.web.forms import ConflictError
from trackgolf.web.plan_data import KeptPlan, load_plan, round_tasks
from trackgolf.web.plan_making import Making, PlanMaker
from trackgolf.web.settings import WebSettings

__all__ = ["PLAN", "add_plan_views", "plans_changed"]

PLAN = "/plans/<int(min=1,max=999999999):number>"
"""Where the pages of a kept plan begin."""

# A page that waits is loaded again after so long [s].
_LOOK_AGAIN_S = 2


def add_plan_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the pages of plans to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library.
    """
    maker = PlanMaker()
    _add_list(app, settings)
    _add_new(app, settings, maker)
    _add_kept(app, settings)
    _add_book(app, settings, maker)


def plans_changed() -> ConflictError:
    """
    Say that somebody else kept or set a plan meanwhile.

    Returns
    -------
    ConflictError
        To raise.
    """
    return ConflictError(
        "the plans of this player for this course were changed elsewhere since this page was shown; nothing was kept",
        None,
        "Look at them as they are now, and do it again if it is still wanted",
    )


def _add_list(app: Flask, settings: WebSettings) -> None:
    @app.get("/plans")
    def plans() -> str:
        found: list[PlanVersion] = []
        courses: list[tuple[int, str, tuple[str, ...]]] = []
        bags: list[dict[str, Any]] = []
        last: dict[str, Any] = {"player": whole_number(request.args, "player"), "course": None, "tee": ""}
        if settings.library.exists():
            with opened(settings) as connection:
                found = list_plans(connection)
                courses = known_courses_and_tees(connection)
                for player, name in player_numbers(connection).items():
                    versions = [
                        {"id": bag.id, "version": bag.version, "now": place == 0}
                        for place, bag in enumerate(read_bags(connection, player))
                    ]
                    bags.append({"player": player, "name": name, "versions": versions})
                last |= _last_played(connection, last["player"])
        return render_template("plans.html", groups=_groups(found), courses=courses, bags=bags, last=last)


def _add_new(app: Flask, settings: WebSettings, maker: PlanMaker) -> None:
    @app.post("/plans")
    def make_plan() -> AnyResponse:
        asked = _asked(settings, request.form)
        course, bag, tasks = round_tasks(*asked["key"])
        maker.ask(asked["key"], course, bag, tasks)
        return redirect(url_for("made_plan", **asked["address"]), 303)

    @app.get("/plans/made")
    def made_plan() -> str | Response:
        asked = _asked(settings, request.args)
        making = maker.look(asked["key"])
        if making is None or making.plans is None:
            return _waiting(making, "make_plan", asked["address"], asked["player_name"], asked["course_name"])
        course, bag, plans = making.course, making.bag, making.plans
        return render_template(
            "made.html",
            **asked,
            invented=course.invented or bag.invented,
            units=bag.units,
            rows=_hole_rows(making),
            totals=[(name, totals(plans, name)) for name in plans.plans],
            sentences=[text for text in (thumb_text(plans), prices_text(plans)) if text],
            notes=[*course.warnings, *bag.warnings, *plans.plans["on plan"].notes],
            cautions=PLAN_CAUTIONS,
        )

    @app.get("/plans/made/book")
    def made_book() -> Response:
        asked = _asked(settings, request.args)
        making = maker.look(asked["key"])
        if making is None or making.plans is None:
            return redirect(url_for("made_plan", **asked["address"]), 303)  # type: ignore[return-value]
        back = render_template("back_plan.html", href=url_for("made_plan", **asked["address"]))
        return report_answer(_book(making), back)

    @app.post("/plans/keep")
    def keep_made() -> AnyResponse:
        asked = _asked(settings, request.form)
        making = maker.look(asked["key"])
        if making is None or making.plans is None:
            raise InputError("the plan is not at hand any more", None, "Make it again")
        plans = making.plans
        odds = {hole: one.plans["on plan"].odds for hole, one in plans.holes.items()}
        made = MadeWith(asked["address"].get("tee"), digest_of(asked["key"][2]))
        text = plan_to_keep(plans.plans["on plan"], making.course, making.bag, made, odds)
        with opened(settings) as connection:
            number = keep_plan(
                connection,
                asked["player"],
                asked["course"],
                text.encode("utf-8"),
                seen=request.form.get("seen", ""),
                set_next=bool(request.form.get("next")),
            )
        if not number:
            raise plans_changed()
        return redirect(url_for("kept_plan", number=number), 303)


def _add_kept(app: Flask, settings: WebSettings) -> None:
    @app.get(PLAN)
    def kept_plan(number: int) -> str:
        with opened(settings) as connection:
            plan = load_plan(connection, number)
            others = list_plans(connection, plan.version.player, plan.version.course)
        return render_template(
            "plan.html",
            plan=plan,
            version=plan.version,
            invented=plan.course.invented or plan.bag.invented,
            rows=_kept_rows(plan),
            others=[one for one in others if one.id != number],
            placed=any(task.site.placed for task in plan.tasks.values()),
            notes=plan.plan.notes,
            cautions=PLAN_CAUTIONS,
            seen=plan.seen,
        )

    @app.post(f"{PLAN}/next")
    def next_plan(number: int) -> AnyResponse:
        with opened(settings) as connection:
            version = next((plan for plan in list_plans(connection) if plan.id == number), None)
            if version is None:
                abort(404)
            wanted = request.form.get("do", "") != "unset"
            if not set_next_plan(connection, version, seen=request.form.get("seen", ""), wanted=wanted):
                raise plans_changed()
        return redirect(url_for("kept_plan", number=number), 303)

    @app.get(f"{PLAN}/plan.geojson")
    def plan_file(number: int) -> Response:
        with opened(settings) as connection:
            if all(plan.id != number for plan in list_plans(connection)):
                abort(404)
            content = plan_content(connection, number)
        return attached(content.decode("utf-8", "replace"), "plan.geojson", "application/geo+json")

    @app.get(f"{PLAN}/plan.gpx")
    def plan_gpx(number: int) -> Response:
        with opened(settings) as connection:
            plan = load_plan(connection, number)
        return attached(plan_gpx_text(plan.plan, plan.course, plan.bag), "plan.gpx", "application/gpx+xml")


def _add_book(app: Flask, settings: WebSettings, maker: PlanMaker) -> None:
    @app.get(f"{PLAN}/book")
    def kept_book(number: int) -> str | Response:
        plan, key = _of_book(settings, number)
        making = maker.look(key)
        if making is None or making.plans is None:
            version = plan.version
            return _waiting(
                making, "make_book", {"number": number}, version.player_name, version.course_name, "its pages"
            )
        back = render_template("back_plan.html", href=url_for("kept_plan", number=number))
        return report_answer(_book(making), back)

    @app.post(f"{PLAN}/book")
    def make_book(number: int) -> AnyResponse:
        from dataclasses import replace

        plan, key = _of_book(settings, number)
        tasks = [replace(task, kept=plan.kept.get(hole, ())) for hole, task in plan.tasks.items()]
        maker.ask(key, plan.course, plan.bag, tasks)
        return redirect(url_for("kept_book", number=number), 303)


def _of_book(settings: WebSettings, number: int) -> tuple[KeptPlan, Hashable]:
    with opened(settings) as connection:
        plan = load_plan(connection, number)
    # Without a change it is the plan that was made, and at hand from then.
    return plan, (*plan.key, plan.content) if plan.kept else plan.key


def _asked(settings: WebSettings, fields: Any) -> dict[str, Any]:
    """Read what a plan is asked for: the bag, which says whose it is, the course and the tee."""
    bag_number, course_number = whole_number(fields, "bag"), whole_number(fields, "course")
    tee = fields.get("tee", "").strip()[:80] or None
    with opened(settings) as connection:
        found = [
            (player, name, bag)
            for player, name in player_numbers(connection).items()
            for bag in read_bags(connection, player)
            if bag.id == bag_number
        ]
        courses = [known for known in known_courses(connection) if known.course == course_number]
        if not found or not courses:
            what = "course" if found else "bag"
            raise InputError(f"there is no such {what} in the library", what, "Choose one of the list")
        player, name, bag = found[0]
        mark = plans_mark(list_plans(connection, player, courses[0].course))
    files = courses[0].files
    return {
        "key": (files, tee, bag.content),
        "player": player,
        "player_name": name,
        "course": courses[0].course,
        "course_name": files.name,
        "tee": tee,
        "bag_version": bag.version,
        "seen": mark,
        "address": {"bag": bag.id, "course": courses[0].course} | ({"tee": tee} if tee else {}),
    }


def _waiting(
    making: Making | None, again: str, address: dict[str, Any], player: str, course: str, what: str = "a plan"
) -> Response:
    """Say how far a plan is; the page asks again by itself, by a header, for it has no script."""
    page = render_template(
        "making.html", making=making, again=again, address=address, player=player, course=course, what=what
    )
    answer = make_response(page)
    if making is not None and making.under_way:
        answer.headers["Refresh"] = str(_LOOK_AGAIN_S)
    return answer


def _book(making: Making) -> str:
    if "book" not in making.pages and making.plans is not None:
        making.pages["book"] = plan_book(plan_book_tables(making.plans, making.course, making.bag))
    return making.pages["book"]


def _hole_rows(making: Making) -> list[dict[str, Any]]:
    plans, units = making.plans, making.bag.units
    if plans is None:
        return []
    shots = plans.plans["on plan"].shots
    rows = []
    for hole in plan_holes(making.course, making.bag).to_dict("records"):
        number = int(hole["hole"])
        odds = plans.holes[number].plans["on plan"].odds
        mine = shots[shots["hole"] == number].to_dict("records")
        rows.append(
            _row(hole, mine, units)
            | {
                "strokes": f"{odds.expected_strokes:.2f}",
                "in_time": f"{odds.regulation_probability:.0%}",
                "trouble": f"{odds.penalty_probability:.0%}",
            }
        )
    return rows


def _kept_rows(plan: KeptPlan) -> list[dict[str, Any]]:
    odds = hole_odds_of(plan.document)
    rows = []
    for hole in plan_holes(plan.course, plan.bag).to_dict("records"):
        number = int(hole["hole"])
        mine = plan.plan.shots[plan.plan.shots["hole"] == number].to_dict("records")
        said = odds.get(number)
        rows.append(
            _row(hole, mine, plan.bag.units)
            | {
                "strokes": "–" if said is None else f"{said['expected_strokes']:.2f}",
                "in_time": "–" if said is None else f"{said['regulation_probability']:.0%}",
                "trouble": "–" if said is None else f"{said['penalty_probability']:.0%}",
                "changed": bool(plan.kept.get(number)),
            }
        )
    return rows


def _row(hole: dict[Any, Any], shots: list[dict[Any, Any]], units: str) -> dict[str, Any]:
    return {
        "hole": int(hole["hole"]),
        "par": int(hole["par"]),
        "length": whole_length(float(hole["length_m"]), units),
        "personal": int(hole["personal_par"]),
        "allowed": int(hole["regulation_shots"]),
        "shots": [f"{shot['club']} {whole_length(shot['distance_m'], units)}" for shot in shots],
    }


def _last_played(connection: sqlite3.Connection, player: int | None) -> dict[str, Any]:
    """Whose round was the last, where and from which tee: most plans are made for the same again."""
    numbers = player_numbers(connection)
    if player is not None and player not in numbers:
        return {"player": None}
    rounds = read_rounds(connection, player=None if player is None else numbers[player])
    if rounds.empty:
        return {}
    row = rounds.iloc[-1]
    courses = {known.files.name: known.course for known in known_courses(connection)}
    whose = next((number for number, name in numbers.items() if name == row["player"]), None)
    tee = row["tee"]
    return {
        "player": whose,
        "course": courses.get(str(row["course"])),
        "tee": tee if isinstance(tee, str) else "",
    }


def _groups(plans: list[PlanVersion]) -> list[dict[str, Any]]:
    """Put plans of one player and course together, the one that counts first."""
    groups: dict[tuple[int, int], dict[str, Any]] = {}
    for plan in plans:
        key = (plan.player, plan.course)
        group = groups.setdefault(
            key, {"player": plan.player_name, "course": plan.course_name, "number": plan.player, "plans": []}
        )
        group["plans"].append(plan)
    for group in groups.values():
        group["plans"].sort(key=lambda plan: not plan.waits)
    return list(groups.values())
