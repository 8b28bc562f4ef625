"""Folders of rebuilt rounds that somebody changed: every odd cell is a fault with its place, never a crash."""

import json

import pytest

from geo.errors import InputError
from trackgolf.learn.many_rounds import read_folders

HOLES = "hole,par,shots,putts,penalties,strokes,length_m\n1,4,2,2,0,4,300\n"
PLANNED = "hole,shot,role,planned_club,miss_m,within_tolerance,followed\n1,1,tee,driver,3.0,yes,yes\n"
SHOT = {
    "hole": 1,
    "shot": 1,
    "club": "driver",
    "club_source": "card",
    "start_time": "2026-05-03T08:02:03.000Z",
    "distance_m": 150.1,
    "leave_m": 150.1,
    "lie": "tee",
    "end_lie": "fairway",
    "confidence": 0.97,
    "detour": False,
}


def write(folder, *, shots=None, text=None, holes=HOLES, planned=PLANNED):
    document = {"type": "FeatureCollection", "features": [{"properties": shot} for shot in shots or [SHOT]]}
    (folder / "shots.geojson").write_text(json.dumps(document) if text is None else text)
    (folder / "holes.csv").write_text(holes)
    (folder / "comparison.csv").write_text(planned)
    return folder


def refused(folder):
    with pytest.raises(InputError) as fault:
        read_folders([folder])
    lines = str(fault.value).split("\n")
    assert all(len(line.replace(str(folder), "")) < 300 and line.isprintable() for line in lines)
    assert all(line.startswith("  ") for line in lines[1:])
    return str(fault.value)


def test_what_is_sound_is_read(tmp_path):
    rounds = read_folders([write(tmp_path)])
    assert rounds.shots[["hole", "shot", "club", "distance_m", "miss_m"]].to_numpy().tolist() == [
        [1, 1, "driver", 150.1, 3.0]
    ]
    assert rounds.holes["strokes"].tolist() == [4]


@pytest.mark.parametrize("value", [None, "", "x", True, 0, 1.5, 1e308, int("9" * 400), float("nan"), [1], {}])
@pytest.mark.parametrize("key", ["hole", "shot"])
def test_no_number_of_a_hole_or_shot(tmp_path, key, value):
    message = refused(write(tmp_path, shots=[SHOT, SHOT | {key: value}]))
    assert f"shot 2 of the file: {'no ' if value in (None, '') or value != value else ''}{key}" in message


@pytest.mark.parametrize(
    "value", ["x", True, 1e308, float("inf"), int("9" * 5), int("9" * 400), [1], {"a": 1}]
)
@pytest.mark.parametrize("key", ["confidence", "leave_m"])
def test_no_number(tmp_path, key, value):
    if (key, value) == ("leave_m", 99999):
        value = -1e6
    assert f"shot 1 of the file: {key} " in refused(write(tmp_path, shots=[SHOT | {key: value}]))


@pytest.mark.parametrize("value", [1, True, ["driver"], {}])
@pytest.mark.parametrize("key", ["club", "club_source", "lie", "start_time"])
def test_no_text(tmp_path, key, value):
    assert "is not text" in refused(write(tmp_path, shots=[SHOT | {key: value}]))


def test_neither_yes_nor_no(tmp_path):
    assert "detour 'no' is neither true nor false" in refused(
        write(tmp_path, shots=[SHOT | {"detour": "no"}])
    )


def test_all_faults_at_once(tmp_path):
    message = refused(write(tmp_path, shots=[SHOT | {"hole": 0, "lie": 3}, SHOT | {"distance_m": "far"}]))
    assert "3 faults" in message
    assert message.count("\n  shot ") == 3


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "null",
        '{"features": [1]}',
        '{"features": ["ab"]}',
        '{"features": []}',
        "[" * 100_000,
        "\0" * 20,
    ],
)
def test_no_file_of_shots(tmp_path, text):
    refused(write(tmp_path, text=text))


def test_what_is_not_known_is_left_out(tmp_path):
    """A property of another program may be called like a column of a plan, and hold anything."""
    rounds = read_folders([write(tmp_path, shots=[SHOT | {"miss_m": [1], "round": "x", "length_m": {}}])])
    assert rounds.shots["miss_m"].tolist() == [3.0]


@pytest.mark.parametrize(
    ("holes", "planned", "words"),
    [
        (HOLES.replace("\n1,4", "\nx,4"), PLANNED, "line 2: hole 'x' is not a whole number"),
        (HOLES.replace("\n1,4", "\n,4"), PLANNED, "line 2: no hole"),
        (HOLES.replace(",300", ",1e400"), PLANNED, "line 2: length_m '1e400' is not a number"),
        (HOLES, PLANNED.replace("1,1,", "1,1.5,"), "line 2: shot '1.5' is not a whole number"),
        (HOLES, PLANNED.replace("3.0", "wide"), "line 2: miss_m 'wide' is not a number"),
    ],
)
def test_tables(tmp_path, holes, planned, words):
    assert words in refused(write(tmp_path, holes=holes, planned=planned))


# Found by the fuzz: 00:00 on the first day of the year 1, fourteen hours east of Greenwich, is in the year 0.
@pytest.mark.parametrize(
    "time", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "1066-10-14T09:00:00Z"]
)
def test_a_time_of_another_age_is_none(tmp_path, time):
    rounds = read_folders([write(tmp_path, shots=[SHOT | {"start_time": time}])])
    assert rounds.shots["day"].tolist() == [""]
