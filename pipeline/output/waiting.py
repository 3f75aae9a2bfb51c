"""A sign of life on a terminal where a command takes longer than one likes to wait."""

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

PATIENCE_S = 2.0
CLEAR = "\r\x1b[2K"
"""Takes back the line the cursor stands on."""


@contextmanager
def waiting(what: str, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """While the block runs longer than `patience_s` seconds: `what` and the seconds gone, on a terminal's stderr."""
    if not sys.stderr.isatty():
        yield
        return
    done, begin = threading.Event(), time.monotonic()
    teller = threading.Thread(target=_tell, args=(what, patience_s, done, begin), daemon=True)
    teller.start()
    try:
        yield
    finally:
        done.set()
        teller.join()


def _tell(what: str, patience_s: float, done: threading.Event, begin: float) -> None:
    if done.wait(patience_s):
        return
    while True:
        print(f"{CLEAR}{what} … {time.monotonic() - begin:.0f} s", end="", file=sys.stderr, flush=True)
        if done.wait(1.0):
            print(CLEAR, end="", file=sys.stderr, flush=True)
            return
