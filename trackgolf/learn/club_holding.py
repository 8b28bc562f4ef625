"""Swings held back for a target that nobody told: how short of a full one they were asked to be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["HoldingBack", "HoldingSettings", "draw_truncated"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class HoldingSettings:
    """
    What is believed of swings held back where no plan and no pin in reach tells what was asked.

    From one place of one course a player with one club has much the same target each time, so what is held back is
    one unknown share of the stated distance for each such place and club.

    Attributes
    ----------
    never : float
        Probability beforehand that a player holds no swing back.
    widths : tuple of float
        How much players hold back who do (half-normal, a share of the stated distance), all alike beforehand: a layup
        with a club that is a little too long for it. Both tuned on simulated seasons, for true intervals.
    beyond : float
        What is asked counts as out of the club's reach from this share of its stated distance on; then the pin does
        not tell the target.
    """

    never: float = 0.12
    widths: tuple[float, ...] = (0.03, 0.045, 0.06, 0.08)
    beyond: float = 1.03


class HoldingBack:
    """The state of what is held back, and its steps of the sampler."""

    def __init__(self, place: Ints, club: Ints, free: NDArray[np.bool_], settings: HoldingSettings) -> None:
        keys = place.astype(np.int64) * (int(club.max(initial=0)) + 1) + club
        found, group = np.unique(keys[free], return_inverse=True)
        self.groups = len(found)
        # The last group is of all swings whose target is known: nothing is held back beyond that.
        self.group = np.full(len(club), self.groups, dtype=np.int64)
        self.group[free] = group
        self.club = np.zeros(self.groups, dtype=np.int64)
        self.club[group] = club[free]
        self.held = np.zeros(self.groups + 1)
        widths = np.array([0.0, *settings.widths])
        self.variance = widths**2
        self.farthest = float(widths.max())
        each = (1.0 - settings.never) / max(len(settings.widths), 1)
        self.log_prior = np.log(np.array([settings.never, *[each] * len(settings.widths)]))
        self.width = 0.0

    def draw(self, rng: np.random.Generator, mean: Floats, total: Floats, precision: Floats) -> None:
        """
        Draw how much is held back in each group, given means of clubs and how much players do so.

        Parameters
        ----------
        rng : numpy.random.Generator
            Chance.
        mean : numpy.ndarray, shape (c,)
            Means of the clubs.
        total, precision : numpy.ndarray, shape (g,)
            Of each group the precision of its swings, and the sum of precision times share gone.
        """
        if self.width == 0.0:
            self.held[:] = 0.0
            return
        certainty = precision + self.width**-2
        short = (precision * mean[self.club] - total) / certainty
        self.held[:-1] = draw_truncated(rng, short, certainty**-0.5, 0.0)

    def draw_width(
        self,
        rng: np.random.Generator,
        mean: Floats,
        total: Floats,
        precision: Floats,
        middle: Floats,
        certainty: Floats,
    ) -> Floats:
        """
        Draw how much players hold back with means and what is held back summed out, and then the means.

        Means are ever surer given the width and the width given means, so that drawing one after the other hardly
        moves either.

        Parameters
        ----------
        rng : numpy.random.Generator
            Chance.
        mean : numpy.ndarray, shape (c,)
            Means of the clubs.
        total, precision : numpy.ndarray, shape (g,)
            As for `draw`.
        middle, certainty : numpy.ndarray, shape (c,)
            What all else says of each mean, and the precision of that.

        Returns
        -------
        numpy.ndarray, shape (c,)
            Means drawn anew, those of clubs without such swings as they were.
        """
        if not self.groups:
            return mean
        seen = precision > 0
        club, total, precision = self.club[seen], total[seen], precision[seen]
        if not len(club):
            self._take(rng, self.log_prior)
            return mean
        clubs = len(mean)
        whole = certainty + _sums(club, precision, clubs)
        # A grid a club of what its mean may be: from all full to the most that can be held back.
        sd = float(np.median(whole[club])) ** -0.5
        steps = int(np.clip((self.farthest + 8 * sd) / (1.4 * sd), 12, 40))
        plain = (certainty * middle + _sums(club, total, clubs)) / whole
        low = plain - 4 * whole**-0.5
        grid = np.linspace(low, plain + self.farthest + 4 * whole**-0.5, steps)
        order = np.argsort(club, kind="stable")
        mine, begin = np.unique(club[order], return_index=True)
        short = grid[:, club[order]] - (total / precision)[order]
        log_each = self._log_weights(short, 1.0 / precision[order])
        log_club = np.add.reduceat(log_each, begin, axis=-1)
        log_club -= 0.5 * certainty[mine] * (grid[:, mine] - middle[mine]) ** 2
        top = log_club.max(axis=1)
        weight = np.exp(log_club - top[:, None])
        at = self._take(rng, (top + np.log(weight.sum(axis=1))).sum(axis=1) + self.log_prior)
        upto = np.cumsum(weight[at], axis=0)
        place = (upto < rng.random(len(mine)) * upto[-1]).sum(axis=0)
        step = grid[1, mine] - grid[0, mine]
        found = mean.copy()
        found[mine] = grid[place, mine] + (rng.random(len(mine)) - 0.5) * step
        return found

    def _log_weights(self, short: Floats, error: Floats) -> Floats:
        """Log-density of what groups fell short by, for each width, the first of nothing held back."""
        found = np.empty((len(self.variance), *short.shape))
        square = short * short
        for place, variance in enumerate(self.variance):
            both = variance + error
            found[place] = -0.5 * (square / both + np.log(both))
            if variance > 0:
                found[place] += np.log(
                    2.0 * special.ndtr(short * np.sqrt(variance / (both * error))) + 1e-300
                )
        return found

    def _take(self, rng: np.random.Generator, log_weight: Floats) -> int:
        """Draw one of the widths."""
        weight = np.cumsum(np.exp(log_weight - log_weight.max()))
        at = min(int(np.searchsorted(weight, rng.random() * weight[-1], side="right")), len(weight) - 1)
        self.width = float(np.sqrt(self.variance[at]))
        return at

    def shift(self, rng: np.random.Generator, clubs: int, middle: Floats, precision: Floats) -> Floats:
        """
        Draw by how much a club goes farther and all that is held back with it is more; the swings fit as before.

        Parameters
        ----------
        rng : numpy.random.Generator
            Chance.
        clubs : int
            How many clubs there are.
        middle, precision : numpy.ndarray, shape (c,)
            What else says by how much each club goes farther than its present mean.

        Returns
        -------
        numpy.ndarray, shape (c,)
            To be added to the means.
        """
        if not self.groups or self.width == 0.0:
            return np.zeros(clubs)
        count = np.bincount(self.club, minlength=clubs)
        sums = np.bincount(self.club, self.held[:-1], clubs)
        least = np.full(clubs, np.inf)
        np.minimum.at(least, self.club, self.held[:-1])
        certainty = precision + count / self.width**2
        at = (precision * middle - sums / self.width**2) / certainty
        drawn = np.zeros(clubs)
        mine = count > 0
        drawn[mine] = draw_truncated(rng, at[mine], certainty[mine] ** -0.5, -least[mine])
        self.held[:-1] += drawn[self.club]
        return drawn


def _sums(place: Ints, values: Floats, size: int) -> Floats:
    return np.asarray(np.bincount(place, values, size), dtype=float)


def draw_truncated(rng: np.random.Generator, mean: Floats, sd: Floats, low: Floats | float) -> Floats:
    """
    Draw from normal distributions cut off below.

    Parameters
    ----------
    rng : numpy.random.Generator
        Chance.
    mean, sd : numpy.ndarray, shape (n,)
        Of the whole distributions.
    low : numpy.ndarray, shape (n,), or float
        Where they are cut off.

    Returns
    -------
    numpy.ndarray, shape (n,)
        One value each, never below the cut.
    """
    # From the upper tail: a cut far above the mean keeps its digits there.
    above = special.ndtr((mean - low) / sd)
    drawn: Floats = mean - sd * special.ndtri(np.maximum(above * rng.random(len(mean)), 1e-300))
    return np.maximum(drawn, low)
