"""The track table of a round: files joined in order of time, doubles dropped and counted, recording gaps named."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geo._join_words import log_choice, say_order, say_overlap, say_pause
from geo._recordings import Recording, choose, split_recordings, usual_interval_s
from geo.errors import InputError
from geo.geodesic import distance_bearing
from geo.gpx import GpxFile, PointAccount, read_gpx

__all__ = ["JoinSettings", "Track", "find_gaps", "join_tracks", "read_tracks"]

_SECOND_NS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class JoinSettings:
    """
    What counts as a gap, as one recording, and as the same player.

    Parameters
    ----------
    gap_intervals : float
        A gap is longer than this many usual intervals of its file; common
        practice, no source.
    gap_s : float
        And longer than this [s]; common practice, no source.
    overlap_s : float
        Two pieces of one file may share this much time and be one recording
        [s]: devices repeat a few points where a segment ends.
    apart_m : float
        Recordings of the same time further apart than this [m] may be of
        two players; well above the error of a phone near trees, 7 to 13 m
        (Merry and Bettinger, PLoS ONE 14(7) e0219890, 2019).
    stray_days : float
        Points this far [d] from the bulk of the others in time are strays:
        a clock not yet set by the satellites; common practice, no source.
    stray_share : float
        As long as they are at most this share of the bulk; common practice,
        no source.
    pause_h : float
        A pause longer than this [h] is doubted: files of two rounds; common
        practice, no source.
    """

    gap_intervals: float = 4.0
    gap_s: float = 10.0
    overlap_s: float = 10.0
    apart_m: float = 50.0
    stray_days: float = 7.0
    stray_share: float = 0.05
    pause_h: float = 12.0

    def __post_init__(self) -> None:
        lengths = (self.gap_s, self.apart_m, self.stray_days, self.pause_h)
        if min(lengths) <= 0.0 or self.gap_intervals < 1.0 or self.overlap_s < 0.0 or self.stray_share < 0.0:
            raise ValueError(f"not usable: {self!r}")


@dataclass(frozen=True, slots=True)
class Track:
    """
    All points of a round.

    Parameters
    ----------
    points : pandas.DataFrame
        Columns as of `geo.gpx.GpxFile`, and ``file`` (from 0, as given);
        ``time`` strictly increasing.
    marks : pandas.DataFrame
        The waypoints of all files, each once: ``time``, ``lon_deg``,
        ``lat_deg``, ``name``.
    account : geo.gpx.PointAccount
        Over all files. Reasons beside those of `geo.gpx.read_gpx`:
        ``stray_time`` (days away from nearly all others), ``same_instant``
        (a point of this instant is kept already) and ``second_recording``
        (a denser recording covers this time).
    gaps : pandas.DataFrame
        As of `find_gaps`.
    warnings : tuple of str
        A line each, with the name of the file.
    """

    points: pd.DataFrame
    marks: pd.DataFrame
    account: PointAccount
    gaps: pd.DataFrame
    warnings: tuple[str, ...]


def read_tracks(paths: Iterable[str | os.PathLike[str]], settings: JoinSettings | None = None) -> Track:
    """
    Read the files of one round and join them.

    Parameters
    ----------
    paths : iterable of str or os.PathLike
        GPX files, in any order.
    settings : JoinSettings, optional
        Thresholds.

    Returns
    -------
    Track
        The round.

    Raises
    ------
    InputError
        If there is no file or one of them cannot be used; all such files
        are named.
    """
    files: list[GpxFile] = []
    errors: list[InputError] = []
    for path in paths:
        try:
            files.append(read_gpx(path))
        except InputError as error:
            errors.append(error)
    if len(errors) == 1:
        raise errors[0]
    if errors:
        what = f"{len(errors)} of {len(files) + len(errors)} track files cannot be used"
        raise InputError(what, faults=[str(error) for error in errors])
    return join_tracks(files, settings)


def join_tracks(files: Sequence[GpxFile], settings: JoinSettings | None = None) -> Track:
    """
    Join the files of one round in order of time.

    Where two recordings cover the same time (two devices, or one file given
    twice) the denser one is kept, and the other where the first is silent,
    as after its battery died.

    Parameters
    ----------
    files : sequence of geo.gpx.GpxFile
        The files, in any order.
    settings : JoinSettings, optional
        Thresholds.

    Returns
    -------
    Track
        The round; its account covers all files.

    Raises
    ------
    InputError
        If there is no file.
    """
    settings = settings or JoinSettings()
    if not files:
        raise InputError("no track file given", do="Give at least one GPX file")
    names = _names(files)
    warnings = [
        f"{name}: {warning}" for name, file in zip(names, files, strict=True) for warning in file.warnings
    ]
    accounts = [file.account for file in files]
    files, strays = _without_strays(files, settings)
    warnings += [
        f"{name}: dropped {count} of {account.seen} points: more than {settings.stray_days:g} days from the others"
        for name, count, account in zip(names, strays, accounts, strict=True)
        if count
    ]
    recordings = _recordings(files, settings)
    warnings += say_order(recordings, names)
    positions = [
        (
            files[recording.file].points["lon_deg"].to_numpy()[recording.rows],
            files[recording.file].points["lat_deg"].to_numpy()[recording.rows],
        )
        for recording in recordings
    ]
    limits_s = [_gap_limit_s(usual_interval_s(recording.time_ns), settings) for recording in recordings]
    keep, overlaps = choose(recordings, positions, limits_s)
    warnings += [say_overlap(overlap, names, settings.apart_m) for overlap in overlaps]
    points = _kept_points(files, recordings, keep)
    gaps = find_gaps(points, settings)
    log_choice(names, accounts, recordings, overlaps, limits_s, gaps)
    joining = {
        "stray_time": sum(strays),
        "same_instant": sum(recording.same_instant for recording in recordings),
        "second_recording": sum(overlap.dropped for overlap in overlaps),
    }
    return Track(
        points=points,
        marks=_join_marks(files),
        account=_join_accounts(accounts, joining),
        gaps=gaps,
        warnings=tuple(warnings + say_pause(gaps, settings.pause_h)),
    )


def find_gaps(points: pd.DataFrame, settings: JoinSettings | None = None) -> pd.DataFrame:
    """
    Find where a recording paused.

    Parameters
    ----------
    points : pandas.DataFrame
        ``time`` (strictly increasing), ``lon_deg``, ``lat_deg``, and
        ``file`` if they come from several.
    settings : JoinSettings, optional
        From which interval on a pause is a gap: longer than ``gap_s`` and
        than ``gap_intervals`` usual intervals of its file.

    Returns
    -------
    pandas.DataFrame
        One row a gap, in order of time:

        ========== === ========================================
        start_time UTC last point before it
        end_time   UTC first point after it
        duration_s s   time between them
        moved_m    m   geodesic between them
        ========== === ========================================

    Notes
    -----
    A gap without movement is most likely a stop: many watches pause while their wearer stands still. Between two
    files the longer of their two limits counts.
    """
    settings = settings or JoinSettings()
    time_ns = _time_ns(points)
    file = (
        points["file"].to_numpy(dtype=np.int64)
        if "file" in points
        else np.zeros(time_ns.size, dtype=np.int64)
    )
    limit_s = np.full(time_ns.size, settings.gap_s)
    for number in np.unique(file).tolist():
        of_file = file == number
        limit_s[of_file] = _gap_limit_s(usual_interval_s(time_ns[of_file]), settings)
    duration_s = np.diff(time_ns) / _SECOND_NS
    before = np.flatnonzero(duration_s > np.maximum(limit_s[:-1], limit_s[1:]))
    lon, lat = points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy()
    moved_m, _ = distance_bearing(lon[before], lat[before], lon[before + 1], lat[before + 1])
    time = points["time"]
    return pd.DataFrame(
        {
            "start_time": time.iloc[before].to_numpy(dtype="datetime64[ns]"),
            "end_time": time.iloc[before + 1].to_numpy(dtype="datetime64[ns]"),
            "duration_s": duration_s[before],
            "moved_m": np.asarray(moved_m, dtype=np.float64),
        }
    ).assign(
        start_time=lambda gaps: gaps["start_time"].dt.tz_localize("UTC"),
        end_time=lambda gaps: gaps["end_time"].dt.tz_localize("UTC"),
    )


def _time_ns(points: pd.DataFrame) -> NDArray[np.int64]:
    return points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64)


def _gap_limit_s(usual_s: float, settings: JoinSettings) -> float:
    return max(settings.gap_intervals * usual_s, settings.gap_s)


def _names(files: Sequence[GpxFile]) -> list[str]:
    """Name the files for messages, by their number where the name does not tell them apart."""
    sources = [file.source for file in files]
    return [
        source if source and sources.count(source) == 1 else f"{source or 'file'} ({number})"
        for number, source in enumerate(sources, start=1)
    ]


def _without_strays(files: Sequence[GpxFile], settings: JoinSettings) -> tuple[list[GpxFile], list[int]]:
    """Leave out the few points whose time is days from that of all others; count them for each file."""
    times = [_time_ns(file.points) for file in files]
    together = np.sort(np.concatenate(times))
    apart_ns = round(settings.stray_days * 86_400 * _SECOND_NS)
    groups = np.split(together, np.flatnonzero(np.diff(together) > apart_ns) + 1)
    bulk = max(group.size for group in groups)
    stray = [group for group in groups if group.size <= settings.stray_share * bulk]
    if bulk == 0 or not stray:
        return list(files), [0] * len(files)
    out = np.concatenate(stray)
    keep = [~np.isin(time, out) for time in times]
    kept = [
        replace(file, points=file.points[good].reset_index(drop=True))
        for file, good in zip(files, keep, strict=True)
    ]
    return kept, [int((~good).sum()) for good in keep]


def _recordings(files: Sequence[GpxFile], settings: JoinSettings) -> list[Recording]:
    return [
        recording
        for number, file in enumerate(files)
        for recording in split_recordings(
            number, _time_ns(file.points), file.points["segment"].to_numpy(dtype=np.int64), settings.overlap_s
        )
    ]


def _kept_points(
    files: Sequence[GpxFile], recordings: Sequence[Recording], keep: Sequence[NDArray[np.bool_]]
) -> pd.DataFrame:
    tables = []
    for recording, kept in zip(recordings, keep, strict=True):
        table = files[recording.file].points.iloc[recording.rows[kept]]
        tables.append(table.assign(file=np.full(len(table), recording.file, dtype=np.int64)))
    tables = [table for table in tables if len(table)]
    if not tables:
        return files[0].points.assign(file=np.zeros(0, dtype=np.int64))
    if len(tables) == 1:
        return tables[0].reset_index(drop=True)
    return pd.concat(tables, ignore_index=True).sort_values("time", kind="stable", ignore_index=True)


def _join_marks(files: Sequence[GpxFile]) -> pd.DataFrame:
    tables = [file.marks for file in files if len(file.marks)]
    if not tables:
        return files[0].marks.copy()
    marks = pd.concat(tables, ignore_index=True).drop_duplicates()
    return marks.sort_values("time", kind="stable", na_position="last", ignore_index=True)


def _join_accounts(accounts: Sequence[PointAccount], joining: dict[str, int]) -> PointAccount:
    dropped: dict[str, int] = {}
    for account in accounts:
        for reason, count in account.dropped.items():
            dropped[reason] = dropped.get(reason, 0) + count
    dropped |= {reason: count for reason, count in joining.items() if count}
    seen = sum(account.seen for account in accounts)
    return PointAccount(seen, seen - sum(dropped.values()), dropped)
