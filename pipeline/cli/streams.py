"""Standard input, output and error, guarded: whatever is at their other end, a run ends as it would have, or says why.

- A reader that closes the pipe changes nothing: what is still printed goes nowhere, the exit status stays.
- A full disk or a closed output is told in one line and is exit status 2. An error stream that fails is left alone.
- Letters that a code page lacks are printed in letters it has: `µ` as `u`, `→` as `->`, others as `\\u041d`.
- What would move a terminal's cursor or hide text is escaped; colours and the progress bar are the program's own.
"""

import codecs
import errno
import io
import os
import re
import select
import sys
from contextlib import suppress
from typing import IO, Any

_LETTERS = {
    "µ": "u", "μ": "u", "Ω": "ohm", "\N{OHM SIGN}": "ohm", "±": "+-", "°": "deg", "×": "x", "·": ".", "→": "->",
    "…": "...", "–": "-", "—": "-", "−": "-", "─": "-", "≤": "<=", "≥": ">=", "≠": "!=", "≈": "~", "½": "1/2",
    "¼": "1/4", "¾": "3/4", "⅞": "7/8", "“": '"', "”": '"', "‘": "'", "’": "'", "©": "(c)", "†": "+", "√": "sqrt",
    "π": "pi", "\xa0": " ", "\N{REPLACEMENT CHARACTER}": "?", "ß": "ss", "│": "|", "█": "#", "•": "*", "²": "2",
    "³": "3"}
"""What is printed where a code page lacks the letter."""
_MOVES = ("\x1b\\[[0-9;]*m|\r\x1b\\[2?K|"
          "([\x00-\x08\x0b-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e\u2066-\u2069])")
"""Colours and the bar's clearing of its line, which may pass; else what moves a cursor, or hides or turns text."""


class OutputLost(Exception):
    """Standard output cannot take what is printed; the message says why."""


def guard() -> None:
    """Put the guarded streams in the place of Python's own; each of the three is open then."""
    for handle in (0, 1, 2):
        try:
            os.fstat(handle)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number free, which is this one: no file will
    codecs.register_error("readable", _readable)
    if sys.stdin is None:
        sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="backslashreplace")
    sys.stdout = _guarded(sys.stdout, 1, forgiving=False)
    sys.stderr = _guarded(sys.stderr, 2, forgiving=True)


def _readable(error: UnicodeError) -> tuple[str, int]:
    """What stands for letters that the encoding lacks, in plain ASCII."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start:error.end]
    return "".join(_LETTERS.get(c) or _escaped(c) for c in lost), error.end


def _escaped(char: str) -> str:
    if "\udc80" <= char <= "\udcff":  # a byte of a file name that is no UTF-8
        return f"\\x{ord(char) - 0xdc00:02x}"
    return char.encode("ascii", "backslashreplace").decode("ascii")


class _Outlet(io.RawIOBase):
    """The end of a stream: swallows what a closed pipe no longer takes, and tells other failures once."""

    def __init__(self, raw: Any, handle: int, forgiving: bool):
        self._raw, self._handle, self._forgiving, self._gone = raw, handle, forgiving, False

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._handle

    def isatty(self) -> bool:
        return self._raw is not None and os.isatty(self._handle)

    def write(self, data: Any) -> int:
        size = memoryview(data).nbytes
        while not self._gone:
            try:
                if self._raw is None:
                    raise OSError(errno.EBADF, "is closed")
                done = self._raw.write(data)
                if done is not None:
                    return done
                select.select([], [self._handle], [])  # its other end made it a stream that does not wait
            except BrokenPipeError:
                self._gone = True
            except OSError as error:
                self._gone = True
                if not self._forgiving:
                    raise OutputLost(f"standard output: {error.strerror}") from None
        return size


class _Screen(io.TextIOWrapper):
    """Text whose control characters are escaped where it is printed on a terminal."""

    def write(self, text: str) -> int:
        return super().write(re.sub(_MOVES, _shown, text) if self.isatty() else text)


def _shown(found: re.Match[str]) -> str:
    return found[0] if found[1] is None else _escaped(found[1])


def _guarded(stream: IO[str] | None, handle: int, forgiving: bool) -> io.TextIOWrapper:
    buffer = getattr(stream, "buffer", None)
    raw = getattr(buffer, "raw", buffer)  # without a buffer where PYTHONUNBUFFERED asks for none
    outlet = io.BufferedWriter(_Outlet(raw, handle, forgiving))  # type: ignore[type-var]
    return _Screen(outlet, encoding=getattr(stream, "encoding", None) or "utf-8", errors="readable",
                   line_buffering=outlet.isatty() or forgiving)


def flush() -> None:
    """Bring out what is still held back; raises OutputLost."""
    sys.stdout.flush()
    with suppress(Exception):
        sys.stderr.flush()
