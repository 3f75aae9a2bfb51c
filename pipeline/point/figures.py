"""From figures over the corners to one quantity: today's value, its band, and the ends a verdict looks at."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from pipeline.catalogue import Figure
from pipeline.point.corners import Corner
from pipeline.point.quantities import Quantity

_BAND = ("expect", "strong", "weak")
_ENDS = ("high", "light")


class Over:
    """Figures over the corners of one unit, and what they rest on."""

    def __init__(self, corners: tuple[Corner, ...], band_pct: float, rests_on: tuple[Figure, ...]):
        self.index = {c.name: i for i, c in enumerate(corners)}
        self.band_pct, self.rests_on = band_pct, rests_on

    def at(self, values: np.ndarray, name: str) -> float | None:
        """The figure at one corner; None where it is not worked out or not finite."""
        if name not in self.index:
            return None
        value = float(values[self.index[name]])
        return value if np.isfinite(value) else None

    def quantity(self, at: str, section: str | None, name: str, values: np.ndarray, *, measured: float | None = None,
                 origin: str = "solved", band_pct: float | None = None, rests_on: tuple[Figure, ...] = (),
                 ) -> Quantity:
        """The quantity `name` with its band: the ends of the corners, widened by what nobody knows of the supply.

        A measured value has no band; what is expected keeps the sum's.
        """
        today = self.at(values, "today")
        expected = self.at(values, "expect")
        expected = today if expected is None else expected
        if today is None or expected is None:
            return Quantity(at, section, name)
        known = [v for corner in _BAND if (v := self.at(values, corner)) is not None] or [expected]
        wide = (self.band_pct if band_pct is None else band_pct) / 100
        low, high = min(*known, expected), max(*known, expected)
        low, high = low - wide * abs(low), high + wide * abs(high)
        ends = [v for corner in (*_ENDS, "today") if (v := self.at(values, corner)) is not None]
        common: dict[str, Any] = {
            "expected": expected, "expected_low": low, "expected_high": high, "least": min(ends), "most": max(ends),
            "design": self.at(values, "design"), "signal": self.at(values, "signal"),
            "signal_most": self.at(values, "signal high"), "lost": self.at(values, "lost")}
        if measured is not None:
            return Quantity(at, section, name, measured, measured, measured, "measured", (), **common)
        return Quantity(at, section, name, today, min(low, today), max(high, today), origin,
                        tuple(dict.fromkeys((*self.rests_on, *rests_on))), **common)


def unknown(at: str, section: str | None, names: tuple[str, ...], missing: str, mend: str) -> list[Quantity]:
    """Rows for quantities that cannot be worked out, with what to measure."""
    return [Quantity(at, section, name, missing=missing, mend=mend) for name in names]


def band_of(allowances: Mapping[str, Figure], estimated: bool) -> Figure:
    """How far node volts may lie from the sum: wider where some tube's current is taken from typical operation."""
    return allowances["estimated load band" if estimated else "given load band"]
