"""What really happened: strokes, stands and the card, and the tables made of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field

import numpy as np
import pandas as pd

from tests.simulator.courses import InventedCourse
from tests.simulator.geometry import Array
from tests.simulator.walker import Stand

__all__ = ["Ball", "Stroke", "card_table", "merge_stands", "stands_table", "strokes_table"]

STROKES = ("shot", "putt")


@dataclass
class Stroke:
    """One stroke as it really was; `counts` is false for provisionals given up and practice balls."""

    time: float  # seconds since 1970, the moment of the stroke
    hole: int
    turn: int  # place of the hole in the order of play, from 0
    shot: int | None  # strokes from off the green, from 1 within the hole; None for a putt on the green
    kind: str  # full, part, chip, putt
    club: str
    lie: str
    start: Array
    end: Array
    end_lie: str = "unknown"
    penalty: int = 0  # penalty strokes that follow from this stroke
    reason: str = ""
    planned_shot: int | None = None  # number of the planned shot whose target was aimed at
    planned_club: bool = False
    in_hole: bool = False
    counts: bool = True
    conceded: bool = False  # counted but never played
    air: bool = False  # missed the ball
    mishit: str = ""


@dataclass
class Ball:
    """A ball in play and the state of its player."""

    xy: Array
    lie: str
    strokes: int = 0
    done: bool = False
    free_at: float = 0.0
    last: Array = field(default_factory=lambda: np.zeros(2))
    visited: bool = False  # the wearer already stands at it
    resting: float = 0.0  # seconds the wearer has already waited there
    seek: Array | None = None  # where an earlier ball must be looked for first
    seek_s: float = 0.0


def strokes_table(strokes: Sequence[Stroke], course: InventedCourse) -> pd.DataFrame:
    """Return a row a stroke, in time order, with metres in the course's plane and degrees."""
    strokes = sorted(strokes, key=lambda s: s.time)
    frame = pd.DataFrame([asdict(s) for s in strokes]).drop(columns=["start", "end"])
    frame["shot"] = pd.array(frame["shot"], dtype="Int64")
    frame["planned_shot"] = pd.array(frame["planned_shot"], dtype="Int64")
    start, end = np.array([s.start for s in strokes]), np.array([s.end for s in strokes])
    for name, xy in (("start", start), ("end", end)):
        lonlat = course.plane.to_degrees(xy)
        frame[f"{name}_east_m"], frame[f"{name}_north_m"] = xy[:, 0], xy[:, 1]
        frame[f"{name}_lon_deg"], frame[f"{name}_lat_deg"] = lonlat[:, 0], lonlat[:, 1]
    frame["distance_m"] = np.hypot(*(end - start).T)
    return frame


def merge_stands(stands: Sequence[Stand]) -> list[Stand]:
    """Join stands at one place that follow each other; a stroke gives the reason, else the longer part."""
    out: list[Stand] = []
    for s in sorted(stands, key=lambda s: s.start):
        last = out[-1] if out else None
        joined = (
            last is not None
            and s.start - last.end < 6
            and np.hypot(*(s.xy - last.xy)) < 2.6
            and "search" not in (s.why, last.why)
            and not (last.why in STROKES and s.why in STROKES)
        )
        if not joined or last is None:
            out.append(s)
            continue
        longer = s if s.end - s.start > last.end - last.start else last
        keep = s if s.why in STROKES else last if last.why in STROKES else longer
        out[-1] = Stand(last.start, s.end, keep.xy, keep.why, keep.hole)
    return out


def stands_table(stands: Sequence[Stand], course: InventedCourse) -> pd.DataFrame:
    """Return a row a stand."""
    xy = np.array([s.xy for s in stands]).reshape(-1, 2)
    lonlat = course.plane.to_degrees(xy)
    return pd.DataFrame(
        {
            "start": [s.start for s in stands],
            "end": [s.end for s in stands],
            "east_m": xy[:, 0],
            "north_m": xy[:, 1],
            "lon_deg": lonlat[:, 0],
            "lat_deg": lonlat[:, 1],
            "why": [s.why for s in stands],
            "hole": [s.hole for s in stands],
        }
    )


def card_table(strokes: Sequence[Stroke], holes: Sequence[tuple[int, int]]) -> pd.DataFrame:
    """Return a row a hole played, given (turn, hole): strokes = shots + putts + penalties."""
    rows = []
    for turn, hole in holes:
        mine = sorted((s for s in strokes if s.turn == turn and s.counts), key=lambda s: s.time)
        picked = bool(mine and mine[-1].end_lie == "picked_up")
        putts = sum(s.shot is None for s in mine)
        penalties = sum(s.penalty for s in mine)
        rows.append(
            {
                "turn": turn,
                "hole": hole,
                "strokes": None if picked else len(mine) + penalties,
                "putts": putts,
                "penalties": penalties,
                "shots": len(mine) - putts,
                "clubs": ";".join(s.club for s in mine if s.shot is not None),
                "picked_up": picked,
            }
        )
    frame = pd.DataFrame(rows)
    for column in ("strokes", "putts", "penalties", "shots"):
        frame[column] = pd.array(frame[column], dtype="Int64")
    return frame
