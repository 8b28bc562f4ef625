"""Hole lines put in order: which number each has, pieces joined, doubles dropped, turned ones turned."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from trackgolf.course_read import Drawing, DrawnHole, DrawnShape, join_pieces

__all__ = ["Findings", "HoleDraft", "number_holes", "turn_lines"]

# Distances that decide how drawn things belong together [m]; common practice, no source.
SAME_GREEN_M = 25.0
SAME_END_M = 40.0
AT_GREEN_M = 15.0
AT_TEE_M = 40.0


@dataclass(slots=True)
class HoleDraft:
    """
    A hole on its way to become one.

    Parameters
    ----------
    number : int
        Its number.
    line : shapely.LineString
        Its line [m].
    tags : dict
        Tags of its line.
    drawn : object
        What it was drawn as; a line that is played twice makes two holes with the same.
    turn : int
        Which of the numbers of a line that is played twice this is, from 0.
    from_card : bool
        Whether the line was made from positions on a scorecard.
    green_hint : shapely.Point or None
        Where a scorecard puts the green [m].
    green : shapely.Geometry or None
        Its green [m].
    pin : shapely.Point or None
        Its pin [m].
    """

    number: int
    line: LineString
    tags: dict[str, str] = field(default_factory=dict)
    drawn: object = None
    turn: int = 0
    from_card: bool = False
    green_hint: Point | None = None
    green: Any = None
    pin: Point | None = None


@dataclass(slots=True)
class Findings:
    """
    What was mended, and what cannot be.

    Parameters
    ----------
    notes : list of tuple
        Hole number and what was mended, assumed or doubted about it.
    warnings : list of str
        The same about the course as a whole.
    faults : list of str
        What makes the course unusable.
    """

    notes: list[tuple[int, str]] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def lines(self) -> tuple[str, ...]:
        """
        Put notes and warnings into lines, one for all holes with the same note.

        Returns
        -------
        tuple of str
            The warnings, then the notes by their first hole, such as
            ``holes 3, 4: no green is drawn``.
        """
        holes: dict[str, list[int]] = defaultdict(list)
        for number, text in self.notes:
            if number not in holes[text]:
                holes[text].append(number)
        grouped = sorted((sorted(numbers), text) for text, numbers in holes.items())
        return (
            *dict.fromkeys(self.warnings),
            *(
                f"hole{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}: {text}"
                for numbers, text in grouped
            ),
        )


def number_holes(drawing: Drawing, card_numbers: Collection[int], findings: Findings) -> list[HoleDraft]:
    """
    Give every hole line its number, and every number one line.

    Parameters
    ----------
    drawing : Drawing
        The course file.
    card_numbers : collection of int
        Holes for which a scorecard has positions that can stand in.
    findings : Findings
        Takes what was mended and what cannot be.

    Returns
    -------
    list of HoleDraft
        The holes that have a line, by number.
    """
    lines = _numbered(drawing, findings)
    lines = _of_one_course(lines, drawing, findings)
    groups: dict[int, list[DrawnHole]] = defaultdict(list)
    for hole in lines:
        for number in hole.numbers:
            groups[number].append(hole)
    drafts = []
    greens = [shape.geometry for shape in drawing.shapes if shape.kind == "green"]
    for number, group in sorted(groups.items()):
        chosen = _one_line(number, group, greens, drawing, findings)
        if chosen is None:
            continue
        if len(chosen.numbers) > 1:
            others = ", ".join(str(other) for other in chosen.numbers if other != number)
            findings.notes.append((number, f"its line is also that of hole {others}"))
        drafts.append(HoleDraft(number, chosen.line, chosen.tags, chosen, chosen.numbers.index(number)))
    for numbers, why in drawing.unusable:
        _judge_unusable(numbers, why, [*groups, *card_numbers], findings)
    return drafts


def turn_lines(drafts: Sequence[HoleDraft], shapes: Sequence[DrawnShape], findings: Findings) -> None:
    """
    Turn the lines that are drawn from green to tee.

    Parameters
    ----------
    drafts : sequence of HoleDraft
        The holes; lines that are turned are replaced, lines from a scorecard
        left alone.
    shapes : sequence of DrawnShape
        The shapes, of which greens and tees tell the ends apart.
    findings : Findings
        Takes what was turned.
    """
    greens = [shape.geometry for shape in shapes if shape.kind == "green"]
    tees = [shape.geometry for shape in shapes if shape.kind == "tee"]
    starts = [Point(draft.line.coords[0]) for draft in drafts]
    ends = [Point(draft.line.coords[-1]) for draft in drafts]
    start_green, end_green = _distances(starts, greens), _distances(ends, greens)
    start_tee, end_tee = _distances(starts, tees), _distances(ends, tees)
    to_turn = []
    for index, draft in enumerate(drafts):
        others = [other for other, held in enumerate(drafts) if held.drawn is not draft.drawn]
        green, tee = int(np.argmin(start_green[index])), int(np.argmin(end_tee[index]))
        green_m, tee_m = start_green[index, green], end_tee[index, tee]
        # Another hole that ends in this green, or starts at this tee, is what brought it so near.
        taken_green = (end_green[others, green] <= min(green_m, AT_GREEN_M)).any()
        taken_tee = (start_tee[others, tee] <= min(tee_m, AT_TEE_M)).any()
        other_green_m, other_tee_m = end_green[index].min(), start_tee[index].min()
        if green_m <= AT_GREEN_M and not taken_green:
            if min(tee_m, other_tee_m) <= AT_TEE_M:
                turned = tee_m + 5.0 < other_tee_m and green_m <= other_green_m
            else:
                turned = green_m + AT_GREEN_M < other_green_m or green_m == 0.0 < other_green_m
        else:
            no_green = min(green_m, other_green_m) > AT_TEE_M
            turned = no_green and tee_m <= AT_GREEN_M and not taken_tee and other_tee_m > AT_TEE_M
        if turned and not draft.from_card:
            to_turn.append(draft)
    for draft in to_turn:
        draft.line = shapely.reverse(draft.line)
        findings.notes.append((draft.number, "its line is drawn from green to tee: turned"))


def _numbered(drawing: Drawing, findings: Findings) -> list[DrawnHole]:
    """Number the lines without a number where only one number can be meant."""
    with_number = [hole for hole in drawing.holes if hole.numbers]
    without = [hole for hole in drawing.holes if not hole.numbers]
    known = {number for hole in with_number for number in hole.numbers}
    count = 9 if len(drawing.holes) <= 9 and max(known, default=0) <= 9 else 18
    missing = sorted(set(range(1, count + 1)) - known)
    if without and not with_number:
        findings.faults.append(
            f"none of the {len(without)} hole lines has a number: tag each with ref=1, 2, ..."
        )
    elif len(without) == 1 and len(missing) == 1:
        findings.notes.append((missing[0], "its line has no number; it is the only one missing"))
        with_number.append(DrawnHole(without[0].line, without[0].tags, (missing[0],)))
    elif without and not missing:
        findings.warnings.append(f"{len(without)} hole lines without a number are left out")
    else:
        findings.faults += [
            f"a hole line has no number (tag ref), {drawing.place(hole.line)}" for hole in without
        ]
    return with_number


def _of_one_course(lines: list[DrawnHole], drawing: Drawing, findings: Findings) -> list[DrawnHole]:
    """Leave out the holes of a neighbouring course where numbers come twice for its sake."""
    numbers = [number for hole in lines for number in hole.numbers]
    outlines = [shape for shape in drawing.shapes if shape.kind == "course"]
    if len(set(numbers)) == len(numbers) or len(outlines) < 2:
        return lines
    inside = shapely.length(
        shapely.intersection(
            np.array([hole.line for hole in lines])[:, None],
            np.array([outline.geometry for outline in outlines])[None, :],
        )
    )
    owner = np.where(inside.max(axis=1) > 0.0, inside.argmax(axis=1), -1)
    size = [
        len({number for hole, of in zip(lines, owner, strict=True) if of == index for number in hole.numbers})
        for index in range(len(outlines))
    ]
    best = int(np.argmax(size))
    if size.count(size[best]) > 1:
        return lines
    kept = [hole for hole, of in zip(lines, owner, strict=True) if of in (best, -1)]
    if len(kept) < len(lines):
        name = outlines[best].name or "the one with most holes"
        findings.warnings.append(
            f"there are holes of several courses: those of {name!r} are used, "
            f"{len(lines) - len(kept)} others left out"
        )
    return kept


def _one_line(
    number: int, group: list[DrawnHole], greens: list[Any], drawing: Drawing, findings: Findings
) -> DrawnHole | None:
    """Choose or join the lines with one number."""
    if len(group) == 1:
        return group[0]
    first = group[0]
    joined = join_pieces([hole.line for hole in group])
    # Pieces add up; two drawings of one hole that happen to meet would run there and back.
    if joined is not None and _reach_m(joined) > 1.05 * max(_reach_m(hole.line) for hole in group):
        findings.notes.append((number, f"its line is drawn in {len(group)} pieces: joined"))
        tags = {key: value for hole in reversed(group) for key, value in hole.tags.items()}
        return DrawnHole(joined, tags, first.numbers)
    if all(_same_hole(first.line, hole.line) for hole in group[1:]):
        findings.notes.append((number, f"it is drawn {len(group)} times: the longest line is used"))
        at_green = [
            hole
            for hole in group
            if any(green.distance(Point(hole.line.coords[-1])) <= AT_GREEN_M for green in greens)
        ]
        return max(at_green or group, key=lambda hole: hole.line.length)
    places = " and ".join(drawing.place(hole.line) for hole in group[:3])
    findings.faults.append(
        f"hole {number} is drawn {len(group)} times, {places}: keep one, or number them apart"
    )
    return None


def _same_hole(one: LineString, other: LineString) -> bool:
    """Tell whether two lines lead to one green, or are one line drawn both ways."""
    start, end = Point(one.coords[0]), Point(one.coords[-1])
    other_start, other_end = Point(other.coords[0]), Point(other.coords[-1])
    together = end.distance(other_end) <= SAME_GREEN_M and start.distance(other_start) < 0.7 * one.length
    reverse = start.distance(other_end) <= SAME_END_M and end.distance(other_start) <= SAME_END_M
    return bool(together or reverse)


def _reach_m(line: LineString) -> float:
    return float(Point(line.coords[0]).distance(Point(line.coords[-1])))


def _judge_unusable(numbers: tuple[int, ...], why: str, known: Collection[int], findings: Findings) -> None:
    if not numbers:
        findings.warnings.append(f"a hole line without a number is left out: {why}")
    for number in numbers:
        if number in known:
            findings.notes.append((number, f"a second drawing of it is left out: {why}"))
        else:
            findings.faults.append(f"hole {number}: {why}")


def _distances(points: list[Point], shapes: list[Any]) -> Any:
    """Distance of every point to every shape [m]; one column of inf where there are no shapes."""
    if not shapes or not points:
        return np.full((len(points), 1), np.inf)
    return shapely.distance(np.array(points)[:, None], np.array(shapes)[None, :])
