"""GPX 1.0 and 1.1 to a table of points and a table of marks, with an account of every point; and back out."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geo import _gpx_time
from geo._gpx_found import RawMark, ScannedGpx
from geo._gpx_numbers import parse_numbers
from geo._gpx_scan import scan_gpx
from geo._gpx_time import parse_times
from geo._xml_bytes import read_xml_bytes, unwrap_xml
from geo.errors import InputError
from geo.gpx_write import write_gpx

__all__ = ["MAX_BYTES", "GpxFile", "PointAccount", "parse_gpx", "read_gpx", "write_gpx"]

# A watch that writes 500 bytes a second, heart rate and all, for 24 hours makes 43 MB.
MAX_BYTES = 64_000_000

_BoolArray: TypeAlias = NDArray[np.bool_]
_FloatArray: TypeAlias = NDArray[np.float64]

# Reason: what a person reads after "12 of 300 points", in the order in which they are checked.
_REASONS = {
    "incomplete": "begun and not finished, the file is cut short or damaged there",
    "no_position": "without a latitude or longitude",
    "bad_position": "with a position that is nowhere on earth",
    "no_fix": "recorded without a fix",
    "no_time": "without a time",
    "bad_time": "with an unreadable time",
    "impossible_time": f"dated before {_gpx_time.FIRST_TIME.year} or after {_gpx_time.LAST_TIME.year - 1}",
    "zero_position": "at latitude 0, longitude 0, far from all others",
}
# A point at 0, 0 is a fault of the recorder when the others are further off than this [deg]; common practice, no source.
_FAR_FROM_ZERO_DEG = 0.1
_WITH_TIMES = "Record with times on, and export as GPX with times"


@dataclass(frozen=True, slots=True)
class PointAccount:
    """
    What became of every point: seen = kept + dropped, always.

    Parameters
    ----------
    seen : int
        Track points begun in the file.
    kept : int
        Points in the table.
    dropped : dict of str to int
        How many were left out, by reason; only reasons that occurred.
    """

    seen: int
    kept: int
    dropped: dict[str, int]

    def __post_init__(self) -> None:
        if self.seen != self.kept + sum(self.dropped.values()):
            raise ValueError(f"{self.seen} points seen are not {self.kept} kept and {self.dropped} dropped")


@dataclass(frozen=True, slots=True)
class GpxFile:
    """
    What one GPX file holds.

    Parameters
    ----------
    points : pandas.DataFrame
        The track points in the order of the file: ``time`` (UTC),
        ``lon_deg``, ``lat_deg``, ``ele_m`` (NaN unknown), ``hdop`` (NaN
        unknown), ``segment`` (counts the ``trkseg`` of the file from 0).
    marks : pandas.DataFrame
        The waypoints: ``time`` (UTC, NaT unknown), ``lon_deg``,
        ``lat_deg``, ``name`` ("" unknown).
    account : PointAccount
        Points seen, kept and dropped.
    warnings : tuple of str
        What was dropped, mended or doubted, a line each.
    name : str or None
        Name of the file's content, else of its first track.
    description : str or None
        Description of the file's content, else of its first track.
    creator : str or None
        Program that made it.
    version : str or None
        GPX version it claims.
    source : str
        Name of the file itself, for messages.
    """

    points: pd.DataFrame
    marks: pd.DataFrame
    account: PointAccount
    warnings: tuple[str, ...]
    name: str | None
    description: str | None
    creator: str | None
    version: str | None
    source: str = ""


def read_gpx(path: str | os.PathLike[str], *, max_bytes: int = MAX_BYTES) -> GpxFile:
    """
    Read a GPX file and account for every track point in it.

    Reads GPX 1.0 and 1.1 [1]_, plain or gzip, in one pass. A point that
    cannot be used is dropped and counted, a file that is cut short or
    broken in places keeps what can be read.

    Parameters
    ----------
    path : str or os.PathLike
        The file.
    max_bytes : int
        Largest size to accept, before and after unpacking [byte].

    Returns
    -------
    GpxFile
        Points, marks, account and warnings.

    Raises
    ------
    InputError
        If the file cannot be read, is not GPX, or holds no point with a
        position and a time.

    Notes
    -----
    A point is dropped, for the first reason that applies, as:

    =============== =====================================================
    incomplete      its element was begun and not finished
    no_position     latitude or longitude missing
    bad_position    not a number; latitude outside [-90, 90]; longitude
                    outside [-180, 180] (180 itself only in GPX 1.0)
    no_fix          ``fix`` is ``none``
    no_time         no ``time``, or an empty one
    bad_time        ``time`` is not a date and time
    impossible_time before 1980-01-06 (when GPS time began) or after 2099
    zero_position   at 0, 0 while half of the others are more than 0.1
                    degrees away
    =============== =====================================================

    Times without a zone are UTC. A leap second counts as the second after it. An elevation or ``hdop`` that is no
    number is NaN and said. Routes and the content of ``extensions`` are passed over.

    References
    ----------
    .. [1] TopoGrafix, "GPX 1.1 Schema Documentation," and the GPX 1.0 schema, https://www.topografix.com/gpx.asp.
    """
    where = os.fspath(path)
    data, warnings = read_xml_bytes(path, max_bytes)
    return _account_for(data, warnings, where)


def parse_gpx(content: bytes, where: str, *, max_bytes: int = MAX_BYTES) -> GpxFile:
    """
    Read what a GPX file holds, as `read_gpx` does.

    Parameters
    ----------
    content : bytes
        The content of the file, plain or gzip.
    where : str
        What to call it in messages.
    max_bytes : int
        Largest size to accept, before and after unpacking [byte].

    Returns
    -------
    GpxFile
        Points, marks, account and warnings.

    Raises
    ------
    InputError
        If it is not GPX, or holds no point with a position and a time.
    """
    data, warnings = unwrap_xml(content, max_bytes, where)
    return _account_for(data, warnings, where)


def _account_for(data: bytes, warnings: list[str], where: str) -> GpxFile:
    raw = scan_gpx(data, where)
    version = raw.attributes.get("version")
    warnings += _say_damage(raw) + _say_root(raw)
    if not raw.lats and not raw.incomplete:
        raise _no_points(raw, where)
    table, reasons, first_texts, said = _check_points(raw, version)
    warnings += said
    kept = reasons == 0
    names = list(_REASONS)
    dropped = {"incomplete": raw.incomplete} if raw.incomplete else {}
    counts = np.bincount(reasons, minlength=len(names) + 1)
    dropped |= {names[code - 1]: int(counts[code]) for code in range(2, len(names) + 1) if counts[code]}
    seen = len(raw.lats) + raw.incomplete
    if not kept.any():
        raise _nothing_left(seen, dropped, first_texts, where)
    points = table if kept.all() else table[kept].reset_index(drop=True)
    if _one_time_for_all(points):
        what = f"all {len(points)} points have one and the same time ({points['time'].iloc[0]:%Y-%m-%d %H:%M:%S} UTC)"
        raise InputError(what, where, _WITH_TIMES)
    for reason, count in dropped.items():
        text = f" (the first: {first_texts[reason]})" if reason in first_texts else ""
        warnings.append(f"dropped {count} of {seen} points: {_REASONS[reason]}{text}")
    marks, mark_warnings = _read_marks(raw.marks, raw.lost_marks, version)
    return GpxFile(
        points=points,
        marks=marks,
        account=PointAccount(seen, len(points), dropped),
        warnings=tuple(warnings + mark_warnings),
        name=_first_text(raw, "name"),
        description=_first_text(raw, "desc"),
        creator=raw.attributes.get("creator"),
        version=version,
        source=Path(where).name,
    )


def _first_text(raw: ScannedGpx, name: str) -> str | None:
    for parent in ("metadata", "gpx", "trk"):
        text = " ".join(raw.texts.get((parent, name), "").split())
        if text:
            return text
    return None


def _say_damage(raw: ScannedGpx) -> list[str]:
    warnings = []
    broken = [damage for damage in raw.damages if not damage.at_end]
    if broken:
        more = f" and in {len(broken) - 1} more places" if len(broken) > 1 else ""
        warnings.append(
            f"the XML is broken at line {broken[0].line} ({broken[0].what}){more}; went on after it"
        )
    if raw.unclosed:
        points = "one point lacks its" if raw.unclosed == 1 else f"{raw.unclosed} points lack their"
        warnings.append(f"{points} end tag; read all the same")
    cut = [damage for damage in raw.damages if damage.at_end]
    if cut:
        warnings.append(f"cut short at line {cut[-1].line}: {len(raw.lats)} complete points before it")
    return warnings


def _say_root(raw: ScannedGpx) -> list[str]:
    missing = [name for name in ("version", "creator") if not raw.attributes.get(name)]
    if missing:
        return [
            f"the gpx element has no {' and no '.join(missing)}, which the standard asks for; read all the same"
        ]
    if raw.attributes["version"] not in ("1.0", "1.1"):
        return [f"claims to be GPX {raw.attributes['version']!r}; read as 1.1"]
    return []


def _no_points(raw: ScannedGpx, where: str) -> InputError:
    others = [
        f"{count} {name}{'' if count == 1 else 's'}"
        for count, name in ((raw.route_points, "route point"), (len(raw.marks), "waypoint"))
        if count
    ]
    only = f", only {' and '.join(others)}" if others else ""
    if any(damage.at_end for damage in raw.damages):
        only += "; the file is cut short"
    return InputError(
        f"no track point in it{only}", where, "Export the track itself (what was recorded) as GPX"
    )


def _nothing_left(seen: int, dropped: dict[str, int], first_texts: dict[str, str], where: str) -> InputError:
    main = max(dropped, key=lambda reason: dropped[reason])
    first = f" (the first: {first_texts[main]})" if main in first_texts else ""
    timeless = sum(dropped.get(reason, 0) for reason in ("no_time", "bad_time", "impossible_time"))
    if main == "no_time" and timeless == dropped[main]:
        return InputError("no point has a time", where, _WITH_TIMES)
    if len(dropped) == 1:
        do = "Set the recorder's clock" if main == "impossible_time" else "Export the track again"
        every = "the only point is" if seen == 1 else f"all {seen} points are"
        return InputError(f"no usable point: {every} {_REASONS[main]}{first}", where, do)
    each = ", ".join(f"{count} {_REASONS[reason]}" for reason, count in dropped.items())
    return InputError(
        f"none of its {seen} points can be used: {each}{first}", where, "Export the track again"
    )


def _one_time_for_all(points: pd.DataFrame) -> bool:
    """Tell a track whose times are a constant, so no times at all; two points may well share a second."""
    if len(points) < 3:
        return False
    time_ns = points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64)
    return bool((time_ns == time_ns[0]).all())


def _on_earth(lat: _FloatArray, lon: _FloatArray, version: str | None) -> _BoolArray:
    # Source: GPX 1.1 schema, longitudeType: 180 exclusive; GPX 1.0 schema: inclusive.
    lon_ok = (lon >= -180.0) & ((lon < 180.0) if version == "1.1" else (lon <= 180.0))
    return (np.abs(lat) <= 90.0) & lon_ok


def _check_points(
    raw: ScannedGpx, version: str | None
) -> tuple[pd.DataFrame, NDArray[np.intp], dict[str, str], list[str]]:
    """Make the table of all finished points, and say for each why it is dropped (0: it is not)."""
    count = len(raw.lats)
    lat, bad_lat, lat_commas = parse_numbers(raw.lats)
    lon, bad_lon, lon_commas = parse_numbers(raw.lons)
    ele, bad_ele, _ = parse_numbers(raw.eles)
    time_ns, time_state = parse_times(raw.times)
    hdop, bad_hdop = _sparse_numbers(raw.hdops, count)
    missing = (np.isnan(lat) & ~bad_lat) | (np.isnan(lon) & ~bad_lon)
    no_fix = np.zeros(count, dtype=bool)
    no_fix[[row for row, text in raw.fixes.items() if text.strip().lower() == "none"]] = True
    at_zero = (lat == 0.0) & (lon == 0.0)
    faults = {
        "no_position": missing,
        "bad_position": ~_on_earth(lat, lon, version),
        "no_fix": no_fix,
        "no_time": time_state == _gpx_time.MISSING,
        "bad_time": time_state == _gpx_time.UNREADABLE,
        "impossible_time": time_state == _gpx_time.IMPOSSIBLE,
    }
    if at_zero.any():
        others = ~at_zero & ~missing & ~faults["bad_position"]
        far = others.any() and np.median(np.hypot(lat[others], lon[others])) > _FAR_FROM_ZERO_DEG
        faults["zero_position"] = at_zero & bool(far)
    names = list(_REASONS)
    reasons = np.zeros(count, dtype=np.intp)
    for reason in reversed(faults):
        reasons[faults[reason]] = names.index(reason) + 1
    first_texts = _first_texts(raw, reasons)
    warnings = []
    if lat_commas or lon_commas:
        warnings.append(
            f"{max(lat_commas, lon_commas)} positions are written with a decimal comma; read as decimals"
        )
    for bad, name in ((bad_ele, "elevation"), (bad_hdop, "hdop")):
        if bad.any():
            warnings.append(f"{int(bad.sum())} of {count} points have an unreadable {name}; left unknown")
    starts = np.asarray(raw.segment_starts, dtype=np.intp)
    segment = np.maximum(np.searchsorted(starts, np.arange(count), side="right") - 1, 0)
    table = pd.DataFrame(
        {
            "time": pd.DatetimeIndex(time_ns.view("datetime64[ns]"), tz="UTC"),
            "lon_deg": lon,
            "lat_deg": lat,
            "ele_m": ele,
            "hdop": hdop,
            "segment": segment.astype(np.int64),
        }
    )
    return table, reasons, first_texts, warnings


def _sparse_numbers(texts: dict[int, str], count: int) -> tuple[_FloatArray, _BoolArray]:
    values = np.full(count, np.nan)
    bad = np.zeros(count, dtype=bool)
    if texts:
        rows = list(texts)
        numbers, unreadable, _ = parse_numbers(list(texts.values()))
        # Dilution of precision is a length of a vector.
        unreadable |= numbers < 0.0
        values[rows] = np.where(unreadable, np.nan, numbers)
        bad[rows] = unreadable
    return values, bad


def _first_texts(raw: ScannedGpx, reasons: NDArray[np.intp]) -> dict[str, str]:
    """Quote the first offending text of each reason that has one."""
    names = list(_REASONS)
    quoted: dict[str, str] = {}
    for reason in ("bad_position", "bad_time", "impossible_time"):
        rows = np.flatnonzero(reasons == names.index(reason) + 1)
        if rows.size:
            row = int(rows[0])
            if reason == "bad_position":
                quoted[reason] = f"lat {_short(raw.lats[row])}, lon {_short(raw.lons[row])}"
            else:
                quoted[reason] = _short(raw.times[row])
    return quoted


def _short(text: str | None) -> str:
    text = text or ""
    return repr(text if len(text) <= 40 else text[:39] + "…")


def _read_marks(raw: Sequence[RawMark], lost: int, version: str | None) -> tuple[pd.DataFrame, list[str]]:
    lat, _, _ = parse_numbers([mark.lat for mark in raw])
    lon, _, _ = parse_numbers([mark.lon for mark in raw])
    time_ns, state = parse_times([mark.time for mark in raw])
    time = time_ns.view("datetime64[ns]").copy()
    time[state != _gpx_time.OK] = np.datetime64("NaT")
    good = _on_earth(lat, lon, version)
    names = [" ".join((mark.name or "").split()) for mark in raw]
    marks = pd.DataFrame(
        {
            "time": pd.DatetimeIndex(time, tz="UTC"),
            "lon_deg": lon,
            "lat_deg": lat,
            "name": pd.Series(names, dtype="str"),
        }
    )
    skipped = len(raw) - int(good.sum()) + lost
    warnings = []
    if skipped:
        warnings.append(f"skipped {skipped} of {len(raw) + lost} waypoints: no usable position, or damaged")
    return marks[good].reset_index(drop=True), warnings
