"""What conducts in a supply, as numbers: the rectifier's drop, regulators' volts, what a tube or heater draws."""

import math
from collections.abc import Mapping
from typing import NamedTuple

from pipeline.catalogue import Figure, point_name
from pipeline.point.heaters import heater_on_winding, heaters_of_string, is_cold
from pipeline.records import OpenRecord
from pipeline.unit import Part, Supply, Unit

PAIR = 1e4
"""Distance in volts put on push-pull points, so that a single-tube point is taken where there is one."""


class Device(OpenRecord):
    """How the rectifier conducts: a tube by its perveance, a silicon or selenium one by its threshold."""

    part: Part | None
    kind: str
    perveance: float | None = None
    threshold_v: float = 0.0
    directly_heated: bool = False
    rests_on: tuple[Figure, ...] = ()
    missing: str = ""
    mend: str = ""
    aged_threshold_v: float | None = None
    spread_pct: float = 0.0

    @property
    def ref(self) -> str:
        return self.part.ref if self.part else ""

    @property
    def least_drop_perveance(self) -> float | None:
        """Perveance of a tube at the low end of the spread, which drops least."""
        return None if self.perveance is None else self.perveance * (1 - self.spread_pct / 100) ** -1.5


class Regulated(NamedTuple):
    """A regulator tube or diode: its volts and what they may be, the slope of its volts, the figures they are."""

    volts: float
    low_v: float
    high_v: float
    slope_ohm: float
    rests_on: tuple[Figure, ...]


def device_of(unit: Unit, supply: Supply, allowances: Mapping[str, Figure]) -> Device:
    """The rectifier as the solver takes it; a supply without one (battery, synchronous vibrator) has a plain wire."""
    if supply.rectifier is None:
        return Device(None, "wire", directly_heated=True)
    part = unit.parts[supply.rectifier]
    if part.kind == "tube":
        return _tube(part, allowances)
    if part.kind == "diode":
        return _metal(part, supply, allowances)
    return Device(part, "unknown", missing=f"the rectifier {part.ref} is not known", mend="Read its marking again.")


def _tube(part: Part, allowances: Mapping[str, Figure]) -> Device:
    heating = part.rating("tubes", "heating")
    direct = heating is None or heating.value != "heater"
    drop, at = (part.rating("rectifiers", n) for n in ("drop_v", "drop_at_a"))
    if not (drop and at):
        return Device(part, "tube", directly_heated=direct, missing=f"the drop of {part.called} is not known",
                      mend=f"Look up {part.called}'s drop at a stated plate current and add it to rectifiers.")
    spread = allowances["rectifier drop spread"]
    return Device(part, "tube", at.value / drop.value**1.5, directly_heated=direct, rests_on=(drop, at, spread),
                  spread_pct=spread.value)


def _metal(part: Part, supply: Supply, allowances: Mapping[str, Figure]) -> Device:
    kind = part.rating("diodes", "kind")
    selenium = (kind is not None and kind.value == "selenium") or "selen" in part.marking.lower()
    if not selenium:
        drop, usual = part.rating("diodes", "drop_v"), allowances["silicon drop"]
        return Device(part, "silicon", None, min(drop.value, 1.1) if drop else usual.value, True, (drop or usual,))
    volts, new, aged = (allowances[f"selenium cell {name}"] for name in ("volts", "drop", "aged drop"))
    cells = max(1, math.ceil((supply.secondary_v or 0.0) / volts.value))
    return Device(part, "selenium", None, cells * new.value, True, (volts, new), aged_threshold_v=cells * aged.value)


def source_ohm(unit: Unit, supply: Supply) -> float | None:
    """Resistance behind each plate: winding, primary by the square of the turns, and any added resistor."""
    if supply.source == "battery":
        return supply.ohms
    if supply.secondary_ohm is None:
        return None
    turns = (supply.secondary_v or 0.0) / unit.design_mains_v if unit.design_mains_v else 0.0
    return supply.secondary_ohm + (supply.primary_ohm or 0.0) * turns**2 + supply.added_ohm


def regulator_volts(part: Part) -> Regulated | None:
    """What a regulator holds: by the catalogue, else by its marking; None where neither says."""
    volts, change, least, most, low, high = (part.rating("regulators", name) for name in (
        "operating_v", "regulation_v", "least_a", "greatest_a", "operating_low_v", "operating_high_v"))
    if volts is None:
        marked = part.reading.volts
        return Regulated(marked, marked, marked, 1.0, ()) if marked else None
    slope = change.value / (most.value - least.value) if change and least and most else 0.0
    return Regulated(volts.value, low.value if low else volts.value, high.value if high else volts.value, slope,
                     tuple(f for f in (volts, change, least, most, low, high) if f))


def heater_draw(unit: Unit, at: str) -> tuple[float | None, float]:
    """Volts and amps of the heaters that a DC supply feeds: a winding's or string's id."""
    if at in unit.strings:
        heaters = heaters_of_string(unit.strings[at], unit)
        return (sum(h.volts.value for h in heaters) or None, unit.strings[at].amps)
    if at not in unit.windings:
        return None, 0.0
    volts = unit.windings[at].volts
    found = [heater_on_winding(p, volts) for p in unit.parts_at(at) if not is_cold(p)]
    return volts, sum(h.amps.value for h in found if h and h.amps)


def typical_rows(part: Part) -> list[tuple[str, dict[str, Figure]]]:
    """(section, figures) of the type's typical operation with a plate current, in the order of the catalogue.

    Points with the screen joined to plate or transformer are left out: nothing says that the unit is so wired.
    """
    rows = part.ratings.rows("operating_points") if part.ratings else {}
    found = [(point_name(subject), row) for subject, row in rows.items() if "plate_a" in row and "connected" not in row]
    return [(name.section, row) for name, row in sorted(found, key=lambda pair: pair[0].number) if name.plate_v]


def sections_count(part: Part) -> int:
    """How many alike sections the tube's section `each` stands for."""
    function = part.rating("tubes", "function")
    return 2 if function and str(function.value).startswith("twin") else 1


def typical_draw(part: Part, about_v: float) -> tuple[float, tuple[Figure, ...]] | None:
    """k of k·v^1.5 (A/V^1.5) from the typical operation nearest `about_v`, summed over the sections; and its figures.

    The 3/2 law is the rule of the conversion factors in the RCA receiving tube manuals (recalled).
    """
    best: dict[str, tuple[float, float, dict[str, Figure]]] = {}
    for section, row in typical_rows(part):
        plate_v = point_name(row["plate_a"].subject).plate_v or 0.0
        pair = "tube_count" in row and row["tube_count"].value > 1
        distance = abs(plate_v - about_v) + (PAIR if pair else 0)
        if section not in best or distance < best[section][0]:
            best[section] = (distance, plate_v, row)
    k, rests_on = 0.0, []
    for section, (distance, plate_v, row) in best.items():
        amps = row["plate_a"].value + (row["screen_a"].value if "screen_a" in row else 0.0)
        each = (sections_count(part) if section == "each" else 1) / (2 if distance >= PAIR else 1)
        k += each * amps / plate_v**1.5
        rests_on += [row[name] for name in ("plate_a", "screen_a") if name in row]
    return (k, tuple(rests_on)) if best else None
