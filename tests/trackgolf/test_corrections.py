"""The file of corrections: what it may say, what is refused, and that nothing is lost on the way."""

import json
from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from trackgolf.corrections import (
    END_LIES,
    LIES,
    SCHEMA,
    Correction,
    Corrections,
    parse_corrections,
    read_corrections,
    write_corrections,
)
from trackgolf.errors import CorrectionsError

# Invented values; one of each kind.
ENTRIES = [
    {"id": "c1", "what": "confirm", "hole": 4, "time": "2026-05-16T09:31:12Z"},
    {"id": "c2", "what": "remove", "hole": 4, "time": "2026-05-16T09:33:40.250Z"},
    {
        "id": "c3",
        "what": "add",
        "hole": 4,
        "time": "2026-05-16T09:36:00Z",
        "lon_deg": -31.001,
        "lat_deg": 46.999,
    },
    {"id": "c4", "what": "add", "hole": 5, "time": "2026-05-16T09:40:00Z"},
    {
        "id": "c5",
        "what": "move",
        "hole": 5,
        "time": "2026-05-16T09:41:00Z",
        "lon_deg": -31.002,
        "lat_deg": 46.998,
    },
    {"id": "c6", "what": "hole", "hole": 5, "time": "2026-05-16T09:42:00Z", "to_hole": 6},
    {"id": "c7", "what": "club", "hole": 5, "time": "2026-05-16T09:41:00Z", "club": "8 iron"},
    {"id": "c8", "what": "lie", "hole": 5, "time": "2026-05-16T09:41:00Z", "lie": "bunker"},
    {"id": "c9", "what": "end_lie", "hole": 5, "time": "2026-05-16T09:41:00Z", "end_lie": "lost"},
    {"id": "c10", "what": "penalty", "hole": 5, "time": "2026-05-16T09:41:00Z", "penalty": 1},
    {"id": "c11", "what": "putts", "hole": 5, "putts": 0},
    {"id": "c12", "what": "penalties", "hole": 5, "time": "2026-05-16T09:41:00Z", "penalties": 2},
    {"id": "c13", "what": "strokes", "hole": 5, "strokes": 7, "note": "counted aloud"},
    {"id": "c14", "what": "picked_up", "hole": 9, "made": "2026-05-16T18:00:00Z"},
    {"id": "c15", "what": "picked_up", "hole": 10, "picked_up": False},
    {"id": "c16", "what": "not_played", "hole": 11},
    {"id": "c17", "what": "tee", "tee": "red"},
    {"id": "c18", "what": "settled", "hole": 5},
]


def text_of(*entries, **more):
    return json.dumps({"format": "trackgolf corrections", "version": 1, "corrections": list(entries)} | more)


def parsed(*entries, **more):
    return parse_corrections(text_of(*entries, **more), "invented.json")


def refused(text):
    with pytest.raises(CorrectionsError) as caught:
        parse_corrections(text, "invented.json")
    return str(caught.value)


class TestRead:
    def test_one_of_each_kind_in_the_order_of_the_file(self, tmp_path):
        path = tmp_path / "corrections.json"
        path.write_text(text_of(*ENTRIES), encoding="utf-8")
        read = read_corrections(path)
        assert [entry.id for entry in read.entries] == [entry["id"] for entry in ENTRIES]
        assert {entry.what for entry in read.entries} == set(SCHEMA)
        assert read == parsed(*ENTRIES)

    def test_values_and_their_units(self):
        entry = parsed(ENTRIES[2]).entries[0]
        # Derived: as written above; longitude before latitude, times in UTC.
        assert (entry.lon_deg, entry.lat_deg, entry.hole) == (-31.001, 46.999, 4)
        assert entry.time == pd.Timestamp("2026-05-16T09:36:00Z")
        assert str(entry.time.tz) == "UTC"

    def test_a_time_of_another_zone_is_the_same_moment(self):
        # Source: ISO 8601: +02:00 is two hours ahead of UTC.
        local = ENTRIES[0] | {"time": "2026-05-16T11:31:12+02:00"}
        assert parsed(local) == parsed(ENTRIES[0])

    def test_picked_up_means_yes_unless_it_says_no(self):
        assert [entry.picked_up for entry in parsed(ENTRIES[13], ENTRIES[14]).entries] == [True, False]

    def test_the_last_tee_counts(self):
        assert parsed().tee is None
        assert parsed(ENTRIES[16], {"id": "x", "what": "tee", "tee": "white"}).tee == "white"

    def test_none_is_fine(self):
        assert parsed() == Corrections()

    @pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
    def test_bytes_as_editors_write_them(self, tmp_path, encoding):
        path = tmp_path / "corrections.json"
        path.write_bytes(text_of(ENTRIES[6] | {"club": "Hölzchen"}).encode(encoding))
        assert read_corrections(path).entries[0].club == "Hölzchen"


