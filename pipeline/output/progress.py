"""A line that says how far a long command is, on a terminal only and only once it takes over two seconds."""

import sys
import threading
import time
from types import TracebackType

PATIENCE_S = 2.0
"""What takes no longer is not spoken of."""
STEP_S = 0.25
_CLEAR = "\r\033[K"


class Progress:
    """`with Progress("making the pages") as told: told(3, 40)`; where standard error is no terminal nothing is said."""

    def __init__(self, what: str, patience_s: float = PATIENCE_S):
        self._what, self._patience_s = what, patience_s
        self._count = ""
        self._done = threading.Event()
        self._spoken = False
        self._thread = threading.Thread(target=self._speak, daemon=True)

    def __call__(self, done: int, total: int) -> None:
        """Take note that `done` of `total` are done."""
        self._count = f", {done} of {total}"

    def __enter__(self) -> "Progress":
        if sys.stderr.isatty():
            self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self._done.set()
        if self._thread.ident is not None:
            self._thread.join()
        if self._spoken:
            print(_CLEAR, end="", file=sys.stderr, flush=True)

    def _speak(self) -> None:
        begin = time.monotonic()
        if self._done.wait(self._patience_s):
            return
        self._spoken = True
        while True:
            print(f"{_CLEAR}{self._what}{self._count}, {time.monotonic() - begin:.0f} s", end="", file=sys.stderr,
                  flush=True)
            if self._done.wait(STEP_S):
                return
