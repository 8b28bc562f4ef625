"""What belongs to which round, worked out before anything is rebuilt."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import pandas as pd
import shapely

from trackgolf.bag import read_bag
from trackgolf.corrections import read_corrections, write_corrections
from trackgolf.course import read_course
from trackgolf.errors import InputError
from trackgolf.library import find, keys
from trackgolf.library.find import KnownCourse
from trackgolf.library.gather import TrackSource, read_document
from trackgolf.library.keeping import course_lines, lines_bytes
from trackgolf.library.materials import CourseFiles, Materials, read_bag_bytes, read_course_files
from trackgolf.library.outcomes import ImportOptions, Outcome
from trackgolf.library.read import read_round
from trackgolf.library.runners import Runner
from trackgolf.library.tasks import GUESSED, Look, LookTask, RebuildTask, look_at_track

__all__ = ["PlannedRound", "PlannedTrack", "Planner"]

_LOG = logging.getLogger(__name__)

# A recording that begins this soon after another ended is the rest of its round: a device switched off and on [s].
# A second round of the day begins later, after a meal. Common practice, no source.
_REST_S = 1_800.0


@dataclass(slots=True)
class PlannedTrack:
    """
    A track that can be used.

    Attributes
    ----------
    source : TrackSource
        Where it comes from.
    player : str
        Whose it is.
    bag : bytes
        The bag.
    look : Look
        What it is.
    """

    source: TrackSource
    player: str
    bag: bytes
    look: Look


@dataclass(slots=True)
class PlannedRound:
    """
    Tracks of one round.

    Attributes
    ----------
    tracks : list of PlannedTrack
        Its tracks.
    until : pandas.Timestamp
        When the last ends, UTC.
    kept_round : int or None
        The round of the library they are put to.
    """

    tracks: list[PlannedTrack]
    until: pd.Timestamp
    kept_round: int | None = None


class Planner:
    """Works out before anything is rebuilt what belongs to which round."""

    def __init__(
        self, connection: sqlite3.Connection, options: ImportOptions, ask: Callable[[str], bool] | None
    ) -> None:
        self.connection = connection
        self.options = options
        self.ask = ask
        self.candidates: list[KnownCourse] = []
        self.known: list[int] = []
        self.named: int | None = None
        # What a course that is guessed is guessed with.
        self.hint = CourseFiles("", None, None)
        if options.course is not None and options.guess and _has_no_place(options.course, options.tee):
            self.hint = options.course
        elif options.course is not None:
            self.named = self._course(options.course, "--course")
        if self.named is None:
            for course in find.known_courses(connection):
                self.known.append(self._candidate(course))
        if options.bag is None and options.player is not None:
            find.player_name(connection, options.player)

    def look(
        self, sources: Sequence[TrackSource], run: Runner
    ) -> Iterator[tuple[TrackSource, PlannedTrack | str]]:
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
                yield LookTask(source.name, content, courses, guess=self.options.guess)

        for number, look in enumerate(run(look_at_track, tasks())):
            source, player, bag = usable[number]
            yield source, look.fault or PlannedTrack(source, player, bag, look)
        for source, error in faults:
            yield source, str(error)

    def groups(self, tracks: Sequence[PlannedTrack]) -> Iterator[PlannedRound | Outcome]:
        """Put tracks of one round together; leave out those that are in the library or wait for an answer."""
        seen: dict[tuple[str, str], str] = {}
        fresh: list[PlannedTrack] = []
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
        groups: list[PlannedRound] = []
        latest: dict[tuple[str, int], list[PlannedRound]] = {}
        for track in sorted(fresh, key=lambda one: (one.look.first_time, one.source.name)):
            same = latest.setdefault((keys.player_key(track.player), track.look.course), [])
            same[:] = [group for group in same if _pause_s(track, group) <= _REST_S]
            home = self._same_round(track, same)
            if isinstance(home, Outcome):
                yield home
            elif home is None:
                groups.append(PlannedRound([track], track.look.last_time))
                same.append(groups[-1])
            else:
                _LOG.info(
                    "%s is of one round with %s: %.0f min lie between them",
                    track.source.name,
                    home.tracks[0].source.name,
                    _pause_s(track, home) / 60.0,
                )
                home.tracks.append(track)
                home.until = max(home.until, track.look.last_time)
        yield from self._against_library(groups, {track.source.name: at for at, track in enumerate(fresh)})

    def materials(self, group: PlannedRound, groups: Sequence[PlannedRound]) -> tuple[Materials, bool]:
        """Say what a group is rebuilt from, and whether its plan was only found."""
        if group.kept_round is not None:
            _, materials, _ = read_round(self.connection, group.kept_round)
            return materials, False
        first = group.tracks[0]
        course = self.course(first)
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
        tee = None if first.look.course == GUESSED else self.options.tee
        _LOG.info(
            "%s: course %r, %s; bag of %s; plan %s; card %s",
            " and ".join(track.source.name for track in group.tracks),
            course.files.name,
            "as named" if self.options.course is not None else "at which most of its points lie",
            first.player,
            "none" if plan is None else "found as the player's current one" if found else "as given",
            "none" if card is None else "as given",
        )
        return Materials(course.files, tee, first.bag, plan, card, corrections), found

    def task(self, group: PlannedRound, materials: tuple[Materials, bool]) -> RebuildTask:
        """Say what is to be done for a group."""
        kept = () if group.kept_round is None else find.packed_recordings(self.connection, group.kept_round)
        return RebuildTask(
            contents=tuple((track.source.base_name, track.source.load()) for track in group.tracks),
            kept=tuple(kept),
            lines=lines_bytes(self.course(group.tracks[0]).lines),
            materials=materials[0],
            plan_was_found=materials[1],
            whole=self.options.whole,
            guess=group.tracks[0].look.course == GUESSED,
        )

    def course(self, track: PlannedTrack) -> KnownCourse:
        """Say which course a track was recorded on; one without positions where it is to be guessed."""
        if track.look.course == GUESSED:
            return KnownCourse(0, self.hint, shapely.MultiLineString())
        return self.candidates[track.look.course]

    def _same_round(
        self, track: PlannedTrack, groups: Sequence[PlannedRound]
    ) -> PlannedRound | Outcome | None:
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

    def _against_library(
        self, groups: Sequence[PlannedRound], order: dict[str, int]
    ) -> Iterator[PlannedRound | Outcome]:
        for group in sorted(groups, key=lambda one: order[one.tracks[0].source.name]):
            first = group.tracks[0]
            course = self.course(first).course
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
        if self.named is not None:
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


def _has_no_place(files: CourseFiles, tee: str | None) -> bool:
    return files.map is None and course_lines(read_course_files(files, tee)).is_empty


def _pause_s(track: PlannedTrack, group: PlannedRound) -> float:
    return float((track.look.first_time - group.until).total_seconds())


def _offer(track: PlannedTrack, number: int | None, what: str) -> Outcome:
    text = f"{what} by {track.player}. Give --join if it is the same round, --apart if it is not"
    return Outcome((track.source.name,), "offered", number, text)