VALUES = {
    "hole": st.integers(1, 36),
    "to_hole": st.integers(1, 36),
    # To the microsecond, as ISO 8601 is read.
    "time": st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1)).map(  # noqa: DTZ001
        lambda moment: pd.Timestamp(moment, tz="UTC").as_unit("ns")
    ),
    "lon_deg": st.floats(-180, 180),
    "lat_deg": st.floats(-90, 90),
    "club": st.text("abc é世7-", min_size=1).map(str.strip).filter(bool),
    "tee": st.text('abc é世7-"\\', min_size=1).map(str.strip).filter(bool),
    "lie": st.sampled_from(LIES),
    "end_lie": st.sampled_from(END_LIES),
    "penalty": st.integers(0, 5),
    "putts": st.integers(0, 20),
    "penalties": st.integers(0, 20),
    "strokes": st.integers(1, 40),
    "picked_up": st.booleans(),
}


class TestWrite:
    def test_reading_gives_the_same_again(self):
        assert parse_corrections(write_corrections(parsed(*ENTRIES)), "again") == parsed(*ENTRIES)

    def test_one_correction_a_line(self):
        lines = write_corrections(parsed(*ENTRIES)).splitlines()
        assert len(lines) == len(ENTRIES) + 2
        assert json.loads(lines[1].strip().rstrip(","))["id"] == "c1"

    def test_nothing_is_written_that_was_not_said(self):
        said = json.loads(write_corrections(parsed(*ENTRIES)))["corrections"]
        without = [{key: value for key, value in entry.items() if key != "picked_up"} for entry in said]
        wanted = [{key: value for key, value in entry.items() if key != "picked_up"} for entry in ENTRIES]
        wanted[1]["time"] = "2026-05-16T09:33:40.25Z"
        assert without == wanted

    @hypothesis_settings(max_examples=60, deadline=None)
    @given(st.data())
    def test_whatever_is_said_comes_back(self, data):
        entries = []
        for number, what in enumerate(data.draw(st.lists(st.sampled_from(sorted(SCHEMA)), max_size=6))):
            needed, further = SCHEMA[what]
            keys = [*needed, *(further if data.draw(st.booleans()) or what == "picked_up" else ())]
            values = {key: data.draw(VALUES[key]) for key in keys}
            entries.append(Correction(f"c{number}", what, **values))
        corrections = Corrections(tuple(entries))
        assert parse_corrections(write_corrections(corrections), "again") == corrections


class TestChange:
    def test_adding_and_taking_back(self):
        one = parsed(ENTRIES[0])
        more = one.adding(Correction(one.next_id(), "putts", hole=3, putts=2))
        assert [entry.id for entry in more.entries] == ["c1", "c2"]
        assert more.without("c2") == one

    def test_adding_what_is_not_whole(self):
        with pytest.raises(CorrectionsError, match="putts is missing"):
            Corrections().adding(Correction("c1", "putts", hole=3))

    def test_an_id_that_is_taken(self):
        with pytest.raises(CorrectionsError, match="its id is that of correction 1"):
            parsed(ENTRIES[0]).adding(Correction("c1", "putts", hole=3, putts=2))

    def test_taking_back_what_is_not_there(self):
        with pytest.raises(CorrectionsError, match="there is no correction 'c9'"):
            parsed(ENTRIES[0]).without("c9")

    def test_ids_are_never_given_twice(self):
        left = parsed(*ENTRIES[:3]).without("c1")
        assert left.next_id() not in {entry.id for entry in left.entries}


