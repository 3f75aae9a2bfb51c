"""The command line: reads arguments, calls one function, prints, sets the exit status."""

import gc
import os
import signal
import sys
from typing import NoReturn

from typer.models import CommandInfo

from pipeline.cli import streams, tables, units
from pipeline.cli.options import app, say

__all__ = ["app", "main", "tables", "units"]
_FIRST = ("start", "list", "check", "order", "sheet", "bringup", "compare", "swap", "show", "find", "read")
_LAST = ("build", "add", "confirm", "tidy", "changes", "export", "dictionary")
"""Commands as the help lists them: first what is used first, last what who adds to the catalogue uses."""
GARBAGE_THRESHOLD = 100_000
"""A run ends before garbage is worth looking for; the first look comes after this many objects."""


INTERRUPTED, TERMINATED, FAULT = 130, 143, 70
"""Exit status where a person broke the run off, where another program did, and where this program is at fault."""


def main() -> NoReturn:
    """Run the program and end the process.

    The process ends without Python's own clearing-up, however the run ends: with DuckDB and numpy loaded that takes
    longer than most commands do, and a library's thread that is cut off in its work would abort it. Everything written
    has been flushed and closed before.
    """
    status = FAULT
    try:
        gc.set_threshold(GARBAGE_THRESHOLD)
        streams.guard()
        signal.signal(signal.SIGTERM, _terminated)
        status = run()
    except KeyboardInterrupt:
        status = INTERRUPTED
    finally:
        os._exit(status)


def _terminated(*_: object) -> NoReturn:
    raise SystemExit(TERMINATED)


def _name(command: CommandInfo) -> str:
    return command.name or getattr(command.callback, "__name__", "").strip("_")


def _place(command: CommandInfo) -> tuple[int, int]:
    """Where the help lists a command; one that no list names stands between them."""
    name = _name(command)
    return next(((side, names.index(name)) for side, names in ((0, _FIRST), (2, _LAST)) if name in names), (1, 0))


app.registered_commands.sort(key=_place)


def _call(first: list[str]) -> None:
    """Run the app; where the first word names a command only that one is made ready, which is several times quicker.

    For the version one is enough, whichever: the app stands on having any.
    """
    every = app.registered_commands
    named = [c for c in every if [_name(c)] == first]
    app.registered_commands = named or (every[:1] if first == ["--version"] else every)
    try:
        app()
    finally:
        app.registered_commands = every


def run() -> int:
    """Run the command and give its exit status; what goes wrong is told in one line on standard error.

    A fault of the program itself is told with its place in the code; with TUBEWRIGHT_TRACEBACK set it comes as it is.
    """
    try:
        try:
            _call(sys.argv[1:2])
        except SystemExit as end:
            streams.flush()
            return end.code if isinstance(end.code, int) else 0
        streams.flush()
    except streams.OutputLost as lost:
        print(lost, file=sys.stderr)
        return 2
    except Exception as error:
        return _at_fault(error)
    return 0


def _at_fault(error: Exception) -> int:
    from pipeline.catalogue import CatalogueError

    if isinstance(error, CatalogueError):
        say(str(error))
        return 2
    if isinstance(error, OSError):
        say(f"{error.filename}: {error.strerror}" if error.filename else str(error.strerror or error))
        return 2
    import traceback

    if os.environ.get("TUBEWRIGHT_TRACEBACK"):
        traceback.print_exception(error)
        return FAULT
    frame = traceback.extract_tb(error.__traceback__)[-1]
    said = " ".join(str(error).split())[:200]
    say(f"a fault of the program itself, please report it: {type(error).__name__}: {said} "
        f"({os.path.basename(frame.filename)}:{frame.lineno})")
    return FAULT
