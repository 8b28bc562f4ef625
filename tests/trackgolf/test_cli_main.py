"""The group of commands: wrong arguments are one line and exit status 2."""

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
