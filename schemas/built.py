"""Every built table: its columns, its key, what its names point to, and under which licence it stands."""

from dataclasses import dataclass, replace

from schemas.columns import COLUMNS, Column
from schemas.tables import CC0, LINKS, OPTIONAL_KEYS, SHARE_ALIKE, TABLES, Link, Table
from schemas.words import GAPS

DATA_VERSION, DATA_CREATED = "1.0.0", "2026-11-28"
"""Version of the tables (corrected value = patch, new rows = minor, column added, removed or redefined = major), and
the day on which it was raised to that."""

NOT_BUILT = ("basings", "tube_pins")
"""Raw tables that are built together into `pins`."""


@dataclass(frozen=True)
class Built:
    """One built table; `key` tells its rows apart, `exact` says that no cell of the key may be empty."""

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    links: tuple[Link, ...] = ()
    required: tuple[str, ...] = ()
    licence: str = CC0

    @property
    def exact(self) -> bool:
        return not OPTIONAL_KEYS.intersection(self.key)

    @property
    def types(self) -> dict[str, type]:
        """Column → Python type of its cells."""
        return {c.name: _TYPES[c.kind] for c in self.columns}


_TYPES = {"text": str, "number": float, "integer": int, "boolean": bool}
_TUBE = Link("type", "tubes", "type")
_SOURCE = Link("source_id", "sources", "source_id")
_LINKS = LINKS | {
    "pins": (_TUBE,), "open_pins": (_TUBE, _SOURCE), "open_diodes": (Link("type", "diodes", "type"), _SOURCE)}
_POINT = Column("point", "number of the point among those that share the rest of the key, the usual first",
                "integer")
_ANY_TYPE = replace(COLUMNS["type"], meaning="catalogue name of the type, or the first cell of the key")
_OWN_TYPE = replace(COLUMNS["type"], meaning="the catalogue's type of that name, where there is one")


def _columns(*names: str | Column) -> tuple[Column, ...]:
    return tuple(COLUMNS[n] if isinstance(n, str) else n for n in names)


def _wide(table: Table) -> Built:
    """One row a subject: the key, the chosen values, and the weakest grade they rest on."""
    more = (Column("normal", "the name in capitals, without blanks and marks"),) if table.name == "designations" else ()
    point = (_POINT,) if table.givens else ()
    must = tuple(n for n in table.key if n not in OPTIONAL_KEYS)
    key = (*table.key, *(c.name for c in point))
    own, values = ([table.column(name) for name in names] for names in (table.key, table.values))
    return Built(table.name, table.meaning, _columns(*own, *point, *values, "evidence", *more), key,
                 _LINKS.get(table.name, ()), (*must, "evidence"), table.licence)


def _apart(table: Table) -> Built:
    columns = (table.column("symbol"), _OWN_TYPE, *(c for c in table.described if c.name != "symbol"))
    return Built(table.name, table.meaning, _columns(*columns), table.key, _LINKS[table.name], table.required,
                 table.licence)


_FIGURES = Built(
    "figures", "every observation of every quantity, the ground of the other tables; `chosen` marks the best",
    _columns(Column("id", "name of the observation: it follows from subject, quantity, source, locator and grade"),
             "table", "subject", _ANY_TYPE, Column("quantity", "column of that table"),
             Column("value", "the observation, where it is a number", "number"),
             Column("text", "the observation, where it is a word"), Column("unit", "unit of the value"),
             "source_id", "locator", "evidence", "note", Column("raw_file", "raw file the observation stands in"),
             Column("raw_line", "line in that file", "integer"),
             Column("chosen", "whether the wide table takes its value from here", "boolean")),
    ("id",), (_SOURCE,),
    ("id", "table", "subject", "quantity", "source_id", "evidence", "raw_file", "raw_line", "chosen"))
_DIFFERING = Built(
    "disagreements", "figures that differ from the chosen one",
    _columns("table", "subject", Column("quantity", "column of that table"), Column("unit", "unit of both values"),
             Column("chosen_value", "the figure taken"), Column("chosen_source", "source of the chosen figure"),
             Column("chosen_evidence", "grade of the chosen figure"), Column("other_value", "the figure that differs"),
             Column("other_source", "source of the other figure"),
             Column("other_evidence", "grade of the other figure")),
    ("table", "subject", "quantity", "other_value", "other_source"),
    (Link("chosen_source", "sources", "source_id"), Link("other_source", "sources", "source_id")),
    ("table", "subject", "quantity", "chosen_value", "other_value"))
_OPEN_DIFFERING = replace(_DIFFERING, name="open_disagreements", licence=SHARE_ALIKE,
                          meaning="what the open tables say otherwise than the figure chosen")
_GAPS = Built(
    "gaps", "why a cell of the other tables is empty",
    _columns("table", "subject", Column("quantity", "column of that table that is empty there"),
             Column("means", "`not known`: no document was read for it; `not stated`: the documents read for this row "
                    "leave it out; `does not apply`: such a thing has none", choices=GAPS)),
    ("table", "subject", "quantity"), (), ("table", "subject", "quantity", "means"))
_QUESTIONS = Built(
    "questions", "chosen figures that cannot all be right, and that no rule can settle: each may stand in its document",
    _columns(Column("rule", "what asks, as in the guide"), "table", "subject",
             Column("quantity", "column of that table"), Column("value", "the figure asked about", "number"),
             Column("expected", "what another figure makes of it", "number"), Column("what", "what does not fit")),
    ("rule", "table", "subject", "quantity", "expected"), (),
    ("rule", "table", "subject", "quantity", "value", "expected", "what"))
_PINS = Built(
    "pins", "what each pin of each type is joined to",
    _columns("type", "pin", Column("section", "section of the tube, where it has several"), "electrode", "evidence"),
    ("type", "pin"), _LINKS["pins"], ("type", "pin", "electrode", "evidence"))
_CORRECTIONS = Built(
    "corrections", TABLES["corrections"].meaning, TABLES["corrections"].described, TABLES["corrections"].key,
    (_SOURCE, Link("printed_in", "sources", "source_id")), TABLES["corrections"].required)
_SOURCES = Built("sources", TABLES["sources"].meaning, TABLES["sources"].described, ("source_id",),
                 required=("source_id", "title"))
_RELEASES = Built("releases", TABLES["releases"].meaning, TABLES["releases"].described, TABLES["releases"].key,
                  required=TABLES["releases"].required)
_OBSERVED = [t for t in TABLES.values() if t.observed and t.name not in NOT_BUILT]

BUILT: dict[str, Built] = {built.name: built for built in (
    _SOURCES, *(_wide(t) for t in _OBSERVED if not t.apart), _PINS, _FIGURES, _DIFFERING, _GAPS,
    _QUESTIONS, _CORRECTIONS, _RELEASES, *(_apart(t) for t in _OBSERVED if t.apart), _OPEN_DIFFERING)}
"""Built table → description, in the order of the data package."""
