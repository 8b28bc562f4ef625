"""Pages of what many rounds say: all players, one player, clubs with the new bag, approaches and the rest."""

from __future__ import annotations

import sqlite3
import threading
from collections import Counter, OrderedDict
from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from typing import Any

import pandas as pd
from flask import Flask, Response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from reports.evidence_page import evidence_page, evidence_words, figure_cells, set_sentence
from reports.show import whole_length
from trackgolf.bag import Bag
from trackgolf.errors import InputError
from trackgolf.learn.approaches import learn_approaches, preferred
from trackgolf.learn.bag_write import bag_text
from trackgolf.learn.carries import Carries, learn_carries
from trackgolf.learn.coach import overview_figures
from trackgolf.learn.evidence_tables import evidence_tables
from trackgolf.learn.many_rounds import ManyRounds, read_library
from trackgolf.learn.players import look_at_player, progress_sentence, work_sentence
from trackgolf.learn.replan import plan_with_both
from trackgolf.library.coaching import add_player_note, read_player_notes, remove_player_note
from trackgolf.library.find import current_bag
from trackgolf.library.materials import read_bag_bytes
from trackgolf.library.read import read_rounds
from trackgolf.library.rebuild import local_time
from trackgolf.library.shelf import PlanVersion, keep_bag, list_plans, player_numbers, read_bags, round_states
from trackgolf.web.common import (
    attached,
    chosen_course,
    day_of,
    known_courses_and_tees,
    opened,
    player_of,
    report_answer,
    whole_number,
)
from trackgolf.web.forms import ConflictError
from trackgolf.web.settings import WebSettings

__all__ = ["PLAYER", "add_evidence_views"]

PLAYER = "/players/<int(min=1,max=999999999):number>"
"""Where the pages of a player begin."""
_MOST_GLANCES = 500


