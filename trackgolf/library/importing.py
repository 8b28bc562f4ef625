"""The import: many tracks to rounds of the library, going on past bad ones, one transaction a round."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

import pandas as pd

from trackgolf.bag import read_bag
from trackgolf.corrections import read_corrections, write_corrections
from trackgolf.course import read_course
from trackgolf.errors import InputError
from trackgolf.library import find, keys, store
from trackgolf.library.find import KnownCourse
from trackgolf.library.gather import TrackSource, read_document
from trackgolf.library.keeping import course_lines, lines_bytes
from trackgolf.library.materials import CourseFiles, Materials, read_bag_bytes, read_course_files
from trackgolf.library.opening import writing
from trackgolf.library.read import read_round
from trackgolf.library.runners import Runner, one_by_one
from trackgolf.library.tasks import Look, LookTask, RebuildTask, Rebuilt, look_at_track, rebuild_task

__all__ = ["ImportOptions", "Outcome", "import_tracks"]

# A recording that begins this soon after another ended is the rest of its round: a device switched off and on [s].
# A second round of the day begins later, after a meal. Common practice, no source.
_REST_S = 1_800.0


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """
    What was named for an import; what was not is found.

    Attributes
    ----------
    course : CourseFiles or None
        The course; else the one of the library that lies at the track.
    tee : str or None
        The tee.
    player : str or None
        The player; else whom the bag names, or the only one there is.
    bag : bytes or None
        The bag; else the one the player named last.
    plan : bytes or None
        The plan; else the one the player named last for the course.
    card : bytes or None
        The card of the one round there is.
    corrections : str or None
        What was set right in the one round there is.
    find_plan : bool
        Whether to look for a plan at all.
    whole : bool
        Whether to keep what was recorded away from the course too.
    together : {"ask", "join", "apart"}
        Whether recordings of the same player and time are one round.
    """

    course: CourseFiles | None = None
    tee: str | None = None
    player: str | None = None
    bag: bytes | None = None
    plan: bytes | None = None
    card: bytes | None = None
    corrections: str | None = None
    find_plan: bool = True
    whole: bool = False
    together: Literal["ask", "join", "apart"] = "ask"


@dataclass(frozen=True, slots=True)
class Outcome:
    """
    What became of the tracks of one round.

    Attributes
    ----------
    names : tuple of str
        The tracks.
    kind : {"new", "joined", "known", "offered", "fault"}
        A new round; put to a round that was there; a round that is there
        already; left out until somebody says whether it is that round; or
        not usable.
    round : int or None
        Number of the round.
    text : str
        What there is to say.
    notes : tuple of str
        What was doubted about it.
    """

    names: tuple[str, ...]
    kind: Literal["new", "joined", "known", "offered", "fault"]
    round: int | None
    text: str
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Track:
    """A track that can be used: where it comes from, whose it is, what it is."""

    source: TrackSource
    player: str
    bag: bytes
    look: Look


@dataclass(slots=True)
class _Group:
    """Tracks of one round, and the round of the library they are put to."""

    tracks: list[_Track]
    until: pd.Timestamp
    kept_round: int | None = None


def import_tracks(
    connection: sqlite3.Connection,
    sources: Sequence[TrackSource],
    options: ImportOptions,
    *,
    run: Runner = one_by_one,
    ask: Callable[[str], bool] | None = None,
    looked: Callable[[int], None] = lambda count: None,
) -> Iterator[Outcome]:
    """
    Rebuild rounds from tracks and keep them.

    Parameters
    ----------
    connection : sqlite3.Connection
        The library.
    sources : sequence of TrackSource
        The tracks.
    options : ImportOptions
        What was named.
    run : Runner, optional
        What the tasks run on.
    ask : callable, optional
        Answers a question; without it, recordings of one time are left out
        until somebody says what they are.
    looked : callable, optional
        Told after each track how many have been looked at; rounds are
        rebuilt only when all have.

    Yields
    ------
    Outcome
        As they become known: first tracks that cannot be used or are there
        already, then rounds in the order of the tracks. The results do not
        depend on what the tasks run on.

    Raises
    ------
    InputError
        If what was named cannot be used.
    """
    planner = _Planner(connection, options, ask)
    tracks: list[_Track] = []
    for count, (source, found) in enumerate(planner.look(sources, run), start=1):
        looked(count)
        if isinstance(found, str):
            yield Outcome((source.name,), "fault", None, found)
        else:
            tracks.append(found)
    groups = []
    for group in planner.groups(tracks):
        if isinstance(group, Outcome):
            yield group
        else:
            groups.append(group)
    for given, name in ((options.card, "card"), (options.corrections, "file of corrections")):
        if given is not None and len(groups) > 1:
            what = f"one {name} was given for {len(groups)} rounds"
            do = f"Import the rounds one by one, or put each {name} beside its track"
            raise InputError(what, f"--{name.split()[-1]}", do)
    materials = [planner.materials(group, groups) for group in groups]
    tasks = (planner.task(*pair) for pair in zip(groups, materials, strict=True))
    for group, done in zip(groups, run(rebuild_task, tasks), strict=True):
        yield _keep(connection, group, done, planner.candidates)


class _Planner:
    """Works out before anything is rebuilt what belongs to which round."""

    def __init__(
        self, connection: sqlite3.Connection, options: ImportOptions, ask: Callable[[str], bool] | None
    ) -> None:
        self.connection = connection
        self.options = options
        self.ask = ask
        self.candidates: list[KnownCourse] = []
        self.known: list[int] = []
        if options.course is None:
            for course in find.known_courses(connection):
                self.known.append(self._candidate(course))
        else:
            self.named = self._course(options.course, "--course")
        if options.bag is None and options.player is not None:
            find.player_name(connection, options.player)

    def look(self, sources: Sequence[TrackSource], run: Runner) -> Iterator[tuple[TrackSource, _Track | str]]:
        """Look at every track; tracks whose bag, course or file cannot be read are faults."""
        usable: list[tuple[TrackSource, str, bytes]] = []
        faults: list[tuple[TrackSource, InputError]] = []

        def tasks() -> Iterator[LookTask]:
            for source in sources:
                try:
                    content = source.load()
                    player, bag = self._player(source)
                    courses = tuple(
                        (
                            number,
                            self.candidates[number].files.name,
                            lines_bytes(self.candidates[number].lines),
                        )
                        for number in self._courses(source)
                    )
                except InputError as error:
                    if error.where is None:
                        error = type(error)(error.what, source.name, error.do)
                    faults.append((source, error))
                    continue
                usable.append((source, player, bag))
                yield LookTask(source.name, content, courses)

        for number, look in enumerate(run(look_at_track, tasks())):
            source, player, bag = usable[number]
            yield source, look.fault or _Track(source, player, bag, look)
        for source, error in faults:
            yield source, str(error)

    def groups(self, tracks: Sequence[_Track]) -> Iterator[_Group | Outcome]:
        """Put tracks of one round together; leave out those that are in the library or wait for an answer."""
        seen: dict[tuple[str, str], str] = {}
        fresh: list[_Track] = []
        for track in tracks:
            mark = (keys.player_key(track.player), track.look.digest)
            there = find.round_of_recording(self.connection, track.player, track.look.digest)
            if there is not None:
                text = f"the same track is round {there} already"
                yield Outcome((track.source.name,), "known", there, text)
            elif mark in seen:
                text = f"the same track as {seen[mark]}"
                yield Outcome((track.source.name,), "known", None, text)
            else:
                seen[mark] = track.source.name
                fresh.append(track)
        groups: list[_Group] = []
        latest: dict[tuple[str, int], list[_Group]] = {}
        for track in sorted(fresh, key=lambda one: (one.look.first_time, one.source.name)):
            same = latest.setdefault((keys.player_key(track.player), track.look.course), [])
            same[:] = [group for group in same if _pause_s(track, group) <= _REST_S]
            home = self._same_round(track, same)
            if isinstance(home, Outcome):
                yield home
            elif home is None:
                groups.append(_Group([track], track.look.last_time))
                same.append(groups[-1])
            else:
                home.tracks.append(track)
                home.until = max(home.until, track.look.last_time)
        yield from self._against_library(groups, {track.source.name: at for at, track in enumerate(fresh)})

    def materials(self, group: _Group, groups: Sequence[_Group]) -> tuple[Materials, bool]:
        """Say what a group is rebuilt from, and whether its plan was only found."""
        if group.kept_round is not None:
            _, materials, _ = read_round(self.connection, group.kept_round)
            return materials, False
        first = group.tracks[0]
        course = self.candidates[first.look.course]
        plan, found = self.options.plan, False
        beside = first.source.beside
        alone = sum(other.tracks[0].source.beside == beside for other in groups) == 1
        if plan is None and self.options.find_plan:
            if beside.plan is not None:
                plan = read_document(beside.plan, "plan")
            elif course.course:
                plan = find.current_plan_bytes(self.connection, first.player, course.course)
                found = plan is not None
        card = self.options.card
        if card is None and beside.card is not None and alone:
            card = read_document(beside.card, "card")
        corrections = self.options.corrections
        if corrections is None and beside.corrections is not None and alone:
            corrections = write_corrections(read_corrections(beside.corrections))
        return Materials(course.files, self.options.tee, first.bag, plan, card, corrections), found

    def task(self, group: _Group, materials: tuple[Materials, bool]) -> RebuildTask:
        """Say what is to be done for a group."""
        kept = () if group.kept_round is None else find.packed_recordings(self.connection, group.kept_round)
        return RebuildTask(
            contents=tuple((track.source.base_name, track.source.load()) for track in group.tracks),
            kept=tuple(kept),
            lines=lines_bytes(self.candidates[group.tracks[0].look.course].lines),
            materials=materials[0],
            plan_was_found=materials[1],
            whole=self.options.whole,
        )

    def _same_round(self, track: _Track, groups: Sequence[_Group]) -> _Group | Outcome | None:
        """Find the group a track belongs to: the rest of a round, or if somebody says so a second recording."""
        if self.options.together == "apart" or not groups:
            return None
        group = groups[-1]
        other = group.tracks[0].source.name
        if _pause_s(track, group) >= 0.0 or self._agreed(
            f"{track.source.name} was recorded at the time of {other}"
        ):
            return group
        return _offer(track, None, f"recorded at the time of {other}")

    def _against_library(self, groups: Sequence[_Group], order: dict[str, int]) -> Iterator[_Group | Outcome]:
        for group in sorted(groups, key=lambda one: order[one.tracks[0].source.name]):
            first = group.tracks[0]
            course = self.candidates[first.look.course].course
            near = []
            if self.options.together != "apart" and course:
                near = find.rounds_near(
                    self.connection,
                    first.player,
                    course,
                    first.look.first_time,
                    group.until,
                    margin_s=_REST_S,
                )
            if not near:
                yield group
            elif self._agreed(f"{first.source.name} was recorded at the time of round {near[0]}"):
                group.kept_round = near[0]
                yield group
            else:
                for track in group.tracks:
                    yield _offer(track, near[0], f"recorded at the time of round {near[0]}")

    def _agreed(self, what: str) -> bool:
        if self.options.together == "join":
            return True
        return self.ask is not None and self.ask(f"{what}. Is it the same round?")

    def _player(self, source: TrackSource) -> tuple[str, bytes]:
        """Say whose a track is, and with which bag."""
        if self.options.bag is not None:
            player, content, path = read_bag_bytes(self.options.bag).player, self.options.bag, "--bag"
        elif source.beside.bag is not None:
            (player, content), path = _bag_at(source.beside.bag), str(source.beside.bag)
        else:
            player = find.player_name(self.connection, self.options.player)
            return player, find.current_bag_bytes(self.connection, player)
        if self.options.player is not None and keys.player_key(player) != keys.player_key(
            self.options.player
        ):
            what = f"the bag is of {player[:60]!r}, not of {self.options.player[:60]!r}"
            raise InputError(what, path, "Leave --player out, or give that player's bag")
        return player, content

    def _courses(self, source: TrackSource) -> Sequence[int]:
        """Say which courses a track may have been recorded on."""
        if self.options.course is not None:
            return [self.named]
        beside = source.beside.course
        if beside is not None:
            return [self._course(_course_at(beside), str(beside)), *self.known]
        return self.known

    def _course(self, files: CourseFiles, where: str) -> int:
        digest = keys.course_digest(files)
        for number, candidate in enumerate(self.candidates):
            if keys.course_digest(candidate.files) == digest:
                return number
        lines = course_lines(read_course_files(files, self.options.tee))
        if lines.is_empty:
            raise InputError(
                "the course has no positions", where, "Give a map, or a scorecard with tees and greens"
            )
        course = find.course_by_digest(self.connection, digest)
        return self._candidate(KnownCourse(course or 0, files, lines))

    def _candidate(self, course: KnownCourse) -> int:
        self.candidates.append(course)
        return len(self.candidates) - 1


@lru_cache(maxsize=256)
def _bag_at(path: Path) -> tuple[str, bytes]:
    return read_bag(path).player, read_document(path, "bag")


@lru_cache(maxsize=64)
def _course_at(path: Path) -> CourseFiles:
    return CourseFiles(read_course(path).name, read_document(path, "course"), None)


def _pause_s(track: _Track, group: _Group) -> float:
    return float((track.look.first_time - group.until).total_seconds())


def _offer(track: _Track, number: int | None, what: str) -> Outcome:
    text = f"{what} by {track.player}. Give --join if it is the same round, --apart if it is not"
    return Outcome((track.source.name,), "offered", number, text)


def _keep(
    connection: sqlite3.Connection, group: _Group, done: Rebuilt, candidates: Sequence[KnownCourse]
) -> Outcome:
    """Write a round, all of it or nothing."""
    names = tuple(track.source.name for track in group.tracks)
    if done.result is None or done.materials is None:
        return Outcome(names, "fault", None, done.fault)
    first = group.tracks[0]
    lines = candidates[first.look.course].lines
    try:
        with writing(connection):
            if group.kept_round is None:
                new = store.NewRound(first.player, done.materials, lines, done.recordings, done.result)
                number = store.store_round(connection, new)
            else:
                number = group.kept_round
                store.add_recordings(connection, number, done.recordings)
                store.store_result(connection, number, done.result)
    except sqlite3.IntegrityError:
        there = find.round_of_recording(connection, first.player, first.look.digest)
        if there is None:
            raise
        return Outcome(names, "known", there, f"the same track is round {there} already")
    doubts = tuple(note.text for note in done.result.notes if note.kind == "doubted" and not note.hole)
    other = find.round_of_others(connection, first.player, first.look.digest)
    if other is not None:
        doubts += (f"the same track is also round {other[0]}, of {other[1]}; whose is it?",)
    kind: Literal["new", "joined"] = "new" if group.kept_round is None else "joined"
    return Outcome(names, kind, number, "", doubts)
