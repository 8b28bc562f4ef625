"""A round rebuilt without a course: holes guessed from the track, then played through the usual steps."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from geo.track import Track
from trackgolf.bag import Bag
from trackgolf.errors import CardError
from trackgolf.guess_course import GUESSED_NAME, GuessedHole, course_of_holes, guess_holes
from trackgolf.guess_hints import bag_for_course
from trackgolf.guess_settings import GuessSettings
from trackgolf.reconstruct import Note, Round, reconstruct
from trackgolf.settings import RoundSettings

__all__ = ["HOLE_NOTE", "reconstruct_unmapped"]

_SETTINGS, _GUESS = RoundSettings(), GuessSettings()
HOLE_NOTE = "guessed from the track, {:.0f} % sure that tee and green lie here"


def reconstruct_unmapped(
    track: Track,
    bag: Bag,
    *,
    scorecard: pd.DataFrame | None = None,
    card: pd.DataFrame | None = None,
    settings: RoundSettings = _SETTINGS,
    guess: GuessSettings = _GUESS,
) -> tuple[Round, list[GuessedHole]]:
    """
    Rebuild a round whose course nobody has drawn.

    Parameters
    ----------
    track : Track
        The recorded points and marks.
    bag : Bag
        The player's clubs and target.
    scorecard : pandas.DataFrame, optional
        The course's card without positions.
    card : pandas.DataFrame, optional
        What was written on the card.
    settings : RoundSettings, optional
        What is believed of golfers.
    guess : GuessSettings, optional
        What is believed of holes.

    Returns
    -------
    result : Round
        As `trackgolf.reconstruct.reconstruct` gives it, its course guessed and each hole's note saying so.
    holes : list of GuessedHole
        The holes as guessed.

    Raises
    ------
    InputError
        If there is no hole to be found in the track.
    CardError
        If the card names holes that were not found.
    """
    holes = guess_holes(track, bag, scorecard=scorecard, card=card, settings=settings, guess=guess)
    course = course_of_holes(holes, guess=guess)
    told = [Note("assumed", 0, text) for text in course.warnings]
    fitted, text = bag_for_course(bag, course)
    told += [] if text is None else [Note("assumed", 0, text)]
    if card is not None:
        known = {hole.number for hole in course.holes}
        lost = sorted(set(card["hole"].tolist()) - known)
        if len(lost) == len(card):
            raise CardError("none of its holes is found in the track", None, "Give the card of this round")
        told += [Note("doubted", hole, "on the card, and not found in the track") for hole in lost]
        card = card[card["hole"].isin(list(known))].reset_index(drop=True)
    result = reconstruct(
        track,
        replace(course, warnings=(), name=course.name or GUESSED_NAME),
        fitted,
        card=card,
        told=told,
        settings=settings,
    )
    sure = {hole.number: hole.confidence for hole in holes}
    played = result.holes
    notes = [
        "; ".join(text for text in (note, HOLE_NOTE.format(100.0 * sure[hole])) if text)
        for hole, note in zip(played["hole"], played["note"], strict=True)
    ]
    return replace(result, holes=played.assign(note=notes)), holes
