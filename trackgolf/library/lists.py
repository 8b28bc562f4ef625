"""Rounds in lines and columns, for people and for machines."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd

from trackgolf.library.columns import COUNTS
from trackgolf.library.rebuild import local_time
from trackgolf.method import method_version
from trackgolf.text_table import printable, text_table
from trackgolf.time_zone import zone_named

__all__ = ["round_line", "rounds_json", "rounds_table", "shots_table"]


def round_line(row: pd.Series) -> str:
    """
    Say a round in a line.

    Parameters
    ----------
    row : pandas.Series
        A row of `read_rounds`.

    Returns
    -------
    str
        Number, day and local time, player, course, holes, strokes.
    """
    start = local_time(row["start_time"], row["time_zone"])
    parts = [
        f"round {row['round']}",
        f"{start:%Y-%m-%d %H:%M}",
        printable(row["player"]),
        printable(row["course"]),
        f"{row['holes']} holes",
    ]
    if not pd.isna(row["strokes"]):
        parts.append(f"{row['strokes']} strokes")
    return ", ".join(parts)


def rounds_table(rounds: pd.DataFrame) -> str:
    """
    Lay out rounds in columns.

    Parameters
    ----------
    rounds : pandas.DataFrame
        From `read_rounds`.

    Returns
    -------
    str
        A line a round, with the local time of the first stroke, and a mark
        where another method rebuilt it than would today.
    """
    rows: list[tuple[str, ...]] = [
        (
            "round",
            "day",
            "start",
            "holes",
            "strokes",
            "personal par",
            "putts",
            "layups within",
            "player, course",
        )
    ]
    now = method_version()
    older = False
    starts = _local_starts(rounds)
    for row, start in zip(rounds.to_dict("records"), starts, strict=True):
        layups = (
            ""
            if not row["planned"] or pd.isna(row["layups"])
            else f"{row['layups_within']} of {row['layups']}"
        )
        stale = row["method"] != now
        older |= stale
        rows.append(
            (
                f"{row['round']}{'*' if stale else ''}",
                row["day"],
                start,
                str(row["holes"]),
                _number(row["strokes"]),
                _number(row["personal_par"]),
                _number(row["putts"]),
                layups,
                printable(f"{row['player']}, {row['course']}{' (invented)' if row['invented'] else ''}"),
            )
        )
    text = text_table(rows)
    return f"{text}\n* made by another method; trackgolf rounds --rebuild makes it anew" if older else text


def rounds_json(rounds: pd.DataFrame) -> str:
    """
    Write rounds for machines.

    Parameters
    ----------
    rounds : pandas.DataFrame
        From `read_rounds`.

    Returns
    -------
    str
        JSON: a list with an object a round, times UTC, null where unknown.
    """
    listed = []
    for row in rounds.to_dict("records"):
        entry: dict[str, Any] = {str(key): value for key, value in row.items()}
        for name in ("start_time", "end_time"):
            entry[name] = row[name].strftime("%Y-%m-%dT%H:%M:%SZ")
        for name in COUNTS:
            entry[name] = None if pd.isna(row[name]) else int(row[name])
        entry["tee"] = row["tee"] or None
        listed.append(entry)
    return json.dumps(listed, indent=1, ensure_ascii=False)


def shots_table(shots: pd.DataFrame, time_zone: str) -> str:
    """
    Lay out the shots of a round in columns.

    Parameters
    ----------
    shots : pandas.DataFrame
        From `read_shots`.
    time_zone : str
        IANA name of the zone the times are told in.

    Returns
    -------
    str
        A line a shot, lengths in metres.
    """
    rows: list[tuple[str, ...]] = [
        ("hole", "shot", "time", "club", "known", "metres", "left", "from", "to", "sure")
    ]
    rows += [
        (
            str(shot["hole"]),
            str(shot["shot"]),
            f"{local_time(shot['start_time'], time_zone):%H:%M:%S}",
            printable(shot["club"]),
            shot["club_source"],
            _number(shot["distance_m"]),
            _number(shot["leave_m"]),
            shot["lie"],
            shot["end_lie"],
            f"{shot['confidence']:.0%}",
        )
        for shot in shots.to_dict("records")
    ]
    return text_table(rows)


def _local_starts(rounds: pd.DataFrame) -> list[str]:
    """Times of the first strokes by the clocks of their courses; all rounds of a zone together."""
    starts = pd.Series("", index=rounds.index)
    for zone, mine in rounds.groupby("time_zone"):
        local = mine["start_time"].dt.tz_convert(zone_named(str(zone)))
        starts[mine.index] = local.dt.strftime("%H:%M")
    return starts.tolist()


def _number(value: Any) -> str:
    return "" if pd.isna(value) else f"{value:.0f}"
