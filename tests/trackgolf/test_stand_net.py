"""The network over stands: worked by hand, by finite differences, and against what its file promises."""

import json
import math
from importlib import resources

import numpy as np
import pandas as pd
import pytest

from tests.benchmarks.fit_stands import back, fresh
from tests.benchmarks.measure import played_round
from trackgolf.ground import lay_ground
from trackgolf.settings import RoundSettings
from trackgolf.stand_model import FEATURES
from trackgolf.stand_net import CONTEXT, KINDS, StandNet, stand_inputs, stand_net

WIDTH = len(FEATURES) + len(CONTEXT)


def small_net():
    """Two inputs, one hidden unit."""
    return StandNet(
        mean=np.array([1.0, 0.0]),
        scale=np.array([2.0, 1.0]),
        hidden=np.array([[0.5], [-1.0], [0.25]]),
        out=np.array([[1.0, 0.0, -2.0]]),
        straight=np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 3.0], [0.5, 0.0, 0.0]]),
    )


@pytest.fixture(scope="module")
def ready():
    _, track, course, _ = played_round("watch", 3)
    return track, lay_ground(course)


def inputs_of(places, ground, *, dwell_s=30.0):
    """Inputs of stands at places (east, north), one every two minutes."""
    east, north = np.array(places, dtype=float).T
    start = 120.0 * np.arange(len(places))
    stands = pd.DataFrame(
        {
            "start_s": start, "end_s": start + dwell_s, "dwell_s": dwell_s, "east_m": east, "north_m": north,
            "restless": 1.0, "spread_m": 1.0, "sigma_m": 2.0,
        }
    )  # fmt: skip
    times = np.sort(np.r_[start, start + dwell_s])
    walk = times, np.repeat(east, 2), np.repeat(north, 2)
    return pd.DataFrame(stand_inputs(stands, walk, ground, RoundSettings()), columns=[*FEATURES, *CONTEXT])


class TestScores:
    def test_by_hand(self):
        # Derived: scaled inputs 1 and 2, hidden tanh(0.5 - 2 + 0.25) = tanh(-1.25).
        active = math.tanh(-1.25)
        found = small_net().scores(np.array([[3.0, 2.0]]))
        assert found[0] == pytest.approx([active + 0.5, 1.0, -2.0 * active + 6.0])

    def test_bounded(self):
        found = small_net().scores(np.array([[1e9, -1e9], [-1e9, 1e9]]))
        assert np.all(np.abs(found) <= 8.0)

    def test_slopes_equal_finite_differences(self):
        # Derived: the definition of a derivative.
        rng = np.random.default_rng(4)
        net = fresh(small_net(), rng.normal(size=(40, 2)), 3)
        net = StandNet(net.mean, net.scale, net.hidden, rng.normal(0, 0.3, net.out.shape), net.straight * 0.1)
        inputs, weight = rng.normal(size=(5, 2)), rng.normal(size=(5, 3))
        slopes = back(net, inputs, weight)
        for name in ("hidden", "out", "straight"):
            for place in np.ndindex(getattr(net, name).shape):
                step = np.zeros_like(getattr(net, name))
                step[place] = 1e-5
                parts = {n: getattr(net, n) for n in ("hidden", "out", "straight")}
                more = StandNet(net.mean, net.scale, **(parts | {name: parts[name] + step})).scores(inputs)
                less = StandNet(net.mean, net.scale, **(parts | {name: parts[name] - step})).scores(inputs)
                wanted = float(np.sum(weight * (more - less)) / 2e-5)
                assert slopes[name][place] == pytest.approx(wanted, rel=1e-4, abs=1e-6)

    def test_scaling_anew_changes_no_score(self):
        rng = np.random.default_rng(5)
        every = rng.normal(1.0, 0.5, (30, 2))
        old = StandNet(
            np.zeros(2), np.ones(2), np.zeros((3, 1)), np.zeros((1, 3)), rng.normal(0, 0.3, (3, 3))
        )
        assert fresh(old, every, 4).scores(every) == pytest.approx(old.scores(every))


class TestInputs:
    def test_shape_and_no_stand(self, ready):
        _, ground = ready
        empty = pd.DataFrame(
            columns=["start_s", "end_s", "dwell_s", "east_m", "north_m", "restless", "spread_m", "sigma_m"],
            dtype=float,
        )
        nowhere = (np.empty(0), np.empty(0), np.empty(0))
        assert stand_inputs(empty, nowhere, ground, RoundSettings()).shape == (0, WIDTH)

    def test_places_on_the_course(self, ready):
        _, ground = ready
        hole = ground.holes[0]
        middle = hole.green.centroid
        table = inputs_of([hole.line[0], (middle.x, middle.y), (middle.x, middle.y + 5000.0)], ground)
        assert table["tee"][0] == 0.0
        assert table["green"][1] < 0.0 < table["green"][0]
        # Derived: capped at 80 m over 20 m.
        assert table["green"][2] == 4.0
        assert table["green_after"][0] == table["green"][1]
        assert table["tee_before"][1] == table["tee"][0]

    def test_one_round_one_value(self, ready):
        _, ground = ready
        table = inputs_of([(0, 0), (0, 150), (0, 300), (0, 420)], ground)
        for name in CONTEXT:
            if name.startswith("round_"):
                assert np.ptp(table[name].to_numpy()) == 0.0
        # Derived: 420 m walked in 390 s.
        assert table["round_pace"][0] == pytest.approx(math.log(390.0 / 420.0))
        assert np.isfinite(table.to_numpy()).all()


class TestShipped:
    def test_its_file_says_where_it_comes_from_and_fits_the_inputs(self):
        text = resources.files("trackgolf").joinpath("data/stand_net.json").read_text(encoding="utf-8")
        record = json.loads(text)
        assert record["fitted_by"].startswith("python -m tests.benchmarks.fit_stands")
        assert sorted(record["inputs"]) == sorted([*FEATURES, *CONTEXT])
        net = stand_net()
        assert net.straight.shape == (WIDTH + 1, len(KINDS))
        assert all(
            np.isfinite(part).all() for part in (net.mean, net.scale, net.hidden, net.out, net.straight)
        )

    def test_a_stand_of_half_a_minute_before_a_halt_of_a_moment(self, ready):
        _, ground = ready
        hole = ground.holes[0]
        start, end = hole.line[0], hole.line[-1]
        places = [start + share * (end - start) for share in (0.0, 0.35, 0.7, 1.0)]
        long = stand_net().scores(inputs_of(places, ground, dwell_s=30.0).to_numpy())
        short = stand_net().scores(inputs_of(places, ground, dwell_s=3.0).to_numpy())
        assert long[1, 0] > short[1, 0]
        assert long[0, 1] > short[0, 1]
