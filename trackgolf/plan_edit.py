"""Plans as documents that are kept and changed hole by hole: what they were made with, and the odds of each hole."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geo.files import decode_text
from geo.geojson import geojson_text
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.errors import PlanError
from trackgolf.plan import Plan
from trackgolf.plan_text import (
    PLANNED_PROPERTIES,
    plan_geojson,
    planned_properties,
    shot_geometry,
    shot_properties,
)
from trackgolf.strategy.odds import Odds
from trackgolf.strategy.plans import PlannedStroke
from trackgolf.strategy.rounds import plan_rows
from trackgolf.strategy.site import HoleSite

__all__ = ["MadeWith", "hole_odds_of", "made_with", "plan_to_keep", "with_hole"]

_ODDS = ("expected_strokes", "regulation_probability", "penalty_probability")


@dataclass(frozen=True, slots=True)
class MadeWith:
    """
    What a plan was made with.

    Attributes
    ----------
    tee : str or None
        Name of the tee.
    bag : str
        Digest of the bag, "" where the file does not say.
    """

    tee: str | None = None
    bag: str = ""


def plan_to_keep(plan: Plan, course: Course, bag: Bag, made: MadeWith, odds: Mapping[int, Odds]) -> str:
    """
    Write a plan so that it can be changed later.

    Parameters
    ----------
    plan : Plan
        The plan.
    course : Course
        The course it is for.
    bag : Bag
        The bag it was made with.
    made : MadeWith
        Tee and bag.
    odds : mapping of int to Odds
        Of each hole.

    Returns
    -------
    str
        GeoJSON as `trackgolf.plan_text.plan_geojson` makes it, with two more members: ``made_with`` and ``odds``.
    """
    document = plan_geojson(plan, course, bag, remember=True)
    features = document.pop("features")
    document["made_with"] = {"tee": made.tee, "bag": made.bag}
    document["odds"] = [{"hole": hole} | _odds(one) for hole, one in sorted(odds.items())]
    return geojson_text(document | {"features": features})


def made_with(document: Mapping[str, Any]) -> MadeWith:
    """
    Read what a plan was made with.

    Parameters
    ----------
    document : mapping
        A plan; one from elsewhere need not say it.

    Returns
    -------
    MadeWith
        Tee and bag.
    """
    said = document.get("made_with")
    said = said if isinstance(said, dict) else {}
    tee, bag = said.get("tee"), said.get("bag")
    return MadeWith(tee if isinstance(tee, str) and tee else None, bag if isinstance(bag, str) else "")


def hole_odds_of(document: Mapping[str, Any]) -> dict[int, dict[str, float]]:
    """
    Read the odds that a plan was kept with.

    Parameters
    ----------
    document : mapping
        A plan.

    Returns
    -------
    dict of int to dict
        By hole ``expected_strokes``, ``regulation_probability`` and ``penalty_probability``; those holes are left
        out of which it does not say all.
    """
    found = {}
    said = document.get("odds")
    for one in said if isinstance(said, list) else []:
        if not isinstance(one, dict) or not isinstance(one.get("hole"), int):
            continue
        values = {name: one[name] for name in _ODDS if isinstance(one.get(name), (int, float))}
        if len(values) == len(_ODDS):
            found[one["hole"]] = {name: float(value) for name, value in values.items()}
    return found


def with_hole(
    content: bytes,
    site: HoleSite,
    strokes: Sequence[PlannedStroke],
    odds: Odds,
    *,
    wanted: int,
    invented: bool,
) -> str:
    """
    Put other strokes on one hole of a plan.

    Parameters
    ----------
    content : bytes
        The plan, GeoJSON.
    site : HoleSite
        The hole.
    strokes : sequence of PlannedStroke
        Its strokes from now on.
    odds : Odds
        Where they lead.
    wanted : int
        How many of them, from the first, are the player's own: these go on saying what was planned there before.
    invented : bool
        Whether the course or the player is.

    Returns
    -------
    str
        The plan; nothing else in it is changed.

    Raises
    ------
    PlanError
        If the plan holds a number that cannot be written again.
    """
    # What is no number in JSON is left out.
    document = json.loads(decode_text(content), parse_constant=lambda _: None)
    if document.get("type") == "Feature":
        document = {"type": "FeatureCollection", "features": [document]}
    kept: list[dict[str, Any]] = []
    before: dict[int, dict[str, Any]] = {}
    place = None
    for feature in document["features"]:
        properties = feature["properties"]
        if int(float(properties["hole"])) != site.number:
            kept.append(feature)
            continue
        place = len(kept) if place is None else place
        before[int(float(properties["shot"]))] = properties
    fresh = []
    for row in plan_rows(site.number, site, strokes):
        properties = shot_properties(row)
        number = int(properties["shot"])
        old = before.get(number, {})
        said = {name: old[name] for name in PLANNED_PROPERTIES if name in old}
        properties |= said if number <= wanted else planned_properties(row)
        if invented:
            properties["invented"] = "yes"
        fresh.append({"type": "Feature", "properties": properties, "geometry": shot_geometry(row)})
    place = len(kept) if place is None else place
    features = [*kept[:place], *fresh, *kept[place:]]
    others = [
        one
        for one in (document["odds"] if isinstance(document.get("odds"), list) else [])
        if not (isinstance(one, dict) and one.get("hole") == site.number)
    ]
    mine = {"hole": site.number} | _odds(odds)
    ordered = sorted(
        [one for one in [*others, mine] if isinstance(one, dict) and isinstance(one.get("hole"), int)],
        key=lambda one: int(one["hole"]),
    )
    try:
        return geojson_text(document | {"odds": ordered, "features": features})
    except ValueError as fault:
        raise PlanError("a number in it is too large", "plan", "Make the plan anew") from fault


def _odds(odds: Odds) -> dict[str, float]:
    return {name: round(float(getattr(odds, name)), 4) for name in _ODDS}
