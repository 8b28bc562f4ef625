"""A bag as typed into a form: read back as it was meant, faults told together, and no text of it means anything."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.units import YARD_M
from trackgolf.errors import BagError, InputError
from trackgolf.library.materials import read_bag_bytes
from trackgolf.web.new_player import FIELDS, typed_bag

FORM = {
    "new_name": "Olu Brackwater",
    "new_target": "98",
    "new_target_is": "target_score",
    "new_units": "yd",
    "new_clubs": "driver 190\n\n 7 iron: 118\r\nsand wedge, 62.5 yd\n",
}


def test_is_the_bag_that_was_meant():
    bag = read_bag_bytes(typed_bag(FORM))
    assert (bag.player, bag.target_score, bag.units) == ("Olu Brackwater", 98, "yd")
    # Source: International yard and pound agreement of 1959: a yard is 0.9144 m.
    assert [(club.name, club.carry_m) for club in bag.clubs] == [
        ("driver", pytest.approx(190 * YARD_M)),
        ("7 iron", pytest.approx(118 * 0.9144)),
        ("sand wedge", pytest.approx(62.5 * 0.9144)),
    ]
    other = read_bag_bytes(
        typed_bag(FORM | {"new_target_is": "playing_handicap", "new_units": "m", "new_target": "+2"})
    )
    assert (other.playing_handicap, other.units) == (2, "m")
    assert other.clubs[0].carry_m == pytest.approx(190)


def test_nothing_typed_is_no_bag():
    assert typed_bag({}) is None
    assert (
        typed_bag(dict.fromkeys(FIELDS, " ") | {"new_units": "yd", "new_target_is": "target_score"}) is None
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"new_name": ""}, "the name is missing"),
        ({"new_target": "many"}, "no whole number: 'many'"),
        ({"new_clubs": ""}, "between 1 and 30 clubs"),
        ({"new_clubs": "driver 190\nthe long one"}, "line 2 of the clubs is no club and its carry: 'the long one'"),
        ({"new_clubs": "driver 190\ndriver 180"}, "driver"),
    ],
)  # fmt: skip
def test_what_cannot_be(change, said):
    with pytest.raises(BagError) as caught:
        typed_bag(FORM | change)
    assert said in str(caught.value)
    assert str(caught.value).startswith("new player")


def test_all_faults_at_once():
    with pytest.raises(BagError) as caught:
        typed_bag({"new_clubs": "x"})
    assert len(caught.value.faults) == 3


@given(
    st.fixed_dictionaries({name: st.text(max_size=40) for name in FIELDS})
    | st.fixed_dictionaries(
        {
            "new_name": st.text(min_size=1, max_size=30),
            "new_target": st.just("90"),
            "new_clubs": st.just("driver 200"),
        }
    )
)
def test_any_text_is_a_bag_or_told(form):
    try:
        content = typed_bag(form)
    except InputError:
        return
    if content is not None:
        # What was typed is the name, and not more TOML.
        assert len(read_bag_bytes(content).clubs) <= 30
        assert read_bag_bytes(content).player == " ".join(
            "".join(char if char.isprintable() else " " for char in form["new_name"]).split()
        )
