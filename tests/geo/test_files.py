"""Small files: clear errors in, all or nothing out."""

import errno
import os

import pytest

from geo.errors import InputError
from geo.files import decode_text, read_capped, read_small_file, write_text, write_texts


class BagError(InputError):
    """What a caller may ask to be raised."""


def test_written_text_replaces_the_old_and_leaves_nothing_behind(tmp_path):
    path = tmp_path / "new" / "plan.geojson"
    write_text(path, "one\n")
    write_text(path, "zwö\n")
    assert path.read_bytes() == "zwö\n".encode()
    assert [entry.name for entry in path.parent.iterdir()] == ["plan.geojson"]


def test_a_failed_write_keeps_the_old_files_and_leaves_nothing_behind(tmp_path, monkeypatch):
    path, other = tmp_path / "plan.geojson", tmp_path / "plan.gpx"
    write_text(path, "one")

    def fail(descriptor, mode):
        os.close(descriptor)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fdopen", fail)
        with pytest.raises(InputError, match="cannot be written"):
            write_text(path, "two")
    with pytest.raises(InputError, match="folder"):
        write_texts([(path, "two"), (other, "two"), (tmp_path, "two")])
    assert path.read_text() == "one"
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan.geojson"]


def test_two_results_need_two_files(tmp_path):
    with pytest.raises(InputError, match="two results go to this file"):
        write_texts([(tmp_path / "plan", "a"), (tmp_path / "." / "plan", "b")])
    assert not list(tmp_path.iterdir())


def test_half_a_letter_does_not_stop_a_write(tmp_path):
    write_text(tmp_path / "plan", "\ud800")
    assert (tmp_path / "plan").read_text() == "?"


def test_a_place_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="cannot be written"):
        write_text(tmp_path / "file" / "plan.geojson", "x")
    with pytest.raises(InputError, match="folder"):
        write_text(tmp_path, "x")
    with pytest.raises(InputError, match="cannot be written"):
        write_text(tmp_path / "nul\0l", "x")


def test_reading_names_what_was_wanted(tmp_path):
    with pytest.raises(BagError, match="Give the bag file itself"):
        read_small_file(tmp_path, BagError, "bag")
    with pytest.raises(BagError, match="no such file"):
        read_small_file(tmp_path / "none", BagError, "bag")
    (tmp_path / "blank").write_bytes(b" \n")
    with pytest.raises(BagError, match="empty"):
        read_small_file(tmp_path / "blank", BagError, "bag")


def test_no_more_is_read_than_allowed(tmp_path):
    path = tmp_path / "map"
    path.write_bytes(b"x" * 11)
    assert read_capped(path, 11, "map") == b"x" * 11
    with pytest.raises(InputError, match=r"larger than 1e-05 MB, too large for a map\. Export less"):
        read_capped(path, 10, "map", if_large="Export less")
    with pytest.raises(InputError, match="too large for a map"):
        read_capped(path, 10, "map")


def test_every_byte_decodes():
    assert len(decode_text(bytes(range(256)))) == 256
