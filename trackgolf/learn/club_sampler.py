"""The Gibbs sampler of the model of full swings; `trackgolf.learn.club_model` says what the model is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from trackgolf.learn.club_beliefs import ModelSettings, Swings
from trackgolf.learn.club_choice import Choices
from trackgolf.learn.club_holding import HoldingBack
from trackgolf.learn.pooling import log_marginal

__all__ = ["Draws", "Sampler"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SPREADS = np.exp(np.linspace(np.log(0.025), np.log(0.30), 22))
_LOG_SPREADS = np.log(_SPREADS)
_SCATTERS = np.linspace(0.002, 0.15, 25)
_SHARES = np.linspace(0.02, 0.6, 30)
_ERROR_CLASSES = 5
# The lengths of mishits are looked up in a table: entries a share of 1, and in all.
_PER_SHARE, _TABLE = 200, 501
# Sweeps from one long step of what is held back to the next: it costs as much as a sweep.
_WIDTH_EACH = 6
# And from one draw to the next of what all clubs have in common, which moves little meanwhile.
_SLOW_EACH = 2
# Density of a shot of any length, up to one and a half times the club's, in the measure of the others.
_ANY = float(np.sqrt(2 * np.pi) / 1.5)


@dataclass(frozen=True)
class Draws:
    """
    What is kept of the sweeps; t sweeps, c clubs, n shots, r rows of shots and possible clubs.

    Attributes
    ----------
    mean, sd : numpy.ndarray, shape (t, c)
        The normal distribution of each mean given all else.
    spread, mishit : numpy.ndarray, shape (t, c)
        Draws.
    rest : numpy.ndarray, shape (t, 6 + kinds)
        Common mean and its error, scatter, what rough and a shorter wish take off, how much is held back that nobody
        told, shares of the kinds of mishits.
    good : numpy.ndarray, shape (n,)
        Share of sweeps in which each shot was a good strike.
    club : numpy.ndarray, shape (r,)
        Share of sweeps in which each shot was of each possible club.
    """

    mean: Floats
    sd: Floats
    spread: Floats
    mishit: Floats
    rest: Floats
    good: Floats
    club: Floats


class Sampler:
    """The state of the sampler and its steps."""

    def __init__(self, stated_m: Floats, swings: Swings, rows: Choices, settings: ModelSettings) -> None:
        self.rules, self.rows = settings, rows
        self.rng = np.random.default_rng(settings.seed)
        self.clubs, self.shots = len(stated_m), len(swings.distance_m)
        # One row a shot and a club it may have been played with, shot by shot.
        shot, club = rows.shot, rows.club
        self.shot, self.club = shot, club
        scale = stated_m[club]
        self.ratio = swings.distance_m[shot] / scale
        asked = swings.aim_m[shot] / scale
        self.held = 1.0 - np.clip(np.nan_to_num(asked, nan=1.0), settings.full_from, 1.0)
        free = ~(asked <= settings.holding.beyond) & (swings.place >= 0)[shot]
        self.holding = HoldingBack(swings.place[shot], club, free, settings.holding)
        self.rough = swings.rough[shot].astype(float)
        self.weight = swings.weight[shot] * np.where(rows.named, 1.0, settings.unnamed_weight)
        variance = swings.variance_m2[shot] / scale**2 + self.rough * settings.rough_spread**2
        error_class, self.error = _classes(variance)
        self.classes = len(self.error)
        variances = _SPREADS[:, None] ** 2 + self.error
        self.spread_logs, self.spread_inverses = np.log(variances), 1 / variances
        self.scatter_prior = -0.5 * (_SCATTERS / settings.scatter_sd) ** 2
        self.cell = club * self.classes + error_class
        # Shots with one possible club are settled apart from those with several.
        size = np.diff(np.append(rows.begin, len(shot)))
        self.single = np.flatnonzero((size == 1)[shot])
        self.several = np.flatnonzero((size > 1)[shot])
        ends = np.cumsum(size[size > 1])
        self.begin, self.end = ends - size[size > 1], ends - 1
        self.situation = (rows.situation * self.clubs + club)[self.several]
        self.fit = np.exp(rows.log_fit - np.log(scale))[self.several]
        self.usage = rows.base / settings.choice.worth
        self.situated = rows.situation * self.clubs + club
        # State: means, spreads, mishits, general level.
        self.mean = np.full(self.clubs, 1.0 + settings.bias)
        self.spread = np.full(self.clubs, settings.spread)
        self.mishit = np.full(self.clubs, settings.mishit)
        self.player_spread, self.player_mishit = settings.spread, settings.mishit
        self.kinds = np.array(settings.short_shares)
        self.kinds_prior = settings.short_weight * self.kinds
        grid = (np.arange(_TABLE) + 0.5) / _PER_SHARE
        at, sd = np.array(settings.short_means)[:, None], np.array(settings.short_sds)[:, None]
        # The factor of the normal density is left out everywhere.
        self.kind_table = np.exp(-0.5 * ((grid - at) / sd) ** 2) / sd
        self.effects = np.array([settings.rough, settings.ease])
        self.centre, self.centre_sd, self.scatter = 1.0 + settings.bias, settings.bias_sd, settings.scatter_sd
        self.bias, self.sweep = self.centre, 0
        worth = settings.club_mishit_weight
        self.mishit_a, self.mishit_b = worth * _SHARES[:, None], worth * (1 - _SHARES[:, None])
        player = settings.mishit_weight
        self.mishit_prior = (
            (player * settings.mishit - 1) * np.log(_SHARES)
            + (player * (1 - settings.mishit) - 1) * np.log1p(-_SHARES)
            - self.clubs * special.betaln(self.mishit_a, self.mishit_b)[:, 0]
        )

    def run(self) -> Draws:
        """Sweep, and keep what comes after the first fifth."""
        rules = self.rules
        sweeps = int(
            np.clip(rules.sweep_budget // max(len(self.shot), 1), rules.fewest_sweeps, rules.most_sweeps)
        )
        burn = max(12, sweeps // 5)
        kept: dict[str, list[Floats]] = {name: [] for name in ("mean", "sd", "spread", "mishit", "rest")}
        good_sum, row_sum = np.zeros(len(self.shot)), np.zeros(len(self.shot))
        for sweep in range(burn + sweeps):
            self.sweep = sweep
            good, poor = self._assign()
            pooled_mean, pooled_sd = self._learn(good, poor)
            if sweep >= burn:
                kept["mean"].append(pooled_mean)
                kept["sd"].append(pooled_sd)
                kept["spread"].append(self.spread)
                kept["mishit"].append(self.mishit)
                kept["rest"].append(
                    np.array(
                        [
                            self.centre,
                            self.centre_sd,
                            self.scatter,
                            *self.effects,
                            self.holding.width,
                            *self.kinds,
                        ]
                    )
                )
                good_sum[good] += 1.0
                row_sum[poor] += 1.0
        row_sum += good_sum
        arrays = {name: np.array(values) for name, values in kept.items()}
        return Draws(**arrays, good=_sums(self.shot, good_sum, self.shots) / sweeps, club=row_sum / sweeps)

    def _assign(self) -> tuple[Ints, Ints]:
        """Draw what each shot was; the rows of the good ones and of the poor ones."""
        rules, rng = self.rules, self.rng
        inverse = (self.spread[:, None] ** 2 + self.error).ravel() ** -0.5
        middle = np.repeat(self.mean, self.classes)
        off = (self._levelled() - middle[self.cell]) * inverse[self.cell]
        share = np.repeat(1.0 - self.mishit - rules.stray, self.classes) * inverse
        good = share[self.cell] * np.exp(-0.5 * off * off)
        self.failed_place = np.minimum(self.ratio * (_PER_SHARE / self.mean)[self.club], _TABLE - 1).astype(
            np.int64
        )
        poor = self.mishit[self.club] * (self.kinds @ self.kind_table)[self.failed_place] + rules.stray * _ANY
        both = good + poor
        uniform = rng.random(self.shots)
        alone = uniform[: len(self.single)] * both[self.single] < good[self.single]
        if not len(self.several):
            return self.single[alone], self.single[~alone]
        usage = np.maximum(self.usage, 1e-6).ravel()
        sums = np.cumsum(both[self.several] * self.fit * usage[self.situation])
        low = np.concatenate([[0.0], sums[self.begin[1:] - 1]])
        at = low + uniform[len(self.single) :] * (sums[self.end] - low)
        chosen = np.clip(np.searchsorted(sums, at, side="right"), self.begin, self.end)
        chosen = self.several[chosen]
        struck = rng.random(len(chosen)) * both[chosen] < good[chosen]
        return (
            np.concatenate([self.single[alone], chosen[struck]]),
            np.concatenate([self.single[~alone], chosen[~struck]]),
        )

    def _levelled(self) -> Floats:
        """Measured shares with rough and held-back swings set right."""
        found: Floats = self.ratio + self.effects[0] * self.rough
        found += self.effects[1] * self.held
        if self.holding.width > 0:
            found += self.holding.held[self.holding.group]
        return found

    def _learn(self, good: Ints, poor: Ints) -> tuple[Floats, Floats]:
        """Draw everything else given what each shot was; returns the distribution of each mean."""
        rng, holding = self.rng, self.holding
        club, cell, weight = self.club[good], self.cell[good], self.weight[good]
        rough, held, group = self.rough[good], self.held[good], holding.group[good]
        told = self.ratio[good] + self.effects[0] * rough + self.effects[1] * held
        level = told + holding.held[group]
        size = self.clubs * self.classes
        n, total, square = (
            _sums(cell, each, size).reshape(self.clubs, self.classes)
            for each in (weight, weight * level, weight * level * level)
        )
        self._learn_spreads(n, square - 2 * self.mean[:, None] * total + self.mean[:, None] ** 2 * n)

        precise = weight * (1.0 / (self.spread[:, None] ** 2 + self.error)).ravel()[cell]
        known = _sums(club, precise, self.clubs)
        if holding.groups:
            each, gone = (
                _sums(group, values, holding.groups + 1)[:-1] for values in (precise, precise * told)
            )
            # What else speaks for a mean than swings with something held back: other swings, and the other clubs.
            plain = group == holding.groups
            others = _sums(club[plain], precise[plain], self.clubs)
            sums = _sums(club[plain], (precise * told)[plain], self.clubs)
            if self.sweep % _WIDTH_EACH == 0:
                certainty = others + self.scatter**-2
                middle = (sums + self.bias * self.scatter**-2) / certainty
                self.mean = holding.draw_width(rng, self.mean, gone, each, middle, certainty)
            holding.draw(rng, self.mean, gone, each)
        # What was measured, as a mean less what rough and a shorter wish take off.
        level = self.ratio[good] + holding.held[group]
        pooled_mean, pooled_sd = self._learn_means(club, precise, known, level, rough, held)
        if holding.groups and holding.width > 0:
            others_told = others + self.scatter**-2
            told = self.ratio[good] + self.effects[0] * rough + self.effects[1] * held
            sums = _sums(club[plain], (precise * told)[plain], self.clubs)
            middle = (sums + self.bias * self.scatter**-2) / others_told - self.mean
            self.mean = self.mean + holding.shift(rng, self.clubs, middle, others_told)
        self._learn_mishits(good, poor)
        return pooled_mean, pooled_sd

    def _learn_spreads(self, n: Floats, misfit: Floats) -> None:
        """Draw the spread of each club and of the player, given means."""
        rules, rng = self.rules, self.rng
        log_weight = -0.5 * (self.spread_logs @ n.T + self.spread_inverses @ misfit.T)
        log_weight -= 0.5 * ((_LOG_SPREADS[:, None] - np.log(self.player_spread)) / rules.club_log_sd) ** 2
        self.spread = np.exp(_draw(rng, _LOG_SPREADS, log_weight))
        logs = np.log(self.spread)
        certainty = rules.spread_log_sd**-2 + self.clubs * rules.club_log_sd**-2
        middle = (
            np.log(rules.spread) * rules.spread_log_sd**-2 + logs.sum() * rules.club_log_sd**-2
        ) / certainty
        self.player_spread = float(np.exp(middle + rng.standard_normal() * certainty**-0.5))

    def _learn_means(
        self, club: Ints, precise: Floats, known: Floats, level: Floats, rough: Floats, held: Floats
    ) -> tuple[Floats, Floats]:
        """Draw the means of all clubs, their scatter and common bias, and what rough and a shorter wish take off."""
        rules, rng = self.rules, self.rng
        believed = (1.0 + rules.bias, rules.bias_sd)
        by_rough, by_held = precise * rough, precise * held
        total, rough_sum, held_sum = (
            _sums(club, each, self.clubs) for each in (precise * level, by_rough, by_held)
        )
        # The scatter with the means summed out, then the means and both effects together.
        if self.sweep % _SLOW_EACH == 0:
            seen = known > 0
            level_sum = total + self.effects[0] * rough_sum + self.effects[1] * held_sum
            log_scatter = self.scatter_prior
            if seen.any():
                log_scatter = log_scatter + log_marginal(
                    level_sum[seen] / known[seen], known[seen] ** -0.5, _SCATTERS, believed
                )
            self.scatter = _draw_one(rng, _SCATTERS, log_scatter)

        clubs, own, common = self.clubs, self.scatter**-2, believed[1] ** 2
        certainty = np.zeros((clubs + 2, clubs + 2))
        certainty[:clubs, :clubs] = -(own**2) * common / (1.0 + clubs * own * common)
        certainty[np.arange(clubs), np.arange(clubs)] += own + known
        certainty[:clubs, clubs] = certainty[clubs, :clubs] = -rough_sum
        certainty[:clubs, clubs + 1] = certainty[clubs + 1, :clubs] = -held_sum
        certainty[clubs, clubs] = rules.rough_sd**-2 + by_rough @ rough
        certainty[clubs + 1, clubs + 1] = rules.ease_sd**-2 + by_held @ held
        certainty[clubs, clubs + 1] = certainty[clubs + 1, clubs] = by_rough @ held
        right = np.empty(clubs + 2)
        right[:clubs] = total + believed[0] * own / (1.0 + clubs * own * common)
        right[clubs] = rules.rough * rules.rough_sd**-2 - by_rough @ level
        right[clubs + 1] = rules.ease * rules.ease_sd**-2 - by_held @ level
        covariance = np.linalg.inv(certainty)
        middle = covariance @ right
        drawn = middle + np.linalg.cholesky(covariance) @ rng.standard_normal(clubs + 2)
        self.mean, self.effects = drawn[:clubs], drawn[clubs:]
        precision = believed[1] ** -2 + clubs * own
        self.centre = (believed[0] * believed[1] ** -2 + own * float(self.mean.sum())) / precision
        self.centre_sd = precision**-0.5
        self.bias = self.centre + float(rng.standard_normal()) * self.centre_sd
        return middle[:clubs], np.sqrt(np.diag(covariance)[:clubs])

    def _learn_mishits(self, good: Ints, poor: Ints) -> None:
        """Draw how often shots fail, how far they go then, and how often each club is taken."""
        rules, rng = self.rules, self.rng
        hits = _sums(self.club[poor], self.weight[poor], self.clubs)
        misses = _sums(self.club[good], self.weight[good], self.clubs)
        worth = rules.club_mishit_weight
        # The beta-binomial law; what is the same for all shares is left out.
        if self.sweep % _SLOW_EACH == 0:
            log_weight = special.gammaln(self.mishit_a + hits) + special.gammaln(self.mishit_b + misses)
            self.player_mishit = _draw_one(rng, _SHARES, log_weight.sum(axis=1) + self.mishit_prior)
        at = self.player_mishit
        self.mishit = np.clip(rng.beta(worth * at + hits, worth * (1 - at) + misses), 0.002, 0.9)

        place = self.failed_place[poor]
        upto = np.cumsum(self.kinds[:, None] * self.kind_table, axis=0)
        upto /= upto[-1]
        uniform = rng.random(len(place))
        kind = np.zeros(len(place), dtype=np.int64)
        for each in upto[:-1]:
            kind += each[place] < uniform
        self.kinds = rng.dirichlet(self.kinds_prior + np.bincount(kind, minlength=len(self.kinds)))
        if len(self.several):
            situated = np.concatenate([self.situated[good], self.situated[poor]])
            used = np.bincount(situated, minlength=3 * self.clubs).reshape(3, self.clubs)
            self.usage = _dirichlet(rng, self.rows.base + used)


def _sums(place: Ints, values: Floats, size: int) -> Floats:
    """Sums of values by place."""
    return np.asarray(np.bincount(place, values, size), dtype=float)


def _classes(variance: Floats) -> tuple[Ints, Floats]:
    """Sort variances of measurement into a few classes; each row's class and the classes' means."""
    if not len(variance):
        return np.zeros(0, dtype=np.int64), np.zeros(1)
    edges = np.unique(np.quantile(variance, np.linspace(0, 1, _ERROR_CLASSES + 1))[1:-1])
    place = np.searchsorted(edges, variance, side="left").astype(np.int64)
    size = np.bincount(place, minlength=len(edges) + 1)
    mean = _sums(place, variance, len(edges) + 1) / np.maximum(size, 1)
    return place, mean


def _draw(rng: np.random.Generator, grid: Floats, log_weight: Floats) -> Floats:
    """Draw from a grid, one value a column of log-weights, spread evenly within its step."""
    weight = np.exp(log_weight - log_weight.max(axis=0))
    total = np.cumsum(weight, axis=0)
    at = rng.random(weight.shape[1]) * total[-1]
    place = (total < at).sum(axis=0)
    step = grid[1] - grid[0]
    lowest = grid[0] * 0.5 if grid[0] > 0 else grid[0] - step
    drawn: Floats = np.maximum(grid[place] + (rng.random(len(place)) - 0.5) * step, lowest)
    return drawn


def _draw_one(rng: np.random.Generator, grid: Floats, log_weight: Floats) -> float:
    """Draw one value from an even grid, spread evenly within its step."""
    upto = np.cumsum(np.exp(log_weight - log_weight.max()))
    place = min(int(np.searchsorted(upto, rng.random() * upto[-1], side="right")), len(grid) - 1)
    step = float(grid[1] - grid[0])
    return max(float(grid[place]) + (rng.random() - 0.5) * step, 0.5 * float(grid[0]))


def _dirichlet(rng: np.random.Generator, counts: Floats) -> Floats:
    drawn = rng.gamma(np.maximum(counts, 1e-3)) + 1e-12
    shares: Floats = drawn / drawn.sum(axis=1, keepdims=True)
    return shares
