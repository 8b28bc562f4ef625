"""Whether the plan bends what it is judged by: ``python -m tests.benchmarks.bench_plan``.

Rounds that follow their plan as players do, and rounds that do not at all, are rebuilt with the plan as evidence and
without it. `long_m` and `right_m` are held against those of the true shots: of each shot found less its own true value, and
as the mean of all that the comparison with the plan reports less the mean of all it would report of the true shots. Measuring seeds, as in `bench_shots`; `--write` puts the table into DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import os
import sys

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from tests.benchmarks.figures import show, table
from tests.benchmarks.measure import measure_rounds, summary
from trackgolf.settings import RoundSettings

ROWS = ("watch", "silent", "sparse", "phone")
AIM_M = 1.0


def main() -> int:
    """Print the table; 1 if a mean is off by more than the aim."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=10, help="measuring rounds a row")
    parser.add_argument("--rows", default=",".join(ROWS))
    parser.add_argument("--first", type=int, default=500, help="first seed")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md")
    options = parser.parse_args()
    seeds = list(range(options.first, options.first + options.rounds))
    lines: list[list[object]] = []
    worst = 0.0
    for played, world in (("as players do", {}), ("off the plan", {"follow_plan": 0.0})):
        for plan in (False, True):
            measured = measure_rounds(
                options.rows.split(","),
                seeds,
                card=False,
                settings=RoundSettings(),
                plan=plan,
                world=world,
                workers=options.workers,
            )
            paired = np.concatenate([one.off_paired_m for one in measured])
            found = np.concatenate([one.off_found_m for one in measured])
            true = np.concatenate([one.off_true_m for one in measured])
            error = paired.std(axis=0) / np.sqrt(len(paired))
            means = np.r_[paired.mean(axis=0), found.mean(axis=0) - true.mean(axis=0)]
            worst = max(worst, float(np.abs(means).max()))
            lines.append(
                [
                    played,
                    "yes" if plan else "no",
                    summary(measured)["f1"],
                    len(paired),
                    *(
                        f"{mean:+.2f} ± {half:.2f}"
                        for mean, half in zip(means[:2], 1.96 * error, strict=True)
                    ),
                    *(f"{value:+.2f}" for value in np.median(paired, axis=0)),
                    *(f"{mean:+.2f}" for mean in means[2:]),
                ]
            )
            print(lines[-1], flush=True)
    head = ["played", "plan given", "F1", "shots", "long_m less true", "right_m less true"]
    head += ["median long", "median right", "all reported less all true, long", "right"]
    print()
    show("plan", table(head, lines), write=options.write)
    return 0 if worst <= AIM_M else 1


if __name__ == "__main__":
    sys.exit(main())
