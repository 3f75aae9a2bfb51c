"""Open tables of others: built as they are, under their own licence, and compared with the catalogue.

Nothing of them goes into the CC0 tables; where one differs from the catalogue's choice, a row of
`open_disagreements`, which stands apart too, says so. Pin names in a drawing library are no electrical proof: they
never change what is chosen.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping

import pyarrow as pa

from pipeline.build.normalise import TypedRow, Value
from pipeline.build.pins import joined, pin_map
from pipeline.build.reconcile import SAME_WITHIN, Disagreement, Figure, Reconciled
from pipeline.build.write import to_arrow
from pipeline.notation.names import normal
from schemas.columns import COLUMNS
from schemas.tables import TABLES

_ALIKE = {"h_ct": "h", "f": "h", "f_ct": "h", "tap": "h", "g1": "g", "s": "is"}
"""Electrodes that a drawing does not tell apart: filament and heater, the only grid and the first."""
_SILENT = {"nc", "ic", "is", "shell", "bp"}
"""Electrodes that a drawing may leave out."""
_NOT_DRAWN, _NOT_NAMED = "not drawn", "not named"


def open_tables(typed: dict[str, list[TypedRow]], done: dict[str, Reconciled]) -> dict[str, pa.Table]:
    """The tables that stand apart, each row with the catalogue's type where its symbol is a name of one."""
    types = _types_by_name(done)
    return {name: _arrow(name, typed[name], types) for name, table in TABLES.items() if table.apart}


def _arrow(name: str, rows: list[TypedRow], types: dict[str, str]) -> pa.Table:
    columns = ("symbol", "type", *(c for c in TABLES[name].columns if c != "symbol"))
    kinds: dict[str, type] = {column: float if COLUMNS[column].kind == "number" else str for column in columns}
    shown = [r.values | {"type": types.get(normal(str(r.values["symbol"])))} for r in rows]
    return to_arrow(sorted(shown, key=lambda v: tuple(str(v[k]) for k in TABLES[name].key)), kinds)


def _types_by_name(done: dict[str, Reconciled]) -> dict[str, str]:
    """Every name that stands for exactly one type, tubes before diodes."""
    names = {normal(str(r["type"])): str(r["type"]) for r in done["diodes"].rows}
    same = (r for r in done["designations"].rows if r["nearness"] == "same")
    names |= {normal(str(r["designation"])): str(r["type"]) for r in same}
    return names | {normal(str(r["type"])): str(r["type"]) for r in done["tubes"].rows}


def open_disagreements(typed: dict[str, list[TypedRow]], done: dict[str, Reconciled]) -> list[Disagreement]:
    """Where the open tables differ from the catalogue: pins by electrode and section, diodes by volts and amps."""
    types = _types_by_name(done)
    return [*_pins(typed["open_pins"], types, done), *_diodes(typed["open_diodes"], types, done)]


def _by_type(rows: Iterable[TypedRow], types: dict[str, str]) -> dict[str, list[TypedRow]]:
    """Catalogue type → the rows of the one symbol that stands for it, its own name before others."""
    found: dict[str, dict[str, list[TypedRow]]] = defaultdict(lambda: defaultdict(list))
    for row in rows:
        symbol = str(row.values["symbol"])
        if type_ := types.get(normal(symbol)):
            found[type_][symbol].append(row)
    return {type_: of[min(of, key=lambda s: (s != type_, s))] for type_, of in found.items()}


def _diodes(rows: list[TypedRow], types: dict[str, str], done: dict[str, Reconciled]) -> Iterator[Disagreement]:
    chosen = {(f.type, f.quantity): f for f in done["diodes"].figures if f.chosen}
    for type_, found in sorted(_by_type(rows, types).items()):
        for quantity in ("piv_max_v", "forward_max_a"):
            ours, theirs = chosen.get((type_, quantity)), found[0].values[quantity]
            if ours is None or ours.value is None or theirs is None:
                continue
            if abs(ours.value - float(theirs)) > SAME_WITHIN * max(ours.value, float(theirs)):
                yield _disagreement("diodes", type_, quantity, ours, f"{ours.value:g}", found[0], f"{theirs:g}")


