"""Variants of the decoder for measuring alone: with one kind of evidence left out, or told what a decoder cannot know."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch

import numpy as np
import pandas as pd

from geo import stops as stop_search
from geo._stands import _point_sigma, _still_spread
from trackgolf import reconstruct as chain
from trackgolf import weigh
from trackgolf.bag import Bag
from trackgolf.ground import lay_ground
from trackgolf.settings import RoundSettings
from trackgolf.stand_net import stand_net

__all__ = ["LEFT_OUT", "changed"]


def _flat(*arguments: Any, **_: Any) -> Any:
    """Speak neither for nor against: zero for every stand, whatever is asked."""
    return np.zeros_like(next(one for one in arguments if isinstance(one, np.ndarray)), dtype=float)


def _even_flight(_hole: Any, from_m: Any, to_m: Any, _shooter: Any, settings: RoundSettings, **_: Any) -> Any:
    """As likely from anywhere to anywhere as stands in general are."""
    return weigh.other_log_density(np.hypot(to_m[0] - from_m[0], to_m[1] - from_m[1]), settings)


def _even_order(ground: Any, *_: Any) -> Any:
    size = len(ground.holes)
    even = math.log(1.0 / max(size, 1))
    return np.full(size, even), np.full(size, even), np.full((size, size), even)


def _no_green(_hole: Any, east_m: Any, *_: Any) -> Any:
    return np.full_like(east_m, math.log(0.5)), np.full_like(east_m, math.log(0.5))


def _without_net(_settings: RoundSettings) -> list[Any]:
    """Give every stand what stands of the round are given on average."""
    net = stand_net()

    def scores(inputs: Any) -> Any:
        given = net.scores(inputs)
        return np.broadcast_to(given.mean(axis=0), given.shape) if len(given) else given

    return [patch.object(chain, "stand_net", lambda: SimpleNamespace(scores=scores))]


# What is left out: the functions replaced, and the settings changed.
LEFT_OUT: dict[str, tuple[Callable[[RoundSettings], list[Any]], dict[str, Any]]] = {
    "dwell and looks of stands": (_without_net, {}),
    "lean towards shots": (lambda _: [], {"lean_to_shots": 0.0}),
    "tees": (lambda _: [patch.object(weigh, "tee_score", lambda hole, east_m, *_, **__: _flat(east_m))], {}),
    "greens": (lambda _: [patch.object(weigh, "green_score", _no_green)], {}),
    "flight": (lambda _: [patch.object(weigh, "flight_log_density", _even_flight)], {}),
    "counts": (lambda _: [], {"count_power": 0.0}),
    "order of holes": (lambda _: [patch.object(weigh, "_order_tables", _even_order)], {}),
    "marks": (
        lambda _: [patch.object(weigh, "_mark_score", lambda stands, *_: np.zeros(len(stands)))],
        {},
    ),
    "strokes played again": (lambda _: [], {"replay": 1e-6, "replay_carded": 1e-6}),
    "strokes unseen": (lambda _: [], {"unseen_shot": 1e-6}),
}


@contextmanager
def changed(
    variant: str, simulated: Any, course: Any, bag: Bag, settings: RoundSettings
) -> Iterator[tuple[Bag, RoundSettings]]:
    """
    Change the decoder for a while, and give the bag and the settings to use.

    `variant` is empty for the program as it is, a key of `LEFT_OUT`, "true parameters" or "true stops".
    """
    with ExitStack() as stack:
        if variant == "true parameters":
            bag, settings = true_bag(simulated, bag), true_settings(simulated, settings)
        elif variant == "true stops":
            frame = lay_ground(course).frame

            def find(time_s: Any, east_m: Any, north_m: Any, given: Any = None) -> pd.DataFrame:
                return true_stops(simulated, frame, (time_s, east_m, north_m), given or settings.stops)

            stack.enter_context(patch.object(chain, "find_stops", find))
        elif variant:
            replaced, changes = LEFT_OUT[variant]
            for one in replaced(settings):
                stack.enter_context(one)
            settings = replace(settings, **changes)
        yield bag, settings


def true_bag(simulated: Any, bag: Bag) -> Bag:
    """The bag with what the clubs really do."""
    clubs = []
    for club in bag.clubs:
        true = simulated.player.club(club.name)
        factor = true.true_distance_m / club.distance_m
        clubs.append(
            replace(
                club,
                carry_m=club.carry_m * factor,
                roll_m=club.roll_m * factor,
                spread_long_m=true.true_distance_m * true.true_long_share,
                mishit_share=true.true_mishit_share,
            )
        )
    return replace(bag, clubs=tuple(clubs))


def true_settings(simulated: Any, settings: RoundSettings) -> RoundSettings:
    """The settings with what this very round was played with, as far as there is a setting for it."""
    strokes, stands = simulated.strokes, simulated.stands
    mine = strokes[strokes["counts"].astype(bool) & strokes["shot"].notna()]
    stood = np.log(np.maximum((stands["end"] - stands["start"]).to_numpy(dtype=float), 1.0))
    why = stands["why"].to_numpy()
    shot_stands = stands[why == "shot"]
    moment = mine.loc[mine["lie"] == "tee", "time"].to_numpy()
    begin, end = shot_stands["start"].to_numpy()[:, None], shot_stands["end"].to_numpy()[:, None]
    teed = np.any((begin - 1 <= moment) & (moment <= end + 1), axis=1)
    of_shot = stood[why == "shot"]
    waits = np.isin(why, ["wait", "wait_tee", "partner", "search"])
    groups = {
        "shot": of_shot[~teed],
        "tee": of_shot[teed],
        "green": stood[why == "putt"],
        "wait": stood[waits],
        "halt": stood[~waits & ~np.isin(why, ["shot", "putt"])],
    }
    found: dict[str, Any] = {}
    for name, values in groups.items():
        if values.size >= 5:
            found[f"{name}_dwell_s"] = float(np.exp(np.median(values)))
            found[f"{name}_dwell_spread"] = max(float(np.std(values)), 0.2)
    found["halt_share"] = float(
        np.clip(groups["halt"].size / max(groups["halt"].size + waits.sum(), 1), 0.05, 0.95)
    )
    full = mine[(mine["kind"] == "full") & (mine["penalty"] == 0) & ~mine["air"].astype(bool)]
    found["short_share"] = float(np.clip((full["mishit"] != "").mean(), 0.03, 0.5))
    # Clubs are told as they really go, and are seldom swung in full.
    found |= {"bag_factor": 0.96, "bag_spread": 0.04}
    found["plan_share"] = simulated.habits.follow_plan
    found["pick_up"] = float(np.clip(simulated.card["picked_up"].astype(bool).mean(), 0.002, 0.3))
    again = (mine["penalty"] > 0) & mine["end_lie"].isin(["lost", "out_of_bounds"])
    found["replay"] = float(np.clip(again.mean(), 0.003, 0.2))
    found["unseen_shot"] = 0.01
    known = set(RoundSettings.__dataclass_fields__)
    return replace(settings, **{name: value for name, value in found.items() if name in known})


def true_stops(simulated: Any, frame: Any, track: Any, settings: Any) -> pd.DataFrame:
    """The table of `find_stops` with the true times and places of the stands; how restless they look is measured."""
    time, east, north = (np.asarray(values, dtype=float) for values in track)
    steps = stop_search._measure_steps(time, east, north)
    stop_search._choose_window(steps, time, east, north, settings)
    truth = simulated.stands.sort_values("start")
    place = frame.to_metres(truth["lon_deg"].to_numpy(), truth["lat_deg"].to_numpy())
    middle = steps.time_s
    standing = np.zeros(middle.size, dtype=bool)
    rows = []
    for begin, end, x, y in zip(truth["start"], truth["end"], *place, strict=True):
        begin_s, end_s = max(begin, time[0]), min(end, time[-1])
        if end_s - begin_s < settings.shortest_s:
            continue
        standing |= (middle >= begin_s) & (middle <= end_s)
        near = slice(*np.searchsorted(time, [begin_s - 0.5, end_s + 0.5]))
        seen = np.column_stack([east[near], north[near]])
        spread = (
            float(np.sqrt(np.mean(np.sum((seen - seen.mean(axis=0)) ** 2, axis=1)))) if len(seen) else 0.0
        )
        rows.append((begin_s, end_s, end_s - begin_s, x, y, 1.0, spread, 1.0, len(seen), False))
    names = [
        "start_s",
        "end_s",
        "dwell_s",
        "east_m",
        "north_m",
        "sigma_m",
        "spread_m",
        "restless",
        "points",
        "hidden",
    ]
    table = pd.DataFrame(rows, columns=names)
    sigma = _point_sigma(steps, standing, np.zeros_like(standing), settings)
    still = np.array([_still_spread(sigma, dwell, settings.error_time_s) for dwell in table["dwell_s"]])
    return table.assign(restless=np.where(table["points"] > 2, table["spread_m"] / still, 1.0))
