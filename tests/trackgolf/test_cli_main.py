"""The group of commands: wrong arguments are one line and exit status 2."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from trackgolf.cli import main


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["plan", "--course", "course.geojson"], "--bag"),
        (["plan", "--no-such-option"], "--no-such-option"),
        (["no-such-command"], "no-such-command"),
        (["reconstruct"], "TRACK"),
    ],
)
def test_wrong_arguments_are_one_line(arguments, said):
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert said in result.stderr
    assert "--help" in result.stderr


def test_help_and_version_succeed():
    for arguments in (["--help"], ["--version"], ["plan", "--help"]):
        assert CliRunner().invoke(main, arguments).exit_code == 0


@pytest.mark.parametrize(
    ("words", "offered"),
    [("trackgolf re", {"reconstruct", "report"}), ("trackgolf reconstruct --ca", {"--card"})],
)
def test_the_tab_key_completes(words, offered, monkeypatch, capsys):
    # Source: Click documentation, "Shell Completion": the variables that a shell's function sets for the program.
    monkeypatch.setenv("_TRACKGOLF_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", words)
    monkeypatch.setenv("COMP_CWORD", str(words.count(" ")))
    with pytest.raises(SystemExit) as ended:
        main([])
    assert ended.value.code == 0
    assert {line.split(",")[1] for line in capsys.readouterr().out.splitlines()} == offered


def test_the_line_of_the_readme_sets_completion_up(monkeypatch, capsys):
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (variable, value) = re.search(r'eval "\$\((\w+)=(\w+) trackgolf\)"', readme).groups()
    monkeypatch.setenv(variable, value)
    with pytest.raises(SystemExit):
        main([])
    assert "complete -o nosort -F" in capsys.readouterr().out


def test_a_console_that_lacks_a_letter(tmp_path):
    """What it cannot show is written as an escape, in place of a fault of the program."""
    top = Path(__file__).parents[2]
    text = (top / "demo_tracks" / "course.geojson").read_text(encoding="utf-8")
    (tmp_path / "course.geojson").write_text(text.replace("Tarrowmere Links", "Caf\u00e9"), encoding="utf-8")
    result = subprocess.run(
        [sys.executable, "-m", "trackgolf", "course", str(tmp_path / "course.geojson")],
        capture_output=True,
        text=True,
        check=False,
        cwd=top,
        env={"PYTHONIOENCODING": "cp1251"},
    )
    assert result.returncode == 0, result.stderr
    assert "Caf\\xe9" in result.stdout


@pytest.mark.parametrize("name", main.list_commands(None))
def test_help_has_a_worked_example(name):
    text = CliRunner().invoke(main, [name, "--help"]).output
    begun = text.split("Example")[1]
    assert f"  trackgolf {name}" in begun
