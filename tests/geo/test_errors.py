import pytest

from geo.errors import InputError, raise_faults


def test_a_message_is_one_line_whatever_the_text():
    error = InputError("bad name 'a\nb\x1b[31m'", "round.gpx")
    assert "\n" not in str(error)
    assert "\x1b" not in str(error)


def test_many_faults_are_capped_at_twenty():
    with pytest.raises(InputError) as caught:
        raise_faults(InputError, [f"hole {n}: no par" for n in range(1, 31)], "course.geojson")
    lines = str(caught.value).split("\n")
    assert lines[0] == "course.geojson: 30 faults."
    assert len(lines) == 22
    assert lines[-1] == "  and 10 more"


def test_no_fault_is_no_error():
    raise_faults(InputError, [], "course.geojson")


def test_a_quotation_without_end_is_cut():
    told = str(InputError("x" * 10_000, "file", faults=["y" * 10_000]))
    assert max(map(len, told.split("\n"))) < 700
    assert told.count("(and more)") == 2
