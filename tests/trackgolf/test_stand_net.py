"""The network over stands: worked by hand, by finite differences, and against what its file promises."""

import json
import math
from importlib import resources

import numpy as np
import pandas as pd
import pytest

from tests.benchmarks.fit_stands import PARTS, back, grown
from tests.benchmarks.measure import played_round
from trackgolf.ground import lay_ground
from trackgolf.settings import RoundSettings
from trackgolf.stand_context import CONTEXT, stand_inputs
from trackgolf.stand_model import FEATURES
from trackgolf.stand_net import INPUTS, KINDS, StandNet, stand_net

WIDTH = len(FEATURES) + len(CONTEXT)


def small_net():
    """Two inputs, one hidden unit in each layer."""
    return StandNet(
        mean=np.array([1.0, 0.0]),
        scale=np.array([2.0, 1.0]),
        low=np.array([-9.0, -8.0]),
        high=np.array([9.0, 8.0]),
        hidden=np.array([[0.5], [-1.0], [0.25]]),
        out=np.array([[1.0, 0.0, -2.0]]),
        straight=np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.5, 0.0, 0.0]]),
        deep=np.array([[2.0], [0.5]]),
        deep_out=np.array([[0.0, 3.0, 0.0]]),
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
        # Derived: scaled inputs 1 and 2, hidden tanh(0.5 - 2 + 0.25) = tanh(-1.25), the second layer tanh of twice that + 0.5.
        active = math.tanh(-1.25)
        deeper = math.tanh(2.0 * active + 0.5)
        found = small_net().scores(np.array([[3.0, 2.0]]))
        assert found[0] == pytest.approx([active + 0.5, 1.0 + 3.0 * deeper, -2.0 * active + 2.0])

    def test_bounded(self):
        found = small_net().scores(np.array([[1e9, -1e9], [-1e9, 1e9]]))
        assert np.all(np.abs(found) <= 5.0)

    def test_inputs_beyond_those_fitted_on_count_as_the_last(self):
        net = small_net()
        assert net.scores(np.array([[50.0, -30.0]])) == pytest.approx(net.scores(np.array([[9.0, -8.0]])))

    def test_slopes_equal_finite_differences(self):
        # Derived: the definition of a derivative.
        rng = np.random.default_rng(4)
        shapes = {"hidden": (3, 4), "out": (4, 3), "straight": (3, 3), "deep": (5, 2), "deep_out": (2, 3)}
        parts = {name: rng.normal(0, 0.3, shapes[name]) for name in PARTS}
        inputs, weight = rng.normal(size=(5, 2)), rng.normal(size=(5, 3))
        slopes = back(
            StandNet(np.zeros(2), np.ones(2), np.full(2, -4.0), np.full(2, 4.0), **parts), inputs, weight
        )
        for name in PARTS:
            for place in np.ndindex(parts[name].shape):
                step = np.zeros_like(parts[name])
                step[place] = 1e-5
                more, less = (
                    StandNet(
                        np.zeros(2),
                        np.ones(2),
                        np.full(2, -4.0),
                        np.full(2, 4.0),
                        **(parts | {name: parts[name] + way * step}),
                    ).scores(inputs)
                    for way in (1.0, -1.0)
                )
                wanted = float(np.sum(weight * (more - less)) / 2e-5)
                assert slopes[name][place] == pytest.approx(wanted, rel=1e-4, abs=1e-6)

    def test_growing_changes_no_score(self):
        rng = np.random.default_rng(5)
        every = rng.normal(1.0, 0.5, (30, 3))
        more = grown(small_net(), ("a", "b"), every, ("b", "new", "a"), 4, 3)
        assert more.hidden.shape == (4, 4)
        assert more.deep.shape == (5, 3)
        within = np.clip(every, more.low, more.high)
        assert more.scores(every) == pytest.approx(small_net().scores(within[:, [2, 0]]))


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
        assert sorted(record["inputs"]) == sorted(INPUTS)
        net = stand_net()
        assert net.straight.shape == (len(INPUTS) + 1, len(KINDS))
        assert all(np.isfinite(getattr(net, part)).all() for part in ("mean", "scale", "low", "high", *PARTS))

    def test_a_stand_of_half_a_minute_before_a_halt_of_a_moment(self, ready):
        _, ground = ready
        hole = ground.holes[0]
        start, end = hole.line[0], hole.line[-1]
        places = [start + share * (end - start) for share in (0.0, 0.35, 0.7, 1.0)]
        long = stand_net().scores(inputs_of(places, ground, dwell_s=30.0).to_numpy())
        short = stand_net().scores(inputs_of(places, ground, dwell_s=3.0).to_numpy())
        assert long[1, 0] > short[1, 0]
        assert long[0, 1] > short[0, 1]
