"""The model of full swings: good strikes and mishits, clubs pooled, clubs that nobody named inferred with them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from trackgolf.learn.club_beliefs import ModelSettings, Swings
from trackgolf.learn.club_choice import lay_out_choices
from trackgolf.learn.club_sampler import Sampler

__all__ = ["ClubPosterior", "fit_clubs", "mixture_quantiles"]

Floats = NDArray[np.float64]


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
    held_back : float
        How much full swings at targets nobody told are held back (half-normal width, a share of what is stated).
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
    held_back: float
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
    given, then what is held back that nobody told (`trackgolf.learn.club_holding`), then the means of all clubs at
    once with their pooling (`trackgolf.learn.pooling`), then the shares.
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
    draws = Sampler(stated_m, swings, rows, settings).run()
    probability = np.zeros((len(swings.distance_m), len(stated_m)))
    probability[rows.shot, rows.club] = draws.club
    middle = draws.rest.mean(axis=0)
    return ClubPosterior(
        mean_draws=draws.mean.mean(axis=0) + settings.doubt * (draws.mean - draws.mean.mean(axis=0)),
        sd_draws=settings.doubt * draws.sd,
        spread=draws.spread.mean(axis=0),
        mishit=draws.mishit.mean(axis=0),
        mishit_draws=draws.mishit,
        spread_draws=draws.spread,
        good=draws.good,
        club_probability=probability,
        bias=float(middle[0] - 1.0),
        bias_sd=float(np.sqrt((draws.rest[:, 1] ** 2).mean() + draws.rest[:, 0].var())),
        scatter=float(middle[2]),
        rough=float(middle[3]),
        ease=float(middle[4]),
        held_back=float(middle[5]),
        kinds=middle[6:],
    )
