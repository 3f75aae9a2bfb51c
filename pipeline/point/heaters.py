"""Heaters and lamps as they are wired: the arrangement of each on its winding or in its string, and its figures."""

from typing import NamedTuple

from pipeline.catalogue import Figure, Ratings
from pipeline.unit import HeaterString, Part, Unit

_NOT_WIRED = ("/lamp tap", "/lower limit", "/upper limit")
"""Rows of `heater_options` that are no way to wire the whole heater."""


class Heater(NamedTuple):
    """A tube's heater or a lamp as wired on its winding or string."""

    part: Part
    volts: Figure
    amps: Figure | None

    @property
    def rated(self) -> "RatedHeater | None":
        """The heater with its current, None where that is not known."""
        return None if self.amps is None else RatedHeater(self.part, self.volts, self.amps)


class RatedHeater(NamedTuple):
    """A heater whose current is known too."""

    part: Part
    volts: Figure
    amps: Figure


class Load(NamedTuple):
    """What a heater draws from its winding, amps at its rated volts: the least one may count on, and the most."""

    part: Part
    least: Figure
    most: Figure

    @property
    def said(self) -> str:
        """The part and its amps in words."""
        most = "" if self.most.value == self.least.value else f" to {self.most.value:g}"
        return f"{self.part.ref} {self.least.value:g}{most}"


def heater_on_winding(part: Part, volts: float) -> Heater | None:
    """The arrangement of the part's heater whose volts are nearest the winding's; None where nothing is known."""
    return min(_arrangements(part), key=lambda h: abs(h.volts.value - volts), default=None)


def heater_in_string(part: Part, amps: float) -> RatedHeater | None:
    """The arrangement of the part's heater whose current is nearest the string's; None where nothing is known."""
    known = [rated for h in _arrangements(part) if (rated := h.rated)]
    return min(known, key=lambda h: abs(h.amps.value - amps), default=None)


def load_of(part: Part, volts: float) -> Load | None:
    """What the part draws from a winding of these volts; None where nothing is known.

    The sheets of current-production types give no nominal current but the limits of their test: the option rows
    `lower limit` and `upper limit`.
    """
    heater = heater_on_winding(part, volts)
    if heater is None:
        return None
    lower, upper = (part.ratings.rows("heater_options").get(f"{part.ratings.type}/{name} limit", {}).get("heater_a")
                    if part.ratings else None for name in ("lower", "upper"))
    least = heater.amps or lower or upper
    if least is None or (heater.amps is None and upper is None):
        return None
    return Load(part, least, upper if upper and upper.value > least.value else least)


def _arrangements(part: Part) -> list[Heater]:
    if part.ratings is None:
        reading = part.reading
        if reading and reading.kind == "lamp" and reading.volts and reading.amps:
            return [Heater(part, Figure(part.ref, "lamp_v", reading.volts, "V", "measured", ""),
                           Figure(part.ref, "lamp_a", reading.amps, "A", "measured", ""))]
        return []
    table, ratings = "lamps" if part.kind == "lamp" else "tubes", part.ratings
    found = ratings.once(("heaters", table), lambda: _wired(ratings, table))
    return [Heater(part, volts, amps) for volts, amps in found]


def _wired(ratings: Ratings, table: str) -> list[tuple[Figure, Figure | None]]:
    """Volts and amps of every way to wire the heater."""
    volts, amps = ("lamp_v", "lamp_a") if table == "lamps" else ("heater_v", "heater_a")
    return [(row[volts], row.get(amps)) for rows in (ratings.rows(table), ratings.rows("heater_options"))
            for row in rows.values() if volts in row and not row[volts].subject.endswith(_NOT_WIRED)]


def is_cold(part: Part) -> bool:
    """A tube without a heater."""
    heating = part.rating("tubes", "heating")
    return heating is not None and heating.value == "cold"


def string_members(string: HeaterString, unit: Unit) -> list[Part]:
    """Members of the string from the line side, those that only name it in `at` last."""
    refs = list(string.order) + [p.ref for p in unit.parts_at(string.id) if p.kind == "tube"]
    return [unit.parts[ref] for ref in dict.fromkeys(refs)]


def heaters_of_string(string: HeaterString, unit: Unit) -> list[RatedHeater]:
    """The heater of every member from the line side; empty where one is not known, for each depends on all."""
    found = [heater_in_string(p, string.amps) for p in string_members(string, unit)]
    known = [h for h in found if h is not None]
    return known if len(known) == len(found) else []


def dropper_ohm(string: HeaterString, unit: Unit) -> tuple[float | None, Part | None]:
    """Ohms of the string's dropper (0 without one, None where they cannot be read), and the part.

    Those of a barretter are what it has at the volts marked on it; see `barretters` for what it holds.
    """
    if string.dropper is None:
        return 0.0, None
    part = unit.parts[string.dropper]
    ohms = part.measured.get("ohms") or part.reading.ohms
    if ohms is None and part.reading.volts and part.reading.amps:  # a ballast or barretter, at the volts it takes
        ohms = part.reading.volts / part.reading.amps
    return ohms, part
