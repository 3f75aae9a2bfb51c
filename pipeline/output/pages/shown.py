"""Figures laid out for the page: lines of a block or rows of a grid, each run followed by where it was read."""

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import NamedTuple

from pipeline.output.pages.known import Known, Row
from pipeline.output.pages.wording import amount, limited


class Origin(NamedTuple):
    """Where figures were read: grade, document with its id, page, raw file with its lines, note."""

    grade: str
    source_id: str
    document: str
    locator: str
    place: str
    note: str


class Line(NamedTuple):
    """One figure: its name in words, its value with its bound, its grade."""

    label: str
    value: str
    grade: str


class Run(NamedTuple):
    """Figures that were read at one place."""

    lines: list[Line]
    origin: Origin


class Block(NamedTuple):
    """A table of figures, one a line, under a caption."""

    caption: str
    runs: list[Run]
    columns: tuple[str, ...] = ()


class GridRun(NamedTuple):
    """Rows of a grid that were read at one place, or at the several places named."""

    rows: list[list[str]]
    origins: list[Origin]


class Grid(NamedTuple):
    """A table with several figures a row, under a caption."""

    caption: str
    heads: list[str]
    runs: list[GridRun]

    @property
    def rows(self) -> int:
        return sum(len(run.rows) for run in self.runs)


def origin(known: Known, rows: Sequence[Row]) -> Origin:
    """Where these rows, alike but for their line, were read."""
    first = rows[0]
    lines = sorted({row["raw_line"] for row in rows})
    unbroken = 1 < len(lines) == lines[-1] - lines[0] + 1
    span = f"{lines[0]} to {lines[-1]}" if unbroken else ", ".join(map(str, lines))
    return Origin(first["evidence"], first["source_id"], known.document(first["source_id"]), first["locator"] or "",
                  f"{first['raw_file']}:{span}", first["note"] or "")


def _place(row: Row) -> tuple:
    return row["evidence"], row["source_id"], row["locator"], row["raw_file"], row["note"]


def runs(known: Known, rows: Iterable[Row], named: bool = False) -> list[Run]:
    """Figures in runs of one origin; `named` puts the section before each figure's name."""
    placed: dict[tuple, list[Row]] = {}
    for row in sorted(rows, key=lambda r: known.order.get(r["quantity"], 99)):
        placed.setdefault((*_place(row), row["raw_line"]), []).append(row)
    return [Run([_line(known, row, named) for row in group], origin(known, group)) for group in placed.values()]


def _line(known: Known, row: Row, named: bool) -> Line:
    label = known.label(row["table"], row["quantity"])
    part = part_of(row)
    return Line(f"{label} ({part.replace('/', ', ')})" if named and part else label,
                limited(row["quantity"], row["value"], row["unit"], row["table"]), row["evidence"])


def part_of(row: Row) -> str:
    """What stands behind the type in a figure's subject: `each`, `capacitor/450`."""
    return row["subject"][len(row["type"]) + 1:]


def grid(known: Known, table: str, rows: Iterable[Row], caption: str, hidden: Sequence[str] = ()) -> Grid | None:
    """Rows of figures as a grid, one row a subject; columns without any value are left out."""
    key = [column for column in known.of_tubes[table] if column not in hidden]
    subjects: dict[str, dict[str, Row]] = {}
    for row in rows:
        subjects.setdefault(row["subject"], {})[row["quantity"]] = row
    if not subjects:
        return None
    found = [(_keys(known, table, figures), figures) for figures in subjects.values()]
    columns = [c for c in known.columns(table) if any(c in figures for _, figures in found)]
    heads = [c for c in known.columns(table) if c in columns or (c in key and any(keys.get(c) for keys, _ in found))]
    cells = [[figures[c] if c in figures else keys.get(c, "") for c in heads] for keys, figures in found]
    shown = [([_cell(known, table, c, cell) for c, cell in zip(heads, row, strict=True)], list(figures.values()))
             for row, (_, figures) in zip(cells, found, strict=True)]
    return Grid(caption, [known.label(table, c) for c in heads], _grid_runs(known, shown))


def _keys(known: Known, table: str, figures: dict[str, Row]) -> dict[str, str]:
    """Key column → its cell, read back from the subject."""
    names = known.of_tubes[table]
    part = part_of(next(iter(figures.values()))).partition("#")[0]  # what tells points apart is no part of the key
    return dict(zip(names, part.split("/", len(names) - 1), strict=False)) if names else {}


def _cell(known: Known, table: str, column: str, cell: Row | str) -> str:
    if isinstance(cell, dict):
        return amount(column, cell["value"], cell["unit"])
    unit = known.unit(table, column)
    try:
        return amount(column, float(cell), unit) if unit and cell else cell
    except ValueError:
        return cell


def _grid_runs(known: Known, shown: list[tuple[list[str], list[Row]]]) -> list[GridRun]:
    """The rows, those of one document together, in the order in which the documents first come."""
    found = []
    keyed = [(sorted({tuple(map(str, _place(r))) for r in figures}), (cells, figures)) for cells, figures in shown]
    firsts: dict[str, int] = {}
    for place, _ in keyed:
        firsts.setdefault(str(place), len(firsts))
    keyed.sort(key=lambda pair: firsts[str(pair[0])])
    for _, group in groupby(keyed, key=lambda pair: pair[0]):
        rows = [row for _, row in group]
        figures = [figure for _, many in rows for figure in many]
        places: dict[tuple, list[Row]] = {}
        for figure in figures:
            places.setdefault(_place(figure), []).append(figure)
        found.append(GridRun([cells for cells, _ in rows], [origin(known, many) for many in places.values()]))
    return found
