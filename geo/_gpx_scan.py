"""One expat pass over a GPX file: the texts of every point, and how each damaged one was lost."""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Sequence
from xml.parsers import expat

from geo._gpx_found import Damage, RawMark, ScannedGpx
from geo._gpx_runs import RUN, PointRun, cut_runs
from geo.errors import InputError

__all__ = ["scan_gpx"]

# GPX itself nests seven deep; extensions a few more. Deeper is an attack on memory, not a track.
_MAX_DEPTH = 60
# Each damaged place costs a new parser, some 20 microseconds; a track of a day without any end tag has 86,400.
_MAX_DAMAGES = 100_000
_PIECE = 8_192
_POINT_OR_MARK = re.compile(rb"<((?:[\w.-]+:)?)(trkpt|wpt)(?=[\s/>])")
_POINT = re.compile(rb"<(?:[\w.-]+:)?trkpt(?=[\s/>]|\Z)")
_AT_END_OF_DATA = {
    expat.errors.codes[expat.errors.XML_ERROR_NO_ELEMENTS],
    expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_TOKEN],
    expat.errors.codes[expat.errors.XML_ERROR_PARTIAL_CHAR],
    expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION],
}
_POINT_FIELDS = ("ele", "time", "fix", "hdop", "name")
_Start = Callable[[str, list[str]], None]
_End = Callable[[str], None]


def scan_gpx(data: bytes, where: str) -> ScannedGpx:
    """
    Collect the texts of all points of a GPX file, going on after each place where the XML is broken.

    Parameters
    ----------
    data : bytes
        UTF-8 text.
    where : str
        Name of the file, for messages.

    Returns
    -------
    ScannedGpx
        Texts as they stand in the file, unchecked. Every ``trkpt`` of the
        file is a row of its lists or counted in ``incomplete``.

    Raises
    ------
    InputError
        If the file is not XML, not GPX, has a document type, or nests too
        deep.

    Notes
    -----
    Only local names count, so a prefix or a missing namespace changes nothing; children of a point count
    when they have the prefix of the point, and nothing inside ``extensions`` does. After a broken place the
    pass goes on at the next ``trkpt`` or ``wpt`` as if a new segment began there.

    Most files hold little but plain points, which a pattern finds several times faster than a parser calls back.
    These are cut out first, and the parser sees the rest; whatever is odd about that rest, the file is read again
    as a whole.
    """
    cut = cut_runs(data)
    if cut is not None:
        found = _scan_around(*cut, where)
        if found is not None:
            return found
        del cut
    return _scan_whole(data, where)


def _scan_around(rest: bytes, runs: list[PointRun], where: str) -> ScannedGpx | None:
    """Parse a file whose runs of points were cut out; None if it is not sound, or a run was no run of points."""
    scanner = _Scanner(where, runs)
    try:
        fault = scanner.parse(rest, 0, b"")
    except InputError:
        return None
    return scanner.found if fault is None and scanner.runs_seen == len(runs) else None


def _scan_whole(data: bytes, where: str) -> ScannedGpx:
    """Parse a file as it is, going on after each broken place."""
    scanner = _Scanner(where)
    found = scanner.found
    position = 0
    opening = b""
    while True:
        fault = scanner.parse(data, position, opening)
        if fault is None:
            return found
        stopped_at, code, what = fault
        if not scanner.root_seen and _POINT.search(data) is None:
            raise _not_a_track_file(data, stopped_at, what, where)
        lost_at = _unreported_point(data, position, stopped_at, code)
        if lost_at is not None:
            found.incomplete += 1
        if code is not None:
            at_end = code in _AT_END_OF_DATA
            # Counting lines takes as long as a pass, so only where a message will say the line.
            line = data.count(b"\n", 0, stopped_at) + 1 if at_end or not found.damages else None
            found.damages.append(Damage(line, what, at_end))
        else:
            found.unclosed += 1
        if len(found.damages) + found.unclosed > _MAX_DAMAGES:
            raise InputError(f"broken in more than {_MAX_DAMAGES} places", where, "Export the track again")
        after = stopped_at if lost_at is None else max(stopped_at, lost_at + 1)
        # Never twice at the same tag, whatever the parser says about where it stopped.
        following = _POINT_OR_MARK.search(data, max(after, position + 1) if opening else after)
        if following is None:
            return found
        position = following.start()
        prefix = following[1]
        parents = (b"gpx", b"trk", b"trkseg") if following[2] == b"trkpt" else (b"gpx",)
        opening = b"".join(b"<" + prefix + parent + b">" for parent in parents)


def _unreported_point(data: bytes, begin: int, stopped_at: int, code: int | None) -> int | None:
    """Find the track point whose own tag is what the parser could not read, if that is so."""
    if code is None:
        return None
    if code in _AT_END_OF_DATA and _POINT.match(data, stopped_at):
        return stopped_at
    # The parser reports a tag once it has read all of it, so the tag it choked on has no end before that place.
    last_end = data.rfind(b">", begin, stopped_at)
    tags = deque(_POINT.finditer(data, max(last_end, begin), stopped_at), maxlen=1)
    return tags[0].start() if tags else None


