"""The pandera schema of each table, made from its one description; only the build imports this module."""

from functools import cache

import pandera.pandas as pa

from schemas.columns import Column
from schemas.tables import OPTIONAL_KEYS, TABLES, Table

_TYPES = {"text": str, "number": float, "integer": int}


def _checks(column: Column) -> list[pa.Check]:
    if column.choices:
        return [pa.Check.isin(column.choices)]
    if column.low is not None:
        return [pa.Check.in_range(column.low, column.high)]
    return []


def _field(table: Table, column: Column) -> pa.Column:
    empty = column.name not in table.required or column.name in OPTIONAL_KEYS
    return pa.Column(_TYPES[column.kind], _checks(column), nullable=empty, description=column.meaning)


@cache
def model(name: str) -> pa.DataFrameSchema:
    """The schema that typed raw rows of table `name` must meet; raises KeyError for an unknown table."""
    table = TABLES[name]
    fields = {column.name: _field(table, column) for column in table.described}
    return pa.DataFrameSchema(fields, name=name, strict="filter", ordered=False)
