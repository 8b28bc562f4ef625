"""Uploads kept whole, worked off in order, gone on with after a kill, and dropped when they are done."""

import contextlib
import io
import json

import pytest

from tests.trackgolf.library import invented
from trackgolf.errors import LibraryError
from trackgolf.library import jobs, sql
from trackgolf.library.forgetting import forget_player, forget_rounds
from trackgolf.library.jobs import NewFile, add_job, begin_next, copy_file, read_job, read_outcomes
from trackgolf.library.opening import open_library, writing
from trackgolf.library.outcomes import Outcome
from trackgolf.library.read import read_rounds
from trackgolf.library.runners import on_cores, one_by_one
from trackgolf.library.tasks import Look, look_at_track
from trackgolf.library.working import ArchiveLimits, Stopped, do_job

LIMITS = ArchiveLimits(500, 1_000_000_000, 200.0)


@pytest.fixture
def empty(tmp_path):
    with contextlib.closing(open_library(tmp_path / "new.sqlite", create=True)) as opened:
        yield opened


def season(folder, count=3, **choices):
    """What somebody sends: tracks, and the bag and course that belong to them."""
    files = [
        NewFile("bag", "bag", io.BytesIO((folder / "bag.toml").read_bytes())),
        NewFile("course", "course", io.BytesIO((folder / "course.geojson").read_bytes())),
    ]
    names = [f"round_{number:03d}.gpx" for number in range(count)]
    files += [NewFile("track", name, io.BytesIO((folder / name).read_bytes())) for name in names]
    return invented.PLAYER, choices, files


def work(connection, folder, **options):
    job, files = begin_next(connection)
    place = folder / f"work-{job.id}-{job.tries}"
    place.mkdir(exist_ok=True)
    do_job(connection, job, files, place, run=lambda _: one_by_one, limits=LIMITS, **options)
    return read_job(connection, job.id)


class TestKept:
    def test_every_byte_and_in_pieces(self, empty, tmp_path, monkeypatch):
        monkeypatch.setattr(jobs, "_PIECE", 7)
        contents = [b"", b"x", bytes(range(256)) * 3]
        number = add_job(
            empty, "Olu", {"tee": "white"}, [NewFile("track", "a", io.BytesIO(one)) for one in contents]
        )
        job, files = begin_next(empty)
        assert (job.id, job.player, job.choices, job.state) == (number, "Olu", {"tee": "white"}, "running")
        for file, content in zip(files, contents, strict=True):
            copy_file(empty, file, tmp_path / "out")
            assert (tmp_path / "out").read_bytes() == content

    def test_all_of_it_or_nothing(self, empty):
        class Broken(io.BytesIO):
            def read(self, *_):
                raise OSError("the line broke")

        with pytest.raises(OSError, match="the line broke"):
            add_job(
                empty,
                "Olu",
                {},
                [NewFile("track", "a", io.BytesIO(b"x")), NewFile("track", "b", Broken(b"y"))],
            )
        assert jobs.read_jobs(empty) == []
        assert empty.execute("SELECT COUNT(*) FROM job_file").fetchone()[0] == 0

    def test_done_is_dropped_and_told_for_a_while(self, empty, season_folder, tmp_path):
        number = add_job(empty, *season(season_folder, 1))
        done = work(empty, tmp_path)
        assert (done.state, done.tracks, done.looked, done.fault) == ("done", 1, 1, None)
        assert empty.execute("SELECT COUNT(*) FROM job_file").fetchone()[0] == 0
        (outcome,) = read_outcomes(empty, number)
        assert (outcome.kind, outcome.round, outcome.names) == ("new", 1, ("round_000.gpx",))
        assert jobs.read_pace(empty) > 0
        with writing(empty):
            empty.execute("UPDATE job SET ended = '2020-01-01T00:00:00.000000Z'")
        add_job(empty, *season(season_folder, 1))
        work(empty, tmp_path)
        assert [job.id for job in jobs.read_jobs(empty)] == [number + 1]

    @pytest.mark.parametrize("number", [0, -1, 5, sql.LARGEST_NUMBER + 1])
    def test_what_is_not_there(self, empty, number):
        with pytest.raises(LibraryError, match="there is no upload"):
            read_job(empty, number)


class TestOrder:
    def test_one_after_another(self, empty, season_folder, tmp_path):
        first, second = (add_job(empty, *season(season_folder, 1)) for _ in range(2))
        assert [read_job(empty, number).before for number in (first, second)] == [0, 1]
        assert work(empty, tmp_path).id == first
        assert read_job(empty, second).before == 0
        assert work(empty, tmp_path).id == second
        assert [one.kind for one in read_outcomes(empty, second)] == ["known"]
        assert begin_next(empty) is None


