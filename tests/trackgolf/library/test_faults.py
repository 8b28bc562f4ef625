"""Kills, full disks, places that cannot be written, two at once, older and newer libraries: whole rounds or none."""

import os
import pickle
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from multiprocessing import get_context

import numpy as np
import pytest

from tests.trackgolf.library import invented, victims
from tests.trackgolf.library.conftest import put_in
from trackgolf.errors import LibraryError
from trackgolf.library import opening, schema
from trackgolf.library.gather import find_tracks
from trackgolf.library.importing import ImportOptions, import_tracks
from trackgolf.library.keeping import course_lines
from trackgolf.library.opening import backups_of, open_library
from trackgolf.library.read import read_round, read_rounds, read_shots
from trackgolf.library.rebuild import rebuild_round, result_of
from trackgolf.library.store import KeptRecording, NewRound

# 200 kills in all.
KILLS = {"store_rounds": 75, "store_results": 70, "migrate": 40, "import_folder": 15}


@pytest.fixture(scope="module")
def processes():
    """Processes that start quickly, because what they need was imported once, and share nothing."""
    context = get_context("forkserver")
    context.set_forkserver_preload(["tests.trackgolf.library.victims"])
    return context


@pytest.fixture(scope="module")
def rebuilt(made_once):
    """The three rounds, ready to be stored."""
    connection = open_library(made_once)
    rounds = []
    for number in (1, 2, 3):
        line, materials, recordings = read_round(connection, number)
        played = rebuild_round(recordings, materials)
        rows = connection.execute("SELECT * FROM recording WHERE round = ?", (number,)).fetchall()
        kept = tuple(
            KeptRecording(
                row["name"],
                row["digest"],
                *(recordings[0].points["time"].iloc[[0, -1]]),
                row["points"],
                row["track"],
            )
            for row in rows
        )
        rounds.append(
            NewRound(line["player"], materials, course_lines(played.course), kept, result_of(played))
        )
    connection.close()
    return rounds


def sound(place):
    """Open a library as anybody would, hold it against SQLite's own checks, and give it."""
    connection = open_library(place, create=True)
    # Source: SQLite, PRAGMA integrity_check and foreign_key_check.
    assert [tuple(row) for row in connection.execute("PRAGMA integrity_check")] == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    return connection


def whole(connection):
    """Every round has all of its own: recording, course, bag, shots, holes, remarks."""
    rounds = read_rounds(connection)
    for number in rounds["round"]:
        counts = {
            table: connection.execute(f"SELECT COUNT(*) FROM {table} WHERE round = ?", (number,)).fetchone()[
                0
            ]
            for table in ("recording", "shot", "hole", "remark")
        }
        assert counts["recording"] == 1
        assert counts["shot"] in (6, 7)
        assert counts["hole"] == 3
        assert counts["remark"] > 0
    if len(rounds):
        read_round(connection, int(rounds["round"].iloc[-1]))
    return rounds


def struck(processes, function, *arguments, after_s):
    """Start a process, kill it some time after it is ready, and say whether it was still at work."""
    ready = processes.Event()
    victim = processes.Process(target=function, args=(*arguments, ready))
    victim.start()
    assert ready.wait(60)
    time.sleep(after_s)
    victim.kill()
    victim.join()
    return victim.exitcode == -signal.SIGKILL


def lasting_s(processes, function, *arguments):
    """Let a process finish, and say how long it takes on this machine as it is now."""
    ready = processes.Event()
    process = processes.Process(target=function, args=(*arguments, ready))
    process.start()
    assert ready.wait(60)
    begin = time.perf_counter()
    process.join()
    assert process.exitcode == 0
    return time.perf_counter() - begin


