"""A library with rounds in it, made once and copied for each test that changes it."""

import shutil

import pytest

from tests.trackgolf.library import invented
from trackgolf.library.gather import find_tracks
from trackgolf.library.importing import ImportOptions, import_tracks
from trackgolf.library.opening import open_library


def put_in(place, folder, **options):
    """Import a folder into a library, and give the outcomes."""
    connection = open_library(place, create=True)
    try:
        sources, faults = find_tracks([folder])
        assert not faults
        return list(import_tracks(connection, sources, ImportOptions(**options)))
    finally:
        connection.close()


@pytest.fixture(scope="session")
def season_folder(tmp_path_factory):
    return invented.season(tmp_path_factory.mktemp("season"), 3)


@pytest.fixture(scope="session")
def made_once(season_folder, tmp_path_factory):
    place = tmp_path_factory.mktemp("made") / "library.sqlite"
    outcomes = put_in(place, season_folder)
    assert [outcome.kind for outcome in outcomes] == ["new"] * 3
    return place


@pytest.fixture
def library(made_once, tmp_path):
    """A library of three rounds of one player, a day apart."""
    place = tmp_path / "library.sqlite"
    shutil.copy(made_once, place)
    return place


@pytest.fixture
def connection(library):
    opened = open_library(library)
    yield opened
    opened.close()
