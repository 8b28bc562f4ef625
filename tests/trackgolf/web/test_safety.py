"""Nobody but the person at the page gets in, and no request breaks or fills anything."""

import contextlib
import http.client
import re
import select
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given
from hypothesis import settings as fuzz
from hypothesis import strategies as st

from tests.trackgolf.web.conftest import BASE, PORT, hidden, visit
from trackgolf.cli import main
from trackgolf.errors import InputError
from trackgolf.library.correcting import read_corrections_of
from trackgolf.library.opening import open_library
from trackgolf.library.read import read_holes, read_rounds, read_shots
from trackgolf.web.serving import bind
from trackgolf.web.settings import WebSettings, is_loopback

HOLE = "/rounds/1/holes/1"
PUTTS = {"putts": "1", "visit": "0"}


def entries(library):
    connection = open_library(library)
    try:
        return read_corrections_of(connection, 1).entries
    finally:
        connection.close()


class TestHost:
    # A name that somebody else's name server points at this machine reaches it, but says its own name.
    @pytest.mark.parametrize(
        "host",
        ["evil.example", "evil.example:8765", "127.0.0.1.evil.example:8765", "127.0.0.1", "127.0.0.1:80", "192.0.2.1:8765", "", "127.0.0.1:8765@evil.example", "[::1]:99999"],
    )  # fmt: skip
    def test_other_names_are_refused(self, visitor, host):
        told = visitor.get("/", headers={"Host": host})
        assert told.status_code == 403
        assert "Set-Cookie" not in told.headers

    @pytest.mark.parametrize("host", ["127.0.0.1:8765", "localhost:8765", "[::1]:8765"])
    def test_names_of_this_machine_are_not(self, visitor, host):
        assert visitor.get("/", headers={"Host": host}).status_code == 200


class TestChanges:
    # Source: W3C, Fetch Metadata Request Headers: values of Sec-Fetch-Site. RFC 6454, 7.3: "null" is an origin too.
    @pytest.mark.parametrize(
        "headers",
        [
            {},
            {"Origin": "http://evil.example"},
            {"Origin": "null"},
            {"Origin": "http://127.0.0.1:9999"},
            {"Origin": f"https://127.0.0.1:{PORT}"},
            {"Sec-Fetch-Site": "cross-site"},
            {"Sec-Fetch-Site": "same-site", "Origin": BASE},
            {"Sec-Fetch-Site": "none", "Origin": BASE},
        ],
    )
    def test_of_other_pages_are_refused(self, visitor, library, headers):
        told = visitor.post(f"{HOLE}/score", PUTTS, page=HOLE, headers=headers)
        assert told.status_code == 403
        assert entries(library) == ()

    def test_need_the_token_of_this_start(self, visitor, settings, library):
        for token in ("", "0" * 64, "\u20ac"):
            told = visitor.post(f"{HOLE}/score", PUTTS | {"form_token": token}, page=HOLE)
            assert told.status_code == 403
        other = visit(WebSettings(library, PORT))
        fields = hidden(other.get(HOLE).text)
        assert fields["form_token"] != hidden(visitor.get(HOLE).text)["form_token"]
        assert visitor.post(f"{HOLE}/score", PUTTS | fields, page=HOLE).status_code == 403
        assert entries(library) == ()
        assert settings.secret not in visitor.get(HOLE).text

    def test_need_the_cookie(self, visitor, library):
        fields = hidden(visitor.get(HOLE).text)
        visitor.client.delete_cookie(f"trackgolf_{PORT}", domain="127.0.0.1")
        headers = {"Origin": BASE, "Sec-Fetch-Site": "same-origin"}
        told = visitor.client.post(f"{HOLE}/score", data=fields | PUTTS, base_url=BASE, headers=headers)
        assert told.status_code == 403
        assert entries(library) == ()

    def test_happen_otherwise(self, visitor, library):
        assert visitor.post(f"{HOLE}/score", PUTTS, page=HOLE).status_code == 303
        assert visitor.post(f"{HOLE}/score", PUTTS, page=HOLE, headers={"Origin": BASE}).status_code == 303
        assert len(entries(library)) == 2


class TestBuiltInElsewhere:
    # Source: W3C, Fetch Metadata Request Headers: modes and destinations of pictures, frames and links.
    @pytest.mark.parametrize(
        ("mode", "dest", "status"),
        [
            ("no-cors", "image", 403),
            ("navigate", "iframe", 403),
            ("cors", "empty", 403),
            ("navigate", "document", 200),
        ],
    )
    def test_only_a_link_leads_here(self, visitor, mode, dest, status):
        headers = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": mode, "Sec-Fetch-Dest": dest}
        assert visitor.get("/rounds/1/report", headers=headers).status_code == status


