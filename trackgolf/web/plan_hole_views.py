"""A hole of a kept plan: its targets on a map, the odds when one is moved, and the changed plan kept."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import shapely
from flask import Flask, Response, abort, jsonify, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from trackgolf.library.shelf import keep_plan
from trackgolf.plan_edit import with_hole
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.moved import ReadyHole, plan_moved
from trackgolf.tables_course import course_shapes
from trackgolf.web.common import opened
from trackgolf.web.plan_data import KeptPlan, kept_at, load_plan, wanted_of
from trackgolf.web.plan_making import HolesAtHand
from trackgolf.web.plan_shown import hole_shown
from trackgolf.web.plan_views import PLAN, plans_changed
from trackgolf.web.script_views import with_scripts
from trackgolf.web.settings import WebSettings

__all__ = ["add_plan_hole_views"]

_HOLE = f"{PLAN}/holes/<int(min=1,max=36):hole>"
# Shapes farther from the line of play than this are not drawn, and none is drawn finer than this [m].
_NEAR_M, _FINE_M = 120.0, 0.3
_DECIMALS = 6
# What comes later lies on top; what is not named here lies below all.
_ORDER = (
    "course", "rough", "fairway", "cartpath", "water", "water_yellow", "water_red", "bunker", "tee", "green",
)  # fmt: skip


def add_plan_hole_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the pages of the holes of plans to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library.
    """
    at_hand = HolesAtHand()

    def take(number: int, hole: int) -> tuple[KeptPlan, ReadyHole]:
        with opened(settings) as connection:
            plan = load_plan(connection, number)
        if hole not in plan.tasks:
            abort(404)
        return plan, at_hand.take((*plan.key, hole), plan.tasks[hole])

    def keep(plan: KeptPlan, ready: ReadyHole, kept: tuple[Kept, ...]) -> int:
        moved = plan_moved(ready, kept)
        invented = plan.course.invented or plan.bag.invented
        site = ready.task.site
        text = with_hole(plan.content, site, moved.strokes, moved.odds, wanted=len(kept), invented=invented)
        with opened(settings) as connection:
            # A version made of one that is set for the next round takes its place.
            number = keep_plan(
                connection,
                plan.version.player,
                plan.version.course,
                text.encode("utf-8"),
                seen=request.form.get("seen", ""),
                set_next=plan.version.waits,
            )
        if not number:
            raise plans_changed()
        return number

    @app.get(_HOLE)
    def plan_hole_page(number: int, hole: int) -> Response:
        plan, ready = take(number, hole)
        said = ["Kept as a version of its own."] if "done" in request.args else []
        return _page(plan, ready, kept_at(plan, hole, ready), said=said)

    @app.post(f"{_HOLE}/try")
    def plan_hole_try(number: int, hole: int) -> Response:
        plan, ready = take(number, hole)
        if request.accept_mimetypes.best == "application/json":
            kept = wanted_of(request.form, ready, plan.bag) if request.form.get("wanted") else None
            kept = kept_at(plan, hole, ready) if kept is None else kept
            return jsonify(hole_shown(plan, ready, kept))
        return _page(plan, ready, wanted_of(request.form, ready, plan.bag), tried=True)

    @app.post(f"{_HOLE}/keep")
    def plan_hole_keep(number: int, hole: int) -> AnyResponse:
        plan, ready = take(number, hole)
        kept = () if request.form.get("do") == "planner" else wanted_of(request.form, ready, plan.bag)
        return redirect(url_for("plan_hole_page", number=keep(plan, ready, kept), hole=hole, done=1), 303)

    @app.get(f"{_HOLE}/ground")
    def plan_hole_ground(number: int, hole: int) -> Response:
        plan, ready = take(number, hole)
        return jsonify(_ground(plan, ready))


def _page(
    plan: KeptPlan,
    ready: ReadyHole,
    kept: tuple[Kept, ...],
    *,
    said: list[str] | None = None,
    tried: bool = False,
) -> Response:
    hole, numbers = ready.task.site.number, sorted(plan.tasks)
    at = numbers.index(hole)
    shown = hole_shown(plan, ready, kept)
    return with_scripts(
        "plan_hole.html",
        plan=plan,
        version=plan.version,
        hole=hole,
        goal=ready.task.goal,
        invented=plan.course.invented or plan.bag.invented,
        credit=plan.course.credit or "",
        before=numbers[at - 1] if at else None,
        after=numbers[at + 1] if at + 1 < len(numbers) else None,
        placed=ready.task.site.placed,
        clubs=[club.name for club in plan.bag.clubs],
        units=plan.bag.units,
        shown=shown,
        # The script begins with what the page shows; as an attribute it is text, whatever it holds.
        state=json.dumps(shown),
        wanted=[_wanted(shown["shots"][: count + 1]) for count in range(len(shown["shots"]))],
        mine=_wanted(shown["shots"][: len(kept)]),
        tried=tried,
        said=said or [],
        seen=plan.seen,
    )


def _wanted(shots: list[dict[str, Any]]) -> str:
    """Write shots as a form carries them."""
    return json.dumps(
        [
            {"club": shot["club"], "lon": shot["target"][0], "lat": shot["target"][1]}
            for shot in shots
            if shot["target"] is not None
        ]
    )


def _ground(plan: KeptPlan, ready: ReadyHole) -> dict[str, Any]:
    """Give the course around a hole for the map, in numbers and the kinds of shapes."""
    site = ready.task.site
    if site.frame is None or not site.placed:
        abort(404)
    frame = site.frame
    shapes = course_shapes(plan.course)
    line = shapely.LineString(np.column_stack(site.to_course(*site.line_m.T)))
    kinds = [str(kind) for kind in shapes["kind"]]
    rank = [_ORDER.index(kind) if kind in _ORDER else -1 for kind in kinds]
    metres = frame.geometry_to_metres(shapes.geometry.to_numpy())
    drawn = []
    for row in np.argsort(rank, kind="stable").tolist():
        shape = metres[row]
        if shape is None or shape.is_empty or shapely.distance(shape, line) > _NEAR_M:
            continue
        if shapely.get_dimensions(shape) == 0:
            continue
        # The course itself is as large as all holes; the map needs what lies here.
        near = shapely.intersection(shapely.make_valid(shape), line.buffer(2 * _NEAR_M))
        fine = shapely.simplify(near, _FINE_M)
        if not fine.is_empty:
            kind = kinds[row] if rank[row] >= 0 or kinds[row] == "out_of_bounds" else "other"
            drawn.append({"kind": kind, "geometry": shapely.geometry.mapping(_degrees(fine, frame))})
    pin = site.to_degrees(site.pin_m[:1], site.pin_m[1:])
    return {
        "shapes": drawn,
        "line": shapely.get_coordinates(_degrees(line, frame)).tolist(),
        "pin": [round(float(pin[0][0]), 7), round(float(pin[1][0]), 7)],
    }


def _degrees(shape: Any, frame: Any) -> Any:
    def turned(xy: Any) -> Any:
        lon, lat = frame.to_degrees(xy[:, 0], xy[:, 1])
        # No line may cross the map where longitudes begin anew.
        lon = frame.lon_deg + (np.asarray(lon) - frame.lon_deg + 180.0) % 360.0 - 180.0
        return np.round(np.column_stack([lon, lat]), _DECIMALS)

    return shapely.transform(shape, turned)
