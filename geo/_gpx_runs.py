"""Runs of plain track points, cut out of a GPX file by one pattern before the XML parser sees the rest."""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["RUN", "PointRun", "cut_runs"]

# The element that stands in the rest of the file where a run was; a file that has one itself is not cut.
RUN = "run-of-points"

_NAME = r"[A-Za-z_][\w.-]*(?::[A-Za-z_][\w.-]*)?"
_GAP = r"[ \t\r\n]*"
_NUMBER = r"[-+.\d]{1,30}"
_TEXT = r"[ -%'-;=?-~]*"
# Children that say nothing to us, by name: what else a point may hold is for the parser.
_PASSED = "magvar|geoidheight|cmt|desc|src|sym|type|sat|vdop|pdop|ageofdgpsdata|dgpsid|course|speed"
# A point without anything that may be written in two ways: no entity, no comment, nothing outside ASCII. In extensions
# are values as watches write them, at most one level down. Possessive, so that a point that is none costs no second try.
_POINT = re.compile(
    rf'<trkpt lat="(?P<lat>{_NUMBER})" lon="(?P<lon>{_NUMBER})">{_GAP}'
    rf"(?:<ele>(?P<ele>{_NUMBER})</ele>{_GAP})?+"
    rf"(?:<time>(?P<time>[-+.:TZ\d]{{1,40}})</time>{_GAP})?+"
    rf"(?:<(?P<passed>{_PASSED})>{_TEXT}</(?P=passed)>{_GAP})*+"
    rf"(?:<hdop>(?P<hdop>{_NUMBER})</hdop>{_GAP})?+"
    rf"(?:<(?P<also>{_PASSED})>{_TEXT}</(?P=also)>{_GAP})*+"
    rf"(?:<extensions>{_GAP}(?:<(?P<part>{_NAME})>"
    rf"(?:{_GAP}(?:<(?P<value>{_NAME})>{_TEXT}</(?P=value)>{_GAP})++|{_TEXT})</(?P=part)>{_GAP})*+</extensions>{_GAP})?+"
    rf"</trkpt>{_GAP}",
    re.ASCII,
)
_GROUPS = _POINT.groups + 1
_FIRST = re.compile(rb"<(?:[\w.-]+:)?trkpt\b")


@dataclass(frozen=True, slots=True)
class PointRun:
    """
    The texts of points that follow each other with nothing between.

    Parameters
    ----------
    lats, lons : list of str
        What each point says.
    eles, times, hdops : list of str or None
        None where it says nothing.
    """

    lats: list[str]
    lons: list[str]
    eles: list[str | None]
    times: list[str | None]
    hdops: list[str | None]


def cut_runs(data: bytes) -> tuple[bytes, list[PointRun]] | None:
    """
    Cut the runs of plain points out of a file.

    Parameters
    ----------
    data : bytes
        UTF-8 text.

    Returns
    -------
    rest : bytes
        The file with an empty element `RUN` in place of each run.
    runs : list of PointRun
        What was cut out, in order. Or None for both where nothing can be
        cut out.

    Notes
    -----
    Whether a run stood where points may stand is for the parser to say: where the file is sound it meets one
    element a run. A pattern cannot tell a comment or an extension, so where it meets fewer, or anything broken,
    the whole file has to be read without this.
    """
    first = _FIRST.search(data)
    # A file writes all its points alike: where the first is not plain, none is looked for.
    if first is None or f"<{RUN}".encode() in data:
        return None
    # One byte a character, whatever the file holds; what is matched is ASCII, and the rest goes back as it was.
    text = data.decode("latin-1")
    if _POINT.match(text, first.start()) is None:
        return None
    pieces = _POINT.split(text)
    after = pieces[_GROUPS::_GROUPS]
    fields = [pieces[_POINT.groupindex[name] :: _GROUPS] for name in ("lat", "lon", "ele", "time", "hdop")]
    rest = [pieces[0]]
    del pieces, text
    runs = []
    begin = 0
    # Whatever stands after a point ends its run.
    ends = [row for row, between in enumerate(after, start=1) if between or row == len(after)]
    for end in ends:
        runs.append(PointRun(*(field[begin:end] for field in fields)))
        rest += [f"<{RUN}/>", after[end - 1]]
        begin = end
    return "".join(rest).encode("latin-1"), runs
