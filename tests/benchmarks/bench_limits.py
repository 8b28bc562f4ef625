"""What keeps shots from being found: ``python -m tests.benchmarks.bench_limits``.

The decoder as it is, told the true parameters of each very round as far as it has settings for them, and told the true
stands; then on the same rounds with twice the error, half and twice the time over the ball. F1 without and with a card;
measuring seeds, as in `bench_shots`. `--write` puts the tables into DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import os
import sys
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")

from tests.benchmarks.figures import show, table
from tests.benchmarks.measure import measure_rounds, summary
from tests.simulator.suite import ROWS
from trackgolf.settings import RoundSettings

LIMITS: dict[str, dict[str, Any]] = {
    "as it is": {},
    "true parameters": {"variant": "true parameters"},
    "true stops": {"variant": "true stops"},
}
OTHER_DAYS: dict[str, dict[str, Any]] = {
    "as it is": {},
    "twice the error": {"noise": 2.0},
    "half the time": {"world": {"dwell": 0.5}},
    "twice the time": {"world": {"dwell": 2.0}},
    "alone, no bustle": {"world": {"bustle": 0.0, "alone": True}},
}


def columns(variants: dict[str, dict[str, Any]], options: argparse.Namespace) -> list[str]:
    """Lay out F1 for each kind of round and each variant."""
    head = ["rounds", *(f"{name}, {card}" for name in variants for card in ("no card", "card"))]
    seeds = list(range(options.first, options.first + options.rounds))
    rows: list[list[object]] = []
    everything: dict[str, list[Any]] = {name: [] for name in head[1:]}
    for row in options.rows.split(","):
        cells: list[object] = [row]
        for name, changes in variants.items():
            for card in (False, True):
                measured = measure_rounds(
                    [row], seeds, card=card, settings=RoundSettings(), workers=options.workers, **changes
                )
                everything[f"{name}, {'card' if card else 'no card'}"] += measured
                cells.append(summary(measured)["f1"])
        rows.append(cells)
        print(" ".join(f"{one:.3f}" if isinstance(one, float) else str(one) for one in cells), flush=True)
    rows.append(["all", *(summary(measured)["f1"] for measured in everything.values())])
    print()
    return table(head, rows)


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=6, help="measuring rounds a row")
    parser.add_argument("--rows", default=",".join(ROWS))
    parser.add_argument("--first", type=int, default=500, help="first seed")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--only", choices=["limits", "days"], help="one of the two tables")
    parser.add_argument("--write", action="store_true", help="put the tables into DEVELOPERS.md")
    options = parser.parse_args()
    if options.only != "days":
        show("limits", columns(LIMITS, options), write=options.write)
        print()
    if options.only != "limits":
        show("other days", columns(OTHER_DAYS, options), write=options.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
