"""What is stocked, each table read from the catalogue when it is first asked for."""

from functools import cached_property

from pipeline.bench.knowledge import Row, figures_of
from pipeline.catalogue import Catalogue


class Stock:
    """Stocked parts, diodes, lamps, preferred series, and how kinds are called; empty where a table is missing."""

    def __init__(self, catalogue: Catalogue):
        self._catalogue = catalogue

    def _rows(self, table: str) -> list[dict]:
        return list(self._catalogue.rows(table)) if self._catalogue.has(table) else []

    @property
    def capacitors(self) -> list[dict]:
        return self._catalogue.stock

    @cached_property
    def resistors(self) -> list[dict]:
        return self._rows("resistor_stock")

    @cached_property
    def diodes(self) -> dict[str, Row]:
        return figures_of(self._catalogue, "diodes")

    @cached_property
    def lamps(self) -> dict[str, Row]:
        return figures_of(self._catalogue, "lamps")

    @cached_property
    def kinds(self) -> dict[str, dict]:
        """Kind → its row of `stock_kinds`."""
        return {row["kind"]: row for row in self._rows("stock_kinds")}

    @cached_property
    def series(self) -> dict[str, list[float]]:
        """Preferred series → mantissas."""
        found: dict[str, list[float]] = {}
        for row in self._rows("preferred_values"):
            found.setdefault(row["series"], []).append(row["value"])
        return found
