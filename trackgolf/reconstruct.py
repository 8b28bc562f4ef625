"""A round from its track: the one place that runs the steps in order. No arithmetic of its own."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geo.clean import CleanResult, keep_near, remove_jumps
from geo.gaps import split_parts
from geo.geodesic import distance_bearing
from geo.smooth import smooth_positions
from geo.stops import find_stops
from geo.track import Track
from trackgolf.bag import Bag
from trackgolf.binding import lay_pins
from trackgolf.compare import COMPARISON_COLUMNS, compare_round
from trackgolf.corrections import Corrections
from trackgolf.course import Course
from trackgolf.decode import Evidence, Story, best_story, probabilities
from trackgolf.drops import mark_drops
from trackgolf.errors import CardError, InputError, PlanError
from trackgolf.evidence import Shooter
from trackgolf.ground import Ground, TeeChoice, lay_ground, stations
from trackgolf.naming import name_clubs
from trackgolf.personal_par import personal_pars
from trackgolf.pinned import (
    Misfit,
    Pins,
    beside_removed,
    named_tee,
    pin_evidence,
    unfitting,
    widened,
    without_pauses,
)
from trackgolf.plan_file import is_plan_mark
from trackgolf.rises import add_rises
from trackgolf.scoring import holes_unseen, score_holes
from trackgolf.settings import RoundSettings
from trackgolf.shots import Visit, Walk, lay_out_shots
from trackgolf.stand_context import stand_inputs
from trackgolf.stand_net import KINDS, stand_net
from trackgolf.told import Told, tell_holes, tell_visits
from trackgolf.trust import same_stroke_weight, trusted
from trackgolf.weigh import HoleCount, weigh_round, weigh_tees

__all__ = ["Laid", "Note", "Round", "lay_track", "reconstruct"]

_LOG = logging.getLogger(__name__)
_SETTINGS = RoundSettings()
# A track all of whose points are further from the course than this was not recorded there [m].
_ELSEWHERE_M = 2_000.0


@dataclass(frozen=True, slots=True)
class Note:
    """Something said about a round: `kind` is `salvaged`, `mended`, `assumed` or `doubted`; `hole` 0 is the round."""

    kind: str
    hole: int
    text: str


@dataclass(frozen=True)
class Round:
    """
    A round rebuilt from its track.

    Attributes
    ----------
    shots : pandas.DataFrame
        Columns `trackgolf.shots.SHOT_COLUMNS`, in order of play.
    holes : pandas.DataFrame
        One row a hole played, as in ``holes.csv``.
    comparison : pandas.DataFrame
        Columns `trackgolf.compare.COMPARISON_COLUMNS`; no row without a plan.
    walk : pandas.DataFrame
        The smoothed walk near the course: `time` (UTC), `lon_deg`, `lat_deg`, `sigma_m`, `part`, `hole`.
    stands : pandas.DataFrame
        The stands the decoder weighed, with `lon_deg`, `lat_deg`, `shot_probability`, and the log-odds of what each
        looks like: `look_shot`, `look_tee`, `look_arrive`.
    course, bag, plan
        What the round was held against; `plan` is None without one.
    corrections : Corrections or None
        What the player set right by hand, as it was given.
    misfits : tuple of Misfit
        Those of them that fit nothing in the round any more.
    notes : tuple of Note
        What was salvaged, mended, assumed or doubted.
    ground : Ground
        The course in metres.
    """

    shots: pd.DataFrame
    holes: pd.DataFrame
    comparison: pd.DataFrame
    walk: pd.DataFrame
    stands: pd.DataFrame
    course: Course
    bag: Bag
    plan: pd.DataFrame | None
    notes: tuple[Note, ...]
    ground: Ground = field(repr=False)
    corrections: Corrections | None = None
    misfits: tuple[Misfit, ...] = ()


@dataclass(frozen=True)
class Laid:
    """
    A track laid on its course: what no correction, plan or card changes.

    Attributes
    ----------
    ground : Ground
        The course in metres.
    near : int
        Points near the course.
    cleaned : CleanResult
        Those without impossible jumps.
    walk : Walk
        The smoothed walk.
    stands : pandas.DataFrame
        The stands found in it.
    """

    ground: Ground
    near: int
    cleaned: CleanResult
    walk: Walk
    stands: pd.DataFrame


def lay_track(track: Track, course: Course, settings: RoundSettings = _SETTINGS) -> Laid:
    """
    Lay a track on its course: clean it, smooth it, find where the player stood.

    Parameters
    ----------
    track : Track
        The recorded points.
    course : Course
        The course, with positions.
    settings : RoundSettings, optional
        How stops are found.

    Returns
    -------
    Laid
        For `reconstruct`.

    Raises
    ------
    InputError
        If the track was recorded elsewhere.
    CourseError
        If the course has no positions.
    """
    ground = lay_ground(course)
    points = _points_on_course(track, course, ground)
    cleaned = remove_jumps(points)
    walk, time_s, raw = _smooth(cleaned.points, ground)
    return Laid(ground, len(points), cleaned, walk, find_stops(time_s, *raw, settings.stops))


def reconstruct(
    track: Track,
    course: Course,
    bag: Bag,
    *,
    plan: pd.DataFrame | None = None,
    card: pd.DataFrame | None = None,
    corrections: Corrections | None = None,
    told: Sequence[Note] = (),
    settings: RoundSettings = _SETTINGS,
    laid: Laid | None = None,
) -> Round:
    """
    Rebuild a round from its track.

    Parameters
    ----------
    track : Track
        The recorded points and marks.
    course : Course
        The course, with positions.
    bag : Bag
        The player's clubs and target.
    plan : pandas.DataFrame, optional
        Planned shots, as `trackgolf.plan_file.read_plan` gives them. It names clubs where nothing else does and
        never moves a shot.
    card : pandas.DataFrame, optional
        What was written on the card, as `trackgolf.card.read_card` gives it.
    corrections : Corrections, optional
        What the player set right by hand; it holds, and the rest of the story is found around it.
    told : sequence of Note, optional
        What reading the plan and the card had to say; passed on with the round's own notes.
    settings : RoundSettings, optional
        What the decoder believes of golfers.
    laid : Laid, optional
        This track laid on this course with these settings, where it is at hand: from `lay_track`.

    Returns
    -------
    Round
        The shots, the holes, and the comparison with the plan.

    Raises
    ------
    InputError
        If the track was recorded elsewhere, or no hole of the course can be found in it.
    CourseError, BagError, PlanError, CardError
        If one of the files does not fit the others.
    """
    pars = _personal_pars(course, bag)
    _check_fit(course, plan, card)
    laid = laid or lay_track(track, course, settings)
    ground, cleaned, walk = laid.ground, laid.cleaned, laid.walk
    notes = [Note("salvaged", 0, text) for text in track.warnings]
    notes += [Note("mended", 0, text) for text in course.warnings]
    notes += [Note("assumed", 0, text) for text in bag.warnings]
    notes += told

    notes += [Note("salvaged", 0, text) for text in cleaned.notes]
    pins = lay_pins(corrections, laid.stands, walk, ground, bag, settings)
    stands, settings = pins.stands, widened(settings, pins)
    _LOG.info(
        "points: %d of %d lie near the course, %d of them taken out as impossible jumps; standard error %.1f m",
        laid.near,
        len(track.points),
        laid.near - len(cleaned.points),
        float(np.median(walk.sigma_m)),
    )

    # Targets of a plan that was put on the device come back as waypoints; they mark no shot.
    mark_table = track.marks[~track.marks["name"].map(is_plan_mark).astype(bool)].reset_index(drop=True)
    marks = _marks_in_metres(mark_table, ground)
    _LOG.info(
        "marks: %d, and %d that are targets of a plan", len(mark_table), len(track.marks) - len(mark_table)
    )
    told_holes = tell_holes(card, corrections)
    counts = _counts(course, pars, card, corrections, pins)

    path = (walk.time_s, walk.east_m, walk.north_m)
    shooters = _shooters(bag, ground, plan, settings)
    looks = stand_net().scores(stand_inputs(stands, path, ground, settings))
    weighed = weigh_round(stands, path, ground, shooters, counts, marks, settings, looks)

    def at_tees(choice: TeeChoice | None, held: Pins = pins) -> Evidence:
        evidence = weighed
        if choice is not None:
            evidence = replace(weighed, tee=weigh_tees(stands, ground, marks, settings, looks, choice))
        return pin_evidence(evidence, held, ground, told_holes)

    def played(evidence: Evidence) -> Story:
        # A shot missed is as bad as one made up, while the likeliest story leaves out whatever is just under even.
        return best_story(replace(evidence, shot=evidence.shot + settings.lean_to_shots))

    named, tee_misfits = named_tee(corrections, course, ground)
    tee = named or _likeliest_tee(ground, lambda choice: best_story(at_tees(choice)).score)
    if named is not None:
        _LOG.info("tee: %s, as corrected", named.name)
    if tee is not None and named is None:
        notes.append(
            Note("assumed", 0, f"no tee was named; by the track the round was played from: {tee.name}")
        )
    if tee is not None:
        course = _from_tee(course, ground, tee)
    if beside_removed(pins):
        pins = without_pauses(pins, played(at_tees(tee, replace(pins, removed=()))))
    evidence = at_tees(tee, pins)
    story = played(evidence)
    if not story.events:
        raise InputError(
            "no hole of the course can be found in the track",
            None,
            "Check that the course and the track belong together",
        )
    shot_p, green_p, _ = probabilities(evidence.tempered(settings.temper))
    sure = trusted(same_stroke_weight(story, shot_p, stands, settings), settings)
    shots, visits = lay_out_shots(story, sure, green_p, stands, walk, ground, settings, pins.said, told_holes)
    shots = add_rises(shots, stands, walk, cleaned.points["ele_m"].to_numpy())
    told_visits, unplayed = tell_visits(card, corrections, visits)
    penalties = {visit: known.penalties for visit, known in told_visits.items()}
    room = {visit.visit: told_visits[visit.visit].penalty_room(visit.shots) for visit in visits}
    shots = mark_drops(shots, ground.water, ground.frame, penalties, settings, pins.said, room)
    shots = name_clubs(shots, visits, stands, mark_table, marks, plan, card, bag, settings, pins.said)
    holes, doubts = score_holes(shots, visits, stands, ground, course, pars, told_visits, settings, pins.said)
    doubts += holes_unseen(told_holes, visits)
    notes += [Note("doubted", hole, text) for hole, text in doubts]
    misfits = (*pins.misfits, *tee_misfits, *unfitting(unplayed, pins, story))
    notes += [Note("doubted", hole, text) for hole, text in dict.fromkeys((m.hole, m.why) for m in misfits)]
    comparison = (
        pd.DataFrame(columns=list(COMPARISON_COLUMNS))
        if plan is None
        else compare_round(shots, plan, ground.frame)
    )
    return Round(
        shots=shots,
        holes=holes,
        comparison=comparison,
        walk=_walk_table(walk, visits, ground),
        stands=_stand_table(stands, shot_p, looks, ground),
        course=course,
        bag=bag,
        plan=plan,
        notes=tuple(notes),
        ground=ground,
        corrections=corrections,
        misfits=misfits,
    )


def _likeliest_tee(ground: Ground, score: Callable[[TeeChoice], float]) -> TeeChoice | None:
    """The tee whose best story is the best of all; None where the player named one or the map has no choice."""
    scored = sorted(((score(choice), choice) for choice in ground.tee_choices), key=lambda one: -one[0])
    if not scored:
        return None
    for value, choice in scored[1:]:
        _LOG.info(
            "tee: %s rather than %s, whose best story of the round has a log-likelihood smaller by %.1f",
            scored[0][1].name,
            choice.name,
            scored[0][0] - value,
        )
    return scored[0][1]


def _from_tee(course: Course, ground: Ground, tee: TeeChoice) -> Course:
    """The course with its holes as long as from the tees played; the lines of play stay as they were drawn."""
    ahead = {}
    for hole, spot in zip(ground.holes, tee.spots, strict=True):
        along, _ = stations(hole, spot[:1], spot[1:])
        ahead[hole.number] = float(along[0])
    holes = tuple(
        replace(hole, length_m=hole.length_m - ahead.get(hole.number, 0.0)) for hole in course.holes
    )
    return replace(course, holes=holes)


def _personal_pars(course: Course, bag: Bag) -> pd.DataFrame:
    return personal_pars(course.holes, target_score=bag.target_score, playing_handicap=bag.playing_handicap)


def _check_fit(course: Course, plan: pd.DataFrame | None, card: pd.DataFrame | None) -> None:
    known = {hole.number for hole in course.holes}
    for table, error, name in ((plan, PlanError, "plan"), (card, CardError, "card")):
        strange = sorted(set(table["hole"].tolist()) - known) if table is not None else []
        if strange:
            listed = ", ".join(str(number) for number in strange)
            raise error(
                f"the {name} names holes the course does not have: {listed}",
                None,
                f"Give the {name} of this course",
            )


def _points_on_course(track: Track, course: Course, ground: Ground) -> pd.DataFrame:
    points = track.points
    lines = [line for hole in course.holes if (line := hole.line) is not None]
    near = keep_near(points, lines)
    if len(near) >= 2:
        return near
    if len(near) == 1:
        raise InputError(
            "only one point of the track lies near the course", None, "Give the track of a whole round"
        )
    apart, _ = distance_bearing(
        points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy(), ground.frame.lon_deg, ground.frame.lat_deg
    )
    nearest = float(np.nanmin(apart))
    what = (
        f"the track is {nearest / 1000:.0f} km from the course"
        if nearest > _ELSEWHERE_M
        else "no point of the track lies near the course"
    )
    raise InputError(what, None, "Give the course the round was played on")


def _smooth(
    points: pd.DataFrame, ground: Ground
) -> tuple[Walk, NDArray[np.float64], tuple[NDArray[np.float64], NDArray[np.float64]]]:
    time_s = points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    raw = ground.frame.to_metres(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    smooth = smooth_positions(time_s, *raw, hdop=points["hdop"].to_numpy())
    part = split_parts(time_s, smooth.east_m, smooth.north_m)
    return Walk(time_s, smooth.east_m, smooth.north_m, smooth.sigma_m, part), time_s, raw


def _marks_in_metres(
    marks: pd.DataFrame, ground: Ground
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    if marks.empty:
        return np.empty(0), np.empty(0), np.empty(0)
    known = marks["time"].notna().to_numpy()
    time_s = marks["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    east, north = ground.frame.to_metres(marks["lon_deg"].to_numpy(), marks["lat_deg"].to_numpy())
    return np.where(known, time_s, np.nan), np.asarray(east), np.asarray(north)


def _shooters(bag: Bag, ground: Ground, plan: pd.DataFrame | None, settings: RoundSettings) -> list[Shooter]:
    """The player's clubs a hole; a plan makes its clubs likelier there, and leaves their distances alone."""
    names = [club.name for club in bag.clubs]
    shooter = Shooter(
        np.array([club.distance_m for club in bag.clubs]),
        np.array([club.spread_long_m for club in bag.clubs]),
        settings,
    )
    shooters = []
    for hole in ground.holes:
        planned = np.zeros(len(names))
        if plan is not None:
            for club in plan.loc[plan["hole"] == hole.number, "club"]:
                if club in names:
                    planned[names.index(club)] += 1.0
        shooters.append(shooter.expecting(planned, settings.plan_share))
    return shooters


