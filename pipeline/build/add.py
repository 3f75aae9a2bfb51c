"""One new raw row: checked with all the others before it is written, and written whole or not at all."""

from pathlib import Path

from pipeline.build.catalogue import checked
from pipeline.build.faults import BadTables, Fault
from pipeline.build.read import Row, read_tables, table_folder, text_faults
from pipeline.build.tidy import tidied
from pipeline.textfile import Problem, decode
from pipeline.writing.files import write_all
from pipeline.writing.lock import WAIT_S, locked
from schemas.tables import TABLES, Table

OWN_FILE = "added.csv"


def add_row(root: Path, name: str, cells: dict[str, str], file: str = OWN_FILE, dry_run: bool = False) -> Path:
    """Add a row to raw table `name` in `file` and return the file's path.

    Raises KeyError for an unknown table or column, BadTables where the row would bring in a fault.
    """
    return add_rows(root, [(name, cells)], file, dry_run)[0]


def add_rows(root: Path, rows: list[tuple[str, dict[str, str]]], file: str = OWN_FILE,
             dry_run: bool = False) -> list[Path]:
    """Add several rows at once: all of them, or none; raises as `add_row`.

    Whoever adds at the same time waits for its turn, and then sees these rows.
    """
    if dry_run:
        return list(_added(root, rows, file))
    with locked(root.resolve(), "writer of raw tables", WAIT_S):
        files = _added(root, rows, file)
        for path in files:
            path.parent.mkdir(parents=True, exist_ok=True)
        write_all(files, force=True)
    return list(files)


def _added(root: Path, rows: list[tuple[str, dict[str, str]]], file: str) -> dict[Path, bytes]:
    """The raw files with the rows in them, in the order of `rows`; raises as `add_row`."""
    raw = read_tables(root)
    texts: dict[Path, tuple[str, Table]] = {}
    for name, cells in rows:
        table = TABLES[name]
        unknown = [c for c in cells if c not in table.columns]
        if unknown:
            raise KeyError(unknown[0])
        full = {c: cells.get(c, "").strip() for c in table.columns}
        path = table_folder(root, table) / file
        shown = path.relative_to(root).as_posix()
        text = texts[path][0] if path in texts else _text(path, table)
        row = Row(shown, text.count("\n") + 1, full)
        raw.rows[name].append(row)
        raw.faults += text_faults(row)
        texts[path] = (text + ",".join(_quoted(full[c]) for c in table.columns) + "\n", table)
    _, faults = checked(raw)
    if faults:
        raise BadTables(faults)
    return {path: tidied(text.encode(), table) or text.encode() for path, (text, table) in texts.items()}


def _text(path: Path, table: Table) -> str:
    if not path.is_file():
        return ",".join(table.columns) + "\n"
    text = decode(path.read_bytes())
    if isinstance(text, Problem):
        raise BadTables([Fault(text.rule, path.name, text.line, "-", text.value, text.what, text.mend)])
    return text if text.endswith("\n") else text + "\n"


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if any(c in cell for c in ',"\n') else cell
