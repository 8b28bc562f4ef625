"""The files of a rebuilt round: shots, holes and comparison, for people and other programs."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from geo.files import write_texts
from geo.geojson import geojson_text
from trackgolf.errors import InputError
from trackgolf.reconstruct import Round

__all__ = [
    "comparison_csv",
    "holes_csv",
    "plain_table",
    "plain_value",
    "prepare_folder",
    "shots_geojson",
    "write_round",
]

_SHOT_PROPERTIES = (
    "hole",
    "shot",
    "club",
    "club_source",
    "start_time",
    "distance_m",
    "path_m",
    "progress_m",
    "leave_m",
    "lie",
    "end_lie",
    "confidence",
    "visit",
    "detour",
    "penalty",
    "club_probability",
    "sigma_m",
    "end_sigma_m",
    "note",
    "corrected",
    "rise_m",
    "rise_sigma_m",
)
# Seven decimals of a degree are 12 mm (RFC 7946, 11.2 asks for no more than the data bear).
_DEGREE_DECIMALS = 7
_LENGTH_DECIMALS = 3


def prepare_folder(out: str | Path) -> Path:
    """
    Make the folder that results go to.

    Parameters
    ----------
    out : str or pathlib.Path
        The folder; it may exist.

    Returns
    -------
    pathlib.Path
        The folder, there and writable.

    Raises
    ------
    InputError
        If it cannot be made or is a file.
    """
    folder = Path(out)
    try:
        if folder.is_file():
            raise InputError("this is a file, not a folder", str(out), "Give another --out")
        folder.mkdir(parents=True, exist_ok=True)
        probe = folder / ".trackgolf-probe"
        probe.write_bytes(b"")
        probe.unlink()
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise InputError(
            f"the output folder cannot be written ({reason})", str(out), "Give another --out"
        ) from error
    return folder


def shots_geojson(result: Round) -> dict[str, Any]:
    """
    Put the shots of a round into GeoJSON.

    Parameters
    ----------
    result : Round
        The round.

    Returns
    -------
    dict
        A FeatureCollection of LineStrings, longitude first (RFC 7946); lengths [m], times UTC.
    """
    features = []
    for shot in result.shots.to_dict("records"):
        properties = {key: plain_value(shot[key]) for key in _SHOT_PROPERTIES}
        if result.course.invented:
            properties["invented"] = "yes"
        line = [
            [round(shot["start_lon_deg"], _DEGREE_DECIMALS), round(shot["start_lat_deg"], _DEGREE_DECIMALS)],
            [round(shot["end_lon_deg"], _DEGREE_DECIMALS), round(shot["end_lat_deg"], _DEGREE_DECIMALS)],
        ]
        features.append(
            {
                "type": "Feature",
                "geometry": {"type": "LineString", "coordinates": line},
                "properties": properties,
            }
        )
    return {"type": "FeatureCollection", "features": features}


def holes_csv(result: Round) -> str:
    """
    Write the holes of a round as CSV.

    Parameters
    ----------
    result : Round
        The round.

    Returns
    -------
    str
        UTF-8 text with a header, empty where unknown.
    """
    return plain_table(result.holes)


def comparison_csv(result: Round) -> str:
    """
    Write the comparison with the plan as CSV.

    Parameters
    ----------
    result : Round
        The round.

    Returns
    -------
    str
        UTF-8 text with a header; the header alone without a plan.
    """
    return plain_table(result.comparison)


def write_round(
    result: Round, out: str | Path, report: str, *, more: Mapping[str, str] | None = None
) -> list[Path]:
    """
    Write a round's files, so that no half file is ever seen.

    Parameters
    ----------
    result : Round
        The round.
    out : str or pathlib.Path
        The folder.
    report : str
        The finished report.
    more : mapping of str to str, optional
        Further files, by name.

    Returns
    -------
    list of pathlib.Path
        What was written.

    Raises
    ------
    InputError
        If the folder or a file cannot be written.
    """
    folder = prepare_folder(out)
    texts = {
        "shots.geojson": geojson_text(shots_geojson(result)),
        "holes.csv": holes_csv(result),
        "comparison.csv": comparison_csv(result),
        "report.html": report,
    } | dict(more or {})
    write_texts([(folder / name, text) for name, text in texts.items()])
    return [folder / name for name in texts]


def plain_value(value: Any) -> Any:
    """
    Give a value as JSON knows it.

    Parameters
    ----------
    value : object
        A cell of a table.

    Returns
    -------
    object
        Unknown is None, lengths to the millimetre, times ISO 8601 UTC.
    """
    if isinstance(value, str):
        return value
    if value is None or pd.isna(value):
        return None
    if isinstance(value, pd.Timestamp):
        return _iso(value)
    if isinstance(value, bool):
        return value
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        # Adding nothing turns a negative zero into a plain one.
        return round(value, _LENGTH_DECIMALS) + 0.0 if math.isfinite(value) else None
    return value


def _iso(time: pd.Timestamp) -> str:
    return time.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z"


def plain_table(table: pd.DataFrame) -> str:
    """
    Write a table as CSV.

    Parameters
    ----------
    table : pandas.DataFrame
        Any table.

    Returns
    -------
    str
        UTF-8 text with a header, empty where unknown.
    """
    text = table.map(lambda value: "" if (plain := plain_value(value)) is None else plain)
    buffer = io.StringIO()
    text.to_csv(buffer, index=False, lineterminator="\n")
    return buffer.getvalue()
