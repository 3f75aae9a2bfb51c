"""What every rule stands on: the typed rows, looked up by type and by section."""

from collections import defaultdict
from collections.abc import Set
from functools import cached_property
from typing import NamedTuple

from pipeline.build.faults import loses_row
from pipeline.build.normalise import Place, TypedRow
from pipeline.build.pins import Pin, pin_map
from schemas.tables import TABLES

Typed = dict[str, list[TypedRow]]


class Hit(NamedTuple):
    """What a rule found: the row and column to blame, what is wrong, how to mend it, the type it is about."""

    row: TypedRow
    column: str
    what: str
    mend: str
    about: str


def hit(row: TypedRow, column: str, what: str, mend: str, about: object = None) -> Hit:
    """A hit about the row's own type, or about another one."""
    return Hit(row, column, what, mend, str(about if about is not None else row.values.get("type")))


def where(row: TypedRow) -> str:
    """File and line of a row, for the text of a fault at another row."""
    return f"{row.file}:{row.line}"


def lost_tables(bad: Set[Place]) -> set[str]:
    """Tables of which a row may be missing or nameless because of earlier faults; all, if a file belongs to none."""
    folders = {name: "/".join(filter(None, (table.family, name, ""))) for name, table in TABLES.items()}
    lost: set[str] = set()
    for file, line, column in bad:
        of = [name for name, folder in folders.items() if file.startswith(folder)]
        lost |= {name for name in of or TABLES if loses_row(line, column, TABLES[name].key)}
    return lost


class Ground:
    """Typed rows of every table with the look-ups that rules share; `lost` names tables of which rows are missing."""

    def __init__(self, typed: Typed, lost: Set[str] = frozenset()):
        self.typed = typed
        self.lost = lost

    def without(self, lines: Set[tuple[str, int]]) -> "Ground":
        """The same ground less the rows on `lines`."""
        return Ground({name: [r for r in rows if (r.file, r.line) not in lines] for name, rows in self.typed.items()},
                      self.lost)

    @cached_property
    def tubes(self) -> dict[str, list[TypedRow]]:
        """Type → its rows in `tubes`."""
        return self._by("tubes", "type")

    @cached_property
    def heater_options(self) -> dict[str, list[TypedRow]]:
        return self._by("heater_options", "type")

    @cached_property
    def sections(self) -> dict[str, list[TypedRow]]:
        return self._by("sections", "type")

    @cached_property
    def rectifiers(self) -> dict[str, list[TypedRow]]:
        return self._by("rectifiers", "type")

    def _by(self, table: str, column: str) -> dict[str, list[TypedRow]]:
        found: dict[str, list[TypedRow]] = defaultdict(list)
        for row in self.typed[table]:
            found[str(row.values[column])].append(row)
        return dict(found)

    def word(self, type_: str, column: str) -> str | None:
        """The first word that any source gives for `column` of a tube."""
        return next((str(r.values[column]) for r in self.tubes.get(type_, ()) if r.values[column]), None)

    @cached_property
    def largest(self) -> dict[tuple[str, str, str], float]:
        """(type, section, column) → the largest figure any source gives for a section's limit."""
        found: dict[tuple[str, str, str], float] = {}
        columns = ("plate_max_v", "plate_dissipation_max_w", "screen_max_v", "screen_dissipation_max_w",
                   "cathode_max_a")
        for row in self.typed["sections"]:
            for column in columns:
                value = row.values[column]
                if value is not None:
                    key = (str(row.values["type"]), str(row.values["section"]), column)
                    found[key] = max(float(value), found.get(key, 0.0))
        return found

    def largest_of(self, row: TypedRow, column: str) -> float | None:
        """The largest limit any source gives for the section that an operating point is about."""
        return self.largest.get((str(row.values["type"]), str(row.values["section"]), column))

    @cached_property
    def maps(self) -> dict[tuple[str, str], list[tuple[TypedRow, list[Pin]]]]:
        """("basings", code) or ("tube_pins", type) → its rows with their readable pin maps."""
        found: dict[tuple[str, str], list[tuple[TypedRow, list[Pin]]]] = defaultdict(list)
        for table, column in (("basings", "basing"), ("tube_pins", "type")):
            for row in self.typed[table]:
                try:
                    pins = pin_map(row.values["pins"] or "")
                except ValueError:
                    continue
                found[table, str(row.values[column])].append((row, pins))
        return dict(found)
