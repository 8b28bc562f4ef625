"""The library: one SQLite file with a player's rounds, or a coach's players, kept with what they were rebuilt from."""

from __future__ import annotations

from trackgolf.library.find import current_bag, read_players
from trackgolf.library.opening import default_path, library_faults, open_library
from trackgolf.library.read import read_comparisons, read_holes, read_round, read_rounds, read_shots

__all__ = [
    "current_bag",
    "default_path",
    "library_faults",
    "open_library",
    "read_comparisons",
    "read_holes",
    "read_players",
    "read_round",
    "read_rounds",
    "read_shots",
]
