"""Every number the rebuilding of a round rests on, with its unit and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass, field

from geo.stops import StopSettings

__all__ = ["RoundSettings"]


@dataclass(frozen=True, slots=True)
class RoundSettings:
    """
    What the decoder believes about golfers before it has seen the track.

    Values marked *fitted* come from ``python -m tests.benchmarks.fit`` on simulated tuning rounds, run several times
    while the decoder grew, so that no single run gives all of them again; those marked *common practice* are rules of
    thumb of the trade without a source.
    """

    # Stands are cut finer than stops in general, at what may be the step from the bag to the ball or from a partner's:
    # the search tells which piece was the stroke. Short ones are found too, of which most are no strokes, but those of a
    # quick player take no longer. Chosen by hand: F1 of shots, and strokes with a stand, on tuning rounds.
    stops: StopSettings = field(
        default_factory=lambda: StopSettings(
            shift_m=3.5, shift_factor=3.0, stand_mean_s=12.0, walk_mean_s=18.0
        )
    )

    # --- dwell, log-normal: median [s] and spread of its logarithm -------------------------------------------
    # The Rules advise a stroke within 40 s of being able to play (Rules of Golf 2023, 5.6b); a stand lasts longer,
    # with the wait for one's turn and the look after the ball. Fitted.
    shot_dwell_s: float = 77.49
    shot_dwell_spread: float = 0.68
    tee_dwell_s: float = 32.93
    tee_dwell_spread: float = 0.5655
    # Other stands are of two kinds: halts at the bag, and waits for others. Fitted.
    halt_dwell_s: float = 7.279
    halt_dwell_spread: float = 0.7025
    halt_share: float = 0.5123
    wait_dwell_s: float = 21.29
    wait_dwell_spread: float = 1.64
    # Stands on the green: putts, marking, waiting for the others. Fitted.
    green_dwell_s: float = 41.99
    green_dwell_spread: float = 0.995

    # --- place ------------------------------------------------------------------------------------------------
    # How thinly stands that are no shots are spread around a player: one in this area [m2]. Fitted.
    other_area_m2: float = 1.909e04
    # Part of them lies around the spot just played from, thinning out over this length [m]. Fitted.
    around_share: float = 0.2338
    around_m: float = 10.46
    # And part on the tees of the hole, this far from their edges [m]: where partners tee off. Fitted.
    tee_wait_share: float = 0.298
    tee_wait_m: float = 2.137
    # Where a player stands against the ball or the tee's centre, each axis [m]. Common practice.
    beside_ball_m: float = 1.5
    # How far from its spot a tee shot is played, each axis [m]. Fitted.
    tee_spread_m: float = 1.571
    # Probability that the tee shot is played at the start of the hole's line, where the tee was named. Common practice.
    named_tee_share: float = 0.93
    # The same spread where the tee was named [m]. Fitted.
    named_tee_spread_m: float = 2.763
    # Where the map draws no tees, the one played from may lie this far ahead of the line's start [m]: common practice.
    # How often it does: fitted.
    tee_ahead_m: float = 110.0
    tee_ahead_share: float = 0.8004
    # A hole is considered only for stands this near its line of play [m]. Common practice, no source.
    corridor_m: float = 110.0

    # --- ball flight --------------------------------------------------------------------------------------------
    # Direction, one standard deviation as a share of the distance. From memory: Broadie 2014 gives 6.5 degrees for
    # a 90-shooter and 7.5 for a 100-shooter; a tenth of shots is far wilder (fitted).
    side_share: float = 0.1491
    wild_share: float = 1.19
    wild_probability: float = 0.1465
    # What full shots go against what the bag says of its clubs: mean factor and its spread. Fitted; the factor takes in
    # that players often choose a shorter club, so it is no measure of clubs.
    bag_factor: float = 0.7554
    bag_spread: float = 0.1127
    # Long clubs are played more than short ones out of reach of the green: weight by distance to this power. Fitted.
    long_club_power: float = 2.75
    # The same for naming the club of a shot, where shorter choices of club do not hide in the factor: true distances
    # lie -12 % to +5 % from what players state. Common practice, no source.
    club_factor: float = 0.965
    club_spread: float = 0.06
    # Share of shots played with a club that the plan names for the hole. Fitted.
    plan_share: float = 0.282
    # How often a shot towards a reachable green is meant to reach it. Fitted.
    aim_green: float = 0.8742
    # Share of shots that fall anywhere short: topped, chunked, laid up. Fitted.
    short_share: float = 0.2094
    # Spread of a chip or pitch as a share of its length. Fitted.
    chip_spread_share: float = 0.4555
    # A shot anywhere at all, backwards included. Fitted.
    stray_share: float = 0.02227
    stray_radius_m: float = 90.18

    # --- counts -------------------------------------------------------------------------------------------------
    # Shots to the green against the player's own regulation: weights of -3 .. +7. Common practice, no source.
    count_weights: tuple[float, ...] = (0.03, 0.09, 0.20, 0.25, 0.19, 0.11, 0.06, 0.035, 0.02, 0.01, 0.005)
    # Weight of these counts: their logarithm is multiplied by it. Fitted.
    count_power: float = 2.117
    # Probability that a stroke left no stand in the track. Fitted.
    unseen_shot: float = 0.03587
    # Probability that a hole ends without its green: picked up, given up. Fitted.
    pick_up: float = 0.004146
    # Probability that a stroke is played again from the same spot (Rules of Golf 18.1). Fitted.
    replay: float = 0.04719
    # The same on a hole where the card has a penalty. Common practice, no source.
    replay_carded: float = 0.15
    # Probabilities that a hole is followed by the next one, and that one is passed over. Common practice, no source.
    next_hole: float = 0.97
    skip_hole: float = 0.04
    # Trust in a card: probability that a hole's count is written wrong. Common practice, no source.
    card_error: float = 0.004

    # --- green --------------------------------------------------------------------------------------------------
    # Where stands lie once the green is reached: on it, beside it within a distance [m], anywhere. Fitted, the share
    # beside it is not.
    green_share: float = 0.3352
    beside_green_share: float = 0.25
    beside_green_m: float = 27.63
    # Probability that one more stand belongs to the green just reached. Fitted.
    stay_share: float = 0.7323
    # Position of the ball against the first stand on the green, each axis [m]. Fitted.
    green_ball_m: float = 7.288

    # --- marks --------------------------------------------------------------------------------------------------
    # A mark belongs to a stand within this distance [m] and time [s]. Common practice, no source.
    mark_m: float = 25.0
    mark_s: float = 45.0
    # Probability that a mark on a hole is a shot and not something else. Common practice.
    mark_is_shot: float = 0.93

    # --- search -------------------------------------------------------------------------------------------------
    # Stands looked back over for the shot before; shots on one hole. Bounds of the search, not beliefs.
    most_stands_between: int = 30
    most_shots: int = 14
    # Correlated evidence makes a sum of likelihoods too sure: confidence is tempered by this power. Chosen by hand.
    temper: float = 0.8
    # Added to the log-odds of every stand as a stroke when the story is chosen, not when its doubts are weighed.
    # Chosen by hand: of 0, 0.4 and 0.8 the best F1 on a few dozen tuning rounds, by a few thousandths.
    lean_to_shots: float = 0.4
    # Two stands this near in time [s], or in place [m] within three times that time, may be one stroke's. Common practice.
    same_stroke_s: float = 30.0
    same_stroke_m: float = 10.0
    # Line from the decoder's log-odds to those of being right, and the most that is ever said: what no evidence here can
    # tell sets it. Fitted by ``python -m tests.benchmarks.fit_trust --rounds 5 --first 1600``.
    trust_offset: float = -0.1047
    trust_slope: float = 1.098
    trust_most: float = 0.9822
    # Seconds between the stroke and leaving the spot: the ball is watched. Common practice, no source.
    watch_s: float = 5.0

    # --- drops --------------------------------------------------------------------------------------------------
    # Where the shot before could have met water, a shot from so near to it is taken to follow a drop [m]. With a penalty
    # on the card, the nearest within the second length. Chosen by hand after a look at simulated rounds.
    drop_m: float = 5.0
    drop_carded_m: float = 25.0

    # A stand on the green this long [s] is taken for the first putt: another stroke from off the green comes after it as
    # seldom as this. Common practice, no source.
    putting_s: float = 30.0
    back_off_green: float = 0.1

    # --- putts --------------------------------------------------------------------------------------------------
    # Time from the first stand on the green to the last below which one putt is likeliest, and above which three
    # are [s]. Chosen by hand: on simulated rounds time hardly tells, so nearly every green counts as two putts.
    one_putt_s: float = 25.0
    three_putts_s: float = 420.0
