"""The import: many tracks to rounds of the library, going on past bad ones, one transaction a round."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from typing import Literal

from trackgolf.errors import InputError
from trackgolf.library import find, store
from trackgolf.library.gather import TrackSource
from trackgolf.library.grouping import PlannedRound, PlannedTrack, Planner
from trackgolf.library.keeping import lines_from_bytes
from trackgolf.library.opening import writing
from trackgolf.library.outcomes import ImportOptions, Outcome
from trackgolf.library.runners import Runner, one_by_one
from trackgolf.library.tasks import Rebuilt, rebuild_task

__all__ = ["ImportOptions", "Outcome", "import_tracks"]


def import_tracks(
    connection: sqlite3.Connection,
    sources: Sequence[TrackSource],
    options: ImportOptions,
    *,
    run: Runner = one_by_one,
    ask: Callable[[str], bool] | None = None,
    looked: Callable[[int], None] = lambda count: None,
    record: Callable[[Outcome], None] = lambda outcome: None,
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
    record : callable, optional
        Told each outcome within the transaction that keeps its round, so
        that what it writes to the library is kept with the round or not at
        all.

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
    planner = Planner(connection, options, ask)
    tracks: list[PlannedTrack] = []
    for count, (source, found) in enumerate(planner.look(sources, run), start=1):
        looked(count)
        if isinstance(found, str):
            yield _recorded(connection, Outcome((source.name,), "fault", None, found), record)
        else:
            tracks.append(found)
    groups = []
    for group in planner.groups(tracks):
        if isinstance(group, Outcome):
            yield _recorded(connection, group, record)
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
        yield _keep(connection, group, done, record)


def _recorded(connection: sqlite3.Connection, outcome: Outcome, record: Callable[[Outcome], None]) -> Outcome:
    """Have an outcome recorded that keeps nothing."""
    with writing(connection):
        record(outcome)
    return outcome


def _keep(
    connection: sqlite3.Connection,
    group: PlannedRound,
    done: Rebuilt,
    record: Callable[[Outcome], None],
) -> Outcome:
    """Write a round, all of it or nothing."""
    names = tuple(track.source.name for track in group.tracks)
    if done.result is None or done.materials is None:
        return _recorded(connection, Outcome(names, "fault", None, done.fault), record)
    first = group.tracks[0]
    kind: Literal["new", "joined"] = "new" if group.kept_round is None else "joined"
    doubts = tuple(note.text for note in done.result.notes if note.kind == "doubted" and not note.hole)
    other = find.round_of_others(connection, first.player, first.look.digest)
    if other is not None:
        doubts += (f"the same track is also round {other[0]}, of {other[1]}; whose is it?",)
    try:
        with writing(connection):
            if group.kept_round is None:
                lines = lines_from_bytes(done.lines)
                new = store.NewRound(first.player, done.materials, lines, done.recordings, done.result)
                number = store.store_round(connection, new)
            else:
                number = group.kept_round
                store.add_recordings(connection, number, done.recordings)
                store.store_result(connection, number, done.result)
            outcome = Outcome(names, kind, number, "", doubts)
            record(outcome)
            return outcome
    except sqlite3.IntegrityError:
        there = find.round_of_recording(connection, first.player, first.look.digest)
        if there is None:
            raise
        known = Outcome(names, "known", there, f"the same track is round {there} already")
        return _recorded(connection, known, record)
