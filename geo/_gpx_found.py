"""What one pass over a GPX file finds: the texts of every point, unchecked, and where the XML is broken."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Damage", "RawMark", "ScannedGpx"]


@dataclass(frozen=True, slots=True)
class Damage:
    """
    One place where the XML is broken.

    Parameters
    ----------
    line : int or None
        Line of the file, from 1; None where it was not counted.
    what : str
        The parser's words.
    at_end : bool
        True where the data just end: the file is cut short.
    """

    line: int | None
    what: str
    at_end: bool


@dataclass(frozen=True, slots=True)
class RawMark:
    """The texts of one waypoint, None where it has none."""

    lat: str | None
    lon: str | None
    time: str | None
    name: str | None


@dataclass(slots=True)
class ScannedGpx:
    """
    The texts of a GPX file, one list a field with an entry a track point.

    Parameters
    ----------
    lats, lons, times, eles : list of str or None
        What the file says, None where it says nothing.
    hdops, fixes : dict
        Row to text, only where the file says something.
    segment_starts : list of int
        Row at which each ``trkseg`` begins.
    incomplete : int
        Track points that were begun and not finished.
    unclosed : int
        Points and waypoints without an end tag, followed by another.
    lost_marks : int
        Waypoints that were begun and not finished.
    marks : list of RawMark
        The waypoints.
    route_points : int
        How many ``rtept`` there are.
    texts : dict
        ``(parent, name)`` to the text of the first such element, such as
        ``("metadata", "desc")``.
    attributes : dict
        Attributes of the root element.
    damages : list of Damage
        Where the XML is broken, in order.
    """

    lats: list[str | None] = field(default_factory=list)
    lons: list[str | None] = field(default_factory=list)
    times: list[str | None] = field(default_factory=list)
    eles: list[str | None] = field(default_factory=list)
    hdops: dict[int, str] = field(default_factory=dict)
    fixes: dict[int, str] = field(default_factory=dict)
    segment_starts: list[int] = field(default_factory=list)
    incomplete: int = 0
    unclosed: int = 0
    lost_marks: int = 0
    marks: list[RawMark] = field(default_factory=list)
    route_points: int = 0
    texts: dict[tuple[str, str], str] = field(default_factory=dict)
    attributes: dict[str, str] = field(default_factory=dict)
    damages: list[Damage] = field(default_factory=list)
