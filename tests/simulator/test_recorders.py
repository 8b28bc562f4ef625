import numpy as np
import pandas as pd
import pytest

from tests.simulator.recorders import Recorder, _ar1, gps_error
from tests.simulator.rounds import simulate_round
from tests.simulator.scenarios import Scenario
from tests.simulator.suite import ROWS, suite_round


def _seconds(points):
    return points["time"].astype("int64").to_numpy() / 1e9


def _error(r, points=None):
    points = r.points if points is None else points
    seen = r.course.plane.to_metres(points[["lon_deg", "lat_deg"]].to_numpy())
    return seen - r.path.at(_seconds(points))


@pytest.mark.parametrize(("rho", "rms"), [(0.0, 6.139), (0.9, 2.300), (0.99, 1.432)])
def test_steps_grow_with_the_error_as_published(rho, rms):
    # Source: Ranacher et al. 2016, E[d^2] = d0^2 + 4 sigma^2 (1 - rho); sigma 3 m, step 1.3 m.
    n = 200_000
    track = np.column_stack([1.3 * np.arange(n), np.zeros(n)]) + 3.0 * _ar1(np.random.default_rng(1), n, rho)
    assert np.sqrt((np.diff(track, axis=0) ** 2).sum(axis=1).mean()) == pytest.approx(rms, rel=0.02)


def test_error_is_correlated_and_of_the_stated_size():
    rng = np.random.default_rng(4)
    sizes, one, ten = [], [], []
    for _ in range(60):
        error = gps_error(rng, 12_000, 3.0, 0.985)
        sizes.append((error**2).mean())
        one.append(np.corrcoef(error[1:, 0], error[:-1, 0])[0, 1])
        ten.append(np.corrcoef(error[10:, 0], error[:-10, 0])[0, 1])
    assert np.sqrt(np.mean(sizes)) == pytest.approx(3.0, rel=0.06)
    assert 0.96 < np.mean(one) < 0.998
    # never white alone: ten seconds later most of the error is still there
    assert np.mean(ten) > 0.8


def test_radii_of_the_error_follow_rayleigh():
    # Derived: chi-square with 2 degrees of freedom; radius at 50, 68 and 95 % = 1.1774, 1.5096, 2.4477 sigma. The size
    # of the error wanders under trees, so the tail may be a little heavier.
    rng = np.random.default_rng(8)
    radius = np.concatenate([np.hypot(*gps_error(rng, 6000, 2.5, 0.99)[::200].T) for _ in range(150)]) / 2.5
    assert np.quantile(radius, 0.5) == pytest.approx(1.1774, rel=0.07)
    assert np.quantile(radius, 0.68) == pytest.approx(1.5096, rel=0.07)
    assert 2.3 < np.quantile(radius, 0.95) < 2.75


def test_a_watch_writes_every_second(invented_rounds):
    r = invented_rounds["watch"]
    assert set(np.diff(_seconds(r.points)).round(6)) == {1.0}
    assert 1.5 < np.sqrt((_error(r) ** 2).mean()) < 4.5


def test_a_silent_watch_leaves_gaps_where_its_wearer_stands(invented_rounds):
    # Source: a real 1 Hz watch walk (Logiqx/gps-wizard, commit 16b59cd): gaps over 5 s with a median move of 1.5 m.
    r = invented_rounds["silent"]
    seconds = _seconds(r.points)
    gaps = np.flatnonzero(np.diff(seconds) > 5)
    true = r.path.at(seconds)
    moved = np.hypot(*(true[gaps + 1] - true[gaps]).T)
    assert np.median(moved) < 3.0
    assert np.quantile(moved, 0.95) < 6.0
    long = r.stands[(r.stands["end"] - r.stands["start"] > 25) & (r.stands["why"] == "shot")]
    hushed = 0
    for stand in long.itertuples():
        inside = (seconds > stand.start) & (seconds < stand.end)
        hushed += inside.sum() < 0.6 * (stand.end - stand.start)
    assert hushed > 0.8 * len(long)


def test_a_sparse_recorder_writes_every_5_to_15_s(invented_rounds):
    steps = np.diff(_seconds(invented_rounds["sparse"].points))
    assert steps.min() >= 5 - 1e-6
    assert steps.max() <= 15 + 1e-6


def test_a_phone_runs_off_and_loses_its_way(invented_rounds):
    phones = [invented_rounds["phone"], *(suite_round("phone", s) for s in (5, 6))]
    longest, far, size = [], [], []
    for r in phones:
        longest.append(np.diff(_seconds(r.points)).max())
        far.append(np.hypot(*_error(r).T).max())
        size.append(np.sqrt((_error(r) ** 2).mean()))
    assert 30 < max(longest) < 200
    assert 15 < max(far) < 60
    assert 4 < np.mean(size) < 9


def test_marks_lie_at_shots(invented_rounds):
    r = invented_rounds["watch_marks"]
    shots = r.strokes[r.strokes["shot"].notna()]
    assert 0.65 * len(shots) < len(r.marks) < 0.95 * len(shots)
    times = r.marks["time"].astype("int64").to_numpy() / 1e9
    nearest = np.abs(times[:, None] - shots["time"].to_numpy()[None, :]).min(axis=1)
    assert nearest.max() < 26


def test_a_pause_cuts_the_track_in_segments():
    r = simulate_round(60, Scenario(pause=True))
    assert r.points["segment"].nunique() == 2
    assert np.diff(_seconds(r.points)).max() > 1200


def test_a_second_device_takes_over_or_runs_along():
    after = simulate_round(61, Scenario(files=2), Recorder.watch())
    along = simulate_round(61, Scenario(files=2), Recorder.watch(overlap=True))
    twice = simulate_round(61, Scenario(), Recorder.watch(twice=True))

    def spans(r):
        return [(g["time"].min(), g["time"].max()) for _, g in r.points.groupby("file")]

    assert spans(after)[0][1] < spans(after)[1][0]
    assert spans(along)[0][1] > spans(along)[1][0]
    (a, b), (c, d) = spans(twice)
    assert abs(c - a) < pd.Timedelta(minutes=7)
    assert b - d < pd.Timedelta(minutes=4)
    joint = twice.points.merge(twice.points, on="time", suffixes=("", "_2")).query(
        "file == 0 and file_2 == 1"
    )
    assert len(joint) > 3000
    assert (joint["lat_deg"] != joint["lat_deg_2"]).mean() > 0.95


def test_fractions_of_a_second_and_no_elevation():
    r = simulate_round(62, recorder=Recorder.watch(fraction=True, elevation=False, hdop=True))
    assert r.points["time"].dt.microsecond.ne(0).all()
    assert r.points["ele_m"].isna().all()
    assert r.points["hdop"].between(0.5, 6).all()


def test_every_row_of_the_suite_has_a_course_and_a_player_of_its_own(invented_rounds):
    names = {(invented_rounds[row].course.seed, invented_rounds[row].player.seed) for row in ROWS}
    assert len(names) == len(ROWS)
