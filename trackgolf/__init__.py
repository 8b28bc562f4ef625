"""
Plan a round from green to tee, rebuild it from a GPX track, compare the two.

What is listed in ``__all__`` is meant to be imported, with ``import trackgolf``. Each name is looked up when it is
first used, so that the command line starts at once and nobody waits for what he does not need.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from geo.errors import InputError
    from geo.track import Track, read_tracks
    from reports.page import round_report
    from trackgolf.bag import Bag, Club, read_bag
    from trackgolf.card import read_card
    from trackgolf.compare import compare_round
    from trackgolf.corrections import Corrections, read_corrections
    from trackgolf.course import Course, Hole, course_from_scorecard, read_course
    from trackgolf.guess_round import reconstruct_unmapped
    from trackgolf.learn.approaches import learn_approaches
    from trackgolf.learn.carries import Carries, learn_carries
    from trackgolf.learn.many_rounds import ManyRounds, read_folders, read_library
    from trackgolf.library.opening import open_library
    from trackgolf.library.read import read_comparisons, read_holes, read_rounds, read_shots
    from trackgolf.plan import Plan, plan_round
    from trackgolf.plan_file import read_plan, write_plan, write_plan_gpx
    from trackgolf.reconstruct import Round
    from trackgolf.reconstruct import reconstruct as reconstruct_round
    from trackgolf.round_files import shots_geojson, write_round
    from trackgolf.schemas import output_schema
    from trackgolf.scorecard import read_scorecard
    from trackgolf.tables import round_tables

__all__ = [
    "Bag",
    "Carries",
    "Club",
    "Corrections",
    "Course",
    "Hole",
    "InputError",
    "ManyRounds",
    "Plan",
    "Round",
    "Track",
    "compare_round",
    "course_from_scorecard",
    "learn_approaches",
    "learn_carries",
    "open_library",
    "output_schema",
    "plan_round",
    "read_bag",
    "read_card",
    "read_comparisons",
    "read_corrections",
    "read_course",
    "read_folders",
    "read_holes",
    "read_library",
    "read_plan",
    "read_rounds",
    "read_scorecard",
    "read_shots",
    "read_tracks",
    "reconstruct_round",
    "reconstruct_unmapped",
    "round_report",
    "round_tables",
    "shots_geojson",
    "write_plan",
    "write_plan_gpx",
    "write_round",
]

# The module of each name. `reconstruct` is that of a module here, so its function is called otherwise.
_HOMES = {
    "geo.errors": ("InputError",),
    "geo.track": ("Track", "read_tracks"),
    "reports.page": ("round_report",),
    "trackgolf.bag": ("Bag", "Club", "read_bag"),
    "trackgolf.card": ("read_card",),
    "trackgolf.compare": ("compare_round",),
    "trackgolf.corrections": ("Corrections", "read_corrections"),
    "trackgolf.course": ("Course", "Hole", "course_from_scorecard", "read_course"),
    "trackgolf.guess_round": ("reconstruct_unmapped",),
    "trackgolf.learn.approaches": ("learn_approaches",),
    "trackgolf.learn.carries": ("Carries", "learn_carries"),
    "trackgolf.learn.many_rounds": ("ManyRounds", "read_folders", "read_library"),
    "trackgolf.library.opening": ("open_library",),
    "trackgolf.library.read": ("read_comparisons", "read_holes", "read_rounds", "read_shots"),
    "trackgolf.plan": ("Plan", "plan_round"),
    "trackgolf.plan_file": ("read_plan", "write_plan", "write_plan_gpx"),
    "trackgolf.reconstruct": ("Round", "reconstruct_round"),
    "trackgolf.round_files": ("shots_geojson", "write_round"),
    "trackgolf.schemas": ("output_schema",),
    "trackgolf.scorecard": ("read_scorecard",),
    "trackgolf.tables": ("round_tables",),
}
_CALLED = {"reconstruct_round": "reconstruct"}


def __getattr__(name: str) -> object:
    for home, names in _HOMES.items():
        if name in names:
            found: object = getattr(importlib.import_module(home), _CALLED.get(name, name))
            globals()[name] = found
            return found
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
