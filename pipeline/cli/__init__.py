"""The command line: reads arguments, calls one function, prints, sets the exit status."""

import gc
import os
import sys
from typing import NoReturn

from pipeline.cli import tables, units
from pipeline.cli.options import app

__all__ = ["app", "main", "tables", "units"]
GARBAGE_THRESHOLD = 100_000
"""A run ends before garbage is worth looking for; the first look comes after this many objects."""


def main() -> NoReturn:
    """Run the program and end the process.

    The process ends without Python's own clearing-up: with DuckDB and numpy loaded that takes longer than most
    commands do. Everything written has been flushed and closed before.
    """
    gc.set_threshold(GARBAGE_THRESHOLD)
    status = run()
    sys.stderr.flush()
    os._exit(status)


def _call(first: list[str]) -> None:
    """Run the app; where the first word names a command only that one is made ready, which is several times quicker."""
    every = app.registered_commands
    named = [c for c in every if c.callback and [c.name or c.callback.__name__.strip("_")] == first]
    app.registered_commands = named or every
    try:
        app()
    finally:
        app.registered_commands = every


def run() -> int:
    """Run the command and give its exit status; a broken pipe ends it quietly, a damaged catalogue with one line."""
    try:
        try:
            _call(sys.argv[1:2])
        except SystemExit as end:
            sys.stdout.flush()
            return end.code if isinstance(end.code, int) else 0
    except BrokenPipeError:
        return 0
    except Exception as error:
        from pipeline.catalogue import CatalogueError

        if not isinstance(error, CatalogueError):
            raise
        print(error, file=sys.stderr)
        return 2
    return 0