def add_evidence_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the pages of players to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library.
    """
    _add_players(app, settings)
    _add_notes(app, settings)
    _add_clubs(app, settings)


class _Glances:
    """What was said of players, as long as their rounds are the same: a coach has many."""

    def __init__(self) -> None:
        self._said: OrderedDict[tuple[Any, ...], dict[str, Any]] = OrderedDict()
        self._lock = threading.Lock()

    def take(self, key: tuple[Any, ...], look: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        with self._lock:
            said = self._said.get(key)
        if said is None:
            said = look()
            with self._lock:
                self._said[key] = said
                while len(self._said) > _MOST_GLANCES:
                    self._said.popitem(last=False)
        return said


def _add_players(app: Flask, settings: WebSettings) -> None:
    glances = _Glances()

    @app.get("/players")
    def players() -> str:
        day = day_of(request.args)
        found: list[dict[str, Any]] = []
        if settings.library.exists():
            with opened(settings) as connection:
                noted = Counter(note.player for note in read_player_notes(connection))
                states = round_states(connection)
                found = [
                    {"number": number, "name": name, "notes": noted[name]}
                    | glances.take(
                        (number, name, day, states.get(number)), partial(_read_glance, connection, name, day)
                    )
                    for number, name in player_numbers(connection).items()
                ]
        # By name, never ranked: a few rounds do not bear that.
        found.sort(key=lambda one: str(one["name"]).casefold())
        return render_template("players.html", players=found, since=_said(day))

    @app.get(PLAYER)
    def one_player(number: int) -> str:
        day = day_of(request.args)
        with opened(settings) as connection:
            name = player_of(connection, number)
            state = round_states(connection).get(number)
            glance = glances.take((number, name, day, state), partial(_read_glance, connection, name, day))
            rounds = read_rounds(connection, player=name, since=day).to_dict("records")
            bag = read_bags(connection, number)
            notes = read_player_notes(connection, name)
            plans = list_plans(connection, number)
        return render_template(
            "player.html",
            player={"number": number, "name": name} | glance,
            rounds=[_round_line(row) for row in reversed(rounds)],
            bag=bag[0] if bag else None,
            invented=bool(bag) and read_bag_bytes(bag[0].content).invented,
            notes=notes,
            plans=_current(plans),
            since=_said(day),
        )

    @app.get(f"{PLAYER}/evidence")
    def evidence(number: int) -> Response:
        with opened(settings) as connection:
            _, rounds, bag = _learned_from(connection, number)
            course = chosen_course(connection, request.args)
        learned = learn_carries(rounds.shots, bag)
        replan = None if course is None else plan_with_both(course, bag, _new_bag(rounds, bag, learned))
        back = render_template("back_player.html", number=number, since=_said(day_of(request.args)))
        return report_answer(evidence_page(evidence_tables(rounds, bag, learned, replan=replan)), back)


def _add_notes(app: Flask, settings: WebSettings) -> None:
    @app.post(f"{PLAYER}/notes")
    def add_note(number: int) -> AnyResponse:
        with opened(settings) as connection:
            add_player_note(connection, player_of(connection, number), request.form.get("text", ""))
        return redirect(url_for("one_player", number=number, _anchor="notes-h"), 303)

    @app.post(f"{PLAYER}/notes/remove")
    def remove_note(number: int) -> AnyResponse:
        note = whole_number(request.form, "note") or 0
        with opened(settings) as connection:
            remove_player_note(connection, player_of(connection, number), note)
        return redirect(url_for("one_player", number=number, _anchor="notes-h"), 303)


def _add_clubs(app: Flask, settings: WebSettings) -> None:
    @app.get(f"{PLAYER}/carries")
    def carries(number: int) -> str:
        with opened(settings) as connection:
            name, rounds, bag = _learned_from(connection, number)
            courses = known_courses_and_tees(connection)
            course = chosen_course(connection, request.args)
            seen = read_bags(connection, number)[0]
        learned = learn_carries(rounds.shots, bag)
        replan = None if course is None else plan_with_both(course, bag, _new_bag(rounds, bag, learned))
        return render_template(
            "carries.html",
            number=number,
            name=name,
            units=bag.units,
            rounds=learned.rounds,
            invented=bag.invented,
            clubs=[_club(row, bag.units) for row in learned.clubs.to_dict("records")],
            account=learned.account,
            notes=learned.notes,
            courses=courses,
            course=whole_number(request.args, "course"),
            tee=request.args.get("tee", "").strip(),
            replan=None if replan is None else _changes(replan.to_dict("records"), bag.units),
            bag=seen,
            since=_said(day_of(request.args)),
        )

    @app.get(f"{PLAYER}/new-bag.toml")
    def new_bag(number: int) -> Response:
        with opened(settings) as connection:
            _, rounds, bag = _learned_from(connection, number)
        text = _new_bag(rounds, bag, learn_carries(rounds.shots, bag))
        return attached(text, "new-bag.toml", "application/toml")

    @app.post(f"{PLAYER}/bag")
    def take_bag(number: int) -> AnyResponse:
        day = day_of(request.form)
        seen = whole_number(request.form, "bag") or 0
        with opened(settings) as connection:
            _, rounds, bag = _learned_from(connection, number, request.form)
            text = _new_bag(rounds, bag, learn_carries(rounds.shots, bag))
            if not keep_bag(connection, number, text.encode("utf-8"), seen=seen):
                raise ConflictError(
                    "the player has another bag since this page was shown; nothing was changed",
                    None,
                    "Look at the clubs as they are now, and do it again if it is still wanted",
                )
        # What is None is left out of an address.
        since = None if day is None else day.isoformat()
        return redirect(url_for("one_player", number=number, bag=1, since=since), 303)


def _learned_from(
    connection: sqlite3.Connection, number: int, fields: Any = None
) -> tuple[str, ManyRounds, Bag]:
    """Read the rounds and the bag that are learned from."""
    name = player_of(connection, number)
    rounds = read_library(connection, name, day_of(request.args if fields is None else fields))
    if rounds.shots.empty:
        raise InputError("there are no rounds to learn from", None, "Add a round, or choose an earlier day")
    return name, rounds, current_bag(connection, name)


def _new_bag(rounds: ManyRounds, bag: Bag, learned: Carries) -> str:
    distances = dict(zip(learned.clubs["club"], learned.clubs["distance_m"], strict=True))
    return bag_text(bag, learned, preferred(bag, learn_approaches(rounds, bag), distances))


def _read_glance(connection: sqlite3.Connection, name: str, day: date | None) -> dict[str, Any]:
    return _glance(name, read_library(connection, name, day))


def _glance(name: str, rounds: ManyRounds) -> dict[str, Any]:
    """What is said of a player at a glance; nothing of one without rounds."""
    if rounds.holes.empty:
        return {"rounds": 0, "last_day": "", "figures": [], "progress": "", "work": ""}
    one = look_at_player(name, rounds)
    return {
        "rounds": one.rounds,
        "last_day": one.last_day,
        "figures": figure_cells(overview_figures(one), evidence_words("m")),
        "progress": set_sentence(progress_sentence(one.progress)),
        "work": set_sentence(work_sentence(one)),
    }


def _current(plans: Sequence[PlanVersion]) -> list[PlanVersion]:
    """Of each course the plan that the next round there is compared with."""
    found: dict[int, PlanVersion] = {}
    for plan in plans:
        if plan.course not in found or (plan.waits and not found[plan.course].waits):
            found[plan.course] = plan
    return list(found.values())


def _club(row: dict[Any, Any], units: str) -> dict[str, Any]:
    def whole(name: str) -> str:
        return whole_length(row[name], units)

    return {
        "name": row["club"],
        "good": whole("distance_m"),
        "range": f"{whole('distance_80_low_m')}–{whole('distance_80_high_m')}",
        "bag": whole("stated_distance_m"),
        "plan": whole("plan_m"),
        "fails": f"{100 * row['mishit_share']:.0f}\u00a0%",
        "fails_range": f"{100 * row['mishit_80_low']:.0f} to {100 * row['mishit_80_high']:.0f}",
        "shots": int(row["shots"]),
    }


def _changes(rows: list[dict[Any, Any]], units: str) -> list[dict[str, Any]]:
    """One line a hole whose plan changes."""
    holes: dict[int, dict[str, Any]] = {}
    for row in rows:
        line = holes.setdefault(int(row["hole"]), {"hole": int(row["hole"]), "before": [], "after": []})
        for side in ("before", "after"):
            if row[f"club_{side}"]:
                line[side].append(f"{row[f'club_{side}']} {whole_length(row[f'distance_{side}_m'], units)}")
    return [line for line in holes.values() if line["before"] != line["after"]]


def _round_line(row: dict[Any, Any]) -> dict[str, Any]:
    start = local_time(row["start_time"], row["time_zone"])
    return {
        "round": int(row["round"]),
        "when": f"{start:%Y-%m-%d %H:%M}",
        "course": str(row["course"]),
        "holes": int(row["holes"]),
        "strokes": _known(row["strokes"]),
        "putts": _known(row["putts"]),
    }


def _known(value: Any) -> int | None:
    return None if pd.isna(value) else int(value)


def _said(day: date | None) -> str:
    return "" if day is None else day.isoformat()
