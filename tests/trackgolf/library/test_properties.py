"""Whatever bytes an archive or a library holds: tracks and tables, or clear errors."""

import contextlib
import io
import sqlite3
import tempfile
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geo.errors import InputError
from tests.trackgolf.library import invented
from trackgolf.errors import LibraryError
from trackgolf.library import read_comparisons, read_holes, read_round, read_rounds, read_shots
from trackgolf.library.correcting import read_notes
from trackgolf.library.gather import find_tracks
from trackgolf.library.opening import library_faults, open_library


def many(examples):
    return settings(
        max_examples=examples,
        deadline=None,
        suppress_health_check=[
            HealthCheck.too_slow,
            HealthCheck.data_too_large,
            HealthCheck.function_scoped_fixture,
        ],
    )


@st.composite
def damaged(draw, content):
    """Put bytes anywhere, take some out, cut the end off."""
    data = bytearray(content)
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(data)))
        data[at : at + draw(st.sampled_from([0, 1, 1, 4, 30]))] = draw(st.binary(max_size=6))
    return bytes(data[: draw(st.integers(0, len(data)))] if draw(st.integers(0, 9)) == 0 else data)


def archive(kind):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", kind) as file:
        file.writestr("a.gpx", invented.track(places=invented.PLACES[:3])[:3000])
        file.writestr("folder/../../b.GPX", "<gpx/>")
        file.writestr("c.txt", "no track")
    return packed.getvalue()


ARCHIVES = [
    archive(kind) for kind in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA)
]


@many(300)
@given(content=st.sampled_from(ARCHIVES).flatmap(damaged))
def test_archive(content):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tracks.zip"
        path.write_bytes(content)
        sources, faults = find_tracks([path])
        for source in sources:
            try:
                assert isinstance(source.load(), bytes)
            except InputError as error:
                faults.append(error)
        assert all(len(str(fault).replace(folder, "")) < 400 for fault in faults)
        assert [entry.name for entry in Path(folder).iterdir()] == ["tracks.zip"]


@pytest.fixture(scope="module")
def pages(made_once):
    with contextlib.closing(sqlite3.connect(made_once)) as base:
        base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return base.serialize()


@many(150)
@given(data=st.data())
def test_library(pages, data):
    # Damage to the first pages hits the schema, damage further on hits rows.
    first = data.draw(st.sampled_from([100, 4096, 40_000, len(pages)]))
    content = data.draw(damaged(pages[:first])) + pages[first:]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "library.sqlite"
        path.write_bytes(content)
        said = ""
        try:
            with library_faults(path), contextlib.closing(open_library(path, read_only=True)) as connection:
                rounds = read_rounds(connection)
                for read in (read_shots, read_holes, read_comparisons):
                    read(connection)
                for number in rounds["round"].head(1):
                    read_round(connection, int(number))
                    read_notes(connection, int(number))
        except LibraryError as error:
            said = str(error)
        assert said.replace(folder, "").isprintable()