def _not_a_track_file(data: bytes, stopped_at: int, what: str, where: str) -> InputError:
    """Say what a file is that is broken before its root element was read."""
    if re.match(rb"(<!--.*?-->|<\?.*?\?>|\s)*<(!doctype\s+)?html\b", data[:2000], re.IGNORECASE | re.DOTALL):
        return _web_page(where)
    # By now the bytes were read as text and written as UTF-8, so only the letters of a picture's head are left.
    if b"PNG\r\n" in data[:12] or b"JFIF" in data[:24] or b"Exif" in data[:24] or data.startswith(b"GIF8"):
        return InputError("this is a picture, not a track", where, "Give a GPX file")
    if not data.startswith(b"<"):
        text = data[:20].decode("utf-8", "replace")
        return InputError(f"this is not XML, it begins with {text!r}", where, "Give a GPX file")
    line = data.count(b"\n", 0, stopped_at) + 1
    text = f"this is not XML, or cut short before its first track point ({what}, line {line})"
    return InputError(text, where, "Export the track again")


def _web_page(where: str) -> InputError:
    do = "Download the track itself, not the page that shows it"
    return InputError("this is a web page (HTML), not a GPX file", where, do)


class _NextPointError(Exception):
    """A point begins inside another: the end tag of the first is missing."""

    def __init__(self, index: int) -> None:
        super().__init__()
        self.index = index


