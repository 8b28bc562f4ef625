"""Tracks in files, folders and archives, and archives that mean harm."""

import io
import zipfile
from pathlib import Path

import pytest

from geo.errors import InputError
from tests.trackgolf.library import invented
from tests.trackgolf.library.conftest import put_in
from trackgolf.library import gather
from trackgolf.library.gather import find_tracks


def archive(path, members, compression=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", compression) as packed:
        for name, content in members.items():
            packed.writestr(name, content)
    return path


class TestFolders:
    def test_tracks_however_deep_and_nothing_else(self, tmp_path):
        for name in ("b.gpx", "deep/er/a.GPX", "deep/c.gpx.gz", "notes.txt", ".hidden.gpx", "d.gpx.part"):
            (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name).write_text("x")
        (tmp_path / "folder.gpx").mkdir()
        sources, faults = find_tracks([tmp_path, tmp_path / "b.gpx", Path(f"{tmp_path}/deep/../b.gpx")])
        assert [str(source.path.relative_to(tmp_path)) for source in sources] == [
            "b.gpx",
            "deep/c.gpx.gz",
            "deep/er/a.GPX",
        ]
        assert faults == []

    def test_what_lies_beside_them(self, tmp_path):
        for name in (
            "course.geojson",
            "ines/bag.toml",
            "ines/may/card.csv",
            "ines/may/plan.geojson",
            "ines/may/t.gpx",
            "u.gpx",
        ):
            (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / name).write_text("x")
        may, other = find_tracks([tmp_path])[0]
        assert may.beside.course == other.beside.course == tmp_path / "course.geojson"
        assert may.beside.bag == tmp_path / "ines" / "bag.toml"
        assert may.beside.card == tmp_path / "ines" / "may" / "card.csv"
        assert (other.beside.bag, other.beside.card, other.beside.plan) == (None, None, None)
        # Only what lies in the folder that was named counts.
        (inner,) = find_tracks([tmp_path / "ines"])[0]
        assert inner.beside.course is None

    def test_a_folder_without_tracks(self, tmp_path):
        (fault,) = find_tracks([tmp_path])[1]
        assert "no GPX file in this folder" in str(fault)


class TestArchives:
    def test_are_imported_like_folders(self, library, tmp_path):
        members = {f"2026/june {day}/track.gpx": invented.track(days=day) for day in (10, 11)} | {
            "2026/notes.txt": "x"
        }
        path = archive(tmp_path / "season.zip", members)
        outcomes = put_in(library, path)
        assert [outcome.kind for outcome in outcomes] == ["new", "new"]
        assert outcomes[0].names == (f"{path}: 2026/june 10/track.gpx",)
        assert [outcome.kind for outcome in put_in(library, path)] == ["known", "known"]

    def test_in_a_folder_and_with_one_bad_member(self, library, tmp_path):
        folder = tmp_path / "in"
        folder.mkdir()
        archive(folder / "a.zip", {"bad.gpx": "not a track", "good.gpx": invented.track(days=10)})
        outcomes = put_in(library, folder)
        assert sorted(outcome.kind for outcome in outcomes) == ["fault", "new"]
        assert "a.zip: bad.gpx" in next(outcome.text for outcome in outcomes if outcome.kind == "fault")

    def test_a_name_is_only_a_name(self, library, tmp_path, connection):
        # Source: CWE-22: a member's name may lead out of the folder; here nothing is ever unpacked to the disk.
        before = set(tmp_path.rglob("*"))
        path = archive(
            tmp_path / "evil.zip",
            {"../../evil.gpx": invented.track(days=10), "C:\\x\\evil2.gpx": invented.track(days=11)},
        )
        assert [outcome.kind for outcome in put_in(library, path)] == ["new", "new"]
        after = {
            path
            for path in tmp_path.rglob("*")
            if path.parent != library.parent or "library" not in path.name
        }
        assert {found.name for found in after - before} == {"evil.zip"}
        names = [row[0] for row in connection.execute("SELECT name FROM recording ORDER BY id")]
        assert names[-2:] == ["evil.gpx", "evil2.gpx"]

    def test_a_bomb_is_not_unpacked(self, tmp_path):
        # A megabyte that would become a gigabyte; the size it claims is a lie.
        size = 1_000_000_000
        path = tmp_path / "bomb.zip"
        with (
            zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed,
            packed.open("bomb.gpx", "w", force_zip64=True) as member,
        ):
            block = b" " * 10_000_000
            for _ in range(10):
                member.write(block)
        assert path.stat().st_size < 200_000
        (source,), faults = find_tracks([path])
        assert faults == []
        with pytest.raises(InputError, match="larger than 64 MB"):
            source.load()
        del size

    def test_caps(self, tmp_path, monkeypatch):
        path = archive(tmp_path / "many.zip", {f"{number}.gpx": "x" for number in range(4)})
        monkeypatch.setattr(gather, "_MOST_MEMBERS", 3)
        assert "more than 3 tracks" in str(find_tracks([path])[1][0])
        monkeypatch.setattr(gather, "_MOST_MEMBERS", 4)
        assert len(find_tracks([path])[0]) == 4
        monkeypatch.setattr(gather, "_MOST_UNPACKED", 3)
        assert "too much for tracks" in str(find_tracks([path])[1][0])

    def test_damaged_or_empty(self, tmp_path):
        good = archive(tmp_path / "good.zip", {"a.gpx": invented.track()}).read_bytes()
        (tmp_path / "cut.zip").write_bytes(good[: len(good) // 2])
        (tmp_path / "none.zip").write_bytes(archive(tmp_path / "x.zip", {"a.txt": "x"}).read_bytes())
        empty = io.BytesIO()
        zipfile.ZipFile(empty, "w").close()
        (tmp_path / "empty.zip").write_bytes(empty.getvalue())
        sources, faults = find_tracks([tmp_path / name for name in ("cut.zip", "none.zip", "empty.zip")])
        assert sources == []
        assert ["damaged" in str(fault) or "no GPX file" in str(fault) for fault in faults] == [True] * 3
        broken = bytearray(good)
        broken[len(good) // 2] ^= 0xFF
        (tmp_path / "bits.zip").write_bytes(broken)
        (source,), _ = find_tracks([tmp_path / "bits.zip"])
        with pytest.raises(InputError, match="cannot be unpacked"):
            source.load()
