"""Corrections in a few words, for the page."""

from __future__ import annotations

from trackgolf.corrections import Correction
from trackgolf.library.rebuild import local_time

__all__ = ["entry_words"]

_SAID = {
    "confirm": "a shot for certain",
    "remove": "no shot",
    "add": "a shot added",
    "move": "played from {lat_deg:.6f}, {lon_deg:.6f}",
    "hole": "belongs to hole {to_hole}",
    "club": "club {club}",
    "lie": "played from {lie}",
    "end_lie": "came to rest: {end_lie}",
    "penalty": "penalty strokes from it {penalty}",
    "putts": "putts {putts}",
    "penalties": "penalty strokes {penalties}",
    "strokes": "strokes {strokes}",
    "picked_up": "picked up",
    "settled": "all its shots named",
    "not_played": "not played",
    "tee": "played from tee {tee}",
}


def entry_words(entry: Correction, time_zone: str) -> str:
    """
    Say what a correction sets right.

    Parameters
    ----------
    entry : Correction
        A correction.
    time_zone : str
        Zone of the course, IANA name.

    Returns
    -------
    str
        Hole, time of a clock at the course, and what is so.

    Examples
    --------
    >>> entry_words(Correction("c1", "putts", hole=7, putts=2), "UTC")
    'hole 7: putts 2'
    """
    if entry.what == "picked_up" and entry.picked_up is False:
        said = "finished"
    else:
        values = {name: getattr(entry, name) for name in entry.__slots__}
        for name in ("lie", "end_lie"):
            values[name] = (values[name] or "").replace("_", " ")
        said = _SAID[entry.what].format(**values)
    place = "" if entry.hole is None else f"hole {entry.hole}"
    if entry.of_shot and entry.time is not None:
        place += f", {local_time(entry.time, time_zone):%H:%M:%S}"
    return f"{place}: {said}" if place else said
