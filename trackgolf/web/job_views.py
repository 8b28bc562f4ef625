"""The page of an upload: how far it is, and what became of each track."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Hashable
from datetime import UTC, datetime
from typing import Any

import pandas as pd
from flask import Flask, abort, render_template
from werkzeug.wrappers import Response

from trackgolf.errors import LibraryError
from trackgolf.library.confirming import guessed_rounds
from trackgolf.library.jobs import Job, read_job, read_outcomes, read_pace
from trackgolf.library.keys import player_key
from trackgolf.library.outcomes import Outcome
from trackgolf.library.read import read_rounds
from trackgolf.library.rebuild import local_time
from trackgolf.library.shelf import player_numbers
from trackgolf.web.opened import library_if_any
from trackgolf.web.script_views import with_scripts
from trackgolf.web.settings import WebSettings

__all__ = ["add_job_views", "seconds_left", "time_words"]

# A track takes most of its time to be rebuilt; to look at it takes about this share. Measured on the demo.
_LOOK_SHARE = 0.1


def add_job_views(app: Flask, settings: WebSettings) -> None:
    """
    Put the pages of uploads to an application.

    Parameters
    ----------
    app : flask.Flask
        The application.
    settings : WebSettings
        The library.
    """

    @app.get("/jobs/<int(min=1,max=999999999):number>")
    def job(number: int) -> str | Response:
        with library_if_any(settings) as connection:
            if connection is None:
                abort(404)
            try:
                found = read_job(connection, number)
            except LibraryError:
                abort(404)
            outcomes = read_outcomes(connection, number)
            left_s = seconds_left(found, outcomes, read_pace(connection), datetime.now(UTC))
            values: dict[str, Any] = {
                "guessed": guessed_rounds(connection),
                "rounds": _lines(connection, outcomes),
                "player": _number_of(connection, found.player),
            }
        values |= {
            "job": found,
            "outcomes": outcomes,
            "kept": len({one.round for one in outcomes if one.kind in ("new", "joined")}),
            "done": sum(len(one.names) for one in outcomes),
            "left": None if left_s is None else time_words(left_s),
        }
        if found.state in ("waiting", "running"):
            return with_scripts("job.html", **values)
        return render_template("job.html", **values)


def _lines(connection: sqlite3.Connection, outcomes: list[Outcome]) -> dict[int, str]:
    """Say what the rounds are that came of an upload: files are called as devices call them."""
    wanted = {one.round for one in outcomes if one.kind in ("new", "joined")}
    if not wanted:
        return {}
    rounds = read_rounds(connection)
    mine = rounds[rounds["round"].isin(wanted)].to_dict("records")
    return {int(row["round"]): _line(row) for row in mine}


def _line(row: dict[Hashable, Any]) -> str:
    start = local_time(row["start_time"], row["time_zone"])
    said = f"{start:%Y-%m-%d %H:%M}, {row['course']}, {row['holes']} holes"
    return said if pd.isna(row["strokes"]) else f"{said}, {row['strokes']} strokes"


def _number_of(connection: sqlite3.Connection, player: str) -> int | None:
    key = player_key(player)
    return next((one for one, name in player_numbers(connection).items() if player_key(name) == key), None)


def seconds_left(job: Job, outcomes: list[Outcome], pace_s: float | None, now: datetime) -> float | None:
    """
    Estimate how long an upload still takes.

    Parameters
    ----------
    job : Job
        The upload.
    outcomes : list of Outcome
        What became of its tracks so far.
    pace_s : float or None
        How long a track took in earlier uploads [s].
    now : datetime.datetime
        The time.

    Returns
    -------
    float or None
        By its own pace as soon as something is done, before that by the pace
        of earlier uploads [s]; None if there is nothing to tell it from.
    """
    if job.state != "running" or not job.tracks or job.begun is None:
        return None
    done = sum(len(one.names) for one in outcomes)
    share = ((1.0 - _LOOK_SHARE) * done + _LOOK_SHARE * max(job.looked, done)) / job.tracks
    share = min(share, 1.0)
    elapsed_s = (now - datetime.fromisoformat(job.begun)).total_seconds()
    # What was done before a restart took none of the time since.
    if done and job.tries == 1 and elapsed_s > 0:
        return elapsed_s * (1.0 - share) / share
    return None if pace_s is None else pace_s * job.tracks * (1.0 - share)


def time_words(seconds: float) -> str:
    """
    Say a while in words.

    Parameters
    ----------
    seconds : float
        How long [s].

    Returns
    -------
    str
        No more exact than it is known.

    Examples
    --------
    >>> time_words(8.0), time_words(47.0), time_words(400.0)
    ('some seconds', 'about a minute', 'about 7 minutes')
    """
    if seconds < 20.0:
        return "some seconds"
    minutes = math.ceil(seconds / 60.0)
    return "about a minute" if minutes == 1 else f"about {minutes} minutes"