class TestKilled:
    def test_while_rounds_are_stored(self, processes, rebuilt, tmp_path):
        payload = tmp_path / "payload"
        payload.write_bytes(pickle.dumps(rebuilt))
        rng = np.random.default_rng(1)
        seen, hits = set(), 0
        lasting = lasting_s(processes, victims.store_rounds, tmp_path / "first.sqlite", payload)
        for number in range(KILLS["store_rounds"]):
            place = tmp_path / f"{number}.sqlite"
            hits += struck(processes, victims.store_rounds, place, payload, after_s=rng.uniform(0, lasting))
            connection = sound(place)
            seen.add(len(whole(connection)))
            connection.close()
        assert hits > KILLS["store_rounds"] / 4
        assert len(seen) > 1

    def test_while_results_are_replaced(self, processes, rebuilt, library, tmp_path):
        # Another method found a shot less, and says so everywhere.
        variants = []
        for number, new in enumerate(rebuilt, start=1):
            result = new.result
            other = replace(result, shots=result.shots.iloc[:-1].assign(note="other"), method="other")
            variants += [(number, other), (number, result)]
        payload = tmp_path / "payload"
        payload.write_bytes(pickle.dumps(variants))
        rng = np.random.default_rng(2)
        hits, methods = 0, set()
        lasting = lasting_s(processes, victims.store_results, library, payload)
        for _ in range(KILLS["store_results"]):
            hits += struck(
                processes, victims.store_results, library, payload, after_s=rng.uniform(0, lasting)
            )
            connection = sound(library)
            rounds = whole(connection)
            assert len(rounds) == 3
            shots = read_shots(connection)
            for row in rounds.to_dict("records"):
                mine = shots[shots["round"] == row["round"]]
                expected = (6, {"other"}) if row["method"] == "other" else (7, {""})
                assert (len(mine), set(mine["note"])) == expected
                methods.add(row["method"])
            connection.close()
        assert hits > KILLS["store_results"] / 4
        assert len(methods) == 2

    def test_while_the_schema_changes(self, processes, made_once, tmp_path):
        old = victims.older(made_once, tmp_path / "old.sqlite")
        rng = np.random.default_rng(3)
        hits = 0
        first = tmp_path / "first" / "library.sqlite"
        first.parent.mkdir()
        shutil.copy(old, first)
        lasting = lasting_s(processes, victims.migrate, first, None)
        for number in range(KILLS["migrate"]):
            place = tmp_path / f"m{number}" / "library.sqlite"
            place.parent.mkdir()
            shutil.copy(old, place)
            hits += struck(processes, victims.migrate, place, None, after_s=rng.uniform(0, lasting))
            connection = sound(place)
            assert len(whole(connection)) == 3
            assert connection.execute("PRAGMA user_version").fetchone()[0] == schema.SCHEMA_VERSION
            connection.close()
            for backup in backups_of(place):
                if backup.name.endswith(".backup"):
                    copy = sqlite3.connect(backup)
                    assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
                    assert copy.execute("SELECT COUNT(*) FROM round").fetchone() == (3,)
                    copy.close()
        assert hits > KILLS["migrate"] / 4

    def test_while_a_folder_is_imported(self, processes, season_folder, tmp_path):
        rng = np.random.default_rng(4)
        place = tmp_path / "library.sqlite"
        (tmp_path / "first").mkdir()
        lasting = lasting_s(
            processes, victims.import_folder, tmp_path / "first" / "library.sqlite", season_folder
        )
        hits, seen = 0, set()
        for _ in range(KILLS["import_folder"]):
            hits += struck(
                processes, victims.import_folder, place, season_folder, after_s=rng.uniform(0, lasting)
            )
            connection = sound(place)
            seen.add(len(whole(connection)))
            connection.close()
            if 3 in seen:
                for beside in tmp_path.glob("library*"):
                    beside.unlink()
                seen.discard(3)
        assert hits > KILLS["import_folder"] / 4
        # What was killed can be done again, and nothing comes twice.
        put_in(place, season_folder)
        connection = sound(place)
        assert len(whole(connection)) == 3
        connection.close()


