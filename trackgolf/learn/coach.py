"""The pages of a coach: an overview, a page a player to hand over, notes and plans for the next round."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from geo.files import decode_text, read_small_file
from reports.coach_page import PlayerCard, coach_page
from reports.evidence_page import evidence_page
from trackgolf.bag import Bag
from trackgolf.errors import InputError
from trackgolf.learn.carries import learn_carries
from trackgolf.learn.evidence_tables import evidence_tables
from trackgolf.learn.many_rounds import ManyRounds
from trackgolf.learn.players import Mean, PlayerOverview, look_at_player, progress_sentence, work_sentence
from trackgolf.library.coaching import PlayerNote
from trackgolf.toml_table import TomlTable, read_toml

__all__ = ["CoachNotes", "coach_files", "join_notes", "overview_figures", "read_notes"]


@dataclass(frozen=True, slots=True)
class CoachNotes:
    """What a coach wrote down about a player: `notes`, and the page of a `plan` set for the next round, if any."""

    notes: tuple[str, ...] = ()
    plan: Path | None = None


def read_notes(path: Path, players: Sequence[str]) -> dict[str, CoachNotes]:
    """
    Read a coach's notes.

    Parameters
    ----------
    path : pathlib.Path
        A TOML file of ``[[note]]`` tables: ``player``, ``text`` and, if wanted, ``plan``, the HTML page of a plan, seen
        from the file.
    players : sequence of str
        The players there are.

    Returns
    -------
    dict of CoachNotes
        By player.

    Raises
    ------
    InputError
        With all faults of the file.
    """
    from geo.errors import raise_faults

    values, _ = read_toml(path, InputError, "notes")
    faults: list[str] = []
    top = TomlTable(values, "", faults, [])
    top.check_keys(("note",))
    known = {player.casefold(): player for player in players}
    found: dict[str, CoachNotes] = {}
    for place, entry in enumerate(top.tables("note"), start=1):
        table = TomlTable(entry, f"note {place}", faults, [])
        table.check_keys(("player", "text", "plan"))
        player, text, plan = (table.text(key) for key in ("player", "text", "plan"))
        name = known.get((player or "").casefold())
        if name is None:
            table.fault(f"there is no player {player!r}")
            continue
        page = None if plan is None else path.parent / plan
        if page is not None and not page.is_file():
            table.fault(f"there is no plan {plan!r}")
            continue
        before = found.get(name, CoachNotes())
        notes = before.notes if text is None else (*before.notes, text)
        found[name] = CoachNotes(notes, page or before.plan)
    raise_faults(InputError, faults, str(path))
    return found


def join_notes(kept: Iterable[PlayerNote], given: Mapping[str, CoachNotes]) -> dict[str, CoachNotes]:
    """
    Put notes of the library before those of a file.

    Parameters
    ----------
    kept : iterable of PlayerNote
        What the library has.
    given : mapping of CoachNotes
        By player, from `read_notes`.

    Returns
    -------
    dict of CoachNotes
        By player.
    """
    joined: dict[str, CoachNotes] = {}
    for note in kept:
        before = joined.get(note.player, CoachNotes())
        joined[note.player] = replace(before, notes=(*before.notes, note.text))
    for player, said in given.items():
        before = joined.get(player, CoachNotes())
        joined[player] = CoachNotes((*before.notes, *said.notes), said.plan)
    return joined


def coach_files(
    players: Mapping[str, tuple[ManyRounds, Bag]], notes: Mapping[str, CoachNotes]
) -> list[tuple[str, str]]:
    """
    Make the pages of a coach.

    Parameters
    ----------
    players : mapping
        Rounds and bag of each player.
    notes : mapping of CoachNotes
        What was written down about them.

    Returns
    -------
    list of tuple
        File name and text of each page; the overview is ``index.html``.
    """
    files: list[tuple[str, str]] = []
    cards = []
    taken: set[str] = {"index"}
    for player, (rounds, bag) in players.items():
        said = notes.get(player, CoachNotes())
        stem = _stem(player, taken)
        files.append(
            (f"{stem}.html", evidence_page(evidence_tables(rounds, bag, learn_carries(rounds.shots, bag))))
        )
        plan = ""
        if said.plan is not None:
            plan = f"{stem}-plan.html"
            files.append((plan, decode_text(read_small_file(said.plan, InputError, "page of a plan"))))
        overview = look_at_player(player, rounds)
        cards.append(
            PlayerCard(
                player=player,
                rounds=overview.rounds,
                last_day=overview.last_day,
                progress=progress_sentence(overview.progress),
                work=work_sentence(overview),
                figures=overview_figures(overview),
                notes=said.notes,
                page=f"{stem}.html",
                plan=plan,
            )
        )
    bags = [bag for _, bag in players.values()]
    units = bags[0].units if bags else "yd"
    return [
        ("index.html", coach_page(cards, units=units, invented=all(bag.invented for bag in bags))),
        *files,
    ]


def overview_figures(one: PlayerOverview) -> pd.DataFrame:
    """
    Put the numbers of an overview into the table that pages draw.

    Parameters
    ----------
    one : PlayerOverview
        A player at a glance.

    Returns
    -------
    pandas.DataFrame
        As `reports.evidence_tables.FIGURES`.
    """

    def mean(figure: str, value: Mean) -> tuple[str, float, float, float, int]:
        return figure, value.value, value.low, value.high, value.rounds

    rows = [
        ("layups", one.layups.mean, one.layups.low, one.layups.high, int(one.layups.tries)),
        (
            "regulation",
            one.regulation.mean,
            one.regulation.low,
            one.regulation.high,
            int(one.regulation.tries),
        ),
        mean("putts", one.putts),
        mean("against_par", one.against_target),
    ]
    return pd.DataFrame(rows, columns=["figure", "value", "low", "high", "count"])


def _stem(player: str, taken: set[str]) -> str:
    """A file name that any system takes, of its own for each player."""
    plain = re.sub(r"[^a-z0-9]+", "-", player.casefold()).strip("-")[:40] or "player"
    stem, number = plain, 2
    while stem in taken or f"{stem}-plan" in taken:
        stem, number = f"{plain}-{number}", number + 1
    taken |= {stem, f"{stem}-plan"}
    return stem
