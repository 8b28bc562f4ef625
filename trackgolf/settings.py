"""Every number the rebuilding of a round rests on, with its unit and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass, field

from geo.stops import StopSettings

__all__ = ["RoundSettings"]


@dataclass(frozen=True, slots=True)
class RoundSettings:
    """
    What the decoder believes about golfers before it has seen the track.

    Values marked *fitted* come from ``python -m tests.benchmarks.fit`` on simulated tuning rounds; those marked
    *common practice* are rules of thumb of the trade without a source.
    """

    stops: StopSettings = field(default_factory=StopSettings)

    # --- dwell, log-normal: median [s] and spread of its logarithm -------------------------------------------
    # The Rules advise a stroke within 40 s (Rules of Golf 2023, 5.6b): medians lie under it. Fitted.
    shot_dwell_s: float = 27.0
    shot_dwell_spread: float = 0.60
    tee_dwell_s: float = 55.0
    tee_dwell_spread: float = 0.85
    other_dwell_s: float = 16.0
    other_dwell_spread: float = 0.95
    # Log-odds that a stand on a hole is a shot, before anything is known of it. Fitted.
    shot_log_odds: float = -0.2

    # --- place ------------------------------------------------------------------------------------------------
    # How thinly stands that are no shots are spread around a player: one in this area [m2]. Fitted.
    other_area_m2: float = 5000.0
    # Where a player stands against the ball or the tee's centre, each axis [m]. Common practice.
    beside_ball_m: float = 1.5
    tee_spread_m: float = 6.0
    # A hole is considered only for stands this near its line of play [m].
    corridor_m: float = 110.0

    # --- ball flight --------------------------------------------------------------------------------------------
    # Direction, one standard deviation as a share of the distance. From memory: Broadie 2014 gives 6.5 degrees for
    # a 90-shooter and 7.5 for a 100-shooter; a tenth of shots is far wilder (fitted).
    side_share: float = 0.13
    wild_share: float = 0.40
    wild_probability: float = 0.12
    # What clubs really go against what the bag says: mean factor and its spread. Common practice.
    bag_factor: float = 0.97
    bag_spread: float = 0.08
    # How often a shot towards a reachable green is meant to reach it. Fitted.
    aim_green: float = 0.75
    # Share of shots that fall anywhere short: topped, chunked, laid up. Fitted.
    short_share: float = 0.25
    # Spread of a chip or pitch as a share of its length. Common practice.
    chip_spread_share: float = 0.25
    # A shot anywhere at all, backwards included. Fitted.
    stray_share: float = 0.02
    stray_radius_m: float = 60.0

    # --- counts -------------------------------------------------------------------------------------------------
    # Shots to the green against the player's own regulation: weights of -3 .. +7. Fitted.
    count_weights: tuple[float, ...] = (0.03, 0.09, 0.20, 0.25, 0.19, 0.11, 0.06, 0.035, 0.02, 0.01, 0.005)
    # Probability that a stroke left no stand in the track. Fitted.
    unseen_shot: float = 0.02
    # Probability that a hole ends without its green: picked up, given up. Fitted.
    pick_up: float = 0.02
    # Probability that a stroke is played again from the same spot (Rules of Golf 18.1). Fitted.
    replay: float = 0.01
    # Probabilities that a hole is followed by the next, by another one, and that the round ends early. Fitted.
    next_hole: float = 0.97
    skip_hole: float = 0.015
    # Trust in the counts of a card: probability that a hole's count is written wrong.
    card_error: float = 0.004

    # --- green --------------------------------------------------------------------------------------------------
    # Where stands lie once the green is reached: on it, beside it, anywhere. Fitted.
    green_share: float = 0.6
    beside_green_share: float = 0.25
    beside_green_m: float = 25.0
    # Position of the ball against the first stand on the green, each axis [m]. Fitted.
    green_ball_m: float = 4.0

    # --- marks --------------------------------------------------------------------------------------------------
    # A mark belongs to a stand within this distance [m] and time [s].
    mark_m: float = 25.0
    mark_s: float = 45.0
    # Probability that a mark on a hole is a shot and not something else. Common practice.
    mark_is_shot: float = 0.93

    # --- search -------------------------------------------------------------------------------------------------
    # Stands looked back over for the shot before; shots on one hole.
    most_stands_between: int = 30
    most_shots: int = 14
    # Correlated evidence makes a sum of likelihoods too sure: confidence is tempered by this power. Fitted.
    temper: float = 0.8
    # Seconds between the stroke and leaving the spot: the ball is watched. Fitted.
    watch_s: float = 5.0

    # --- putts --------------------------------------------------------------------------------------------------
    # Time from the first stand on the green to the last below which one putt is likeliest, and above which three
    # are [s]. Fitted.
    one_putt_s: float = 60.0
    three_putts_s: float = 240.0