class TestFull:
    def test_a_full_disk_keeps_nothing_of_a_round(self, rebuilt, tmp_path):
        from trackgolf.library.opening import library_faults, writing
        from trackgolf.library.store import store_round

        place = tmp_path / "library.sqlite"
        connection = open_library(place, create=True)
        with writing(connection):
            store_round(connection, rebuilt[0])
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        # Source: SQLite, PRAGMA max_page_count: beyond it a write fails with SQLITE_FULL, as on a full disk.
        for spare in range(2):
            connection.execute(f"PRAGMA max_page_count = {pages + spare}")
            with (
                pytest.raises(LibraryError, match="the disk is full, nothing of this step was kept"),
                library_faults(place),
                writing(connection),
            ):
                store_round(connection, rebuilt[1])
            assert len(whole(connection)) == 1
        connection.execute("PRAGMA max_page_count = 1000000")
        with writing(connection):
            store_round(connection, rebuilt[1])
        connection.close()
        connection = sound(place)
        assert len(whole(connection)) == 2
        connection.close()

    def test_as_a_program(self, season_folder, made_once, tmp_path):
        place = tmp_path / "library.sqlite"
        shutil.copy(made_once, place)
        folder = tmp_path / "more"
        folder.mkdir()
        (folder / "t.gpx").write_text(invented.track(days=30))
        # Room for the table of shared memory beside the log, 32 kB, and not for a round in the log.
        room = 34_000

        def starve():
            # Source: POSIX, RLIMIT_FSIZE: no file may grow beyond it.
            resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))

        command = [sys.executable, "-m", "trackgolf", "import", str(folder), "--library", str(place)]
        result = subprocess.run(command, capture_output=True, text=True, check=False, preexec_fn=starve)
        assert result.returncode == 2, result.stderr
        assert "Traceback" not in result.stderr
        assert result.stderr.splitlines()[-1].startswith(f"trackgolf: {place}: ")
        connection = sound(place)
        assert len(whole(connection)) == 3
        connection.close()


class TestReadOnly:
    @pytest.fixture
    def locked(self, library, monkeypatch):
        """As if neither the file nor its folder could be written to; whoever runs the tests may be allowed anything."""
        monkeypatch.setattr(opening.os, "access", lambda *_: False)
        return library

    def test_is_read_without_a_trace(self, locked):
        before = {path.name: path.read_bytes() for path in locked.parent.iterdir() if path.is_file()}
        connection = open_library(locked, read_only=True)
        assert len(whole(connection)) == 3
        connection.close()
        assert {path.name: path.read_bytes() for path in locked.parent.iterdir() if path.is_file()} == before

    def test_is_not_written(self, locked):
        from trackgolf.library.opening import library_faults, writing

        connection = open_library(locked, read_only=True)
        with (
            pytest.raises(LibraryError, match="the library cannot be written"),
            library_faults(locked),
            writing(connection),
        ):
            connection.execute("DELETE FROM round")
        connection.close()

    def test_an_older_one_says_what_to_do(self, made_once, tmp_path, monkeypatch):
        old = victims.older(made_once, tmp_path / "old.sqlite")
        monkeypatch.setattr(opening.os, "access", lambda *_: False)
        with pytest.raises(LibraryError, match="Copy it to a place where it can be"):
            open_library(old, read_only=True)

    @pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
    def test_by_the_rights_of_the_file(self, library):
        library.chmod(0o400)
        connection = open_library(library, read_only=True)
        assert len(whole(connection)) == 3
        connection.close()
        with pytest.raises(LibraryError, match="cannot be written"):
            put_in(library, library.parent)


class TestTwoAtOnce:
    def test_the_same_folder(self, processes, season_folder, tmp_path):
        place = tmp_path / "library.sqlite"
        start = time.time() + 1.0
        both = [
            processes.Process(target=victims.import_folder, args=(place, season_folder, None, start))
            for _ in range(2)
        ]
        for process in both:
            process.start()
        for process in both:
            process.join()
        assert [process.exitcode for process in both] == [0, 0]
        kinds = " ".join(path.read_text() for path in tmp_path.glob("outcome-*")).split()
        assert sorted(kinds) == ["known"] * 3 + ["new"] * 3
        connection = sound(place)
        assert len(whole(connection)) == 3
        connection.close()

    def test_different_rounds(self, processes, season_folder, tmp_path):
        place = tmp_path / "library.sqlite"
        other = invented.season(tmp_path / "other", 2, seed=5)
        for path in other.glob("*.gpx"):
            path.write_text(invented.later(path.read_text(), 30))
        both = [
            processes.Process(target=victims.import_folder, args=(place, folder))
            for folder in (season_folder, other)
        ]
        for process in both:
            process.start()
        for process in both:
            process.join()
        connection = sound(place)
        assert len(whole(connection)) == 5
        assert connection.execute("SELECT COUNT(*) FROM course").fetchone()[0] == 1
        assert connection.execute("SELECT COUNT(*) FROM player").fetchone()[0] == 1
        connection.close()


