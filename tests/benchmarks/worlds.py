"""The worlds that tuning rounds are drawn from: from a quiet walk alone to a crowded day, quick players and slow."""

from __future__ import annotations

import numpy as np

__all__ = ["tuning_world"]


def tuning_world(seed: int) -> dict[str, float | bool]:
    """
    Draw how busy, how slow and how noisy a tuning round is, so that nothing is fitted to one kind of day.

    One in three is as the suite makes it, one in five is a quiet walk alone.
    """
    rng = np.random.default_rng([seed, 0x3A])
    if rng.random() < 1.0 / 3.0:
        return {}
    return {
        "bustle": float(rng.choice([0.0, rng.uniform(0.0, 1.0)], p=[0.5, 0.5])),
        "alone": bool(rng.random() < 0.5),
        "dwell": float(np.exp(rng.uniform(-0.5, 0.5))),
        "noise": float(np.exp(rng.uniform(-0.3, 0.3))),
    }
