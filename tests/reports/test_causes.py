from __future__ import annotations

import dataclasses

import pandas as pd

from reports.causes import strokes_by_cause


def with_holes(tables, rows, missed=()):
    """A round of the given holes; on the missed ones the layups finished outside their tolerance."""
    columns = ["hole", "personal_par", "regulation_shots", "shots", "putts", "penalties", "strokes"]
    holes = pd.DataFrame(rows, columns=columns).assign(par=4, stroke_index=1, length_m=300.0, note="")
    table = tables.comparison
    verdicts = ["no" if hole in missed else "yes" for hole in table["hole"]]
    return dataclasses.replace(tables, holes=holes, comparison=table.assign(within_tolerance=verdicts))


class TestStrokesByCause:
    def test_each_stroke_has_one_cause(self, round_tables):
        # Derived by hand: hole 1 is one shot over regulation after a missed layup, hole 2 one over without,
        # hole 4 has three putts, hole 5 a penalty, hole 6 one shot and one putt saved.
        rows = [
            (1, 6, 4, 5, 2, 0, 7),
            (2, 6, 4, 5, 2, 0, 7),
            (4, 6, 4, 4, 3, 0, 7),
            (5, 6, 4, 4, 2, 1, 7),
            (6, 6, 4, 3, 1, 0, 4),
        ]
        causes, counted = strokes_by_cause(with_holes(round_tables, rows, missed={1}))
        assert counted == 5
        assert {cause.key: (cause.strokes, cause.holes) for cause in causes} == {
            "layups": (1, (1,)),
            "to_green": (1, (2,)),
            "putts": (1, (4,)),
            "penalties": (1, (5,)),
            "fewer_shots": (-1, (6,)),
            "fewer_putts": (-1, (6,)),
        }

    def test_what_cost_most_comes_first(self, round_tables):
        rows = [(1, 6, 4, 4, 3, 0, 7), (2, 6, 4, 7, 2, 0, 9), (4, 6, 4, 4, 1, 0, 5)]
        causes, _ = strokes_by_cause(with_holes(round_tables, rows))
        assert [cause.key for cause in causes] == ["to_green", "putts", "fewer_putts"]

    def test_the_sum_is_the_score_against_personal_par(self, round_tables):
        # Derived: strokes are shots, putts and penalties; personal par is regulation and the putts it leaves.
        scored = round_tables.holes.dropna(subset=["strokes"])
        causes, counted = strokes_by_cause(round_tables)
        assert counted == len(scored) == 17
        against = int((scored["strokes"] - scored["personal_par"]).sum())
        assert sum(cause.strokes for cause in causes) == against

    def test_a_personal_par_of_two_leaves_one_putt(self, round_tables):
        # Derived: regulation is one shot at least, so of a personal par of 2 one putt is left; two are one more.
        causes, _ = strokes_by_cause(with_holes(round_tables, [(1, 2, 1, 1, 2, 0, 3)]))
        assert [(cause.key, cause.strokes) for cause in causes] == [("putts", 1)]

    def test_holes_without_a_score_are_left_out(self, round_tables):
        causes, counted = strokes_by_cause(with_holes(round_tables, [(1, 6, 4, 5, None, 0, None)]))
        assert (causes, counted) == ((), 0)
