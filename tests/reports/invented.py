"""Invented tables: a course in the middle of an ocean, a player and a round that do not exist."""

from __future__ import annotations

import datetime as dt

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import affinity, ops

from geo.frame import LocalFrame
from geo.units import YARD_M
from reports.bundles import PlanTables, RoundTables, layup_summary

FRAME = LocalFrame(-33.0, 44.0)
START = dt.datetime(2026, 5, 14, 11, 4, tzinfo=dt.UTC)

# What a hostile or careless person may write as a name. Each part breaks something else: a template, a
# comment, a script element, a format string, a quoted string, an image that runs a script.
HOSTILE = "{{7*7}} {% if %} {# x #} </script> ${1} `b` <img src=x onerror=alert(1)> \"q\" 'a' & {player} %s <!-- \u2028"

BAG_M = {
    "driver": 190.0,
    "5 wood": 172.0,
    "5 hybrid": 156.0,
    "6 iron": 142.0,
    "7 iron": 131.0,
    "8 iron": 121.0,
    "9 iron": 108.0,
    "pitching wedge": 96.0,
    "gap wedge": 82.0,
    "sand wedge": 64.0,
}
PARS = [4, 4, 3, 5, 4, 4, 3, 4, 5, 4, 3, 4, 5, 4, 4, 3, 4, 5]
LENGTHS_M = [352, 331, 146, 468, 318, 362, 128, 340, 455, 347, 152, 366, 481, 325, 337, 119, 371, 462]
INDEXES = [5, 13, 17, 1, 11, 3, 15, 9, 7, 6, 18, 2, 8, 14, 10, 16, 4, 12]


def geo_table(rows, geometry):
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry=list(geometry), crs="EPSG:4326")


