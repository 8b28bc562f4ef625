"""From overviews of players to the page of a coach."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any
from urllib.parse import quote

import pandas as pd
from markupsafe import Markup

from reports import offline
from reports.base import render_page
from reports.evidence_page import evidence_words, figure_cells, set_sentence
from reports.evidence_tables import FIGURES
from reports.tables import check_table, empty_table
from reports.words import Words

__all__ = ["PlayerCard", "coach_page"]


@dataclass(frozen=True)
class PlayerCard:
    """
    One player of a coach.

    Parameters
    ----------
    player : str
        The name.
    rounds : int
        Rounds looked at.
    last_day : str
        Day of the last one, "" unknown.
    progress, work : str
        Sentences without their full stops.
    figures : pandas.DataFrame, optional
        As `reports.evidence_tables.FIGURES`, ``layups`` besides.
    notes : tuple of str, optional
        What the coach wrote down.
    page, plan : str, optional
        Paths of the player's page and of a plan, seen from this page; "" for none.
    """

    player: str
    rounds: int
    last_day: str
    progress: str
    work: str
    figures: pd.DataFrame = field(default_factory=partial(empty_table, FIGURES))
    notes: tuple[str, ...] = ()
    page: str = ""
    plan: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "figures", check_table(self.figures, FIGURES))


def coach_page(
    cards: Sequence[PlayerCard], *, units: str, invented: bool, phrases: Mapping[str, str] | None = None
) -> str:
    """
    Write the page that shows a coach all players.

    Parameters
    ----------
    cards : sequence of PlayerCard
        The players; shown by name, never ranked.
    units : {"yd", "m"}
        Length shown first.
    invented : bool
        Whether all of them are invented.
    phrases : mapping of str to str, optional
        The language; English by default.

    Returns
    -------
    str
        An HTML page that fetches nothing; the same text for the same players.
    """
    words = evidence_words(units, phrases)
    players: list[dict[str, Any]] = [
        {
            "name": card.player,
            "rounds": words.count("ev_rounds", card.rounds),
            "last_day": _day(card.last_day, words),
            "figures": figure_cells(card.figures, words),
            "progress": set_sentence(card.progress),
            "work": set_sentence(card.work),
            "notes": card.notes,
            "href": quote(card.page),
            "plan": quote(card.plan),
        }
        for card in sorted(cards, key=lambda card: card.player.casefold())
    ]
    head = {"player": "", "course": "", "credit": None, "invented": invented}
    return render_page(
        "coach.html",
        head,
        words,
        styles=[offline.own_file("evidence.css")],
        title=words.plain("ev_coach_title"),
        invented_key="ev_invented",
        when=None,
        headline=words.count("ev_coach_headline", len(cards)),
        lede=words("ev_coach_lede"),
        players=players,
    )


def _day(text: str, words: Words) -> Markup | str:
    """Write a day out; what is none, as where a round has no date, is shown as it is."""
    try:
        return words.day(dt.date.fromisoformat(text))
    except ValueError:
        return text