def _pins(rows: list[TypedRow], types: dict[str, str], done: dict[str, Reconciled]) -> Iterator[Disagreement]:
    maps = _chosen_maps(done)
    for type_, found in sorted(_by_type(rows, types).items()):
        if type_ in maps:
            yield from _compare(type_, maps[type_], found)


def _chosen_maps(done: dict[str, Reconciled]) -> dict[str, Figure]:
    """Type → the figure that holds its pin map: its own, else that of its basing code."""
    own = {f.subject: f for f in done["tube_pins"].figures if f.chosen and f.quantity == "pins"}
    codes = {f.subject: f for f in done["basings"].figures if f.chosen and f.quantity == "pins"}
    found = {str(t["type"]): own.get(str(t["type"])) or codes.get(str(t["basing"])) for t in done["tubes"].rows}
    return {type_: figure for type_, figure in found.items() if figure}


def _compare(type_: str, figure: Figure, rows: list[TypedRow]) -> Iterator[Disagreement]:
    ours = {pin.pin: pin.parts for pin in pin_map(figure.text)}
    drawn: dict[str, list[TypedRow]] = defaultdict(list)
    for row in rows:
        drawn[str(row.values["pin"])].append(row)
    for pin in sorted(drawn):
        parts = ours.get(pin, frozenset())
        shown = _shown(parts) or _NOT_NAMED
        theirs = "+".join(dict.fromkeys(str(r.values["electrode"]) for r in drawn[pin]))
        if not _agree(parts, theirs):
            yield _disagreement("pins", f"{type_}/{pin}", "electrode", figure, shown, drawn[pin][0], theirs)
    for pin in sorted(ours.keys() - drawn.keys()):
        if _electrodes(ours[pin]) - _SILENT:
            yield _disagreement("pins", f"{type_}/{pin}", "electrode", figure, _shown(ours[pin]), rows[0], _NOT_DRAWN)
    yield from _strangers(type_, figure, ours, rows)


def _strangers(type_: str, figure: Figure, ours: Mapping[str, frozenset],
               rows: list[TypedRow]) -> Iterator[Disagreement]:
    """Pins that the library draws together and the catalogue counts to different sections."""
    units: dict[str, dict[str, tuple[str, TypedRow]]] = defaultdict(dict)
    for row in rows:
        pin, theirs = str(row.values["pin"]), _electrodes(joined("", str(row.values["electrode"])).parts) - {"k"}
        sections = {_kind_of(s) for s, e in ours.get(pin, ()) if s and _ALIKE.get(e, e) in theirs}
        if len(sections) == 1:
            units[str(row.values["symbol_unit"])][pin] = (sections.pop(), row)
    for unit, members in sorted(units.items()):
        usual = Counter(section for section, _ in members.values()).most_common(1)[0][0]
        for pin, (section, row) in sorted(members.items()):
            if section != usual:
                yield _disagreement("pins", f"{type_}/{pin}", "section", figure, section, row, f"{usual}, part {unit}")


def _kind_of(section: str) -> str:
    """The section, all diodes as one: libraries draw them in one part."""
    return "d" if section.startswith("d") else section


def _agree(parts: frozenset, theirs: str) -> bool:
    """One set of electrodes within the other: a drawing may leave out what is tied inside."""
    a, b = _electrodes(parts), _electrodes(joined("", theirs).parts)
    return bool(a) and (a <= b or b <= a)


def _electrodes(parts: Iterable[tuple[str, str]]) -> set[str]:
    return {_ALIKE.get(electrode, electrode) for _, electrode in parts}


def _shown(parts: Iterable[tuple[str, str]]) -> str:
    return "+".join(sorted(f"{section}_{electrode}" if section else electrode for section, electrode in parts))


def _disagreement(table: str, subject: str, quantity: str, ours: Figure, shown: str, row: TypedRow,
                  theirs: Value) -> Disagreement:
    unit = COLUMNS[quantity].unit if quantity in COLUMNS else None
    return Disagreement(table, subject, quantity, unit, shown, ours.source_id, ours.evidence, str(theirs),
                        str(row.values["source_id"]), str(row.values["evidence"]))