def hole_line(number):
    """Holes side by side, up and down, each with a bend; metres."""
    length = LENGTHS_M[number - 1]
    east, base = 70.0 * ((number - 1) % 9), -260.0 if number <= 9 else 320.0
    bend = {3: 0.0, 4: 22.0, 5: 30.0}[PARS[number - 1]] * (-1) ** (number // 2)
    along = np.array([0.0, 0.55, 1.0]) * length
    north = base + (along if number % 2 else length - along)
    return shapely.LineString(np.column_stack([east + np.array([0.0, bend, 0.0]), north]))


def pin_of(number):
    return np.array(hole_line(number).coords[-1]) + np.array([2.0, 3.0])


def invented_shapes(numbers):
    rows, shapes = [], []

    def add(kind, hole, shape):
        rows.append({"kind": kind, "hole": hole})
        shapes.append(FRAME.geometry_to_degrees(shape))

    for number in numbers:
        line = hole_line(number)
        start, end = shapely.Point(line.coords[0]), shapely.Point(line.coords[-1])
        leg = np.subtract(line.coords[-1], line.coords[-2])
        across = np.array([leg[1], -leg[0]]) / np.hypot(*leg)
        if PARS[number - 1] > 3:
            add("fairway", number, ops.substring(line, 120.0, line.length - 30.0).buffer(17.0))
        add("green", number, affinity.scale(end.buffer(1.0), 11.0, 14.0))
        add("tee", number, start.buffer(7.0, cap_style="square"))
        add("bunker", None, affinity.scale(shapely.Point(end.coords[0] + 18 * across).buffer(1.0), 6, 9))
        if number % 4 == 0:
            middle = line.interpolate(0.6, normalized=True).coords[0] - 34 * across
            add("water_red", None, affinity.scale(shapely.Point(middle).buffer(1.0), 16, 34))
        add("pin", number, shapely.Point(pin_of(number)))
    corners = shapely.MultiPoint([xy for number in numbers for xy in hole_line(number).coords])
    add("course", None, corners.convex_hull.buffer(60.0))
    add("clubhouse", None, shapely.box(-70, -330, -45, -310))
    return geo_table(rows, shapes)


def invented_lines(numbers):
    lines = [FRAME.geometry_to_degrees(hole_line(number)) for number in numbers]
    return geo_table([{"hole": number} for number in numbers], lines)


def invented_planned(numbers, say):
    """From the green to the tee: the preferred wedge first, the rest shared by the layups."""
    rows, lines = [], []
    for number in numbers:
        line = hole_line(number)
        count, approach_m = PARS[number - 1] - 1, 88.0
        legs = [(line.length - approach_m) / (count - 1)] * (count - 1) + [approach_m]
        done = 0.0
        for shot, leg in enumerate(legs, start=1):
            club = min(BAG_M, key=lambda name, leg=leg: abs(BAG_M[name] - leg))
            rows.append(
                {
                    "hole": number,
                    "shot": shot,
                    "club": say(club),
                    "role": "approach" if shot == count else "tee" if shot == 1 else "layup",
                    "distance_m": leg,
                    "leave_m": line.length - done - leg,
                    "tolerance_m": max(10 * YARD_M, 0.08 * BAG_M[club]),
                }
            )
            ends = shapely.LineString([line.interpolate(done), line.interpolate(done + leg)])
            lines.append(FRAME.geometry_to_degrees(ends))
            done += leg
    return geo_table(rows, lines)


def invented_holes(numbers, say, played=None):
    rows = []
    for number in numbers:
        par = PARS[number - 1]
        received = 1 + int(INDEXES[number - 1] <= 7)
        row = {
            "hole": number,
            "par": par,
            "stroke_index": INDEXES[number - 1],
            "length_m": float(LENGTHS_M[number - 1]),
            "personal_par": par + received,
            "regulation_shots": par + received - 2,
            "note": say("Windy." if number == 1 else ""),
        }
        unplayed = dict.fromkeys(("shots", "putts", "penalties", "strokes"))
        rows.append(row | (played[number] if played else unplayed))
    return pd.DataFrame(rows)


def invented_notes(say):
    rows = [
        ("salvaged", None, "12 of 14,210 points had no time and were left out."),
        ("mended", 3, "The line was drawn from green to tee and was turned."),
        ("assumed", None, "Spread of the 5 wood is taken from the other clubs."),
        ("doubted", 5, "A stop of 24 s beside the bunker may be a shot."),
        (say("measured"), None, "The receiver was good to about 3 m."),
    ]
    return pd.DataFrame([{"kind": kind, "hole": hole, "text": say(text)} for kind, hole, text in rows])


class _Play:
    """Play the holes of the plan, badly at times, with truth for every shot."""

    def __init__(self, numbers, plan, rng, say):
        self._rng, self._say, self.clock = rng, say, START
        self.shots, self.lines, self.compared, self.fixes, self.holes = [], [], [], [], {}
        for number in numbers:
            self._play_hole(number, plan[plan["hole"] == number])

    def _play_hole(self, number, planned):
        rng, say = self._rng, self._say
        targets = [np.array(FRAME.to_metres(*line.coords[-1])) for line in planned.geometry]
        ball, pin, lie, on, shot = np.array(hole_line(number).coords[0]), pin_of(number), "tee", False, 0
        while not on:
            shot += 1
            away = (targets[shot - 1] if shot <= len(targets) else pin) - ball
            reach = float(np.hypot(*away))
            away *= min(1.0, 185.0 / reach)
            ahead = away / np.hypot(*away)
            miss = rng.normal([-0.045 * reach, 0.0], [0.055 * reach, 0.05 * reach])
            if rng.random() < 0.06:
                miss[0] = -0.35 * reach
            finish = ball + away + miss[0] * ahead + miss[1] * np.array([ahead[1], -ahead[0]])
            leave = float(np.hypot(*(finish - pin)))
            on = leave < 14.0 or (shot > len(targets) and leave < 25.0) or shot == 7
            end_lie = "green" if on else str(rng.choice(["fairway", "fairway", "rough", "bunker"]))
            distance = float(np.hypot(*(finish - ball)))
            unsure = rng.random() < 0.08
            row = {
                "hole": number,
                "shot": shot,
                "club": say(min(BAG_M, key=lambda name, reach=reach: abs(BAG_M[name] - reach))),
                "club_source": "plan"
                if (number, shot) == (2, 2)
                else str(rng.choice(["marked", "inferred"])),
                "start_time": self.clock,
                "distance_m": distance,
                "path_m": 1.03 * distance,
                "progress_m": 0.98 * distance,
                "leave_m": leave,
                "lie": say(lie),
                "end_lie": say(end_lie),
                "confidence": 0.43 if unsure else float(rng.beta(14.0, 1.2)),
                "note": say("A second stop stood near." if unsure else ""),
            }
            self.shots.append(row)
            self.lines.append(FRAME.geometry_to_degrees(shapely.LineString([ball, finish])))
            if shot <= len(targets):
                self._compare(row, planned.iloc[shot - 1], miss)
            self._walk(number, ball, finish)
            ball, lie = finish, end_lie
        for _, row in planned.iloc[shot:].iterrows():
            self._compare({"club": "", "club_source": "", "end_lie": ""}, row, np.array([np.nan, np.nan]))
        putts = int(rng.integers(1, 4))
        out = number == 12
        self.holes[number] = {
            "shots": shot,
            "putts": None if out else putts,
            "penalties": int(number == 8),
            "strokes": None if out else shot + putts + int(number == 8),
        }
        self.clock += dt.timedelta(seconds=240)

    def _compare(self, shot, planned, miss):
        gap = float(np.hypot(*miss)) - planned["tolerance_m"]
        verdict = "" if np.isnan(gap) else "unsure" if abs(gap) < 1.5 else "yes" if gap < 0 else "no"
        self.compared.append(
            {
                "hole": planned["hole"],
                "shot": planned["shot"],
                "planned_club": planned["club"],
                "planned_distance_m": planned["distance_m"],
                "planned_leave_m": planned["leave_m"],
                "tolerance_m": planned["tolerance_m"],
                "long_m": float(miss[0]),
                "right_m": float(miss[1]),
                "miss_m": float(np.hypot(*miss)),
                "within_tolerance": verdict,
                "followed": "yes" if verdict else "",
                **{key: shot.get(key, np.nan) for key in ("distance_m", "path_m", "leave_m")},
                **{key: shot[key] for key in ("club", "club_source", "end_lie")},
            }
        )

    def _walk(self, number, ball, finish):
        steps = np.linspace(0.0, 1.0, max(int(np.hypot(*(finish - ball)) / 1.3), 2))
        wobble = self._rng.normal(0.0, 0.25, (len(steps), 2)).cumsum(axis=0) * 0.35
        wobble -= np.outer(steps, wobble[-1])
        for step, shift in zip(steps, wobble, strict=True):
            self.fixes.append((self.clock, number, *(ball + step * (finish - ball) + shift)))
            self.clock += dt.timedelta(seconds=1)
        self.clock += dt.timedelta(seconds=55)


def invented_round(*, holes=18, seed=7, units="yd", text=None, **header):
    """
    Make the tables of an invented round.

    `text` replaces every name and note that a person could have set.
    """
    numbers = list(range(1, holes + 1))

    def say(default):
        return default if text is None else text

    plan = invented_planned(numbers, say)
    play = _Play(numbers, plan, np.random.default_rng(seed), say)
    shots, comparison = geo_table(play.shots, play.lines), pd.DataFrame(play.compared)
    card = invented_holes(numbers, say, play.holes)
    time, hole, east, north = zip(*play.fixes, strict=True)
    lon, lat = FRAME.to_degrees(np.array(east), np.array(north))
    track = pd.DataFrame({"time": time, "lon_deg": lon, "lat_deg": lat, "part": hole, "hole": hole})
    clubs = (
        pd.DataFrame(shots)
        .groupby("club", as_index=False)
        .agg(
            shots=("shot", "size"),
            median_distance_m=("distance_m", "median"),
            median_path_m=("path_m", "median"),
        )
    )
    clubs["stated_distance_m"] = [BAG_M.get(name, np.nan) for name in clubs["club"]]
    clubs["sources"] = say("marked, inferred")
    head = {
        "player": say("Tamsin Arkwright"),
        "course": say("Mid-Ocean Links, invented"),
        "units": units,
        "time_zone": "Atlantic/Azores",
        "start_time": START,
        "end_time": play.clock,
        "credit": say("invented course, nobody to credit"),
        "invented": True,
        "strokes": int(card["strokes"].sum()),
        "par": int(card["par"].sum()),
        "personal_par": int(card["personal_par"].sum()),
        "putts": int(card["putts"].sum()),
        "penalties": int(card["penalties"].sum()),
        "shots_to_green": int(card["shots"].sum() + card["penalties"].sum()),
        "regulation_shots": int(card["regulation_shots"].sum()),
        **layup_summary(comparison, plan),
        **header,
    }
    return RoundTables(
        header=head,
        holes=card,
        shots=shots,
        plan=plan,
        comparison=comparison,
        clubs=clubs.sort_values("stated_distance_m", ascending=False),
        notes=invented_notes(say),
        track=track,
        shapes=invented_shapes(numbers),
        hole_lines=invented_lines(numbers),
    )


def invented_plan(*, holes=18, text=None, positions=True, units="yd"):
    """Make the tables of an invented plan."""
    numbers = list(range(1, holes + 1))

    def say(default):
        return default if text is None else text

    plan = invented_planned(numbers, say)
    where = {"shapes": invented_shapes(numbers), "hole_lines": invented_lines(numbers)}
    if not positions:
        plan, where = plan.set_geometry([None] * len(plan), crs="EPSG:4326"), {}
    head = {
        "player": say("Tamsin Arkwright"),
        "course": say("Mid-Ocean Links, invented"),
        "units": units,
        "credit": say("invented course, nobody to credit"),
        "invented": True,
    }
    return PlanTables(
        header=head, holes=invented_holes(numbers, say), plan=plan, notes=invented_notes(say), **where
    )
