"""What one unit of a collection may cost the others: a limit of time, and nothing left running."""

import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import parent_process
from multiprocessing.connection import wait
from types import FrameType
from typing import NoReturn

UNIT_S = 5.0
"""Seconds for one unit, a thousand times what most take."""
TOGETHER_S = 0.1
"""Further seconds for each unit where many are solved together."""


class TookTooLong(BaseException):
    """The time is over. No `Exception`: what guards itself against any fault on the way must not swallow it."""


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """Break off what takes longer, by TookTooLong; no limit holds where the system has no timers (Windows, threads)."""
    if not hasattr(signal, "setitimer") or threading.current_thread() is not threading.main_thread():
        yield
        return

    def late(_number: int, _frame: FrameType | None) -> NoReturn:
        raise TookTooLong

    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def end_with_parent() -> None:
    """End this process when the one that started it ends, however that does."""
    if parent := parent_process():
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> NoReturn:
    wait([sentinel])
    os._exit(1)
