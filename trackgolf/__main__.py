"""Run the command line as ``python -m trackgolf``."""

from trackgolf.cli import main

main()
