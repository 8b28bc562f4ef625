"""The library: one SQLite file with a player's rounds, or a coach's players, kept with what they were rebuilt from."""

from __future__ import annotations

from trackgolf.library.coaching import (
    add_player_note,
    read_player_notes,
    read_set_plans,
    remove_player_note,
    set_plan,
    unset_plan,
)
from trackgolf.library.find import current_bag, read_players
from trackgolf.library.opening import default_path, library_faults, open_library
from trackgolf.library.read import read_comparisons, read_holes, read_round, read_rounds, read_shots

__all__ = [
    "add_player_note",
    "current_bag",
    "default_path",
    "library_faults",
    "open_library",
    "read_comparisons",
    "read_holes",
    "read_player_notes",
    "read_players",
    "read_round",
    "read_rounds",
    "read_set_plans",
    "read_shots",
    "remove_player_note",
    "set_plan",
    "unset_plan",
]