class TestGoneOnWith:
    def test_what_was_kept_is_left_alone(self, empty, season_folder, tmp_path):
        number = add_job(empty, *season(season_folder))
        # Stopped as soon as the first round is kept.
        with pytest.raises(Stopped):
            work(empty, tmp_path, stopping=lambda: bool(read_outcomes(empty, number)))
        assert len(read_rounds(empty)) == 1
        jobs.put_back(empty, number)
        assert read_job(empty, number).state == "waiting"
        assert work(empty, tmp_path).state == "done"
        outcomes = read_outcomes(empty, number)
        assert [(one.kind, one.round) for one in outcomes] == [("new", 1), ("new", 2), ("new", 3)]
        assert len(read_rounds(empty)) == 3

    def test_a_round_and_what_is_told_of_it_are_kept_together(
        self, empty, season_folder, tmp_path, monkeypatch
    ):
        number = add_job(empty, *season(season_folder, 1))

        def broken(*_):
            raise OSError("no")

        with monkeypatch.context() as patch:
            patch.setattr(jobs, "record_outcome", broken)
            with pytest.raises(OSError, match="no"):
                work(empty, tmp_path)
        assert read_rounds(empty).empty
        assert read_outcomes(empty, number) == []
        assert work(empty, tmp_path).state == "done"

    def test_one_that_takes_its_process_down_is_given_up(self, empty, season_folder, tmp_path):
        number = add_job(empty, *season(season_folder, 1))
        for _ in range(3):
            assert begin_next(empty)[0].id == number
        given_up = work(empty, tmp_path)
        assert given_up.state == "failed"
        assert "begun three times" in given_up.fault

    def test_what_cannot_be_used_fails_in_one_line(self, empty, season_folder, tmp_path):
        player, _, files = season(season_folder, 2)
        files.append(NewFile("card", "card", io.BytesIO(invented.CARD.encode())))
        add_job(empty, player, {}, files)
        failed = work(empty, tmp_path)
        assert failed.state == "failed"
        assert failed.fault.startswith("--card: one card was given for 2 rounds")
        assert read_rounds(empty).empty


class TestForgotten:
    def test_a_player_takes_uploads_along(self, library, connection, season_folder):
        add_job(connection, "Ines OKAFOR", {"tee": "quite secret"}, season(season_folder, 1)[2])
        other = add_job(connection, "Somebody else", {}, [])
        forget_player(connection, library, invented.PLAYER)
        assert [job.id for job in jobs.read_jobs(connection)] == [other]
        content = b"".join(path.read_bytes() for path in library.parent.glob("library.sqlite*"))
        assert b"quite secret" not in content
        assert b"trkpt" not in content

    def test_nothing_is_kept_of_somebody_forgotten_meanwhile(self, library, connection, tmp_path):
        files = [NewFile("track", "a.gpx", io.BytesIO(invented.track(days=40).encode()))]
        add_job(connection, invented.PLAYER, {"player": invented.PLAYER}, files)

        def run(_):
            def forgetting(function, tasks):
                for task in tasks:
                    done = function(task)
                    if not isinstance(done, Look):
                        forget_player(connection, library, invented.PLAYER)
                    yield done

            return forgetting

        job, kept = begin_next(connection)
        do_job(connection, job, kept, tmp_path, run=run, limits=LIMITS)
        assert read_rounds(connection).empty
        assert jobs.read_jobs(connection) == []

    def test_a_round_takes_what_is_told_of_it_along(self, library, connection):
        number = add_job(connection, "Olu", {}, [])
        begin_next(connection)
        with writing(connection):
            jobs.record_outcome(connection, number, Outcome(("secret name.gpx",), "new", 2, ""))
            jobs.record_outcome(connection, number, Outcome(("b.gpx",), "fault", None, "no track"))
        forget_rounds(connection, library, [2])
        assert [one.names for one in read_outcomes(connection, number)] == [("b.gpx",)]


class TestArchives:
    # Source: the settings of the page say what each limit is; here they are set to what the archive passes.
    @pytest.mark.parametrize("limits", [ArchiveLimits(1, 10**9, 200.0), ArchiveLimits(500, 1000, 200.0), ArchiveLimits(500, 10**9, 1.5)])  # fmt: skip
    def test_past_a_limit_is_told_and_stops_no_other(self, empty, season_folder, tmp_path, limits):
        import zipfile

        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            for number in (1, 2):
                archive.write(season_folder / f"round_00{number}.gpx", f"{number}.gpx")
        player, choices, files = season(season_folder, 1)
        add_job(empty, player, choices, [*files, NewFile("track", "season.zip", packed)])
        job, kept = begin_next(empty)
        do_job(empty, job, kept, tmp_path, run=lambda _: one_by_one, limits=limits)
        told = {one.names: one.kind for one in read_outcomes(empty, job.id)}
        assert told == {("season.zip",): "fault", ("round_000.gpx",): "new"}


def test_processes_of_their_own_do_the_same():
    with on_cores(1, apart=True) as run:
        task_fault = next(iter(run(look_at_track, [_no_track()])))
    assert "no track.gpx" in task_fault.fault


def _no_track():
    from trackgolf.library.tasks import LookTask

    return LookTask("no track.gpx", b"hello", ())


def test_choices_are_plain_text(empty):
    number = add_job(empty, "Olu", {"tee": "</script>\u2028"}, [])
    row = empty.execute("SELECT choices FROM job WHERE id = ?", (number,)).fetchone()
    assert json.loads(row[0]) == {"tee": "</script>\u2028"}
