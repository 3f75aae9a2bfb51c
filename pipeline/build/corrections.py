"""Corrections of printed values: records beside the raw tables, never edits of them.

Each record names a cell (table, subject, column, and the source whose row it is), what is printed there and what it
should say. It is taken only while the raw cell still holds what the record says is printed: that is its guard.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from pipeline.build.faults import Fault, loses_row
from pipeline.build.normalise import Place, TypedRow, Value, typed_cell
from pipeline.build.read import Raw, Row, table_folder
from pipeline.textfile import hint
from schemas.columns import COLUMNS, EVIDENCE, Column
from schemas.tables import TABLES, Table


class Target(NamedTuple):
    """A raw cell that an accepted correction is about: the row's number in its table, and the value to take."""

    table: str
    number: int
    column: str
    place: Place
    value: Value
    record: Row


def targets(raw: Raw, bad: set[Place]) -> tuple[list[Target], list[Fault]]:
    """The cells that accepted corrections are about, and the faults of the corrections themselves."""
    found: list[Target] = []
    faults: list[Fault] = []
    for record in raw.rows["corrections"]:
        if any((record.file, record.line, column) in bad for column in record.cells):
            continue
        for result in _judge(record, raw, bad):
            if isinstance(result, Fault):
                faults.append(result)
            elif record.cells["status"] == "accepted":
                found.append(result)
    return found, faults


def _judge(record: Row, raw: Raw, bad: set[Place]) -> Iterator[Target | Fault]:
    """What one record asks: the cells it is about, or the fault that keeps it from being used."""
    cells = record.cells
    table = TABLES.get(cells["table"])
    if table is None or table.apart or not table.observed:
        known = [t.name for t in TABLES.values() if t.observed and not t.apart]
        yield _fault("correction-place", record, "table", "no table that can be corrected",
                     hint(cells["table"], known, "name one of the raw tables"))
    elif cells["column"] not in table.values:
        yield _fault("correction-place", record, "column", f"no column of {table.name} that can be corrected",
                     hint(cells["column"], table.values, "name one of " + ", ".join(table.values)))
    else:
        value, problem = _value(cells["corrected"], table.column(cells["column"]))
        if problem:
            yield _fault("correction-value", record, "corrected", problem, "write what the cell should say")
        else:
            yield from _matches(record, table, value, raw, bad)


def _matches(record: Row, table: Table, value: Value, raw: Raw, bad: set[Place]) -> Iterator[Target | Fault]:
    cells = record.cells
    about = [(n, r) for n, r in enumerate(raw.rows[table.name])
             if r.cells["source_id"] == cells["printed_in"] and _subject(r, table) == cells["subject"]]
    printed = [(n, r) for n, r in about if r.cells[cells["column"]] == cells["printed"]]
    for number, row in printed:
        yield Target(table.name, number, cells["column"], (row.file, row.line, cells["column"]), value, record)
    if printed or _may_be_broken(about, table, cells["column"], bad):
        return  # what cannot be read may be what the correction is about: one slip, one fault
    if not about:
        yield _fault("correction-unused", record, "subject",
                     f"{cells['printed_in']} has no row about it in {table.name}",
                     "correct subject or printed_in, or delete the correction")
    else:
        row = about[0][1]
        yield _fault("correction-guard", record, "printed",
                     f"{row.file}:{row.line} says {row.cells[cells['column']]!r} now",
                     "see whether the correction is still needed: if not, delete it")


def _may_be_broken(about: list[tuple[int, Row]], table: Table, column: str, bad: set[Place]) -> bool:
    """Whether the cell that a correction looks for may be one that could not be read."""
    if about:
        return any((row.file, row.line, column) in bad for _, row in about)
    folder = table_folder(Path(), table).as_posix() + "/"
    return any(file.startswith(folder) and loses_row(line, name, (*table.key, "source_id")) for file, line, name in bad)


def _value(text: str, described: Column) -> tuple[Value, str]:
    """The corrected value (None: withdrawn), and what is wrong with it."""
    value = typed_cell(text, described)
    if text and value is None:
        return None, "not a plain number"
    if described.choices and text and text not in described.choices:
        return None, "not one of the known words: " + ", ".join(described.choices[:6])
    low, high = described.low, described.high
    if low is not None and high is not None and isinstance(value, int | float) and not low <= value <= high:
        return None, f"outside what is plausible ({low:g} to {high:g} {described.unit})"
    return value, ""


def _subject(row: Row, table: Table) -> str:
    """The subject as figures name it: key cells with `/` between, numbers in their shortest form."""
    return "/".join(_shortest(row.cells[name], name) for name in table.key)


def _shortest(cell: str, column: str) -> str:
    value = typed_cell(cell, COLUMNS[column])
    return f"{value:g}" if isinstance(value, float) else cell


def _fault(rule: str, record: Row, column: str, what: str, mend: str) -> Fault:
    return Fault(rule, record.file, record.line, column, record.cells[column], what, mend)


def apply(found: list[Target], typed: dict[str, list[TypedRow]]) -> None:
    """Put the corrected values into the typed rows.

    A corrected cell, with the cells that only mean something together with it, moves to a row of its own: its note
    says what was printed and it is no stronger than its correction, while the rest of the row stays as it is.
    """
    by_row: dict[tuple[str, int], list[Target]] = {}
    for target in found:
        by_row.setdefault((target.table, target.number), []).append(target)
    for (name, number), about in by_row.items():
        row, table = typed[name][number], TABLES[name]
        moved = {column for target in about for column in _group(table, target.column)}
        typed[name][number] = replace(row, values=row.values | dict.fromkeys(moved))
        typed[name].append(_corrected(row, about, dict.fromkeys(c for c in table.values if c not in moved)))


def _group(table: Table, column: str) -> tuple[str, ...]:
    return next((g for g in table.together if column in g), (column,))


def _corrected(row: TypedRow, about: list[Target], others: dict[str, Value]) -> TypedRow:
    """The corrected cells as a row: what they were in its note, the weakest grade of row and corrections."""
    grades = [str(row.values["evidence"]), *(t.record.cells["evidence"] for t in about)]
    notes = [str(row.values["note"] or ""), *(
        f"{t.column} corrected from {t.record.cells['printed']}: {t.record.cells['reason']}" for t in about)]
    return replace(row, values=row.values | others | {t.column: t.value for t in about} | {
        "note": "; ".join(n for n in notes if n),
        "evidence": max(grades, key=lambda g: EVIDENCE.index(g) if g in EVIDENCE else 0)})
