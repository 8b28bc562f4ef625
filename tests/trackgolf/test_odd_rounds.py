"""One walk over three holes, recorded in all the ways that go wrong: the same shots, or one clear line."""

import re
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from geo.frame import LocalFrame
from geo.track import read_tracks
from tests.geo.gpx_texts import invented_gpx, invented_point
from tests.shapes import START, trail_through
from tests.trackgolf.library import invented
from trackgolf.bag import read_bag
from trackgolf.cli import main
from trackgolf.course import read_course
from trackgolf.errors import InputError
from trackgolf.explain import explain_hole
from trackgolf.library.correcting import clock_time
from trackgolf.reconstruct import reconstruct

HOSTILE = "<b>{{7*7}}</b> {% x %} \u202egpj. ../../../etc/passwd é"


def texts_of(lon=-31.0, lat=47.0, start=START):
    """The walk as texts of points, anywhere on earth and at any time."""
    trail, _ = trail_through(*invented.PLACES)
    lon_deg, lat_deg = LocalFrame(lon, lat).to_degrees(trail.east_m, trail.north_m)
    return [
        f'<trkpt lat="{y:.8f}" lon="{x:.8f}"><time>{start + timedelta(seconds=float(s)):%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'
        for s, x, y in zip(trail.time_s, lon_deg, lat_deg, strict=True)
    ]


@pytest.fixture(scope="module")
def play(tmp_path_factory):
    """Rebuild the walk as recorded in some way."""
    folder = tmp_path_factory.mktemp("odd")
    (folder / "bag.toml").write_text(invented.bag())
    bag = read_bag(folder / "bag.toml")

    def played(text, lon=-31.0, lat=47.0):
        (folder / "round.gpx").write_text(text, encoding="utf-8")
        (folder / "course.geojson").write_text(invented.course(lon=lon, lat=lat))
        track = read_tracks([folder / "round.gpx"])
        assert track.account.seen == track.account.kept + sum(track.account.dropped.values())
        return reconstruct(track, read_course(folder / "course.geojson"), bag)

    return played


@pytest.fixture(scope="module")
def plain(play):
    return play(invented_gpx(*texts_of()))


def same(found, plain, apart_m=2.0):
    """The same holes, shots and times, and lengths within the error of the positions."""
    for column in ("hole", "shot", "lie", "end_lie"):
        assert found.shots[column].tolist() == plain.shots[column].tolist(), column
    assert found.shots["distance_m"].to_numpy() == pytest.approx(
        plain.shots["distance_m"].to_numpy(), abs=apart_m
    )
    assert found.holes["strokes"].tolist() == plain.holes["strokes"].tolist()


# Derived: geodesy has no seam and no pole, so a course is the same wherever it lies.
@pytest.mark.parametrize(
    ("lon", "lat"),
    [(180.0, 10.0), (-179.9995, -17.0), (0.0, 0.0), (30.0, 89.995), (-100.0, -89.9)],
    ids=["antimeridian", "just past it", "zero, zero", "beside the pole", "near the other pole"],
)
def test_anywhere_on_earth(play, plain, lon, lat):
    same(play(invented_gpx(*texts_of(lon, lat)), lon, lat), plain)


def wild(points):
    """Every fiftieth point 10 km away."""
    return [
        re.sub(r'lat="47', 'lat="47.1', point) if number % 50 == 25 else point
        for number, point in enumerate(points)
    ]


def zeros(points):
    return [
        re.sub(r'lat="[^"]*" lon="[^"]*"', 'lat="0" lon="0"', point) if n % 40 == 7 else point
        for n, point in enumerate(points)
    ]


def some(pattern, to, every):
    return lambda points: [
        re.sub(pattern, to, one) if n % every == 3 else one for n, one in enumerate(points)
    ]


WAYS = {
    "doubled": lambda points: [point for point in points for _ in range(2)],
    "the whole track twice": lambda points: points + points,
    "backwards": lambda points: points[::-1],
    "in halves, the second first": lambda points: points[len(points) // 2 :] + points[: len(points) // 2],
    "jumps of 10 km": wild,
    "points at zero, zero": zeros,
    "latitude 100": some(r'lat="[^"]*"', 'lat="100"', 30),
    "longitude 540": some(r'lon="[^"]*"', 'lon="540"', 30),
    "not a number": some(r'lon="[^"]*"', 'lon="NaN"', 30),
    "no time": some(r"<time>.*</time>", "", 30),
    "the year 1": some(r"<time>\d{4}", "<time>0001", 30),
    "the year 9999": some(r"<time>\d{4}", "<time>9999", 30),
    "lower case": lambda points: [point.replace("Z</time>", "z</time>") for point in points],
    "offsets": lambda points: [point.replace("T08:", "T10:").replace("T09:", "T11:").replace("Z<", "+02:00<") for point in points],
    "white space and fractions": lambda points: [point.replace("<time>", "<time>\n ").replace("Z<", ".000Z\t<") for point in points],
    "decimal commas": lambda points: [re.sub(r'(l..="-?\d+)\.', r"\1,", point) for point in points],
    "prefixed": lambda points: [point.replace("trkpt", "g:trkpt").replace("time>", "g:time>") for point in points],
    "a segment a minute": lambda points: [point + "</trkseg><trkseg>" * (n % 60 == 59) for n, point in enumerate(points)],
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_however_it_was_recorded(play, plain, way):
    same(play(invented_gpx(*WAYS[way](texts_of()))), plain)


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([invented_point(0)], "near the course|two|one point"),
        ([invented_point(0), invented_point(1)], "no hole|too few|two|course"),
        ([invented_point(0).replace("47.0000000", "47.0")] * 60, "one and the same time"),
    ],
    ids=["one point", "two points", "all equal"],
)
def test_too_little_to_be_a_round(play, points, said):
    with pytest.raises(InputError, match=said):
        play(invented_gpx(*points))


