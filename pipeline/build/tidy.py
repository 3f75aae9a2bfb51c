"""Raw files in their one form: columns in order, rows sorted by key, no padding, LF line ends."""

import csv
import io
from pathlib import Path

from pipeline.build.read import table_folder
from pipeline.textfile import Problem, decode, records
from pipeline.writing.files import write_all
from pipeline.writing.lock import WAIT_S, locked
from schemas.tables import TABLES, Table


def tidy(root: Path) -> list[Path]:
    """Rewrite every raw file below `root` that is not in its one form; the files rewritten.

    A file that cannot be read as CSV, or whose columns are not the table's, is left for `build` to name.
    """
    if not root.is_dir():
        return []
    changed = {}
    with locked(root.resolve(), "writer of raw tables", WAIT_S):
        for table in TABLES.values():
            for path in sorted(table_folder(root, table).glob("*.csv")):
                old = path.read_bytes()
                new = tidied(old, table)
                if new is not None and new != old:
                    changed[path] = new
        write_all(changed, force=True)
    return list(changed)


def tidied(data: bytes, table: Table) -> bytes | None:
    """The file's text in its one form, or None where it is not this table's."""
    text = decode(data)
    if isinstance(text, Problem):
        return None
    try:
        lines = [[cell.strip() for cell in cells] for _, cells in records(text)]
    except csv.Error:
        return None
    lines = [cells for cells in lines if any(cells)]
    if not lines or sorted(lines[0]) != sorted(table.columns) or any(len(c) != len(lines[0]) for c in lines):
        return None
    order = [lines[0].index(name) for name in table.columns]
    rows = sorted(([cells[i] for i in order] for cells in lines[1:]), key=lambda r: _key(r, table))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows(rows)
    return out.getvalue().encode()


def _key(row: list[str], table: Table) -> tuple:
    cells = dict(zip(table.columns, row, strict=True))
    key = [_natural(cells[name]) for name in table.key]
    return (*key, cells.get("source_id", ""), row)


def _natural(cell: str) -> tuple[int, float, str]:
    try:
        return (0, float(cell), "")
    except ValueError:
        return (1, 0.0, cell)
