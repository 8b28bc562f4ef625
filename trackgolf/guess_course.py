"""A course guessed from a round's track alone: holes, greens and tees where people walked and stood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from geo.clean import remove_jumps
from geo.frame import LocalFrame
from geo.smooth import smooth_positions
from geo.stops import find_stops
from geo.track import Track
from trackgolf.bag import Bag
from trackgolf.course import Course, Hole
from trackgolf.course_facts import par_for_length
from trackgolf.errors import InputError
from trackgolf.guess_hints import bag_shooter, extra_shots_of, hints_of
from trackgolf.guess_holes import count_priors, weigh_guesses
from trackgolf.guess_search import best_row
from trackgolf.guess_settings import GuessSettings
from trackgolf.settings import RoundSettings

__all__ = [
    "GUESSED",
    "GUESSED_NAME",
    "GuessedHole",
    "course_of_holes",
    "guess_course",
    "guess_holes",
]

Floats = NDArray[np.float64]

# What a course that nobody named is called in a report.
GUESSED_NAME = "Holes guessed from the track"
GUESSED = "the holes are guessed from the track: check each, its place, number and par"
_SETTINGS, _GUESS = RoundSettings(), GuessSettings()
_FULL_ROUND = 18


@dataclass(frozen=True, slots=True)
class GuessedHole:
    """
    One hole guessed from a track.

    Attributes are its `number`, `tee_deg` and `green_deg` (longitude, latitude of the tee and of the green's centre),
    `length_m`, `par`, `stroke_index` (None unknown), `confidence` (the probability that a hole lies there, its tee within
    25 m and the middle of its green within 15 m), and `told`: what of all this a card said rather than the track.
    """

    number: int
    tee_deg: tuple[float, float]
    green_deg: tuple[float, float]
    length_m: float
    par: int
    stroke_index: int | None
    confidence: float = 1.0
    told: frozenset[str] = frozenset()


def guess_course(
    track: Track,
    bag: Bag,
    *,
    scorecard: pd.DataFrame | None = None,
    card: pd.DataFrame | None = None,
    settings: RoundSettings = _SETTINGS,
    guess: GuessSettings = _GUESS,
) -> Course:
    """
    Guess the course from the track of a round.

    Parameters
    ----------
    track : Track
        The recorded points.
    bag : Bag
        The player's clubs and target.
    scorecard : pandas.DataFrame, optional
        The course's card without positions, as `trackgolf.scorecard.read_scorecard` gives it: numbers, pars, stroke
        indexes and lengths of its holes help.
    card : pandas.DataFrame, optional
        What was written on the card, as `trackgolf.card.read_card` gives it; strokes help.
    settings : RoundSettings, optional
        What is believed of golfers.
    guess : GuessSettings, optional
        What is believed of holes.

    Returns
    -------
    Course
        Straight lines, round greens and tees; `Course.warnings` says that and how they are guessed.

    Raises
    ------
    InputError
        If there is no hole to be found in the track.
    """
    holes = guess_holes(track, bag, scorecard=scorecard, card=card, settings=settings, guess=guess)
    return course_of_holes(holes, guess=guess)


def guess_holes(
    track: Track,
    bag: Bag,
    *,
    scorecard: pd.DataFrame | None = None,
    card: pd.DataFrame | None = None,
    settings: RoundSettings = _SETTINGS,
    guess: GuessSettings = _GUESS,
) -> list[GuessedHole]:
    """
    Guess the holes from the track of a round.

    Parameters
    ----------
    track : Track
        The recorded points.
    bag : Bag
        The player's clubs and target.
    scorecard, card : pandas.DataFrame, optional
        As in `guess_course`.
    settings : RoundSettings, optional
        What is believed of golfers.
    guess : GuessSettings, optional
        What is believed of holes.

    Returns
    -------
    list of GuessedHole
        By number.

    Raises
    ------
    InputError
        If there is no hole to be found in the track.
    """
    points = remove_jumps(track.points).points
    points = points[points["lon_deg"].notna() & points["lat_deg"].notna()].reset_index(drop=True)
    if len(points) < 2:
        raise _nothing("the track is too short for a hole")
    frame = LocalFrame.around(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    time_s = points["time"].to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    east, north = frame.to_metres(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    smooth = smooth_positions(time_s, east, north, hdop=points["hdop"].to_numpy())
    stands = find_stops(time_s, east, north, settings.stops)
    if len(stands) < 2:
        raise _nothing("the track has too few stands for a hole")
    extra = extra_shots_of(bag)
    hints = hints_of(scorecard, card)
    walk = (time_s, smooth.east_m, smooth.north_m)
    guesses = weigh_guesses(stands, walk, bag_shooter(bag, settings), extra, settings, guess)
    spots = stands[["east_m", "north_m"]].to_numpy()
    row = best_row(guesses, spots, count_priors(extra, guess, settings), guess, hints)
    if not row:
        raise _nothing("no hole can be made out in the track")
    tees = spots[[chosen.tee for chosen in row]]
    greens = np.array([(guesses.east_m[chosen.green], guesses.north_m[chosen.green]) for chosen in row])
    numbers = [chosen.number for chosen in row]
    numbers = _same_again(numbers, tees, greens, guess)
    known = {hint.number: hint for hint in hints}
    indexes = _card_indexes(scorecard)
    holes = []
    for number in sorted(set(numbers)):
        mine = [place for place, other in enumerate(numbers) if other == number]
        tee, green = np.mean(tees[mine], axis=0), np.mean(greens[mine], axis=0)
        length = float(np.hypot(*(green - tee)))
        lon, lat = frame.to_degrees(np.array([tee[0], green[0]]), np.array([tee[1], green[1]]))
        hint = known.get(number)
        par = None if hint is None else hint.par
        told = {"par"} if par is not None else set()
        told |= {"stroke_index"} if number in indexes else set()
        holes.append(
            GuessedHole(
                number,
                (float(lon[0]), float(lat[0])),
                (float(lon[1]), float(lat[1])),
                length,
                par_for_length(length) if par is None else par,
                indexes.get(number),
                max(row[place].confidence for place in mine),
                frozenset(told),
            )
        )
    return _with_indexes(holes)


def course_of_holes(holes: Sequence[GuessedHole], *, name: str = "", guess: GuessSettings = _GUESS) -> Course:
    """
    Draw a course of guessed holes.

    Parameters
    ----------
    holes : sequence of GuessedHole
        The holes.
    name : str, optional
        Name of the course.
    guess : GuessSettings, optional
        How large greens and tees are drawn.

    Returns
    -------
    Course
        Straight lines, round greens and tees.
    """
    drawn, shapes = [], []
    for hole in holes:
        frame = LocalFrame(*hole.green_deg)
        east, north = frame.to_metres(np.array([hole.tee_deg[0]]), np.array([hole.tee_deg[1]]))
        green = frame.geometry_to_degrees(Point(0.0, 0.0).buffer(guess.green_radius_m, quad_segs=6))
        tee = frame.geometry_to_degrees(
            Point(float(east[0]), float(north[0])).buffer(guess.tee_radius_m, quad_segs=2)
        )
        line = LineString([hole.tee_deg, hole.green_deg])
        drawn.append(Hole(hole.number, hole.par, hole.stroke_index, hole.length_m, line, green))
        shapes += [("tee", hole.number, tee), ("green", hole.number, green)]
    return Course(
        name=name,
        holes=tuple(drawn),
        shapes=gpd.GeoDataFrame(
            {
                "kind": [kind for kind, _, _ in shapes],
                "hole": pd.array([number for _, number, _ in shapes], dtype="Int64"),
                "name": [""] * len(shapes),
            },
            geometry=[geometry for _, _, geometry in shapes],
            crs="EPSG:4326",
        ),
        warnings=tuple(_warnings(holes, guess)),
    )


def _card_indexes(scorecard: pd.DataFrame | None) -> dict[int, int]:
    if scorecard is None:
        return {}
    known = scorecard.dropna(subset=["stroke_index"])
    return dict(zip(known["hole"].astype(int), known["stroke_index"].astype(int), strict=True))


def _same_again(numbers: list[int], tees: Floats, greens: Floats, guess: GuessSettings) -> list[int]:
    """Number holes that were played twice alike: nine holes twice, say."""
    size = len(numbers)
    for period in range(max(size // 2, 1), size):
        pairs = size - period
        if pairs < 3:
            break
        same = np.hypot(*(tees[period:] - tees[:-period]).T) < guess.same_tee_m
        same &= np.hypot(*(greens[period:] - greens[:-period]).T) < guess.same_green_m
        if np.mean(same) >= guess.same_share:
            return [numbers[place % period] for place in range(size)]
    return numbers


def _with_indexes(holes: list[GuessedHole]) -> list[GuessedHole]:
    """
    Give stroke indexes to holes without: the longer for its par first, odd ones on the first nine of 18.

    Rules of Handicapping (R&A, USGA), Appendix E, has odd indexes on one nine and even ones on the other; the order by
    length is common practice, no source.
    """
    if all(hole.stroke_index is not None for hole in holes):
        return holes
    given: dict[int, int] = {}
    ordered = sorted(holes, key=lambda hole: (hole.par == 3, -hole.length_m))
    if len(holes) == _FULL_ROUND:
        for odd in (True, False):
            nine = [hole for hole in ordered if (hole.number <= _FULL_ROUND // 2) == odd]
            given |= {hole.number: 2 * place + (1 if odd else 2) for place, hole in enumerate(nine)}
    else:
        given = {hole.number: place + 1 for place, hole in enumerate(ordered)}
    return [
        replace(hole, stroke_index=given[hole.number], told=hole.told - {"stroke_index"}) for hole in holes
    ]


def _warnings(holes: Sequence[GuessedHole], guess: GuessSettings) -> list[str]:
    texts = [GUESSED]
    doubtful = [str(hole.number) for hole in sorted(holes, key=lambda hole: hole.confidence)]
    doubtful = doubtful[: sum(hole.confidence < guess.doubtful for hole in holes)]
    if doubtful:
        texts.append(f"least sure, so check first: hole {', '.join(doubtful)}")
    if not all("par" in hole.told for hole in holes):
        texts.append("pars are guessed from the lengths, which are straight from tee to green")
    if not all("stroke_index" in hole.told for hole in holes):
        texts.append("stroke indexes are guessed: long holes first")
    return texts


def _nothing(what: str) -> InputError:
    return InputError(what, None, "Give the track of a round, or the course it was played on with --course")
