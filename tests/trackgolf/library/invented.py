"""Invented rounds on a course of three holes in the open sea, as files to import."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta

import numpy as np
from shapely.geometry import LineString, Point, box

from tests.shapes import gpx_of, trail_through
from tests.trackgolf.invented_course import geojson

LINES = {1: ((0, 0), (0, 300)), 2: ((60, 300), (60, 150)), 3: ((120, 150), (120, 550))}
PARS = {1: 4, 2: 3, 3: 5}
PLACES = [
    (-10, -30, 40),
    (0, 0, 50), (5, 150, 40), (0, 262, 40), (2, 302, 90),
    (60, 300, 60), (60, 148, 80),
    (120, 150, 50), (125, 300, 40), (118, 420, 40), (120, 551, 90),
    (150, 560, 60),
]  # fmt: skip
# Somebody's home, 900 m to the west: no part of a library or a file may hold it unless asked for.
HOME = (-900, 100, 300)
CLUBS = {
    "driver": (170, 10),
    "5 wood": (152, 8),
    "7 iron": (124, 6),
    "9 iron": (106, 4),
    "sand wedge": (69, 1),
}
CARD = "hole,strokes,putts,penalties\n1,5,2,0\n2,3,2,0\n3,5,2,0\n"
PLAYER = "Ines Okafor"


def bag(player=PLAYER, carry_m=170):
    """Write a bag; another carry of the driver is another version of it."""
    clubs = CLUBS | {"driver": (carry_m, 10)}
    listed = [
        f'[[club]]\nname = "{name}"\ncarry = {carry}\nroll = {roll}\nspread_long = 12\nspread_side = 9\nmishit_share = 0.1'
        for name, (carry, roll) in clubs.items()
    ]
    head = f'# invented\nunits = "m"\n[player]\nname = "{player}"\nplaying_handicap = 18'
    return "\n".join([head, *listed, '[[approach]]\nclub = "9 iron"\ndistance = 110\n'])


def course(name="Invented Links", lon=-31.0, lat=47.0):
    """Draw the course somewhere in the sea."""
    drawn = [({"leisure": "golf_course", "name": name}, box(-80, -80, 220, 620))]
    for number, line in LINES.items():
        tags = {"golf": "hole", "ref": str(number), "par": str(PARS[number]), "handicap": str(number)}
        east, north = line[0]
        drawn += [
            (tags, LineString(line)),
            ({"golf": "tee"}, box(east - 4, north - 4, east + 4, north + 4)),
            ({"golf": "green"}, Point(line[-1]).buffer(12)),
        ]
    return json.dumps(geojson(drawn, lon, lat))


def track(*, days=0.0, places=None, shift_m=0.0, home=False):
    """Walk the round, some days later, somewhat to the east, from home and back."""
    stops = [(east + shift_m, north, dwell) for east, north, dwell in places or PLACES]
    trail, _ = trail_through(*([HOME, *stops, HOME] if home else stops))
    return later(gpx_of(trail), days)


def later(text, days):
    """Move all times of a GPX text."""

    def moved(found):
        return f"{datetime.fromisoformat(found[1]) + timedelta(days=days):%Y-%m-%dT%H:%M:%S}Z"

    return re.sub(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)Z", moved, text)


def moved_east(text, degrees):
    """Move all places of a GPX text."""
    return re.sub(r'lon="([^"]+)"', lambda found: f'lon="{float(found[1]) + degrees:.7f}"', text)


def season(folder, rounds, *, seed=1):
    """Write rounds of a season, each a little different, and what belongs to them."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "bag.toml").write_text(bag(), encoding="utf-8")
    (folder / "course.geojson").write_text(course(), encoding="utf-8")
    for number in range(rounds):
        places = [(east, north, dwell + int(rng.integers(0, 15))) for east, north, dwell in PLACES]
        text = track(days=number, places=places, shift_m=float(rng.uniform(-1, 1)))
        (folder / f"round_{number:03d}.gpx").write_text(text, encoding="utf-8")
    return folder
