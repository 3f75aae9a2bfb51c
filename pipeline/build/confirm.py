"""Recalled figures turned into published ones: a new observation beside the old, never in its place."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

from pipeline.build.add import add_rows
from schemas.tables import TABLES

CONFIRMED_FILE = "confirmed.csv"


class Confirmable(Protocol):
    """A figure by its table, subject and quantity."""

    @property
    def table(self) -> str: ...

    @property
    def subject(self) -> str: ...

    @property
    def quantity(self) -> str: ...


def confirm(root: Path, found: Sequence[tuple[Confirmable, str]], source_id: str, locator: str,
            source: dict[str, str] | None = None,
            cells: Callable[[str, str], dict[str, str]] = lambda table, subject: {}) -> list[Path]:
    """Write each (figure, value read) as a published observation of `source_id` at `locator`.

    `source` is the row of a new document; `cells` gives the chosen cells of a table's subject as text, of which the
    new row takes what tells an operating point from its neighbours. Raises BadTables where a value cannot be right;
    nothing is then written.
    """
    rows: dict[tuple[str, str], dict[str, str]] = {}
    for figure, value in found:
        table = TABLES[figure.table]
        keys = figure.subject.partition("#")[0].rsplit("/", len(table.key) - 1)
        given = {k: v for k, v in cells(figure.table, figure.subject).items() if k in table.givens}
        row = rows.setdefault((figure.table, figure.subject), given | dict(zip(table.key, keys, strict=True)))
        row[figure.quantity] = value
        row |= {"source_id": source_id, "locator": locator, "evidence": "published"}
    new = [(table, row) for (table, _), row in rows.items()]
    return add_rows(root, ([("sources", source)] if source else []) + new, CONFIRMED_FILE)
