"""The built catalogue, read through DuckDB: names, and every chosen figure with its evidence."""

from collections import defaultdict
from collections.abc import Callable, Collection, Hashable, Iterable, Iterator
from contextlib import suppress
from functools import cached_property, lru_cache
from operator import itemgetter
from pathlib import Path
from threading import Thread
from time import sleep
from typing import Any, NamedTuple, TypeVar

import duckdb

from pipeline.notation.names import Entry, Index, normal
from pipeline.sums import Damaged, Sums

T = TypeVar("T")
EVIDENCE = ("measured", "published", "quoted", "practice", "recalled")
"""Grades from strong to weak."""


SMALL = ("allowances", "capacitor_roles", "care", "old_parts", "regions")
"""Tables read whole, because every check needs them."""


class CatalogueError(Exception):
    """The catalogue cannot be read; the message says how to mend it."""


class Figure(NamedTuple):
    """A figure as checks use it: its value (number or word), grade and source."""

    subject: str
    quantity: str
    value: Any
    unit: str | None
    evidence: str
    source_id: str
    locator: str | None = None
    note: str | None = None


class PointName(NamedTuple):
    """What tells an operating point from the others: its key, and its number among those that share it."""

    type: str
    section: str
    service: str
    plate_v: float | None
    number: int


@lru_cache(maxsize=4096)
def point_name(subject: str) -> PointName:
    """The parts of the subject of an operating point, `6BQ5/whole/class A1/250#2`; plate volts may be missing."""
    key, _, number = subject.partition("#")
    type_, section, service, plate = key.rsplit("/", 3)
    return PointName(type_, section, service, float(plate) if plate else None, int(number or 1))


class Ratings:
    """Everything the catalogue has chosen about one type, table by table."""

    def __init__(self, type_: str):
        self.type = type_
        self.tables: dict[str, dict[str, dict[str, Figure]]] = defaultdict(lambda: defaultdict(dict))
        self._once: dict[Any, Any] = {}

    def add(self, table: str, figure: Figure) -> None:
        self.tables[table][figure.subject][figure.quantity] = figure
        self._once.clear()

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives from these figures alone, made the first time `key` is asked for: every unit asks again."""
        if key not in self._once:
            self._once[key] = make()
        return self._once[key]

    def with_figure(self, table: str, figure: Figure) -> "Ratings":
        """A copy in which `figure` stands in the place of the one it replaces; the ratings themselves stay."""
        changed = Ratings(self.type)
        for name, rows in self.tables.items():
            for subject, row in rows.items():
                changed.tables[name][subject] = dict(row)
        changed.add(table, figure)
        return changed

    def figure(self, table: str, quantity: str) -> Figure | None:
        """The figure of a table with one row a type (tubes, rectifiers, diodes, lamps), or None."""
        return self.tables[table][self.type].get(quantity) if self.type in self.tables.get(table, ()) else None

    def rows(self, table: str) -> dict[str, dict[str, Figure]]:
        """Subject → its figures, for tables with several rows a type."""
        return dict(self.tables.get(table, {}))


class Recalled(NamedTuple):
    """A chosen figure that rests on memory and may be confirmed with its document in hand."""

    table: str
    subject: str
    quantity: str
    value: str
    unit: str | None
    source_id: str

    @property
    def name(self) -> str:
        """How the figure is named on the command line: quantity, with the section where there are several."""
        part = self.subject.partition("/")[2]
        return f"{part}:{self.quantity}" if part else self.quantity


def default_folder() -> Path:
    """The catalogue of this code's checkout, else the one installed with it.

    Never that of the folder a person stands in: what is there may be anyone's, and is read where it is named.
    """
    code = Path(__file__).resolve().parent
    for folder in (code.parent / "data_built", code / "data_built"):
        if _is_built(standing(folder)):
            return folder
    raise CatalogueError("no built catalogue found: run `tubewright build` in a checkout, or give --catalogue DIR")


def _is_built(folder: Path) -> bool:
    return (folder / "datapackage.json").is_file()


def standing(folder: Path) -> Path:
    """The catalogue's folder, or the name under which a build that was killed while it swapped left the old one."""
    old = folder.with_name(f".{folder.name}-old") if folder.name else folder
    return old if not _is_built(folder) and _is_built(old) else folder


_SETTINGS: dict[str, str | bool | int | float | list[str]] = {
    "threads": 1, "autoinstall_known_extensions": False, "autoload_known_extensions": False}
"""One thread is enough for tables of this size, and nothing is fetched: both make opening faster."""


_NAMES = """
select 'designations', type, system, designation, nearness, normal from {designations}
union all select 'tubes', type, '', type, function, null from {tubes}
union all select 'lamps', type, null, null, null, null from {lamps}
union all select 'diodes', type, null, null, null, null from {diodes}
"""
"""Every name that a marking may bear, in one query: to open a table costs more than to read its names."""


