"""What every question stands on: the chosen rows of the wide tables, looked up by type."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import NamedTuple

from pipeline.build.normalise import Value
from pipeline.build.record import Record

Row = Mapping[str, Value]
SIBLINGS = ("drop-in", "other base", "other heater")
"""How a substitute stands to a type whose figures it shares."""


class Question(NamedTuple):
    """A figure, what another figure makes of it, and in one sentence what does not fit."""

    table: str
    subject: str
    quantity: str
    value: float
    expected: float
    what: str
    rule: str = ""


def number(row: Row, column: str) -> float | None:
    """A cell of a column of numbers; None where it is empty."""
    value = row.get(column)
    return float(value) if isinstance(value, int | float) else None


class Chosen:
    """Table → its chosen rows, with the look-ups that questions share."""

    def __init__(self, rows: Mapping[str, list[Record[Value]]]):
        self._rows = rows

    def rows(self, table: str) -> list[Record[Value]]:
        return self._rows.get(table, [])

    def by_type(self, table: str) -> dict[str, list[Row]]:
        """Type → its rows in the table."""
        found: dict[str, list[Row]] = defaultdict(list)
        for row in self.rows(table):
            found[str(row["type"])].append(row)
        return found

    @cached_property
    def pairs(self) -> list[tuple[str, str, str]]:
        """Two types that are said to share their figures, each pair once, and how the second stands to the first."""
        found: dict[tuple[str, str], str] = {}
        for row in self.rows("substitutes"):
            one, other = sorted((str(row["type"]), str(row["substitute"])))
            if row["relation"] in SIBLINGS:
                found.setdefault((one, other), str(row["relation"]))
        said = {tuple(sorted((str(r["type"]), str(r["substitute"])))) for r in self.rows("substitutes")
                if r["relation"] not in SIBLINGS}
        return [(*pair, how) for pair, how in sorted(found.items()) if pair not in said]


def apart(a: float, b: float) -> float:
    """How far two figures lie apart, as a share of the larger."""
    return abs(a - b) / max(abs(a), abs(b))


Questions = Iterator[Question]
