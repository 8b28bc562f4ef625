"""The group of commands. Each command is a module of its own, imported only when it is called."""

from __future__ import annotations

import importlib
import io
import sys
from collections.abc import Sequence
from typing import Any

import click

from geo.errors import InputError

__all__ = ["main"]

# name: (module, attribute, the line shown in the list of commands)
_COMMANDS = {
    "demo": ("trackgolf.cli.demo", "demo", "Run the main job on the invented rounds that come along."),
    "track": ("trackgolf.cli.track", "track", "Say what track files hold, before any golf."),
    "course": ("trackgolf.cli.course", "course", "Check a course file or scorecard, hole by hole."),
    "plan": ("trackgolf.cli.plan", "plan", "Plan a round from green to tee."),
    "reconstruct": ("trackgolf.cli.reconstruct", "reconstruct", "Rebuild a round from its track."),
    "import": ("trackgolf.cli.imports", "import_", "Rebuild rounds and keep them in the library."),
    "rounds": ("trackgolf.cli.rounds", "rounds", "List the rounds in the library."),
    "report": ("trackgolf.cli.report", "report", "Write the report of a round in the library."),
    "correct": ("trackgolf.cli.correct", "correct", "Set right what was misread in a round."),
    "serve": ("trackgolf.cli.serve", "serve", "Show the library in a browser, and set rounds right there."),
    "explain": ("trackgolf.cli.explain", "explain", "Tell how a hole was read from the track."),
    "carries": ("trackgolf.cli.carries", "carries", "Say what the clubs really do, from many rounds."),
    "approaches": ("trackgolf.cli.approaches", "approaches", "Say from where the green is really reached."),
    "players": ("trackgolf.cli.players", "players", "Give a coach an overview of the players."),
    "export": ("trackgolf.cli.export", "export", "Write rounds of the library for other programs."),
    "forget": ("trackgolf.cli.forget", "forget", "Take rounds or a player out of the library for good."),
}


class _CommandGroup(click.Group):
    """A group that imports a command only when it is used, and reports `InputError` in one line."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in _COMMANDS:
            return None
        module, attribute, _ = _COMMANDS[cmd_name]
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, _, line) in _COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except InputError as error:
            click.echo(f"trackgolf: {error}", err=True)
            ctx.exit(2)

    def main(self, args: Sequence[str] | None = None, **extra: Any) -> Any:  # type: ignore[override]
        """Run a command; wrong arguments are told in one line, like every other input that cannot be used."""
        extra.setdefault("prog_name", "trackgolf")
        for stream in (sys.stdout, sys.stderr):
            # A file name that is no text, or a console without dashes, is no reason to fail when the work is done.
            if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
                stream.reconfigure(errors="backslashreplace")
        if not extra.pop("standalone_mode", True):
            return super().main(args, standalone_mode=False, **extra)
        try:
            status = super().main(args, standalone_mode=False, **extra)
        except click.exceptions.NoArgsIsHelpError as asked:
            asked.show()
            sys.exit(2)
        except click.UsageError as error:
            command = error.ctx.command_path if error.ctx else "trackgolf"
            told = " ".join(error.format_message().split()).rstrip(".")
            click.echo(f"trackgolf: {told}. See '{command} --help'.", err=True)
            sys.exit(2)
        except click.Abort:
            click.echo("trackgolf: stopped.", err=True)
            sys.exit(1)
        sys.exit(status if isinstance(status, int) else 0)


@click.group(
    cls=_CommandGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(package_name="trackgolf")
def main() -> None:
    """
    Plan a round of golf from green to tee, and see from a GPX track how it went.

    \b
    Begin with the invented rounds that come along:
      trackgolf demo --out demo
    then look at a track of your own:
      trackgolf track my-round.gpx
    """
