"""Personal par against the Rules of Handicapping."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackgolf.course import Hole
from trackgolf.errors import BagError, CourseError
from trackgolf.personal_par import personal_pars, round_half_up


def holes_with(pars, indexes):
    return [
        Hole(number, par, index, 300.0)
        for number, (par, index) in enumerate(zip(pars, indexes, strict=True), start=1)
    ]


def invented_eighteen(par=4):
    # The indexes in an order that is not the order of the holes.
    return holes_with([par] * 18, [(5 * number) % 19 for number in range(1, 19)])


def strokes_on(holes, playing_handicap):
    table = personal_pars(holes, playing_handicap=playing_handicap)
    return dict(zip(table["stroke_index"], table["strokes_received"], strict=True))


class TestAllocation:
    # Source: Rules of Handicapping, Appendix E (randa.org, roh/appendices/appendix-e): every hole floor(H/18), one
    # more where the index is at most H mod 18; 14 and 24 also printed in the USGA FAQ on stroke index allocation.
    @pytest.mark.parametrize(
        ("handicap", "first", "on_first", "elsewhere"),
        [
            (14, 14, 1, 0),
            (24, 6, 2, 1),
            (27, 9, 2, 1),
            (36, 18, 2, 2),
            (40, 4, 3, 2),
            (54, 18, 3, 3),
            (0, 0, 0, 0),
        ],
    )
    def test_rows_of_appendix_e(self, handicap, first, on_first, elsewhere):
        strokes = strokes_on(invented_eighteen(), handicap)
        assert strokes == {index: on_first if index <= first else elsewhere for index in range(1, 19)}

    # Source: Rules of Handicapping, Appendix E: plus players give strokes back from stroke index 18 upwards.
    @pytest.mark.parametrize("plus", range(1, 11))
    def test_plus_players_give_back_from_eighteen(self, plus):
        strokes = strokes_on(invented_eighteen(), -plus)
        assert strokes == {index: -1 if index > 18 - plus else 0 for index in range(1, 19)}

    @pytest.mark.parametrize("handicap", range(-10, 55))
    def test_strokes_add_up(self, handicap):
        # Source: Rules of Handicapping, Appendix E: the strokes received are the playing handicap.
        assert sum(strokes_on(invented_eighteen(), handicap).values()) == handicap

    # Source: Rules of Handicapping, Rule 6.1 and 6.2: whole number, .5 rounded upwards, so -2.5 gives -2.
    @pytest.mark.parametrize(
        ("exact", "whole"), [(-2.5, -2), (2.5, 3), (6.9, 7), (26.113, 26), (54.4, 54), (-0.5, 0)]
    )
    def test_rounding(self, exact, whole):
        assert round_half_up(exact) == whole
        assert sum(strokes_on(invented_eighteen(), exact).values()) == whole

    @given(st.permutations(range(1, 19)), st.integers(-10, 54))
    def test_a_harder_hole_never_receives_less(self, indexes, handicap):
        strokes = strokes_on(holes_with([4] * 18, indexes), handicap)
        by_index = [strokes[index] for index in range(1, 19)]
        assert by_index == sorted(by_index, reverse=True)
        assert max(by_index) - min(by_index) <= 1


class TestTarget:
    # Source: USGA Local Guidance 6: the target score is Course Handicap + par, 101 on par 72 is 29 strokes.
    # Own examples for the same player: par and index to personal par and shots to the green.
    @pytest.mark.parametrize(
        ("par", "index", "personal_par", "shots"), [(4, 13, 5, 3), (4, 4, 6, 4), (5, 8, 7, 5), (3, 5, 5, 3)]
    )
    def test_twenty_nine_strokes_on_par_72(self, par, index, personal_par, shots):
        pars = dict.fromkeys(range(1, 19), 4) | {5: 3, 8: 5, 10: 3, 11: 5}
        assert (pars[index], sum(pars.values())) == (par, 72)
        table = personal_pars(holes_with(list(pars.values()), list(pars)), target_score=101)
        row = table[table["stroke_index"] == index].iloc[0]
        assert (row["personal_par"], row["regulation_shots"]) == (personal_par, shots)
        assert table["personal_par"].sum() == 101

    @pytest.mark.parametrize("pars", [[3] * 18, [4] * 17 + [3], [5, 5] + [4] * 16, [4] * 9])
    def test_cards_whose_par_is_not_72(self, pars):
        table = personal_pars(holes_with(pars, range(1, len(pars) + 1)), target_score=sum(pars) + 11)
        assert table["personal_par"].sum() == sum(pars) + 11

    # Source: PGA TOUR statistic definition: a green in regulation is reached in par - 2 strokes or fewer.
    @pytest.mark.parametrize(("par", "shots"), [(3, 1), (4, 2), (5, 3)])
    def test_scratch_is_the_usual_regulation(self, par, shots):
        table = personal_pars(invented_eighteen(par), playing_handicap=0)
        assert set(table["regulation_shots"]) == {shots}

    def test_never_less_than_one_shot(self):
        table = personal_pars(invented_eighteen(3), playing_handicap=-5)
        assert table["personal_par"].min() == 2
        assert table["regulation_shots"].min() == 1

    def test_the_ends_of_the_range(self):
        holes = invented_eighteen()
        assert personal_pars(holes, target_score=72 - 10)["strokes_received"].sum() == -10
        assert personal_pars(holes, target_score=72 + 54)["strokes_received"].sum() == 54
        with pytest.raises(BagError, match="11 below par 72"):
            personal_pars(holes, target_score=72 - 11)
        with pytest.raises(BagError, match="55 above par 72"):
            personal_pars(holes, target_score=72 + 55)


class TestNineHoles:
    # Source: Rules of Handicapping, Appendix E: over nine holes the order among those nine decides.
    @pytest.mark.parametrize("indexes", [range(1, 18, 2), range(2, 19, 2), range(1, 10)])
    def test_ranked_among_themselves(self, indexes):
        table = personal_pars(holes_with([4] * 9, indexes), target_score=36 + 13)
        assert table["strokes_received"].tolist() == [2, 2, 2, 2, 1, 1, 1, 1, 1]

    def test_plus_players_give_back_from_the_highest_of_those_nine(self):
        # Source: Rules of Handicapping, Appendix E: plus, over nine holes from the highest index of those nine.
        table = personal_pars(holes_with([4] * 9, range(1, 18, 2)), playing_handicap=-4)
        assert table["strokes_received"].tolist() == [0, 0, 0, 0, 0, 0, 0, -1, -1]

    @pytest.mark.parametrize(("handicap", "strokes"), [(24, 12), (25, 13), (-3, -1), (0, 0), (54, 27)])
    def test_half_the_playing_handicap(self, handicap, strokes):
        # Derived: half, .5 upwards: 25 / 2 = 12.5 -> 13; -3 / 2 = -1.5 -> -1.
        table = personal_pars(holes_with([4] * 9, range(1, 10)), playing_handicap=handicap)
        assert table["strokes_received"].sum() == strokes

    def test_a_target_for_eighteen_is_told_apart(self):
        with pytest.raises(BagError, match="is it for 18 holes"):
            personal_pars(holes_with([4] * 9, range(1, 10)), target_score=97)


class TestRefused:
    def test_missing_stroke_indexes_are_named(self):
        holes = holes_with([4] * 18, [None, *range(2, 18), None])
        with pytest.raises(CourseError, match="no stroke index on hole 1, 18"):
            personal_pars(holes, playing_handicap=25)

    @pytest.mark.parametrize("handicap", [0, 18, 36])
    def test_missing_stroke_indexes_do_not_matter_where_all_holes_get_the_same(self, handicap):
        table = personal_pars(holes_with([4] * 18, [None] * 18), playing_handicap=handicap)
        assert set(table["strokes_received"]) == {handicap // 18}
        assert table["stroke_index"].isna().all()

    def test_doubled_stroke_indexes_are_named(self):
        with pytest.raises(CourseError, match="stroke index 3 is there more than once, on holes 2, 3"):
            personal_pars(holes_with([4] * 9, [1, 3, 3, 4, 5, 6, 7, 8, 9]), target_score=40)

    def test_neither_and_both(self):
        with pytest.raises(BagError, match="neither"):
            personal_pars(invented_eighteen())
        with pytest.raises(BagError, match="both"):
            personal_pars(invented_eighteen(), target_score=97, playing_handicap=25)

    def test_no_holes(self):
        with pytest.raises(CourseError, match="no holes"):
            personal_pars([], target_score=97)

    @pytest.mark.parametrize("handicap", [54.5, -10.6, math.nan, math.inf])
    def test_no_playing_handicap(self, handicap):
        with pytest.raises(BagError, match="between -10 and 54"):
            personal_pars(invented_eighteen(), playing_handicap=handicap)
