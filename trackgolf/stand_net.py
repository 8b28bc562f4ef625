"""How much a stand looks like a stroke: a small network over the stand, what surrounds it, and its round."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from trackgolf.stand_context import CONTEXT
from trackgolf.stand_model import FEATURES

__all__ = ["INPUTS", "KINDS", "StandNet", "stand_net"]

Floats = NDArray[np.float64]

# What a stand may be: a stroke from off the tee and off the green, the first of a hole, the first on the green.
KINDS = ("shot", "tee", "arrive")

# The names of its inputs.
INPUTS = (*FEATURES, *CONTEXT)


@dataclass(frozen=True, slots=True)
class StandNet:
    """
    Two hidden layers beside a straight path: log-odds that a stand is each of `KINDS`.

    Attributes are `mean`, `scale`, `low` and `high` of the inputs, shape (f,), the last two the bounds of what it was
    fitted on, beyond which no input is taken to lie; `hidden`, shape (f + 1, q), the last row the
    constant; `out`, shape (q, 3); `straight`, shape (f + 1, 3); `deep`, shape (q + 1, r), from the first hidden
    layer to the second; and `deep_out`, shape (r, 3).
    """

    mean: Floats
    scale: Floats
    low: Floats
    high: Floats
    hidden: Floats
    out: Floats
    straight: Floats
    deep: Floats
    deep_out: Floats

    def scaled(self, inputs: Floats) -> Floats:
        """
        Bring inputs within the bounds and to like sizes.

        Parameters
        ----------
        inputs : numpy.ndarray, shape (m, f)
            As `stand_context.stand_inputs` gives them.

        Returns
        -------
        numpy.ndarray, shape (m, f)
            Deviations from the mean over the scale.
        """
        found: Floats = (np.clip(inputs, self.low, self.high) - self.mean) / self.scale
        return found

    def scores(self, inputs: Floats) -> Floats:
        """
        Weigh stands by what they look like.

        Parameters
        ----------
        inputs : numpy.ndarray, shape (m, f)
            As `stand_context.stand_inputs` gives them.

        Returns
        -------
        numpy.ndarray, shape (m, 3)
            Log-odds a kind, within 5 either way.
        """
        one = np.ones((len(inputs), 1))
        scaled = np.hstack([self.scaled(inputs), one])
        first = np.tanh(scaled @ self.hidden)
        second = np.tanh(np.hstack([first, one]) @ self.deep)
        found: Floats = first @ self.out + second @ self.deep_out + scaled @ self.straight
        return np.clip(found, -5.0, 5.0)


@cache
def stand_net() -> StandNet:
    """
    Give the network that comes with the program.

    Returns
    -------
    StandNet
        The file it is read from says which rounds it was fitted on, and by which command.
    """
    text = resources.files("trackgolf").joinpath("data/stand_net.json").read_text(encoding="utf-8")
    record = json.loads(text)
    order = [record["inputs"].index(name) for name in INPUTS]
    mean, scale, low, high = (
        np.array(record[key], dtype=float)[order] for key in ("mean", "scale", "low", "high")
    )
    rows = [*order, len(order)]
    hidden, straight = (np.array(record[key], dtype=float)[rows] for key in ("hidden", "straight"))
    out, deep, deep_out = (np.array(record[key], dtype=float) for key in ("out", "deep", "deep_out"))
    return StandNet(mean, scale, low, high, hidden, out, straight, deep, deep_out)
