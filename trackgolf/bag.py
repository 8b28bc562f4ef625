"""The bag: a player's clubs and the distances they like, from a TOML file."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Literal

from geo.errors import raise_faults
from geo.units import YARD_M
from trackgolf.bag_priors import PART_SWING_MISHIT_SHARE, club_prior
from trackgolf.club_names import find_club_name, parse_club_name, plain_name
from trackgolf.errors import BagError
from trackgolf.toml_table import TomlTable, read_toml

__all__ = ["Approach", "Bag", "Club", "PartSwing", "read_bag"]

# Source: Rules of Golf 2023, 4.1b(1): a player starts with no more than 14 clubs.
_MOST_CLUBS = 14
# No golfer carries a ball farther; the longest drivers of the world reach about this. Common practice, no source.
_LONGEST_CARRY_M = 380.0
# Above this, a golfer who plans layups has probably mixed up yards and metres. Common practice, no source:
# beyond what tour players carry.
_DOUBTFUL_CARRY_M = 290.0
_SHORTEST_CARRY_M = 5.0
# A preferred distance may be a little beyond what the club goes in all: people round.
_ROUNDING_SHARE = 0.05
# Clubs taken for preferred distances where the bag names none: full swings of what carries no more than this.
# Common practice, no source: a comfortable distance is a full wedge or short iron.
_FULL_WEDGE_M = 120 * YARD_M

_TOP_KEYS = ("units", "player", "club", "approach", "part_swing")
_PLAYER_KEYS = ("name", "target_score", "playing_handicap")
_CLUB_KEYS = ("name", "carry", "roll", "spread_long", "spread_side", "mishit_share", "avoid")
_APPROACH_KEYS = ("club", "distance")
# What a note calls a key of the file.
_PLAIN_WORDS = {
    "mishit_share": "how often a shot goes wrong",
    "spread_long": "spread along the line",
    "spread_side": "spread across it",
}
_PART_SWING_KEYS = ("club", "from", "to", "mishit_share")


@dataclass(frozen=True, slots=True)
class Club:
    """
    One club of a bag.

    Attributes
    ----------
    name : str
        Its name as the bag has it.
    carry_m, roll_m : float
        How far a good strike flies, and how far it rolls after that [m].
    spread_long_m, spread_side_m : float
        One standard deviation along the line and across it [m].
    mishit_share : float
        Share of strikes that go far wrong, in [0, 1).
    avoid : bool
        Whether the player would rather not use it.
    assumed : tuple of str
        Fields that the bag left out and priors filled in.
    """

    name: str
    carry_m: float
    roll_m: float
    spread_long_m: float
    spread_side_m: float
    mishit_share: float
    avoid: bool = False
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        lengths = (self.carry_m, self.roll_m, self.spread_long_m, self.spread_side_m)
        if not all(math.isfinite(length_m) and length_m >= 0 for length_m in lengths) or self.carry_m == 0:
            raise BagError(f"the lengths of {self.name!r} are not all positive")

    @property
    def distance_m(self) -> float:
        """Carry and roll: where a good strike comes to rest [m]."""
        return self.carry_m + self.roll_m


@dataclass(frozen=True, slots=True)
class Approach:
    """
    A distance into the green that the player likes.

    Attributes
    ----------
    club : str
        Name of the club, as the bag has it.
    distance_m : float
        From where the ball is played to where it comes to rest [m].
    """

    club: str
    distance_m: float


@dataclass(frozen=True, slots=True)
class PartSwing:
    """
    Swings shorter than a club's full one.

    Attributes
    ----------
    club : str
        Name of the club, as the bag has it.
    from_m, to_m : float
        Shortest and longest distance the player hits so [m].
    mishit_share : float
        Share of them that go far wrong, in [0, 1).
    """

    club: str
    from_m: float
    to_m: float
    mishit_share: float


@dataclass(frozen=True, slots=True)
class Bag:
    """
    What a player carries and likes.

    Attributes
    ----------
    player : str
        The player's name.
    units : {"yd", "m"}
        What the player thinks in.
    target_score : int or None
        Strokes the player wants to go round in.
    playing_handicap : float or None
        Strokes received for the round; negative for a plus player.
    clubs : tuple of Club
        In the order of the file.
    approaches : tuple of Approach
        Preferred distances into the green, best first.
    part_swings : tuple of PartSwing
        Shorter swings the player has.
    warnings : tuple of str
        What was doubtful or filled in when the file was read.
    invented : bool
        Whether the file says that the player is invented.
    """

    player: str
    units: Literal["yd", "m"]
    target_score: int | None
    playing_handicap: float | None
    clubs: tuple[Club, ...]
    approaches: tuple[Approach, ...] = ()
    part_swings: tuple[PartSwing, ...] = ()
    warnings: tuple[str, ...] = ()
    invented: bool = False

    def find_club(self, text: str) -> Club | None:
        """
        Find the club that a written name means.

        Parameters
        ----------
        text : str
            A name as golfers write them, such as ``"8i"`` or ``"PW"``.

        Returns
        -------
        Club or None
            The one club it can mean; None where it means none or several.
        """
        name = find_club_name(text, [club.name for club in self.clubs])
        return next((club for club in self.clubs if club.name == name), None)


def read_bag(path: str | os.PathLike[str]) -> Bag:
    """
    Read a bag file.

    Parameters
    ----------
    path : str or os.PathLike
        A TOML file: ``units``, ``[player]``, ``[[club]]``, ``[[approach]]``,
        ``[[part_swing]]``.

    Returns
    -------
    Bag
        Lengths in metres; what the file leaves out is filled in and named in
        `Club.assumed` and in the warnings.

    Raises
    ------
    BagError
        With all faults of the file and where each is.
    """
    values, text = read_toml(path, BagError, "bag")
    faults: list[str] = []
    warnings: list[str] = []
    top = TomlTable(values, "", faults, warnings)
    top.check_keys(_TOP_KEYS)
    units = _units(top)
    unit_m = YARD_M if units == "yd" else 1.0

    player, target_score, playing_handicap = _player(top, text)
    clubs = _clubs(top, unit_m, units)
    bag = Bag(player, units, target_score, playing_handicap, clubs)
    approaches = _approaches(top, bag, unit_m)
    part_swings = _part_swings(top, bag, unit_m)
    raise_faults(BagError, faults, str(path))

    if not approaches:
        approaches = _full_wedges(clubs)
        listed = ", ".join(f"{a.club} {a.distance_m / unit_m:.0f} {units}" for a in approaches)
        warnings.append(f"no [[approach]] distances: full swings are taken as preferred ({listed})")
    filled = [club.name for club in clubs if club.assumed]
    if filled:
        fields = [name for name in _CLUB_KEYS if any(name in club.assumed for club in clubs)]
        told = ", ".join(_PLAIN_WORDS.get(name, name) for name in fields)
        warnings.append(f"filled in from general experience: {told} (of {', '.join(filled)})")
    return Bag(
        player,
        units,
        target_score,
        playing_handicap,
        clubs,
        approaches,
        part_swings,
        tuple(warnings),
        invented=text.lstrip("\ufeff \n\r").lower().startswith("# invented"),
    )


def _units(top: TomlTable) -> Literal["yd", "m"]:
    """Read the unit; without one no length means anything."""
    said = top.values.get("units")
    if said is None:
        top.fault('no units: begin with units = "yd" or units = "m", for every length in the file')
    elif said not in ("yd", "m"):
        top.fault(f'units = {repr(said)[:20]} is neither "yd" nor "m"')
    return "m" if said == "m" else "yd"


def _player(top: TomlTable, text: str) -> tuple[str, int | None, float | None]:
    """Read the player's table."""
    values = top.values.get("player", {})
    if not isinstance(values, dict):
        top.fault("player must be a table, begun by [player]")
        values = {}
    table = TomlTable(values, "player", top.faults, top.warnings)
    table.check_keys(_PLAYER_KEYS)
    name = table.text("name")
    if "name" not in values:
        table.warn("no name: called 'Player'")
    if re.search(r"(?m)^\s*playing_handicap\s*=\s*\+", text):
        table.fault(
            "playing_handicap with a plus sign: write 2 for two strokes received, -2 for a plus player"
        )
    target_score = table.number("target_score", 18, 200, "it is the strokes of a whole round")
    if target_score is not None and target_score != int(target_score):
        table.fault(f"target_score = {target_score:g} is not a whole number")
    playing_handicap = table.number(
        "playing_handicap", -20, 60, "it is the strokes received, negative for plus"
    )
    if target_score is not None and playing_handicap is not None:
        table.fault("both target_score and playing_handicap: give one of them")
    return name or "Player", None if target_score is None else int(target_score), playing_handicap


