"""A round as the numbers and words that the map draws: plain values, ready for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely

from geo.units import to_yards
from trackgolf.corrections import Corrections
from trackgolf.ground import Ground
from trackgolf.library.rebuild import local_time
from trackgolf.reconstruct import Round
from trackgolf.tables_course import course_lines, course_shapes
from trackgolf.web.entry_words import entry_words

__all__ = ["ground_of", "moment_name", "state_of"]

# How the map is drawn; common practice, no source. Largest distance by which a shape may leave the real one [m].
_SHAPE_M = 0.3
# The walk is drawn by points this far apart, or this long where it stands still [m], [s].
_WALK_M, _WALK_S = 2.0, 20.0
# Decimals of a degree: 0.11 m at most.
_DECIMALS = 6
# The order in which shapes are laid down; what comes later lies on top, what is not named here below all.
_ORDER = (
    "course", "rough", "driving_range", "out_of_bounds", "fairway", "cartpath", "water", "water_yellow", "water_red",
    "bunker", "tee", "green", "clubhouse", "pin",
)  # fmt: skip


def ground_of(played: Round, time_zone: str) -> dict[str, Any]:
    """
    Give what no correction changes: the course, and where the player walked.

    Parameters
    ----------
    played : Round
        The round.
    time_zone : str
        Zone of the course, IANA name.

    Returns
    -------
    dict
        ``shapes`` (each ``kind``, ``hole`` and ``geometry`` in GeoJSON),
        ``lines`` (each ``hole`` and ``points``), and ``walk``: lists of
        longitude, latitude [deg] and time [s] since 1970, a list for each
        stretch without a gap. ``utc_offset_s`` leads from these times to
        those of a clock at the course.
    """
    shapes, lines = course_shapes(played.course), course_lines(played.course)
    kinds = shapes["kind"].tolist()
    rank = [_ORDER.index(kind) if kind in _ORDER else -1 for kind in kinds]
    outlines = _in_degrees(
        shapely.simplify(played.ground.frame.geometry_to_metres(shapes.geometry.to_numpy()), _SHAPE_M),
        played.ground,
    )
    holes = shapes["hole"].tolist()
    start = played.walk["time"].iloc[0]
    return {
        "shapes": [
            {
                "kind": kinds[row] if rank[row] >= 0 else "other",
                "hole": _none(holes[row]),
                "geometry": shapely.geometry.mapping(outlines[row]),
            }
            for row in np.argsort(rank, kind="stable").tolist()
            if outlines[row] is not None and not outlines[row].is_empty
        ],
        "lines": [
            {
                "hole": int(hole),
                "points": shapely.get_coordinates(
                    _in_degrees(played.ground.frame.geometry_to_metres(line), played.ground)
                ).tolist(),
            }
            for hole, line in zip(lines["hole"], lines.geometry, strict=True)
        ],
        "walk": _walk(played),
        "utc_offset_s": (local_time(start, time_zone).utcoffset() or pd.Timedelta(0)).total_seconds(),
    }


def state_of(played: Round, corrections: Corrections, time_zone: str, clubs: Sequence[str]) -> dict[str, Any]:
    """
    Give what corrections change: the shots, the scores, the stops that are no shots, and what was set right.

    Parameters
    ----------
    played : Round
        The round.
    corrections : Corrections
        What was set right in it.
    time_zone : str
        Zone of the course, IANA name.
    clubs : sequence of str
        Names of the clubs.

    Returns
    -------
    dict
        ``shots``, ``playings`` (of holes, in order of play), ``stops``,
        ``entries``, ``doubts`` and ``clubs``.
    """
    holes = [_plain(row) for row in played.holes.to_dict("records")]
    count = pd.Series([hole["hole"] for hole in holes]).value_counts().to_dict()
    shown = (
        "hole", "visit", "par", "shots", "putts", "penalties", "strokes", "note", "confidence"
    )  # fmt: skip
    return {
        "shots": [_shot(row, played, time_zone) for row in played.shots.to_dict("records")],
        "playings": [
            {key: hole[key] for key in shown}
            | {"again": int(count[hole["hole"]]) > 1, "left_s": _seconds(hole["last_time"])}
            for hole in holes
        ],
        "stops": _stops(played, time_zone),
        "entries": [
            {"id": entry.id, "words": entry_words(entry, time_zone), "note": entry.note}
            for entry in corrections.entries
        ],
        "doubts": [note.text for note in played.notes if "correction" in note.text],
        "clubs": list(clubs),
    }


def moment_name(time: pd.Timestamp) -> str:
    """
    Name a shot by the moment of its stroke, as the library and corrections write it.

    Parameters
    ----------
    time : pandas.Timestamp
        The moment, UTC.

    Returns
    -------
    str
        ISO 8601, to the microsecond.

    Examples
    --------
    >>> moment_name(pd.Timestamp("2026-05-16T09:31:12.5Z"))
    '2026-05-16T09:31:12.500000+00:00'
    """
    return str(time.to_pydatetime(warn=False).isoformat(timespec="microseconds"))


def _shot(row: dict[Any, Any], played: Round, time_zone: str) -> dict[str, Any]:
    values = _plain(row)
    length_m = values["distance_m"]
    units = played.bag.units
    keys = ("hole", "visit", "shot", "club", "club_source", "lie", "end_lie", "penalty", "confidence", "corrected", "note")  # fmt: skip
    return {key: values[key] for key in keys} | {
        "name": moment_name(row["start_time"]),
        "time_s": row["start_time"].timestamp(),
        "clock": f"{local_time(row['start_time'], time_zone):%H:%M:%S}",
        "length": None
        if length_m is None
        else f"{to_yards(length_m) if units == 'yd' else length_m:.0f} {units}",
        "start": _place(values["start_lon_deg"], values["start_lat_deg"], played.ground),
        "end": _place(values["end_lon_deg"], values["end_lat_deg"], played.ground),
    }


def _stops(played: Round, time_zone: str) -> list[dict[str, Any]]:
    """Where the player stood without playing a shot, as far as is known."""
    stands = played.stands
    taken = set(played.shots["stand"].dropna().astype(int))
    free = stands[~stands.index.isin(list(taken))]
    times = pd.to_datetime(0.5 * (free["start_s"] + free["end_s"]), unit="s", utc=True)
    return [
        {
            "time_s": time.timestamp(),
            "clock": f"{local_time(time, time_zone):%H:%M:%S}",
            "stood_s": round(float(stood_s)),
            "place": _place(lon, lat, played.ground),
            "likely": round(float(likely), 3),
        }
        for time, stood_s, lon, lat, likely in zip(
            times, free["dwell_s"], free["lon_deg"], free["lat_deg"], free["shot_probability"], strict=True
        )
    ]


def _walk(played: Round) -> list[list[list[float]]]:
    walk = played.walk
    time_s = walk["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    part = walk["part"].to_numpy()
    east, north = played.ground.frame.to_metres(walk["lon_deg"].to_numpy(), walk["lat_deg"].to_numpy())
    lon, lat = _unwrapped(walk["lon_deg"].to_numpy(), played.ground), walk["lat_deg"].to_numpy()
    stretches: list[list[list[float]]] = []
    last = -1
    for index in range(len(time_s)):
        fresh = last < 0 or part[index] != part[last]
        if fresh:
            stretches.append([])
        near = not fresh and np.hypot(east[index] - east[last], north[index] - north[last]) < _WALK_M
        if near and time_s[index] - time_s[last] < _WALK_S:
            continue
        stretches[-1].append(
            [round(float(lon[index]), _DECIMALS), round(float(lat[index]), _DECIMALS), round(float(time_s[index]), 1)]
        )  # fmt: skip
        last = index
    return stretches


def _in_degrees(metres: Any, ground: Ground) -> Any:
    """Degrees that do not jump at the antimeridian, for lines must not cross the map."""

    def transform(xy: np.ndarray) -> np.ndarray:
        lon, lat = ground.frame.to_degrees(xy[:, 0], xy[:, 1])
        return np.round(np.column_stack([_unwrapped(lon, ground), lat]), _DECIMALS)

    return shapely.transform(metres, transform)


def _unwrapped(lon_deg: Any, ground: Ground) -> Any:
    middle = ground.frame.lon_deg
    return middle + (np.asarray(lon_deg) - middle + 180.0) % 360.0 - 180.0


def _place(lon_deg: float | None, lat_deg: float | None, ground: Ground) -> list[float] | None:
    if lon_deg is None or lat_deg is None:
        return None
    return [round(float(_unwrapped(lon_deg, ground)), 7), round(float(lat_deg), 7)]


def _plain(row: dict[Any, Any]) -> dict[str, Any]:
    """Values that JSON has, with None for what is not known."""
    return {
        str(key): None if not isinstance(value, str) and pd.isna(value) else _python(value)
        for key, value in row.items()
    }


def _seconds(time: pd.Timestamp | None) -> float | None:
    return None if time is None else time.timestamp()


def _python(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def _none(value: Any) -> int | None:
    return None if pd.isna(value) else int(value)
