"""A first plan of a round: from green to tee, to distances the player likes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from geo.frame import LocalFrame
from geo.geodesic import distance_bearing
from geo.units import YARD_M
from trackgolf.bag import Bag
from trackgolf.course import Course, Hole
from trackgolf.errors import BagError, CourseError
from trackgolf.personal_par import personal_pars
from trackgolf.plan_ground import PlanGround, plan_frame, plan_grounds
from trackgolf.plan_rules import PlanPrices, PlanRules
from trackgolf.plan_search import Step, find_steps

__all__ = [
    "PLAN_COLUMNS",
    "ROLES",
    "Plan",
    "PlanSettings",
    "check_lengths",
    "plan_round",
    "plan_rules",
    "tolerance_m",
]

PLAN_COLUMNS = (
    "hole",
    "shot",
    "club",
    "role",
    "distance_m",
    "leave_m",
    "tolerance_m",
    "start_lon_deg",
    "start_lat_deg",
    "target_lon_deg",
    "target_lat_deg",
)
ROLES = ("tee", "layup", "approach")

# The files of a plan know no smaller tolerance: 10 yd.
_TOLERANCE_M = 10 * YARD_M
# No hole takes more shots than this to reach; one that does has a wrong length.
_MOST_SHOTS = 20
_LONGEST_HOLE_M = 1_200.0


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """
    What the first plan goes by.

    Attributes
    ----------
    margin_m : float
        Room that a target keeps from water and bunkers, at least; the spread
        of the club where that is more [m]. Default 10 yd, the tolerance of a
        layup.
    water_corridor_m, bunker_corridor_m : float
        How near the line of play water and a bunker lie across it [m]. Common
        practice, no source: 5 and 10 yd, a narrow landing area.
    corner_m : float
        How far a shot may cut inside a bend [m]. Common practice, no source:
        25 yd, about half a fairway with its rough.
    shortest_layup_m : float
        A layup shorter than this is hardly worth a stroke, so a hole that one
        swing reaches is not split for it [m]. Common practice, no source: 50 yd.
    full_share : float
        A full swing goes down to this share of carry + roll. Common practice,
        no source: gripping down takes off up to 15 %.
    prices : PlanPrices
        Which blemish of a plan is worse than which.
    """

    margin_m: float = 10 * YARD_M
    water_corridor_m: float = 5 * YARD_M
    bunker_corridor_m: float = 10 * YARD_M
    corner_m: float = 25 * YARD_M
    shortest_layup_m: float = 50 * YARD_M
    full_share: float = 0.85
    prices: PlanPrices = field(default_factory=PlanPrices)


@dataclass(frozen=True)
class Plan:
    """
    The planned shots of a round.

    Attributes
    ----------
    shots : pandas.DataFrame
        A row a shot, in order: ``hole``, ``shot`` (from 1 within the hole),
        ``club``, ``role`` (``tee``, ``layup``, ``approach``; a hole of one
        shot is an approach), ``distance_m`` (straight, carry + roll),
        ``leave_m`` (from the target to the hole, 0 for an approach),
        ``tolerance_m``, and where it is played from and to in
        ``start_lon_deg``, ``start_lat_deg``, ``target_lon_deg``,
        ``target_lat_deg`` (NaN without positions).
    notes : tuple of str
        What the player should know about it, one line each.
    name : str
        How it was made.
    """

    shots: pd.DataFrame
    notes: tuple[str, ...] = ()
    name: str = "green to tee"


def plan_round(course: Course, bag: Bag, settings: PlanSettings | None = None) -> Plan:
    """
    Plan a round from green to tee.

    For each hole the shots that personal par leaves to reach the green are
    the most that the plan uses. The last of them is the best preferred
    approach for which there is a way; the shots before it set it up, as few
    as will do, with clubs no longer than needed, full swings where they fit
    and the remainder taken off the tee shot.

    Parameters
    ----------
    course : Course
        The course, with or without positions.
    bag : Bag
        The player's clubs, preferred distances and target.
    settings : PlanSettings, optional
        What to go by.

    Returns
    -------
    Plan
        Its shots, and notes on holes that are not as one would like.

    Raises
    ------
    BagError
        If the bag has neither target score nor playing handicap, or no clubs.
    CourseError
        If stroke indexes or lengths are missing.

    Notes
    -----
    - A hole is planned in one shot where personal par asks for it, or where a
      preferred approach would need a layup of less than
      `PlanSettings.shortest_layup_m` before it.
    - Clubs to avoid are used only where nothing else reaches in time.
    - Water across the line of play is laid up short of, or carried, with
      room; then bunkers likewise, then places beside water or out of bounds.
    - A hole out of reach in the allowed shots gets the fewest more, and a note.
    """
    settings = settings or PlanSettings()
    if not bag.clubs:
        raise BagError("there are no clubs to plan with", None, "Give at least one [[club]] in the bag")
    pars = personal_pars(course.holes, target_score=bag.target_score, playing_handicap=bag.playing_handicap)
    allowed_shots = {
        int(hole): int(shots) for hole, shots in zip(pars["hole"], pars["regulation_shots"], strict=True)
    }
    check_lengths(course)
    rules = plan_rules(settings)
    unit_m = YARD_M if bag.units == "yd" else 1.0
    frame = plan_frame(course)
    grounds = plan_grounds(
        course,
        frame,
        unit_m,
        [approach.distance_m for approach in bag.approaches],
        (settings.water_corridor_m, settings.bunker_corridor_m),
    )

    rows: list[dict[str, object]] = []
    notes: list[str] = []
    for hole in course.holes:
        ground = grounds[hole.number]
        allowed = allowed_shots[hole.number]
        steps = find_steps(ground, bag, allowed, rules)
        more = allowed
        while steps is None and more < _MOST_SHOTS:
            more += 1
            steps = find_steps(ground, bag, more, rules)
        if steps is None:
            raise CourseError(
                f"hole {hole.number} is not reached in {_MOST_SHOTS} shots with this bag",
                course.name or None,
                "Check the length of the hole and the units of the bag",
            )
        rows += _rows(hole, ground, steps, frame)
        notes += _notes(hole, ground, steps, allowed, bag)
    return Plan(pd.DataFrame(rows, columns=list(PLAN_COLUMNS)), tuple(notes))


def tolerance_m(spread_long_m: float) -> float:
    """
    Say how far from its target a layup may finish and count as where it was meant to be.

    Parameters
    ----------
    spread_long_m : float
        One standard deviation of the club along the line [m].

    Returns
    -------
    float
        The larger of the spread and 10 yd [m].

    Examples
    --------
    >>> tolerance_m(5.0), tolerance_m(12.0)
    (9.144, 12.0)
    """
    return max(_TOLERANCE_M, spread_long_m)


def plan_rules(settings: PlanSettings) -> PlanRules:
    """
    Take from the settings what the search goes by.

    Parameters
    ----------
    settings : PlanSettings
        What the plan goes by.

    Returns
    -------
    PlanRules
        Distances and prices.
    """
    return PlanRules(
        settings.margin_m,
        settings.corner_m,
        settings.shortest_layup_m,
        settings.full_share,
        settings.prices,
    )


def check_lengths(course: Course) -> None:
    """
    Refuse holes without a usable length.

    Parameters
    ----------
    course : Course
        The course.

    Raises
    ------
    CourseError
        If a hole has no length, or none that a hole has.
    """
    bad = [
        str(hole.number)
        for hole in course.holes
        if not (np.isfinite(hole.length_m) and 0.0 < hole.length_m <= _LONGEST_HOLE_M)
    ]
    if bad:
        raise CourseError(
            f"no usable length of hole {', '.join(bad)}",
            course.name or None,
            "Give length_m or length_yd in a scorecard, or a line of play in the course",
        )


def _rows(
    hole: Hole, ground: PlanGround, steps: Sequence[Step], frame: LocalFrame | None
) -> list[dict[str, object]]:
    """Turn steps into rows of the plan; with positions all lengths are geodesics."""
    stations = [step.start for step in steps]
    xy_m = np.vstack([ground.xy_m[stations], ground.hole_xy_m])
    legs_m = np.hypot(*np.diff(xy_m, axis=0).T)
    leaves_m = np.hypot(*(ground.hole_xy_m - xy_m[1:]).T)
    lon_deg = lat_deg = np.full(len(xy_m), np.nan)
    if frame is not None and ground.has_positions:
        lon_deg, lat_deg = (np.asarray(values, dtype=float) for values in frame.to_degrees(*xy_m.T))
        legs_m, _ = distance_bearing(lon_deg[:-1], lat_deg[:-1], lon_deg[1:], lat_deg[1:])
        leaves_m, _ = distance_bearing(
            lon_deg[1:],
            lat_deg[1:],
            np.full(len(steps), lon_deg[-1]),
            np.full(len(steps), lat_deg[-1]),
        )
    return [
        {
            "hole": hole.number,
            "shot": index + 1,
            "club": step.club.name,
            "role": "approach" if step.target is None else ("tee" if index == 0 else "layup"),
            "distance_m": float(np.atleast_1d(legs_m)[index]),
            "leave_m": float(np.atleast_1d(leaves_m)[index]),
            "tolerance_m": tolerance_m(step.club.spread_long_m),
            "start_lon_deg": lon_deg[index],
            "start_lat_deg": lat_deg[index],
            "target_lon_deg": lon_deg[index + 1],
            "target_lat_deg": lat_deg[index + 1],
        }
        for index, step in enumerate(steps)
    ]


def _notes(hole: Hole, ground: PlanGround, steps: Sequence[Step], allowed: int, bag: Bag) -> list[str]:
    """Say what is not as one would like on a hole."""
    unit_m = YARD_M if bag.units == "yd" else 1.0
    where = f"Hole {hole.number}"

    def length(value_m: float) -> str:
        return f"{value_m / unit_m:.0f} {bag.units}"

    notes = []
    if len(steps) > allowed:
        notes.append(
            f"{where}: {length(ground.hole_along_m)} cannot be covered in {allowed} "
            f"shot{'s' if allowed > 1 else ''} with this bag; planned in {len(steps)}"
        )
    avoided = list(dict.fromkeys(step.club.name for step in steps if step.club.avoid and not step.listed))
    if avoided:
        notes.append(f"{where}: needs a club you would rather not use ({', '.join(avoided)})")
    for number, step in enumerate(steps, start=1):
        shot = f"{where}, shot {number}"
        if step.water:
            at = [c for c in ground.crossings if c.kind == "water" and c.to_m > ground.along_m[step.start]]
            spans = ", ".join(
                f"{length(max(c.from_m, 0.0)).split()[0]}-{length(c.to_m)} from the tee" for c in at[:2]
            )
            notes.append(
                f"{shot}: water is in reach ({spans}); no club of the bag keeps clear of it with room"
            )
        if step.beside:
            notes.append(f"{shot}: the target lies beside water or out of bounds; aim away from it")
        if step.awkward:
            notes.append(
                f"{shot}: less than a full swing of the {step.club.name}; the bag has no swing for it"
            )
    return notes
