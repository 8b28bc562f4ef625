"""Uploads through the command itself: killed, started again, two at once, large ones; and the page that tells of them."""

import contextlib
import io
import re
import select
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as fuzz
from hypothesis import strategies as st

from tests.trackgolf.library import invented
from tests.trackgolf.web.conftest import PORT, hidden, visit
from trackgolf.library.jobs import Job, add_job, begin_next, read_jobs, read_outcomes
from trackgolf.library.opening import open_library
from trackgolf.library.outcomes import Outcome
from trackgolf.library.read import read_holes, read_round, read_rounds, read_shots
from trackgolf.web.job_views import seconds_left
from trackgolf.web.settings import WebSettings
from trackgolf.web.worker import Worker, the_turn

WORDS = [sys.executable, "-m", "trackgolf", "serve", "--no-browser", "--port", "0", "--library"]


class Served:
    """The command, and a browser at it."""

    def __init__(self, library):
        self.library = library
        self.process = subprocess.Popen(
            [*WORDS, str(library)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        ready, _, _ = select.select([self.process.stdout], [], [], 60)
        assert ready
        self.port = int(re.search(r":(\d+)/", self.process.stdout.readline())[1])
        self.base = f"http://127.0.0.1:{self.port}"
        with urllib.request.urlopen(f"{self.base}/import", timeout=30) as answer:
            self.cookie = answer.headers["Set-Cookie"].split(";")[0]
            self.fields = hidden(answer.read().decode())

    def body(self, paths):
        parts = [
            f'--b\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
            for name, value in self.fields.items()
        ]
        for path in paths:
            head = f'--b\r\nContent-Disposition: form-data; name="tracks"; filename="{path.name}"\r\n\r\n'
            parts += [head.encode(), path.read_bytes(), b"\r\n"]
        return b"".join([*parts, b"--b--\r\n"])

    def upload(self, *paths):
        """Send tracks, and give the number of the job."""
        headers = {
            "Cookie": self.cookie,
            "Origin": self.base,
            "Content-Type": "multipart/form-data; boundary=b",
        }
        asked = urllib.request.Request(f"{self.base}/import", self.body(paths), headers)
        with urllib.request.urlopen(asked, timeout=60) as answer:
            return int(answer.url.rsplit("/", 1)[1])

    def kill(self):
        self.process.kill()
        self.process.wait(10)
        self.process.stdout.close()


@pytest.fixture
def serve(library):
    running = []

    def start():
        running.append(Served(library))
        return running[-1]

    yield start
    for one in running:
        if one.process.returncode is None:
            one.kill()


@contextlib.contextmanager
def opened(library):
    with contextlib.closing(open_library(library)) as connection:
        yield connection


def wait_for(library, what, longest_s=120):
    end = time.monotonic() + longest_s
    while True:
        with opened(library) as connection:
            found = what(connection)
        if found:
            return found
        assert time.monotonic() < end
        time.sleep(0.02)


def states(connection):
    return [job.state for job in reversed(read_jobs(connection))]


@pytest.fixture(scope="module")
def packed(tmp_path_factory):
    """Four rounds in an archive."""
    folder = invented.season(tmp_path_factory.mktemp("packed"), 5, seed=2)
    with zipfile.ZipFile(folder / "season.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for number in range(1, 5):
            archive.write(folder / f"round_00{number}.gpx", f"{number}.gpx")
    return folder / "season.zip"


class TestServed:
    def test_killed_at_work_it_goes_on_at_the_next_start(self, serve, library, packed):
        first = serve()
        number = first.upload(packed)
        wait_for(library, lambda connection: read_outcomes(connection, number))
        children = children_of(first.process.pid)
        first.kill()
        with opened(library) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            before = read_outcomes(connection, number)
            assert 1 <= len(before) < 4
            assert len(read_rounds(connection)) == 1 + len(before)
        second = serve()
        # Meanwhile somebody gives the same once more: it waits, and keeps nothing twice.
        again = second.upload(packed)
        wait_for(library, lambda connection: states(connection) == ["done", "done"])
        with opened(library) as connection:
            outcomes = read_outcomes(connection, number)
            assert [one.kind for one in outcomes] == ["new"] * 4
            assert outcomes[: len(before)] == before
            assert [one.kind for one in read_outcomes(connection, again)] == ["known"] * 4
            kept = read_rounds(connection)["round"].tolist()
            assert kept == [1, 2, 3, 4, 5]
            # Derived: every round of the invented course has three holes and seven shots.
            assert read_holes(connection).groupby("round").size().to_dict() == dict.fromkeys(kept, 3)
            assert read_shots(connection).groupby("round").size().to_dict() == dict.fromkeys(kept, 7)
            assert connection.execute("SELECT COUNT(*) FROM job_file").fetchone()[0] == 0
        # Nothing of a whole track is left on the disk, and no process waits for a dead one.
        assert not library.with_name("library.sqlite.work").exists()
        assert children
        end = time.monotonic() + 20
        while any(Path(f"/proc/{child}").exists() for child in children):
            assert time.monotonic() < end
            time.sleep(0.1)

    def test_killed_while_it_receives_nothing_is_kept(self, serve, library, packed):
        served = serve()
        whole = served.body([packed])
        head = (
            f"POST /import HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nOrigin: {served.base}\r\n"
            f"Cookie: {served.cookie}\r\nContent-Type: multipart/form-data; boundary=b\r\n"
            f"Content-Length: {len(whole)}\r\n\r\n"
        )
        with socket.create_connection(("127.0.0.1", served.port), timeout=10) as line:
            line.sendall(head.encode() + whole[: len(whole) // 2])
            time.sleep(0.3)
            served.kill()
        with opened(library) as connection:
            assert read_jobs(connection) == []
            assert len(read_rounds(connection)) == 1
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"

    def test_a_large_upload_needs_little_memory(self, serve, library, tmp_path):
        served = serve()
        large = tmp_path / "large.gpx"
        # Text that no archive hides: 45 of the 50 MB that are taken.
        large.write_bytes(b"not a track " * 3_750_000)
        before = resident_mb(served.process.pid)
        served.upload(large)
        assert peak_mb(served.process.pid) - before < 40
        wait_for(library, lambda connection: states(connection) == ["done"])
        with opened(library) as connection:
            assert [one.kind for one in read_outcomes(connection, 1)] == ["fault"]
        # Derived: what was uploaded is dropped, and its room given back.
        end = time.monotonic() + 20
        while library.stat().st_size > 20_000_000:
            assert time.monotonic() < end
            time.sleep(0.1)


def children_of(pid):
    return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()] + [
        int(one)
        for task in Path(f"/proc/{pid}/task").iterdir()
        if task.name != str(pid)
        for one in (task / "children").read_text().split()
    ]


def resident_mb(pid):
    return kilobytes(pid, "VmRSS") / 1000


def peak_mb(pid):
    return kilobytes(pid, "VmHWM") / 1000


def kilobytes(pid, what):
    return int(re.search(rf"{what}:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())[1])


class TestWorker:
    def test_one_process_has_the_turn(self, library):
        with the_turn(library) as first, the_turn(library) as second:
            assert (first, second) == (True, False)
        with the_turn(library) as third:
            assert third

    def test_two_that_serve_one_library_share_the_work(self, library, packed):
        settings = WebSettings(library, PORT)
        workers = [Worker(settings, apart=False) for _ in range(2)]
        for worker in workers:
            worker.start()
        with opened(library) as connection, packed.open("rb") as stream:
            from trackgolf.library.jobs import NewFile

            add_job(connection, invented.PLAYER, {}, [NewFile("track", "season.zip", stream)])
        workers[0].wake()
        wait_for(library, lambda connection: states(connection) == ["done"])
        for worker in workers:
            worker.stop()
        with opened(library) as connection:
            assert [one.kind for one in read_outcomes(connection, 1)] == ["new"] * 4

    def test_stopped_it_leaves_the_rest_for_later(self, library, packed):
        settings = WebSettings(library, PORT)
        worker = Worker(settings, apart=False)
        with opened(library) as connection, packed.open("rb") as stream:
            from trackgolf.library.jobs import NewFile

            add_job(connection, invented.PLAYER, {}, [NewFile("track", "season.zip", stream)])
        worker.start()
        wait_for(library, lambda connection: read_outcomes(connection, 1))
        worker.stop()
        with opened(library) as connection:
            (job,) = read_jobs(connection)
            done = len(read_outcomes(connection, 1))
            assert (job.state, job.tries) == ("waiting", 0)
            assert len(read_rounds(connection)) == 1 + done


class TestPage:
    def test_waiting_then_done(self, visitor, library, invented_files):
        with (invented_files / "round_001.gpx").open("rb") as file:
            told = visitor.post("/import", {"tracks": (file, "<i>mine</i>.gpx")})
        assert (told.status_code, told.location) == (303, "/jobs/1")
        page = visitor.get("/jobs/1")
        assert "Waiting for its turn" in page.text
        assert 'href="/jobs/1">upload 1' in visitor.get("/").text
        assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in page.text
        assert "unsafe" not in page.headers["Content-Security-Policy"]
        with opened(library) as connection:
            begin_next(connection)
        assert "Unpacking" in visitor.get("/jobs/1").text
        from trackgolf.web.worker import work_off

        assert work_off(visitor.settings)
        page = visitor.get("/jobs/1")
        assert "1 round kept" in page.text
        assert "&lt;i&gt;mine&lt;/i&gt;.gpx" in page.text
        assert "refresh" not in page.text
        assert "script-src" not in page.headers["Content-Security-Policy"]

    @pytest.mark.parametrize("number", ["0", "2", "-1", "999999999", "1000000000", "x"])
    def test_no_such_upload(self, visitor, number):
        assert visitor.get(f"/jobs/{number}").status_code == 404
        assert visit(WebSettings(Path("/none/library.sqlite"), PORT)).get("/jobs/1").status_code == 404

    def test_what_is_refused_keeps_nothing(self, visitor, library, invented_files):
        track = invented_files / "round_001.gpx"
        for wrong in ({"course": "7"}, {"player": "nobody"}, {"bag": "no bag"}, {"scorecard": "no card"}):
            with track.open("rb") as file:
                form = {"tracks": (file, "a.gpx")} | {
                    name: ((invented_files / "course.geojson").open("rb"), "x") if name in ("bag", "scorecard") else value
                    for name, value in wrong.items()
                }  # fmt: skip
                assert visitor.post("/import", form).status_code == 400
        with opened(library) as connection:
            assert read_jobs(connection) == []


class TestEstimate:
    NOW = datetime(2026, 5, 1, 12, 0, 10, tzinfo=UTC)

    def job(self, **changes):
        values = {
            "id": 1, "player": "Olu", "state": "running", "choices": {}, "made": "", "ended": None, "tries": 1,
            "begun": (self.NOW - timedelta(seconds=10)).isoformat(), "tracks": 4, "looked": 4, "fault": None, "before": 0,
        }  # fmt: skip
        return Job(**(values | changes))

    def test_by_its_own_pace(self):
        done = [Outcome((str(number),), "new", number, "") for number in (1, 2)]
        # Derived: looked at all, rebuilt half: 0.1 + 0.45 = 0.55 of the work in 10 s, 0.45 left: 8.18 s.
        assert seconds_left(self.job(), done, 99.0, self.NOW) == pytest.approx(8.18, abs=0.01)

    def test_by_earlier_ones_or_not_at_all(self):
        # Derived: nothing done, half looked at: 0.05 of 4 tracks of 3 s each are done, 11.4 s left.
        assert seconds_left(self.job(looked=2), [], 3.0, self.NOW) == pytest.approx(11.4)
        assert seconds_left(self.job(), [], None, self.NOW) is None
        assert seconds_left(self.job(state="waiting"), [], 3.0, self.NOW) is None
        assert seconds_left(self.job(tracks=None), [], 3.0, self.NOW) is None


def test_a_damaged_lock_file_stops_nothing_for_good(library):
    with contextlib.closing(sqlite3.connect(library.with_name("library.sqlite.turn"))) as other:
        other.execute("BEGIN EXCLUSIVE")
        with the_turn(library) as mine:
            assert not mine
    with the_turn(library) as mine:
        assert mine


class TestForm:
    def test_a_new_player_without_a_bag_file(self, visitor, library, invented_files):
        clubs = "\n".join(f"{name} {carry}" for name, (carry, _) in invented.CLUBS.items())
        form = {"new_name": "Olu Brackwater", "new_target": "20", "new_target_is": "playing_handicap", "new_units": "m", "new_clubs": clubs}  # fmt: skip
        with (invented_files / "round_001.gpx").open("rb") as file:
            told = visitor.upload({"tracks": (file, "a.gpx")} | form)
        assert "1 round kept" in told.text
        with opened(library) as connection:
            assert read_rounds(connection)["player"].tolist() == [invented.PLAYER, "Olu Brackwater"]

    def test_a_fault_is_told_above_what_was_filled_in(self, visitor, invented_files):
        with (invented_files / "round_001.gpx").open("rb") as file:
            told = visitor.post(
                "/import", {"tracks": (file, "a.gpx"), "new_name": '"><b>Olu', "tee": "white"}
            )
        assert told.status_code == 400
        assert "the target is missing" in told.text
        assert 'value="&#34;&gt;&lt;b&gt;Olu"' in told.text
        assert 'value="white"' in told.text

    def test_bags_and_plans_that_are_kept_are_to_choose_from(self, visitor, library, invented_files):
        assert 'name="kept_bag"' not in visitor.get("/import").text
        other = invented.bag(carry_m=181).encode()
        with (invented_files / "round_001.gpx").open("rb") as file:
            visitor.upload({"tracks": (file, "a.gpx"), "bag": (io.BytesIO(other), "bag.toml")})
        page = visitor.get("/import").text
        assert re.findall(r'<option value="(\d)">Ines Okafor, version \d', page) == ["2", "1"]
        with (invented_files / "round_002.gpx").open("rb") as file:
            visitor.upload({"tracks": (file, "a.gpx"), "kept_bag": "1"})
        with opened(library) as connection:
            bags = [read_round(connection, number)[1].bag for number in (1, 2, 3)]
        assert bags[1] == other
        assert bags[2] == bags[0] != other
        for wrong in ({"kept_bag": "9"}, {"kept_plan": "1"}, {"kept_bag": "٣"}, {"kept_plan": "9" * 30}):
            with (invented_files / "round_002.gpx").open("rb") as file:
                assert visitor.post("/import", {"tracks": (file, "a.gpx")} | wrong).status_code == 400


class TestFuzz:
    WORDS = st.text(max_size=20) | st.sampled_from(["1", "0", "-1", "guess", "9" * 30, "nan", "\x00", "driver 200", "a\nb 1", "m", "join", invented.PLAYER])  # fmt: skip
    NAMES = st.sampled_from(["player", "course", "tee", "together", "no_plan", "kept_bag", "kept_plan", "new_name", "new_target", "new_target_is", "new_units", "new_clubs"])  # fmt: skip
    FILES = st.sampled_from(["tracks", "bag", "course_file", "scorecard", "plan", "card", "mended"])
    CONTENT = st.binary(max_size=60) | st.sampled_from([b"PK\x03\x04", b"{}", b"<gpx/>", b"hole,par\n1,4\n", b"[player]", invented.bag().encode(), invented.CARD.encode()])  # fmt: skip

    @fuzz(
        max_examples=60,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )
    @given(
        form=st.dictionaries(NAMES, WORDS, max_size=5),
        files=st.dictionaries(FILES, st.tuples(CONTENT, st.text(max_size=12)), max_size=3),
    )
    def test_no_upload_breaks_it(self, visitor, library, form, files):
        sent = {name: (io.BytesIO(content), f"x{named}") for name, (content, named) in files.items()}
        told = visitor.post("/import", {"tracks": (io.BytesIO(b"no track"), "a.gpx")} | form | sent)
        assert told.status_code in (303, 400)
        if told.status_code == 400:
            return
        from trackgolf.web.worker import work_off

        assert work_off(visitor.settings)
        assert visitor.get(told.location).status_code == 200
        with opened(library) as connection:
            assert read_jobs(connection)[0].state in ("done", "failed")
            assert connection.execute("SELECT COUNT(*) FROM job_file").fetchone()[0] == 0
