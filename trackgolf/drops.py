"""Drops: shots that were played from beside the water their ball had gone into."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
import shapely

from geo.frame import LocalFrame
from trackgolf.settings import RoundSettings
from trackgolf.shots import Said

__all__ = ["mark_drops"]


def mark_drops(
    shots: pd.DataFrame,
    water: shapely.Geometry,
    frame: LocalFrame,
    penalties: dict[int, int | None],
    settings: RoundSettings,
    said: Mapping[int, Said] | None = None,
    room: Mapping[int, int | None] | None = None,
) -> pd.DataFrame:
    """
    Mark the shots whose ball went into a penalty area and was dropped out of it.

    A track shows only where the next shot was played: beside water that lies across the line of the shot, where the
    Rules of Golf 17.1d put a drop. Such a place alone is no proof, so without a card only the nearest are counted,
    and said to be doubtful; the card's penalties decide where it has them.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots as `trackgolf.shots.lay_out_shots` makes them.
    water : shapely.Geometry
        Every penalty area in metres of the frame.
    frame : LocalFrame
        The course's frame.
    penalties : dict
        Penalty strokes by number of the visit, as card and corrections have them; None or no entry unknown.
    settings : RoundSettings
        How near the water a drop is likely, and possible.
    said : mapping of int to Said, optional
        By stand, what the player says of the shot there; where that is how it ended, or what it cost, it holds.
    room : mapping of int to int, optional
        By number of the visit, the penalty strokes that strokes and putts leave room for where none are told; None or
        no entry unknown.

    Returns
    -------
    pandas.DataFrame
        The shots; one that was followed by a drop has `penalty` 1, `end_lie` ``penalty_area``, no lengths, and a
        note. Its line still ends where the player stood to drop.
    """
    marked = shots.copy()
    if shots.empty or shapely.is_empty(water):
        return marked
    edge = _distance_from_water(shots, water, frame)
    settled = {
        stand
        for stand, known in (said or {}).items()
        if known.end_lie is not None or known.penalty is not None
    }
    edge[shots["stand"].isin(settled)] = np.inf
    for _, visit in shots.groupby("visit", sort=False):
        number = int(visit["visit"].iloc[0])
        known = penalties.get(number)
        most = known if known is not None else (room or {}).get(number)
        left = len(visit) if most is None else most - int(visit["penalty"].sum())
        limit = settings.drop_m if known is None else settings.drop_carded_m
        near = [index for index in visit.index if edge[index] <= limit and visit.loc[index, "penalty"] == 0]
        for index in sorted(near, key=lambda place: edge[place])[: max(left, 0)]:
            marked.loc[index, ["distance_m", "path_m", "progress_m", "leave_m"]] = np.nan
            marked.loc[index, "penalty"] = 1
            marked.loc[index, "end_lie"] = "penalty_area"
            marked.loc[index, "note"] = (
                "into the penalty area, by the card"
                if known
                else "probably into the penalty area: played on beside it"
            )
    return marked


def _distance_from_water(shots: pd.DataFrame, water: shapely.Geometry, frame: LocalFrame) -> pd.Series:
    """From where the next shot was played to the water, infinite where the line of the shot does not meet any [m]."""
    start = np.column_stack(
        frame.to_metres(shots["start_lon_deg"].to_numpy(), shots["start_lat_deg"].to_numpy())
    )
    finish = np.column_stack(
        frame.to_metres(shots["end_lon_deg"].to_numpy(), shots["end_lat_deg"].to_numpy())
    )
    way = finish - start
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1.0)
    # On past the spot: a ball dropped on the near side was on its way over the water or into it.
    beyond = finish + way / length[:, None] * 20.0
    lines = shapely.buffer(shapely.linestrings(np.stack([start, beyond], axis=1)), 12.0)
    shapely.prepare(water)
    meets = shapely.intersects(water, lines)
    gap = shapely.distance(water, shapely.points(finish))
    followed = shots["end_lie"].isin(["lost", "picked_up", "green", "holed"]).to_numpy()
    return pd.Series(np.where(meets & ~followed, gap, np.inf), index=shots.index)