class _Tables(dict):
    """Table name → the SQL that reads it, for `str.format_map`."""

    def __init__(self, path: Callable[[str], str]):
        self._path = path

    def __missing__(self, table: str) -> str:
        return "read_parquet('{}')".format(self._path(table).replace("'", "''"))


class _Opening(Thread):
    """DuckDB starting in a thread of its own: it takes as long as the imports a command has still to do."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self._opened: list[duckdb.DuckDBPyConnection] = []
        self.start()

    def run(self) -> None:
        with suppress(duckdb.Error):  # whoever asks for it tries again, and is told
            self._opened.append(duckdb.connect(config=_SETTINGS))

    def connection(self) -> duckdb.DuckDBPyConnection:
        """The connection, once it is there; raises duckdb.Error where it cannot be."""
        self.join()
        return self._opened[0] if self._opened else duckdb.connect(config=_SETTINGS)


class Catalogue:
    """A built catalogue in `folder`; raises CatalogueError where there is none."""

    def __init__(self, folder: Path | str | None = None):
        self._home = Path(folder) if folder else default_folder()
        self.folder = standing(self._home)
        if not _is_built(self.folder):
            raise CatalogueError(f"{self.folder}: no built catalogue (datapackage.json is missing): "
                                 "run `tubewright build --out` with this folder")
        self._opening = _Opening()
        self._sums = Sums(self.folder)
        self._sound: set[str] = set()
        self._ensure(Sums.whole)
        self._chosen: dict[str, dict[str, dict[str, Figure]]] = {}
        self._rated: dict[str, Ratings | None] = {}

    @cached_property
    def _db(self) -> duckdb.DuckDBPyConnection:
        return self._opening.connection()

    def _ensure(self, test: Callable[[Sums], Any]) -> Any:
        """What the test of the catalogue's checksums gives; raises CatalogueError where it keeps failing.

        A build may just be putting another catalogue in this one's place: it is looked at more than once.
        """
        for wait_s in (0.0, 0.002, 0.02, 0.1):
            try:
                return test(self._sums)
            except Damaged as damage:
                told = CatalogueError(f"{damage.filename}: {damage.strerror}")
                sleep(wait_s)
                self.folder = standing(self._home)
                self._sums, self._sound = Sums(self.folder), set()
        raise told

    def path(self, table: str) -> str:
        """The file of a table, held against its checksum before it is first read; raises CatalogueError."""
        if table not in self._sound:
            self._ensure(lambda sums: sums.read(f"{table}.parquet"))
            self._sound.add(table)
        return (self.folder / f"{table}.parquet").as_posix()

    def query(self, sql: str, values: Collection[Any] = ()) -> list[tuple]:
        """Rows of a query in which `{name}` stands for the built table of that name; raises CatalogueError."""
        return self._run(sql, values)[1]

    def _run(self, sql: str, values: Collection[Any]) -> tuple[list[str], list[tuple]]:
        """Column names and rows; a second try finds the catalogue where a build has just put it."""
        try:
            try:
                cursor = self._cursor(sql, values)
            except duckdb.IOException:
                self.folder, self._sound = standing(self._home), set()
                cursor = self._cursor(sql, values)
            return [column[0] for column in cursor.description], cursor.fetchall()
        except duckdb.Error as error:
            raise CatalogueError(f"{self.folder}: cannot be read: {str(error).splitlines()[0]}: "
                                 "run `tubewright build`") from error

    def _cursor(self, sql: str, values: Collection[Any]) -> duckdb.DuckDBPyConnection:
        return self._db.execute(sql.format_map(_Tables(self.path)), list(values))

    @cached_property
    def package(self) -> dict[str, Any]:
        """The data package's description."""
        import json  # the reading commands rarely need it

        return json.loads(self._ensure(lambda sums: sums.read("datapackage.json")))

    @cached_property
    def tables(self) -> list[str]:
        return [resource["name"] for resource in self.package["resources"]]

    def has(self, table: str) -> bool:
        """Whether the catalogue holds the table: one built before the table came does not."""
        return f"{table}.parquet" in self._sums.sha256

    @cached_property
    def _named(self) -> dict[str, list[tuple]]:
        """Table → its rows of `_NAMES`."""
        found: dict[str, list[tuple]] = {name: [] for name in ("designations", "tubes", "lamps", "diodes")}
        for row in self.query(_NAMES):
            found[row[0]].append(row)
        return found

    @cached_property
    def names(self) -> Index:
        """Every name of every tube type, ready for the reader of markings."""
        found, others = Index(), sorted(self._named["designations"], key=itemgetter(1))
        others.sort(key=itemgetter(4), reverse=True)
        found.fill((row[5], Entry._make(row[1:5])) for row in others)
        found.fill((normal(type_), Entry(type_, "", type_)) for type_ in sorted(self.types))
        return found

    def own_name(self, name: str) -> Index:
        """Of all names only the catalogue's own of one type, if `name` is that: all that reading it asks for."""
        found, written = Index(), name.strip().upper()
        if self.query("select type from {tubes} where type = ?", [written]):
            found.add(Entry(written, "", written))
        return found

    @cached_property
    def types(self) -> list[str]:
        """Catalogue names of all tube types."""
        return [row[1] for row in self._named["tubes"]]

    @cached_property
    def lamps(self) -> list[str]:
        return [row[1] for row in self._named["lamps"]]

    @cached_property
    def diodes(self) -> list[str]:
        return [row[1] for row in self._named["diodes"]]

    @cached_property
    def ballasts(self) -> list[str]:
        """Types that stand among the tubes and are none: ballasts and barretters."""
        return [row[1] for row in self._named["tubes"] if row[4] in ("ballast", "barretter")]

    @cached_property
    def stock(self) -> list[dict[str, Any]]:
        """Rows of `capacitor_stock`."""
        return list(self.rows("capacitor_stock"))

    def ratings(self, types: Iterable[str]) -> dict[str, Ratings]:
        """Type → its ratings, for the types the catalogue knows; each type is read once.

        The small tables that every check needs come along in the same scan.
        """
        asked = set(types)
        self._read_ratings(sorted(asked - self._rated.keys()))
        return {type_: found for type_ in asked if (found := self._rated[type_]) is not None}

    def _read_ratings(self, wanted: list[str], *whole: str) -> None:
        """Read the types `wanted`, and the small tables and those of `whole` not read yet, in one scan.

        A scan for each of the two could skip more of the file, which pays from ten times as many types on.
        """
        found: dict[str, Ratings] = {}
        small: dict[str, dict[str, dict[str, Figure]]] = {
            name: {} for name in (*SMALL, *whole) if name not in self._chosen}
        either = [f"{column} in ({', '.join('?' * len(values))})"
                  for column, values in (("type", wanted), ('"table"', small)) if values]
        if not either:
            return
        rows = self.query(
            "select type, \"table\", subject, quantity, value, text, unit, evidence, source_id, locator, note "
            f"from {{figures}} where chosen and ({' or '.join(either)}) order by raw_file, raw_line", [*wanted, *small])
        for type_, table, subject, quantity, value, text, unit, evidence, source, locator, note in rows:
            figure = Figure(subject, quantity, text if value is None else value, unit, evidence, source, locator, note)
            if table in small:
                small[table].setdefault(subject, {})[quantity] = figure
            else:
                found.setdefault(type_, Ratings(type_)).add(table, figure)
        self._chosen |= small
        self._rated |= {type_: found.get(type_) for type_ in wanted}

    def chosen(self, table: str) -> dict[str, dict[str, Figure]]:
        """Subject → quantity → chosen figure of one whole table, in raw order; read once."""
        if table not in self._chosen:
            self._read_ratings([], table)
        return self._chosen[table]

    @cached_property
    def allowances(self) -> dict[str, Figure]:
        """Name → how much the rules allow, with its grade: `allowances["tube spread"].value` is 20, in per cent."""
        return {name: row["amount"]._replace(unit=row["amount_unit"].value, note=row["meaning"].value)
                for name, row in self.chosen("allowances").items()}

    def rows(self, table: str, where: str = "true", values: Collection[Any] = ()) -> Iterator[dict[str, Any]]:
        """Rows of a built table as dicts, columns under their own names."""
        names, rows = self._run(f"select * from {{{table}}} where {where}", values)
        return (dict(zip(names, row, strict=True)) for row in rows)

    def recalled(self, type_: str) -> list[Recalled]:
        """The chosen figures of `type_` that rest on memory."""
        rows = self.query(
            "select \"table\", subject, quantity, value, text, unit, source_id from {figures} "
            "where type = ? and chosen and evidence = 'recalled' and \"table\" not in ('designations', "
            "'substitutes', 'designation_exceptions') order by \"table\", subject, quantity", [type_])
        return [Recalled(t, s, q, x if v is None else f"{v:g}", u, i) for t, s, q, v, x, u, i in rows]

    def cells(self, table: str, subject: str) -> dict[str, str]:
        """Quantity → chosen figure as text, of one subject of a table."""
        rows = self.query("select quantity, value, text from {figures} where chosen and \"table\" = ? and subject = ?",
                          [table, subject])
        return {quantity: text if value is None else f"{value:.15g}" for quantity, value, text in rows}

    def sources(self, ids: Iterable[str]) -> dict[str, dict[str, Any]]:
        """Source id → its row, for the ids asked."""
        wanted = set(ids)
        return {row["source_id"]: row for row in self.rows("sources") if row["source_id"] in wanted}
