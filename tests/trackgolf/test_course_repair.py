"""Hole lines as real extracts have them: turned, doubled, in pieces, unnumbered, unusable."""

import pytest
import shapely
from shapely.geometry import LineString, MultiLineString, Point, box

from tests.trackgolf.invented_course import find, invented_features, lengths_m, moved, read, to_degrees
from trackgolf.errors import CourseError


def _replace(features, old, *new):
    return [each for feature in features for each in (new if feature is old else [feature])]


def _turn(features, *numbers):
    return [
        (tags, shapely.reverse(shape))
        if tags.get("ref") in numbers and tags["golf"] == "hole"
        else (tags, shape)
        for tags, shape in features
    ]


def _starts(course):
    return [hole.line.coords[0] for hole in course.holes]


class TestTurned:
    @pytest.mark.parametrize("numbers", [("4",), ("1", "18"), tuple(str(n) for n in range(1, 19))])
    def test_a_line_from_green_to_tee_is_turned(self, tmp_path, numbers):
        straight = read(tmp_path, invented_features())
        course = read(tmp_path, _turn(invented_features(), *numbers))
        assert _starts(course) == _starts(straight)
        listed = ", ".join(numbers)
        plural = "s" if len(numbers) > 1 else ""
        assert course.warnings == (f"hole{plural} {listed}: its line is drawn from green to tee: turned",)

    @pytest.mark.parametrize("numbers", [("4",), tuple(str(n) for n in range(1, 19))])
    def test_greens_alone_tell(self, tmp_path, numbers):
        features = [*find(invented_features()), *find(invented_features(), kind="green")]
        course = read(tmp_path, _turn(features, *numbers))
        assert _starts(course) == _starts(read(tmp_path, features))

    def test_tees_alone_tell(self, tmp_path):
        # A lone hole, so that no other hole's tee lies at its end.
        tee = ({"golf": "tee"}, box(-4, -4, 4, 4))
        hole = ({"golf": "hole", "ref": "1"}, LineString([(0, 350), (0, 0)]))
        course = read(tmp_path, [tee, hole])
        assert course.hole(1).line.coords[0] == pytest.approx(to_degrees(Point(0, 0)).coords[0], abs=1e-8)

    def test_a_missing_green_turns_no_line(self, tmp_path):
        for lost in range(18):
            features = invented_features()
            features.remove(find(features, kind="green")[lost])
            course = read(tmp_path, features)
            assert not any("turned" in text for text in course.warnings)

    def test_a_green_beside_the_next_tee_turns_no_line(self, tmp_path):
        # Hole 2 starts 10 m from the green of hole 1, whose line stops short of it.
        features = [
            ({"golf": "hole", "ref": "1"}, LineString([(0, 0), (0, 330)])),
            ({"golf": "green"}, Point(0, 350).buffer(12)),
            ({"golf": "hole", "ref": "2"}, LineString([(22, 350), (200, 350)])),
            ({"golf": "green"}, Point(200, 350).buffer(12)),
        ]
        course = read(tmp_path, features)
        assert not any("turned" in text for text in course.warnings)


class TestPieces:
    @pytest.mark.parametrize("reverse", [False, True])
    def test_ways_with_one_number_that_meet_are_joined(self, tmp_path, reverse):
        features = invented_features()
        old = find(features, ref=4)
        east = old[1].coords[0][0]
        first, second = LineString([(east, 480), (east, 300)]), LineString([(east, 300), (east, 0)])
        second = shapely.reverse(second) if reverse else second
        course = read(tmp_path, _replace(features, old, (old[0], first), ({**old[0]}, second)))
        assert course.hole(4).length_m == pytest.approx(480.0, abs=0.01)
        assert course.warnings == ("hole 4: its line is drawn in 2 pieces: joined",)

    def test_a_multi_line_is_joined(self, tmp_path):
        features = invented_features()
        old = find(features, ref=1)
        new = MultiLineString([[(0, 100), (0, 350)], [(0, 0), (0, 100)]])
        course = read(tmp_path, _replace(features, old, (old[0], new)))
        assert course.hole(1).length_m == pytest.approx(350.0, abs=0.01)

    def test_pieces_that_do_not_meet_are_a_fault(self, tmp_path):
        features = invented_features()
        old = find(features, ref=1)
        new = MultiLineString([[(0, 200), (0, 350)], [(0, 0), (0, 100)]])
        with pytest.raises(CourseError, match=r"hole 1: the pieces of its line do not meet, at 52\.00"):
            read(tmp_path, _replace(features, old, (old[0], new)))


