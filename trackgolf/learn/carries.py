"""What each club really does, from many rounds: distances, spread, mishits, with intervals and what they rest on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from geo.units import YARD_M
from trackgolf.bag import Bag
from trackgolf.errors import BagError
from trackgolf.learn.club_beliefs import ModelSettings, swings_of
from trackgolf.learn.club_model import ClubPosterior, fit_clubs, mixture_quantiles
from trackgolf.learn.directions import Directions, DirectionSettings, find_directions
from trackgolf.learn.part_swings import PART_COLUMNS, learn_part_swings
from trackgolf.learn.pooling import pool_over_spread
from trackgolf.learn.robust import huber_location, huber_regression
from trackgolf.learn.roll import RollModel
from trackgolf.learn.shot_evidence import EvidenceSettings, gather_evidence

__all__ = ["CARRY_COLUMNS", "Carries", "CarrySettings", "learn_carries"]

Floats = NDArray[np.float64]

# Halvings of twice a good strike to find a length: to a billionth of it.
_HALVINGS = 30

CARRY_COLUMNS = (
    "club",
    "shots",
    "shots_named",
    "shots_inferred",
    "shots_levelled",
    "club_confidence",
    "distance_m",
    "distance_80_low_m",
    "distance_80_high_m",
    "distance_95_low_m",
    "distance_95_high_m",
    "carry_m",
    "carry_80_low_m",
    "carry_80_high_m",
    "roll_m",
    "path_m",
    "plan_m",
    "spread_long_m",
    "spread_side_m",
    "side_shots",
    "right_m",
    "right_80_low_m",
    "right_80_high_m",
    "mishit_share",
    "mishit_80_low",
    "mishit_80_high",
    "more_shots",
    "change_m",
    "change_80_low_m",
    "change_80_high_m",
    "stated_carry_m",
    "stated_distance_m",
)


@dataclass(frozen=True, slots=True)
class CarrySettings:
    """
    Settings of all that is learned about clubs.

    Attributes
    ----------
    evidence : EvidenceSettings
        Which shots count.
    model : ModelSettings
        The model of full swings.
    direction : DirectionSettings
        The model of left and right.
    roll : RollModel
        How much of a distance is roll.
    known_within_m : float
        A club is known when half its 80 % interval is no wider than this [m]: 5 yd.
    change_days : float
        Fewest days between first and last round for a change over time to be asked about. Common practice.
    change_shots : int
        Fewest good strikes of a club for it. Common practice, no source.
    """

    evidence: EvidenceSettings = field(default_factory=EvidenceSettings)
    model: ModelSettings = field(default_factory=ModelSettings)
    direction: DirectionSettings = field(default_factory=DirectionSettings)
    roll: RollModel = field(default_factory=RollModel)
    known_within_m: float = 5 * YARD_M
    change_days: float = 14.0
    change_shots: int = 8


@dataclass(frozen=True)
class Carries:
    """
    What many rounds say of a bag.

    Attributes
    ----------
    player : str
        Whose bag.
    rounds : int
        Rounds the shots come from.
    clubs : pandas.DataFrame
        Columns `CARRY_COLUMNS`, in the order of the bag; lengths [m].
    part_swings : pandas.DataFrame
        Columns `trackgolf.learn.part_swings.PART_COLUMNS`.
    account : dict
        How many shots were used or left out, by reason.
    heights : dict
        Of how many full swings the distance was ``set right`` for height, was not because the height is ``too unsure``,
        or has a height that is ``unknown``.
    bias, bias_80 : float, tuple of float
        What good strikes of all clubs go against what the bag states, less 1.
    rough : float
        What rough takes off a shot.
    notes : tuple of str
        What to say about all this.
    shots : pandas.DataFrame
        The full swings with `likely_club` and `good`, the probability of a good strike.
    """

    player: str
    rounds: int
    clubs: pd.DataFrame
    part_swings: pd.DataFrame
    account: dict[str, int]
    heights: dict[str, int]
    bias: float
    bias_80: tuple[float, float]
    rough: float
    notes: tuple[str, ...]
    shots: pd.DataFrame


def learn_carries(shots: pd.DataFrame, bag: Bag, settings: CarrySettings | None = None) -> Carries:
    """
    Learn what the clubs of a bag really do from the shots of many rounds.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots as `trackgolf.shots` makes them, with `round` and, for changes over time, `day` (a number or a date).
        From a comparison with a plan may come `right_m`, `planned_club`, `planned_distance_m`.
    bag : Bag
        What the player states.
    settings : CarrySettings, optional
        Everything this rests on.

    Returns
    -------
    Carries
        A row a club, part swings, and the account of all shots.

    Raises
    ------
    BagError
        If the bag has no clubs.

    Notes
    -----
    Clubs without a shot have what the other clubs say of them. With no shots at all the answer is what is believed
    of golfers in general. See `trackgolf.learn.club_model` for the model.
    """
    rules = settings or CarrySettings()
    if not bag.clubs:
        raise BagError("the bag has no clubs to learn about")
    evidence = gather_evidence(shots, bag, rules.evidence)
    full = evidence.full
    stated = np.array([club.distance_m for club in bag.clubs])
    avoid = np.array([club.avoid for club in bag.clubs])
    posterior = fit_clubs(stated, avoid, swings_of(full), rules.model)
    likely, confidence = _likely_clubs(posterior)
    full = full.assign(
        likely_club=likely,
        club_confidence=confidence,
        good=posterior.good,
    )
    sides = np.array(
        [np.nan if "spread_side" in c.assumed else c.spread_side_m / c.distance_m for c in bag.clubs]
    )
    directions = find_directions(
        full, np.where((posterior.good > 0.5) & (confidence > 0.6), likely, -1), sides, rules.direction
    )
    clubs = _rows(bag, stated, full, posterior, directions, rules)
    return Carries(
        player=bag.player,
        rounds=int(shots["round"].nunique()),
        clubs=clubs,
        part_swings=learn_part_swings(evidence.part)
        if len(evidence.part)
        else pd.DataFrame(columns=list(PART_COLUMNS)),
        account=evidence.account,
        heights=evidence.heights,
        bias=posterior.bias,
        bias_80=(posterior.bias - 1.2816 * posterior.bias_sd, posterior.bias + 1.2816 * posterior.bias_sd),
        rough=posterior.rough,
        notes=(
            *evidence.notes,
            "carry is modelled: a track shows where a ball was played from, not where it pitched",
        ),
        shots=full,
    )


def _likely_clubs(posterior: ClubPosterior) -> tuple[NDArray[np.int64], Floats]:
    """The likeliest club of each shot and its probability."""
    if not len(posterior.club_probability):
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    return posterior.club_probability.argmax(axis=1), posterior.club_probability.max(axis=1)


def _rows(
    bag: Bag,
    stated: Floats,
    full: pd.DataFrame,
    posterior: ClubPosterior,
    directions: Directions,
    rules: CarrySettings,
) -> pd.DataFrame:
    bounds = mixture_quantiles(posterior.mean_draws, posterior.sd_draws, (0.1, 0.9, 0.025, 0.975))
    narrow, wide = bounds[:, :2], bounds[:, 2:]
    mishits = np.quantile(posterior.mishit_draws, [0.1, 0.9], axis=0)
    paths = _path_ratios(full, len(stated))
    changes = _changes(full, stated, posterior, rules)
    likely, named = full["likely_club"].to_numpy(), full["club_index"].to_numpy() >= 0
    good = full["good"].to_numpy() > 0.5
    levelled = full["is_levelled"].to_numpy(dtype=bool)
    end_lies = full["end_lie"].fillna("unknown").astype(str).to_numpy()
    sure = full["club_confidence"].to_numpy(dtype=float)
    error = full["variance_m2"].to_numpy(dtype=float)
    reached = _every_second(posterior, rules.model)
    rows: list[dict[str, Any]] = []
    for c, club in enumerate(bag.clubs):
        mine = likely == c
        lies = end_lies[mine & good].tolist()
        distance = float(posterior.mean[c] * stated[c])
        per_carry = 1.0 / (1.0 + rules.roll.roll_share(club.roll_m / club.carry_m, lies))
        noise = float(error[mine].mean()) if mine.any() else 2 * rules.evidence.sigma_m**2
        rows.append(
            {
                "club": club.name,
                "shots": int(mine.sum()),
                "shots_named": int((mine & named).sum()),
                "shots_inferred": int((mine & ~named).sum()),
                "shots_levelled": int((mine & levelled).sum()),
                "club_confidence": float(sure[mine & ~named].mean()) if (mine & ~named).any() else np.nan,
                "distance_m": distance,
                "distance_80_low_m": float(narrow[c, 0] * stated[c]),
                "distance_80_high_m": float(narrow[c, 1] * stated[c]),
                "distance_95_low_m": float(wide[c, 0] * stated[c]),
                "distance_95_high_m": float(wide[c, 1] * stated[c]),
                "carry_m": distance * per_carry,
                "carry_80_low_m": float(narrow[c, 0] * stated[c]) * per_carry,
                "carry_80_high_m": float(narrow[c, 1] * stated[c]) * per_carry,
                "roll_m": distance * (1 - per_carry),
                "path_m": distance * paths[c],
                "plan_m": float(stated[c] * reached[c]),
                "spread_long_m": float(posterior.spread[c] * stated[c]),
                "spread_side_m": float(directions.spread[c] * distance),
                "side_shots": int(directions.shots[c]),
                "right_m": float(directions.right[c] * distance),
                "right_80_low_m": float(directions.right_low[c] * distance),
                "right_80_high_m": float(directions.right_high[c] * distance),
                "mishit_share": float(posterior.mishit[c]),
                "mishit_80_low": float(mishits[0, c]),
                "mishit_80_high": float(mishits[1, c]),
                "more_shots": _more_shots(posterior, c, float(stated[c]), noise, rules.known_within_m),
                "change_m": changes[c, 0] * distance,
                "change_80_low_m": changes[c, 1] * distance,
                "change_80_high_m": changes[c, 2] * distance,
                "stated_carry_m": club.carry_m,
                "stated_distance_m": club.distance_m,
            }
        )
    return pd.DataFrame(rows, columns=list(CARRY_COLUMNS))


def _every_second(posterior: ClubPosterior, model: ModelSettings) -> Floats:
    """The lengths that every second shot reaches, mishits counted, as shares of the stated distance, a club."""
    mean, sd, share = posterior.mean, posterior.spread, posterior.mishit
    at, width = np.array(model.short_means)[:, None] * mean, np.array(model.short_sds)[:, None] * mean
    low, high = np.zeros_like(mean), 2.0 * mean
    for _ in range(_HALVINGS):
        length = 0.5 * (low + high)
        beyond = (1 - share) * special.ndtr((mean - length) / sd)
        beyond += share * (posterior.kinds @ special.ndtr((at - length) / width))
        low, high = np.where(beyond > 0.5, length, low), np.where(beyond > 0.5, high, length)
    return np.asarray(0.5 * (low + high), dtype=float)


def _more_shots(posterior: ClubPosterior, c: int, stated_m: float, noise_m2: float, within_m: float) -> int:
    """How many more shots until half the 80 % interval is within a length."""
    wanted = (float(special.ndtri(0.9)) / within_m) ** 2
    have = 1.0 / (posterior.sd[c] * stated_m) ** 2
    each = (1.0 - posterior.mishit[c]) / ((posterior.spread[c] * stated_m) ** 2 + noise_m2)
    return max(0, int(np.ceil((wanted - have) / each)))


def _path_ratios(full: pd.DataFrame, clubs: int) -> Floats:
    """Walked path over straight distance of good strikes, a club; NaN where no path is known."""
    if "path_m" not in full or not len(full):
        return np.full(clubs, np.nan)
    path = pd.to_numeric(full["path_m"], errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    ratio = path / full["straight_m"].to_numpy(dtype=float)
    usable = np.isfinite(ratio) & ~full["is_detour"].to_numpy(dtype=bool) & (full["good"].to_numpy() > 0.5)
    if not usable.any():
        return np.full(clubs, np.nan)
    likely = full["likely_club"].to_numpy()
    whole = huber_location(ratio[usable])
    found = np.full(clubs, whole)
    for c in range(clubs):
        mine = usable & (likely == c)
        if mine.sum() >= 4:
            found[c] = huber_location(ratio[mine])
    return found


def _changes(full: pd.DataFrame, stated: Floats, posterior: ClubPosterior, rules: CarrySettings) -> Floats:
    """Change of good strikes from the first to the last round, a club: share of the distance, 80 % bounds."""
    found = np.full((len(stated), 3), np.nan)
    if "day" not in full or len(full) == 0:
        return found
    day = _days(full["day"])
    span = float(np.nanmax(day) - np.nanmin(day)) if np.isfinite(day).any() else 0.0
    if span < rules.change_days:
        return found
    likely = full["likely_club"].to_numpy()
    held = 1.0 - np.clip(
        np.nan_to_num(full["aim_m"].to_numpy(dtype=float) / stated[likely], nan=1.0),
        rules.model.full_from,
        1.0,
    )
    level = full["distance_m"].to_numpy(dtype=float) / stated[likely]
    level = (
        level + posterior.rough * full["rough"].to_numpy(dtype=float) + posterior.ease * held
    ) / posterior.mean[likely]
    usable = (full["good"].to_numpy() > 0.5) & (full["club_confidence"].to_numpy() > 0.8) & np.isfinite(day)
    slope, error = np.zeros(len(stated)), np.full(len(stated), np.inf)
    for c in range(len(stated)):
        mine = usable & (likely == c)
        if mine.sum() >= rules.change_shots and np.ptp(day[mine]) > 0:
            line = huber_regression(np.column_stack([np.ones(mine.sum()), day[mine] / span]), level[mine])
            if line.errors[1] > 0:
                slope[c], error[c] = line.coefficients[1], line.errors[1]
    if not np.isfinite(error).any():
        return found
    # A change is as a rule one of the player, so clubs learn from each other; from memory: no more than some 5 %.
    pooled, _ = pool_over_spread(slope, error, np.linspace(0.0, 0.1, 21), centre=(0.0, 0.05))
    asked = np.isfinite(error)
    half = pooled.sd * float(special.ndtri(0.9))
    bounds = np.stack([pooled.mean, pooled.mean - half, pooled.mean + half], axis=1)
    found[asked] = bounds[asked]
    return found


def _days(column: pd.Series) -> Floats:
    """Days as numbers, whatever the column holds."""
    if pd.api.types.is_numeric_dtype(column):
        return column.to_numpy(dtype=float, na_value=np.nan)
    times = pd.to_datetime(column, utc=True, errors="coerce", format="ISO8601")
    since = (times - pd.Timestamp("2000-01-01", tz="UTC")) / pd.Timedelta(days=1)
    return np.asarray(since, dtype=float)
