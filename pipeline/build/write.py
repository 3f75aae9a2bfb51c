"""Built tables to the bytes of a catalogue folder."""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.build.package import PACKAGE, as_text, described
from pipeline.sums import SUMS, written
from schemas.built import BUILT

_GROUP_ROWS = 20_480
"""Rows that a reader takes or skips together: small enough that a query of one type reads few of them."""
_DTYPES = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()}


def to_arrow(rows: Sequence[Mapping[str, Any]], types: dict[str, type]) -> pa.Table:
    """Rows of one table as Arrow; `types` gives the columns in order."""
    fields = [pa.field(name, _DTYPES[kind]) for name, kind in types.items()]
    columns = [pa.array([_cast(row.get(name), kind) for row in rows], _DTYPES[kind]) for name, kind in types.items()]
    return pa.Table.from_arrays(columns, schema=pa.schema(fields))


def coded(rows: Sequence[tuple], types: dict[str, type]) -> pa.Table:
    """The same of tuples in the order of the columns, words as dictionaries of their values but for names of rows."""
    columns = []
    for (name, kind), cells in zip(types.items(), zip(*rows, strict=True) if rows else [()] * len(types), strict=True):
        column = pa.array(cells, _DTYPES[kind])
        columns.append(column.dictionary_encode() if kind is str and name != "id" else column)
    return pa.Table.from_arrays(columns, names=list(types))


def _cast(value: object, kind: type) -> object:
    """A whole number in a column of numbers is one too."""
    return float(value) if kind is float and isinstance(value, int) else value


def rendered(tables: dict[str, pa.Table], inputs: str) -> dict[str, bytes]:
    """File name → bytes of a whole catalogue: the tables, their description and their checksums.

    The same tables give the same bytes on one version of the Parquet writer; `inputs` is the digest of what they
    were made from.
    """
    files = {f"{name}.parquet": _parquet(name, table) for name, table in tables.items()}
    hashes = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    files[PACKAGE] = as_text(described(tables, hashes)).encode()
    return files | {SUMS: written(files, inputs).encode()}


def _parquet(name: str, table: pa.Table) -> bytes:
    notes = {c.name: {"description": c.meaning} | ({"unit": c.unit} if c.unit else {}) for c in BUILT[name].columns}
    schema = pa.schema([pa.field(f.name, f.type.value_type if pa.types.is_dictionary(f.type) else f.type,
                                 metadata=notes[f.name]) for f in table.schema])
    out = pa.BufferOutputStream()
    with pq.ParquetWriter(out, schema, compression="zstd") as writer:
        for start in range(0, max(table.num_rows, 1), _GROUP_ROWS):  # never all words of a long table at once
            writer.write_table(table.slice(start, _GROUP_ROWS).cast(schema), row_group_size=_GROUP_ROWS)
    return out.getvalue().to_pybytes()