def _counts(
    course: Course,
    pars: pd.DataFrame,
    card: pd.DataFrame | None,
    corrections: Corrections | None = None,
    pins: Pins | None = None,
) -> list[HoleCount]:
    regulation = dict(zip(pars["hole"], pars["regulation_shots"], strict=True))
    told = tell_holes(card, corrections)
    counts = []
    for index, hole in enumerate(course.holes):
        said = told.get(hole.number, Told())
        penalties = said.penalties if pins is None else pins.penalties_on(index, said.penalties)
        counts.append(
            HoleCount(
                int(regulation[hole.number]), said.strokes, said.putts, penalties, carded=said.picked_up
            )
        )
    return counts


def _walk_table(walk: Walk, visits: list[Visit], ground: Ground) -> pd.DataFrame:
    lon_deg, lat_deg = ground.frame.to_degrees(walk.east_m, walk.north_m)
    hole = pd.array([pd.NA] * walk.time_s.size, dtype="Int64")
    for visit in visits:
        hole[(walk.time_s >= visit.start_s - 60.0) & (walk.time_s <= visit.end_s)] = visit.hole
    return pd.DataFrame(
        {
            "time": pd.to_datetime(walk.time_s, unit="s", utc=True),
            "lon_deg": lon_deg,
            "lat_deg": lat_deg,
            "sigma_m": walk.sigma_m,
            "part": walk.part,
            "hole": hole,
        }
    )


def _stand_table(
    stands: pd.DataFrame, shot_p: NDArray[np.float64], looks: NDArray[np.float64], ground: Ground
) -> pd.DataFrame:
    lon_deg, lat_deg = ground.frame.to_degrees(stands["east_m"].to_numpy(), stands["north_m"].to_numpy())
    return stands.assign(
        lon_deg=lon_deg,
        lat_deg=lat_deg,
        shot_probability=np.minimum(shot_p.sum(axis=1), 1.0),
        **{f"look_{kind}": looks[:, column] for column, kind in enumerate(KINDS)},
    )
