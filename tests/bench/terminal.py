"""The program at a pseudo-terminal, and as a script runs it."""

import os
import pty
import re
import select
import subprocess
import sys
import time

from support import ROOT

PROGRAM = [sys.executable, "-c", "from pipeline.cli import main; main()"]
ENV = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100", "TERM": "dumb"}


def run(*words, lines=b""):
    """A command run by a script, with these bytes on its standard input."""
    return subprocess.run([*PROGRAM, *map(str, words)], cwd=ROOT, env=ENV, capture_output=True, input=lines, check=False)


class Terminal:
    """A command at a pseudo-terminal, as a person sits before it."""

    def __init__(self, *words):
        self.pid, self.handle = pty.fork()
        if self.pid == 0:
            os.chdir(ROOT)
            os.execve(sys.executable, [*PROGRAM, *map(str, words)], ENV)
        self.seen = ""

    def until(self, words, seconds=40):
        """Read until the words are on the screen; what stands before them."""
        end = time.monotonic() + seconds
        while words not in self._plain and time.monotonic() < end:
            if select.select([self.handle], [], [], 0.2)[0]:
                try:
                    self.seen += os.read(self.handle, 4096).decode()
                except OSError:
                    break
        assert words in self._plain, self.seen
        before, _, self.seen = self._plain.partition(words)
        return before

    @property
    def _plain(self):
        """What is on the screen, however it is broken into lines."""
        return re.sub(r"\s+", " ", re.sub(r"\x1b\[\d*m", "", self.seen))

    def type(self, line):
        os.write(self.handle, f"{line}\n".encode())

    def status(self):
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])
