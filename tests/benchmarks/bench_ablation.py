"""What each kind of evidence is worth: ``python -m tests.benchmarks.bench_ablation``.

The decoder is measured on the same rounds with one kind left out at a time, everything else unchanged and nothing fitted
anew; a line says how much F1 is lost. Card and plan are left out by not giving them. Measuring seeds, as in
`bench_shots`; `--write` puts the table into DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import os
import sys
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")

from tests.benchmarks.figures import show, table
from tests.benchmarks.measure import measure_rounds, summary
from tests.benchmarks.variants import LEFT_OUT
from trackgolf.settings import RoundSettings

ROWS = ("watch", "watch_marks", "silent", "sparse", "phone", "slow", "odd_order")


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=4, help="measuring rounds a row")
    parser.add_argument("--rows", default=",".join(ROWS))
    parser.add_argument("--first", type=int, default=500, help="first seed")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md")
    options = parser.parse_args()
    rows = options.rows.split(",")
    seeds = list(range(options.first, options.first + options.rounds))

    def scores(*, card: bool, plan: bool, variant: str = "") -> list[float]:
        common: dict[str, Any] = {"settings": RoundSettings(), "workers": options.workers}
        measured = measure_rounds(rows, seeds, card=card, plan=plan, variant=variant, **common)
        by_row = [[one for one in measured if one.row == row] for row in (*rows,)]
        return [summary(part)["f1"] for part in (measured, *by_row)]

    whole = {card: scores(card=card, plan=True) for card in (False, True)}
    lines: list[list[object]] = [["nothing: F1", *whole[False], whole[True][0]]]
    print(lines[0], flush=True)

    def lost(name: str, plain: list[float], card: float) -> None:
        cells = [f"{before - now:+.3f}" for before, now in zip(whole[False], plain, strict=True)]
        lines.append([name, *cells, f"{whole[True][0] - card:+.3f}" if card >= 0.0 else ""])
        print(lines[-1], flush=True)

    for name in LEFT_OUT:
        lost(
            name,
            scores(card=False, plan=True, variant=name),
            scores(card=True, plan=True, variant=name)[0],
        )
    lost("plan", scores(card=False, plan=False), scores(card=True, plan=False)[0])
    lines.append(["card", *[""] * len(whole[False]), f"{whole[True][0] - whole[False][0]:+.3f}"])
    print()
    show("evidence", table(["left out", "all, no card", *rows, "all, card"], lines), write=options.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
