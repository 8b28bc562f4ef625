"""What the commands that rebuild rounds have in common: files in, files out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pandas as pd

from geo.geojson import geojson_text
from geo.track import Track, read_tracks
from reports.page import round_report
from trackgolf.bag import read_bag
from trackgolf.card import read_card
from trackgolf.compare import plan_starts_elsewhere
from trackgolf.corrections import read_corrections
from trackgolf.course import Course, course_from_scorecard, read_course
from trackgolf.decisions import log_decisions
from trackgolf.errors import InputError
from trackgolf.guess_file import GUESSED_FILE, confirmed_holes, guessed_geojson
from trackgolf.guess_round import reconstruct_unmapped
from trackgolf.plan_file import read_plan
from trackgolf.reconstruct import Note, Round, reconstruct
from trackgolf.round_files import write_round
from trackgolf.scorecard import read_scorecard
from trackgolf.tables import round_tables

__all__ = ["rebuild_files", "the_course"]


def the_course(course_path: Path | None, scorecard_path: Path | None, tee: str | None) -> Course:
    """Read the course that the options name."""
    if course_path is not None:
        return read_course(course_path, scorecard=scorecard_path, tee=tee)
    if scorecard_path is not None:
        if tee is not None:
            raise InputError(
                f"there is no tee {tee[:40]!r}",
                str(scorecard_path),
                "A scorecard has no tees: leave --tee out",
            )
        return course_from_scorecard(scorecard_path)
    raise InputError("no course is named", "--course", "Give --course or --scorecard")


def rebuild_files(
    tracks: Sequence[Path],
    *,
    course_path: Path | None,
    scorecard_path: Path | None,
    tee: str | None,
    bag_path: Path,
    plan_path: Path | None,
    card_path: Path | None,
    out: Path,
    corrections_path: Path | None = None,
) -> tuple[Round, list[Path]]:
    """Rebuild one round from files and write its folder; everything is worked out before anything is written."""
    track = read_tracks(tracks)
    scorecard = _card_without_places(course_path, scorecard_path)
    if course_path is None and (scorecard is not None or scorecard_path is None):
        return _rebuild_unmapped(
            tracks,
            track,
            scorecard,
            tee=tee,
            bag_path=bag_path,
            plan_path=plan_path,
            card_path=card_path,
            corrections_path=corrections_path,
            out=out,
        )
    course = the_course(course_path, scorecard_path, tee)
    bag = read_bag(bag_path)
    plan = read_plan(plan_path, course, bag) if plan_path is not None else None
    card = read_card(card_path, bag) if card_path is not None else None
    corrections = read_corrections(corrections_path) if corrections_path is not None else None
    told = [Note("mended", 0, text) for text in plan.notes] if plan is not None else []
    shots = plan.shots if plan is not None else None
    with _faults_of(tracks):
        result = reconstruct(track, course, bag, plan=shots, card=card, corrections=corrections, told=told)
    if plan is not None:
        result = replace(result, notes=(*result.notes, *_other_tee(result, plan.shots)))
    log_decisions(result)
    report = round_report(round_tables(result))
    return result, write_round(result, out, report)


def _card_without_places(course_path: Path | None, scorecard_path: Path | None) -> pd.DataFrame | None:
    """The scorecard where it is all that is known of the course and says nothing of where the holes lie."""
    if course_path is not None or scorecard_path is None:
        return None
    scorecard = read_scorecard(scorecard_path)
    return scorecard if scorecard[["tee_lon", "green_lon"]].isna().all(axis=None) else None


def _rebuild_unmapped(
    tracks: Sequence[Path],
    track: Track,
    scorecard: pd.DataFrame | None,
    *,
    tee: str | None,
    bag_path: Path,
    plan_path: Path | None,
    card_path: Path | None,
    corrections_path: Path | None,
    out: Path,
) -> tuple[Round, list[Path]]:
    """Rebuild a round on holes guessed from its track, and write them for the player to confirm."""
    for given, option in ((tee, "--tee"), (plan_path, "--plan"), (corrections_path, "--corrections")):
        if given is not None:
            raise InputError(
                "there is no course that this belongs to", option, f"Give --course, or leave {option} out"
            )
    file = out / GUESSED_FILE
    if confirmed_holes(file):
        raise InputError(
            "it holds holes that were confirmed, and would be replaced",
            str(file),
            "Give it as --course, or give another --out",
        )
    bag = read_bag(bag_path)
    card = read_card(card_path, bag) if card_path is not None else None
    with _faults_of(tracks):
        result, holes = reconstruct_unmapped(track, bag, scorecard=scorecard, card=card)
    log_decisions(result)
    guessed = geojson_text(guessed_geojson(result.course, {hole.number: hole.confidence for hole in holes}))
    report = round_report(round_tables(result))
    return result, write_round(result, out, report, more={GUESSED_FILE: guessed})


@contextmanager
def _faults_of(tracks: Sequence[Path]) -> Iterator[None]:
    """Say which track a fault is about where nothing else is named."""
    try:
        yield
    except InputError as error:
        if error.where is not None:
            raise
        raise type(error)(error.what, ", ".join(str(path) for path in tracks), error.do) from error


def _other_tee(result: Round, plan: pd.DataFrame) -> list[Note]:
    """Say that most of the plan begins at another tee than the round."""
    elsewhere, holes, apart_m = plan_starts_elsewhere(result.shots, plan)
    if elsewhere <= holes / 2:
        return []
    text = f"on {elsewhere} of {holes} holes the plan begins elsewhere than the round, by {apart_m:.0f} m as a rule"
    return [
        Note("doubted", 0, f"{text}: it is likely for another tee; name the tee with --tee and plan anew")
    ]
