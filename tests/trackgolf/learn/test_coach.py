"""The pages of a coach: one a player, notes shown as written, faults of notes told together."""

import pandas as pd
import pytest

from tests.simulator.seasons import simulate_season
from trackgolf.errors import InputError
from trackgolf.learn.coach import CoachNotes, coach_files, read_notes
from trackgolf.learn.many_rounds import join_rounds


@pytest.fixture(scope="module")
def players():
    found = {}
    for name, seed in (("Ottilie F", 61), ("ottilie-f", 62)):
        season = simulate_season(seed, rounds=3)
        found[name] = (join_rounds(season.shots, season.holes, pd.DataFrame()), season.bag)
    return found


def test_a_page_a_player_and_one_that_leads_to_them(players, tmp_path):
    plan = tmp_path / "plan.html"
    plan.write_text("<p>plan</p>", encoding="utf-8")
    notes = {"Ottilie F": CoachNotes(("Long putts <b>first</b>",), plan)}
    files = dict(coach_files(players, notes))
    # Names that come to the same file get one each.
    assert list(files) == ["index.html", "ottilie-f.html", "ottilie-f-plan.html", "ottilie-f-2.html"]
    assert "Long putts &lt;b&gt;first&lt;/b&gt;" in files["index.html"]
    for name in list(files)[1:]:
        assert f'href="{name}"' in files["index.html"]
    assert files["ottilie-f-plan.html"] == "<p>plan</p>"
    assert "3 rounds" in files["ottilie-f.html"]


def test_notes_are_found_by_name_in_any_case(tmp_path):
    path = tmp_path / "notes.toml"
    path.write_text(
        '[[note]]\nplayer = "OTTILIE F"\ntext = "One"\n[[note]]\nplayer = "Ottilie F"\ntext = "Two"\n'
    )
    assert read_notes(path, ["Ottilie F"]) == {"Ottilie F": CoachNotes(("One", "Two"))}


def test_all_faults_of_notes_are_told(tmp_path):
    path = tmp_path / "notes.toml"
    path.write_text('[[note]]\nplayer = "Nobody"\n[[note]]\nplayer = "Ottilie F"\nplan = "none.html"\n')
    with pytest.raises(InputError) as caught:
        read_notes(path, ["Ottilie F"])
    assert "'Nobody'" in str(caught.value)
    assert "none.html" in str(caught.value)
