"""Club names: understood as golfers write them, never guessed."""

import pytest

from trackgolf.club_names import find_club_name, parse_club_name, plain_name

BAG = ["driver", "5 wood", "4 hybrid", "5 hybrid", "6 iron", "8 iron", "9 iron", "pitching wedge", "gap wedge",
       "sand wedge 56", "My Old Friend"]  # fmt: skip


# common practice, no source: how golfers abbreviate clubs.
@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("8i", "8 iron"),
        ("8 IRON", "8 iron"),
        ("iron 8", "8 iron"),
        ("Iron-8", "8 iron"),
        ("8-iron", "8 iron"),
        ("i8", "8 iron"),
        ("8iron", "8 iron"),
        ("eight iron", "8 iron"),
        ("PW", "pitching wedge"),
        ("pitching-wedge", "pitching wedge"),
        ("P Wedge", "pitching wedge"),
        ("1 wood", "driver"),
        ("1w", "driver"),
        ("Driver", "driver"),
        ("driver 10.5°", "driver"),
        ("5w", "5 wood"),
        ("wood 5", "5 wood"),
        ("5 fairway wood", "5 wood"),
        ("4h", "4 hybrid"),
        ("Hybrid 4", "4 hybrid"),
        ("wood", "5 wood"),
        ("SW", "sand wedge 56"),
        ("sand wedge", "sand wedge 56"),
        ("56", "sand wedge 56"),
        ("56°", "sand wedge 56"),
        ("56 degree wedge", "sand wedge 56"),
        ("AW", "gap wedge"),
        ("my old  friend", "My Old Friend"),
    ],
)
def test_one_club_is_meant(text, name):
    assert find_club_name(text, BAG) == name


@pytest.mark.parametrize(
    "text",
    ["", "  ", "8", "1", "5", "hybrid", "iron", "wedge", "52", "58", "sand wedge 58", "lob wedge", "3w", "7i", "p",
     "s", "d", "sand", "approach", "drive", "lunch", "8 iron 9 iron", "8 9 iron", "8i 8i", "putter", "°", "hole 5 w"],
)  # fmt: skip
def test_no_club_or_more_than_one_is_no_answer(text):
    assert find_club_name(text, BAG) is None


def test_a_bag_with_both_names_of_one_wedge_keeps_them_apart():
    names = ["approach wedge", "gap wedge"]
    assert find_club_name("aw", names) == "approach wedge"
    assert find_club_name("gw", names) == "gap wedge"


def test_a_loft_must_be_stated_to_be_found():
    assert find_club_name("56", ["sand wedge", "lob wedge"]) is None
    assert find_club_name("56", ["56", "60"]) == "56"
    assert find_club_name("60 wedge", ["56", "60"]) == "60"


def test_every_name_finds_itself():
    for name in BAG:
        assert find_club_name(name.upper(), BAG) == name
    assert plain_name("8-Iron") == "8iron"


def test_what_a_name_says():
    assert parse_club_name("Hybrid 19°").loft_deg == 19
    assert parse_club_name("3 wood 15").number == 3
    assert parse_club_name("52w").kind == "wedge"
    assert parse_club_name("putter").kind == "putter"
