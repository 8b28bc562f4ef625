"""Where the holes of an invented course run: lanes out and back, or any way that leads home."""

from __future__ import annotations

import itertools

import numpy as np

from tests.simulator.geometry import Array, line_length
from tests.simulator.wandering import wander_nine

__all__ = ["route_holes"]

# Order in which the four lanes of a nine are walked, counted outwards from the clubhouse.
_LANES = ((0, 1, 2, 3), (0, 2, 3, 1), (1, 2, 3, 0), (3, 2, 1, 0), (1, 3, 2, 0), (0, 1, 3, 2))
_LENGTH_M = {3: (112.0, 188.0), 4: (262.0, 392.0), 5: (428.0, 505.0)}


def route_holes(rng: np.random.Generator, holes: int) -> tuple[list[Array], list[int]]:
    """Return a line for each hole, tee to green, and its par."""
    drawn = [_balanced(rng) for _ in range(holes // 9)]
    pars = [par for nine in drawn for par in nine[0]]
    sides = (-1.0, 1.0)
    if rng.random() < 0.5:
        lines: list[Array] = []
        for side, (nine_pars, lengths, _) in zip(sides, drawn, strict=False):
            found = wander_nine(rng, side, lengths, nine_pars, lines)
            if found is None:
                break
            lines += found
        if len(lines) == holes:
            return lines, pars
    bends = _bends(rng)
    lines = []
    for side, (nine_pars, lengths, splits) in zip(sides, drawn, strict=False):
        lines += _lanes(rng, side, bends, nine_pars, lengths, splits)
    return lines, pars


def _bends(rng: np.random.Generator) -> tuple[Array, Array]:
    """Sideways shift of all lanes as a function of the distance from the clubhouse."""
    count = int(rng.integers(2, 5))
    knots = np.sort(rng.uniform(60, 900, count))
    knots = np.concatenate([[-300.0], knots, [1800.0]])
    slopes = np.tan(np.radians(rng.uniform(-24, 24, count + 1)))
    shift = np.concatenate([[0.0], np.cumsum(slopes * np.diff(knots))])
    return knots, shift - np.interp(0.0, knots, shift)


def _lanes(
    rng: np.random.Generator,
    side: float,
    bends: tuple[Array, Array],
    pars: list[int],
    lengths: list[float],
    splits: tuple[int, ...],
) -> list[Array]:
    lanes = _LANES[int(rng.integers(len(_LANES)))]
    spacing = rng.uniform(47, 80, 4)
    spacing[0] = rng.uniform(24, 42)
    offsets = side * np.cumsum(spacing)
    lines: list[Array] = []
    y = rng.uniform(0, 25)
    i = 0
    for run, count in enumerate(splits):
        outward = run % 2 == 0
        sign = 1.0 if outward else -1.0
        x = offsets[lanes[run]]
        outer = lanes[run] == 3
        for _ in range(count):
            lines.append(_hole(rng, x, y, sign, lengths[i], pars[i], bends, side if outer else 0.0))
            y = lines[-1][-1][1] + sign * rng.uniform(32, 60)
            i += 1
        # the next lane begins about level with the end of this one
        y = lines[-1][-1][1] + rng.uniform(-28, 28)
    return lines


def _hole(
    rng: np.random.Generator,
    x: float,
    y: float,
    sign: float,
    length: float,
    par: int,
    bends: tuple[Array, Array],
    room: float,
) -> Array:
    """One hole in lane coordinates, then bent with its lane; `room` points to open land beside the lane."""
    n = 2 if par == 3 else 9
    across = rng.normal(0, 3.5, 2)
    t = np.linspace(0.0, 1.0, n)
    xs = x + across[0] + (across[1] - across[0]) * t
    ys = y + sign * length * t
    if par > 3 and rng.random() < 0.55:
        bulge = room * rng.uniform(10, 38) if room else rng.normal(0, 4)
        corner = rng.uniform(0.45, 0.7)
        xs = xs + bulge * np.interp(t, [0, corner, 1], [0, 1, 0])
    line = np.column_stack([xs + np.interp(ys, *bends), ys])
    if par == 3:
        return line
    return _simplify(line, keep=2 if par == 5 else 1)


def _simplify(line: Array, keep: int) -> Array:
    """Keep the ends and the few inner nodes that follow the bend best."""
    inner: list[int] = []
    for _ in range(keep):
        best, gap = None, 4.0
        nodes = sorted([0, *inner, len(line) - 1])
        for a, b in itertools.pairwise(nodes):
            for i in range(a + 1, b):
                leg = line[b] - line[a]
                off = abs(leg[0] * (line[i] - line[a])[1] - leg[1] * (line[i] - line[a])[0]) / line_length(
                    line[[a, b]]
                )
                if off > gap:
                    best, gap = i, float(off)
        if best is None:
            break
        inner.append(best)
    return line[sorted([0, *inner, len(line) - 1])]


def _balanced(rng: np.random.Generator) -> tuple[list[int], list[float], tuple[int, ...]]:
    """Draw nine pars and lengths whose runs out and back bring the player home."""
    best = None
    for _ in range(400):
        fives = int(rng.choice([1, 2], p=[0.4, 0.6]))
        threes = 3 if fives == 2 and rng.random() < 0.25 else 2
        pars = [3] * threes + [5] * fives + [4] * (9 - threes - fives)
        pars = [int(p) for p in rng.permutation(pars)]
        if pars[0] == 3 or any(a == b == 3 for a, b in itertools.pairwise(pars)):
            continue
        lengths = [float(rng.uniform(*_LENGTH_M[p])) for p in pars]
        cuts = [
            (2, 2, 3, 2),
            (2, 2, 2, 3),
            (3, 2, 2, 2),
            (2, 3, 2, 2),
            (1, 2, 3, 3),
            (3, 3, 2, 1),
            (2, 3, 3, 1),
        ]
        splits = cuts[int(rng.integers(len(cuts)))]
        runs, i = [], 0
        for count in splits:
            runs.append(sum(lengths[i : i + count]) + 45.0 * (count - 1))
            i += count
        miss = abs(runs[0] - runs[1]) + abs(runs[2] - runs[3]) + max(0.0, max(runs) - 950.0)
        if best is None or miss < best[0]:
            best = (miss, pars, lengths, splits)
        if miss < 60:
            break
    assert best is not None
    return best[1], best[2], best[3]
