"""What the plan would have played next from where each shot finished."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from geo.frame import LocalFrame
from geo.line import along_across
from geo.units import YARD_M
from trackgolf.bag import Bag
from trackgolf.club_names import parse_club_name
from trackgolf.course import Course, Hole
from trackgolf.errors import InputError
from trackgolf.personal_par import personal_pars
from trackgolf.plan import PlanSettings
from trackgolf.plan_ground import PlanGround, plan_frame, plan_grounds
from trackgolf.plan_rules import PlanRules
from trackgolf.plan_search import Step, find_steps

__all__ = ["ONWARD_COLUMNS", "OnwardSettings", "onward_shots"]

ONWARD_COLUMNS = ("hole", "shot", "visit", "club", "role", "distance_m", "leave_m")


@dataclass(frozen=True, slots=True)
class OnwardSettings:
    """
    What is planned anew, and how finely.

    Attributes
    ----------
    spacing_m : float
        Distance between the stations a shot may be planned to [m]; besides them there is one at each preferred
        distance. Common practice, no source: 2 yd, finer than anyone aims.
    nearest_m : float
        From nearer to the hole than this there is nothing to plan [m]. Common practice, no source: 30 yd.
    most_shots : int
        A hole that takes more from there is not planned.
    plan : PlanSettings
        What the planner goes by.
    """

    spacing_m: float = 2 * YARD_M
    nearest_m: float = 30 * YARD_M
    most_shots: int = 8
    plan: PlanSettings = field(default_factory=PlanSettings)


def onward_shots(
    shots: pd.DataFrame, course: Course, bag: Bag, settings: OnwardSettings = OnwardSettings()
) -> pd.DataFrame:
    """
    Plan on from where each shot of a round finished.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots of a round with positions, as `trackgolf.shots` makes them.
    course : Course
        The course.
    bag : Bag
        The clubs and preferred distances of the player.
    settings : OnwardSettings, optional
        What is planned, and how finely.

    Returns
    -------
    pandas.DataFrame
        Columns `ONWARD_COLUMNS`: for a shot of a hole the club, the role
        (``layup`` or ``approach``), the distance and what it leaves [m] of the
        shot that the planner would play next. No row where the finish was not
        seen, on or near the green, and where no way was found.

    Notes
    -----
    The shots that personal par still allows are the most it takes, else as few
    as will do; strokes played count, penalties too. The ball is taken to lie
    well, and not on a tee.
    """
    known = shots[shots["leave_m"].astype(float).ge(settings.nearest_m) & (shots["end_lie"] != "green")]
    frame = plan_frame(course)
    if known.empty or frame is None or not bag.clubs:
        return pd.DataFrame(columns=list(ONWARD_COLUMNS))
    try:
        pars = personal_pars(
            course.holes, target_score=bag.target_score, playing_handicap=bag.playing_handicap
        )
    except InputError:
        return pd.DataFrame(columns=list(ONWARD_COLUMNS))
    regulation = dict(zip(pars["hole"], pars["regulation_shots"], strict=True))
    go = settings.plan
    rules = PlanRules(go.margin_m, go.corner_m, go.shortest_layup_m, go.full_share, go.prices)
    played = replace(course, holes=tuple(h for h in course.holes if h.number in set(known["hole"])))
    leaves_m = [approach.distance_m for approach in bag.approaches]
    corridors_m = (go.water_corridor_m, go.bunker_corridor_m)
    grounds = plan_grounds(played, frame, settings.spacing_m, leaves_m, corridors_m)
    holes = {hole.number: hole for hole in played.holes}
    off_the_ground = _without_driver(bag)
    known = known.assign(strokes=shots.groupby("visit")["penalty"].cumsum() + shots["shot"])
    rows = []
    for shot in known.to_dict("records"):
        hole = holes.get(int(shot["hole"]))
        if hole is None or hole.line is None:
            continue
        ground = _from_there(grounds[hole.number], hole, frame, shot)
        step = _first_step(
            ground, off_the_ground, int(regulation[hole.number]) - int(shot["strokes"]), rules, settings
        )
        if step is not None:
            key = {name: int(shot[name]) for name in ("hole", "shot", "visit")}
            rows.append(key | _row(ground, step))
    return pd.DataFrame(rows, columns=list(ONWARD_COLUMNS))


def _without_driver(bag: Bag) -> Bag:
    """The bag for balls that lie on the ground; common practice, no source."""

    def teed(name: str) -> bool:
        said = parse_club_name(name)
        return said is not None and said.kind == "driver"

    clubs = tuple(club for club in bag.clubs if not teed(club.name))
    if not clubs:
        return bag
    names = {club.name for club in clubs}
    return replace(
        bag,
        clubs=clubs,
        approaches=tuple(approach for approach in bag.approaches if approach.club in names),
        part_swings=tuple(swing for swing in bag.part_swings if swing.club in names),
    )


def _from_there(ground: PlanGround, hole: Hole, frame: LocalFrame, shot: Mapping[Any, Any]) -> PlanGround:
    """The ground of a hole as it lies ahead of a ball, which takes the place of the tee."""
    ball = np.array(frame.to_metres(shot["end_lon_deg"], shot["end_lat_deg"]), dtype=float)
    line_m = np.asarray(frame.geometry_to_metres(hole.line).coords)[:, :2]
    along_m = min(float(along_across(line_m, *ball)[0]), ground.hole_along_m)
    ahead = ground.along_m > along_m + 1.0
    return replace(
        ground,
        along_m=np.concatenate([[along_m], ground.along_m[ahead]]),
        xy_m=np.vstack([ball, ground.xy_m[ahead]]),
        trouble_m=np.concatenate([[np.inf], ground.trouble_m[ahead]]),
    )


def _first_step(
    ground: PlanGround, bag: Bag, left: int, rules: PlanRules, settings: OnwardSettings
) -> Step | None:
    for allowed in range(max(left, 1), settings.most_shots + 1):
        steps = find_steps(ground, bag, allowed, rules)
        if steps is not None:
            return steps[0]
    return None


def _row(ground: PlanGround, step: Step) -> dict[str, Any]:
    target = ground.hole_xy_m if step.target is None else ground.xy_m[step.target]
    return {
        "club": step.club.name,
        "role": "approach" if step.target is None else "layup",
        "distance_m": float(np.hypot(*(target - ground.xy_m[0]))),
        "leave_m": float(np.hypot(*(ground.hole_xy_m - target))),
    }
