"""The command line: reads arguments, calls one function, prints, sets the exit status."""

import gc
import os
import sys
from typing import NoReturn

from typer.models import CommandInfo

from pipeline.cli import tables, units
from pipeline.cli.options import app, say

__all__ = ["app", "main", "tables", "units"]
_FIRST = ("start", "list", "check", "order", "sheet", "bringup", "compare", "swap", "show", "find", "read")
_LAST = ("build", "add", "confirm", "tidy", "changes", "export", "dictionary")
"""Commands as the help lists them: first what is used first, last what who adds to the catalogue uses."""
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


def _name(command: CommandInfo) -> str:
    return command.name or getattr(command.callback, "__name__", "").strip("_")


def _place(command: CommandInfo) -> tuple[int, int]:
    """Where the help lists a command; one that no list names stands between them."""
    name = _name(command)
    return next(((side, names.index(name)) for side, names in ((0, _FIRST), (2, _LAST)) if name in names), (1, 0))


app.registered_commands.sort(key=_place)


def _call(first: list[str]) -> None:
    """Run the app; where the first word names a command only that one is made ready, which is several times quicker."""
    every = app.registered_commands
    named = [c for c in every if [_name(c)] == first]
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
        say(str(error))
        return 2
    return 0
