"""CSV as people and spreadsheets write it."""

import pytest

from trackgolf.csv_table import parse_number, read_csv_table
from trackgolf.errors import CardError


def read(tmp_path, content, **options):
    path = tmp_path / "table.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_csv_table(path, CardError, **options)


def message(tmp_path, content, **options):
    with pytest.raises(CardError) as caught:
        read(tmp_path, content, **options)
    return str(caught.value)


PLAIN = [(2, {"hole": "1", "putts": "2"}), (3, {"hole": "2", "putts": ""})]


@pytest.mark.parametrize(
    "content",
    [
        "hole,putts\n1,2\n2,\n",
        "hole,putts\r\n1,2\r\n2,\r\n",
        "hole,putts\r1,2\r2\r",
        "Hole ; PUTTS\n 1 ; 2 \n2;-\n",
        "hole\tputts\n1\t2\n2\tn/a",
        "\ufeffhole,putts\n1,2\n2,\n",
        '"hole","putts"\n"1","2"\n"2",""\n',
        "hole,putts,,\n1,2,,\n2,,,\n",
    ],
    ids=["plain", "crlf", "cr", "semicolon", "tab", "utf-8 mark", "quoted", "empty columns"],
)
def test_the_same_table_in_many_dresses(tmp_path, content):
    assert read(tmp_path, content) == PLAIN


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_letters_survive_every_common_encoding(tmp_path, encoding):
    rows = read(tmp_path, "hole,clubs\n1,Hölzer – groß\n".encode(encoding))
    assert rows == [(2, {"hole": "1", "clubs": "Hölzer – groß"})]


def test_line_numbers_are_those_an_editor_shows(tmp_path):
    rows = read(tmp_path, 'sep=;\n\nhole;clubs\n\n1;"a\nb"\n;\n2;c\n'.replace("\n\nhole", "\nhole"))
    assert [(line, row["hole"]) for line, row in rows] == [(4, "1"), (7, "2")]


def test_surplus_cells_go_to_the_spill_column(tmp_path):
    rows = read(tmp_path, "hole;clubs\n1;driver;8 iron\n", spill="clubs")
    assert rows == [(2, {"hole": "1", "clubs": "driver;8 iron"})]


def test_all_faults_are_told_at_once_with_their_lines(tmp_path):
    text = message(tmp_path, "hole,putts,hole\n1,2,3,4\n5,6,7,8\n", required=("strokes",))
    assert "4 faults" in text
    assert "no column strokes" in text
    assert "'hole' is there twice" in text
    assert "line 2: 4 cells under 3" in text
    assert "line 3: 4 cells under 3" in text


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"  \n ", "empty"),
        (b"PK\x03\x04\0\0", "another kind"),
        (b"<html><body>", "HTML"),
        (b",,\n;\n", "no header line"),
    ],
)
def test_what_is_no_table_is_refused(tmp_path, content, words):
    assert words in message(tmp_path, content)


def test_no_such_file_and_a_folder(tmp_path):
    with pytest.raises(CardError, match="no such file"):
        read_csv_table(tmp_path / "none.csv", CardError)
    with pytest.raises(CardError, match="folder"):
        read_csv_table(tmp_path, CardError)


@pytest.mark.parametrize(
    ("text", "number"),
    [("382", 382.0), ("349.3", 349.3), ("349,3", 349.3), ("-2", -2.0), ("", None), ("–", None)],
)
def test_numbers(text, number):
    assert parse_number(text) == number


@pytest.mark.parametrize("text", ["four", "1e999", "inf", "1 2", "0x10", "9" * 400, "٣"])
def test_what_is_no_number(text):
    with pytest.raises(ValueError, match=r"number|large"):
        parse_number(text)
