"""Text cells to typed values, and the typed frames through their pandera schemas."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache

import pandas as pd
import pandera.errors

from pipeline.build.faults import Fault
from pipeline.build.read import Row
from pipeline.build.record import Record
from schemas.columns import COLUMNS, Column
from schemas.models import model
from schemas.tables import OPTIONAL_KEYS, Table

_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")
_COMMA = re.compile(r"-?(?:[0-9]+,[0-9]+|[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+|[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+)")
_FORM = re.compile(r"\+?-?(?:0[0-9]+(?:\.[0-9]*)?|\.[0-9]+|[0-9]+\.)|\+[0-9.]+")
_AT_ONCE = 20_000

Value = str | float | int | None


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One raw row with typed values; `None` stands for an empty cell."""

    file: str
    line: int
    values: Record[Value] | dict[str, Value]

    def number(self, column: str) -> float | None:
        """The cell of a column of numbers; None where it is empty."""
        value = self.values[column]
        return None if value is None else float(value)

    def text(self, column: str) -> str | None:
        """The cell of a column of words; None where it is empty."""
        value = self.values[column]
        return None if value is None else str(value)


Place = tuple[str, int, str]
"""File, line and column of a cell."""


def normalise(rows: list[Row], table: Table, bad: set[Place]) -> tuple[list[TypedRow], list[Fault]]:
    """Typed rows of `table` and the faults of their cells, duplicates of the key within one source included.

    Cells in `bad` are faulty already and are not named again; the cells found faulty here are added to it.
    """
    faults: list[Fault] = []

    def add(found: list[Fault]) -> None:
        fresh = [f for f in found if (f.file, f.line, f.column) not in bad]
        bad.update((f.file, f.line, f.column) for f in fresh)
        faults.extend(fresh)

    typed = [TypedRow(r.file, r.line, Record({c.name: _value(r, c, add) for c in table.described})) for r in rows]
    add(_missing(rows, table))
    add(_schema_faults(rows, typed, table, bad))
    add(_duplicates(typed, table, bad))
    return typed, faults


def _value(row: Row, column: Column, add: Callable[[list[Fault]], None]) -> Value:
    cell = row.cells[column.name]
    value = typed_cell(cell, column)
    if cell and value is None:
        rule, what, mend = _no_number(cell, column)
        add([Fault(rule, row.file, row.line, column.name, cell, what, mend)])
    return value


def typed_cell(cell: str, column: Column) -> Value:
    """The value of a text cell; None where it is empty, or no plain number in a column of numbers."""
    if not cell or column.kind == "text":
        return cell or None
    return _number(cell)


@lru_cache(maxsize=100_000)
def _number(cell: str) -> float | None:
    """The number; the same one for the same text, which most texts of a table are."""
    return float(cell) if _NUMBER.fullmatch(cell) else None


def _no_number(cell: str, column: Column) -> tuple[str, str, str]:
    """Rule, what is wrong and how to mend it, for a cell that is no plain number."""
    if _COMMA.fullmatch(cell):
        if re.search(r",[0-9]{3}(?![0-9])", cell):
            return "decimal-comma", "a comma in a number", "write a decimal point, and no mark between thousands"
        return "decimal-comma", "a decimal comma", f"write a decimal point: {cell.replace('.', '').replace(',', '.')}"
    if _FORM.fullmatch(cell):
        return "number-form", "leading zeros, or a sign or point too many", "write it as 0.5 or 5"
    return "not-a-number", "not a plain number", f"only digits and a decimal point, in {column.unit}"


def _missing(rows: list[Row], table: Table) -> list[Fault]:
    return [Fault("cell-missing", row.file, row.line, name, "", "must not be empty", COLUMNS[name].meaning)
            for row in rows for name in table.required if name not in OPTIONAL_KEYS and not row.cells[name]]


def _schema_faults(rows: list[Row], typed: list[TypedRow], table: Table, bad: set[Place]) -> list[Fault]:
    """Faults of the cells, some rows at a time: as a frame they take several times the room."""
    return [fault for start in range(0, len(typed), _AT_ONCE) for fault in _frame_faults(
        rows[start:start + _AT_ONCE], typed[start:start + _AT_ONCE], table, bad)]


def _frame_faults(rows: list[Row], typed: list[TypedRow], table: Table, bad: set[Place]) -> list[Fault]:
    kinds = {c.name: (object if c.kind == "text" else "float64") for c in table.described}
    frame = pd.DataFrame([tuple(row.values.values()) for row in typed], columns=list(table.columns)).astype(kinds)
    try:
        model(table.name).validate(frame, lazy=True)
    except pandera.errors.SchemaErrors as error:
        cases = error.failure_cases
        found = [(rows[int(index)], column) for index, column in zip(cases["index"], cases["column"], strict=True)
                 if not pd.isna(index)]
        return [_schema_fault(row, table.column(column)) for row, column in found
                if (row.file, row.line, column) not in bad]
    return []


def _schema_fault(row: Row, column: Column) -> Fault:
    shown = row.cells[column.name]
    if column.choices:
        near = get_close_matches(shown, column.choices, 3, 0.3) or column.choices[:6]
        return Fault("word-unknown", row.file, row.line, column.name, shown, "not one of the known words",
                     f"perhaps {', '.join(near)}; a new word goes into schemas/")
    return Fault("out-of-range", row.file, row.line, column.name, shown,
                 f"outside what is plausible ({column.low:g} to {column.high:g} {column.unit})",
                 "look for a slipped decimal point or another unit")


def _duplicates(typed: list[TypedRow], table: Table, bad: set[Place]) -> list[Fault]:
    seen: dict[tuple, TypedRow] = {}
    faults = []
    for row in typed:
        if any((row.file, row.line, name) in bad for name in (*table.key, "source_id", "evidence", "locator")):
            continue
        key = tuple(row.values[name] for name in (*table.key, *table.givens))
        if table.observed:
            key += (row.values["source_id"], row.values["evidence"], row.values["locator"])
        if key in seen:
            first = seen[key]
            faults.append(Fault("row-twice", row.file, row.line, table.key[0], str(key[0]),
                                f"the same subject and source as {first.file}:{first.line}",
                                "keep one row, or name another source or locator"))
        seen.setdefault(key, row)
    return faults
