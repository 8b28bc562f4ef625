"""Tables of figures: printed, and put into DEVELOPERS.md with the command and the commit that made them."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

__all__ = ["show", "table"]

_PAGE = Path(__file__).parents[2] / "DEVELOPERS.md"


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> list[str]:
    """Lay out a table in Markdown, columns as wide as they need; numbers with three decimals."""
    cells = [[f"{one:.3f}" if isinstance(one, float) else str(one) for one in row] for row in [head, *rows]]
    widths = [max(len(row[place]) for row in cells) for place in range(len(head))]
    lines = [
        "| " + " | ".join(one.ljust(width) for one, width in zip(row, widths, strict=True)) + " |"
        for row in cells
    ]
    return [lines[0], "|" + "|".join("-" * (width + 2) for width in widths) + "|", *lines[1:]]


def show(name: str, lines: Sequence[str], *, write: bool) -> None:
    """Print a table, and write it in its place in DEVELOPERS.md if wanted."""
    print("\n".join(lines), flush=True)
    if not write:
        return
    words = [word for word in sys.argv[1:] if word != "--write"]
    command = " ".join(["python -m", f"tests.benchmarks.{Path(sys.argv[0]).stem}", *words])
    text = "\n".join([*lines, "", f"By `{command}` at {_commit()}.", ""])
    page = _PAGE.read_text(encoding="utf-8")
    begin, end = f"<!-- figures: {name} -->", "<!-- end of figures -->"
    place = re.compile(re.escape(begin) + r"\n.*?" + re.escape(end), flags=re.DOTALL)
    if not place.search(page):
        raise SystemExit(f"DEVELOPERS.md has no place for {name}: {begin} ... {end}")
    _PAGE.write_text(place.sub(lambda _: f"{begin}\n{text}{end}", page), encoding="utf-8")


def _commit() -> str:
    def git(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=_PAGE.parent, capture_output=True, text=True, check=True)
        return done.stdout.strip()

    changed = [
        line for line in git("status", "--porcelain").splitlines() if not line.endswith("DEVELOPERS.md")
    ]
    return git("rev-parse", "--short", "HEAD") + (" with changes" if changed else "")
