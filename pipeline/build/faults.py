"""Faults in raw tables: what is wrong, where, and how to mend it."""

from collections.abc import Iterable
from typing import NamedTuple


class Fault(NamedTuple):
    """One fault; `rule` is the id under which the contributor's guide explains it, `line` counts from 1."""

    rule: str
    file: str
    line: int
    column: str
    value: str
    what: str
    mend: str

    def __str__(self) -> str:
        shown = self.value if len(self.value) <= 40 else self.value[:37] + "..."
        where = f"{self.file}:{self.line}: {self.column}"
        return f"{where}: {shown!r}: {self.what}: {self.mend} [{self.rule}]"


class BadTables(Exception):
    """Raised with every fault of one run; nothing was written."""

    def __init__(self, faults: Iterable[Fault]):
        self.faults = sorted(set(faults), key=lambda f: (f.file, f.line, f.column, f.rule))
        super().__init__(f"{len(self.faults)} faults in the raw tables")
