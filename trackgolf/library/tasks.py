"""The two tasks of an import, which any process can do by itself: look at a track, and rebuild a round."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pandas as pd

from geo.geodesic import distance_bearing
from geo.gpx import GpxFile, parse_gpx
from trackgolf.errors import InputError, PlanError
from trackgolf.library.guessed import with_guessed_course
from trackgolf.library.keeping import count_near, keep_recording, lines_bytes, lines_from_bytes
from trackgolf.library.materials import Materials
from trackgolf.library.packing import pack_recording, recording_digest, unpack_recording
from trackgolf.library.rebuild import Result, plan_is_elsewhere, rebuild_round, result_of
from trackgolf.library.store import KeptRecording
from trackgolf.reconstruct import Note

__all__ = [
    "GIVE_COURSE",
    "GUESSED",
    "Look",
    "LookTask",
    "RebuildTask",
    "Rebuilt",
    "look_at_track",
    "rebuild_task",
]

# In place of the number of a course: its holes are to be guessed.
GUESSED = -2
GIVE_COURSE = "Give the course it was played on with --course, or have its holes guessed with --guess"
_NEVER = pd.Timestamp(0, tz="UTC")


@dataclass(frozen=True, slots=True)
class LookTask:
    """
    Look at a track.

    Attributes
    ----------
    name : str
        What to call it in messages.
    content : bytes
        The file.
    courses : tuple of (int, str, bytes)
        Courses it may have been recorded on: any number, the name, the lines
        of play as of `keeping.lines_bytes`.
    guess : bool
        Whether a track on none of them will do, for its holes to be guessed.
    """

    name: str
    content: bytes
    courses: tuple[tuple[int, str, bytes], ...]
    guess: bool = False


@dataclass(frozen=True, slots=True)
class Look:
    """
    What a track is.

    Attributes
    ----------
    fault : str
        Why it cannot be used; "" if it can.
    course : int
        Number of its course, or `GUESSED`.
    digest : str
        Of the recording.
    first_time, last_time : pandas.Timestamp
        Of the points on the course, UTC.
    """

    fault: str
    course: int = -1
    digest: str = ""
    first_time: pd.Timestamp = _NEVER
    last_time: pd.Timestamp = _NEVER


@dataclass(frozen=True, slots=True)
class RebuildTask:
    """
    Rebuild a round.

    Attributes
    ----------
    contents : tuple of (str, bytes)
        Name and content of each new track.
    kept : tuple of bytes
        Recordings of the round that are in the library already, packed.
    lines : bytes
        The course's lines of play, as of `keeping.lines_bytes`.
    materials : Materials
        Course, bag, plan, card.
    plan_was_found : bool
        Whether the plan is only the player's current one: then one that does
        not fit is left out rather than an error.
    whole : bool
        Whether to keep what was recorded away from the course too.
    guess : bool
        Whether the course is to be guessed from the new tracks.
    """

    contents: tuple[tuple[str, bytes], ...]
    kept: tuple[bytes, ...]
    lines: bytes
    materials: Materials
    plan_was_found: bool = False
    whole: bool = False
    guess: bool = False


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """
    A round rebuilt.

    Attributes
    ----------
    fault : str
        Why it could not be; "" if it was.
    recordings : tuple of KeptRecording
        The new ones.
    materials : Materials
        As given, without a plan that did not fit, and with the course where
        it was guessed.
    result : Result or None
        The result.
    lines : bytes
        The course's lines of play, as of `keeping.lines_bytes`.
    """

    fault: str
    recordings: tuple[KeptRecording, ...] = ()
    materials: Materials | None = None
    result: Result | None = None
    lines: bytes = b""


def look_at_track(task: LookTask) -> Look:
    """
    Say what a track is and where it was recorded.

    Parameters
    ----------
    task : LookTask
        The track.

    Returns
    -------
    Look
        Its course and times, or why it cannot be used.
    """
    try:
        file = parse_gpx(task.content, task.name)
    except InputError as error:
        return Look(str(error))
    best, most = None, 1
    for number, _, content in task.courses:
        near = count_near(file.points, lines_from_bytes(content))
        if near > most:
            best, most = (number, content), near
    if best is None and task.guess:
        times = file.points["time"]
        return Look("", GUESSED, recording_digest(file.points), times.min(), times.max())
    if best is None:
        return Look(str(_on_no_course(file, task)))
    kept = keep_recording(file, lines_from_bytes(best[1]))
    return Look(
        fault="",
        course=best[0],
        digest=recording_digest(file.points),
        first_time=kept.points["time"].min(),
        last_time=kept.points["time"].max(),
    )


def rebuild_task(task: RebuildTask) -> Rebuilt:
    """
    Cut recordings to what is kept, and rebuild the round from that.

    Parameters
    ----------
    task : RebuildTask
        The round.

    Returns
    -------
    Rebuilt
        The round, or why it could not be rebuilt.
    """
    names = ", ".join(name for name, _ in task.contents)
    try:
        new = [parse_gpx(content, name) for name, content in task.contents]
        materials, packed = task.materials, task.lines
        if task.guess:
            materials, guessed = with_guessed_course(new, materials)
            packed = lines_bytes(guessed)
        lines = lines_from_bytes(packed) if new and not task.whole else None
        files, recordings = [unpack_recording(content) for content in task.kept], []
        for whole in new:
            kept = keep_recording(whole, lines)
            files.append(kept)
            recordings.append(_kept(whole, kept))
        said: tuple[Note, ...] = ()
        try:
            played = rebuild_round(files, materials)
            misfit = "it begins at another tee" if task.plan_was_found and plan_is_elsewhere(played) else ""
        except PlanError as error:
            if not task.plan_was_found:
                raise
            misfit = error.what
        if misfit:
            materials = replace(materials, plan=None)
            said = (Note("doubted", 0, f"the player's current plan does not fit and was left out: {misfit}"),)
            played = rebuild_round(files, materials)
        result = result_of(replace(played, notes=(*played.notes, *said)))
    except InputError as error:
        where = (
            names
            if error.where is None
            else error.where
            if names in error.where
            else f"{names}: {error.where}"
        )
        return Rebuilt(str(type(error)(error.what, where or None, error.do, faults=error.faults)))
    return Rebuilt("", tuple(recordings), materials, result, packed)


def _kept(whole: GpxFile, kept: GpxFile) -> KeptRecording:
    times = kept.points["time"]
    return KeptRecording(
        name=kept.source,
        digest=recording_digest(whole.points),
        first_time=times.min(),
        last_time=times.max(),
        points=len(kept.points),
        track=pack_recording(kept),
    )


def _on_no_course(file: GpxFile, task: LookTask) -> InputError:
    """Say how far the nearest course is; never where the track lies, which may be somebody's home."""
    nearest: tuple[float, str] | None = None
    middle = file.points.iloc[len(file.points) // 2]
    for _, name, content in task.courses:
        lines = lines_from_bytes(content)
        if lines.is_empty:
            continue
        apart_m, _ = distance_bearing(
            middle["lon_deg"], middle["lat_deg"], lines.centroid.x, lines.centroid.y
        )
        if nearest is None or float(apart_m) < nearest[0]:
            nearest = (float(apart_m), name)
    if nearest is None:
        what = "no course is known with positions"
        return InputError(what, task.name, GIVE_COURSE)
    what = f"no course known here lies at this track; {nearest[1]!r} is {nearest[0] / 1000:.0f} km away"
    return InputError(what, task.name, GIVE_COURSE)
