"""The mark of the method covers what a rebuilt round rests on, and nothing else."""

import subprocess
import sys

from trackgolf import method


def test_covers_exactly_what_is_imported():
    # Source: Python itself: what is in sys.modules after the import.
    code = "import sys, trackgolf.reconstruct; print(*sorted(n for n in sys.modules if n.split('.')[0] in ('geo', 'trackgolf')))"
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert [name for name in told if "." in name] == list(method.method_modules())


def test_changes_with_the_code_and_the_data(tmp_path, monkeypatch):
    for package in ("geo", "trackgolf", "trackgolf/data"):
        (tmp_path / package).mkdir()
    first, other, weights = (
        tmp_path / name
        for name in ("trackgolf/reconstruct.py", "geo/track.py", "trackgolf/data/weights.json")
    )
    first.write_text("from geo.track import (\n    read,\n)\n")
    other.write_text("read = 1\n")
    (tmp_path / "geo" / "apart.py").write_text("x = 1\n")
    weights.write_text("{}")
    monkeypatch.setattr(method, "_TOP", tmp_path)

    def version():
        method.method_version.cache_clear()
        method.method_modules.cache_clear()
        return method.method_version()

    try:
        seen = [version()]
        (tmp_path / "geo" / "apart.py").write_text("x = 2\n")
        assert version() == seen[0]
        for path in (other, weights, first):
            path.write_text(path.read_text() + " ")
            seen.append(version())
        assert len(set(seen)) == 4
    finally:
        monkeypatch.undo()
        version()
