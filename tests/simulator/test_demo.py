import csv
import json
from pathlib import Path

import gpxpy
import numpy as np
import pytest

from tests.simulator.demo import DEMO, demo_rounds, write_demo

SHIPPED = Path(__file__).parents[2] / "demo_tracks"
# Beside what the simulator makes: the real walk with its notice, and the picture of a report.
OTHERS = {"walk.gpx", "NOTICE", "report.png"}


@pytest.fixture(scope="module")
def rebuilt(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    write_demo(folder)
    return folder


def _files(folder):
    return sorted(p.relative_to(folder) for p in folder.rglob("*") if p.is_file() and p.name not in OTHERS)


def test_the_shipped_files_are_what_the_command_makes(rebuilt):
    assert _files(SHIPPED) == _files(rebuilt)
    for name in _files(rebuilt):
        assert (SHIPPED / name).read_bytes() == (rebuilt / name).read_bytes(), name


def test_every_file_says_that_it_is_invented(rebuilt):
    readme = (rebuilt / "README.md").read_text()
    for name in _files(rebuilt):
        text = (rebuilt / name).read_text()
        if name.suffix == ".gpx":
            assert gpxpy.parse(text).description.startswith("Invented")
        elif name.suffix == ".geojson":
            assert all(f["properties"]["invented"] == "yes" for f in json.loads(text)["features"])
        elif name.suffix == ".toml":
            assert text.startswith("# invented")
        else:
            assert name.suffix in (".csv", ".md")
    assert "all `.csv` files here are invented" in readme
    assert all(f"| {d.seed} |" in readme for d in DEMO)


def test_the_demo_is_small(rebuilt):
    assert sum((rebuilt / name).stat().st_size for name in _files(rebuilt)) < 6_000_000


def test_the_demo_shows_different_recorders_and_a_round_in_two_files_with_marks(rebuilt):
    assert len({d.recorder.kind for d in DEMO}) >= 4
    nine = sorted((rebuilt / "corwin" / "august_nine").glob("track*.gpx"))
    assert len(nine) == 2
    marks = [len(gpxpy.parse(p.read_text()).waypoints) for p in nine]
    assert min(marks) > 5


def test_tracks_hold_the_points_of_their_rounds(rebuilt):
    for key, r in demo_rounds().items():
        written = [gpxpy.parse(p.read_text()) for p in sorted((rebuilt / key).glob("track*.gpx"))]
        points = [p for g in written for t in g.tracks for s in t.segments for p in s.points]
        assert len(points) == len(r.points)
        assert np.allclose([p.latitude for p in points], r.points["lat_deg"], atol=1e-9)
        assert points[0].time.timestamp() == r.points["time"].iloc[0].timestamp()


def test_cards_add_up(rebuilt):
    # Source: Rules of Golf: a score is the strokes made and the penalty strokes; here shots, putts, penalties.
    rounds = demo_rounds()
    for d in DEMO:
        path = rebuilt / d.key / "card.csv"
        assert path.exists() == d.card
        if not d.card:
            continue
        truth = rounds[d.key].card.set_index("hole")
        for row in csv.DictReader(path.read_text().splitlines()):
            shots = truth.loc[int(row["hole"]), "shots"]
            if row["strokes"]:
                assert int(row["strokes"]) == shots + int(row["putts"]) + int(row["penalties"])


def test_demo_rounds_tell_a_story_of_layups():
    for r in demo_rounds().values():
        planned = {(p.hole, p.shot): p for p in r.plan if p.role != "approach"}
        counted = r.strokes[r.strokes["counts"] & r.strokes["planned_shot"].notna()]
        within = []
        for s in counted.itertuples():
            p = planned.get((s.hole, s.planned_shot))
            if p is not None:
                miss = np.hypot(s.end_east_m - p.target[0], s.end_north_m - p.target[1])
                within.append(miss <= p.tolerance_m)
        assert len(within) >= 15
        assert 0.3 < np.mean(within) < 0.7
