"""Computed plans for eyes and for machines: a table with the odds, and JSON."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from reports.show import whole_length
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.plan_show import plan_holes
from trackgolf.plan_text import shot_geometry, shot_properties
from trackgolf.strategy.clubs_subset import FewestClubs
from trackgolf.strategy.next_shot import Spot
from trackgolf.strategy.rounds import RoundPlans
from trackgolf.text_table import printable, text_table

__all__ = [
    "SPOT_WORDS",
    "clubs_text",
    "odds_json",
    "odds_table",
    "prices_text",
    "spot_text",
    "thumb_text",
    "totals",
    "verdict",
]

# A difference beyond so many standard errors is more than chance; one below this many strokes does not matter.
_SURE, _SAME = 2.0, 0.05
SPOT_WORDS = {
    "on target": "on target",
    "short": "short",
    "left": "left",
    "right": "right",
    "bunker": "in the bunker",
}
"""The usual spots in words."""


def totals(plans: RoundPlans, name: str) -> dict[str, float]:
    """
    Add up a plan over the holes.

    Parameters
    ----------
    plans : RoundPlans
        The plans.
    name : str
        Which one.

    Returns
    -------
    dict of str to float
        ``expected_strokes``, ``greens`` reached within the regulation shots,
        and ``penalties``, each on average.
    """
    odds = [hole.plans[name].odds for hole in plans.holes.values()]
    return {
        "expected_strokes": sum(item.expected_strokes for item in odds),
        "greens": sum(item.regulation_probability for item in odds),
        "penalties": sum(item.expected_penalties for item in odds),
    }


def verdict(trial: tuple[float, float] | None) -> str:
    """
    Say which of two plans is better for players unlike the bag, and how sure.

    Parameters
    ----------
    trial : tuple of float or None
        Strokes that the rule of thumb takes more, and the standard error.

    Returns
    -------
    str
        ``worse``, ``better``, ``same`` (less than 0.05 strokes apart) or
        ``unsure``; "" where it was not tried.
    """
    if trial is None:
        return ""
    more, error = trial
    if abs(more) <= _SURE * error:
        return "same" if abs(more) + _SURE * error < _SAME else "unsure"
    if abs(more) < _SAME:
        return "same"
    return "worse" if more > 0 else "better"


def thumb_text(plans: RoundPlans) -> str:
    """
    Hold the rule of thumb against the plan, over the round.

    Parameters
    ----------
    plans : RoundPlans
        The plans.

    Returns
    -------
    str
        How much worse or better it is and how sure; "" where it was not tried.
    """
    trials = {number: hole.trial for number, hole in plans.holes.items() if hole.trial is not None}
    if not trials:
        return ""
    more = sum(trial[0] for trial in trials.values())
    error = math.sqrt(sum(trial[1] ** 2 for trial in trials.values()))
    said = f"{abs(more):.1f} strokes {'more' if more > 0 else 'fewer'} a round (give or take {_SURE * error:.1f})"
    listed = {
        name: [str(n) for n, trial in trials.items() if verdict(trial) == name]
        for name in ("worse", "better")
    }
    parts = [f"{name} on {', '.join(holes)}" for name, holes in listed.items() if holes]
    unsure = len(trials) - sum(len(holes) for holes in listed.values())
    if unsure:
        parts.append(f"no clear difference on {unsure}")
    return (
        f"Rule of thumb against on plan: {said}, for players whose clubs go 12 % shorter to 5 % longer than the bag "
        f"says and who mishit half to twice as often; {'; '.join(parts)}."
    )


def prices_text(plans: RoundPlans) -> str:
    """
    Print the prices of *on plan*.

    Parameters
    ----------
    plans : RoundPlans
        The plans.

    Returns
    -------
    str
        One line.
    """
    prices = plans.prices
    return (
        f"Prices, in strokes: {prices.missed:g} for a green missed in regulation, {prices.blowup:g} for a score above "
        f"personal par + 1, {prices.avoided:g} a stroke with a club to avoid, up to {prices.leave:g} for a leave you "
        "do not like."
    )


def spot_text(spot: Spot, units: str) -> str:
    """
    Say what to play from a spot.

    Parameters
    ----------
    spot : Spot
        The spot.
    units : {"yd", "m"}
        Of lengths.

    Returns
    -------
    str
        Club, length, and whether at the hole.
    """
    if not spot.club:
        return {"green": "on the green", "out_of_bounds": "out of bounds: once more from the tee"}.get(
            spot.lie, "in the water: drop"
        )
    goal = "at the green" if spot.at_hole else f"leaves {whole_length(spot.leave_m, units)}"
    return f"{spot.club} {whole_length(spot.distance_m, units)}, {goal}"


def odds_table(plans: RoundPlans, course: Course, bag: Bag) -> str:
    """
    Write the plan with its odds as a table to read in a terminal.

    Parameters
    ----------
    plans : RoundPlans
        The plans.
    course : Course
        The course they are for.
    bag : Bag
        The bag they were made with.

    Returns
    -------
    str
        A line a hole, then the three plans compared, prices and notes.
    """
    holes = plan_holes(course, bag)
    units = bag.units
    plan = plans.plans["on plan"]
    rows = [
        (
            "hole", "par", "index", f"length {units}", "personal par", "shots allowed", "in time", "strokes", "trouble",
            "plan",
        )
    ]  # fmt: skip
    for hole in holes.to_dict("records"):
        number = int(hole["hole"])
        odds = plans.holes[number].plans["on plan"].odds
        shots = plan.shots[plan.shots["hole"] == number].to_dict("records")
        said = ", ".join(f"{row['club']} {whole_length(row['distance_m'], units)}" for row in shots)
        index = hole["stroke_index"]
        rows.append(
            (
                str(number),
                str(hole["par"]),
                "-" if pd.isna(index) else str(index),
                whole_length(hole["length_m"], units),
                str(hole["personal_par"]),
                str(hole["regulation_shots"]),
                f"{odds.regulation_probability:.0%}",
                f"{odds.expected_strokes:.2f}",
                f"{odds.penalty_probability:.0%}",
                said,
            )
        )
    mine = totals(plans, "on plan")
    par, personal, allowed = (int(holes[name].sum()) for name in ("par", "personal_par", "regulation_shots"))
    length = whole_length(float(holes["length_m"].sum()), units)
    rows.append(
        (
            "all", str(par), "", length, str(personal), str(allowed), f"{mine['greens']:.1f}",
            f"{mine['expected_strokes']:.1f}", f"{mine['penalties']:.1f}", f"{len(plan.shots)} shots to the greens",
        )
    )  # fmt: skip
    compared = [("plan", "strokes", "greens in time", "penalties")]
    for name in plans.plans:
        total = totals(plans, name)
        compared.append(
            (name, f"{total['expected_strokes']:.1f}", f"{total['greens']:.1f}", f"{total['penalties']:.1f}")
        )
    text = [
        f"{printable(course.name) or 'Course'}: a plan for {bag.player}",
        f"Personal par {personal}: par {par} and {personal - par} strokes. Distances in {units}, to where the ball stops.",
        *(["Invented data: no real course or player."] if course.invented or bag.invented else []),
        "",
        text_table(rows),
        "",
        "In time: on the green within the shots allowed. Trouble: water, out of bounds or a lost ball.",
        "",
        text_table(compared),
        prices_text(plans),
    ]
    thumb = thumb_text(plans)
    text += [thumb] if thumb else []
    if plan.notes:
        text += ["", *plan.notes]
    return "\n".join(text)


def clubs_text(fewest: FewestClubs) -> str:
    """
    Say which clubs will do.

    Parameters
    ----------
    fewest : FewestClubs
        What was found.

    Returns
    -------
    str
        The clubs, what to tee off with, and what each further club gains.
    """
    count = len(fewest.clubs)
    lines = [
        f"Fewest clubs: {', '.join(fewest.clubs)} ({count} and a putter), {fewest.expected_strokes:.1f} strokes a round.",
        "They cover every hole within its shots."
        if fewest.covered
        else "They cover as many holes within their shots as the whole bag does; not all.",
        "From the tees: " + ", ".join(f"{hole} {club}" for hole, club in fewest.tee_clubs.items()) + ".",
    ]
    if fewest.further:
        lines.append(
            "Each further club, those that gain most first: "
            + ", ".join(f"{item.club} {item.gain:+.1f}" for item in fewest.further)
            + " strokes a round saved."
        )
    return "\n".join(lines)


def odds_json(
    plans: RoundPlans, course: Course, bag: Bag, fewest: FewestClubs | None = None
) -> dict[str, Any]:
    """
    Turn computed plans into what machines read.

    Parameters
    ----------
    plans : RoundPlans
        The plans.
    course : Course
        The course they are for.
    bag : Bag
        The bag they were made with.
    fewest : FewestClubs, optional
        The fewest clubs, where they were asked for.

    Returns
    -------
    dict
        ``player``, ``course``, ``units``, ``prices`` and, for each of
        ``holes``, ``hole``, ``par``, ``stroke_index``, ``length_m``,
        ``strokes_received``, ``personal_par``, ``regulation_shots`` and
        ``plans``: for each ``name``, ``expected_strokes``, ``regulation_probability``,
        ``high_score_probability`` (above personal par + 1),
        ``penalty_probability`` (water, out of bounds, lost),
        ``expected_penalties``, ``expected_putts`` and ``shots``; then
        ``rule_of_thumb_costs`` with its ``standard_error`` and ``verdict``,
        and ``next``: what to play from the usual spots. All lengths in metres.
    """
    holes = []
    for hole in plan_holes(course, bag).to_dict("records"):
        number = int(hole["hole"])
        index = hole["stroke_index"]
        made = plans.holes[number]
        holes.append(
            {
                "hole": number,
                "par": int(hole["par"]),
                "stroke_index": None if pd.isna(index) else int(index),
                "length_m": round(float(hole["length_m"]), 2),
                "strokes_received": int(hole["strokes_received"]),
                "personal_par": int(hole["personal_par"]),
                "regulation_shots": int(hole["regulation_shots"]),
                "plans": [_plan_json(plans, name, number) for name in plans.plans],
                "rule_of_thumb_costs": None if made.trial is None else round(made.trial[0], 3),
                "standard_error": None if made.trial is None else round(made.trial[1], 3),
                "verdict": verdict(made.trial) or None,
                "next": [_spot_json(spot) for spot in (made.next_shots.spots if made.next_shots else ())],
            }
        )
    document: dict[str, Any] = {
        "player": bag.player,
        "course": course.name,
        "units": bag.units,
        "invented": course.invented or bag.invented,
        "prices": {
            "missed_regulation": plans.prices.missed,
            "high_score": plans.prices.blowup,
            "avoided_club": plans.prices.avoided,
            "leave": plans.prices.leave,
        },
        "grid_m": plans.settings.cell_m,
        "holes": holes,
        "notes": list(plans.plans["on plan"].notes),
        "warnings": [*course.warnings, *bag.warnings],
    }
    if fewest is not None:
        document["fewest_clubs"] = {
            "clubs": list(fewest.clubs),
            "covers_every_hole": fewest.covered,
            "expected_strokes": round(fewest.expected_strokes, 3),
            "tee_clubs": [{"hole": hole, "club": club} for hole, club in fewest.tee_clubs.items()],
            "further": [{"club": item.club, "gain": round(item.gain, 3)} for item in fewest.further],
        }
    return document


def _plan_json(plans: RoundPlans, name: str, number: int) -> dict[str, Any]:
    odds = plans.holes[number].plans[name].odds
    shots = plans.plans[name].shots
    return {
        "name": name,
        "expected_strokes": round(odds.expected_strokes, 4),
        "regulation_probability": round(odds.regulation_probability, 4),
        "high_score_probability": round(odds.blowup_probability, 4),
        "penalty_probability": round(odds.penalty_probability, 4),
        "expected_penalties": round(odds.expected_penalties, 4),
        "expected_putts": round(odds.expected_putts, 4),
        "shots": [
            shot_properties(row) | {"geometry": shot_geometry(row)}
            for row in shots[shots["hole"] == number].to_dict("records")
        ],
    }


def _spot_json(spot: Spot) -> dict[str, Any]:
    played = bool(spot.club)
    return {
        "spot": SPOT_WORDS[spot.name],
        "lie": spot.lie,
        "club": spot.club or None,
        "distance_m": round(spot.distance_m, 2) if played else None,
        "leave_m": round(spot.leave_m, 2) if played else None,
        "strokes_to_go": round(spot.strokes_to_go, 3) if math.isfinite(spot.strokes_to_go) else None,
    }