def _clubs(top: TomlTable, unit_m: float, units: str) -> tuple[Club, ...]:
    """Read all clubs; what is faulty is noted and left out."""
    clubs: list[Club] = []
    tables = top.tables("club")
    if not tables and "club" not in top.values:
        top.fault("no clubs: give at least one [[club]] with name and carry")
    seen: dict[object, str] = {}
    for position, values in enumerate(tables, start=1):
        said = values.get("name")
        where = f"club {position} ({said[:40]!r})" if isinstance(said, str) else f"club {position}"
        table = TomlTable(values, where, top.faults, top.warnings)
        table.check_keys(_CLUB_KEYS)
        name = table.text("name")
        if name is None:
            if said is None:
                table.fault("no name")
            continue
        parsed = parse_club_name(name)
        if parsed is not None and parsed.kind == "putter":
            table.warn("a putter needs no entry and is passed over")
            continue
        first = seen.get(plain_name(name)) or seen.get(parsed)
        if first is not None:
            table.fault(f"this club is there twice, before as {first!r}: every name once")
            continue
        seen[plain_name(name)] = name
        if parsed is not None:
            seen[parsed] = name
        club = _club(table, name, unit_m, units)
        if club is not None:
            clubs.append(club)
    if tables and not clubs and not top.faults:
        top.fault("no clubs but a putter: give at least one [[club]] with name and carry")
    if len(clubs) > _MOST_CLUBS:
        top.warn(f"{len(clubs)} clubs; the Rules of Golf allow {_MOST_CLUBS} in a round")
    doubtful = [club.name for club in clubs if club.carry_m > _DOUBTFUL_CARRY_M]
    if doubtful:
        top.warn(f"{', '.join(doubtful)} carries farther than tour players do: is units = {units!r} right?")
    return tuple(clubs)


