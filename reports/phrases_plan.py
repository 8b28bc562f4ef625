"""The English phrases of the plan with its odds; a translation has the same keys and the same names in braces."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["PLAN_ENGLISH"]

PLAN_ENGLISH: Mapping[str, str] = MappingProxyType(
    {
        "po_lede": "On average {strokes} strokes, and {greens} of {holes} greens within the shots allowed, if the bag says what is true.",
        "po_compare": "Three plans, scored alike",
        "po_compare_hole": "Three plans on hole {number}",
        "po_spots_hole": "When it goes wrong on hole {number}",
        "po_plan": "Plan",
        "po_strokes": "Strokes",
        "po_greens": "Greens in time",
        "po_penalties": "Balls in trouble",
        "po_in_time": "In time",
        "po_high": "High score",
        "po_trouble": "Trouble",
        "po_leaves": "Sets up",
        "po_explain": "In time: on the green within the shots allowed. High score: above personal par + 1. Trouble: water, out of bounds or a lost ball. Chances come from the bag; wind, slope and the ground of the day are not in them.",
        "po_spots": "When it goes wrong",
        "po_spot": "Ball lies",
        "po_next": "Play next",
        "po_to_go": "Strokes to go",
        "po_zones": "What next from here",
        "po_zones_title": "Hole {number}: zones, and what is played from each",
        "po_zone_green": "{club} at the green",
        "po_zone_layup": "{club}, short of the green",
        "po_pocket": "Pocket card",
        "po_pocket_how": "Prints on one A4 sheet; fold it in four.",
        "po_pocket_head": "hole · par / personal par · shots to the green",
        "po_clubs": "Fewest clubs",
        "po_name_on_plan": "on plan",
        "po_name_fewest_strokes": "fewest strokes",
        "po_name_rule_of_thumb": "rule of thumb",
        "po_worse": "The rule of thumb takes {strokes} strokes more here (give or take {error}).",
        "po_better": "The rule of thumb takes {strokes} strokes fewer here (give or take {error}).",
        "po_same": "The rule of thumb is as good here.",
        "po_unsure": "Whether the rule of thumb is better or worse here cannot be told.",
        "po_miss": "Rather not: {where}",
        "po_shots_one": "1 shot to the green",
        "po_shots_many": "{n} shots to the green",
    }
)