class _Scanner:
    """The handlers. One set is active outside points, one inside, one in what is skipped: that keeps each short."""

    def __init__(self, where: str, runs: Sequence[PointRun] = ()) -> None:
        self.where = where
        self.found = ScannedGpx()
        self.root_seen = False
        self.runs_seen = 0
        self._runs = runs
        self._point_name = ""
        self._fields: dict[str, dict[str, str]] = {}
        self._text: list[str] = []
        self._reset()

    def _reset(self) -> None:
        self._path: list[str] = []
        self._wanted: tuple[str, str] | None = None
        self._inside = ""
        self._attributes: list[str] = []
        self._values: dict[str, str] = {}
        self._open = ""
        self._skipped = 0
        self._text.clear()

    def parse(self, data: bytes, position: int, opening: bytes) -> tuple[int, int | None, str] | None:
        """Parse from a position on; None when all went well, else where and why it stopped."""
        self._reset()
        # The encoding given here wins over the declaration: the data have been decoded before.
        self._parser = parser = expat.ParserCreate("utf-8")
        parser.buffer_text = True
        parser.ordered_attributes = True
        parser.StartDoctypeDeclHandler = self._refuse_doctype
        self._listen(self._start_outside, self._end_outside)
        shift = position - len(opening)
        try:
            parser.Parse(opening, False)
            # In pieces, since the parser goes on to the end of a piece even when a handler has called a halt; in ever
            # larger ones, since it reads a tag that is longer than a piece again from its beginning.
            view = memoryview(data)
            size = _PIECE
            while position < len(data):
                parser.Parse(view[position : position + size], False)
                position += size
                size *= 2
            parser.Parse(b"", True)
        except expat.ExpatError as error:
            at_end = error.code in _AT_END_OF_DATA
            self._give_up_point(at_end)
            stopped_at = min(max(parser.ErrorByteIndex, len(opening)) + shift, len(data))
            return stopped_at, error.code, expat.ErrorString(error.code)
        except _NextPointError as halt:
            return halt.index + shift, None, ""
        finally:
            # The parser holds this object by its handlers, and would keep all texts until somebody collects cycles.
            parser.StartElementHandler = parser.EndElementHandler = parser.CharacterDataHandler = None
            parser.StartDoctypeDeclHandler = None
        return None

    def _listen(self, start: _Start, end: _End) -> None:
        self._parser.StartElementHandler = start
        self._parser.EndElementHandler = end

    def _refuse_doctype(self, name: str, system: str | None, public: str | None, subset: bool) -> None:
        del system, public, subset
        if name.lower() == "html":
            raise _web_page(self.where)
        text = f"has a document type ({name!r}), which GPX files never do and which can hide an attack"
        raise InputError(text, self.where, "Remove the DOCTYPE lines or export the track again")

    def _give_up_point(self, at_end: bool) -> None:
        """Account for a point that is open where the XML breaks."""
        if not self._inside:
            return
        if not at_end and not self._open and "time" in self._values:
            # All that matters of it was read; only the end tag, or what stands before it, is broken.
            self._finish_point()
        elif self._inside == "trkpt":
            self.found.incomplete += 1
        else:
            self.found.lost_marks += 1

    # Outside points.

    def _start_outside(self, name: str, attributes: list[str]) -> None:
        if name != self._point_name:
            local = name.rpartition(":")[2]
            if local not in {"trkpt", "wpt"}:
                self._start_other(local, attributes)
                return
            self._inside = local
            if local == "trkpt":
                self._point_name = name
            if name not in self._fields:
                prefix = name[: -len(local)]
                self._fields[name] = {prefix + child: child for child in _POINT_FIELDS}
        else:
            self._inside = "trkpt"
        if not self._path:
            self._check_root(name)
        if self._wanted:
            self._take_text()
            self._wanted = None
        self._name = name
        self._children = self._fields[name]
        self._attributes = attributes
        parser = self._parser
        parser.StartElementHandler = self._start_inside
        parser.EndElementHandler = self._end_inside

    def _start_other(self, local: str, attributes: list[str]) -> None:
        if not self._path:
            self._check_root(local)
            if not self.root_seen:
                self.root_seen = True
                self.found.attributes = dict(zip(attributes[::2], attributes[1::2], strict=True))
        elif local == "extensions" or self._wanted:
            self._skip()
            return
        elif local == RUN and self._runs:
            self._take_run(self._runs[self.runs_seen])
        elif local == "trkseg":
            self.found.segment_starts.append(len(self.found.lats))
        elif local == "rtept":
            self.found.route_points += 1
        elif local in {"name", "desc"} and (self._path[-1], local) not in self.found.texts:
            self._wanted = (self._path[-1], local)
            self._parser.CharacterDataHandler = self._text.append
        self._path.append(local)
        if len(self._path) > _MAX_DEPTH:
            raise self._too_deep()

    def _take_run(self, run: PointRun) -> None:
        self.runs_seen += 1
        first = len(self.found.lats)
        self.found.hdops |= {first + row: text for row, text in enumerate(run.hdops) if text is not None}
        self.found.lats += run.lats
        self.found.lons += run.lons
        self.found.times += run.times
        self.found.eles += run.eles

    def _check_root(self, local: str) -> None:
        if local == "gpx":
            return
        if local.lower() == "html":
            raise _web_page(self.where)
        kind = (
            "a KML file"
            if local.lower() == "kml"
            else f"XML of another kind (its root element is {local[:40]!r})"
        )
        raise InputError(f"this is {kind}, not a GPX file", self.where, "Export the track as GPX")

    def _end_outside(self, _name: str) -> None:
        self._path.pop()
        if self._wanted:
            self.found.texts[self._wanted] = self._take_text()
            self._wanted = None

    def _take_text(self) -> str:
        text = "".join(self._text)
        self._text.clear()
        self._parser.CharacterDataHandler = None
        return text

    # Inside a point.

    def _start_inside(self, name: str, _attributes: list[str]) -> None:
        if name in self._children and not self._open:
            self._open = name
            self._parser.CharacterDataHandler = self._text.append
        elif name == self._name or name.rpartition(":")[2] in {"trkpt", "wpt"}:
            self._open = ""
            self._finish_point()
            raise _NextPointError(self._parser.CurrentByteIndex)
        else:
            self._skip()

    def _end_inside(self, name: str) -> None:
        if name == self._open:
            text = self._text
            self._values[self._children[name]] = text[0] if len(text) == 1 else "".join(text)
            text.clear()
            self._open = ""
            self._parser.CharacterDataHandler = None
        else:
            self._finish_point()
            parser = self._parser
            parser.StartElementHandler = self._start_outside
            parser.EndElementHandler = self._end_outside

    def _finish_point(self) -> None:
        attributes = self._attributes
        if len(attributes) == 4 and attributes[0] == "lat" and attributes[2] == "lon":
            lat: str | None = attributes[1]
            lon: str | None = attributes[3]
        else:
            named = dict(zip(attributes[::2], attributes[1::2], strict=True))
            lat, lon = named.get("lat"), named.get("lon")
        values = self._values
        found = self.found
        if self._inside == "trkpt":
            found.lats.append(lat)
            found.lons.append(lon)
            found.times.append(values.get("time"))
            found.eles.append(values.get("ele"))
            if "hdop" in values:
                found.hdops[len(found.lats) - 1] = values["hdop"]
            if "fix" in values:
                found.fixes[len(found.lats) - 1] = values["fix"]
        else:
            found.marks.append(RawMark(lat, lon, values.get("time"), values.get("name")))
        values.clear()
        self._inside = ""

    # In what is skipped.

    def _skip(self) -> None:
        self._skipped = 1
        self._parser.CharacterDataHandler = None
        self._listen(self._start_skipped, self._end_skipped)

    def _start_skipped(self, _name: str, _attributes: list[str]) -> None:
        self._skipped += 1
        if self._skipped > _MAX_DEPTH:
            raise self._too_deep()

    def _end_skipped(self, _name: str) -> None:
        self._skipped -= 1
        if self._skipped:
            return
        if self._open or self._wanted:
            self._parser.CharacterDataHandler = self._text.append
        if self._inside:
            self._listen(self._start_inside, self._end_inside)
        else:
            self._listen(self._start_outside, self._end_outside)

    def _too_deep(self) -> InputError:
        return InputError(
            f"elements nested more than {_MAX_DEPTH} deep", self.where, "Export the track again"
        )
