"""The plan of a course with the bag as stated, and with the bag as measured."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from trackgolf.bag import Bag
from trackgolf.course import Course, read_course
from trackgolf.learn.evidence_tables import compare_plans
from trackgolf.library.materials import read_bag_bytes
from trackgolf.plan import plan_round

__all__ = ["plan_before_and_after", "plan_with_both"]


def plan_before_and_after(course_path: Path, tee: str | None, bag: Bag, measured: str) -> pd.DataFrame:
    """
    Plan a course twice, with the bag as stated and as measured.

    Parameters
    ----------
    course_path : pathlib.Path
        The course.
    tee : str or None
        The tee.
    bag : Bag
        The bag as stated.
    measured : str
        The text of the measured bag, as `trackgolf.learn.bag_write.bag_text` makes it.

    Returns
    -------
    pandas.DataFrame
        As `trackgolf.learn.evidence_tables.compare_plans` makes it.

    Raises
    ------
    InputError
        If the course cannot be read or planned.
    """
    return plan_with_both(read_course(course_path, tee=tee), bag, measured)


def plan_with_both(course: Course, bag: Bag, measured: str) -> pd.DataFrame:
    """
    Plan a course that was read already, with the bag as stated and as measured.

    Parameters
    ----------
    course : Course
        The course.
    bag, measured
        As in `plan_before_and_after`.

    Returns
    -------
    pandas.DataFrame
        As there.

    Raises
    ------
    InputError
        If the course cannot be planned.
    """
    after = read_bag_bytes(measured.encode("utf-8"))
    return compare_plans(plan_round(course, bag).shots, plan_round(course, after).shots)
