"""Par, stroke index and length of each hole, from tags, scorecard and the line, with what is odd about them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from shapely.geometry import LineString, Point

from geo.frame import LocalFrame
from geo.geodesic import line_length_m
from geo.units import to_yards
from trackgolf.course_repair import Findings, HoleDraft
from trackgolf.course_tags import find_tag, pars, stroke_indexes, tag_length_m

__all__ = [
    "HoleFacts",
    "add_card_lines",
    "card_places",
    "hole_facts",
    "par_for_length",
    "par_is_usual",
    "to_degrees",
]

# Source: Rules of Handicapping (R&A, USGA), Appendix F: lengths for each par, men then women, as printed
# in yards and in metres (the two roundings differ by up to 4 m; either will do).
_PAR_LENGTHS = {
    3: ((0, 260, 0, 240), (0, 220, 0, 200)),
    4: ((240, 490, 220, 450), (200, 420, 180, 380)),
    5: ((450, 710, 410, 650), (370, 600, 340, 550)),
    6: ((670, np.inf, 610, np.inf), (570, np.inf, 520, np.inf)),
}
# Where the lengths of two pars overlap (men), the par changes in the middle: 220 to 240, 410 to 450 and
# 610 to 650 m.
_PAR_LIMITS_M = ((230.0, 3), (430.0, 4), (630.0, 5))
# Beyond this, a length on a card and one on the map are not of the same hole or tee; common practice,
# no source.
_LENGTH_SHARE = 0.10
_GREEN_OFF_M = 60.0
# Ten thousandths of a millimetre undo what turning into metres and back leaves in the last digits.
_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class HoleFacts:
    """
    What is settled about a hole.

    Parameters
    ----------
    number, par : int
        Number and par.
    stroke_index : int or None
        Stroke index; None unknown.
    length_m : float
        Length [m].
    line : shapely.LineString or None
        Its line [deg]; None without positions.
    draft : HoleDraft or None
        The hole it comes from; None without positions.
    """

    number: int
    par: int
    stroke_index: int | None
    length_m: float
    line: LineString | None
    draft: HoleDraft | None


def par_for_length(length_m: float) -> int:
    """
    Tell the par that goes with a length.

    Parameters
    ----------
    length_m : float
        Length of a hole [m].

    Returns
    -------
    int
        Par by the lengths recommended for men [1]_; where two pars overlap,
        the lower one up to the middle of the overlap.

    References
    ----------
    .. [1] R&A and USGA, Rules of Handicapping, Appendix F.

    Examples
    --------
    >>> [par_for_length(length_m) for length_m in (150.0, 340.0, 480.0, 640.0)]
    [3, 4, 5, 6]
    """
    return next((par for limit_m, par in _PAR_LIMITS_M if length_m <= limit_m), 6)


def par_is_usual(par: int, length_m: float) -> bool:
    """
    Tell whether a par fits a length, for men or for women.

    Parameters
    ----------
    par : int
        Par, 3 to 6.
    length_m : float
        Length of the hole [m].

    Returns
    -------
    bool
        Whether the length is within what is recommended [1]_.

    References
    ----------
    .. [1] R&A and USGA, Rules of Handicapping, Appendix F.
    """
    length_yd = to_yards(length_m)
    return any(
        low_yd <= length_yd <= high_yd or low_m <= length_m <= high_m
        for low_yd, high_yd, low_m, high_m in _PAR_LENGTHS[par]
    )


def card_places(card: pd.DataFrame | None) -> npt.NDArray[np.float64] | None:
    """
    Collect the positions on a scorecard.

    Parameters
    ----------
    card : pandas.DataFrame or None
        As `trackgolf.scorecard.read_scorecard` returns it.

    Returns
    -------
    numpy.ndarray, shape (n, 2), or None
        Longitude and latitude [deg] of tees and greens of holes that have
        both; None if there are none.
    """
    if card is None:
        return None
    known = card.dropna(subset=["tee_lon", "green_lon"])
    tees, greens = known[["tee_lon", "tee_lat"]].to_numpy(), known[["green_lon", "green_lat"]].to_numpy()
    places: npt.NDArray[np.float64] = np.concatenate([tees, greens]).astype(np.float64)
    return places if len(places) else None


def add_card_lines(
    drafts: Sequence[HoleDraft], card: pd.DataFrame | None, frame: LocalFrame, findings: Findings
) -> list[HoleDraft]:
    """
    Draw straight lines for the holes of which only a scorecard knows where they are.

    Parameters
    ----------
    drafts : sequence of HoleDraft
        Holes that have a line already; they learn where the card puts their green.
    card : pandas.DataFrame or None
        The scorecard.
    frame : geo.frame.LocalFrame
        Frame of the lines.
    findings : Findings
        Takes holes that card and map put at different places.

    Returns
    -------
    list of HoleDraft
        All holes with a line, by number.
    """
    lines = {draft.number: draft for draft in drafts}
    for row in [] if card is None else card.dropna(subset=["green_lon"]).to_dict("records"):
        number = int(row["hole"])
        green = Point(*frame.to_metres(row["green_lon"], row["green_lat"]))
        draft = lines.get(number)
        if draft is not None:
            draft.green_hint = green
            off_m = min(green.distance(Point(draft.line.coords[end])) for end in (0, -1))
            if not off_m <= _GREEN_OFF_M:
                findings.notes.append(
                    (number, f"the scorecard puts its green {off_m:.0f} m from the end of its line")
                )
        elif not np.isnan(row["tee_lon"]):
            tee = Point(*frame.to_metres(row["tee_lon"], row["tee_lat"]))
            if tee.distance(green) < 1.0:
                findings.faults.append(f"hole {number}: tee and green are at one place on the scorecard")
                continue
            line = LineString([tee, green])
            lines[number] = HoleDraft(number, line, from_card=True, green_hint=green)
    return [lines[number] for number in sorted(lines)]


def hole_facts(
    drafts: Sequence[HoleDraft],
    card: pd.DataFrame | None,
    frame: LocalFrame | None,
    tee: str | None,
    findings: Findings,
) -> list[HoleFacts]:
    """
    Settle par, stroke index and length of every hole.

    Parameters
    ----------
    drafts : sequence of HoleDraft
        The holes that have a line.
    card : pandas.DataFrame or None
        The scorecard, whose par and stroke index win over tags.
    frame : geo.frame.LocalFrame or None
        Frame of the lines.
    tee : str or None
        The tee chosen, for values that a hole has for single tees.
    findings : Findings
        Takes what was assumed, what is odd, and what cannot be used.

    Returns
    -------
    list of HoleFacts
        By number; holes with a fault are left out.
    """
    by_number = {draft.number: draft for draft in drafts}
    rows = {} if card is None else {int(row["hole"]): row for row in card.to_dict("records")}
    numbers = sorted(by_number.keys() | rows.keys())
    indexes = _stroke_indexes(numbers, by_number, rows, tee, findings)
    facts = []
    for number in numbers:
        draft, row = by_number.get(number), rows.get(number)
        card_m = None if row is None or pd.isna(row["length_m"]) else float(row["length_m"])
        line = None
        if draft is not None and frame is not None:
            line = to_degrees(draft.line, frame)
            length_m = line_length_m(*np.array(line.coords).T)
            told_m = card_m if card_m is not None else _tag_length_m(draft, tee)
            source = "scorecard" if card_m is not None else "tag dist"
            if told_m is not None and abs(told_m - length_m) > _LENGTH_SHARE * length_m:
                findings.notes.append(
                    (number, f"the {source} says {told_m:.0f} m, its line measures {length_m:.0f} m")
                )
        elif card_m is not None:
            length_m = card_m
        else:
            findings.faults.append(f"hole {number}: neither a line nor a length")
            continue
        card_par = None if row is None or pd.isna(row["par"]) else int(row["par"])
        par = _par(number, draft, card_par, length_m, tee=tee, findings=findings)
        facts.append(HoleFacts(number, par, indexes.get(number), length_m, line, draft))
    if drafts and any(number not in by_number for number in numbers):
        lost = [number for number in numbers if number not in by_number]
        findings.notes += [(number, "only on the scorecard, without a position") for number in lost]
    count = 9 if numbers and numbers[-1] <= 9 else 18
    missing = sorted(set(range(1, count + 1)) - set(numbers))
    if missing and numbers and numbers[-1] <= 18:
        listed = ", ".join(str(number) for number in missing)
        findings.warnings.append(f"no hole {listed}: only {len(numbers)} holes are known")
    return facts


def to_degrees(geometry: Any, frame: LocalFrame) -> Any:
    """
    Turn a line or point into degrees, free of the dust of the way there and back.

    Parameters
    ----------
    geometry : shapely.Geometry
        The line or point [m].
    frame : geo.frame.LocalFrame
        Its frame.

    Returns
    -------
    shapely.Geometry
        The same [deg], rounded to a tenth of a millimetre.
    """
    return shapely.transform(frame.geometry_to_degrees(geometry), lambda xy: np.round(xy, _DECIMALS) + 0.0)


def _par(
    number: int,
    draft: HoleDraft | None,
    card_par: int | None,
    length_m: float,
    *,
    tee: str | None,
    findings: Findings,
) -> int:
    written = None if draft is None else find_tag(draft.tags, "par", tee)
    tagged = pars(written)
    par = None
    if len(tagged) > 1 and draft is not None:
        numbers = getattr(draft.drawn, "numbers", ())
        if len(numbers) == len(tagged):
            par = tagged[draft.turn]
        else:
            par = next((each for each in tagged if par_is_usual(each, length_m)), tagged[0])
            if card_par is None:
                findings.notes.append((number, f"par={written!r} has several values: {par} is used"))
    elif tagged:
        par = tagged[0]
    elif written is not None and card_par is None:
        findings.notes.append((number, f"par={written!r} is no par from 3 to 6"))
    if card_par is not None:
        if par is not None and par != card_par:
            findings.notes.append(
                (number, f"par {card_par} on the scorecard, {par} on the map: the scorecard counts")
            )
        par = card_par
    if par is None:
        par = par_for_length(length_m)
        findings.notes.append(
            (number, f"par is missing: taken as {par} by its length (Rules of Handicapping, Appendix F)")
        )
    elif not par_is_usual(par, length_m):
        findings.notes.append(
            (number, f"{length_m:.0f} m is unusual for a par {par} (Rules of Handicapping, Appendix F)")
        )
    return par


def _tag_length_m(draft: HoleDraft, tee: str | None) -> float | None:
    key = "dist" if tee is None else f"dist:{tee.lower()}"
    return tag_length_m(draft.tags.get(key))


def _stroke_indexes(
    numbers: Sequence[int],
    by_number: Mapping[int, HoleDraft],
    rows: Mapping[int, Mapping[Hashable, Any]],
    tee: str | None,
    findings: Findings,
) -> dict[int, int]:
    found: dict[int, int] = {}
    holders: dict[int, list[int]] = defaultdict(list)
    on_card = {
        number: int(row["stroke_index"]) for number, row in rows.items() if not pd.isna(row["stroke_index"])
    }
    for number in numbers:
        draft = by_number.get(number)
        if number in on_card:
            index = on_card[number]
        elif draft is not None:
            written = find_tag(draft.tags, "handicap", tee)
            tagged = stroke_indexes(written)
            if written is not None and not tagged:
                findings.notes.append((number, f"handicap={written!r} is no stroke index"))
            if draft.turn >= len(tagged):
                continue
            index = tagged[draft.turn]
            if index in on_card.values():
                # A card of nine holes beside a map of eighteen.
                findings.notes.append(
                    (number, f"its stroke index {index} is another hole's on the scorecard: left out")
                )
                continue
        else:
            continue
        if not 1 <= index <= 18:
            findings.faults.append(f"hole {number}: stroke index {index} is not from 1 to 18")
            continue
        found[number] = index
        holders[index].append(number)
    for index, holes in sorted(holders.items()):
        if len(holes) > 1:
            listed = " and ".join(str(number) for number in holes)
            findings.faults.append(f"stroke index {index} is given to holes {listed}")
    without = [number for number in numbers if number not in found]
    free = sorted(set(range(1, 19)) - set(found.values()))
    if not found:
        findings.warnings.append(
            "no hole has a stroke index, so handicap strokes cannot be allotted: give a scorecard with them"
        )
    elif len(numbers) == 18 and len(without) == 1 and len(free) == 1:
        found[without[0]] = free[0]
        findings.notes.append((without[0], f"stroke index is missing: {free[0]} is the only one left"))
    else:
        findings.notes += [(number, "stroke index is missing") for number in without]
    if len(numbers) == 9 and not without and set(found.values()) not in _NINE_HOLE_SETS:
        findings.warnings.append(
            "the stroke indexes of nine holes are usually 1 to 9, all odd or all even ones"
        )
    return found


# Source: Rules of Handicapping (R&A, USGA), Appendix E: over eighteen holes odd indexes go to one nine,
# even ones to the other; a course of nine has 1 to 9.
_NINE_HOLE_SETS = (set(range(1, 10)), set(range(1, 19, 2)), set(range(2, 19, 2)))