class TestAnswers:
    @pytest.mark.parametrize(
        "path", ["/", "/import", "/style.css", "/rounds/1", HOLE, "/rounds/1/report", "/none"]
    )
    def test_headers(self, visitor, path):
        headers = visitor.get(path).headers
        # Source: OWASP HTTP Headers Cheat Sheet (from memory).
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Referrer-Policy"] == "same-origin"
        assert headers["Cache-Control"] == "no-store"
        policy = headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; ")
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert "Server" not in headers

    def test_cookie_is_strict(self, settings):
        cookie = visit(settings).get("/").headers["Set-Cookie"]
        assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
        assert cookie.startswith(f"trackgolf_{PORT}=")

    def test_report_brings_its_own_policy(self, visitor):
        told = visitor.get("/rounds/1/report")
        policy = told.headers["Content-Security-Policy"]
        assert "script-src 'sha256-" in policy
        assert "form-action 'none'" in policy
        assert "&" not in policy


class TestOpenToOthers:
    @pytest.fixture
    def open_settings(self, library):
        return WebSettings(library, PORT, "192.0.2.7", token="t0ken-invented")

    def test_nothing_without_the_token(self, open_settings, library):
        browser = visit(open_settings, f"http://192.0.2.7:{PORT}")
        for path in ("/", "/import", "/rounds/1", HOLE, "/rounds/1/report", "/none"):
            told = browser.get(path)
            assert told.status_code == 401
            assert "Set-Cookie" not in told.headers
            assert "Invented Links" not in told.text
        assert browser.post(f"{HOLE}/score", PUTTS, page="/").status_code == 403
        assert browser.post("/enter", {"token": "wrong"}, page="/").status_code == 403
        assert browser.get("/").status_code == 401
        assert entries(library) == ()

    def test_everything_with_it(self, open_settings, library):
        browser = visit(open_settings, f"http://192.0.2.7:{PORT}")
        assert browser.post("/enter", {"token": "t0ken-invented"}, page="/").status_code == 303
        assert browser.get("/rounds/1").status_code == 200
        assert browser.post(f"{HOLE}/score", PUTTS, page=HOLE).status_code == 303
        assert len(entries(library)) == 1

    def test_names_are_still_checked(self, open_settings):
        assert visit(open_settings, f"http://evil.example:{PORT}").get("/").status_code == 403

    @pytest.mark.parametrize(
        "address", ["0.0.0.0", "192.168.1.2", "::", "example.org", "127.0.0.1.nip.example"]
    )
    def test_only_loopback_is_loopback(self, address):
        assert not is_loopback(address)
        assert is_loopback("127.0.0.1")
        assert is_loopback("::1")


class TestSize:
    def test_form_past_the_limit(self, library):
        browser = visit(WebSettings(library, PORT, max_bytes=100_000))
        told = browser.post("/import", {"note": "x" * 200_000})
        assert told.status_code == 413

    def test_a_port_that_is_taken(self):
        first = bind("127.0.0.1", 0)
        first.listen()
        with pytest.raises(InputError, match="Give another --port"):
            bind("127.0.0.1", first.getsockname()[1])
        first.close()
        with pytest.raises(InputError, match="no address"):
            bind("example.org", 0)


class TestFuzz:
    WORDS = st.text(max_size=30) | st.sampled_from(["1", "-1", "99999999999999999999", "nan", "NaT", "24:61", "\x00", "2026-01-01T00:00:00Z", "add", "remove", "9e999", "10:00"])  # fmt: skip
    FIELDS = st.dictionaries(
        st.sampled_from(["do", "shot", "visit", "clock", "lon", "lat", "putts", "penalties", "strokes", "club", "lie", "end_lie", "penalty", "to_hole", "note", "id", "hole", "seen", "player", "course", "together", "tee", "token", "number", "name", "kept_bag", "kept_plan", "new_name", "new_target", "new_clubs", "right-1", "par-1", "index-1"]),
        WORDS,
        max_size=8,
    )  # fmt: skip
    PATHS = st.sampled_from(
        ["/", "/import", "/enter", "/style.css", "/rounds/1", "/rounds/1/report", "/rounds/1/undo", "/rounds/1/course", "/rounds/1/course.geojson", "/courses/1/made", "/courses/9.geojson", "/jobs/1", "/jobs/0"]
        + [f"/rounds/{number}/holes/{hole}{end}" for number in ("1", "0", "77", "x") for hole in ("1", "2", "36", "37", "-1") for end in ("", "/shot", "/score")]
        + ["/rounds/99999999999999999999", "/%00", "/rounds/%ff", "/rounds/1/../../etc/passwd", "//evil.example"]
    )  # fmt: skip

    @fuzz(
        max_examples=120,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )
    @given(path=PATHS, method=st.sampled_from(["get", "post", "put", "head", "options"]), form=FIELDS)
    def test_no_request_breaks_it(self, visitor, path, method, form):
        fields = hidden(visitor.get(HOLE).text) | form
        headers = {"Origin": BASE, "Sec-Fetch-Site": "same-origin"}
        if method == "post":
            told = visitor.client.post(path, data=fields, base_url=BASE, headers=headers)
        else:
            told = visitor.client.open(path, method=method, query_string=form, base_url=BASE, headers=headers)
        assert told.status_code < 500
        assert "Traceback" not in told.text


