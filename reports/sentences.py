"""The story of a hole: a sentence a shot, what the plan would have played next, and why a shot is doubtful."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
from markupsafe import Markup

from reports.bundles import RoundTables, known_club, layup_rows, rows_by_hole
from reports.heads import SIGNS, whole
from reports.show import round_half_up
from reports.tables import DOUBTFUL_BELOW
from reports.words import Words

__all__ = ["played_club", "shot_items"]

# A target this near to the hole is the green [m]; common practice, no source.
_NOTHING_LEFT_M = 15.0


def played_club(row: Any, words: Words) -> Any:
    """
    Name the club that was played, or say that it is not known.

    Parameters
    ----------
    row : mapping
        With `club` and `club_source`.
    words : Words
        The language.

    Returns
    -------
    str or markupsafe.Markup
        For a template to escape.
    """
    return known_club(row) or words("club_not_known")


def shot_items(tables: RoundTables, words: Words) -> dict[int, list[dict[str, Any]]]:
    """
    Tell the shots of every hole, one after the other.

    Parameters
    ----------
    tables : RoundTables
        The round.
    words : Words
        The language.

    Returns
    -------
    dict of int to list of dict
        For each hole and shot: `head` (club and distance), `way` (from which lie), `sign` and `outcome`, `next` (what
        the plan would have played from there), `doubt` (how sure, and why not), `facts` in small, and `note`.
    """
    planned = _by_shot(tables.plan)
    layups = {(int(h), int(s)) for h, s in _keys(layup_rows(tables.comparison, tables.plan))}
    story = _Story(words, tables.header["time_zone"], planned, _by_shot(tables.comparison), layups)
    story.onward = _by_shot(tables.onward)
    for row in tables.doubts.to_dict("records"):
        story.doubts.setdefault((int(row["hole"]), int(row["shot"])), []).append(row)
    return {
        hole: [story.item(hole, row) for row in rows] for hole, rows in rows_by_hole(tables.shots).items()
    }


class _Story:
    """What is known of a round by hole and shot."""

    def __init__(
        self,
        words: Words,
        zone: str,
        planned: dict[tuple[int, int], Any],
        compared: dict[tuple[int, int], Any],
        layups: set[tuple[int, int]],
    ) -> None:
        self._words, self._zone = words, zone
        self._planned, self._compared, self._layups = planned, compared, layups
        self.onward: dict[tuple[int, int], Any] = {}
        self.doubts: dict[tuple[int, int], list[Any]] = {}

    def item(self, hole: int, row: Any) -> dict[str, Any]:
        words, key = self._words, (hole, whole(row["shot"]) or 0)
        plan = self._compared.get(key)
        verdict = plan["within_tolerance"] if plan else ""
        doubtful = row["confidence"] < DOUBTFUL_BELOW
        seen = math.isfinite(row["distance_m"])
        length = words.length(row["distance_m"]) if seen else words("distance_not_known")
        return {
            "shot": key[1],
            "head": words("item_head", club=known_club(row), distance=length) if known_club(row) else length,
            "way": self._way(row),
            # A verdict is for layups: a shot at the green is on it or not.
            "sign": verdict if key in self._layups and verdict in SIGNS else "",
            "outcome": self._outcome(key, row, plan),
            "next": self._next(key),
            "doubt": self._doubt(key, row) if doubtful else None,
            "facts": self._facts(row, plan, doubtful=doubtful),
            "note": row["note"],
            "doubtful": doubtful,
        }

    def _way(self, row: Any) -> Markup:
        words, parts = self._words, []
        if row["lie"] not in {"", "unknown"}:
            parts.append(words("item_from", lie=words.term("lie", row["lie"])))
        if not known_club(row):
            parts.append(words("item_club_not_known"))
        return Markup(", ").join(parts)

    def _outcome(self, key: tuple[int, int], row: Any, plan: Any) -> Markup:
        words, end, parts = self._words, row["end_lie"], []
        if plan and math.isfinite(plan["long_m"]) and math.isfinite(plan["right_m"]):
            offset = words.offset(plan["long_m"], plan["right_m"])
            if key in self._layups:
                parts.append(words("item_layup", offset=offset))
            elif end != "green":
                parts.append(words("item_at_green", offset=offset))
        if end == "green":
            parts.append(words("item_on_green"))
        elif end and end != "unknown":
            parts.append(words.term("lie", end))
        said = Markup(", ").join(parts)
        leave = self._leave(row, plan)
        return Markup("; ").join(part for part in (said, leave) if part) or words("end_unseen")

    def _leave(self, row: Any, plan: Any) -> Markup | None:
        words, leave_m = self._words, row["leave_m"]
        if not math.isfinite(leave_m):
            return None
        if row["end_lie"] == "green":
            return words("item_putt", length=words.length(leave_m))
        # What a shot at the green left is not held against a plan to leave nothing.
        # Nor is one that was played after the plan was left, as the table of layups has it.
        if plan and math.isfinite(plan["leave_m"]) and plan["planned_leave_m"] > _NOTHING_LEFT_M:
            bare, planned = (words.length(v, unit=False) for v in (leave_m, plan["planned_leave_m"]))
            return words("item_leave", leave=bare, planned=planned)
        return words("item_left", length=words.length(leave_m))

    def _next(self, key: tuple[int, int]) -> Markup | None:
        row = self.onward.get(key)
        if row is None or not math.isfinite(row["distance_m"]):
            return None
        words, planned = self._words, self._planned.get((key[0], key[1] + 1))
        same = planned is not None and planned["club"] == row["club"]
        layup = math.isfinite(row["leave_m"]) and row["leave_m"] > _NOTHING_LEFT_M
        to = (
            words("next_leave", leave=words.length(row["leave_m"], unit=False))
            if layup
            else words("next_green")
        )
        return words(
            "next_same" if same else "next_other",
            club=row["club"] or words("unknown"),
            distance=words.length(row["distance_m"]),
            to=to,
        )

    def _doubt(self, key: tuple[int, int], row: Any) -> Markup:
        words = self._words
        reasons = [
            words(
                f"doubt_{doubt['reason']}",
                distance=words.length(doubt["distance_m"]),
                time="–" if pd.isna(doubt["time_s"]) else round_half_up(doubt["time_s"]),
                share=_share(doubt["share"], words),
            )
            for doubt in self.doubts.get(key, ())
            if words.has(f"doubt_{doubt['reason']}")
        ]
        said = words("shot_doubtful", share=_share(row["confidence"], words))
        return words("doubt_why", said=said, why=words.list(reasons)) if reasons else said

    def _facts(self, row: Any, plan: Any, *, doubtful: bool) -> list[Markup]:
        words, facts = self._words, []
        club = known_club(row)
        if club:
            facts.append(words("item_source", source=words.term("source", row["club_source"])))
        if plan and plan["planned_club"] not in {"", club}:
            facts.append(words("item_other_club", club=plan["planned_club"]))
        if math.isfinite(row["path_m"]):
            facts.append(words("item_path", length=words.length(row["path_m"])))
        if not pd.isna(row["start_time"]):
            facts.append(words.clock(row["start_time"].to_pydatetime(warn=False), self._zone))
        if math.isfinite(row["confidence"]) and not doubtful:
            facts.append(words("shot_sure", share=_share(row["confidence"], words)))
        return facts


def _share(share: float, words: Words) -> Markup:
    """Write a probability; nothing that is estimated is certain."""
    if not math.isfinite(share):
        return Markup("–")
    percent = round_half_up(100.0 * share)
    if percent in {0, 100}:
        return words("share_most" if percent else "share_least")
    return words("share", percent=percent)


def _keys(table: pd.DataFrame) -> Any:
    return zip(table["hole"], table["shot"], strict=True)


def _by_shot(table: pd.DataFrame) -> dict[tuple[int, int], Any]:
    return {
        (hole, whole(row["shot"]) or 0): row for hole, rows in rows_by_hole(table).items() for row in rows
    }
