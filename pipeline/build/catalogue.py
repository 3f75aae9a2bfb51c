"""Raw folder to built tables in memory; all faults in one run."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.build.audit import audit
from pipeline.build.corrections import apply, targets
from pipeline.build.faults import KEEPS_ROWS, BadTables, Fault
from pipeline.build.gaps import gaps, screenless_of
from pipeline.build.normalise import TypedRow, Value, normalise
from pipeline.build.open_data import open_disagreements, open_tables
from pipeline.build.pins import split_pins
from pipeline.build.questions import questions
from pipeline.build.read import Raw, read_tables
from pipeline.build.reconcile import Disagreement, Reconciled, reconcile
from pipeline.build.record import Record
from pipeline.build.write import coded, to_arrow
from pipeline.notation.names import normal
from schemas.built import BUILT, NOT_BUILT
from schemas.tables import TABLES

_OF_TUBES = ("rectifiers/", "tubes/")
_AT_ONCE = 50_000


def assemble(raw: Path) -> dict[str, pa.Table]:
    """Every built table in memory; raises BadTables.

    Columns of figures and gaps come as dictionaries of their values: there are many rows of them and few values.
    """
    pa.set_memory_pool(pa.system_memory_pool())  # which gives back what is let go
    typed, faults = checked(read_tables(raw))
    if faults:
        raise BadTables(faults)
    return _tables(typed)


def checked(raw: Raw) -> tuple[dict[str, list[TypedRow]], list[Fault]]:
    """Typed rows of every table, corrections taken in, and every fault of file, text, type, schema and audit.

    The raw rows are let go as they are typed.
    """
    bad = {(f.file, f.line, f.column) for f in raw.faults if f.rule not in KEEPS_ROWS}
    wrong, found = targets(raw, bad)
    faults = [*raw.faults, *found]
    typed: dict[str, list[TypedRow]] = {}
    for name, table in TABLES.items():
        typed[name], found = normalise(raw.rows.pop(name), table, bad | {t.place for t in wrong})
        faults += found
    bad |= {(f.file, f.line, f.column) for f in faults if f.rule not in KEEPS_ROWS}
    apply(wrong, typed)
    return typed, faults + audit(typed, bad)


def _tables(typed: dict[str, list[TypedRow]]) -> dict[str, pa.Table]:
    """Every built table, in the order of `schemas.built.BUILT`; typed rows are let go as they are reconciled."""
    sources = {str(r.values["source_id"]): r.values for r in typed["sources"]}
    done: dict[str, Reconciled] = {}
    made: dict[str, pa.Table] = {}
    many: dict[str, list[pa.Table]] = {name: [coded([], BUILT[name].types)] for name in ("figures", "gaps")}
    differing: list[Disagreement] = []
    for name, table in TABLES.items():
        if table.observed and not table.apart:
            rows: list[Record[Value]] = []
            done[name] = Reconciled(rows, [], [])
            for part in reconcile(typed[name], table, sources):
                many["figures"].append(coded(part.figures, BUILT["figures"].types))
                differing += part.disagreements
                rows += part.rows
                done[name].figures.extend(part.figures if name in _KEEP_FIGURES else ())
            if name not in NOT_BUILT:
                empty = gaps(name, rows, typed[name], screenless_of(done))
                while some := list(islice(empty, _AT_ONCE)):
                    many["gaps"].append(coded(some, BUILT["gaps"].types))
                made[name] = to_arrow(list(_as_built(name, rows)), BUILT[name].types)
            del typed[name]
    others: dict[str, list[Any]] = {
        "sources": sorted(sources.values(), key=lambda v: str(v["source_id"])), "pins": _pins(done),
        "questions": [q._asdict() for q in questions(done)],
        "disagreements": [d._asdict() for d in differing], "corrections": [r.values for r in typed["corrections"]],
        "releases": [r.values for r in typed["releases"]],
        "open_disagreements": [d._asdict() for d in open_disagreements(typed, done)]}
    made |= open_tables(typed, done)
    typed.clear()
    done.clear()
    made |= {"figures": _grouped(many.pop("figures")), "gaps": pa.concat_tables(many.pop("gaps")).unify_dictionaries()}
    return {name: made[name] if name in made else to_arrow(others[name], built.types)
            for name, built in BUILT.items()}


_KEEP_FIGURES = ("diodes", "basings", "tube_pins")
"""Tables of which what comes later needs the figures too, not only the rows."""


def _as_built(name: str, rows: Iterable[Record[Value]]) -> Iterable[Mapping[str, Value]]:
    """Wide rows with what is worked out beside them."""
    if name == "designations":
        return ({**r, "normal": normal(str(r["designation"]))} for r in rows)
    return rows


def _grouped(figures: list[pa.Table]) -> pa.Table:
    """Figures of parts, mains and bench first, then those of each tube type together, else in their order.

    A reader finds what it asks for in few row groups, however many there are: see `Catalogue`. The columns are put in
    order one after the other, each let go before the next, in pieces that fit where the old ones were.
    """
    of_tubes = [part for part in figures if part.num_rows and part["raw_file"][0].as_py().startswith(_OF_TUBES)]
    others = pa.concat_tables([part for part in figures if not any(part is tube for tube in of_tubes)])
    figures.clear()
    if not of_tubes:
        return others.unify_dictionaries()
    tubes = pa.concat_tables(of_tubes)
    of_tubes.clear()
    order = pc.sort_indices(tubes["type"].cast(pa.string()))  # those of one type stay in their order
    columns = []
    for name in others.column_names:
        column = pa.chunked_array([*others[name].chunks, *tubes[name].chunks]).unify_dictionaries()
        tubes = tubes.drop_columns([name])
        columns.append(pa.chunked_array([*column.slice(0, others.num_rows).chunks,
                                         *_taken(column.slice(others.num_rows), order)]))
    return pa.Table.from_arrays(columns, names=others.column_names)


def _taken(column: pa.ChunkedArray, order: pa.Array) -> Iterator[pa.Array]:
    """The cells of a column in that order, some at a time; words keep the dictionary that they have in common."""
    whole = column.combine_chunks()
    coded = pa.types.is_dictionary(whole.type)
    for start in range(0, len(order), _AT_ONCE):
        some = (whole.indices if coded else whole).take(order.slice(start, _AT_ONCE))
        yield pa.DictionaryArray.from_arrays(some, whole.dictionary) if coded else some


def _pins(done: dict[str, Reconciled]) -> list[dict[str, Value]]:
    """One row for each pin of each tube, from its own map or that of its basing code."""
    maps = {str(r["basing"]): r for r in done["basings"].rows}
    own = {str(r["type"]): r for r in done["tube_pins"].rows}
    rows: list[dict[str, Value]] = []
    for tube in done["tubes"].rows:
        found = own.get(str(tube["type"])) or maps.get(str(tube["basing"]))
        if found:
            rows += [{"type": tube["type"], **pin, "evidence": found["evidence"]} for pin in split_pins(found["pins"])]
    return rows
