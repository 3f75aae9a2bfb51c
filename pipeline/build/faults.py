"""Faults in raw tables: what is wrong, where, and how to mend it."""

from collections.abc import Collection, Iterable
from typing import NamedTuple

from pipeline.textfile import printable


class Fault(NamedTuple):
    """One fault; `rule` is an id that `pipeline.build.rules` explains, `line` counts from 1, `column` is - for none."""

    rule: str
    file: str
    line: int
    column: str
    value: str
    what: str
    mend: str

    def __str__(self) -> str:
        shown = self.value if len(self.value) <= 40 else self.value[:37] + "..."
        where = f"{self.file}:{self.line}: {self.column[:60]}"
        return printable(f"{where}: {shown!r}: {self.what}: {self.mend} [{self.rule}]")


KEEPS_ROWS = ("blank-line", "line-ends", "final-newline")
"""Rules about the form of a file whose rows can be read all the same."""


def loses_row(line: int, column: str, key: Collection[str]) -> bool:
    """Whether a fault there keeps a row from being known by its key: in the header, the whole row, or a key cell."""
    return line == 1 or column == "-" or column in key


class BadTables(Exception):
    """Raised with every fault of one run; nothing was written."""

    def __init__(self, faults: Iterable[Fault]):
        self.faults = sorted(set(faults), key=lambda f: (f.file, f.line, f.column, f.rule))
        super().__init__(f"{len(self.faults)} faults in the raw tables")