def _club(table: TomlTable, name: str, unit_m: float, units: str) -> Club | None:
    """Read one club's numbers and fill in what is silent."""
    longest = math.floor(_LONGEST_CARRY_M / unit_m)
    carry = table.number(
        "carry",
        _SHORTEST_CARRY_M,
        longest,
        f"lengths are in {units} here, feet or another unit will not do",
    )
    if carry is None:
        if "carry" not in table.values:
            table.fault("no carry")
        return None
    roll = table.number("roll", 0, carry, "roll is what comes after the carry")
    spread_long = table.number("spread_long", 0.5, carry, "it is one standard deviation of the distance")
    spread_side = table.number("spread_side", 0.5, carry, "it is one standard deviation to the side")
    mishit_share = table.number("mishit_share", 0, 0.95, "it is a share, 0.1 for one in ten")
    avoid = table.flag("avoid")

    prior = club_prior(name, carry * unit_m)
    assumed = tuple(
        key for key in ("roll", "spread_long", "spread_side", "mishit_share") if key not in table.values
    )
    roll = carry * prior.roll_share if roll is None else roll
    distance = carry + roll
    return Club(
        name,
        carry * unit_m,
        roll * unit_m,
        (distance * prior.long_share if spread_long is None else spread_long) * unit_m,
        (distance * prior.side_share if spread_side is None else spread_side) * unit_m,
        prior.mishit_share if mishit_share is None else mishit_share,
        avoid,
        assumed,
    )