def test_who_only_stood_on_a_tee_played_one_stroke_and_has_no_score(play):
    played = play(invented_gpx(*(invented_point(n, lat="47.0", lon="-31.0") for n in range(60))))
    assert len(played.shots) == 1
    assert played.holes["strokes"].isna().all()
    assert "the green was not reached" in played.holes["note"].iloc[0]


def test_names_that_mean_harm(tmp_path, monkeypatch):
    """They are text in every file that is written, and no file is written anywhere else."""
    marks = f"<wpt lat='47.0000900' lon='-31.0'><time>2026-05-03T08:01:00Z</time><name>{escaped(HOSTILE)}</name></wpt>"
    head = f"<metadata><name>{escaped(HOSTILE)}</name></metadata>"
    (tmp_path / "round.gpx").write_text(invented_gpx(*texts_of(), head=head, marks=marks), encoding="utf-8")
    (tmp_path / "bag.toml").write_text(invented.bag(HOSTILE.replace("\u202e", "")), encoding="utf-8")
    (tmp_path / "course.geojson").write_text(invented.course(HOSTILE), encoding="utf-8")
    inside = tmp_path / "in"
    inside.mkdir()
    monkeypatch.chdir(inside)
    words = ["--course", "../course.geojson", "--bag", "../bag.toml"]
    for command in (
        ["reconstruct", "../round.gpx", *words, "--out", "out", "-v"],
        ["import", "../round.gpx", *words, "--library", "l.sqlite"],
        ["rounds", "--library", "l.sqlite"],
        ["export", "1", "--library", "l.sqlite", "--out", "e.gpx"],
        ["plan", *words, "--grid", "10", "--out", "p.geojson", "--html", "p.html"],
    ):
        result = CliRunner().invoke(main, command)
        assert result.exit_code == 0, result.output
        assert all(line.isprintable() for line in result.output.splitlines())
    assert {path.name for path in tmp_path.iterdir()} == {"round.gpx", "bag.toml", "course.geojson", "in"}
    for page in (inside / "out" / "report.html", inside / "p.html"):
        text = page.read_text(encoding="utf-8")
        assert "<b>{{" not in text
        assert "49" not in re.findall(r"&lt;b&gt;(.*?)&lt;/b&gt;", text)


def escaped(text):
    return text.replace("&", "&amp;").replace("<", "&lt;")


class TestClocksChange:
    """Source: Directive 2000/84/EC: clocks change at 01:00 UTC, on the last Sunday in March and in October."""

    def test_a_round_through_the_hour_that_comes_twice(self, play, plain):
        start = pd.Timestamp("2026-10-25T00:50:00Z")
        played = play(invented_gpx(*texts_of(start=start)))
        same(played, plain)
        assert (np.diff(played.shots["start_time"].astype("int64")) > 0).all()
        told = explain_hole(played, 1, "Europe/Berlin")
        hours = [int(line[:2]) for line in told if re.match(r"\d\d:\d\d:\d\d", line)]
        # 02:50 summer time, then 02:00 again: in order of time, not of the clock.
        assert hours == sorted(hours)
        assert set(hours) <= {2}

    ROUND = pd.Series(
        {
            "day": "2026-10-25",
            "time_zone": "Europe/Berlin",
            "start_time": pd.Timestamp("2026-10-25T00:10Z"),
            "end_time": pd.Timestamp("2026-10-25T03:10Z"),
        }
    )

    def test_a_time_that_comes_twice_is_asked_for(self):
        with pytest.raises(
            InputError, match=r"twice.*2026-10-25T02:30:00\+02:00 or 2026-10-25T02:30:00\+01:00"
        ):
            clock_time("02:30:00", self.ROUND)
        assert clock_time("2026-10-25T02:30:00+01:00", self.ROUND) == pd.Timestamp("2026-10-25T01:30Z")

    def test_a_time_of_which_one_falls_in_the_round_is_that(self):
        later = self.ROUND.copy()
        later["start_time"] = pd.Timestamp("2026-10-25T01:05Z")
        assert clock_time("02:30:00", later) == pd.Timestamp("2026-10-25T01:30Z")

    def test_a_time_that_never_was(self):
        spring = self.ROUND.copy()
        spring["day"] = "2026-03-29"
        spring["start_time"], spring["end_time"] = (
            pd.Timestamp("2026-03-29T00:10Z"),
            pd.Timestamp("2026-03-29T03:10Z"),
        )
        with pytest.raises(InputError, match="never showed '02:30:00'"):
            clock_time("02:30:00", spring)
        assert clock_time("03:30:00", spring) == pd.Timestamp("2026-03-29T01:30Z")