@pytest.fixture
def served(library):
    """The command itself, and the port it took."""
    words = [
        sys.executable,
        "-m",
        "trackgolf",
        "serve",
        "--no-browser",
        "--port",
        "0",
        "--library",
        str(library),
    ]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    ready, _, _ = select.select([process.stdout], [], [], 60)
    assert ready
    said = process.stdout.readline()
    port = int(re.search(r"http://127\.0\.0\.1:(\d+)/", said)[1])
    yield process, port
    process.terminate()
    process.wait(10)
    process.stdout.close()
    process.stderr.close()


class TestServed:
    def test_one_page_and_a_flood(self, served, library):
        process, port = served
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=30) as answer:
            assert answer.status == 200
            assert "Server" not in answer.headers
        before = resident_mb(process.pid)
        for claimed in (True, False):
            status, sent = flood(port, 60_000_000, claimed=claimed)
            assert status == 413
            # Derived: twice the limit of 50 MB.
            assert sent <= 100_000_000
        assert resident_mb(process.pid) - before < 30
        assert entries(library) == ()

    def test_killed_during_an_upload_keeps_whole_rounds(self, served, library, invented_files):
        process, port = served
        browser = Sender(port)
        names = ["round_001.gpx", "round_002.gpx"]
        sender = threading.Thread(target=browser.upload, args=([invented_files / name for name in names],))
        sender.start()
        end = time.monotonic() + 60
        while rounds(library) < 2:
            assert time.monotonic() < end
            time.sleep(0.005)
        process.kill()
        sender.join(30)
        connection = open_library(library)
        try:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            kept = read_rounds(connection)["round"].tolist()
            # Derived: every round of the invented course has three holes and seven shots.
            assert read_holes(connection).groupby("round").size().to_dict() == dict.fromkeys(kept, 3)
            assert read_shots(connection).groupby("round").size().to_dict() == dict.fromkeys(kept, 7)
        finally:
            connection.close()

    def test_listens_to_this_machine_only(self, served):
        _, port = served
        # Source: RFC 1122, 3.2.1.3: all of 127.0.0.0/8 is this host; bound to one address, another of it is not served.
        with pytest.raises(OSError, match=r"refused|timed out"):
            socket.create_connection(("127.0.0.2", port), timeout=2)

    @pytest.mark.parametrize("content", [None, b"", b"hello <b>" * 200])
    def test_refuses_what_is_no_library(self, tmp_path, content):
        place = tmp_path / "other"
        place.mkdir() if content is None else place.write_bytes(content)
        told = CliRunner().invoke(main, ["serve", "--no-browser", "--port", "0", "--library", str(place)])
        assert told.exit_code == 2
        assert len(told.stderr.splitlines()) == 1
        assert "library" in told.stderr
        assert content is None or place.read_bytes() == content

    def test_help_says_who_can_look(self):
        told = CliRunner().invoke(main, ["serve", "--help"])
        assert "this machine only" in told.output


def rounds(library):
    connection = open_library(library)
    try:
        return len(read_rounds(connection))
    finally:
        connection.close()


class Sender:
    """Sends a form of files as a browser does."""

    def __init__(self, port):
        self.base = f"http://127.0.0.1:{port}"

    def upload(self, paths):
        with urllib.request.urlopen(f"{self.base}/import", timeout=30) as answer:
            cookie = answer.headers["Set-Cookie"].split(";")[0]
            fields = hidden(answer.read().decode())
        parts = [f'--b\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n' for name, value in fields.items()]  # fmt: skip
        parts += [f'--b\r\nContent-Disposition: form-data; name="tracks"; filename="{path.name}"\r\n\r\n{path.read_text()}\r\n' for path in paths]  # fmt: skip
        headers = {"Cookie": cookie, "Origin": self.base, "Content-Type": "multipart/form-data; boundary=b"}
        asked = urllib.request.Request(
            f"{self.base}/import", "".join([*parts, "--b--\r\n"]).encode(), headers
        )
        with contextlib.suppress(OSError, http.client.HTTPException):
            urllib.request.urlopen(asked, timeout=60).close()


def resident_mb(pid):
    status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8")
    return int(re.search(r"VmRSS:\s+(\d+) kB", status)[1]) / 1000


def flood(port, size, *, claimed):
    """Send a large form, with its size told beforehand or in chunks; give the status and what was sent."""
    head = f"POST /import HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nContent-Type: multipart/form-data; boundary=b\r\n"
    head += f"Content-Length: {size}\r\n\r\n" if claimed else "Transfer-Encoding: chunked\r\n\r\n"
    block = b"x" * 100_000
    piece = block if claimed else b"%x\r\n%s\r\n" % (len(block), block)
    sent = 0
    with socket.create_connection(("127.0.0.1", port), timeout=30) as line:
        line.sendall(head.encode())
        try:
            while sent < size and not select.select([line], [], [], 0)[0]:
                line.sendall(piece)
                sent += len(block)
            if not claimed:
                line.sendall(b"0\r\n\r\n")
        except (BrokenPipeError, ConnectionResetError):
            pass
        end = time.monotonic() + 30
        told = b""
        while b"\r\n" not in told and time.monotonic() < end:
            told += line.recv(1000)
    return int(told.split()[1]), sent