class TestDoubles:
    def test_lines_from_two_tees_are_one_hole(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "hole", "ref": "1", "par": "4"}, LineString([(3, 60), (2, 350)])))
        course = read(tmp_path, features)
        assert course.hole(1).length_m == pytest.approx(350.0, abs=0.01)
        assert course.warnings == ("hole 1: it is drawn 2 times: the longest line is used",)

    def test_one_line_drawn_both_ways_is_one_hole(self, tmp_path):
        features = invented_features()
        old = find(features, ref=3)
        features.append((old[0], moved(shapely.reverse(old[1]), east=1.0)))
        course = read(tmp_path, features)
        assert course.hole(3).length_m == pytest.approx(150.0, abs=0.01)
        assert _starts(course)[2] == pytest.approx(to_degrees(Point(120, 0)).coords[0], abs=1e-7)

    def test_two_places_with_one_number_are_a_fault(self, tmp_path):
        features = invented_features()
        find(features, ref=9)[0]["ref"] = "3"
        with pytest.raises(CourseError, match=r"hole 3 is drawn 2 times, at .* and at .*: keep one"):
            read(tmp_path, features)

    def test_the_smaller_of_two_courses_is_left_out(self, tmp_path):
        other = [
            ({**tags, "name": "Invented Short"} if "leisure" in tags else tags, moved(shape, east=1500.0))
            for tags, shape in invented_features(9)
        ]
        course = read(tmp_path, [*other, *invented_features()])
        assert course.name == "Invented Links"
        assert len(course.holes) == 18
        assert (
            "there are holes of several courses: those of 'Invented Links' are used, 9 others left out"
            in course.warnings
        )
        assert course.hole(1).green.centroid.distance(to_degrees(Point(0, 350))) < 1e-6
        practice = course.shapes[course.shapes["hole"].isna() & (course.shapes["kind"] == "green")]
        assert len(practice) == 9

    def test_two_equal_courses_are_a_fault(self, tmp_path):
        other = [(tags, moved(shape, east=1500.0)) for tags, shape in invented_features()]
        with pytest.raises(CourseError, match="18 faults"):
            read(tmp_path, [*other, *invented_features()])


