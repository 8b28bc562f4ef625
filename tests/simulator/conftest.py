"""Rounds shared by the tests of the simulator; made once."""

from __future__ import annotations

import pytest

from tests.simulator.rounds import SimulatedRound
from tests.simulator.suite import ROWS, suite_round


@pytest.fixture(scope="package")
def invented_rounds() -> dict[str, SimulatedRound]:
    """One round of each row, and a few more of the plainest."""
    rounds = {row: suite_round(row, 4) for row in ROWS}
    return rounds | {f"watch_{seed}": suite_round("watch", seed) for seed in range(6)}
