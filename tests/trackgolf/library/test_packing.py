"""Recordings come back from their compressed form exactly."""

import io
import math
import zipfile
import zlib

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo.gpx import GpxFile, PointAccount, parse_gpx
from tests.trackgolf.library import invented
from trackgolf.errors import LibraryError
from trackgolf.library.packing import (
    digest_of,
    pack_bytes,
    pack_recording,
    recording_digest,
    unpack_bytes,
    unpack_recording,
)


def recording(lon, ele=None, mark=()):
    count = len(lon)
    points = pd.DataFrame(
        {
            "time": pd.to_datetime(np.arange(count) * 1_500_000_001, utc=True),
            "lon_deg": np.asarray(lon, dtype=float),
            "lat_deg": np.linspace(47, 47.1, count),
            "ele_m": np.full(count, np.nan) if ele is None else np.asarray(ele, dtype=float),
            "hdop": np.nan,
            "segment": np.arange(count) // 2,
        }
    )
    points["time"] = points["time"].astype("datetime64[ns, UTC]")
    marks = pd.DataFrame(mark, columns=["time", "lon_deg", "lat_deg", "name"])
    marks["time"] = pd.to_datetime(marks["time"], utc=True).astype("datetime64[ns, UTC]")
    marks = marks.astype({"lon_deg": float, "lat_deg": float, "name": str})
    account = PointAccount(count + 2, count, {"no_time": 2})
    return GpxFile(points, marks, account, ("said",), None, None, "watch", "1.1", "track.gpx")


def same(one, two):
    pd.testing.assert_frame_equal(one.points, two.points, check_exact=True)
    pd.testing.assert_frame_equal(one.marks, two.marks, check_exact=True)
    for name in ("account", "warnings", "name", "description", "creator", "version", "source"):
        assert getattr(one, name) == getattr(two, name)


class TestRecordings:
    @given(st.lists(st.floats(-180, 180, allow_nan=False), min_size=1, max_size=8))
    @settings(deadline=None)
    def test_any_number_comes_back(self, lon):
        # -0.0 equals 0.0; the bits tell them apart.
        back = unpack_recording(pack_recording(recording(lon)))
        assert back.points["lon_deg"].to_numpy().tobytes() == np.asarray(lon, dtype=float).tobytes()

    def test_unknown_heights_and_marks_come_back(self):
        file = recording(
            [-31.0, -31.1, -31.2],
            [1.5, math.nan, -0.25],
            [(pd.Timestamp("2026-05-01T10:00Z"), -31.0, 47.0, "7 iron"), (pd.NaT, -31.1, 47.0, "Ünlü 🏌")],
        )
        same(unpack_recording(pack_recording(file)), file)

    def test_a_real_file_comes_back_small(self):
        text = invented.track()
        file = parse_gpx(text.encode(), "track.gpx")
        packed = pack_recording(file)
        same(unpack_recording(packed), file)
        # Derived: at best, gzip of the text itself; whole numbers' steps are smaller still.
        assert len(packed) < len(zlib.compress(text.encode(), 9))

    def test_documents_come_back(self):
        content = bytes(range(256)) * 10
        assert unpack_bytes(pack_bytes(content)) == content


class TestDigests:
    def test_is_that_of_the_points_whatever_the_file(self):
        text = invented.track()
        plain = parse_gpx(text.encode(), "a.gpx").points
        other = parse_gpx(text.replace("<ele>12.5</ele>", "").replace("\n", "\r\n").encode(), "b.gpx").points
        assert recording_digest(plain) == recording_digest(other)
        assert recording_digest(plain) == recording_digest(plain[::-1])
        assert recording_digest(plain) != recording_digest(plain.iloc[1:])
        assert recording_digest(plain) != recording_digest(plain.assign(lat_deg=plain["lat_deg"] + 1e-6))

    def test_tells_where_one_part_ends(self):
        assert digest_of(b"ab", b"c") != digest_of(b"a", b"bc")
        # Source: FIPS 180-4, SHA-256 gives 256 bits, 64 hexadecimal digits.
        assert len(digest_of(b"")) == 64


class TestDamage:
    """Source: NEP 1, the head of an array: its length, then a Python dictionary as text."""

    @pytest.mark.parametrize(
        "head",
        [
            b"{'descr': '<i8', 'fortran_order': (",
            b"{'descr': '<i8', 'fortran_order': False, 'shape': (9999999999999999,), }",
            b"{'descr': '<i8', 'fortran_order': False, 'shape': (-1,), }",
            b"{'descr': 'O', 'fortran_order': False, 'shape': (1,), }",
            b"{'descr': '<i8'",
            b"\xff\xfe",
            b"(" * 5000,
            b"[" * 5000 + b"]" * 5000,
            b"9" * 5000,
            b"",
        ],
    )
    def test_the_head_of_an_array(self, head):
        packed = pack_recording(recording([-31.0, -31.1]))
        changed = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(packed)) as old, zipfile.ZipFile(changed, "w") as new:
            for name in old.namelist():
                content = old.read(name)
                if name == "time.npy":
                    content = b"\x93NUMPY\x01\x00" + len(head).to_bytes(2, "little") + head
                new.writestr(name, content)
        with pytest.raises(LibraryError, match="damaged"):
            unpack_recording(changed.getvalue())

    @pytest.mark.parametrize(
        "about", ["{", "[]", "null", '{"seen": 1}', "[" * 100_000, '{"seen": -1, "dropped": []}']
    )
    def test_what_is_said_of_it(self, about):
        packed = pack_recording(recording([-31.0, -31.1]))
        with np.load(io.BytesIO(packed)) as old:
            arrays = {name: old[name] for name in old.files}
        arrays["about"] = np.frombuffer(about.encode(), dtype=np.uint8)
        changed = io.BytesIO()
        np.savez(changed, **arrays)
        with pytest.raises(LibraryError, match="damaged"):
            unpack_recording(changed.getvalue())

    def test_cut_anywhere(self):
        packed = pack_recording(recording([-31.0, -31.1]))
        for cut in range(0, len(packed), 97):
            with pytest.raises(LibraryError, match="damaged"):
                unpack_recording(packed[:cut])

    def test_a_document_that_would_fill_the_memory(self):
        with pytest.raises(LibraryError, match="damaged"):
            unpack_bytes(zlib.compress(bytes(70_000_000)))
        content = bytes(1_000_000)
        assert unpack_bytes(pack_bytes(content)) == content
        with pytest.raises(LibraryError, match="damaged"):
            unpack_bytes(pack_bytes(content)[:-1])
