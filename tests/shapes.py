"""The shelf of tiny invented tracks and holes: whole metres and whole seconds, in the open ocean."""

from __future__ import annotations

import math
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString, Point, box

from geo.frame import LocalFrame
from geo.gpx import GpxFile, PointAccount
from geo.track import join_tracks
from tests.geo.gpx_texts import invented_gpx
from trackgolf.bag import Approach, Bag, Club
from trackgolf.course import Course, Hole

__all__ = [
    "DOGLEG",
    "FRAME",
    "STRAIGHT",
    "Trail",
    "card_of",
    "drop_points",
    "gpx_of",
    "jitter",
    "lonlat",
    "plan_of",
    "tiny_bag",
    "tiny_course",
    "tiny_hole",
    "track_of",
    "trail",
    "trail_through",
]

# Open ocean: no course, no player, no home.
FRAME = LocalFrame(-31.0, 47.0)
START = pd.Timestamp("2026-05-03T08:00:00Z")
START_S = START.timestamp()

# Lines of play, metres east and north.
STRAIGHT = ((0, 0), (0, 300))
DOGLEG = ((0, 0), (0, 200), (150, 200))


@dataclass(frozen=True)
class Trail:
    """Where somebody was: seconds since the start, metres east and north."""

    time_s: np.ndarray
    east_m: np.ndarray
    north_m: np.ndarray

    @property
    def columns(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The three together, as functions take them."""
        return self.time_s, self.east_m, self.north_m


def trail(*nodes, every_s=1):
    """Draw a trail through nodes (second, east, north), straight and even between them, a point every few seconds."""
    time_s, east_m, north_m = (np.array(column, dtype=float) for column in zip(*nodes, strict=True))
    clock = np.arange(time_s[0], time_s[-1] + 1, every_s, dtype=float)
    return Trail(clock, np.interp(clock, time_s, east_m), np.interp(clock, time_s, north_m))


def trail_through(*places, pace_mps=1.25, every_s=1):
    """
    Draw a trail through places (east, north, seconds stood there), walked at an even pace.

    Gives the trail and the true stands, rows of (start, end) in seconds, for the places where any time was stood.
    """
    nodes, stands, clock = [], [], 0
    for number, (east, north, stood_s) in enumerate(places):
        if number:
            before = places[number - 1]
            clock += max(round(math.hypot(east - before[0], north - before[1]) / pace_mps), 1)
        nodes.append((clock, east, north))
        if stood_s:
            stands.append((clock, clock + stood_s))
            clock += stood_s
            nodes.append((clock, east, north))
    return trail(*nodes, every_s=every_s), np.array(stands, dtype=float)


def drop_points(whole, *spans):
    """Leave out the points strictly inside spans (start, end) in seconds, as a recorder that falls silent."""
    keep = np.ones(whole.time_s.size, dtype=bool)
    for start, end in spans:
        keep &= (whole.time_s <= start) | (whole.time_s >= end)
    return Trail(*(column[keep] for column in whole.columns))


def jitter(whole, sigma_m, rng, *, rho=0.98):
    """Add position error: a first-order autoregression a point, one standard deviation on each axis."""
    shocks = rng.normal(0.0, sigma_m * math.sqrt(1 - rho**2), (whole.time_s.size, 2))
    error = np.empty_like(shocks)
    error[0] = rng.normal(0.0, sigma_m, 2)
    for row in range(1, len(error)):
        error[row] = rho * error[row - 1] + shocks[row]
    return Trail(whole.time_s, whole.east_m + error[:, 0], whole.north_m + error[:, 1])


def lonlat(east_m, north_m):
    """Degrees of metres in the shelf's frame."""
    return FRAME.to_degrees(east_m, north_m)


def track_of(whole, *, marks=()):
    """Make the track of a trail; marks are (second or None, east, north, name)."""
    lon_deg, lat_deg = lonlat(whole.east_m, whole.north_m)
    time = START + pd.to_timedelta(whole.time_s, unit="s")
    points = pd.DataFrame(
        {
            "time": pd.Series(time).astype("datetime64[ns, UTC]"),
            "lon_deg": lon_deg,
            "lat_deg": lat_deg,
            "ele_m": np.nan,
            "hdop": np.nan,
            "segment": 0,
        }
    )
    account = PointAccount(len(points), len(points), {})
    file = GpxFile(points, _marks(marks), account, (), None, None, None, "1.1", "invented.gpx")
    return join_tracks([file])


def _marks(marks):
    rows = []
    for second, east, north, name in marks:
        time = pd.NaT if second is None else START + pd.Timedelta(seconds=second)
        rows.append((time, *(float(value) for value in lonlat(east, north)), name))
    table = pd.DataFrame(rows, columns=["time", "lon_deg", "lat_deg", "name"])
    table["time"] = pd.to_datetime(table["time"], utc=True).astype("datetime64[ns, UTC]")
    return table.astype({"lon_deg": float, "lat_deg": float, "name": str})


def gpx_of(whole, *, marks=()):
    """Write a trail as a GPX document."""
    table = track_of(whole, marks=marks)
    points = [
        f'<trkpt lat="{row.lat_deg:.7f}" lon="{row.lon_deg:.7f}"><ele>12.5</ele><time>{row.time:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'
        for row in table.points.itertuples()
    ]
    said = [
        f'<wpt lat="{row.lat_deg:.7f}" lon="{row.lon_deg:.7f}"><time>{row.time:%Y-%m-%dT%H:%M:%SZ}</time>'
        f"<name>{row.name}</name></wpt>"
        for row in table.marks.itertuples(index=False)
    ]
    head = "<metadata><desc>Invented track</desc></metadata>"
    return invented_gpx(*points, head=head, marks="".join(said))


def tiny_hole(number, corners, *, par=4, index=None, pin=None, green_m=12):
    """Make a hole through corners in metres, with a round green about its end."""
    line = LineString(corners)
    return Hole(
        number,
        par,
        number if index is None else index,
        line.length,
        FRAME.geometry_to_degrees(line),
        FRAME.geometry_to_degrees(Point(corners[-1]).buffer(green_m)),
        None if pin is None else FRAME.geometry_to_degrees(Point(pin)),
    )


def tiny_course(*holes, shapes=(), tees=True):
    """Make a course of holes; shapes are (kind, geometry in metres), tees 8 m square at the start of each line."""
    rows = [(kind, pd.NA, FRAME.geometry_to_degrees(shape)) for kind, shape in shapes]
    for hole in holes if tees else ():
        east, north = FRAME.to_metres(*hole.line.coords[0])
        square = box(east - 4, north - 4, east + 4, north + 4)
        rows.append(("tee", hole.number, FRAME.geometry_to_degrees(square)))
    table = gpd.GeoDataFrame(
        {
            "kind": [kind for kind, _, _ in rows],
            "hole": pd.array([number for _, number, _ in rows], dtype="Int64"),
            "name": [""] * len(rows),
        },
        geometry=[shape for _, _, shape in rows],
        crs="EPSG:4326",
    )
    return Course("Invented Links", tuple(holes), table, invented=True)


def tiny_bag(*, handicap=18.0, units="m"):
    """Make a bag of five clubs in metres: 180, 160, 130, 110 and 70."""
    stated = {"driver": 180, "5 wood": 160, "7 iron": 130, "9 iron": 110, "sand wedge": 70}
    clubs = tuple(
        Club(name, 0.94 * distance_m, 0.06 * distance_m, 0.08 * distance_m, 0.06 * distance_m, 0.1)
        for name, distance_m in stated.items()
    )
    return Bag("Ines Okafor", units, None, handicap, clubs, (Approach("9 iron", 110.0),), ())


def card_of(*rows):
    """Make a played card of rows (hole, strokes, putts, penalties[, clubs]), None unknown."""
    table = pd.DataFrame(
        [(*row, ()) if len(row) == 4 else row for row in rows],
        columns=["hole", "strokes", "putts", "penalties", "clubs"],
    )
    return table.astype(dict.fromkeys(("strokes", "putts", "penalties"), "Int64"))


def plan_of(*rows, tolerance_m=15.0):
    """Make planned shots of rows (hole, shot, club, role, (east, north) of start, of target, and of the pin)."""
    shots = []
    for hole, shot, club, role, start, target, pin in rows:
        start_deg, target_deg = lonlat(*start), lonlat(*target)
        shots.append(
            {
                "hole": hole,
                "shot": shot,
                "club": club,
                "role": role,
                "distance_m": math.dist(start, target),
                "leave_m": math.dist(target, pin),
                "tolerance_m": tolerance_m,
                "start_lon_deg": float(start_deg[0]),
                "start_lat_deg": float(start_deg[1]),
                "target_lon_deg": float(target_deg[0]),
                "target_lat_deg": float(target_deg[1]),
            }
        )
    return pd.DataFrame(shots)
