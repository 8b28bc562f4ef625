"""Strokes by cause: where a round gained and lost against personal par."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from reports.bundles import RoundTables, layup_rows

__all__ = ["Cause", "strokes_by_cause"]

_NEEDED = ["strokes", "personal_par", "regulation_shots", "shots", "putts"]


@dataclass(frozen=True, slots=True)
class Cause:
    """
    What one cause cost on a round.

    Parameters
    ----------
    key : str
        ``penalties``, ``layups`` (more shots to the green than regulation, on
        holes where a layup finished outside its tolerance), ``to_green`` (the
        same where none did), ``putts`` (more than personal par allows),
        ``fewer_shots`` or ``fewer_putts``.
    strokes : int
        Strokes against personal par; what was saved is negative.
    holes : tuple of int
        Where.
    """

    key: str
    strokes: int
    holes: tuple[int, ...]


def strokes_by_cause(tables: RoundTables) -> tuple[tuple[Cause, ...], int]:
    """
    Split strokes against personal par by what they went on.

    Parameters
    ----------
    tables : RoundTables
        The round.

    Returns
    -------
    causes : tuple of Cause
        Those that cost or saved anything, what cost most first. Their sum is
        the strokes against personal par on the holes counted.
    holes : int
        How many holes were counted: those with a score, putts and a personal par.

    Notes
    -----
    Personal par is regulation to the green and the putts that leaves, two as
    a rule. So on every hole strokes less personal par are the shots beyond
    regulation, the putts beyond those, and the penalty strokes. That a layup
    off its target caused the further shot of its hole is likely, not certain.
    """
    known = tables.holes.dropna(subset=_NEEDED)
    layups = layup_rows(tables.comparison, tables.plan)
    missed = set(layups.loc[layups["within_tolerance"] == "no", "hole"].dropna().astype(int))
    found: dict[str, dict[int, int]] = {}
    for row in known.to_dict("records"):
        hole = int(row["hole"])
        penalties = 0 if pd.isna(row["penalties"]) else int(row["penalties"])
        shots = int(row["shots"]) - int(row["regulation_shots"])
        # What the card has besides shots and putts are penalty strokes.
        putts = int(row["strokes"]) - int(row["personal_par"]) - shots - penalties
        more = "layups" if hole in missed else "to_green"
        parts = {
            "penalties": penalties,
            more: max(shots, 0),
            "fewer_shots": min(shots, 0),
            "putts": max(putts, 0),
            "fewer_putts": min(putts, 0),
        }
        for key, strokes in parts.items():
            if strokes:
                found.setdefault(key, {})[hole] = strokes
    causes = [Cause(key, sum(holes.values()), tuple(sorted(holes))) for key, holes in found.items()]
    return tuple(sorted(causes, key=lambda cause: (-cause.strokes, cause.key))), len(known)
