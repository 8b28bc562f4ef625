"""Forward and backward sums over all stories of a round, in scaled plain numbers: quicker than in logarithms."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from trackgolf.decode import Evidence

__all__ = ["IMPOSSIBLE", "story_sums"]

Floats = NDArray[np.float64]
# Stands in for minus infinity, which would turn to NaN in differences.
IMPOSSIBLE = -1.0e9
# Numbers are scaled down once they pass this one, and what falls below the smallest number there is, 1e-308, counts as
# nothing. Any state leads to any other at the cost of a hole passed over, some tens in logarithms, so that nothing can
# make up for the 700 that are lost there.
_LARGE = 1.0e60


@dataclass(slots=True)
class _Factors:
    """
    The evidence as plain factors; m stands, h holes, w stands looked back over, k shots.

    `back[j, :, c]` and `ahead[i, :, c]` hold the flights to stand j and from stand i, those between neighbours last and
    first: to the next shot, with an unseen stroke between, to the green, to the green with an unseen stroke between;
    what the later stand says by itself is part of them.
    """

    tee: Floats  # (m, h)
    second: Floats  # (m, h), the first seen shot as the second one
    stay: Floats  # (m, h)
    back: Floats  # (m, h, 4, w)
    ahead: Floats  # (m, h, 4, w)
    count: Floats  # (h, k + 1)
    picked: Floats  # (h, k + 1)
    start: Floats  # (h,)
    end: Floats  # (h,)
    order: Floats  # (h, h)
    leave: float


def _factors(evidence: Evidence) -> _Factors:
    stands, holes = evidence.tee.shape
    window = evidence.flight.shape[1]
    back = np.zeros((stands, holes, 4, window))
    ahead = np.zeros((stands, holes, 4, window))
    tables = (evidence.flight, evidence.unseen, evidence.flight_green, evidence.unseen_green)
    for kind, table in enumerate(tables):
        alone = evidence.shot if kind < 2 else evidence.arrive
        # Most stands are far from most holes.
        later, offset, hole = np.nonzero(table > IMPOSSIBLE / 2)
        earlier = later - 1 - offset
        known = earlier >= 0
        later, offset, hole, earlier = later[known], offset[known], hole[known], earlier[known]
        factor = np.exp(table[later, offset, hole] + alone[later, hole])
        back[later, hole, kind, window - 1 - offset] = factor
        ahead[earlier, hole, kind, offset] = factor
    return _Factors(
        tee=np.exp(evidence.tee),
        second=np.exp(evidence.from_tee + evidence.shot),
        stay=np.exp(evidence.after + evidence.stay),
        back=back,
        ahead=ahead,
        count=np.exp(evidence.count),
        picked=np.exp(evidence.count_picked),
        start=np.exp(evidence.start),
        end=np.exp(evidence.end),
        order=np.exp(evidence.order),
        leave=math.exp(evidence.leave),
    )


def story_sums(evidence: Evidence) -> tuple[Floats, Floats, Floats] | None:
    """Give the probability of each stand as a shot, as the first on a green, as a first shot; None without a story."""
    factors = _factors(evidence)
    shots, arrivals, scale, total = _forward(factors)
    if total <= 0.0:
        return None
    after_shot, after_green, scale_after = _backward(factors)
    # Both sides are scaled a stand each; the last stand's scale is that of the total.
    weight = np.exp(np.minimum(scale + scale_after - scale[-1] - math.log(total), 700.0))[:, None]
    both = shots * after_shot
    return both.sum(axis=2) * weight, arrivals * after_green * weight, both[:, :, 1] * weight


def _forward(factors: _Factors) -> tuple[Floats, Floats, Floats, float]:
    """Sums over all beginnings: shots (m, h, k + 1), arrivals (m, h), logarithm of the scale (m,), and the total."""
    stands, holes = factors.tee.shape
    window, counts = factors.back.shape[3], factors.count.shape[1]
    shots, arrivals = np.zeros((stands, holes, counts)), np.zeros((stands, holes))
    # The same shots a hole and stand, on the scale of the present stand.
    lately = np.zeros((holes, stands, counts))
    scales = np.zeros(stands)
    start, scale = factors.start, 0.0
    green, away = np.zeros(holes), np.zeros(holes)
    for j in range(stands):
        here = shots[j]
        entry = start + away @ factors.order
        here[:, 1] = entry * factors.tee[j]
        here[:, 2] = entry * factors.second[j]
        first = max(j - window, 0)
        if j:
            flown = factors.back[j, :, :, window - (j - first) :] @ lately[:, first:j]
            here[:, 1:] += flown[:, 0, :-1]
            here[:, 2:] += flown[:, 1, :-2]
            arrivals[j] = np.einsum("hk,hk->h", flown[:, 2], factors.count)
            arrivals[j] += np.einsum("hk,hk->h", flown[:, 3, :-1], factors.count[:, 1:])
        green = green * factors.stay[j] + arrivals[j]
        away = away + np.einsum("hk,hk->h", here, factors.picked) + green * factors.leave
        lately[:, j] = here
        scales[j] = scale
        largest = max(float(here.max()), float(green.max()), float(away.max()))
        if largest > _LARGE:
            lately[:, first : j + 1] /= largest
            green, away = green / largest, away / largest
            scale += math.log(largest)
            start = factors.start * math.exp(-min(scale, 740.0))
            if j == stands - 1:
                shots[j] /= largest
                arrivals[j] /= largest
                scales[j] = scale
    return shots, arrivals, scales, float(away @ factors.end)


def _backward(factors: _Factors) -> tuple[Floats, Floats, Floats]:
    """Sums over all ends: after a shot (m, h, k + 1), after an arrival (m, h), logarithm of the scale (m,)."""
    stands, holes = factors.tee.shape
    window, counts = factors.ahead.shape[3], factors.count.shape[1]
    shots, greens = np.zeros((stands, holes, counts)), np.zeros((stands, holes))
    soon, soon_green = np.zeros((holes, stands, counts)), np.zeros((holes, 1, stands))
    scales, scale = np.zeros(stands), 0.0
    green, away, entry = np.zeros(holes), factors.end, np.zeros(holes)
    for i in range(stands - 1, -1, -1):
        past = min(i + 1 + window, stands)
        here = shots[i]
        if i < stands - 1:
            away = away + factors.order @ entry
            green = green * factors.stay[i + 1]
        green = green + factors.leave * away
        here[:] = factors.picked * away[:, None]
        if i < stands - 1:
            ahead = factors.ahead[i, :, :, : past - i - 1]
            gone = ahead[:, :2] @ soon[:, i + 1 : past]
            here[:, :-1] += gone[:, 0, 1:]
            here[:, :-2] += gone[:, 1, 2:]
            landed = (ahead[:, 2:] * soon_green[:, :, i + 1 : past]).sum(axis=2)
            here += landed[:, :1] * factors.count
            here[:, :-1] += landed[:, 1:] * factors.count[:, 1:]
        entry = factors.tee[i] * here[:, 1] + factors.second[i] * here[:, 2]
        greens[i] = green
        soon[:, i], soon_green[:, 0, i] = here, green
        scales[i] = scale
        largest = max(float(here.max()), float(green.max()), float(away.max()), float(entry.max()))
        if largest > _LARGE:
            soon[:, i:past] /= largest
            soon_green[:, :, i:past] /= largest
            green, away, entry = green / largest, away / largest, entry / largest
            scale += math.log(largest)
    return shots, greens, scales
