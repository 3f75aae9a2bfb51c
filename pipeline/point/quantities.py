"""One volt, ampere or watt of the unit: today with its band, at the adverse end, at design mains, with its origin."""

from collections.abc import Iterable, Iterator
from typing import Any

from pipeline.catalogue import EVIDENCE, Figure
from pipeline.records import Record

UNITS = {"_v": "V", "_a": "A", "_w": "W"}
QUANTITIES = (
    "dc_v", "ripple_v", "cold_start_v", "plate_v", "screen_v", "cathode_v", "grid_v", "plate_a", "screen_a",
    "cathode_a", "plate_w", "screen_w", "resistor_v", "resistor_a", "resistor_w", "capacitor_v", "heater_v",
    "heater_cathode_v", "load_a")
"""The quantities of the operating point, in the order in which they are shown."""


class Quantity(Record):
    """A quantity at a place; what is not known is None, and `missing` and `mend` say why and what to do.

    `value` is today's with the readings, `low` and `high` the band in which a meter should read today; `expected` and
    its band are today's without the readings. `least` and `most` are the ends at the adverse corners, `design` is at
    design mains with nominal parts, `signal` and `signal_most` at full output, `lost` without the bias supply.
    """

    at: str
    section: str | None
    quantity: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    origin: str | None = None
    rests_on: tuple[Figure, ...] = ()
    expected: float | None = None
    expected_low: float | None = None
    expected_high: float | None = None
    least: float | None = None
    most: float | None = None
    design: float | None = None
    signal: float | None = None
    signal_most: float | None = None
    lost: float | None = None
    missing: str = ""
    mend: str = ""

    @property
    def unit(self) -> str:
        return UNITS[self.quantity[-2:]]

    @property
    def place(self) -> str:
        """The place in words: V1A, V2 pentode, B1."""
        if self.section is None:
            return self.at
        return f"{self.at}{self.section}" if len(self.section) == 1 else f"{self.at} {self.section}"

    @property
    def evidence(self) -> str:
        """Grade of the weakest figure it rests on; `measured` where it was read, or rests on what was typed in."""
        return max((f.evidence for f in self.rests_on), key=EVIDENCE.index, default="measured")

    def as_dict(self) -> dict[str, Any]:
        """The quantity under the names of the JSON contract."""
        return {
            "at": self.at, "section": self.section, "quantity": self.quantity, "value": _rounded(self.value),
            "low": _rounded(self.low), "high": _rounded(self.high), "unit": self.unit, "origin": self.origin,
            "evidence": self.evidence if self.value is not None else None,
            "rests_on": [{"subject": f.subject, "quantity": f.quantity, "value": f.value, "unit": f.unit,
                          "evidence": f.evidence, "source_id": f.source_id} for f in self.rests_on]}


class Quantities:
    """All quantities of a unit, found by place and name."""

    def __init__(self, found: Iterable[Quantity]):
        self._found: dict[tuple[str, str | None, str], Quantity] = {}
        self.add(found)

    def add(self, found: Iterable[Quantity]) -> None:
        """Enter further quantities, which may be worked out from those that are in already."""
        self._found |= {(q.at, q.section, q.quantity): q for q in found}

    def __iter__(self) -> Iterator[Quantity]:
        return iter(self._found.values())

    def __len__(self) -> int:
        return len(self._found)

    def get(self, at: str, quantity: str, section: str | None = None) -> Quantity | None:
        """The quantity at a place, or None where it is not among those worked out."""
        return self._found.get((at, section, quantity))

    def of(self, *names: str) -> Iterator[Quantity]:
        """Every quantity of these names."""
        return (q for q in self if q.quantity in names)

    def at(self, at: str) -> Iterator[Quantity]:
        """Every quantity of a place."""
        return (q for q in self if q.at == at)


def _rounded(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.6g}")