class TestRefused:
    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"what": "konfirm"}, "what is 'konfirm', not one of confirm, remove"),
            ({"what": None}, "what is missing"),
            ({"id": None}, "id is missing"),
            ({"id": ""}, "id is '', not a text"),
            ({"id": "a\nb"}, "cannot be printed"),
            ({"hole": None}, "hole is missing"),
            ({"hole": 0}, "hole is 0, not a whole number from 1 to 36"),
            ({"hole": True}, "hole is true, not a whole number"),
            ({"hole": "4"}, "hole is '4', not a whole number"),
            ({"hole": 4.5}, "hole is 4.5, not a whole number"),
            ({"time": None}, "time is missing"),
            ({"time": "half past nine"}, "not a time such as"),
            ({"time": "2026-05-16T09:31:12"}, "no zone: end it with Z"),
            ({"time": "9999-12-31T23:59:59-14:00"}, "too far ahead"),
            ({"time": 12}, "not a time such as"),
            ({"lon_deg": -31.0}, "'lon_deg' does not belong to confirm"),
            ({"colour": "red"}, "'colour' does not belong to confirm"),
            ({"note": 7}, "note is 7, not a text"),
        ],
    )
    def test_a_correction_with_a_fault(self, change, words):
        message = refused(text_of(ENTRIES[0] | change))
        assert words in message
        assert message.startswith("invented.json: correction 1")
        assert "\n" not in message

    @pytest.mark.parametrize(
        ("number", "change", "words"),
        [
            (2, {"lat_deg": None}, "lon_deg and lat_deg go together"),
            (4, {"lat_deg": 91}, "lat_deg is 91, not from -90 to 90 degrees"),
            (4, {"lon_deg": "west"}, "lon_deg is 'west', not a number of degrees"),
            (7, {"lie": "green"}, "lie is 'green', not one of tee"),
            (8, {"end_lie": "sea"}, "end_lie is 'sea', not one of fairway"),
            (10, {"putts": 21}, "putts is 21, not a whole number from 0 to 20"),
            (14, {"picked_up": "no"}, "picked_up is 'no', not true or false"),
        ],
    )
    def test_values_that_cannot_be(self, number, change, words):
        assert words in refused(text_of(ENTRIES[number] | change))

    def test_all_faults_at_once_each_on_a_line(self):
        message = refused(
            text_of(
                ENTRIES[0] | {"hole": 77}, ENTRIES[1] | {"time": "now"}, "no object", ENTRIES[1], ENTRIES[1]
            )
        )
        lines = message.splitlines()
        assert lines[0] == "invented.json: 4 faults."
        assert len(lines) == 5
        assert all(line.startswith("  correction ") for line in lines[1:])
        assert "its id is that of correction 4" in lines[4]

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("", "not valid JSON: expecting value, line 1, column 1"),
            ("{", "not valid JSON"),
            ("[]", "these are no corrections"),
            ('{"type": "FeatureCollection", "features": []}', "these are no corrections"),
            ("[" * 200_000, "nested too deeply"),
            ('{"format": "trackgolf corrections", "version": NaN}', "NaN is no number"),
            ('{"format": "trackgolf corrections", "version": 1, "version": 1}', "'version' is given twice"),
            ('{"format": "trackgolf corrections", "version": 1}', "corrections is not a list"),
        ],
    )
    def test_what_is_no_file_of_corrections(self, text, words):
        assert words in refused(text)

    def test_a_newer_version(self):
        message = refused(text_of(version=2))
        assert "version 2 of the corrections is newer than this program" in message

    @pytest.mark.parametrize("version", [None, 0, "1", True])
    def test_no_version(self, version):
        assert "version is" in refused(text_of(version=version))

    def test_a_file_that_is_not_there_or_empty(self, tmp_path):
        with pytest.raises(CorrectionsError, match="no such file"):
            read_corrections(tmp_path / "none.json")
        (tmp_path / "empty.json").write_text(" ")
        with pytest.raises(CorrectionsError, match="the file is empty"):
            read_corrections(tmp_path / "empty.json")

    @hypothesis_settings(max_examples=150, deadline=None)
    @given(
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
            lambda inner: (
                st.lists(inner, max_size=3)
                | st.dictionaries(
                    st.sampled_from(["id", "what", "hole", "time", "club", "lie", "x"]), inner, max_size=5
                )
            ),
            max_leaves=12,
        )
    )
    def test_anything_else_is_one_clear_error_or_corrections(self, value):
        text = json.dumps({"format": "trackgolf corrections", "version": 1, "corrections": value})
        try:
            outcome = str(parse_corrections(text, "invented.json"))
        except CorrectionsError as error:
            outcome = str(error)
        assert outcome.startswith(("Corrections(", "invented.json: "))


def test_a_label_says_what_and_when():
    assert parsed(ENTRIES[6]).entries[0].label == "correction 'c7' (club at 09:41:00 UTC)"
    assert parsed(ENTRIES[10]).entries[0].label == "correction 'c11' (putts)"


def test_times_are_kept_to_the_microsecond():
    moment = datetime(2026, 5, 16, 9, 31, 12, 345678, tzinfo=UTC) + timedelta(0)
    entry = Correction("c1", "confirm", hole=1, time=pd.Timestamp(moment).as_unit("ns"))
    assert parse_corrections(write_corrections(Corrections((entry,))), "again").entries == (entry,)
