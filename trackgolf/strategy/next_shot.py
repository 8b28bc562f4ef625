"""From here, what next: zones of a hole by the stroke that a plan plays from them, and the usual spots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from scipy import ndimage

from trackgolf.strategy.model import HoleModel
from trackgolf.strategy.settings import LIES
from trackgolf.strategy.site import GROUND
from trackgolf.strategy.value import Solution, stroke_at

__all__ = ["NextShots", "Spot", "Zone", "next_shots", "usual_spots"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# Zones reach so far from the line of play [m].
_BESIDE_M = 45.0
# Zones smaller than this are part of a neighbour; no more than so many are told apart [cells, zones].
_SMALLEST, _MOST_ZONES = 10, 9
# A poor tee shot, for the table: this part of the way, or so far to the side [m]; sand within reach of the target [m].
_SHORT_PART, _ASIDE_M, _SAND_M = 0.6, 25.0, 70.0
_PASSES = 4


@dataclass(frozen=True)
class Zone:
    """
    A part of a hole from which one kind of stroke is played.

    Attributes
    ----------
    club : str
        Name of the club.
    at_hole : bool
        Whether it is played at the hole, rather than to a place before it.
    area : shapely.Geometry
        The zone, right and up in the hole's metres [m].
    mark_m : tuple of float
        A place inside it for its name [m].
    """

    club: str
    at_hole: bool
    area: Any
    mark_m: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """
    A usual place after the tee shot, and what is played from it.

    Attributes
    ----------
    name : str
        ``on target``, ``short``, ``left``, ``right`` or ``bunker``.
    lie : str
        One of `LIES`; ``water`` or ``out_of_bounds`` where nothing is played from it.
    club : str
        Name of the club, "" where nothing is played.
    distance_m, leave_m : float
        Length of the stroke, and what it leaves [m].
    at_hole : bool
        Whether it is played at the hole.
    strokes_to_go : float
        Strokes still to come at best, putts included.
    """

    name: str
    lie: str
    club: str
    distance_m: float
    leave_m: float
    at_hole: bool
    strokes_to_go: float


@dataclass(frozen=True)
class NextShots:
    """
    What a plan plays from everywhere.

    Attributes
    ----------
    zones : tuple of Zone
        The largest first.
    spots : tuple of Spot
        The usual places.
    """

    zones: tuple[Zone, ...]
    spots: tuple[Spot, ...]


def next_shots(solution: Solution, fewest: Solution, targets_m: Sequence[tuple[float, float]]) -> NextShots:
    """
    Say what a plan plays from everywhere.

    Parameters
    ----------
    solution : Solution
        The plan of a hole.
    fewest : Solution
        The plan of fewest strokes, for the strokes to go.
    targets_m : sequence of tuple
        Where the planned strokes lead, right and up [m].

    Returns
    -------
    NextShots
        Zones and usual spots. A zone takes the strokes played from the planned target that is as far from the hole.
    """
    return NextShots(_zones(solution, targets_m), tuple(usual_spots(solution, fewest, targets_m[0])))


def _zones(solution: Solution, targets_m: Sequence[tuple[float, float]]) -> tuple[Zone, ...]:
    model = solution.model
    grid = model.grid
    away = np.array([np.hypot(*(np.array(target) - grid.site.pin_m)) for target in targets_m])
    played = 1 + np.abs(grid.to_hole_m[..., None] - away).argmin(axis=-1)
    lie = grid.lie_shares.argmax(axis=0)
    up, right = np.meshgrid(grid.up_m, grid.right_m, indexing="ij")
    beside = shapely.distance(shapely.LineString(grid.site.line_m), shapely.points(right, up))
    inside = (beside <= _BESIDE_M) & (grid.lie_shares.sum(axis=0) > 0.5)
    choices = np.stack(
        [
            np.take_along_axis(solution.stage(strokes).choices, lie[None], axis=0)[0]
            for strokes in range(len(targets_m) + 2)
        ]
    )
    choice = np.take_along_axis(choices, played[None], axis=0)[0]
    labels, names = _labels(model, choice, lie, inside)
    labels = _smoothed(labels, len(names))
    zones = []
    half = grid.cell_m / 2
    for number, (club, at_hole) in enumerate(names):
        parts, count = ndimage.label(labels == number)
        for part in range(1, count + 1):
            spots = np.argwhere(parts == part)
            if len(spots) < _SMALLEST:
                continue
            x, y = grid.right_m[spots[:, 1]], grid.up_m[spots[:, 0]]
            area = shapely.union_all(shapely.box(x - half, y - half, x + half, y + half))
            mark = area.representative_point()
            zones.append(Zone(club, at_hole, area, (float(mark.x), float(mark.y))))
    zones.sort(key=lambda zone: -zone.area.area)
    return tuple(zones[:_MOST_ZONES])


def _labels(
    model: HoleModel, choice: Ints, lie: Ints, inside: npt.NDArray[np.bool_]
) -> tuple[Ints, list[tuple[str, bool]]]:
    """Number the cells by club and whether the stroke is meant to reach the green; -1 outside."""
    grid = model.grid
    names: list[tuple[str, bool]] = []
    labels = np.full(grid.shape, -1, dtype=np.int64)
    rows, columns = grid.shape
    for row, column in np.argwhere(inside):
        stroke = stroke_at(model, int(lie[row, column]), int(choice[row, column]))
        to_row = int(np.clip(round(row + stroke.row), 0, rows - 1))
        to_column = int(np.clip(round(column + stroke.column), 0, columns - 1))
        on_green = stroke.at_hole or grid.green[to_row, to_column] > 0.5
        key = (model.swings[0][stroke.swing].club, bool(on_green))
        if key not in names:
            names.append(key)
        labels[row, column] = names.index(key)
    return labels, names


def _smoothed(labels: Ints, count: int) -> Ints:
    """Give crumbs to the label that is commonest around them."""
    for _ in range(_PASSES):
        small = np.zeros(labels.shape, dtype=bool)
        for number in range(count):
            parts, _ = ndimage.label(labels == number)
            sizes = np.bincount(parts.ravel())
            sizes[0] = _SMALLEST
            small |= sizes[parts] < _SMALLEST
        if not small.any():
            break
        votes = np.stack(
            [ndimage.uniform_filter(((labels == n) & ~small).astype(float), 5) for n in range(count)]
        )
        labels = np.where(small & (votes.max(axis=0) > 0), votes.argmax(axis=0), labels)
    return labels


def usual_spots(solution: Solution, fewest: Solution, target_m: tuple[float, float]) -> list[Spot]:
    """
    Say what a plan plays from the usual places after the tee shot.

    Parameters
    ----------
    solution : Solution
        The plan of a hole.
    fewest : Solution
        The plan of fewest strokes, for the strokes to go.
    target_m : tuple of float
        Where the tee shot leads, right and up [m].

    Returns
    -------
    list of Spot
        Those there are.
    """
    model = solution.model
    grid = model.grid
    tee, target = grid.site.line_m[0], np.array(target_m)
    way = target - tee
    length = max(float(np.hypot(*way)), 1e-9)
    aside = np.array([way[1], -way[0]]) / length * _ASIDE_M
    places = {
        "on target": target,
        "short": tee + _SHORT_PART * way,
        "left": target - aside,
        "right": target + aside,
    }
    if solution.goal.regulation_shots == 1 or np.hypot(*(target - grid.site.pin_m)) < _ASIDE_M:
        del places["on target"]
    sand = grid.shares[GROUND.index("bunker")] > 0.3
    if sand.any():
        row, column = np.nonzero(sand)
        off = np.hypot(grid.right_m[column] - target[0], grid.up_m[row] - target[1])
        nearest = int(off.argmin())
        if off[nearest] <= _SAND_M:
            places["bunker"] = np.array([grid.right_m[column[nearest]], grid.up_m[row[nearest]]])
    return [_spot(model, solution, fewest, name, place) for name, place in places.items()]


def _spot(model: HoleModel, solution: Solution, fewest: Solution, name: str, place: Floats) -> Spot:
    grid = model.grid
    row, column = (int(axis) for axis in grid.cell_at(place[0], place[1]))
    row, column = min(max(row, 0), grid.shape[0] - 1), min(max(column, 0), grid.shape[1] - 1)
    ground = GROUND[int(grid.shares[:, row, column].argmax())]
    if ground == "green":
        putts = float(model.putts[:, row, column] @ np.arange(1, 5))
        return Spot(name, "green", "", 0.0, 0.0, True, putts)
    if ground.startswith("water") or ground == "out_of_bounds":
        return Spot(name, ground, "", 0.0, 0.0, False, float("nan"))
    lie = LIES.index("bunker" if name == "bunker" else ground)
    stroke = stroke_at(model, lie, int(solution.stage(1).choices[lie, row, column]))
    at = np.array([grid.right_m[column], grid.up_m[row]])
    goal = grid.site.pin_m if stroke.at_hole else at + np.array([stroke.column, stroke.row]) * grid.cell_m
    to_row, to_column = (int(axis) for axis in grid.cell_at(goal[0], goal[1]))
    on_green = (
        stroke.at_hole or grid.green[min(to_row, grid.shape[0] - 1), min(to_column, grid.shape[1] - 1)] > 0.5
    )
    return Spot(
        name,
        LIES[lie],
        model.swings[lie][stroke.swing].club,
        float(np.hypot(*(goal - at))),
        float(np.hypot(*(goal - grid.site.pin_m))),
        bool(on_green),
        float(fewest.stage(1).values[lie, row, column]),
    )
