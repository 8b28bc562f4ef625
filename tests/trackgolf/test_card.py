"""The played card."""

import pandas as pd
import pytest

from trackgolf.bag import Bag, Club
from trackgolf.card import read_card
from trackgolf.errors import CardError

INVENTED_BAG = Bag(
    "Ines Okafor",
    "yd",
    97,
    None,
    tuple(
        Club(name, carry_m, 5.0, 10.0, 7.0, 0.1)
        for name, carry_m in [("driver", 150.0), ("5 wood", 140.0), ("8 iron", 115.0), ("gap wedge", 80.0)]
    ),
)
INVENTED_CARD = """\
hole,strokes,putts,penalties,clubs
1,6,2,0,driver;8i;GW
2,5,,,
3,,,1,driver
4,4,1,0,5w;;gap wedge
"""


@pytest.fixture
def read(tmp_path):
    def write_and_read(text):
        path = tmp_path / "card.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_card(path, INVENTED_BAG)

    return write_and_read


@pytest.fixture
def refused(read):
    def message(text):
        with pytest.raises(CardError) as caught:
            read(text)
        return str(caught.value)

    return message


def test_a_card(read):
    card = read(INVENTED_CARD)
    assert card.columns.tolist() == ["hole", "strokes", "putts", "penalties", "clubs"]
    assert card["hole"].tolist() == [1, 2, 3, 4]
    assert card["strokes"].tolist() == [6, 5, pd.NA, 4]
    assert card["putts"].tolist() == [2, pd.NA, pd.NA, 1]
    assert card["penalties"].tolist() == [0, pd.NA, 1, 0]
    assert card["clubs"].tolist() == [
        ("driver", "8 iron", "gap wedge"),
        (),
        ("driver",),
        ("5 wood", "", "gap wedge"),
    ]


@pytest.mark.parametrize(
    "dress",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace(";", "|").replace(",", ";"),
        lambda text: text.replace(",", "\t"),
        lambda text: text.replace("1,6,2,0,driver;8i;GW", "1,6,2,0,driver,8i,GW"),
        lambda text: text.replace("driver;8i;GW", '"1 wood, 8-iron, gw, putter"'),
        lambda text: text + "\nout,20,,,\nTotal,20,,,\n",
        lambda text: text.replace("3,,,1", "3,X,,1"),
        lambda text: text.replace("3,,,1", "3,-,,1"),
    ],
    ids=["mark", "crlf", "semicolons", "tabs", "commas in clubs", "putter", "sums", "picked up", "dash"],
)
def test_the_same_card_in_other_dresses(read, dress):
    pd.testing.assert_frame_equal(read(dress(INVENTED_CARD)), read(INVENTED_CARD))


def test_latin_letters_and_a_card_with_holes_alone(read):
    card = read("hole;note\n1;Süd\n".encode("cp1252"))
    assert card["strokes"].isna().all()
    assert card["clubs"].tolist() == [()]


def test_order_of_play_is_kept(read):
    assert read("hole,strokes\n10,5\n11,4\n1,6\n")["hole"].tolist() == [10, 11, 1]


def test_a_hole_in_one(read):
    # Source: Rules of Golf, 3.3: a hole in one is one stroke; it has no putt.
    assert read("hole,strokes,putts,penalties\n1,1,0,0\n")["strokes"].tolist() == [1]


def test_all_faults_at_once_with_lines(refused):
    message = refused(
        "hole,strokes,putts,penalties,clubs\n1,five,2,0,niblick\n2,3,3,0,\n2,4,2,0,\n,4,,,\n77,4,,,\n3,2,0,0,"
        "driver;8i;gw\n4,0,,,\n5,4.5,,,\n"
    )
    assert message.splitlines()[0].endswith("9 faults.")
    for words in (
        "line 2, hole 1: strokes: 'five' is not a number",
        "line 2, hole 1: 'niblick' is no club of the bag, or not one alone (driver, 5 wood, 8 iron, gap wedge)",
        "line 3, hole 2: 3 strokes cannot hold 3 putts, 0 penalties and a tee shot",
        "line 4, hole 2: this hole is on line 3 already",
        "line 5: no hole number",
        "line 6: hole '77' is not a whole number from 1 to 36",
        "line 7, hole 3: 3 clubs for 2 strokes",
        "line 8, hole 4: strokes '0' is not a whole number from 1 to 40; leave it empty for a hole picked up",
        "line 9, hole 5: strokes '4.5' is not a whole number",
    ):
        assert words in message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("strokes,putts\n5,2\n", "no column hole"),
        ("hole,par,stroke_index,length_m\n1,4,7,350\n", "looks like the course's own card"),
        ("hole,strokes\n", "no holes below the header"),
        ("hole,strokes\nout,40\n", "no holes below the header"),
        ("<html></html>", "HTML"),
        ("", "empty"),
        ("hole,strokes,putts\n1,4,-1\n", "putts '-1'"),
    ],
)
def test_refused(refused, text, words):
    assert words in refused(text)


def test_no_file(tmp_path):
    with pytest.raises(CardError, match="no such file"):
        read_card(tmp_path / "none.csv", INVENTED_BAG)
