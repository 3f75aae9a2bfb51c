"""A type's limits as one maker's set: the strongest document's stand together, gaps come from its own rating system.

A plate limit of one maker and a screen limit of another, or a design-centre and a design-maximum figure, are no set:
nobody promised that the tube bears both. So the limits of a row are taken from one document. What it leaves out is
filled only from documents of the same rating system. A document that names no system takes that of the strongest one
whose limits agree with all of its own; where none does, its gaps may be filled from any, and the set has no system:
the rules then judge it strictly, as absolute limits.
"""

from typing import NamedTuple

from pipeline.build.normalise import TypedRow, Value
from schemas.tables import Table

SYSTEM = "rating_system"
ALIKE = 0.001
"""Relative difference below which two limits count as one (rounding of units)."""

Cells = dict[str, TypedRow]
"""Column → the row that gives it."""


class Chosen(NamedTuple):
    """Column → row of a set of limits, its rating system among them; and the columns that fill a gap of the set."""

    cells: Cells
    filled: frozenset[str]


def choose_limits(rows: list[TypedRow], table: Table) -> Chosen:
    """The set of limits of one subject; `rows` come strongest first.

    Among documents of one grade those that name their rating system come first: only their limits can be judged as
    they were meant. Columns that only mean something together fill a gap together.
    """
    documents = _documents(rows, table)
    if not documents:
        return Chosen({}, frozenset())
    base, others = documents[0], documents[1:]
    cells = dict(base)
    system = cells.get(SYSTEM) or next(
        (other[SYSTEM] for other in others if SYSTEM in other and _agree(base, other, table)), None)
    if system is not None:
        cells[SYSTEM] = system
    for other in others:
        if system is None or _word(other) == system.values[SYSTEM]:
            cells = _filled(cells, other, table)
    return Chosen(cells, frozenset(cells) - frozenset(base) - {SYSTEM})


def _documents(rows: list[TypedRow], table: Table) -> list[Cells]:
    """What each document gives of the limits, the strongest first."""
    found: dict[Value, Cells] = {}
    strength: dict[Value, Value] = {}
    for row in rows:
        cells = found.setdefault(row.values["source_id"], {})
        for name in (*table.limits, SYSTEM):
            if row.values.get(name) is not None:
                cells.setdefault(name, row)
        if any(row.values[name] is not None for name in table.limits):
            strength.setdefault(row.values["source_id"], row.values["evidence"])
    grades = list(dict.fromkeys(strength.values()))
    given = [(source, found[source]) for source in strength]
    return [cells for _, cells in sorted(given, key=lambda x: (grades.index(strength[x[0]]), SYSTEM not in x[1]))]


def _word(document: Cells) -> Value:
    return document[SYSTEM].values[SYSTEM] if SYSTEM in document else None


def _agree(one: Cells, other: Cells, table: Table) -> bool:
    """Whether two documents state at least one limit alike and none differently."""
    common = [name for name in table.limits if name in one and name in other]
    return bool(common) and all(_same(name, one, other) for name in common)


def _same(name: str, one: Cells, other: Cells) -> bool:
    a, b = one[name].values[name], other[name].values[name]
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) <= ALIKE * max(abs(a), abs(b))
    return a == b


def _filled(cells: Cells, other: Cells, table: Table) -> Cells:
    """The set with its gaps filled from `other`; a group only where what both give of it agrees."""
    groups = {name: group for group in table.together for name in group}
    fresh = {}
    for name in table.limits:
        group = groups.get(name, (name,))
        agreed = all(_same(n, cells, other) for n in group if n in cells and n in other)
        if name in other and name not in cells and agreed:
            fresh[name] = other[name]
    return cells | fresh
