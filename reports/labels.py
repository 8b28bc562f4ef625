"""Labels beside crowded points, each near its own and none on another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

__all__ = ["label_box", "place_labels"]

Floats = npt.NDArray[np.float64]

# Letters of the labels are about this wide, the small ones before them narrower, and so high [px].
_LETTER, _SMALL_LETTER, _HEIGHT = 6.7, 5.4, 12.0
# Between the two parts, and kept free round a label [px].
_GAP, _FREE = 3.5, 0.8
# Half the side of a mark, which no label should cover [px].
_MARK = 5.5
# Where a label may go: distances of its near edge from the point [px], and directions.
_REACHES = (7.5, 12.0, 19.0, 28.0, 40.0, 56.0, 76.0, 105.0)
_DIRECTIONS = tuple(
    (math.cos(turn), math.sin(turn)) for turn in np.linspace(0.0, 2.0 * math.pi, 12, endpoint=False)
)
# From this distance on a line leads from the label to its point [px].
_LEADER = 13.0
# What overlapping another label, covering a mark, leaving the picture, and crossing another label or mark cost
# against a pixel of distance; tuned by eye.
_ON_LABEL, _ON_MARK, _OUTSIDE, _CROSSING = 30.0, 2.0, 60.0, 9.0
_ROUNDS = 6
_NOWHERE = 1e6
# Places tried together; more is quicker in a crowd, fewer where there is room.
_AT_ONCE = 12


def place_labels(
    points: list[dict[str, Any]], half: float, *, keep_free: Sequence[tuple[float, float]] = ()
) -> None:
    """
    Find a place for the label of each point, apart from the others.

    Parameters
    ----------
    points : list of dict
        With `x`, `y`, `hole` and `club`; gets `label_x` and `label_y`, where
        the base line begins, and `leader`: where a line must lead to the
        label, the place it ends at, else None.
    half : float
        Labels stay within this distance of the middle [px].
    keep_free : sequence of tuple of float, optional
        Further places that no label should cover [px].

    Notes
    -----
    Each label takes the best of its places given all others, in turn, until
    none moves: crowded labels spread to where there is room.
    """
    if not points:
        return
    at = np.array([[point["x"], point["y"]] for point in points], dtype=float)
    covered = np.vstack([at, np.array(keep_free).reshape(-1, 2)])
    marks = np.hstack([covered - _MARK, covered + _MARK])
    choices = [_places(point, half, marks) for point in points]
    leads = [
        np.hstack([np.broadcast_to(xy, ends.shape), ends])
        for xy, (_, ends, _) in zip(at, choices, strict=True)
    ]
    # The most crowded choose first.
    near = (np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) < 30.0).sum(axis=1)
    order = sorted(range(len(points)), key=lambda index: (-int(near[index]), index))
    # What is not placed yet, or is just being placed, lies far away from everything.
    taken, lines = np.full((len(points), 4), _NOWHERE), np.full((len(points), 4), _NOWHERE)
    chosen = [-1] * len(points)
    for _ in range(_ROUNDS):
        before = list(chosen)
        for index in order:
            if chosen[index] == 0 and not _touched(index, taken, lines):
                continue
            taken[index], lines[index] = _NOWHERE, _NOWHERE
            chosen[index] = _cheapest(choices[index], leads[index], taken, lines)
            boxes, ends, _ = choices[index]
            taken[index], lines[index] = boxes[chosen[index]], [*at[index], *ends[chosen[index]]]
        if chosen == before:
            break
    for index, point in enumerate(points):
        boxes, anchors, _ = choices[index]
        box, anchor = boxes[chosen[index]], anchors[chosen[index]]
        point["label_x"] = round(float(box[0]) + _FREE, 1)
        point["label_y"] = round(float(box[3]) - _FREE - 2.6, 1)
        far = math.hypot(anchor[0] - point["x"], anchor[1] - point["y"]) > _LEADER
        point["leader"] = (round(float(anchor[0]), 1), round(float(anchor[1]), 1)) if far else None


def label_box(point: dict[str, Any]) -> tuple[float, float, float, float]:
    """
    Say what a placed label covers.

    Parameters
    ----------
    point : dict
        After `place_labels`.

    Returns
    -------
    tuple of float
        Left, top, right and bottom [px].
    """
    left, bottom = point["label_x"], point["label_y"] + 2.6
    return left, bottom - _HEIGHT, left + _width(point), bottom


def _cheapest(choice: tuple[Floats, Floats, Floats], leads: Floats, taken: Floats, lines: Floats) -> int:
    """Find the place that costs least given all other labels; cheap ones by themselves are tried first."""
    boxes, _, fixed = choice
    best, least = 0, math.inf
    for first in range(0, len(fixed), _AT_ONCE):
        # What the other labels add is never below zero.
        if fixed[first] >= least:
            break
        some = slice(first, first + _AT_ONCE)
        cost = fixed[some] + _ON_LABEL * _overlaps(boxes[some], taken).sum(axis=1)
        cost += _CROSSING * _crossed(leads[some], taken).sum(axis=1)
        cost += _CROSSING * _crossed(lines, boxes[some]).sum(axis=0)
        cost = np.round(cost, 6)
        place = int(np.argmin(cost))
        if cost[place] < least:
            best, least = first + place, float(cost[place])
    return best


def _touched(index: int, taken: Floats, lines: Floats) -> bool:
    """Whether a placed label shares ground with another, or a line runs through it."""
    others = np.delete(taken, index, axis=0)
    box = taken[index : index + 1]
    return bool(_overlaps(box, others).any() or _crossed(np.delete(lines, index, axis=0), box).any())


def _width(point: dict[str, Any]) -> float:
    return _SMALL_LETTER * len(str(point["hole"])) + _GAP + _LETTER * len(point["club"])


def _places(point: dict[str, Any], half: float, marks: Floats) -> tuple[Floats, Floats, Floats]:
    """All places of a label: boxes with their free rim, ends of their lines, and what each costs by itself; cheapest first."""
    width, height = _width(point) + 2.0 * _FREE, _HEIGHT + 2.0 * _FREE
    reach, turn = np.meshgrid(np.array(_REACHES), np.arange(len(_DIRECTIONS)), indexing="ij")
    cos, sin = np.array(_DIRECTIONS)[turn.ravel()].T
    # The near edge of the box lies at that distance, whatever the direction.
    anchors = np.column_stack([point["x"] + reach.ravel() * cos, point["y"] + reach.ravel() * sin])
    middle = anchors + np.column_stack([0.5 * width * cos, 0.5 * height * sin])
    size = np.array([width, height])
    boxes = np.hstack([middle - 0.5 * size, middle + 0.5 * size])
    outside = np.clip(np.hstack([-half - boxes[:, :2], boxes[:, 2:] - half]), 0.0, None).sum(axis=1)
    # Beside its point a label reads best.
    cost = (
        reach.ravel()
        + 2.0 * np.abs(sin)
        + _OUTSIDE * outside
        + _ON_MARK * _overlaps(boxes, marks).sum(axis=1)
    )
    order = np.argsort(cost, kind="stable")
    return boxes[order], anchors[order], cost[order]


def _overlaps(boxes: Floats, others: Floats) -> Floats:
    """Measure the area each box shares with each of the others."""
    low = np.maximum(boxes[:, None, :2], others[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], others[None, :, 2:])
    areas: Floats = np.clip(high - low, 0.0, None).prod(axis=2)
    return areas


def _crossed(lines: Floats, boxes: Floats) -> Floats:
    """Tell which lines run through which boxes: 1 or 0."""
    start, along = lines[:, None, :2], lines[:, None, 2:] - lines[:, None, :2]
    # Where along the line it passes the sides of the box; a line that is straight up passes them far away.
    along = np.where(np.abs(along) < 1e-9, 1e-9, along)
    one, other = (boxes[None, :, :2] - start) / along, (boxes[None, :, 2:] - start) / along
    enter = np.minimum(one, other).max(axis=2)
    leave = np.maximum(one, other).min(axis=2)
    crossed: Floats = ((enter < leave) & (enter < 1.0) & (leave > 0.0)).astype(float)
    return crossed
