"""The command line: translates arguments, calls the library, turns errors into exit status 2."""

from trackgolf.cli.main import main

__all__ = ["main"]
