"""Which shots of many rounds say something about a club, how much each counts, and why the others do not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geo.units import YARD_M
from trackgolf.bag import Bag
from trackgolf.errors import InputError

__all__ = ["EvidenceSettings", "ShotEvidence", "gather_evidence", "level_distance", "with_leaves"]

Floats = NDArray[np.float64]

_NEEDED = ("round", "hole", "shot", "club", "club_source", "distance_m", "leave_m", "lie", "end_lie")
_NAMED = ("marked", "card", "corrected")
# A derived leave is not believed where the ball went farther than this share of it and this length more [m]; common
# practice, no source: beyond what a thin pitch runs.
_BEYOND_SHARE, _BEYOND_M = 1.3, 25.0
_UNFINISHED = ("lost", "picked_up", "penalty_area", "out_of_bounds")


@dataclass(frozen=True, slots=True)
class EvidenceSettings:
    """
    What makes a shot evidence of its club.

    Attributes
    ----------
    least_confidence : float
        Below this probability of being a shot at all a stand is left out. Common practice, no source.
    detour_weight : float
        What a shot followed by a detour counts: its end may be another ball's. Common practice, no source.
    full_from : float
        A swing asked to go less than this share of the club's stated distance is a part swing. Common practice.
    sigma_m : float
        Standard error of a position where the table has none, each axis [m]; as a watch or phone has it.
    part_from_m, part_to_m : float
        Lengths asked of part swings [m]: 10 to 75 yd.
    rise_rule, rise_rule_sd : float
        How much shorter a shot goes a metre of height [m], and how flights differ in that: the cotangent of the angle
        of descent, 1 at 45 degrees. Common practice, no source: a yard a yard, from 38 degrees for a wood to 55
        for a wedge.
    rise_certainty : float
        A correction for height is made only where it is this many times its own error. Common practice, no source.
    """

    least_confidence: float = 0.5
    detour_weight: float = 0.5
    full_from: float = 0.85
    sigma_m: float = 3.0
    part_from_m: float = 10 * YARD_M
    part_to_m: float = 75 * YARD_M
    rise_rule: float = 1.0
    rise_rule_sd: float = 0.3
    rise_certainty: float = 2.0


@dataclass(frozen=True)
class ShotEvidence:
    """
    Shots sorted into what they are evidence of.

    Attributes
    ----------
    full : pandas.DataFrame
        Full swings: all columns that came in, and `club_index` (place in the bag, -1 unnamed), `aim_m` (what the
        shot was asked to go [m], NaN unknown), `is_told` (whether a plan tells that), `variance_m2` (of
        the measured distance), `weight`, `rough`, `is_levelled` (set right for height), `straight_m` (as measured).
    part : pandas.DataFrame
        Part swings, with the same columns.
    account : dict
        How many shots were put where or left out, by reason; adds up to all shots.
    heights : dict
        Of how many full swings the height was ``set right``, ``too unsure`` to do so, or ``unknown``.
    notes : tuple of str
        What to say about the sorting.
    """

    full: pd.DataFrame
    part: pd.DataFrame
    account: dict[str, int]
    heights: dict[str, int]
    notes: tuple[str, ...]


def with_leaves(shots: pd.DataFrame) -> pd.DataFrame:
    """
    Fill in what each shot had left before it, where the table does not say.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots with `round`, `hole`, `shot`, `leave_m` and, if known, `visit`, `leave_before_m`, `length_m` (of the
        hole) [m].

    Returns
    -------
    pandas.DataFrame
        The same with `leave_before_m` [m]: the leave of the shot before; for the first one the hole's length.
    """
    table = shots.copy()
    before = pd.to_numeric(table.get("leave_before_m", pd.Series(np.nan, index=table.index)), errors="coerce")
    if before.notna().all():
        table["leave_before_m"] = before
        return table
    keys = ["round", "visit"] if "visit" in table else ["round", "hole"]
    ordered = table.sort_values([*keys, "shot"], kind="stable")
    last = ordered.groupby(keys, sort=False)["leave_m"].shift(1)
    follows = ordered.groupby(keys, sort=False)["shot"].diff() == 1
    found = last.where(follows).reindex(table.index)
    if "length_m" in table:
        found = found.where(table["shot"] != 1, pd.to_numeric(table["length_m"], errors="coerce"))
    # A ball that came to rest far beyond the hole was not played at it from there: that leave belongs to something else.
    gone = pd.to_numeric(table["distance_m"], errors="coerce").astype(float)
    found = pd.to_numeric(found, errors="coerce").astype(float)
    found = found.mask(gone > _BEYOND_SHARE * found + _BEYOND_M)
    table["leave_before_m"] = before.where(before.notna(), found)
    return table


def level_distance(
    distance_m: Floats, rise_m: Floats, rise_sigma_m: Floats, settings: EvidenceSettings | None = None
) -> tuple[Floats, Floats]:
    """
    Turn distances up or down a slope into level ones, where the heights are sure enough.

    A ball that comes down at 45 degrees goes a metre shorter for each metre it lands higher; steep and flat flights
    lie about that (`EvidenceSettings.rise_rule`). The correction is made only where it is well above its own error,
    that of the heights and that of the rule.

    Parameters
    ----------
    distance_m, rise_m, rise_sigma_m : numpy.ndarray, shape (n,)
        Distance, height of the end above the start, and its standard error [m]; NaN unknown.
    settings : EvidenceSettings, optional
        The rule and its error.

    Returns
    -------
    level_m : numpy.ndarray, shape (n,)
        What the shot would have gone on level ground [m].
    variance_m2 : numpy.ndarray, shape (n,)
        Variance of the correction [m2]; NaN where none was made.
    """
    rules = settings or EvidenceSettings()
    correction = rules.rise_rule * rise_m
    error = np.hypot(rules.rise_rule * rise_sigma_m, rules.rise_rule_sd * rise_m)
    with np.errstate(invalid="ignore"):
        sure = np.abs(correction) > rules.rise_certainty * error
    return np.where(sure, distance_m + np.where(sure, correction, 0.0), distance_m), np.where(
        sure, error**2, np.nan
    )


def gather_evidence(shots: pd.DataFrame, bag: Bag, settings: EvidenceSettings | None = None) -> ShotEvidence:
    """
    Sort the shots of many rounds into full swings, part swings and what says nothing.

    Parameters
    ----------
    shots : pandas.DataFrame
        Shots as `trackgolf.shots` makes them, with `round`; columns beyond the contract's are optional.
    bag : Bag
        The player's clubs.
    settings : EvidenceSettings, optional
        What counts.

    Returns
    -------
    ShotEvidence
        The sorted shots and the account of all of them.

    Raises
    ------
    InputError
        If the table lacks a column.
    """
    rules = settings or EvidenceSettings()
    missing = [name for name in _NEEDED if name not in shots]
    if missing:
        raise InputError(f"the table of shots has no {', '.join(missing)}")
    table = with_leaves(shots.reset_index(drop=True))
    distance = _numbers(table, "distance_m", np.nan)
    confidence = _numbers(table, "confidence", 1.0)
    source = table["club_source"].fillna("").astype(str)
    named = source.isin(_NAMED).to_numpy()
    index = _places(table["club"], bag)
    stated = np.array([club.distance_m for club in bag.clubs])
    before = _numbers(table, "leave_before_m", np.nan)
    mine = np.where(index >= 0, stated[index], np.nan) if len(stated) else np.full(len(table), np.nan)
    target = _target(table, np.where(named, mine, np.nan), rules.full_from)
    wish = np.fmin(before, target)
    lie = table["lie"].fillna("unknown").astype(str)

    reason = np.full(len(table), "", dtype=object)

    def leave_out(where: NDArray[np.bool_], why: str) -> None:
        reason[where & (reason == "")] = why

    leave_out(~np.isfinite(distance), "end not seen, lost or in a penalty area")
    leave_out(
        table["end_lie"].isin(_UNFINISHED).to_numpy() | (_numbers(table, "penalty", 0.0) > 0),
        "end not seen, lost or in a penalty area",
    )
    leave_out((source == "plan").to_numpy(), "club known only from the plan")
    leave_out(confidence < rules.least_confidence, "doubtful whether it was a shot")
    leave_out(lie.isin(["bunker"]).to_numpy(), "from sand")
    leave_out(lie.isin(["penalty_area", "out_of_bounds", "trees"]).to_numpy(), "from trees or trouble")
    leave_out(named & (index < 0), "club not in the bag")

    shortest = float(stated.min()) if len(stated) else np.inf
    with np.errstate(invalid="ignore"):
        asked = np.where(named & (index >= 0), wish / mine, wish / shortest)
        part = asked < rules.full_from
        near = (before >= rules.part_from_m) & (before <= rules.part_to_m)
    leave_out(part & near, "part swings")
    leave_out(part, "less than a full swing asked")

    full = reason == ""
    rise_sigma = _numbers(table, "rise_sigma_m", np.nan)
    level, rise_variance = level_distance(distance, _numbers(table, "rise_m", np.nan), rise_sigma, rules)
    levelled = np.isfinite(rise_variance)
    start, end = _numbers(table, "sigma_m", rules.sigma_m), _numbers(table, "end_sigma_m", rules.sigma_m)
    detour = _numbers(table, "detour", 0.0) > 0
    table = table.assign(
        distance_m=level,
        straight_m=distance,
        club_index=np.where(named, index, -1),
        # A target that is higher asks for so much more.
        aim_m=wish + (level - distance),
        variance_m2=start**2 + end**2 + np.nan_to_num(rise_variance),
        weight=np.where(confidence >= 0.9, 1.0, confidence) * np.where(detour, rules.detour_weight, 1.0),
        rough=(lie == "rough").to_numpy(),
        is_detour=detour,
        is_levelled=levelled,
        is_told=np.isfinite(target),
    )
    account = {
        "all shots": len(table),
        "full swings, club named": int((full & named).sum()),
        "full swings, club inferred": int((full & ~named).sum()),
    }
    for why in dict.fromkeys(reason[~full].tolist()):
        account[why] = int((reason == why).sum())
    heights = {
        "set right": int((full & levelled).sum()),
        "too unsure": int((full & ~levelled & np.isfinite(rise_sigma)).sum()),
        "unknown": int((full & ~np.isfinite(rise_sigma)).sum()),
    }
    return ShotEvidence(
        full=table[full].reset_index(drop=True),
        part=table[reason == "part swings"].reset_index(drop=True),
        account=account,
        heights=heights,
        notes=_notes(table[full], heights, full & detour, confidence[full]),
    )


def _places(clubs: pd.Series, bag: Bag) -> NDArray[np.int64]:
    """Place of each named club in the bag, -1 for others; a name of an older bag may be written differently."""
    places = {club.name: place for place, club in enumerate(bag.clubs)}
    for name in clubs.dropna().astype(str).unique():
        found = None if name in places else bag.find_club(name)
        if found is not None:
            places[name] = places[found.name]
    return np.asarray(clubs.map(places).fillna(-1), dtype=np.int64)


def _target(table: pd.DataFrame, named_m: Floats, full_from: float) -> Floats:
    """
    How far away the planned target was [m], NaN where no plan tells.

    It counts where its club was played, or where another named club suits it; for a club that nobody named it
    would bend what is told of the club.
    """
    planned = _numbers(table, "planned_distance_m", np.nan)
    # The target as seen from where the ball really lay, where the finish against it is known.
    right, past = _numbers(table, "right_m", np.nan), _numbers(table, "long_m", np.nan)
    along = np.sqrt(np.maximum(_numbers(table, "distance_m", np.nan) ** 2 - right**2, 0.0))
    planned = np.where(np.isfinite(along - past), np.maximum(along - past, 1.0), planned)
    if "planned_club" in table:
        same = (table["planned_club"] == table["club"]).to_numpy()
        with np.errstate(invalid="ignore"):
            suits = (planned >= full_from * named_m) & (planned <= 1.1 * named_m)
        planned = np.where(same | suits, planned, np.nan)
    return planned


def _numbers(table: pd.DataFrame, name: str, default: float) -> Floats:
    """A column as numbers; the default where the table or a row has none."""
    if name not in table:
        return np.full(len(table), default)
    column = table[name]
    if column.dtype == object:
        column = column.replace({"yes": 1.0, "no": 0.0, True: 1.0, False: 0.0})
    values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    return np.where(np.isfinite(values), values, default)


def _notes(
    full: pd.DataFrame, heights: dict[str, int], detours: NDArray[np.bool_], confidence: Floats
) -> tuple[str, ...]:
    notes = []
    doubtful = int((confidence < 0.9).sum())
    if doubtful:
        notes.append(f"{doubtful} of these shots are not quite sure to be shots and count for less")
    if detours.any():
        notes.append(f"{int(detours.sum())} of these shots were followed by a detour and count half")
    rough = int(full["rough"].sum())
    if rough:
        notes.append(f"{rough} of these shots were from rough; what rough takes off is allowed for")
    used, unsure, unknown = heights.values()
    if used or unsure:
        notes.append(
            f"heights of the track: {used} distances set right, {unsure} left as they were, because the difference"
            f" of height is no more than its error explains, {unknown} without heights that can be judged"
        )
    else:
        notes.append("no distance is set right for height: no round has heights whose error can be told")
    return tuple(notes)
