"""A sign of life on a terminal where a command takes longer than one likes to wait."""

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

PATIENCE_S = 2.0
STEP_S = 0.25
CLEAR = "\r\x1b[2K"
"""Takes back the line the cursor stands on."""
Told = Callable[[int, int], None]
"""Hears how many of how many are done."""


@contextmanager
def waiting(what: str, patience_s: float = PATIENCE_S) -> Iterator[Told]:
    """While the block runs longer than `patience_s` seconds: `what` and the seconds gone, on a terminal's stderr.

    The block is given a function that takes how many of how many are done, for what is told.
    """
    count: list[tuple[int, int]] = []

    def told(done: int, total: int) -> None:
        count[:] = [(done, total)]

    if not sys.stderr.isatty():
        yield told
        return
    done, begin = threading.Event(), time.monotonic()
    teller = threading.Thread(target=_tell, args=(what, patience_s, done, begin, count), daemon=True)
    teller.start()
    try:
        yield told
    finally:
        done.set()
        teller.join()


def _tell(what: str, patience_s: float, done: threading.Event, begin: float, count: list[tuple[int, int]]) -> None:
    if done.wait(patience_s):
        return
    while True:
        part = "".join(f", {some} of {total}" for some, total in count)
        print(f"{CLEAR}{what}{part} … {time.monotonic() - begin:.0f} s", end="", file=sys.stderr, flush=True)
        if done.wait(STEP_S):
            print(CLEAR, end="", file=sys.stderr, flush=True)
            return
