"""Everything the pages say, read from the catalogue once and laid out by type."""

import re
from collections import defaultdict
from collections.abc import Iterable
from functools import cached_property
from typing import Any

from pipeline.catalogue import EVIDENCE, Catalogue
from pipeline.output.pages.wording import label

Row = dict[str, Any]
OWN = ("tubes", "rectifiers", "rectifier_ratings", "rectifier_operation", "rectifier_curves", "rectifier_efficiency",
       "tube_pins")
"""Tables of tubes that name their type without a link to `tubes` in the data package."""
NOT_SHOWN = ("designation_exceptions", "open_pins", "pins", "common_types")
"""Tables with a type that no figure of a type's page is taken from."""
GRADES = EVIDENCE[1:]
"""Grades a figure of the catalogue can have."""


class Known:
    """The catalogue's tables as dicts, figures with their value in `value` whether number or word."""

    def __init__(self, catalogue: Catalogue):
        self.catalogue = catalogue
        self.package = catalogue.package
        self.resources = {r["name"]: r for r in self.package["resources"]}
        self.sources = {row["source_id"]: row for row in catalogue.rows("sources")}
        self.tubes = {row["type"]: row for row in catalogue.rows("tubes")}
        self.files = file_names(self.tubes)

    @cached_property
    def fields(self) -> dict[str, dict[str, Row]]:
        """Table → column → its description in the data package."""
        return {r["name"]: {f["name"]: f for f in r["schema"]["fields"]} for r in self.package["resources"]}

    def label(self, table: str, column: str) -> str:
        """A column in words."""
        return label(column, self.fields.get(table, {}).get(column, {}).get("description", ""), table)

    @cached_property
    def of_tubes(self) -> dict[str, tuple[str, ...]]:
        """Tables with figures of tubes, in the catalogue's order → the columns of their key behind the type."""
        found = {name: self.key(name)[1:] for name in self.resources
                 if name not in NOT_SHOWN and (name in OWN or self._links_to_tubes(name))}
        return found | {"tube_pins": ()}

    def unit(self, table: str, column: str) -> str | None:
        """The unit of a number, None for words."""
        return self.fields.get(table, {}).get(column, {}).get("unit")

    def key(self, table: str) -> tuple[str, ...]:
        """The columns that make a row's subject."""
        schema = self.resources[table]["schema"]
        return tuple(schema.get("primaryKey") or (schema.get("uniqueKeys") or [["type"]])[0])

    def _links_to_tubes(self, table: str) -> bool:
        links = self.resources[table]["schema"].get("foreignKeys", [])
        return any(link["fields"] == ["type"] and link["reference"]["resource"] == "tubes" for link in links)

    def columns(self, table: str) -> list[str]:
        """The table's columns in the dictionary's order."""
        return list(self.fields.get(table, ()))

    @cached_property
    def order(self) -> dict[str, int]:
        """Column → its place among those of its table, as figures stand under one another."""
        return {column: i for table in self.of_tubes for i, column in enumerate(self.columns(table))}

    @cached_property
    def figures(self) -> list[Row]:
        """Every observation of every table, in the order in which it was typed in."""
        rows = self.catalogue.rows("figures", "true order by raw_file, raw_line, quantity")
        return [row | {"value": row["text"] if row["value"] is None else row["value"]} for row in rows]

    @cached_property
    def by_type(self) -> dict[str, dict[str, list[Row]]]:
        """Type → table → its observations."""
        found: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
        for row in self.figures:
            if row["table"] in self.of_tubes and row["type"] in self.tubes:
                found[row["type"]][row["table"]].append(row)
        return found

    @cached_property
    def basings(self) -> dict[str, Row]:
        """Basing code → the chosen figure that is its pin map."""
        return {row["subject"]: row for row in self.figures
                if row["table"] == "basings" and row["quantity"] == "pins" and row["chosen"]}

    def grouped(self, table: str, column: str = "type") -> dict[str, list[Row]]:
        """Rows of a built table by a column of theirs."""
        found: dict[str, list[Row]] = defaultdict(list)
        for row in self.catalogue.rows(table) if self.catalogue.has(table) else ():
            found[row[column]].append(row)
        return found

    @cached_property
    def pins(self) -> dict[str, list[Row]]:
        return self.grouped("pins")

    @cached_property
    def names(self) -> dict[str, list[Row]]:
        """Type → its other names."""
        return {type_: sorted(rows, key=lambda r: (r["nearness"] != "same", r["system"] or "", r["designation"]))
                for type_, rows in self.grouped("designations").items()}

    @cached_property
    def rectifiers(self) -> dict[str, Row]:
        return {row["type"]: row for row in self.catalogue.rows("rectifiers") if row["type"] in self.tubes}

    @cached_property
    def common(self) -> dict[str, str]:
        """Types met most often → why each is among them."""
        has = self.catalogue.has("common_types")
        return {row["type"]: row["why"] or "" for row in self.catalogue.rows("common_types")} if has else {}

    @cached_property
    def sections(self) -> dict[str, list[Row]]:
        return self.grouped("sections")

    @cached_property
    def rectifier_curves(self) -> dict[str, list[Row]]:
        return self.grouped("rectifier_curves")

    @cached_property
    def rectifier_operation(self) -> dict[str, list[Row]]:
        return self.grouped("rectifier_operation")

    @cached_property
    def rectifier_ratings(self) -> dict[str, list[Row]]:
        return self.grouped("rectifier_ratings")

    @cached_property
    def heater_options(self) -> dict[str, list[Row]]:
        return self.grouped("heater_options")

    @cached_property
    def standing(self) -> dict[str, list[Row]]:
        """Type → rows of `substitutes` that name it on either side, with the source of what they say."""
        told = {row["subject"]: row["source_id"] for row in self.figures
                if row["table"] == "substitutes" and row["quantity"] == "relation" and row["chosen"]}
        found: dict[str, list[Row]] = defaultdict(list)
        for row in self.catalogue.rows("substitutes", "true order by type, substitute"):
            row["source_id"] = told.get(f"{row['type']}/{row['substitute']}")
            for name in dict.fromkeys((row["type"], row["substitute"])):
                found[name].append(row)
        return found

    @cached_property
    def disagreements(self) -> list[Row]:
        """Figures that differ from the chosen one, each with the type it belongs to (None for what is no tube)."""
        types = {(row["table"], row["subject"]): row["type"] for row in self.figures}
        rows = self.catalogue.rows("disagreements", 'true order by "table", subject, quantity, other_source')
        return [row | {"type": self._type_of(types, row)} for row in rows]

    @cached_property
    def questions(self) -> dict[str, list[Row]]:
        """Type → chosen figures of it that cannot be right beside another, and nobody knows yet which is wrong."""
        types = {(row["table"], row["subject"]): row["type"] for row in self.figures}
        found: dict[str, list[Row]] = defaultdict(list)
        for row in self.catalogue.rows("questions") if self.catalogue.has("questions") else ():
            if type_ := self._type_of(types, row):
                found[type_].append(row | {"type": type_})
        return found

    @cached_property
    def disagreements_of(self) -> dict[str, list[Row]]:
        """Type → its disagreements."""
        found: dict[str, list[Row]] = defaultdict(list)
        for row in self.disagreements:
            if row["type"]:
                found[row["type"]].append(row)
        return found

    def _type_of(self, types: dict[tuple[str, str], str], row: Row) -> str | None:
        type_ = types.get((row["table"], row["subject"]), row["subject"].partition("/")[0])
        return type_ if type_ in self.tubes and row["table"] not in ("lamps", "diodes", "fuses") else None

    def document(self, source_id: str | None) -> str:
        """A document by its publisher and title, as a person would ask for it."""
        row = self.sources.get(source_id or "")
        if row is None:
            return source_id or "no document"
        edition = row["edition"] if row["edition"] and row["edition"] not in row["title"] else None
        year = row["year"] if row["year"] and row["year"] not in f"{edition} {row['title']}" else None
        who = row["publisher"] if row["publisher"] and not row["publisher"].startswith(("no single", "not ")) else None
        return ", ".join(x for x in (who, row["title"], edition, year) if x)


def file_names(types: Iterable[str]) -> dict[str, str]:
    """Type → the name of its page, letters and digits only, none like another even where case does not count."""
    found: dict[str, str] = {}
    taken: set[str] = set()
    for type_ in sorted(types):
        plain = name = re.sub(r"[^A-Za-z0-9]+", "-", type_).strip("-") or "type"
        count = 2
        while name.lower() in taken:
            name, count = f"{plain}-{count}", count + 1
        taken.add(name.lower())
        found[type_] = f"{name}.html"
    return found


def weakest(grades: Iterable[str]) -> str:
    """The weakest of some grades; `recalled` where there is none."""
    return max(grades, key=EVIDENCE.index, default=EVIDENCE[-1])


def slug(words: str) -> str:
    """Words as a file name."""
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-") or "other"


def natural(name: str) -> tuple:
    """A sort key in which 6V6 stands before 12A6."""
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part.upper())
                 for part in re.findall(r"\d+|\D+", name))
