"""Rules that weigh a type against its siblings: other sources, other suffixes, other heaters."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import combinations, product

from pipeline.build.audit.ground import Ground, Hit, hit, where
from pipeline.build.audit.sections import watts_of
from pipeline.build.normalise import TypedRow
from schemas.columns import EVIDENCE
from schemas.tables import TABLES

_RETMA = re.compile(r"(\d{1,3})([A-HJ-NP-Z]{2,3}\d{1,2})([A-Z/]*)")
SLIP_RATIOS = ((7.0, 14.0), (70.0, 140.0), (700.0, 1400.0))
"""Ratios near a power of ten; between siblings of one kind a true ratio rarely lies there."""
SAME_WITHIN = 0.06
WATTS_RATIO = 1.35
"""Heaters of one tube in two series differ by no more: 6.3 V 0.76 A is 4.8 W, 15 V 0.3 A is 4.5 W."""
_APART = ("grid_circuit_max_ohm", "grid_circuit_fixed_max_ohm", "grid_circuit_leak_max_ohm", "input_capacitor_max_uf",
          "supply_ohm_min")
"""Columns in which makers differ by more, for the same tube."""
_COLUMNS = {name: [c.name for c in map(TABLES[name].column, TABLES[name].values)
                   if c.kind == "number" and c.name not in _APART] for name in ("sections", "rectifiers")}
_SIBLING = ("drop-in", "other base", "other heater")


def ten_times(ground: Ground) -> Iterator[Hit]:
    """A figure ten times another source's, or ten times a sibling's, is a slipped decimal point.

    Siblings are types that take each other's place and types of one function whose names differ only in heater
    number or suffix; names with one letter are left out, for they were given to unrelated tubes (1A5GT, 16A5).
    """
    pairs = set(_pairs(ground))
    for table, columns in _COLUMNS.items():
        rows = ground.sections if table == "sections" else ground.rectifiers
        for of_one_type in rows.values():
            yield from _slips(combinations(of_one_type, 2), columns)
        for one, other in pairs:
            yield from _slips(product(rows.get(one, ()), rows.get(other, ())), columns)


def _pairs(ground: Ground) -> Iterator[tuple[str, str]]:
    for row in ground.typed["substitutes"]:
        if row.values["relation"] in _SIBLING:
            one, other = sorted((str(row.values["type"]), str(row.values["substitute"])))
            yield one, other
    stems: dict[tuple, list[str]] = defaultdict(list)
    for type_ in ground.tubes:
        if match := _RETMA.fullmatch(type_):
            stems[match[2], ground.word(type_, "function")].append(type_)
    for types in stems.values():
        yield from combinations(sorted(types), 2)


def _slips(pairs: Iterable[tuple[TypedRow, TypedRow]], columns: list[str]) -> Iterator[Hit]:
    for a, b in pairs:
        for column in columns if a.values.get("section") == b.values.get("section") else ():
            one, other = a.number(column), b.number(column)
            if one is None or other is None or min(one, other) <= 0:
                continue
            ratio = max(one, other) / min(one, other)
            if any(low <= ratio <= high for low, high in SLIP_RATIOS):
                blamed, witness = sorted((a, b), key=_weakness, reverse=True)
                yield hit(blamed, column, f"{ratio:.3g} times off {witness.values['type']}'s "
                          f"{witness.values[column]:g} at {where(witness)}", "look for a slipped decimal point")


def _weakness(row: TypedRow) -> tuple:
    return EVIDENCE.index(str(row.values["evidence"])), row.file, row.line


def _other_heaters(ground: Ground) -> Iterator[tuple[TypedRow, str, str]]:
    for row in ground.typed["substitutes"]:
        if row.values["relation"] == "other heater":
            yield row, str(row.values["type"]), str(row.values["substitute"])


def other_heater_sections(ground: Ground) -> Iterator[Hit]:
    """The same tube in another heater series has the same function, base, sections and ratings."""
    for row, one, other in _other_heaters(ground):
        for column in ("function", "base"):
            a, b = ground.word(one, column), ground.word(other, column)
            if a and b and a != b:
                yield hit(row, "relation", f"{one} has {column} {a!r}, {other} {b!r}",
                          "mend one of them, or name another relation")
        for table, columns in _COLUMNS.items():
            rows = ground.sections if table == "sections" else ground.rectifiers
            yield from _unlike(rows.get(one, []), rows.get(other, []), columns)


def _unlike(ours: list[TypedRow], theirs: list[TypedRow], columns: list[str]) -> Iterator[Hit]:
    """Columns in which no figure of the one agrees with any figure of the other."""
    for section in {str(r.values.get("section")) for r in ours} & {str(r.values.get("section")) for r in theirs}:
        for column in columns:
            a = _given(ours, section, column)
            b = _given(theirs, section, column)
            if a and b and not any(_alike(x, y) for _, x in a for _, y in b):
                first, figure = a[0]
                yield hit(b[0][0], column, f"{first.values['type']}, the same tube with another heater, has "
                          f"{figure:g} at {where(first)}", "mend one of them, or say why they differ")


def _given(rows: list[TypedRow], section: str, column: str) -> list[tuple[TypedRow, float]]:
    """The rows about the section that give the figure, and the figure."""
    return [(r, figure) for r in rows if str(r.values.get("section")) == section
            and (figure := r.number(column)) is not None]


def _alike(a: float, b: float) -> bool:
    return abs(a - b) <= SAME_WITHIN * max(abs(a), abs(b))


def other_heater_watts(ground: Ground) -> Iterator[Hit]:
    """The same tube in another heater series takes about the same heater watts: the cathode is the same.

    Battery filaments are left out: the low-drain series halved the current of one and the same system.
    """
    for row, one, other in _other_heaters(ground):
        a, b = _heaters(ground, one), _heaters(ground, other)
        if a and b and not any(max(x, y) <= WATTS_RATIO * min(x, y) for x in a for y in b):
            yield hit(row, "relation", f"{one} takes {a[0]:.3g} W of heating, {other} {b[0]:.3g} W",
                      "mend a heater, or name another relation")


def _heaters(ground: Ground, type_: str) -> list[float]:
    return [w for r in ground.tubes.get(type_, ()) if r.values["heating"] == "heater" and (w := watts_of(r))]
