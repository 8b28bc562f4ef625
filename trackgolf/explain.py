"""The decoder's story of a hole in words: every stop, what it was taken for, how surely, and what spoke for it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geo.units import to_yards
from trackgolf.doubts import find_doubts
from trackgolf.errors import InputError
from trackgolf.evidence import (
    Shooter,
    flight_log_density,
    green_score,
    other_log_density,
    tee_score,
)
from trackgolf.ground import HoleGround
from trackgolf.reconstruct import Round
from trackgolf.settings import RoundSettings
from trackgolf.time_zone import zone_named

__all__ = ["CLUB_SOURCES", "explain_hole", "many"]

Floats = NDArray[np.float64]

_SETTINGS = RoundSettings()
# Stops before the first stroke that belong to the story: the wait on the tee [s].
_BEFORE_S = 120.0
# Ratios nearer to one than this tell nothing, and beyond the other are all the same to a reader.
_TELLING, _OVERWHELMING = 1.5, 1000.0
# What named a club, for people.
CLUB_SOURCES = {
    "marked": "by your mark",
    "card": "by the card",
    "corrected": "as you corrected it",
    "inferred": "by the distance",
    "plan": "only because the plan says so",
}


def explain_hole(played: Round, hole: int, time_zone: str, settings: RoundSettings = _SETTINGS) -> list[str]:
    """
    Tell how the decoder read a hole.

    Parameters
    ----------
    played : Round
        The round.
    hole : int
        Number of the hole.
    time_zone : str
        IANA name of the zone that times are told in.
    settings : RoundSettings, optional
        What the decoder believed.

    Returns
    -------
    list of str
        Lines, each playing of the hole in order of time; lengths in the
        units of the bag.

    Raises
    ------
    InputError
        If the hole was not played, or the course does not have it.
    """
    numbers = [known.number for known in played.course.holes]
    if hole not in numbers:
        raise InputError(f"the course has no hole {hole}", do=f"It has {numbers[0]} to {numbers[-1]}")
    visits = played.holes[played.holes["hole"] == hole]
    if visits.empty:
        raise InputError(f"hole {hole} was not played in this round, as far as the track shows")
    teller = _Teller(played, hole, time_zone, settings)
    lines: list[str] = []
    for row in visits.to_dict("records"):
        lines += [*([""] if lines else []), *teller.visit(row)]
    return lines


class _Teller:
    """Tells one hole; holds what all its sentences need."""

    def __init__(self, played: Round, hole: int, time_zone: str, settings: RoundSettings) -> None:
        self.played = played
        self.settings = settings
        self.units = played.bag.units
        self.zone = zone_named(time_zone)
        self.ground: HoleGround = played.ground.holes[played.ground.hole_index(hole)]
        stands = played.stands
        self.stands = stands
        self.spots: tuple[Floats, Floats, Floats] = (
            stands["east_m"].to_numpy(dtype=float),
            stands["north_m"].to_numpy(dtype=float),
            stands["sigma_m"].to_numpy(dtype=float),
        )
        self.start_s = stands["start_s"].to_numpy(dtype=float)
        self.dwell_s = stands["dwell_s"].to_numpy(dtype=float)
        clubs = played.bag.clubs
        self.shooter = Shooter(
            np.array([club.distance_m for club in clubs]),
            np.array([club.spread_long_m for club in clubs]),
            settings,
        )
        self.stated = {club.name: club.distance_m for club in clubs}

    def visit(self, row: dict[Any, Any]) -> list[str]:
        """Tell one playing of the hole."""
        shots = self.played.shots
        mine = shots[shots["visit"] == row["visit"]]
        of_stand = {
            int(shot["stand"]): shot for shot in mine.to_dict("records") if not pd.isna(shot["stand"])
        }
        lines = [self._head(row)]
        first_s, last_s = (float(row[name].timestamp()) for name in ("first_time", "last_time"))
        there = (self.start_s + self.dwell_s >= first_s - _BEFORE_S) & (self.start_s <= last_s)
        others = shots[shots["visit"] != row["visit"]]
        taken = set(others["stand"].dropna().astype(int))
        before: int | None = None
        on_green: list[int] = []
        green = self._green_stand(mine)
        listed = np.flatnonzero(there).tolist()
        for stand in listed:
            if stand in of_stand:
                told = (
                    self._evidence(stand, before)
                    if before is not None
                    else self._tee_evidence(stand, self._by_tee(stand, listed, taken))
                )
                lines += self._shot(of_stand[stand], stand, told)
                before = stand
            elif green is not None and stand >= green:
                on_green.append(stand)
            elif stand not in taken:
                lines.append(self._other(stand, before))
        lines += self._unseen(mine)
        lines += self._green(on_green, row)
        doubts = (
            find_doubts(mine, self.stands) if len(mine) and mine["stand"].notna().all() else pd.DataFrame()
        )
        lines += [self._doubt(doubt) for doubt in doubts.to_dict("records")]
        if row["note"]:
            lines.append(f"Note: {row['note']}.")
        return lines

    def _head(self, row: dict[Any, Any]) -> str:
        times = f"{self._clock(row['first_time'])} to {self._clock(row['last_time'])}"
        parts = [
            f"Hole {row['hole']}, par {row['par']}, {self._length(row['length_m'])}, played from {times}"
        ]
        if pd.isna(row["strokes"]):
            counted = f"{many(row['shots'], 'shot')}, no score"
        else:
            source = " guessed from the time on the green" if row["putts_source"] == "track" else ""
            counted = f"{many(row['strokes'], 'stroke')}: {many(row['shots'], 'shot')}, {many(row['putts'], 'putt')}{source}"
            if row["penalties"]:
                counted += f", {many(row['penalties'], 'penalty stroke')}"
        allowed = many(row["regulation_shots"], "shot")
        parts.append(f"{counted}; personal par {row['personal_par']} asks for the green in {allowed}")
        return ". ".join(parts) + "."

    def _by_tee(self, stand: int, listed: list[int], taken: set[int]) -> list[int]:
        """Stops that might have been the tee shot instead."""
        far_m = 40.0
        return [
            other
            for other in listed
            if other != stand and other not in taken and self._apart(other, stand) < far_m
        ]

    def _shot(self, shot: dict[str, Any], stand: int, evidence: str) -> list[str]:
        place = "on the tee" if shot["lie"] == "tee" else _lie(shot["lie"])
        left = self._length(shot["leave_before_m"])
        head = (
            f"{self._clock_s(stand)}  stood {self._spell(stand)} {place}, {left} from the hole: "
            f"shot {shot['shot']}, {_surely(shot)}."
        )
        lines = [f"{head} {evidence}"]
        told = []
        if not pd.isna(shot["distance_m"]):
            told.append(f"went {self._length(shot['distance_m'])} and left {self._length(shot['leave_m'])}")
            if shot["detour"]:
                told.append(
                    f"you walked {self._length(shot['path_m'])} to it, a detour that says nothing of the shot"
                )
        elif shot["end_lie"] == "lost":
            told.append("was not played from where it came down: you went back and played again")
        else:
            told.append("where it finished was not seen")
        if shot["club"]:
            known = CLUB_SOURCES.get(shot["club_source"], "")
            stated = self.stated.get(shot["club"])
            chance = f", {shot['club_probability']:.0%}" if shot["club_source"] == "inferred" else ""
            full = "" if stated is None else f" (a full one goes {self._length(stated)} by your bag)"
            told.append(f"club: {shot['club']}, {known}{chance}{full}")
        else:
            told.append("no club of the bag fits it well enough to name one")
        lines.append(f"          It {'; '.join(told)}.")
        return lines

    def _other(self, stand: int, before: int | None) -> str:
        share = float(self.stands["shot_probability"].iloc[stand])
        where = "" if before is None else f", {self._length(self._apart(before, stand))} from the shot before"
        sure = "no shot" if share < 0.005 else f"taken for no shot, though it may be one ({share:.0%})"
        said = "" if before is None else f" {self._evidence(stand, before)}"
        return f"{self._clock_s(stand)}  stood {self._spell(stand)}{where}: {sure}.{said}"

    def _green(self, stands: list[int], row: dict[Any, Any]) -> list[str]:
        if not stands:
            return ["No stop was taken for the green: picked up, or the track lost it."]
        east, north, sigma = (values[stands[:1]] for values in self.spots)
        on = float(np.exp(green_score(self.ground, east, north, sigma)[0][0]))
        spell_s = float(row["last_time"].timestamp()) - self.start_s[stands[0]]
        rest = "" if len(stands) == 1 else f", then {many(len(stands) - 1, 'more stop')}"
        place = f"the first stop on or beside the green ({on:.0%} on it by its place alone)"
        left = f"the hole ends here, {spell_s / 60:.0f} min until you left"
        return [f"{self._clock_s(stands[0])}  {place}{rest}: {left}."]

    def _unseen(self, mine: pd.DataFrame) -> list[str]:
        numbers = set(mine["shot"].tolist())
        missing = [number for number in range(1, max(numbers, default=0) + 1) if number not in numbers]
        return [f"Shot {number} left no stop in the track; it is counted, not drawn." for number in missing]

    def _doubt(self, doubt: dict[Any, Any]) -> str:
        head = f"Doubt about shot {doubt['shot']}: "
        reason = doubt["reason"]
        if reason == "other_stand":
            apart = self._length(doubt["distance_m"])
            return f"{head}another stop {apart} away may have been the stroke ({doubt['share']:.0%})."
        if reason == "within_error":
            return f"{head}it is hardly longer than the error of its two ends, {self._length(doubt['distance_m'])}."
        if reason == "short_stand":
            return f"{head}you stood only {doubt['time_s']:.0f} s."
        return f"{head}there may have been no stroke at all."

    def _evidence(self, stand: int, before: int) -> str:
        """What a stop itself and its place after the shot before say, each as odds for a stroke."""
        itself = float(self.stands["look_shot"].iloc[stand])
        here, there = (tuple(values[[one]] for values in self.spots) for one in (before, stand))
        moved = np.array([self._apart(before, stand)])
        flown = flight_log_density(self.ground, here, there, self.shooter, self.settings)  # type: ignore[arg-type]
        _, off = green_score(self.ground, *there)
        place = float((flown - other_log_density(moved, self.settings) + off)[0])
        return f"A stroke? By the stop itself {_odds(itself)}, by its place {_odds(place)}."

    def _tee_evidence(self, stand: int, others: list[int]) -> str:
        """How much likelier a stop is the tee shot than any other by the tee."""
        if not others:
            return "No other stop lies by the tee."
        rows = [stand, *others]
        score = self.stands["look_tee"].to_numpy()[rows]
        east, north, sigma = (values[rows] for values in self.spots)
        score += tee_score(self.ground, east, north, sigma, self.settings)
        lead = float(score[0] - score[1:].max())
        if lead < 0.0:
            return "By itself another stop by the tee looked likelier; the rest of the round decided."
        return f"Of {len(rows)} stops by the tee it is the likeliest, {_odds(lead).removesuffix(' for').replace('neither way', 'though by little')}."

    def _green_stand(self, mine: pd.DataFrame) -> int | None:
        if mine.empty:
            return None
        last = mine.iloc[-1]
        return (
            int(last["end_stand"])
            if last["end_lie"] in ("green", "holed") and not pd.isna(last["end_stand"])
            else None
        )

    def _apart(self, one: int, two: int) -> float:
        east, north, _ = self.spots
        return math.hypot(east[two] - east[one], north[two] - north[one])

    def _length(self, length_m: Any) -> str:
        if pd.isna(length_m):
            return "an unknown length"
        return f"{to_yards(float(length_m)):.0f} yd" if self.units == "yd" else f"{float(length_m):.0f} m"

    def _spell(self, stand: int) -> str:
        return f"{self.dwell_s[stand]:.0f} s"

    def _clock_s(self, stand: int) -> str:
        return self._clock(pd.Timestamp(self.start_s[stand], unit="s", tz="UTC"))

    def _clock(self, time: pd.Timestamp) -> str:
        return f"{time.tz_convert(self.zone):%H:%M:%S}"


def _lie(lie: str) -> str:
    return {
        "penalty_area": "in a penalty area",
        "bunker": "in a bunker",
        "unknown": "somewhere",
        "green": "on a green",
    }.get(lie, f"on the {lie}" if lie == "fairway" else f"in the {lie.replace('_', ' ')}")


def _odds(score: float) -> str:
    """A log-likelihood ratio as odds that people can read."""
    ratio = math.exp(min(abs(score), 50.0))
    if ratio < _TELLING:
        return "neither way"
    size = f"{ratio:.1f}" if ratio < 10.0 else f"{ratio:.0f}" if ratio < _OVERWHELMING else "1000 or more"
    return f"{size} to 1 {'for' if score > 0 else 'against'}"


def many(count: Any, word: str) -> str:
    """
    Count something in words.

    Parameters
    ----------
    count : int or missing
        How many.
    word : str
        Of what, in the singular.

    Returns
    -------
    str
        The number and the word, in the plural where there is not just one.

    Examples
    --------
    >>> many(1, "shot"), many(2, "putt"), many(None, "putt")
    ('1 shot', '2 putts', 'an unknown number of putts')
    """
    if pd.isna(count):
        return f"an unknown number of {word}s"
    return f"{int(count)} {word}{'' if int(count) == 1 else 's'}"


def _surely(shot: Any) -> str:
    """How sure a shot is; the player's word is not weighed."""
    return "as you say" if shot.get("corrected") is True else f"{shot['confidence']:.0%} sure"
