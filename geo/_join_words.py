"""What there is to say of files joined into one round: order, doubles, overlaps, pauses, and which recording counts."""

from __future__ import annotations

import logging
from collections.abc import Sequence

import pandas as pd

from geo._recordings import Overlap, Recording, usual_interval_s
from geo.gpx import PointAccount

__all__ = ["log_choice", "say_order", "say_overlap", "say_pause"]

_LOG = logging.getLogger(__name__)


def say_pause(gaps: pd.DataFrame, pause_h: float) -> list[str]:
    """
    Doubt that what lies around a long pause is one round.

    Parameters
    ----------
    gaps : pandas.DataFrame
        As of `geo.track.find_gaps`.
    pause_h : float
        A pause longer than this is doubted [h].

    Returns
    -------
    list of str
        A line each.
    """
    long = gaps[gaps["duration_s"] > pause_h * 3_600]
    return [
        f"nothing was recorded for {gap['duration_s'] / 3_600:.0f} hours after "
        f"{gap['start_time']:%Y-%m-%d %H:%M} UTC; is all of this one round?"
        for gap in long.to_dict("records")
    ]


def say_order(recordings: Sequence[Recording], names: Sequence[str]) -> list[str]:
    """
    Say where time ran backwards and what was double.

    Parameters
    ----------
    recordings : sequence of Recording
        Of all files.
    names : sequence of str
        What to call each file.

    Returns
    -------
    list of str
        A line each.
    """
    warnings = []
    for number, name in enumerate(names):
        own = [recording for recording in recordings if recording.file == number]
        backwards = sum(recording.backwards for recording in own)
        same = sum(recording.same_instant for recording in own)
        if backwards:
            places = "one place" if backwards == 1 else f"{backwards} places"
            warnings.append(f"{name}: time runs backwards in {places}; put in order of time")
        if same:
            points = "one point" if same == 1 else f"{same} points"
            warnings.append(f"{name}: dropped {points} of an instant that has one already")
    return warnings


def say_overlap(overlap: Overlap, names: Sequence[str], apart_m: float) -> str:
    """
    Say what a recording lost to others of its time.

    Parameters
    ----------
    overlap : Overlap
        The loss.
    names : sequence of str
        What to call each file.
    apart_m : float
        Recordings further apart than this may be of two players [m].

    Returns
    -------
    str
        One line.
    """
    name = names[overlap.file]
    others = " and ".join(names[file] for file in overlap.kept_files)
    if overlap.kept_files == (overlap.file,):
        others = "another recording in the same file"
    begin, end = (f"{pd.Timestamp(ns):%H:%M:%S}" for ns in (overlap.start_ns, overlap.end_ns))
    text = (
        f"{name}: dropped {overlap.dropped} of {overlap.points} points from {begin} to {end} UTC; "
        f"that time is covered by {others}"
    )
    if overlap.apart_m > apart_m:
        text += f"; the two are {overlap.apart_m:.0f} m apart, are they of one player?"
    return text


def log_choice(
    names: Sequence[str],
    accounts: Sequence[PointAccount],
    recordings: Sequence[Recording],
    overlaps: Sequence[Overlap],
    limits_s: Sequence[float],
    gaps: pd.DataFrame,
) -> None:
    """
    Log what was used of each file, and which recording counts where two have one time.

    Parameters
    ----------
    names : sequence of str
        What to call each file.
    accounts : sequence of PointAccount
        Of each file.
    recordings, overlaps : sequence of Recording, sequence of Overlap
        Of all files.
    limits_s : sequence of float
        From which interval on each recording counts as silent [s].
    gaps : pandas.DataFrame
        Pauses of what is kept.
    """
    if not _LOG.isEnabledFor(logging.INFO):
        return
    for number, (name, account) in enumerate(zip(names, accounts, strict=True)):
        own = [recording for recording in recordings if recording.file == number]
        usual = ", ".join(f"{usual_interval_s(one.time_ns):g} s" for one in own[:3])
        reasons = ", ".join(
            f"{count} {reason.replace('_', ' ')}" for reason, count in account.dropped.items()
        )
        _LOG.info(
            f"{name}: {account.seen} points seen, {account.kept} usable{f' ({reasons})' if reasons else ''}; "
            f"{len(own)} recording{'' if len(own) == 1 else 's'}, with a point every {usual or 'so often'} as a rule"
        )
    if overlaps:
        lost = ", ".join(f"{one.dropped} points of {names[one.file]}" for one in overlaps)
        _LOG.info(
            f"recordings of one time: the one with most points a second counts, others where it is silent; left out: {lost}"
        )
    limit = f"longer than {min(limits_s):g} s" if limits_s else "of any length"
    _LOG.info(f"{len(gaps)} pause{'' if len(gaps) == 1 else 's'} of the recorder {limit}")
    for gap in gaps.to_dict("records"):
        _LOG.debug(
            f"pause from {gap['start_time']:%H:%M:%S} to {gap['end_time']:%H:%M:%S} UTC, moved {gap['moved_m']:.0f} m"
        )
