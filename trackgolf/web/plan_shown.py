"""A planned hole in numbers and words: its shots, the odds, what lies near a target, and what comes after."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from reports.show import whole_length
from trackgolf.bag import Bag
from trackgolf.plan_odds import SPOT_WORDS, spot_text
from trackgolf.strategy.kept import Kept
from trackgolf.strategy.moved import Beside, MovedPlan, ReadyHole, beside, ends_of, plan_moved
from trackgolf.strategy.rounds import plan_rows
from trackgolf.web.plan_data import KeptPlan

__all__ = ["hole_shown"]

_GROUND = {
    "green": "green",
    "fairway": "fairway",
    "rough": "rough",
    "bunker": "sand",
    "water_red": "water",
    "water_yellow": "water",
    "out_of_bounds": "out of bounds",
}
_SIDES = {
    "left": "to the left",
    "right": "to the right",
    "short": "short of it",
    "past": "past it",
}
# A share too small to be told.
_TOLD_SHARE = 0.005


def hole_shown(
    plan: KeptPlan, ready: ReadyHole, kept: tuple[Kept, ...], shot: int | None = None
) -> dict[str, Any]:
    """
    Say a hole's plan in numbers and words, for the page and for its script.

    Parameters
    ----------
    plan : KeptPlan
        The plan it belongs to.
    ready : ReadyHole
        The hole.
    kept : tuple of Kept
        The shots that are wanted.
    shot : int, optional
        The shot that is looked at; the last wanted one, or the first, if left out.

    Returns
    -------
    dict
        Plain values, ready for JSON: ``shots``, ``odds``, ``ends``, ``near``, ``spots``, ``notes``, ``short``, ``said``, ``shot``
        and ``wanted``, how many shots are the player's own.
    """
    units, goal, site = plan.bag.units, ready.task.goal, ready.task.site
    moved = plan_moved(ready, kept)
    rows = plan_rows(site.number, site, moved.strokes)
    at = min(max(shot or len(kept) or 1, 1), len(rows))
    ends = ends_of(ready, kept, at)
    club, length = rows[at - 1]["club"], whole_length(float(str(rows[at - 1]["distance_m"])), units)
    odds = moved.odds
    share = f"{odds.regulation_probability:.0%}".replace("%", "\u00a0%")
    notes = []
    if ends.off_m > 1.5 * ready.task.settings.cell_m:
        bounds = f"{whole_length(ends.low_m, units)} to {whole_length(ends.high_m, units)} {units}"
        notes.append(f"The {club} goes {bounds} from there; the odds are for the nearest that it can do.")
    if len(rows) > goal.regulation_shots:
        notes.append(f"So the green is not reached in {goal.regulation_shots}, even if all goes as meant.")
    near = _near(beside(site, moved.strokes[at - 1].start_m, moved.strokes[at - 1].target_m), units)
    return {
        "shot": at,
        "wanted": len(kept),
        "shots": [_shot(row, units, plan.bag) for row in rows],
        "odds": _odds(moved, goal.regulation_shots, goal.personal_par),
        "ends": _ends(ends.shares),
        "near": near,
        "spots": [
            [
                SPOT_WORDS[spot.name],
                spot_text(spot, units),
                f"{spot.strokes_to_go:.1f}" if math.isfinite(spot.strokes_to_go) else "–",
            ]
            for spot in moved.spots
        ],
        "notes": notes,
        "short": f"{odds.expected_strokes:.2f} strokes, {share} in time",
        "said": f"Shot {at}, {club} {length} {units}: {odds.expected_strokes:.2f} strokes, {share} on the green in "
        f"{goal.regulation_shots}. {near}{' ' + notes[0] if notes else ''}",
    }


def _odds(moved: MovedPlan, regulation: int, personal: int) -> list[list[str]]:
    odds = moved.odds

    def share(value: float) -> str:
        return f"{value:.0%}".replace("%", "\u00a0%")

    return [
        ["Strokes on average", f"{odds.expected_strokes:.2f}"],
        [f"On the green in {regulation}", share(odds.regulation_probability)],
        [f"More than {personal + 1} strokes", share(odds.blowup_probability)],
        ["Water, out of bounds, lost", share(odds.penalty_probability)],
    ]


def _shot(row: Mapping[str, Any], units: str, bag: Bag) -> dict[str, Any]:
    placed = math.isfinite(float(row["target_lon_deg"]))
    club = bag.find_club(str(row["club"]))
    return {
        "shot": int(row["shot"]),
        "club": str(row["club"]),
        "avoid": bool(club is not None and club.avoid),
        "length": f"{whole_length(float(row['distance_m']), units)}\u00a0{units}",
        "distance": whole_length(float(row["distance_m"]), units),
        "leave": f"{whole_length(float(row['leave_m']), units)}\u00a0{units}",
        "radius_m": round(float(row["tolerance_m"]), 1),
        "start": [round(float(row["start_lon_deg"]), 7), round(float(row["start_lat_deg"]), 7)]
        if placed
        else None,
        "target": [round(float(row["target_lon_deg"]), 7), round(float(row["target_lat_deg"]), 7)]
        if placed
        else None,
    }


def _ends(shares: Mapping[str, float]) -> str:
    together: dict[str, float] = {}
    for name, share in shares.items():
        together[_GROUND[name]] = together.get(_GROUND[name], 0.0) + share
    together["off the map"] = 1.0 - sum(together.values())
    told = sorted(
        ((share, name) for name, share in together.items() if share >= _TOLD_SHARE), key=lambda one: -one[0]
    )
    return ", ".join(f"{name} {share:.0%}".replace("%", "\u00a0%") for share, name in told)


def _near(found: Sequence[Beside], units: str) -> str:
    """Say what lies near a target in one sentence."""
    told = []
    for one in found:
        name = _GROUND[one.ground]
        if not one.side:
            told.append(
                f"the target is in {name}" if name != "out of bounds" else "the target is out of bounds"
            )
            continue
        told.append(f"{name} {whole_length(one.away_m, units)}\u00a0{units} {_SIDES[one.side]}")
    if not told:
        return "Nothing to fear near the target."
    said = "; ".join(told)
    return f"{said[0].upper()}{said[1:]}."
