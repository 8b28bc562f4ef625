"""A course as the plain tables that `reports` draws."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd

from trackgolf.course import Course

__all__ = ["course_lines", "course_shapes"]


def course_shapes(course: Course) -> gpd.GeoDataFrame:
    """
    List what a map shows of a course.

    Parameters
    ----------
    course : Course
        The course.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns ``kind``, ``hole`` (Int64) and ``geometry`` in EPSG:4326: its
        shapes, then the pin of each hole, then greens that no shape shows.
    """
    shown = course.shapes[["kind", "hole", "geometry"]]
    greens = set(shown.loc[shown["kind"] == "green", "hole"].dropna())
    extra: list[tuple[str, int, Any]] = [
        ("pin", hole.number, hole.pin) for hole in course.holes if hole.pin is not None
    ]
    extra += [
        ("green", hole.number, hole.green)
        for hole in course.holes
        if hole.green is not None and hole.number not in greens
    ]
    added = gpd.GeoDataFrame(
        {
            "kind": [kind for kind, _, _ in extra],
            "hole": pd.array([number for _, number, _ in extra], dtype="Int64"),
        },
        geometry=[geometry for _, _, geometry in extra],
        crs="EPSG:4326",
    )
    parts = [part for part in (shown, added) if len(part)]
    if not parts:
        return added
    return gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), crs="EPSG:4326")


def course_lines(course: Course) -> gpd.GeoDataFrame:
    """
    List the lines of play of a course.

    Parameters
    ----------
    course : Course
        The course.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns ``hole`` (Int64) and ``geometry`` in EPSG:4326, a row for each
        hole that has a line.
    """
    holes = [hole for hole in course.holes if hole.line is not None]
    numbers = pd.array([hole.number for hole in holes], dtype="Int64")
    return gpd.GeoDataFrame({"hole": numbers}, geometry=[hole.line for hole in holes], crs="EPSG:4326")
