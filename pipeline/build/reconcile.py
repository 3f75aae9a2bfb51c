"""Observations to figures, the best figure for each cell, and what disagrees with it."""

import base64
import hashlib
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from pipeline.build.limits import Chosen, choose_limits
from pipeline.build.normalise import TypedRow, Value
from pipeline.build.points import numbered, points
from pipeline.build.record import Record
from schemas.columns import COLUMNS, EVIDENCE
from schemas.tables import Table
from schemas.words import SOURCE_KINDS

_GRADE = {grade: rank for rank, grade in enumerate(EVIDENCE)}
_KIND = {kind: rank for rank, kind in enumerate(SOURCE_KINDS)}
_AT_ONCE = 5_000
SAME_WITHIN = 0.001
"""Relative difference below which two figures count as one (rounding of units)."""


class Figure(NamedTuple):
    """One observation of one quantity of one subject; exactly one of `value` and `text` is set.

    `id` follows from what was read where, and so stays the same wherever the row stands in its file.
    """

    id: str
    table: str
    subject: str
    type: str
    quantity: str
    value: float | None
    text: str | None
    unit: str | None
    source_id: str
    locator: str | None
    evidence: str
    note: str | None
    raw_file: str
    raw_line: int
    chosen: bool


class Disagreement(NamedTuple):
    """A chosen figure and one that differs from it."""

    table: str
    subject: str
    quantity: str
    unit: str | None
    chosen_value: str
    chosen_source: str
    chosen_evidence: str
    other_value: str
    other_source: str
    other_evidence: str


class Reconciled(NamedTuple):
    """A table's wide rows (key, values, weakest evidence), its figures and its disagreements."""

    rows: list[Record[Value]]
    figures: list[Figure]
    disagreements: list[Disagreement]


def subject_of(row: TypedRow, table: Table) -> str:
    """The row's subject: its key cells, `/` between them (numbers without a trailing .0)."""
    return "/".join(_shown(row.values[name]) for name in table.key)


def reconcile(rows: list[TypedRow], table: Table, sources: Mapping[str, Mapping[str, Value]]) -> Iterator[Reconciled]:
    """Group the rows of `table` by subject and choose each cell's best figure by grade, source kind and year.

    Limits are chosen as a set, see `pipeline.build.limits`. The result comes in parts, some subjects each, so that what
    becomes of a part need not wait in memory for the others.
    """
    groups: dict[str, list[TypedRow]] = defaultdict(list)
    for row in sorted(rows, key=lambda r: _rank(r, sources)):
        groups[subject_of(row, table)].append(row)
    result = Reconciled([], [], [])
    for place, subject in enumerate(sorted(groups), 1):
        for number, point in enumerate(points(groups[subject], table), 1):
            wide = _reconcile_subject(numbered(subject, number), point, table, result)
            result.rows.append(Record(wide | {"point": number} if table.givens else wide))
        if place % _AT_ONCE == 0:
            yield result
            result = Reconciled([], [], [])
    yield result


def _reconcile_subject(subject: str, rows: list[TypedRow], table: Table, result: Reconciled) -> dict[str, Value]:
    """The wide row of one subject; its figures and disagreements go to `result`."""
    limits = choose_limits(rows, table)
    chosen = {name: row for name, row in _choose(rows, table).items() if name not in table.limits} | limits.cells
    if limits.cells and "rating_system" not in limits.cells:
        chosen.pop("rating_system", None)  # what another document says of its own set is not said of this one
    wide: dict[str, Value] = {name: rows[0].values[name] for name in table.key}
    for name in table.values:
        wide[name] = chosen[name].values[name] if name in chosen else None
    wide["evidence"] = max((str(r.values["evidence"]) for r in chosen.values() or rows[:1]), key=_GRADE.__getitem__)
    for row in rows:
        for name in _said(row, table):
            figure = _figure(subject, name, row, table, _is_chosen(name, row, chosen, table))
            result.figures.append(figure._replace(note=_filling(figure, limits)) if name in limits.filled else figure)
    for name, best in chosen.items():
        result.disagreements.extend(_differing(subject, name, best, rows, table))
    return wide


