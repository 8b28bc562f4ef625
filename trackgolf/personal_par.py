"""Personal par: the par of each hole for a target score, and the shots that leaves to reach the green."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from trackgolf.course import Hole
from trackgolf.errors import BagError, CourseError

__all__ = ["personal_pars", "round_half_up", "strokes_by_rank"]

_FULL_ROUND = 18
# The range of playing handicaps that the Rules of Handicapping know (54 the highest), and plus players beyond
# any that there is.
_LOWEST_STROKES, _HIGHEST_STROKES = -10, 54
# Common practice, no source: two putts a green.
_PUTTS = 2


def personal_pars(
    course_holes: Sequence[Hole], *, target_score: int | None = None, playing_handicap: float | None = None
) -> pd.DataFrame:
    """
    Work out personal par and the shots to the green, hole by hole.

    The strokes over par are given to the holes by stroke index, as handicap
    strokes are [1]_.

    Parameters
    ----------
    course_holes : sequence of Hole
        The holes of the card, usually 18 or 9.
    target_score : int, optional
        Strokes the player wants to take on these holes. The strokes given are
        the target less the par of the holes.
    playing_handicap : float, optional
        Strokes received over 18 holes, negative for a plus player; rounded to
        a whole number, .5 upwards. On a card of nine holes half of it counts.

    Returns
    -------
    pandas.DataFrame
        A row a hole: ``hole``, ``par``, ``stroke_index`` (missing where the
        card has none), ``strokes_received``, ``personal_par`` (par + strokes
        received), ``regulation_shots`` (personal par less two putts, at
        least 1: the shots in which to be on the green).

    Raises
    ------
    BagError
        If neither or both of target and handicap are given, or the target is
        out of reason: on 18 holes more than 10 below or 54 above par.
    CourseError
        If there are no holes, or stroke indexes are needed and missing or
        there twice.

    Notes
    -----
    A card that is not 18 holes is ranked by the order of its own indexes, so
    1, 3, 5 ... 17 and 1 to 9 give the same.

    References
    ----------
    .. [1] The R&A and USGA, Rules of Handicapping, Appendix E.

    Examples
    --------
    >>> holes = [Hole(n, 4, n, 350.0) for n in range(1, 19)]
    >>> table = personal_pars(holes, target_score=101)
    >>> table["personal_par"].tolist()[9:12]
    [6, 6, 5]
    """
    if not course_holes:
        raise CourseError("there are no holes to give strokes on")
    if target_score is None and playing_handicap is None:
        raise BagError(
            "neither a target score nor a playing handicap is known",
            None,
            "Give target_score or playing_handicap under [player] in the bag file",
        )
    if target_score is not None and playing_handicap is not None:
        raise BagError("both a target score and a playing handicap", None, "Give one of them")

    count = len(course_holes)
    par = sum(hole.par for hole in course_holes)
    if target_score is not None:
        strokes = _strokes_of_target(target_score, par, count)
    else:
        strokes = _strokes_of_handicap(float(playing_handicap or 0.0), count)

    ranks = _ranks(course_holes, needed=strokes % count != 0)
    received = strokes_by_rank(strokes, ranks, count)
    table = pd.DataFrame(
        {
            "hole": [hole.number for hole in course_holes],
            "par": [hole.par for hole in course_holes],
            "stroke_index": pd.array([hole.stroke_index for hole in course_holes], dtype="Int64"),
            "strokes_received": received,
        }
    )
    table["personal_par"] = table["par"] + table["strokes_received"]
    table["regulation_shots"] = (table["personal_par"] - _PUTTS).clip(lower=1)
    return table


def strokes_by_rank(strokes: int, ranks: Sequence[int], count: int) -> list[int]:
    """
    Give strokes to holes by their rank.

    Parameters
    ----------
    strokes : int
        Strokes over all holes; negative ones are given back.
    ranks : sequence of int
        Rank of each hole, 1 for the one that receives first.
    count : int
        Number of holes in a round of strokes, the highest rank.

    Returns
    -------
    list of int
        Strokes received on each hole.

    Notes
    -----
    Every hole gets ``strokes // count``, and one more where its rank is at
    most ``strokes % count``. Floor division makes the same rule hold for plus
    players: -2 over 18 holes is -1 everywhere and one back on ranks 1 to 16,
    that is, one stroke given back on ranks 18 and 17.

    Examples
    --------
    >>> strokes_by_rank(24, [6, 7], 18)
    [2, 1]
    >>> strokes_by_rank(-2, [16, 17, 18], 18)
    [0, -1, -1]
    """
    everywhere, more = divmod(strokes, count)
    return [everywhere + (rank <= more) for rank in ranks]


def round_half_up(number: float) -> int:
    """
    Round to a whole number, .5 upwards, as the Rules of Handicapping do.

    Parameters
    ----------
    number : float
        Any finite number.

    Returns
    -------
    int
        The whole number.

    Examples
    --------
    >>> round_half_up(-2.5), round_half_up(2.5), round_half_up(6.9)
    (-2, 3, 7)
    """
    return math.floor(number + 0.5)


def _strokes_of_target(target_score: int, par: int, count: int) -> int:
    """Turn a target into strokes over par, or refuse it."""
    strokes = target_score - par
    lowest, highest = (
        round_half_up(limit * count / _FULL_ROUND) for limit in (_LOWEST_STROKES, _HIGHEST_STROKES)
    )
    if strokes < lowest:
        raise BagError(
            f"the target score {target_score} is {-strokes} below par {par} on {count} holes",
            None,
            f"A target is at most {-lowest} below; is it for fewer holes?",
        )
    if strokes > highest:
        eighteen = "" if count == _FULL_ROUND else "; is it for 18 holes? Then give a playing handicap"
        raise BagError(
            f"the target score {target_score} is {strokes} above par {par} on {count} holes",
            None,
            f"A target is at most {highest} above{eighteen}",
        )
    return strokes


def _strokes_of_handicap(playing_handicap: float, count: int) -> int:
    """Turn a playing handicap into strokes on these holes, or refuse it."""
    whole = round_half_up(playing_handicap) if math.isfinite(playing_handicap) else None
    if whole is None or not _LOWEST_STROKES <= whole <= _HIGHEST_STROKES:
        raise BagError(
            f"the playing handicap {playing_handicap:g} is not between {_LOWEST_STROKES} and {_HIGHEST_STROKES}",
            None,
            "It is the strokes received over 18 holes, negative for a plus player",
        )
    return whole if count == _FULL_ROUND else round_half_up(playing_handicap * count / _FULL_ROUND)


def _ranks(course_holes: Sequence[Hole], *, needed: bool) -> list[int]:
    """Rank the holes by stroke index; where it does not matter, any order will do."""
    if not needed:
        return list(range(1, len(course_holes) + 1))
    missing = [hole.number for hole in course_holes if hole.stroke_index is None]
    if missing:
        raise CourseError(
            f"no stroke index on hole {_listed(missing)}",
            None,
            "Give it in the course (tag handicap) or in a scorecard (column stroke_index)",
        )
    indexes = [hole.stroke_index or 0 for hole in course_holes]
    twice = sorted({index for index in indexes if indexes.count(index) > 1})
    if twice:
        holes = [hole.number for hole in course_holes if hole.stroke_index in twice]
        raise CourseError(
            f"stroke index {_listed(twice)} is there more than once, on holes {_listed(holes)}",
            None,
            "Every hole has its own, from 1 for the hardest",
        )
    order = sorted(indexes)
    return [order.index(index) + 1 for index in indexes]


def _listed(numbers: Sequence[int]) -> str:
    """Write numbers with commas."""
    return ", ".join(str(number) for number in numbers)