class TestNumbers:
    @pytest.mark.parametrize("ref", ["7 ", "07", "Hole 7", "7.0"])
    def test_odd_spellings(self, tmp_path, ref):
        features = invented_features()
        find(features, ref=7)[0]["ref"] = ref
        course = read(tmp_path, features)
        assert course.hole(7).par == 3
        assert course.warnings == ()

    def test_the_name_can_stand_in(self, tmp_path):
        features = invented_features()
        tags = find(features, ref=7)[0]
        del tags["ref"]
        tags["name"] = "7 - Long Meadow"
        assert len(read(tmp_path, features).holes) == 18

    def test_the_only_one_missing_is_known(self, tmp_path):
        features = invented_features()
        del find(features, ref=7)[0]["ref"]
        course = read(tmp_path, features)
        assert course.hole(7).length_m == pytest.approx(lengths_m()[6], abs=0.01)
        assert course.warnings == ("hole 7: its line has no number; it is the only one missing",)

    def test_two_missing_are_faults_with_their_places(self, tmp_path):
        features = invented_features()
        del find(features, ref=7)[0]["ref"]
        del find(features, ref=8)[0]["ref"]
        with pytest.raises(CourseError) as caught:
            read(tmp_path, features)
        lines = str(caught.value).split("\n")
        assert "2 faults" in lines[0]
        assert all("no number (tag ref), at 52.00" in line for line in lines[1:])

    def test_none_at_all_is_one_fault(self, tmp_path):
        features = invented_features()
        for tags, _ in find(features):
            del tags["ref"]
        with pytest.raises(CourseError, match="none of the 18 hole lines has a number"):
            read(tmp_path, features)

    def test_a_nine_hole_course_played_twice(self, tmp_path):
        features = invented_features(9)
        for number in range(1, 10):
            tags = find(features, ref=number)[0]
            tags |= {"ref": f"{number};{number + 9}", "handicap": f"{2 * number - 1};{2 * number}"}
        find(features, ref="1;10")[0]["par"] = "4;5"
        course = read(tmp_path, features)
        assert [hole.number for hole in course.holes] == list(range(1, 19))
        assert course.hole(1).line.equals(course.hole(10).line)
        assert course.hole(1).green.equals(course.hole(10).green)
        assert course.hole(1).pin.equals(course.hole(10).pin)
        assert [course.hole(n).stroke_index for n in (1, 10, 9, 18)] == [1, 2, 17, 18]
        assert (course.hole(1).par, course.hole(10).par) == (4, 5)

    def test_an_extra_line_without_number_is_left_out(self, tmp_path):
        features = invented_features()
        features.append(({"golf": "hole"}, LineString([(1200, 0), (1200, 100)])))
        course = read(tmp_path, features)
        assert course.warnings == ("1 hole lines without a number are left out",)


class TestUnusable:
    @pytest.mark.parametrize(
        ("shape", "complaint"),
        [
            (LineString([(0, 0), (0, 3)]), "hole 1: its line is only 3.0 m long"),
            (LineString([(0, 0), (0, 300), (50, 300), (0, 0)]), "hole 1: its line ends where it starts"),
            (box(0, 0, 30, 350), "hole 1: it is drawn as an area, not as a line"),
            (LineString([(0, 0), (0, 0)]), "hole 1: its line has no usable positions"),
        ],
    )
    def test_is_a_fault_unless_there_is_another(self, tmp_path, shape, complaint):
        features = invented_features()
        old = find(features, ref=1)
        with pytest.raises(CourseError) as caught:
            read(tmp_path, _replace(features, old, (old[0], shape)))
        assert complaint in str(caught.value)
        course = read(tmp_path, [*features, (old[0], shape)])
        assert any("hole 1: a second drawing of it is left out" in text for text in course.warnings)

    def test_a_card_with_positions_stands_in(self, tmp_path):
        features = invented_features()
        old = find(features, ref=1)
        tee, green = to_degrees(Point(0, 0)), to_degrees(Point(0, 350))
        card = "hole,par,tee_lat,tee_lon,green_lat,green_lon\n"
        card += f"1,4,{tee.y},{tee.x},{green.y},{green.x}\n"
        course = read(tmp_path, _replace(features, old, (old[0], box(0, 0, 30, 350))), card=card)
        assert course.hole(1).length_m == pytest.approx(350.0, abs=0.01)
        # The green on the map is better than a round one.
        assert course.hole(1).green.area == pytest.approx(course.hole(2).green.area, rel=0.01)
        assert not any("round one" in text for text in course.warnings)

    def test_all_faults_come_at_once(self, tmp_path):
        features = invented_features()
        one, two = find(features, ref=1), find(features, ref=2)
        features = _replace(features, one, (one[0], LineString([(0, 0), (0, 3)])))
        features = _replace(features, two, ({**two[0], "handicap": "3"}, two[1]))
        find(features, ref=9)[0]["ref"] = "8"
        find(features, ref=5)[0]["handicap"] = "21"
        with pytest.raises(CourseError) as caught:
            read(tmp_path, features)
        text = str(caught.value)
        assert "4 faults" in text
        for fault in (
            "hole 1: its line is only",
            "stroke index 3 is given to holes 2 and 3",
            "hole 8 is drawn 2 times",
            "hole 5: stroke index 21 is not from 1 to 18",
        ):
            assert fault in text
