"""Which club and target the wearer chooses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely import Point

from tests.simulator.geometry import Array, along, point_at
from tests.simulator.plans import PlannedShot
from tests.simulator.players import InventedClub

if TYPE_CHECKING:
    from tests.simulator.play import Game

__all__ = ["Choice", "choose"]

_CHIPPERS = ("7 iron", "8 iron", "9 iron", "pitching wedge", "gap wedge", "sand wedge")


@dataclass(frozen=True)
class Choice:
    """Kind of stroke, club, target and the planned shot that is followed, if any."""

    kind: str
    club: str
    target: Array
    planned: PlannedShot | None = None


def choose(game: Game) -> Choice:
    """Choose the next stroke for the ball where it lies."""
    rng, mine, player, hole = game.rng, game.mine, game.player, game.hole
    left = game.left_m()
    if mine.lie == "green":
        return Choice("putt", "putter", game.pin)
    off_green = hole.green.exterior.distance(Point(mine.xy))
    if mine.lie in ("fairway", "rough") and off_green < game.walker.habits.putter_off_green_m and left < 25:
        return Choice("putt", "putter", game.pin)
    wedges = [c for c in player.clubs if c.name.endswith("wedge")]
    shortest = wedges[-1]
    if mine.lie == "bunker":
        if left < 45:
            return Choice("part", shortest.name, game.pin)
        short = [c for c in player.clubs if c.distance_m < 0.72 * player.clubs[0].distance_m]
        club = min(short, key=lambda c: abs(c.distance_m * 0.8 - left))
        return Choice("full", club.name, game.pin if left < 140 else _advance(game, club.distance_m))
    planned = _planned(game)
    if planned is not None and rng.random() < game.walker.habits.follow_plan:
        wish = float(np.hypot(*(planned.target - mine.xy)))
        club = player.club(planned.club)
        wood_in_rough = mine.lie == "rough" and club.name.endswith("wood")
        if not 0.9 < wish / club.distance_m < 1.07 or wood_in_rough:
            club = _club_for(game, wish)
        if wish >= 0.8 * shortest.distance_m:
            at_pin = planned.role == "approach" and wish < 160
            return Choice(
                "full", club.name, game.pin if at_pin else planned.target + _aim(game, wish), planned
            )
    if left < 22:
        low = [c.name for c in player.clubs if c.name in _CHIPPERS]
        return Choice("chip", str(rng.choice(low)), game.pin)
    if mine.lie == "rough" and rng.random() < 0.05 and left > 80:
        # no way through: out sideways with an iron
        line = hole.line_from(player.tee)
        station, _ = along(line, mine.xy)
        return Choice("part", "7 iron", point_at(line, station + rng.uniform(5, 40))[0])
    if left < 0.85 * shortest.distance_m:
        return Choice("part", str(rng.choice([c.name for c in wedges])), game.pin)
    club = _club_for(game, left)
    return Choice("full", club.name, _advance(game, min(left, club.distance_m)))


def _planned(game: Game) -> PlannedShot | None:
    """Find the planned shot that is played from about here."""
    near = 8.0 if game.mine.lie == "tee" else 30.0
    found = [
        (float(np.hypot(*(p.start - game.mine.xy))), p.shot, p) for p in game.plan.get(game.hole.number, [])
    ]
    found = [f for f in found if f[0] < near]
    return min(found)[2] if found else None


def _club_for(game: Game, wish: float) -> InventedClub:
    mine, rng = game.mine, game.rng
    fit = [c for c in game.player.clubs if mine.lie == "tee" or c.name != "driver"]
    fit = [c for c in fit if not c.avoid or rng.random() < 0.2] or fit
    if mine.lie in ("rough", "penalty_area"):
        fit = [c for c in fit if not c.name.endswith("wood") or rng.random() < 0.3] or fit
    best = sorted(fit, key=lambda c: abs(c.distance_m - wish))
    return best[0] if rng.random() < 0.85 or len(best) < 2 else best[1]


def _advance(game: Game, distance: float) -> Array:
    if distance >= game.left_m() - 5:
        return game.pin + _aim(game, distance) * 0.4
    line = game.hole.line_from(game.player.tee)
    station, _ = along(line, game.mine.xy)
    return point_at(line, station + distance * 0.98)[0] + _aim(game, distance)


def _aim(game: Game, distance: float) -> Array:
    return game.rng.normal(0, 0.02 * distance, 2)
