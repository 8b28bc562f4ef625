"""A hole played twice in one round, as two holes of the report: a nine played twice reads as eighteen."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd

__all__ = ["holes_by_playing", "lines_by_playing", "number_playings", "shots_by_playing", "walk_by_playing"]

# The walk to a tee belongs to its hole from this long before the first stroke on [s], as in the walk table.
_BEFORE_S = 60.0


def number_playings(holes: pd.DataFrame, last_hole: int) -> dict[int, int]:
    """
    Give each playing of a hole a number of its own.

    Parameters
    ----------
    holes : pandas.DataFrame
        The holes of a round with ``hole`` and ``visit``.
    last_hole : int
        Highest number on the course.

    Returns
    -------
    dict of int to int
        By visit: the number of the hole, that much higher by the last of the
        course for each time it had been played before.

    Examples
    --------
    >>> number_playings(pd.DataFrame({"hole": [8, 9, 1, 8], "visit": [0, 1, 2, 3]}), 9)
    {0: 8, 1: 9, 2: 1, 3: 17}
    """
    numbers: dict[int, int] = {}
    before: dict[int, int] = {}
    played = holes.sort_values("visit")
    for hole, visit in zip(played["hole"].tolist(), played["visit"].tolist(), strict=True):
        numbers[int(visit)] = int(hole) + last_hole * before.get(hole, 0)
        before[hole] = before.get(hole, 0) + 1
    return numbers


def holes_by_playing(holes: pd.DataFrame, numbers: dict[int, int]) -> pd.DataFrame:
    """
    Number the rows of holes by playing.

    Parameters
    ----------
    holes : pandas.DataFrame
        With ``hole``, ``visit`` and ``note``.
    numbers : dict of int to int
        From `number_playings`.

    Returns
    -------
    pandas.DataFrame
        The same with new numbers; the note of a further playing says which
        hole it is.
    """
    number = holes["visit"].map(numbers)
    again = [f"hole {hole} played again" for hole in holes["hole"]]
    said = [
        "; ".join(filter(None, (text if new != old else "", note)))
        for text, new, old, note in zip(again, number, holes["hole"], holes["note"], strict=True)
    ]
    return holes.assign(hole=number, note=said)


def shots_by_playing(shots: pd.DataFrame, numbers: dict[int, int]) -> pd.DataFrame:
    """
    Number the holes of shots by playing.

    Parameters
    ----------
    shots : pandas.DataFrame
        With ``hole`` and ``visit``.
    numbers : dict of int to int
        From `number_playings`.

    Returns
    -------
    pandas.DataFrame
        The same with new numbers.
    """
    return shots.assign(hole=shots["visit"].map(numbers))


def walk_by_playing(walk: pd.DataFrame, holes: pd.DataFrame, numbers: dict[int, int]) -> pd.DataFrame:
    """
    Number the holes of a walk by playing.

    Parameters
    ----------
    walk : pandas.DataFrame
        With ``time`` and ``hole``.
    holes : pandas.DataFrame
        With ``hole``, ``visit`` and ``first_time``.
    numbers : dict of int to int
        From `number_playings`.

    Returns
    -------
    pandas.DataFrame
        The same with new numbers.
    """
    hole = walk["hole"].copy()
    for row in holes.sort_values("visit").to_dict("records"):
        since = row["first_time"] - pd.Timedelta(seconds=_BEFORE_S)
        hole[(walk["hole"] == row["hole"]) & (walk["time"] >= since)] = numbers[int(row["visit"])]
    return walk.assign(hole=hole)


def lines_by_playing(
    table: gpd.GeoDataFrame, holes: pd.DataFrame, numbers: dict[int, int]
) -> gpd.GeoDataFrame:
    """
    Repeat what belongs to a hole for each further playing of it.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        Shapes or lines with ``hole``.
    holes : pandas.DataFrame
        With ``hole`` and ``visit``.
    numbers : dict of int to int
        From `number_playings`.

    Returns
    -------
    geopandas.GeoDataFrame
        The table, then its rows once more under the new numbers.
    """
    more = [
        table[table["hole"] == hole].assign(hole=numbers[int(visit)])
        for hole, visit in zip(holes["hole"], holes["visit"], strict=True)
        if numbers[int(visit)] != hole
    ]
    parts = [part.astype({"hole": "Int64"}) for part in (table, *more) if len(part)]
    if len(parts) < 2:
        return table
    return gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), crs=table.crs)
