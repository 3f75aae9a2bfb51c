"""Recalled figures turned into published ones: a new observation beside the old, never in its place."""

from pathlib import Path
from typing import NamedTuple

from pipeline.build.add import add_rows
from pipeline.catalogue import Catalogue
from schemas.tables import TABLES

CONFIRMED_FILE = "confirmed.csv"


class Recalled(NamedTuple):
    """A recalled figure that someone with the document in hand may confirm."""

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


def recalled_figures(catalogue: Catalogue, type_: str) -> list[Recalled]:
    """The chosen figures of `type_` that rest on memory."""
    rows = catalogue.query(
        "select \"table\", subject, quantity, value, text, unit, source_id from {figures} "
        "where type = ? and chosen and evidence = 'recalled' and \"table\" not in ('designations', 'substitutes', "
        "'designation_exceptions') order by \"table\", subject, quantity", [type_])
    return [Recalled(t, s, q, x if v is None else f"{v:g}", u, i) for t, s, q, v, x, u, i in rows]


def confirm(root: Path, found: list[tuple[Recalled, str]], source_id: str, locator: str,
            source: dict[str, str] | None = None) -> list[Path]:
    """Write each (figure, value read) as a published observation of `source_id` at `locator`.

    `source` is the row of a new document. Raises BadTables where a value cannot be right; nothing is then written.
    """
    rows: dict[tuple[str, str], dict[str, str]] = {}
    for figure, value in found:
        table = TABLES[figure.table]
        keys = figure.subject.split("/", len(table.key) - 1)
        row = rows.setdefault((figure.table, figure.subject), dict(zip(table.key, keys, strict=True)))
        row[figure.quantity] = value
        row |= {"source_id": source_id, "locator": locator, "evidence": "published"}
    new = [(table, row) for (table, _), row in rows.items()]
    return add_rows(root, ([("sources", source)] if source else []) + new, CONFIRMED_FILE)
