"""From figures over the corners to one quantity: today's value, its band, and the ends a verdict looks at."""

from collections.abc import Mapping
from math import isfinite

import numpy as np

from pipeline.catalogue import Figure
from pipeline.point.corners import Corner
from pipeline.point.quantities import Quantity

_BAND = ("strong", "weak")
_ENDS = ("high", "light")


class Over:
    """Figures over the corners of one unit, and what they rest on."""

    def __init__(self, corners: tuple[Corner, ...], band_pct: float, rests_on: tuple[Figure, ...]):
        self.names = [c.name for c in corners]
        self.band_pct, self.rests_on = band_pct, rests_on
        self._last: tuple[tuple[Figure, ...], tuple[Figure, ...]] = ((), rests_on)

    def by_corner(self, values: np.ndarray) -> dict[str, float]:
        """The figure at each corner's name, where it is finite."""
        found = dict(zip(self.names, values.tolist(), strict=True))
        return found if isfinite(sum(found.values())) else {n: v for n, v in found.items() if isfinite(v)}

    def resting(self, rests_on: tuple[Figure, ...]) -> tuple[Figure, ...]:
        """What all rest on, and these: each once. Kept, for a section's quantities rest on the same."""
        if rests_on is not self._last[0]:
            self._last = rests_on, tuple(dict.fromkeys((*self.rests_on, *rests_on)))
        return self._last[1]

    def quantity(self, at: str, section: str | None, name: str, values: np.ndarray, *, measured: float | None = None,
                 origin: str = "solved", band_pct: float | None = None, rests_on: tuple[Figure, ...] = (),
                 ) -> Quantity:
        """The quantity `name` with its band: the ends of the corners, widened by what nobody knows of the supply.

        A measured value has no band; what is expected keeps the sum's.
        """
        found = self.by_corner(values)
        today = found.get("today")
        if today is None:
            return Quantity(at, section, name)
        expected = found.get("expect", today)
        known = [expected, *(found[corner] for corner in _BAND if corner in found)]
        wide = (self.band_pct if band_pct is None else band_pct) / 100
        low, high = min(known), max(known)
        low, high = low - wide * abs(low), high + wide * abs(high)
        ends = [today, *(found[corner] for corner in _ENDS if corner in found)]
        common = (expected, low, high, min(ends), max(ends), found.get("design"), found.get("signal"),
                  found.get("signal high"), found.get("lost"))
        if measured is not None:
            return Quantity(at, section, name, measured, measured, measured, "measured", (), *common)
        return Quantity(at, section, name, today, min(low, today), max(high, today), origin,
                        self.resting(rests_on), *common)


def unknown(at: str, section: str | None, names: tuple[str, ...], missing: str, mend: str) -> list[Quantity]:
    """Rows for quantities that cannot be worked out, with what to measure."""
    return [Quantity(at, section, name, missing=missing, mend=mend) for name in names]


def band_of(allowances: Mapping[str, Figure], estimated: bool) -> Figure:
    """How far node volts may lie from the sum: wider where some tube's current is taken from typical operation."""
    return allowances["estimated load band" if estimated else "given load band"]
