"""A plan for eyes: the tables that `reports` draws, and the cautions that stand with it."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from reports.bundles import PlanTables
from trackgolf.bag import Bag
from trackgolf.course import Course
from trackgolf.personal_par import personal_pars
from trackgolf.plan import Plan
from trackgolf.tables_course import course_lines, course_shapes

__all__ = ["PLAN_CAUTIONS", "plan_holes", "plan_tables"]

# Source: Rules of Golf 2023, 1.2 (randa.org, spirit of the game), 5.7a and b, 4.3a(1) and (3); R&A, Guidance on
# Running a Competition, App. H; US National Weather Service, lightning safety (30 minutes); policies of clubs on heat. In our own words.
PLAN_CAUTIONS = (
    "A target is no sign that it is safe to play: wait until everybody ahead is out of range; shout Fore! if need be.",
    "Lightning: stop, go into a closed building or a car, stay in until 30 minutes after the last thunder.",
    "Heat: drink water, keep to the shade, follow the policy of the club.",
    "Rule 4.3a: reading a plan made before the round is allowed, a device that recommends a line or club is not.",
    "A Local Rule may forbid devices; the committee decides.",
)


def plan_tables(plan: Plan, course: Course, bag: Bag) -> PlanTables:
    """
    Turn a plan into the tables that `reports.page.plan_page` draws.

    Parameters
    ----------
    plan : Plan
        The plan.
    course : Course
        The course it is for.
    bag : Bag
        The bag it was made with.

    Returns
    -------
    PlanTables
        The tables; without positions there is nothing on the map.
    """
    holes = plan_holes(course, bag)
    for column in ("shots", "putts", "penalties", "strokes"):
        holes[column] = pd.array([pd.NA] * len(holes), dtype="Int64")
    holes["note"] = [_notes_of(plan, number) for number in holes["hole"]]
    notes = [("mended", text) for text in course.warnings] + [("assumed", text) for text in bag.warnings]
    notes += [("doubted", note) for note in plan.notes if not note.startswith("Hole ")]
    table = plan.shots.rename_axis(index=None).reset_index(drop=True)
    return PlanTables(
        {
            "player": bag.player,
            "course": course.name,
            "units": bag.units,
            "credit": course.credit,
            "invented": bool(course.invented or bag.invented),
        },
        holes,
        gpd.GeoDataFrame(table, geometry=_lines(plan.shots), crs="EPSG:4326"),
        pd.DataFrame(
            {
                "kind": [kind for kind, _ in notes],
                "hole": pd.array([pd.NA] * len(notes), dtype="Int64"),
                "text": [text for _, text in notes],
            }
        ),
        course_shapes(course),
        course_lines(course),
    )


def plan_holes(course: Course, bag: Bag) -> pd.DataFrame:
    """
    Put personal par and lengths of the holes into one table.

    Parameters
    ----------
    course : Course
        The course.
    bag : Bag
        The bag with target or handicap.

    Returns
    -------
    pandas.DataFrame
        As `personal_pars` gives, with ``length_m``.
    """
    holes = personal_pars(course.holes, target_score=bag.target_score, playing_handicap=bag.playing_handicap)
    holes["length_m"] = [hole.length_m for hole in course.holes]
    return holes


def _notes_of(plan: Plan, number: int) -> str:
    """Join the notes of one hole, without its number, which stands above them."""
    notes = []
    for note in plan.notes:
        for before in (f"Hole {number}: ", f"Hole {number}, "):
            if note.startswith(before):
                said = note[len(before) :]
                notes.append(said[:1].upper() + said[1:])
    return ". ".join(notes)


def _lines(shots: pd.DataFrame) -> list[Any]:
    """Draw each shot that has positions as a line."""
    columns = ["start_lon_deg", "start_lat_deg", "target_lon_deg", "target_lat_deg"]
    ends = shots[columns].to_numpy(dtype=float).reshape(-1, 2, 2)
    return [None if pd.isna(pair).any() else shapely.linestrings(pair) for pair in ends]
