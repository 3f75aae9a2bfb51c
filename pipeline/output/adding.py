"""What `add` asks and says."""

import sys
from pathlib import Path

from pipeline.build.add import add_row
from pipeline.build.faults import BadTables
from pipeline.output.built import faults
from pipeline.textfile import hint, printable
from schemas.columns import COLUMNS
from schemas.tables import TABLES, Table


def add_asked(root: Path, name: str, cells: list[str], file: str, dry_run: bool) -> str | None:
    """Add the row given or asked for; None when done, else what is wrong."""
    if name not in TABLES:
        return f"{printable(name)}: no such table: {hint(name, TABLES, 'the tables are ' + ', '.join(TABLES))}"
    table = TABLES[name]
    if Path(file).name != file or not file.endswith(".csv"):
        return f"--file {printable(file)}: must be the name of a .csv file, without a folder"
    if not cells and not sys.stdin.isatty():
        return f"no cells given: write them as field=value; the fields are {', '.join(table.columns)}"
    try:
        row = _given(cells, table) if cells else _asked(table)
        path = add_row(root, name, row, file, dry_run)
    except ValueError as error:
        return str(error)
    except BadTables as bad:
        return faults(bad.faults)
    except OSError as error:
        return printable(f"{error.filename or root}: {error.strerror or error}")
    print(f"{path}: the row is sound, nothing was written" if dry_run else
          f"added to {path}; run `tubewright build`", file=sys.stderr)
    return None


def _given(cells: list[str], table: Table) -> dict[str, str]:
    row: dict[str, str] = {}
    for cell in cells:
        name, equals, value = cell.partition("=")
        if not equals:
            raise ValueError(f"{printable(cell)}: write it as field=value")
        if name not in table.columns:
            raise ValueError(f"{printable(name)}: no such field of {table.name}: "
                             + hint(name, table.columns, "the fields are " + ", ".join(table.columns)))
        if name in row:
            raise ValueError(f"{name}: given twice")
        row[name] = value
    return row


def _asked(table: Table) -> dict[str, str]:
    print(f"{table.name}: {table.meaning}. Leave empty what the document does not say.", file=sys.stderr)
    row = {}
    for column in table.described:
        unit = f", in {column.unit}" if column.unit else ""
        words = f" ({', '.join(column.choices)})" if column.choices else ""
        must = " *" if column.name in table.required else ""
        print(f"{column.name}{must}: {COLUMNS[column.name].meaning}{unit}{words}", file=sys.stderr)
        print("> ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise ValueError("the questions were broken off: nothing was written")
        row[column.name] = line.strip()
    return row
