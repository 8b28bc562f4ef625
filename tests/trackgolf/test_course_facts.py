"""Par by length, stroke indexes, and what a scorecard fills in or replaces."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from geo.units import to_metres
from tests.trackgolf.invented_course import (
    INDEXES,
    PARS,
    find,
    invented_features,
    lengths_m,
    read,
    to_degrees,
)
from trackgolf.course import course_from_scorecard, read_course
from trackgolf.course_facts import par_for_length, par_is_usual
from trackgolf.course_table import course_gaps, course_table
from trackgolf.errors import CourseError


def _card(columns, rows):
    return "\n".join([",".join(columns), *(",".join(str(cell) for cell in row) for row in rows)]) + "\n"


class TestParByLength:
    # Source: Rules of Handicapping (R&A, USGA), Appendix F, men: par 3 to 260 yd (240 m), par 4 240 to 490
    # (220 to 450), par 5 450 to 710 (410 to 650), par 6 from 670 (610).
    # Women: par 3 to 220 yd (200 m), par 4 200 to 420 (180 to 380), par 5 370 to 600 (340 to 550), par 6
    # from 570 (520).
    @pytest.mark.parametrize(
        ("par", "low", "high"),
        [(3, 1, 240), (4, 180, 450), (5, 340, 650), (6, 520, 900)],
    )
    def test_bands_in_metres(self, par, low, high):
        assert par_is_usual(par, low)
        assert par_is_usual(par, high)

    @pytest.mark.parametrize(
        ("par", "low", "high"),
        [(3, 1, 260), (4, 200, 490), (5, 370, 710), (6, 570, 1000)],
    )
    def test_bands_in_yards(self, par, low, high):
        assert par_is_usual(par, to_metres(low) + 1e-9)
        assert par_is_usual(par, to_metres(high) - 1e-9)

    @pytest.mark.parametrize(
        ("par", "length_m"), [(3, 241), (4, 179), (4, 451), (5, 337), (5, 651), (6, 519)]
    )
    def test_outside(self, par, length_m):
        assert not par_is_usual(par, length_m)

    def test_the_overlap_takes_both(self):
        # Source: as above: 470 yd is a par 4 or a par 5.
        assert par_is_usual(4, to_metres(470))
        assert par_is_usual(5, to_metres(470))

    @pytest.mark.parametrize(
        ("length_m", "par"), [(100, 3), (219, 3), (241, 4), (409, 4), (451, 5), (609, 5), (651, 6), (900, 6)]
    )
    def test_where_only_one_par_fits_men(self, length_m, par):
        assert par_for_length(length_m) == par

    def test_every_length_gets_a_usual_par(self):
        for length_m in np.arange(50.0, 800.0, 1.0):
            assert par_is_usual(par_for_length(length_m), length_m)


class TestTags:
    def test_a_missing_par_comes_from_the_length(self, tmp_path):
        features = invented_features()
        for tags, _ in find(features):
            del tags["par"]
        course = read(tmp_path, features)
        assert tuple(hole.par for hole in course.holes) == PARS
        assert any("par is missing: taken as 3" in text for text in course.warnings)

    @pytest.mark.parametrize("par", ["x", "72", "0", "9"])
    def test_a_par_that_is_none_is_said(self, tmp_path, par):
        features = invented_features()
        find(features, ref=1)[0]["par"] = par
        course = read(tmp_path, features)
        assert course.hole(1).par == 4
        assert f"hole 1: par={par!r} is no par from 3 to 6" in course.warnings

    def test_of_several_pars_the_one_that_fits(self, tmp_path):
        features = invented_features()
        find(features, ref=1)[0]["par"] = "3;4"
        course = read(tmp_path, features)
        assert course.hole(1).par == 4
        assert course.warnings == ("hole 1: par='3;4' has several values: 4 is used",)

    def test_a_par_out_of_its_band_is_kept_and_said(self, tmp_path):
        features = invented_features()
        find(features, ref=3)[0]["par"] = "5"
        course = read(tmp_path, features)
        assert course.hole(3).par == 5
        assert course.warnings == (
            "hole 3: 150 m is unusual for a par 5 (Rules of Handicapping, Appendix F)",
        )

    def test_dist_in_yards_that_agrees(self, tmp_path):
        features = invented_features()
        find(features, ref=1)[0]["dist"] = "383 yd"
        assert read(tmp_path, features).warnings == ()

    def test_dist_that_disagrees(self, tmp_path):
        features = invented_features()
        find(features, ref=1)[0]["dist"] = "383"
        find(features, ref=2)[0]["dist"] = "450 yd"
        assert read(tmp_path, features).warnings == (
            "hole 2: the tag dist says 411 m, its line measures 350 m",
        )


class TestStrokeIndexes:
    def test_none_at_all_is_allowed_and_said(self, tmp_path):
        features = invented_features()
        for tags, _ in find(features):
            del tags["handicap"]
        course = read(tmp_path, features)
        assert all(hole.stroke_index is None for hole in course.holes)
        assert any("no hole has a stroke index" in text for text in course.warnings)
        assert course_gaps(course)["plan"] == ("no hole has a stroke index",)
        assert course_gaps(course)["rebuild"] == ()

    def test_the_only_one_missing_is_filled(self, tmp_path):
        features = invented_features()
        del find(features, ref=5)[0]["handicap"]
        course = read(tmp_path, features)
        assert course.hole(5).stroke_index == INDEXES[4]
        assert course.warnings == ("hole 5: stroke index is missing: 1 is the only one left",)

    def test_two_missing_stay_missing(self, tmp_path):
        features = invented_features()
        del find(features, ref=5)[0]["handicap"]
        find(features, ref=6)[0]["handicap"] = "?"
        course = read(tmp_path, features)
        assert course.hole(5).stroke_index is None
        assert "holes 5, 6: stroke index is missing" in course.warnings
        assert "hole 6: handicap='?' is no stroke index" in course.warnings
        assert course_table(course)["stroke_index"].isna().sum() == 2

    def test_a_duplicate_is_a_fault(self, tmp_path):
        features = invented_features()
        find(features, ref=5)[0]["handicap"] = "7"
        with pytest.raises(CourseError, match="stroke index 7 is given to holes 1 and 5"):
            read(tmp_path, features)

    @pytest.mark.parametrize("indexes", [range(1, 10), range(1, 19, 2), range(2, 19, 2)])
    def test_nine_holes_have_one_of_three_sets(self, tmp_path, indexes):
        # Source: Rules of Handicapping (R&A, USGA), Appendix E.
        path = tmp_path / "invented.csv"
        rows = [(hole, 4, index, 350) for hole, index in enumerate(indexes, start=1)]
        path.write_text(_card(["hole", "par", "stroke_index", "length_m"], rows))
        assert course_from_scorecard(path).warnings == ()

    def test_nine_holes_with_other_indexes_are_doubted(self, tmp_path):
        path = tmp_path / "invented.csv"
        rows = [(hole, 4, hole + 3, 350) for hole in range(1, 10)]
        path.write_text(_card(["hole", "par", "stroke_index", "length_m"], rows))
        assert any("usually 1 to 9" in text for text in course_from_scorecard(path).warnings)


class TestScorecardBesideMap:
    def test_fills_in_what_the_map_lacks(self, tmp_path):
        features = invented_features()
        for tags, _ in find(features):
            del tags["par"], tags["handicap"]
        rows = [(n + 1, PARS[n], INDEXES[n], lengths_m()[n]) for n in range(18)]
        course = read(tmp_path, features, card=_card(["hole", "par", "stroke_index", "length_m"], rows))
        assert tuple(hole.par for hole in course.holes) == PARS
        assert tuple(hole.stroke_index for hole in course.holes) == INDEXES
        assert course.warnings == ()

    def test_replaces_par_and_says_so(self, tmp_path):
        course = read(tmp_path, invented_features(), card="hole,par\n4,6\n1,5\n")
        assert (course.hole(4).par, course.hole(1).par) == (6, 5)
        assert "hole 1: par 5 on the scorecard, 4 on the map: the scorecard counts" in course.warnings

    def test_replaces_stroke_indexes_even_bad_ones(self, tmp_path):
        features = invented_features()
        for tags, _ in find(features):
            tags["handicap"] = "7"
        card = _card(["hole", "stroke_index"], [(n + 1, INDEXES[n]) for n in range(18)])
        assert read(tmp_path, features, card=card).hole(5).stroke_index == 1

    def test_a_card_of_nine_beside_a_map_of_eighteen(self, tmp_path):
        card = _card(["hole", "stroke_index"], [(n, n) for n in range(1, 10)])
        course = read(tmp_path, invented_features(), card=card)
        assert [hole.stroke_index for hole in course.holes[:9]] == list(range(1, 10))
        # Derived: of the even indexes of the back nine, 2 to 8 are on the card now.
        assert [hole.stroke_index for hole in course.holes[9:]] == [
            None,
            16,
            None,
            12,
            None,
            18,
            10,
            None,
            14,
        ]
        assert "hole 14: its stroke index 2 is another hole's on the scorecard: left out" in course.warnings

    def test_a_length_off_by_more_than_a_tenth_is_said(self, tmp_path):
        # Derived: the lines measure 350 m; 384 is 9.7 % more, 390 is 11.4 % more.
        course = read(tmp_path, invented_features(), card="hole,length_m\n1,384\n2,390\n")
        assert course.hole(2).length_m == pytest.approx(350.0, abs=0.01)
        assert course.warnings == ("hole 2: the scorecard says 390 m, its line measures 350 m",)

    def test_a_hole_only_on_the_card(self, tmp_path):
        features = [f for f in invented_features() if f[0].get("ref") != "5"]
        course = read(tmp_path, features, card="hole,par,stroke_index,length_m\n5,4,1,340\n")
        hole = course.hole(5)
        assert (hole.par, hole.stroke_index, hole.length_m, hole.line) == (4, 1, 340.0, None)
        assert not course.has_positions
        assert "hole 5: only on the scorecard, without a position" in course.warnings
        assert course_gaps(course)["rebuild"] == ("hole 5 has no position",)

    def test_a_hole_with_nothing_is_a_fault(self, tmp_path):
        with pytest.raises(CourseError, match="hole 19: neither a line nor a length"):
            read(tmp_path, invented_features(), card="hole,par\n19,4\n")

    def test_its_green_stands_in_for_one_not_drawn(self, tmp_path):
        green = to_degrees(Point(8, 356))
        features = [f for f in invented_features() if f[0].get("golf") not in ("green", "pin")]
        card = _card(["hole", "green_lat", "green_lon"], [(1, green.y, green.x)])
        course = read(tmp_path, features, card=card)
        assert course.hole(1).green.centroid.distance(green) < 1e-7

    def test_a_green_elsewhere_is_said(self, tmp_path):
        green = to_degrees(Point(0, 550))
        card = _card(["hole", "green_lat", "green_lon"], [(1, green.y, green.x)])
        course = read(tmp_path, invented_features(), card=card)
        assert course.warnings == ("hole 1: the scorecard puts its green 200 m from the end of its line",)

    def test_positions_make_up_for_all_lines(self, tmp_path):
        features = [f for f in invented_features() if f[0].get("golf") != "hole"]
        rows = []
        for number, (_, line) in enumerate(find(invented_features()), start=1):
            tee, green = (to_degrees(Point(line.coords[end])) for end in (0, -1))
            rows.append((number, PARS[number - 1], INDEXES[number - 1], tee.y, tee.x, green.y, green.x))
        columns = ["hole", "par", "stroke_index", "tee_lat", "tee_lon", "green_lat", "green_lon"]
        course = read(tmp_path, features, card=_card(columns, rows))
        assert [hole.length_m for hole in course.holes] == pytest.approx(lengths_m(), abs=0.01)
        assert course.warnings == ()
        assert (course.shapes["kind"] == "green").sum() == 18


class TestScorecardAlone:
    COLUMNS = ("hole", "par", "stroke_index", "length_m", "tee_lat", "tee_lon", "green_lat", "green_lon")

    def _write(self, tmp_path, rows, columns=COLUMNS):
        path = tmp_path / "invented card.csv"
        path.write_text(_card(columns, rows))
        return path

    def test_without_positions_it_is_enough_to_plan(self, tmp_path):
        rows = [(n + 1, PARS[n], INDEXES[n], lengths_m()[n]) for n in range(18)]
        path = self._write(tmp_path, rows, self.COLUMNS[:4])
        course = course_from_scorecard(path)
        assert not course.has_positions
        assert [hole.length_m for hole in course.holes] == lengths_m()
        assert course.name == "invented card"
        assert list(course.shapes.columns) == ["kind", "hole", "name", "geometry"]
        assert len(course.shapes) == 0
        assert course.warnings == ()
        assert course_gaps(course) == {
            "plan": (),
            "map": ("no hole has a position",),
            "rebuild": ("no hole has a position",),
        }
        # The same through the one door for all course files.
        assert read_course(path).holes == course.holes
        table = course_table(course)
        assert table["green_m2"].isna().all()
        assert table["water"].isna().all()

    @pytest.mark.parametrize(("lon", "lat"), [(0.0, 52.0), (145.0, -37.0), (180.0, 0.0)])
    def test_with_positions_lines_are_straight_and_greens_round(self, tmp_path, lon, lat):
        tee, green = to_degrees(Point(-100, 0), lon, lat), to_degrees(Point(250, 0), lon, lat)
        path = self._write(tmp_path, [(1, 4, 1, 350, tee.y, tee.x, green.y, green.x)])
        course = course_from_scorecard(path)
        hole = course.hole(1)
        assert course.has_positions
        assert hole.length_m == pytest.approx(350.0, abs=0.01)
        assert len(hole.line.coords) == 2
        # Derived: a circle of 12 m radius as 64 chords.
        area_m2 = 32 * 144 * np.sin(2 * np.pi / 64)
        assert course_table(course)["green_m2"][0] == pytest.approx(area_m2, abs=0.01)
        assert list(course.shapes["kind"]) == ["green"]
        assert "hole 1: no green is drawn: a round one of 12 m radius is assumed" in course.warnings

    def test_a_dogleg_on_the_card_is_longer_than_its_straight_line(self, tmp_path):
        tee, green = to_degrees(Point(0, 0)), to_degrees(Point(0, 300))
        path = self._write(tmp_path, [(1, 4, 1, 350, tee.y, tee.x, green.y, green.x)])
        assert (
            "hole 1: the scorecard says 350 m, its line measures 300 m"
            in course_from_scorecard(path).warnings
        )

    @pytest.mark.parametrize(
        ("rows", "complaint"),
        [
            ([(1, 4, 1, "", "", "", "", "")], "hole 1: neither a line nor a length"),
            ([(1, 4, 1, 300, 52, 0, 52, 0)], "hole 1: tee and green are at one place"),
            (
                [
                    (1, 4, 1, 300, 52, 0, 52.003, 0),
                    (2, 4, 2, 300, 52, 0, 52.003, 0),
                    (3, 4, 3, 300, 0, 52, 0.003, 52),
                ],
                "more than 10 km from the others",
            ),
        ],
    )
    def test_faults(self, tmp_path, rows, complaint):
        with pytest.raises(CourseError, match=complaint):
            course_from_scorecard(self._write(tmp_path, rows))

    def test_a_tee_cannot_be_chosen(self, tmp_path):
        path = self._write(tmp_path, [(1, 4, 1, 300)], self.COLUMNS[:4])
        with pytest.raises(CourseError, match="leave --tee out"):
            read_course(path, tee="white")

    def test_two_cards_are_one_too_many(self, tmp_path):
        path = self._write(tmp_path, [(1, 4, 1, 300)], self.COLUMNS[:4])
        with pytest.raises(CourseError, match="scorecard too"):
            read_course(path, scorecard=path)

    def test_a_par_from_the_length(self, tmp_path):
        course = course_from_scorecard(self._write(tmp_path, [(1, 168)], ["hole", "length_yd"]))
        assert course.hole(1).par == 3
        assert course.hole(1).length_m == pytest.approx(153.6192)


def test_a_bend_counts_in_the_length(tmp_path):
    features = invented_features()
    old = find(features, ref=1)
    features[features.index(old)] = (old[0], LineString([(0, 0), (-30, 200), (0, 350)]))
    course = read(tmp_path, features)
    # Derived: hypot(30, 200) + hypot(30, 150).
    assert course.hole(1).length_m == pytest.approx(np.hypot(30, 200) + np.hypot(30, 150), abs=0.01)
    assert len(course.hole(1).line.coords) == 3


def test_a_course_of_three_holes_is_fine(tmp_path):
    course = read(tmp_path, invented_features(3))
    assert len(course.holes) == 3
    assert (
        course.shapes.loc[course.shapes["kind"] == "course"]
        .geometry.iloc[0]
        .covers(to_degrees(box(0, 0, 1, 1)))
    )
