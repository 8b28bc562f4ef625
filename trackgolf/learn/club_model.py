"""The model of full swings: good strikes and mishits, clubs pooled, clubs that nobody named inferred with them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

from trackgolf.learn.club_beliefs import ModelSettings, Swings
from trackgolf.learn.club_choice import Choices, choice_weights, lay_out_choices
from trackgolf.learn.pooling import log_marginal, pool_given_spread

__all__ = ["ClubPosterior", "fit_clubs", "mixture_quantiles"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class ClubPosterior:
    """
    What is known about the clubs after the shots, shares being of the stated distance; c clubs, t sweeps.

    Attributes
    ----------
    mean_draws, sd_draws : numpy.ndarray, shape (t, c)
        Normal parts whose mixture is the posterior of the mean of good strikes.
    spread : numpy.ndarray, shape (c,)
        Standard deviation of good strikes.
    mishit : numpy.ndarray, shape (c,)
        Share of mishits.
    mishit_draws : numpy.ndarray, shape (t, c)
        Draws of it.
    spread_draws : numpy.ndarray, shape (t, c)
        Draws of the spread.
    good : numpy.ndarray, shape (n,)
        Probability that each shot was a good strike.
    club_probability : numpy.ndarray, shape (n, c)
        Probability of each club for each shot.
    bias, bias_sd : float
        What all clubs of the bag have in common against what is stated, less 1.
    scatter : float
        How clubs scatter about that.
    rough, ease : float
        What rough takes off; how much of a shorter wish is taken off.
    kinds : numpy.ndarray
        Shares of the kinds of mishits.
    """

    mean_draws: Floats
    sd_draws: Floats
    spread: Floats
    mishit: Floats
    mishit_draws: Floats
    spread_draws: Floats
    good: Floats
    club_probability: Floats
    bias: float
    bias_sd: float
    scatter: float
    rough: float
    ease: float
    kinds: Floats

    @property
    def mean(self) -> Floats:
        """Posterior mean of the mean of good strikes, a club."""
        found: Floats = self.mean_draws.mean(axis=0)
        return found

    @property
    def sd(self) -> Floats:
        """Posterior standard deviation of it."""
        found: Floats = np.sqrt((self.sd_draws**2).mean(axis=0) + self.mean_draws.var(axis=0))
        return found

    def interval(self, share: float) -> Floats:
        """Bounds that hold the mean of good strikes with a probability, shape (c, 2)."""
        return mixture_quantiles(self.mean_draws, self.sd_draws, (0.5 - share / 2, 0.5 + share / 2))


def mixture_quantiles(means: Floats, sds: Floats, at: tuple[float, ...]) -> Floats:
    """
    Find quantiles of mixtures of normal distributions.

    Parameters
    ----------
    means, sds : numpy.ndarray, shape (t, c)
        The t equally likely parts of c mixtures.
    at : tuple of float
        Probabilities.

    Returns
    -------
    numpy.ndarray, shape (c, len(at))
        The quantiles.
    """
    found = np.empty((means.shape[1], len(at)))
    for c in range(means.shape[1]):
        low, high = (means[:, c] - 5 * sds[:, c]).min(), (means[:, c] + 5 * sds[:, c]).max()
        grid = np.linspace(low, high, 201)
        below = special.ndtr((grid[:, None] - means[:, c]) / sds[:, c]).mean(axis=1)
        found[c] = np.interp(at, below, grid)
    return found


def fit_clubs(
    stated_m: Floats, avoid: NDArray[np.bool_], swings: Swings, settings: ModelSettings
) -> ClubPosterior:
    """
    Learn what the clubs of one bag really do.

    A Gibbs sampler with a fixed seed, so that the same shots give the same answer. In each sweep every shot is
    drawn to be a good strike or a mishit, and an unnamed one to be of some club; spreads are drawn with the means
    given, then the means of all clubs at once with their pooling (`trackgolf.learn.pooling`), then the shares.
    What is kept of a sweep is the whole normal distribution of each mean, not one draw of it.

    Parameters
    ----------
    stated_m : numpy.ndarray, shape (c,)
        What the bag states for each club [m].
    avoid : numpy.ndarray of bool, shape (c,)
        Clubs the player would rather not use.
    swings : Swings
        The shots.
    settings : ModelSettings
        What is believed beforehand.

    Returns
    -------
    ClubPosterior
        Means, spreads, mishits.
    """
    rows = lay_out_choices(
        stated_m,
        avoid,
        swings.club,
        swings.distance_m,
        swings.aim_m,
        swings.tee,
        settings.choice,
    )
    return _Sampler(stated_m, swings, rows, settings).run()


_SPREADS = np.exp(np.linspace(np.log(0.025), np.log(0.30), 22))
_SCATTERS = np.linspace(0.002, 0.15, 25)
_SHARES = np.linspace(0.02, 0.6, 30)
_ERROR_CLASSES = 5
# The lengths of mishits are looked up in a table: entries a share of 1, and in all.
_PER_SHARE, _TABLE = 200, 501
# Density of a shot of any length, up to one and a half times the club's, in the measure of the others.
_ANY = float(np.sqrt(2 * np.pi) / 1.5)


class _Sampler:
    """The state of the sampler and its steps."""

    def __init__(self, stated_m: Floats, swings: Swings, rows: Choices, settings: ModelSettings) -> None:
        self.rules, self.rows, self.swings = settings, rows, swings
        self.rng = np.random.default_rng(settings.seed)
        self.clubs = len(stated_m)
        # One row a shot and a club it may have been played with, shot by shot.
        shot, club = rows.shot, rows.club
        self.shot, self.club, self.begin = shot, club, rows.begin
        scale = stated_m[club]
        self.ratio = swings.distance_m[shot] / scale
        self.log_scale = -np.log(scale)
        asked = np.nan_to_num(swings.aim_m[shot] / scale, nan=1.0)
        self.held = 1.0 - np.clip(asked, settings.full_from, 1.0)
        self.rough = swings.rough[shot].astype(float)
        self.weight = swings.weight[shot] * np.where(rows.named, 1.0, settings.unnamed_weight)
        variance = swings.variance_m2[shot] / scale**2 + self.rough * settings.rough_spread**2
        self.error_class, self.error = _classes(variance)
        self.single = bool(np.all(np.diff(np.append(rows.begin, len(shot))) == 1)) if len(shot) else True
        # State: means, spreads, mishits, general level.
        self.mean = np.full(self.clubs, 1.0 + settings.bias)
        self.spread = np.full(self.clubs, settings.spread)
        self.mishit = np.full(self.clubs, settings.mishit)
        self.player_spread, self.player_mishit = settings.spread, settings.mishit
        self.kinds = np.array(settings.short_shares)
        grid = (np.arange(_TABLE) + 0.5) / _PER_SHARE
        at, sd = np.array(settings.short_means)[:, None], np.array(settings.short_sds)[:, None]
        # The factor of the normal density is left out everywhere.
        self.kind_table = np.exp(-0.5 * ((grid - at) / sd) ** 2) / sd
        self.effects = np.array([settings.rough, settings.ease])
        self.log_choice = choice_weights(rows, None, settings.choice)
        self.log_spreads = np.log(_SPREADS)
        self.player_prior = stats.beta.logpdf(
            _SHARES, settings.mishit_weight * settings.mishit, settings.mishit_weight * (1 - settings.mishit)
        )

    def run(self) -> ClubPosterior:
        rules = self.rules
        count = len(self.swings.distance_m)
        sweeps = int(
            np.clip(rules.sweep_budget // max(len(self.shot), 1), rules.fewest_sweeps, rules.most_sweeps)
        )
        burn = max(20, sweeps // 5)
        kept: dict[str, list[Floats]] = {name: [] for name in ("mean", "sd", "spread", "mishit", "rest")}
        good_sum, row_sum = np.zeros(len(self.shot)), np.zeros(len(self.shot))
        for sweep in range(burn + sweeps):
            good, poor = self._assign()
            pooled_mean, pooled_sd = self._learn(good, poor)
            if sweep >= burn:
                kept["mean"].append(pooled_mean)
                kept["sd"].append(pooled_sd)
                kept["spread"].append(self.spread.copy())
                kept["mishit"].append(self.mishit.copy())
                kept["rest"].append(
                    np.array([self.centre, self.centre_sd, self.scatter, *self.effects, *self.kinds])
                )
                good_sum += good
                row_sum += good + poor
        probability = np.zeros((count, self.clubs))
        probability[self.shot, self.club] = row_sum / sweeps
        rest = np.array(kept["rest"])
        middle = rest.mean(axis=0)
        draws = np.array(kept["mean"])
        return ClubPosterior(
            mean_draws=draws.mean(axis=0) + rules.doubt * (draws - draws.mean(axis=0)),
            sd_draws=rules.doubt * np.array(kept["sd"]),
            spread=np.array(kept["spread"]).mean(axis=0),
            mishit=np.array(kept["mishit"]).mean(axis=0),
            mishit_draws=np.array(kept["mishit"]),
            spread_draws=np.array(kept["spread"]),
            good=np.bincount(self.shot, good_sum, count) / sweeps,
            club_probability=probability,
            bias=float(middle[0] - 1.0),
            bias_sd=float(np.sqrt((rest[:, 1] ** 2).mean() + rest[:, 0].var())),
            scatter=float(middle[2]),
            rough=float(middle[3]),
            ease=float(middle[4]),
            kinds=middle[5:],
        )

    def _assign(self) -> tuple[Floats, Floats]:
        """Draw what each shot was: 1 in the row of its club, among the good or the poor."""
        rules = self.rules
        sd = np.sqrt(self.spread[:, None] ** 2 + self.error)[self.club, self.error_class]
        off = (self._levelled() - self.mean[self.club]) / sd
        share = self.mishit[self.club]
        good = (1.0 - share - rules.stray) * np.exp(-0.5 * off * off) / sd
        self.failed_place = np.minimum(self.ratio / self.mean[self.club] * _PER_SHARE, _TABLE - 1).astype(int)
        poor = share * (self.kinds @ self.kind_table)[self.failed_place] + rules.stray * _ANY
        uniform = self.rng.random(len(self.shot) if self.single else len(self.begin))
        if self.single:
            is_good = uniform * (good + poor) < good
            return is_good.astype(float), (~is_good).astype(float)
        factor = np.exp(self.log_choice + self.log_scale)
        both = np.cumsum((good + poor) * factor)
        before = np.concatenate([[0.0], both[self.begin[1:] - 1]]) if len(self.begin) else np.zeros(0)
        ends = both[np.append(self.begin[1:], len(both)) - 1] if len(self.begin) else np.zeros(0)
        at = before + uniform * (ends - before)
        chosen = np.minimum(np.searchsorted(both, at, side="right"), np.append(self.begin[1:], len(both)) - 1)
        chosen = np.maximum(chosen, self.begin)
        is_good = self.rng.random(len(chosen)) * (good + poor)[chosen] < good[chosen]
        goods, poors = np.zeros(len(both)), np.zeros(len(both))
        goods[chosen[is_good]] = 1.0
        poors[chosen[~is_good]] = 1.0
        return goods, poors

    def _levelled(self) -> Floats:
        """Measured shares with rough and held-back swings set right."""
        found: Floats = self.ratio + self.effects[0] * self.rough + self.effects[1] * self.held
        return found

    def _learn(self, good: Floats, poor: Floats) -> tuple[Floats, Floats]:
        """Draw everything else given what each shot was; returns the distribution of each mean."""
        rules, rng = self.rules, self.rng
        classes = len(self.error)
        counted = np.flatnonzero(good)
        cell = self.club[counted] * classes + self.error_class[counted]
        weight = self.weight[counted]
        level = (
            self.ratio[counted] + self.effects[0] * self.rough[counted] + self.effects[1] * self.held[counted]
        )
        shape = (self.clubs, classes)
        n = np.bincount(cell, weight, self.clubs * classes).reshape(shape)
        total = np.bincount(cell, weight * level, self.clubs * classes).reshape(shape)
        square = np.bincount(cell, weight * level * level, self.clubs * classes).reshape(shape)

        # Spreads given means.
        variance = _SPREADS[:, None] ** 2 + self.error
        misfit = square - 2 * self.mean[:, None] * total + self.mean[:, None] ** 2 * n
        log_weight = -0.5 * (np.log(variance) @ n.T + (1 / variance) @ misfit.T)
        log_weight -= (
            0.5 * ((self.log_spreads[:, None] - np.log(self.player_spread)) / rules.club_log_sd) ** 2
        )
        self.spread = np.exp(_draw(rng, self.log_spreads, log_weight))
        logs = np.log(self.spread)
        certainty = rules.spread_log_sd**-2 + self.clubs * rules.club_log_sd**-2
        middle = (
            np.log(rules.spread) * rules.spread_log_sd**-2 + logs.sum() * rules.club_log_sd**-2
        ) / certainty
        self.player_spread = float(np.exp(middle + rng.standard_normal() * certainty**-0.5))

        # Means of all clubs with their scatter and common bias.
        precision = n / (self.spread[:, None] ** 2 + self.error)
        known = precision.sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            estimate = np.where(
                known > 0, (total / (self.spread[:, None] ** 2 + self.error)).sum(axis=1) / known, 0.0
            )
            sigma = np.where(known > 0, known**-0.5, np.inf)
        believed = (1.0 + rules.bias, rules.bias_sd)
        if np.any(known > 0):
            log_scatter = log_marginal(estimate, sigma, _SCATTERS, believed)
        else:
            log_scatter = np.zeros(len(_SCATTERS))
        log_scatter = log_scatter - 0.5 * (_SCATTERS / rules.scatter_sd) ** 2
        self.scatter = float(_draw(rng, _SCATTERS, log_scatter[:, None])[0])
        pooled = pool_given_spread(estimate, sigma, self.scatter, believed)
        self.centre, self.centre_sd = pooled.centre, pooled.centre_sd
        bias = pooled.centre + rng.standard_normal() * pooled.centre_sd
        precise = known + self.scatter**-2
        self.mean = (known * estimate + bias * self.scatter**-2) / precise + rng.standard_normal(
            self.clubs
        ) * precise**-0.5

        self._learn_effects(counted, weight)
        self._learn_mishits(good, poor)
        return pooled.mean, pooled.sd

    def _learn_effects(self, counted: Ints, weight: Floats) -> None:
        """Draw what rough and a shorter wish take off."""
        rules = self.rules
        columns = np.column_stack([-self.rough[counted], -self.held[counted]])
        club = self.club[counted]
        precision = weight / (self.spread[club] ** 2 + self.error[self.error_class[counted]])
        prior = np.array([rules.rough_sd, rules.ease_sd]) ** -2
        normal = columns.T @ (columns * precision[:, None]) + np.diag(prior)
        right = columns.T @ (precision * (self.ratio[counted] - self.mean[club])) + prior * [
            rules.rough,
            rules.ease,
        ]
        root = np.linalg.cholesky(np.linalg.inv(normal))
        self.effects = np.linalg.solve(normal, right) + root @ self.rng.standard_normal(2)

    def _learn_mishits(self, good: Floats, poor: Floats) -> None:
        """Draw how often shots fail, how far they go then, and how often each club is taken."""
        rules, rng = self.rules, self.rng
        hits = np.bincount(self.club, poor * self.weight, self.clubs)
        misses = np.bincount(self.club, good * self.weight, self.clubs)
        worth = rules.club_mishit_weight
        a, b = worth * _SHARES[:, None], worth * (1 - _SHARES[:, None])
        log_weight = (special.betaln(a + hits, b + misses) - special.betaln(a, b)).sum(
            axis=1
        ) + self.player_prior
        self.player_mishit = float(_draw(rng, _SHARES, log_weight[:, None])[0])
        at = self.player_mishit
        self.mishit = np.clip(rng.beta(worth * at + hits, worth * (1 - at) + misses), 0.002, 0.9)

        place = self.failed_place[np.flatnonzero(poor)]
        each = np.cumsum(self.kinds[:, None] * self.kind_table[:, place], axis=0)
        kind = (each < rng.random(len(place)) * each[-1]).sum(axis=0)
        self.kinds = rng.dirichlet(
            rules.short_weight * np.array(rules.short_shares) + np.bincount(kind, minlength=len(self.kinds))
        )
        if not self.single:
            used = np.bincount(
                self.rows.situation * self.clubs + self.club, (good + poor), 3 * self.clubs
            ).reshape(3, self.clubs)
            self.log_choice = choice_weights(self.rows, _dirichlet(rng, self.rows.base + used), rules.choice)


def _classes(variance: Floats) -> tuple[Ints, Floats]:
    """Sort variances of measurement into a few classes; each row's class and the classes' means."""
    if not len(variance):
        return np.zeros(0, dtype=np.int64), np.zeros(1)
    edges = np.unique(np.quantile(variance, np.linspace(0, 1, _ERROR_CLASSES + 1))[1:-1])
    place = np.searchsorted(edges, variance, side="left").astype(np.int64)
    size = np.bincount(place, minlength=len(edges) + 1)
    mean = np.bincount(place, variance, len(edges) + 1) / np.maximum(size, 1)
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


def _dirichlet(rng: np.random.Generator, counts: Floats) -> Floats:
    drawn = rng.gamma(np.maximum(counts, 1e-3)) + 1e-12
    shares: Floats = drawn / drawn.sum(axis=1, keepdims=True)
    return shares
