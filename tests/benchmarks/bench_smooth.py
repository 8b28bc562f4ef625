"""
Time the smoother and say how good it is: `python -m tests.benchmarks.bench_smooth`.

Prints the time of a round of 16,200 points (4.5 hours at 1 Hz) and, over simulated walks with error that wanders,
the error of the walked path, of the position, and how honest the reported standard error is.
"""

from __future__ import annotations

import statistics
import time

import numpy as np

from geo.clean import remove_jumps
from geo.line import path_length_m
from geo.smooth import smooth_positions
from tests.geo.test_clean import table
from tests.geo.test_smooth import invented_walk, wandering_error

POINTS = 16_200
# Budget for all rounds of weights and the variances, both axes.
BUDGET_S = 0.15


def median_time(run, repeats=7):
    """Seconds of the median of several runs."""
    taken = []
    for _ in range(repeats):
        begun = time.perf_counter()
        run()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def main():
    rng = np.random.default_rng(20)
    time_s, truth, _ = invented_walk(rng, legs=160)
    time_s, truth = time_s[:POINTS], truth[:POINTS]
    seen = truth + wandering_error(rng, time_s, 3.0, 0.99) + rng.normal(0.0, 0.5, truth.shape)
    points = table(time_s, *seen.T)
    smooth_s = median_time(lambda: smooth_positions(time_s, *seen.T))
    print(
        f"smooth_positions, {time_s.size} points: {smooth_s * 1000:.0f} ms (budget {BUDGET_S * 1000:.0f} ms)"
    )
    print(f"remove_jumps, {time_s.size} points: {median_time(lambda: remove_jumps(points)) * 1000:.0f} ms")
    print()
    print("error       step   raw path  smoothed  walk only  position rms  within 1 sigma")
    for step in (1, 5, 10):
        for sigma_m, rho in ((2.0, 0.98), (2.0, 0.99), (3.0, 0.98), (3.0, 0.99), (4.0, 0.99), (6.0, 0.99)):
            print(f"{sigma_m:.0f} m, {rho:.2f} {step:4d} s   {quality(sigma_m, rho, step)}")


def quality(sigma_m, rho, step, walks=6):
    """One line: lengths as shares of the true ones, root mean square error, honesty of sigma_m."""
    rng = np.random.default_rng(21)
    raw, smooth, walked, true, off, inside = [], [], [], [], [], []
    for _ in range(walks):
        time_s, truth, stops = invented_walk(rng)
        last = time_s[-1] - time_s[-1] % step
        stops = np.minimum(stops, last)
        time_s, truth = time_s[::step], truth[::step]
        seen = truth + wandering_error(rng, time_s, sigma_m, rho) + rng.normal(0.0, 0.5, truth.shape)
        track = smooth_positions(time_s, *seen.T)
        middle, left, reached = stops.mean(axis=1), stops[:-1, 1], stops[1:, 0]
        true.append(path_length_m(time_s, *truth.T, middle[:-1], middle[1:]).sum())
        raw.append(path_length_m(time_s, *seen.T, middle[:-1], middle[1:]).sum())
        smooth.append(path_length_m(time_s, track.east_m, track.north_m, middle[:-1], middle[1:]).sum())
        walked.append(path_length_m(time_s, track.east_m, track.north_m, left, reached).sum())
        error = np.column_stack([track.east_m, track.north_m]) - truth
        off.append(np.mean(np.sum(error**2, axis=1)))
        inside.append(np.mean(np.abs(error) < track.sigma_m[:, None]))
    whole = sum(true)
    return (
        f"{sum(raw) / whole:8.3f}  {sum(smooth) / whole:8.3f}  {sum(walked) / whole:9.3f}"
        f"  {np.sqrt(np.mean(off)):10.2f} m  {np.mean(inside):14.2f}"
    )


if __name__ == "__main__":
    main()
