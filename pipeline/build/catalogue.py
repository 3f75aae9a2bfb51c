"""Raw folder to built tables in memory; all faults in one run."""

from pathlib import Path

import pyarrow as pa

from pipeline.build.audit import audit
from pipeline.build.corrections import apply, targets
from pipeline.build.faults import KEEPS_ROWS, BadTables, Fault
from pipeline.build.gaps import gaps
from pipeline.build.normalise import TypedRow, Value, normalise
from pipeline.build.open_data import open_disagreements, open_tables
from pipeline.build.pins import split_pins
from pipeline.build.questions import questions
from pipeline.build.read import Raw, read_tables
from pipeline.build.reconcile import Reconciled, reconcile
from pipeline.build.write import to_arrow
from pipeline.notation.names import normal
from schemas.built import BUILT, NOT_BUILT
from schemas.tables import TABLES

_OF_TUBES = ("rectifiers/", "tubes/")


def assemble(raw: Path) -> dict[str, pa.Table]:
    """Every built table in memory; raises BadTables."""
    typed, faults = checked(read_tables(raw))
    if faults:
        raise BadTables(faults)
    return _tables(typed)


def checked(raw: Raw) -> tuple[dict[str, list[TypedRow]], list[Fault]]:
    """Typed rows of every table, corrections taken in, and every fault of file, text, type, schema and audit."""
    bad = {(f.file, f.line, f.column) for f in raw.faults if f.rule not in KEEPS_ROWS}
    wrong, found = targets(raw, bad)
    faults = [*raw.faults, *found]
    typed: dict[str, list[TypedRow]] = {}
    for name, table in TABLES.items():
        typed[name], found = normalise(raw.rows[name], table, bad | {t.place for t in wrong})
        faults += found
    bad |= {(f.file, f.line, f.column) for f in faults if f.rule not in KEEPS_ROWS}
    apply(wrong, typed)
    return typed, faults + audit(typed, bad)


def _tables(typed: dict[str, list[TypedRow]]) -> dict[str, pa.Table]:
    """Every built table, in the order of `schemas.built.BUILT`."""
    sources = {str(r.values["source_id"]): r.values for r in typed["sources"]}
    done = {name: reconcile(typed[name], t, sources) for name, t in TABLES.items()
            if t.observed and not t.apart}
    rows = {name: result.rows for name, result in done.items() if name not in NOT_BUILT} | {
        "sources": sorted(sources.values(), key=lambda v: str(v["source_id"])),
        "designations": [r | {"normal": normal(str(r["designation"]))} for r in done["designations"].rows],
        "pins": _pins(done),
        "figures": _grouped([f._asdict() for r in done.values() for f in r.figures]),
        "disagreements": [d._asdict() for r in done.values() for d in r.disagreements],
        "gaps": [g._asdict() for g in gaps({n: r for n, r in done.items() if n not in NOT_BUILT}, typed)],
        "questions": [q._asdict() for q in questions(done)],
        "corrections": [r.values for r in typed["corrections"]],
        "open_disagreements": [d._asdict() for d in open_disagreements(typed, done)],
    }
    open_ = open_tables(typed, done)
    return {name: open_[name] if name in open_ else to_arrow(rows[name], built.types) for name, built in BUILT.items()}


def _grouped(figures: list[dict]) -> list[dict]:
    """Figures of parts, mains and bench first, then those of each tube type together, else in their order.

    A reader finds what it asks for in few row groups, however many there are: see `Catalogue`.
    """
    def place(figure: dict) -> tuple[bool, str]:
        of_tube = figure["raw_file"].startswith(_OF_TUBES)
        return of_tube, figure["type"] if of_tube else ""

    return sorted(figures, key=place)


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
