"""A round rebuilt from what the library keeps of it, and its results as plain tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from geo.gpx import GpxFile
from geo.track import Track, join_tracks
from trackgolf.compare import plan_starts_elsewhere
from trackgolf.corrections import parse_corrections
from trackgolf.course import Course
from trackgolf.decisions import log_decisions
from trackgolf.errors import InputError
from trackgolf.library.columns import COUNTS
from trackgolf.library.guessed import as_guessed, with_confidence
from trackgolf.library.materials import Materials, read_materials
from trackgolf.method import method_version
from trackgolf.reconstruct import Laid, Note, Round, lay_track, reconstruct
from trackgolf.tables import round_header
from trackgolf.time_zone import zone_named

__all__ = ["Result", "local_time", "plan_is_elsewhere", "rebuild_round", "result_of"]


@dataclass(frozen=True, slots=True)
class Result:
    """
    What is kept of a rebuilt round.

    Attributes
    ----------
    shots, holes, comparison : pandas.DataFrame
        As of `trackgolf.reconstruct.Round`.
    notes : tuple of Note
        What was salvaged, mended, assumed or doubted.
    counts : dict
        `trackgolf.library.columns.COUNTS`, None where unknown.
    course : str
        Name of the course.
    time_zone : str
        Its IANA name.
    start_time, end_time : pandas.Timestamp
        First stroke and last leaving of a green, UTC.
    invented : bool
        Whether the course says that it is.
    method : str
        Which method rebuilt it.
    """

    shots: pd.DataFrame
    holes: pd.DataFrame
    comparison: pd.DataFrame
    notes: tuple[Note, ...]
    counts: dict[str, int | None]
    course: str
    time_zone: str
    start_time: pd.Timestamp
    end_time: pd.Timestamp
    invented: bool
    method: str


def rebuild_round(
    recordings: Sequence[GpxFile],
    materials: Materials,
    lay: Callable[[Track, Course], Laid] = lay_track,
) -> Round:
    """
    Rebuild a round.

    Parameters
    ----------
    recordings : sequence of geo.gpx.GpxFile
        What was recorded of it.
    materials : Materials
        Course, bag, plan, card.
    lay : callable, optional
        Lays the track on the course, or has it at hand.

    Returns
    -------
    Round
        The round.

    Raises
    ------
    InputError
        If something does not fit.
    """
    course, bag, plan, card, told = read_materials(materials)
    track = join_tracks(recordings)
    corrections = (
        None if materials.corrections is None else parse_corrections(materials.corrections, "corrections")
    )
    if materials.course.guessed:
        bag, told = as_guessed(materials.course, course, bag, told)
    result = reconstruct(
        track,
        course,
        bag,
        plan=plan,
        card=card,
        corrections=corrections,
        told=told,
        laid=lay(track, course),
    )
    if materials.course.guessed:
        result = with_confidence(result, materials.course)
    log_decisions(result)
    if plan is None or not plan_is_elsewhere(result):
        return result
    elsewhere, holes, apart_m = plan_starts_elsewhere(result.shots, plan)
    text = f"on {elsewhere} of {holes} holes the plan begins elsewhere than the round, by {apart_m:.0f} m as a rule"
    note = Note("doubted", 0, f"{text}: it is likely for another tee; name the tee with --tee and plan anew")
    return replace(result, notes=(*result.notes, note))


def plan_is_elsewhere(played: Round) -> bool:
    """
    Tell whether most of a plan begins at another tee than the round.

    Parameters
    ----------
    played : Round
        The round.

    Returns
    -------
    bool
        False without a plan.
    """
    if played.plan is None:
        return False
    elsewhere, holes, _ = plan_starts_elsewhere(played.shots, played.plan)
    return elsewhere > holes / 2


def result_of(played: Round) -> Result:
    """
    Take from a round what is kept of it.

    Parameters
    ----------
    played : Round
        The round.

    Returns
    -------
    Result
        Tables, counts and notes.

    Raises
    ------
    InputError
        If nothing was played.
    """
    if played.shots.empty:
        raise InputError(
            "no shot was found in the track", do="Check that the course and the track belong together"
        )
    header = round_header(played)
    counts: dict[str, Any] = {name: header.get(name) for name in COUNTS}
    start, end = pd.Timestamp(header["start_time"]), header["end_time"]
    return Result(
        shots=played.shots,
        holes=played.holes,
        comparison=played.comparison,
        notes=played.notes,
        counts={name: None if pd.isna(value) else int(value) for name, value in counts.items()},
        course=played.course.name,
        time_zone=header["time_zone"],
        start_time=start,
        end_time=start if pd.isna(end) else max(start, pd.Timestamp(end)),
        invented=played.course.invented,
        method=method_version(),
    )


def local_time(time: pd.Timestamp, time_zone: str) -> pd.Timestamp:
    """
    Say what a clock at the course showed.

    Parameters
    ----------
    time : pandas.Timestamp
        A moment, UTC.
    time_zone : str
        IANA name.

    Returns
    -------
    pandas.Timestamp
        The same moment; in UTC where the zone is not known here.
    """
    return time.tz_convert(zone_named(time_zone))
