"""Built tables to the bytes of a catalogue folder."""

import hashlib

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.build.package import PACKAGE, as_text, described
from pipeline.sums import SUMS, written
from schemas.built import BUILT

_GROUP_ROWS = 20_480
"""Rows that a reader takes or skips together: small enough that a query of one type reads few of them."""
_DTYPES = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_()}


def to_arrow(rows: list[dict], types: dict[str, type]) -> pa.Table:
    """Rows of one table as Arrow; `types` gives the columns in order."""
    fields = [pa.field(name, _DTYPES[kind]) for name, kind in types.items()]
    columns = [pa.array([_cast(row.get(name), kind) for row in rows], _DTYPES[kind]) for name, kind in types.items()]
    return pa.Table.from_arrays(columns, schema=pa.schema(fields))


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
    schema = pa.schema([field.with_metadata(notes[field.name]) for field in table.schema])
    out = pa.BufferOutputStream()
    pq.write_table(table.cast(schema), out, compression="zstd", row_group_size=_GROUP_ROWS)
    return out.getvalue().to_pybytes()