class TestOlder:
    def test_is_brought_up_to_date_with_a_backup(self, made_once, tmp_path):
        place = victims.older(made_once, tmp_path / "library.sqlite")
        before = sqlite3.connect(place)
        rows = before.execute("SELECT * FROM shot ORDER BY round, position").fetchall()
        before.close()
        connection = sound(place)
        assert len(whole(connection)) == 3
        now = connection.execute("SELECT * FROM shot ORDER BY round, position").fetchall()
        # Columns that came since stand at the end.
        assert [tuple(row)[: len(rows[0])] for row in now] == rows
        # The same tables as a library made today.
        fresh = open_library(tmp_path / "fresh.sqlite", create=True)
        listed = "SELECT type, name, tbl_name FROM sqlite_master ORDER BY name"
        assert [tuple(row) for row in connection.execute(listed)] == [
            tuple(row) for row in fresh.execute(listed)
        ]
        fresh.close()
        connection.close()
        (backup,) = backups_of(place)
        assert backup.name == "library.sqlite.schema-1.backup"
        copy = sqlite3.connect(backup)
        assert copy.execute("PRAGMA user_version").fetchone() == (1,)
        assert copy.execute("SELECT * FROM shot ORDER BY round, position").fetchall() == rows
        copy.close()

    def test_columns_that_came_before_the_schema_knew_them(self, made_once, tmp_path):
        place = victims.older(made_once, tmp_path / "library.sqlite", steps=2)
        old = sqlite3.connect(place)
        old.execute(
            """UPDATE shot SET more = '{"corrected": 1, "height_m": 2.5}' WHERE round = 2 AND position = 3"""
        )
        old.execute("""UPDATE shot SET more = '{"corrected": 0}' WHERE round = 1""")
        old.commit()
        old.close()
        connection = sound(place)
        shots = read_shots(connection)
        assert shots["corrected"].sum() == 1
        assert shots["height_m"].dropna().tolist() == [2.5]
        assert connection.execute("SELECT COUNT(*) FROM shot WHERE more IS NOT NULL").fetchone()[0] == 1
        connection.close()

    def test_by_two_at_once(self, processes, made_once, tmp_path):
        place = victims.older(made_once, tmp_path / "library.sqlite")
        ready = processes.Event()
        both = [processes.Process(target=victims.migrate, args=(place, None, ready)) for _ in range(2)]
        for process in both:
            process.start()
        for process in both:
            process.join()
        assert [process.exitcode for process in both] == [0, 0]
        connection = sound(place)
        assert len(whole(connection)) == 3
        connection.close()


class TestCluster:
    def test_gives_what_one_process_gives(self, season_folder, made_once, tmp_path):
        distributed = pytest.importorskip("distributed")
        from trackgolf.library.runners import on_cluster

        place = tmp_path / "cluster.sqlite"
        with (
            distributed.LocalCluster(
                n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
            ) as cluster,
            on_cluster(cluster.scheduler_address) as run,
        ):
            connection = open_library(place, create=True)
            sources, _ = find_tracks([season_folder])
            kinds = [outcome.kind for outcome in import_tracks(connection, sources, ImportOptions(), run=run)]
        assert kinds == ["new"] * 3
        serial = open_library(made_once)
        for table in ("recording", "shot", "hole", "comparison", "remark"):
            rows = [
                [tuple(row) for row in db.execute(f"SELECT * FROM {table}")] for db in (connection, serial)
            ]
            assert rows[0] == rows[1]
        serial.close()
        connection.close()

    def test_nobody_answers(self, monkeypatch):
        pytest.importorskip("distributed")
        from trackgolf.library import runners

        monkeypatch.setattr(runners, "_PATIENCE_S", 0.5)
        with (
            pytest.raises(LibraryError.__mro__[1], match="no scheduler answers there"),
            runners.on_cluster("tcp://127.0.0.1:1"),
        ):
            pass