def _named_club(table: TomlTable, bag: Bag) -> Club | None:
    """Find the club that an approach or part swing names."""
    said = table.text("club")
    if said is None:
        if "club" not in table.values:
            table.fault("no club")
        return None
    club = bag.find_club(said)
    if club is None:
        table.fault(f"no single club of this bag is meant by {said!r} ({_listed(bag)})")
    return club


def _listed(bag: Bag) -> str:
    """Name the clubs of a bag for a message."""
    return ", ".join(club.name for club in bag.clubs) or "it has no usable clubs"


def _club_tables(
    top: TomlTable, name: str, keys: Collection[str], bag: Bag
) -> Iterator[tuple[TomlTable, Club]]:
    """Give the tables of one name with the club each is about; a table about no club is a fault."""
    for position, values in enumerate(top.tables(name), start=1):
        table = TomlTable(values, f"{name} {position}", top.faults, top.warnings)
        table.check_keys(keys)
        club = _named_club(table, bag)
        if club is not None:
            yield table, club


def _reach(club: Club, unit_m: float) -> float:
    """Say how far a distance for a club may go, in the file's unit."""
    return math.ceil(club.distance_m * (1 + _ROUNDING_SHARE) / unit_m)


def _approaches(top: TomlTable, bag: Bag, unit_m: float) -> tuple[Approach, ...]:
    """Read the preferred distances."""
    approaches = []
    for table, club in _club_tables(top, "approach", _APPROACH_KEYS, bag):
        whole = club.distance_m / unit_m
        distance = table.number(
            "distance", 1, _reach(club, unit_m), f"{club.name} goes {whole:.0f} {bag.units} with its roll"
        )
        if distance is None:
            if "distance" not in table.values:
                table.fault("no distance")
            continue
        if distance > whole:
            table.warn(
                f"{club.name} goes {whole:.0f} {bag.units} with its roll, not {distance:g}: planned so"
            )
        approaches.append(Approach(club.name, min(distance, whole) * unit_m))
    return tuple(approaches)


def _part_swings(top: TomlTable, bag: Bag, unit_m: float) -> tuple[PartSwing, ...]:
    """Read the shorter swings."""
    part_swings = []
    for table, club in _club_tables(top, "part_swing", _PART_SWING_KEYS, bag):
        reach = _reach(club, unit_m)
        hint = f"{club.name} goes {club.distance_m / unit_m:.0f} {bag.units} with its roll"
        shortest = table.number("from", 0, reach, hint)
        longest = table.number("to", 1, reach, hint)
        share = table.number("mishit_share", 0, 0.95, "it is a share, 0.3 for three in ten")
        for key in ("from", "to"):
            if key not in table.values:
                table.fault(f"no {key!r}")
        if shortest is None or longest is None:
            continue
        if shortest >= longest:
            table.fault(f"from {shortest:g} to {longest:g} is no range")
            continue
        part_swings.append(
            PartSwing(
                club.name,
                shortest * unit_m,
                min(longest * unit_m, club.distance_m),
                PART_SWING_MISHIT_SHARE if share is None else share,
            )
        )
    return tuple(part_swings)


def _full_wedges(clubs: tuple[Club, ...]) -> tuple[Approach, ...]:
    """Take full swings of the short clubs for preferred distances, the longest first."""
    by_distance = sorted(clubs, key=lambda club: club.distance_m)
    short = [club for club in by_distance if club.distance_m <= _FULL_WEDGE_M and not club.avoid]
    chosen = short[-3:][::-1] or by_distance[:1]
    return tuple(Approach(club.name, club.distance_m) for club in chosen)
