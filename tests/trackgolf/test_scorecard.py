"""The course's scorecard: as spreadsheets write it, with every fault named by its line."""

import math

import pytest

from trackgolf.errors import CourseError
from trackgolf.scorecard import read_scorecard, scan_scorecard


@pytest.fixture
def write(tmp_path):
    def _write(content, name="invented.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        return path

    return _write


class TestRead:
    def test_the_documented_columns(self, write):
        card = read_scorecard(
            write(
                "hole,par,stroke_index,length_m,tee_lat,tee_lon,green_lat,green_lon\n"
                "2,3,2,150,52.001,0.001,52.002,0.002\n1,4,1,350.5,52,0,52.003,-0.0001\n"
            )
        )
        assert list(card["hole"]) == [1, 2]
        assert list(card["par"]) == [4, 3]
        assert list(card["stroke_index"]) == [1, 2]
        assert list(card["length_m"]) == [350.5, 150.0]
        assert (card["green_lat"][0], card["green_lon"][0]) == (52.003, -0.0001)
        assert {str(card[name].dtype) for name in ("par", "stroke_index")} == {"Int64"}

    def test_yards_become_metres(self, write):
        # Source: International Yard and Pound Agreement, 1959: 372 yd are 372 x 0.9144 m.
        assert read_scorecard(write("hole,length_yd\n1,372\n"))["length_m"][0] == pytest.approx(340.1568)

    @pytest.mark.parametrize(
        "header", ["Hole,Par,SI,Yards", "hole;PAR;Stroke Index;length-yd", "No\tpar\thcp\tyds"]
    )
    def test_other_names_and_separators(self, write, header):
        sep = next(char for char in ",;\t" if char in header)
        card = read_scorecard(write(header + "\n" + sep.join(["1", "4", "7", "400"]) + "\n"))
        assert (card["hole"][0], card["par"][0], card["stroke_index"][0]) == (1, 4, 7)
        assert card["length_m"][0] == pytest.approx(365.76)

    @pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
    def test_a_european_spreadsheet(self, write, encoding):
        text = "hole;par;stroke_index;length_m;Größe\r\n1;4;3;349,5;x\r\n\r\n;;;;\r\n2;3;5;141,0;\r\n"
        card = read_scorecard(write(text.encode(encoding)))
        assert list(card["length_m"]) == [349.5, 141.0]

    def test_totals_are_passed_over(self, write):
        card, warnings = scan_scorecard(
            write("hole,par,length_m\n1,4,300\nOut,36,2900\n,72,5800\nTotal,72,5800\n")
        )
        assert list(card["hole"]) == [1]
        assert warnings == ("scorecard line 4: no hole number; passed over as a line of totals",)

    def test_what_is_empty_is_unknown(self, write):
        card = read_scorecard(write("hole,par,stroke_index,length_m\n1,,-,n/a\n2,4\n"))
        assert card["par"].isna()[0]
        assert card["stroke_index"].isna().all()
        assert math.isnan(card["length_m"][0])
        assert card["tee_lat"].isna().all()

    def test_metres_win_over_yards_that_disagree(self, write):
        card, warnings = scan_scorecard(write("hole,length_m,length_yd\n1,300,328\n2,300,300\n"))
        assert list(card["length_m"]) == [300.0, 300.0]
        assert len(warnings) == 1
        assert "line 3" in warnings[0]


class TestFaults:
    @pytest.mark.parametrize(
        ("row", "complaint"),
        [
            ("1,4,3,300,,,,", "line 3: hole 1 is on line 2 already"),
            ("2,4,1,300,,,,", "line 3: stroke index 1 is on line 2 already"),
            ("x,4,3,300,,,,", "line 3: hole 'x' is not a whole number from 1 to 99"),
            ("0,4,3,300,,,,", "line 3: hole '0' is not"),
            ("2.5,4,3,300,,,,", "line 3: hole '2.5' is not"),
            ("2,7,3,300,,,,", "line 3: par '7' is not a whole number from 3 to 6"),
            ("2,four,3,300,,,,", "line 3: par 'four' is not"),
            ("2,4,19,300,,,,", "line 3: stroke_index '19' is not a whole number from 1 to 18"),
            ("2,4,3,-300,,,,", "line 3: length_m '-300' is not a length up to 1500 m"),
            ("2,4,3,0,,,,", "line 3: length_m '0' is not"),
            ("2,4,3,35000,,,,", "line 3: length_m '35000' is not"),
            ("2,4,3,1e400,,,,", "line 3: length_m '1e400' is not"),
            ("2,4,3,300,95,0,52,0", "line 3: tee_lat '95' is not within 90 degrees"),
            ("2,4,3,300,52,,52,0", "line 3: only one of tee_lat and tee_lon is there"),
            (",4,3,300,,,,", "line 3: the hole has no number"),
        ],
    )
    def test_names_the_line(self, write, row, complaint):
        header = "hole,par,stroke_index,length_m,tee_lat,tee_lon,green_lat,green_lon\n1,4,1,300,,,,\n"
        with pytest.raises(CourseError) as caught:
            read_scorecard(write(header + row + "\n"))
        assert complaint in str(caught.value)
        assert "invented.csv" in str(caught.value)
        assert "\n" not in str(caught.value)

    def test_all_at_once(self, write):
        with pytest.raises(CourseError) as caught:
            read_scorecard(write("hole,par,stroke_index\n1,9,1\n2,4,1\n2,4,0\n"))
        lines = str(caught.value).split("\n")
        assert lines[0].endswith("4 faults.")
        assert [line.split(":")[0].strip() for line in lines[1:]] == ["line 2", "line 3", "line 4", "line 4"]

    @pytest.mark.parametrize(
        ("content", "complaint"),
        [
            (b"", "empty"),
            (b"hole,par\n", "no row below the header"),
            (b"par,length_m\n4,300\n", "no column hole"),
            (b"hole,length\n1,300\n", "no unit: call it length_m or length_yd"),
            (
                b"hole,strokes,putts\n1,5,2\n",
                "a card as played, not the course's scorecard: give it as --card",
            ),
            (b"hole,par\nOut,36\n", "there is no hole in it"),
            (b"<html></html>", "HTML"),
            (b"\x89PNG\r\n\x1a\n\0\0\0", "another kind"),
            (b"hole,par,par\n1,4,4\n", "twice"),
            (b"hole,par\n1,4,5,6\n", "line 2: 4 cells under 2"),
        ],
    )
    def test_files_that_are_no_scorecard(self, write, content, complaint):
        with pytest.raises(CourseError, match=complaint):
            read_scorecard(write(content))

    def test_no_such_file_and_a_folder(self, tmp_path):
        with pytest.raises(CourseError, match="no such file"):
            read_scorecard(tmp_path / "none.csv")
        with pytest.raises(CourseError, match="folder"):
            read_scorecard(tmp_path)
