"""``trackgolf track``: what track files hold, before any golf."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trackgolf.cli.options import verbose_option, warn
from trackgolf.text_table import printable

if TYPE_CHECKING:
    import pandas as pd

    from geo.track import Track

__all__ = ["track"]

_MOST_NAMES = 8


@click.command(
    epilog="Lengths are metres; positions in the JSON are WGS 84 longitude and latitude, times UTC."
)
@click.argument("tracks", nargs=-1, required=True, metavar="TRACK...", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the result for machines.")
@verbose_option
def track(tracks: tuple[Path, ...], as_json: bool) -> None:
    """
    Say what GPX files hold: points seen, kept and dropped, times, gaps, length, stops, marks.

    Several TRACK files are one round, in any order. Every point in the files is accounted for: those seen are
    those kept and those dropped, by reason. A gap is a pause of the recorder; without movement it is most likely
    a stop. The length goes straight from point to point and is longer than the walk where positions jitter.

    \b
    Example:
      trackgolf track front-nine.gpx back-nine.gpx
    """
    from geo.geodesic import line_length_m
    from geo.stops import stops_of_track
    from geo.track import read_tracks

    joined = read_tracks(tracks)
    points = joined.points
    length_m = line_length_m(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    stops = stops_of_track(points)
    for warning in joined.warnings:
        warn(warning)
    if as_json:
        click.echo(json.dumps(_for_machines(joined, length_m, stops), indent=2, allow_nan=False))
    else:
        for name, text in _for_people(joined, length_m, stops):
            click.echo(f"{name:<9}{printable(text)}")


def _for_machines(joined: Track, length_m: float, stops: pd.DataFrame) -> dict[str, Any]:
    account, points = joined.account, joined.points
    return {
        "points_seen": account.seen,
        "points_kept": account.kept,
        "dropped": account.dropped,
        "first_time": _utc(points["time"].iloc[0]),
        "last_time": _utc(points["time"].iloc[-1]),
        "gaps": [
            {
                "start_time": _utc(gap["start_time"]),
                "end_time": _utc(gap["end_time"]),
                "duration_s": gap["duration_s"],
                "moved_m": round(gap["moved_m"], 3),
            }
            for gap in joined.gaps.to_dict("records")
        ],
        "length_m": round(length_m, 3),
        "stops": [
            {
                "start_time": _utc(stop["start_time"]),
                "dwell_s": round(stop["dwell_s"], 3),
                "lon": round(stop["lon_deg"], 7),
                "lat": round(stop["lat_deg"], 7),
                "sigma_m": round(stop["sigma_m"], 3),
            }
            for stop in stops.to_dict("records")
        ],
        "marks": [
            {"time": _utc(mark["time"]), "lon": mark["lon_deg"], "lat": mark["lat_deg"], "name": mark["name"]}
            for mark in joined.marks.to_dict("records")
        ],
        "warnings": list(joined.warnings),
    }


def _for_people(joined: Track, length_m: float, stops: pd.DataFrame) -> list[tuple[str, str]]:
    from reports.show import local_time
    from trackgolf.time_zone import time_zone_of

    account, points, gaps = joined.account, joined.points, joined.gaps
    zone = time_zone_of(float(points["lon_deg"].median()), float(points["lat_deg"].median()))
    first, last = points["time"].iloc[0], points["time"].iloc[-1]
    # A zone at sea has a name whose sign is turned round; an offset is plain.
    offset = f"{local_time(first.to_pydatetime(warn=False), zone):%z}"
    named = f"UTC{offset[:3]}:{offset[3:]}" if zone.startswith("Etc/") else zone
    lines = [("Points", f"{account.seen} seen, {account.kept} kept")]
    lines += [("Dropped", f"{count} {reason.replace('_', ' ')}") for reason, count in account.dropped.items()]
    lines += [
        ("First", f"{local_time(first.to_pydatetime(warn=False), zone):%Y-%m-%d %H:%M:%S} ({named})"),
        (
            "Last",
            f"{local_time(last.to_pydatetime(warn=False), zone):%Y-%m-%d %H:%M:%S}, {_span((last - first).total_seconds())} later",
        ),
        ("Length", _length(length_m)),
    ]
    if len(gaps):
        in_all = f"{len(gaps)}, the longest {_span(float(gaps['duration_s'].max()))}"
        lines.append(("Gaps", f"{in_all}; {_length(float(gaps['moved_m'].sum()))} of the length lie in them"))
    else:
        lines.append(("Gaps", "none"))
    lines.append(("Stops", f"{len(stops)}" if len(stops) else "none"))
    names = [name or "(no name)" for name in joined.marks["name"]]
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    listed = f": {', '.join(names[:_MOST_NAMES])}{more}" if names else ""
    lines.append(("Marks", f"{len(names) or 'none'}{listed}"))
    return lines


def _utc(time: pd.Timestamp) -> str | None:
    """Write a time as ISO 8601 UTC, to the millisecond where it is not a whole second."""
    import pandas as pd

    if pd.isna(time):
        return None
    nearest = time.round("ms")
    text = nearest.isoformat(timespec="seconds" if nearest.microsecond == 0 else "milliseconds")
    return text.replace("+00:00", "Z")


def _span(span_s: float) -> str:
    seconds = round(span_s)
    hours, minutes = seconds // 3600, seconds % 3600 // 60
    if hours:
        return f"{hours} h {minutes} min"
    return f"{minutes} min {seconds % 60} s" if minutes else f"{seconds} s"


def _length(length_m: float) -> str:
    return f"{length_m:.0f} m" if length_m < 10_000 else f"{length_m / 1000:.1f} km"
