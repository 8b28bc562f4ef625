"""Every number the guessing of holes rests on, with its unit and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["GuessSettings"]


@dataclass(frozen=True, slots=True)
class GuessSettings:
    """
    What is believed of holes that nobody drew.

    Common practice, no source, where nothing else is said. How much each of it counts lies in
    ``trackgolf/data/guess_weights.json``, fitted by ``python -m tests.benchmarks.fit_guess``.
    """

    # Stands on one green lie around its centre with this standard deviation, each axis [m]; none further from it than
    # the reach [m].
    green_spread_m: float = 7.0
    green_reach_m: float = 20.0
    # Stands on one green, and the longest pause between two of them [s]. Bounds of the search, not beliefs.
    most_green_stands: int = 8
    green_pause_s: float = 300.0
    # Time spent on a green: usual [s], and spread of its logarithm. Tuning rounds: 105 s.
    green_s: float = 110.0
    green_s_spread: float = 0.8
    # Stands between a tee and its green, shots on a hole, and holes a round. Bounds of the search, not beliefs.
    most_stands: int = 34
    most_shots: int = 10
    most_holes: int = 36
    # Holes are no shorter and no longer than this, tee to green [m].
    shortest_m: float = 70.0
    longest_m: float = 620.0
    # Holes shorter or longer than these are unusual, the more so by the second figure of each [m].
    short_m: tuple[float, float] = (130.0, 40.0)
    long_m: tuple[float, float] = (420.0, 80.0)
    # Time from tee to green for each metre of the hole [s/m], and spread of its logarithm. Tuning rounds: 2.0, 0.27.
    pace_spm: float = 2.0
    pace_spread: float = 0.4
    # How much longer the walk is than the straight line, and spread of its logarithm. Tuning rounds: 1.46, 0.19.
    walk_factor: float = 1.43
    walk_spread: float = 0.25
    # From a green to the next tee: usual distance [m], spread of its logarithm; share and mean [m] of longer ways.
    # Tuning rounds: 87 m, 0.41.
    link_m: float = 75.0
    link_spread: float = 0.6
    far_link_share: float = 0.10
    far_link_m: float = 400.0
    # The same way in time: usual [s], spread of its logarithm, and the share of pauses. Tuning rounds: 160 s, 0.56.
    link_s: float = 160.0
    link_s_spread: float = 0.8
    pause_share: float = 0.007
    # A gap with movement longer than this may hide holes [s], and how likely any way across it is against the usual one.
    unseen_s: float = 180.0
    unseen_share: float = 0.3
    # Another stand this near and this soon may be the tee in place of a wait before it [m, s].
    wait_m: float = 80.0
    wait_s: float = 400.0
    # What one more hole is worth beside its evidence, log units. Chosen by hand on tuning rounds, between too few holes
    # and too many.
    hole_worth: float = 0.75
    # How often a round has 18 holes, and how often nine; the rest is any other number.
    eighteen_share: float = 0.5
    nine_share: float = 0.15
    # Where a card names the holes, how often all of them were played.
    all_named_share: float = 0.8
    # Trust in a scorecard's length: spread of the logarithm of the true one against it; tees differ.
    length_spread: float = 0.10
    # Trust in the strokes of a card: probability that they are those of another hole.
    card_error: float = 0.01
    # A green is drawn as a circle of 500 m2, and a tee as one of this radius [m].
    green_radius_m: float = 12.6
    tee_radius_m: float = 5.0
    # A guess is right where its tee and the middle of its green lie this near [m]; how sure it is, is the probability of
    # that.
    right_tee_m: float = 25.0
    right_green_m: float = 15.0
    # Holes less sure than this are named, to be looked at first.
    doubtful: float = 0.6
    # Two holes are one played twice where tees and greens lie this near [m], in this share of all pairs.
    same_tee_m: float = 40.0
    same_green_m: float = 25.0
    same_share: float = 0.75