def _is_chosen(name: str, row: TypedRow, chosen: dict[str, TypedRow], table: Table) -> bool:
    """Whether the wide table takes the cell from this row; the key's own cell of a row with nothing else counts."""
    return chosen.get(name) is row if name in table.values else True


def _filling(figure: Figure, limits: Chosen) -> str | None:
    """The note of a figure that fills a gap of a set of limits."""
    if not figure.chosen:
        return figure.note
    system = limits.cells.get("rating_system")
    words = f"same rating system, {system.values['rating_system']}" if system else "rating system not stated"
    return "; ".join(filter(None, (figure.note, f"fills a gap of another document's set, {words}")))


def _said(row: TypedRow, table: Table) -> list[str]:
    """Columns that hold what the row says; of a row with nothing but its key, the last cell of that."""
    said = [name for name in table.values if row.values[name] is not None]
    return said or [name for name in table.key if row.values[name] is not None][-1:]


def _choose(rows: list[TypedRow], table: Table) -> dict[str, TypedRow]:
    """Column → the row its cell is taken from; `rows` come strongest first."""
    chosen: dict[str, TypedRow] = {}
    grouped = {name: group for group in table.together for name in group}
    for name in table.values:
        if name not in chosen:
            chosen |= _choose_group(rows, grouped.get(name, (name,)))
    return chosen


def _choose_group(rows: list[TypedRow], group: tuple[str, ...]) -> dict[str, TypedRow]:
    """The strongest row of the group, its gaps filled only from rows that agree with it; the fullest such set."""
    best: dict[str, TypedRow] = {}
    for base in rows:
        members = {name: base for name in group if base.values[name] is not None}
        for row in rows:
            if members and all(_same(row.values[n], r.values[n]) for n, r in members.items()):
                members |= {n: row for n in group if n not in members and row.values[n] is not None}
        if len(members) > len(best):
            best = members
    return best


def _rank(row: TypedRow, sources: Mapping[str, Mapping[str, Value]]) -> tuple:
    source = sources.get(str(row.values["source_id"]), {})
    year = str(source.get("year") or "")
    newest_first = -int(year) if year.isdigit() else 0
    return (_GRADE.get(str(row.values["evidence"]), 9), _KIND.get(str(source.get("kind")), 9), newest_first,
            row.file, row.line)


def _figure(subject: str, name: str, row: TypedRow, table: Table, chosen: bool) -> Figure:
    value = row.values[name]
    number = value if isinstance(value, int | float) else None
    where = (str(row.values["source_id"]), row.text("locator"), str(row.values["evidence"]))
    return Figure(
        figure_id(table.name, subject_of(row, table), name, *where, *(_shown(row.values[n]) for n in table.givens)),
        table.name, subject, _shown(row.values[table.key[0]]), name, number,
        None if number is not None else str(value), COLUMNS[name].unit, *where, row.text("note"), row.file,
        row.line, chosen)


def figure_id(*read: str | None) -> str:
    """A name for table, subject, quantity, source, page, grade and givens: 60 bits of their SHA-256 in letters."""
    digest = hashlib.sha256("\t".join(word or "" for word in read).encode()).digest()
    return base64.b32encode(digest[:10])[:12].decode().lower()


def _differing(subject: str, name: str, best: TypedRow, rows: list[TypedRow], table: Table) -> list[Disagreement]:
    value = best.values[name]
    seen, found = set(), []
    for row in rows:
        other = row.values[name]
        key = (_shown(other), row.values["source_id"])
        if other is None or key in seen or _same(value, other):
            continue
        seen.add(key)
        found.append(Disagreement(
            table.name, subject, name, COLUMNS[name].unit, _shown(value), str(best.values["source_id"]),
            str(best.values["evidence"]), _shown(other), str(row.values["source_id"]), str(row.values["evidence"])))
    return found


def _same(a: Value, b: Value) -> bool:
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) <= SAME_WITHIN * max(abs(a), abs(b))
    return a == b


def _shown(value: Value) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
