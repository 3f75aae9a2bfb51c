"""`heater-cathode`: volts between heater and cathode, in a series string and where a rectifier shares a winding."""

from collections.abc import Iterator

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding, figures
from pipeline.checks.heaters import heaters_of_string
from pipeline.checks.mains import Mains
from pipeline.checks.supply import SupplyState
from pipeline.electrics.heaters import HEATER_EXPONENT, heater_cathode, series_string, string_ends
from pipeline.unit import HeaterString, Part, Unit

NEGATIVE, POSITIVE = "heater_cathode_negative_max_v", "heater_cathode_positive_max_v"


def insulation_findings(unit: Unit, state: SupplyState | None, mains: Mains) -> Iterator[Finding]:
    """One finding for each tube whose heater-cathode limit is known and whose volts can be worked out."""
    for string in unit.strings.values():
        yield from in_string(string, unit, state, mains)
    if state is not None:
        yield from on_winding(unit, state)


def limit_of(part: Part, name: str) -> Figure | None:
    return part.rating("tubes", name)


def cathode_v(part: Part, state: SupplyState | None) -> float:
    """DC volts of the cathode: B+ for the rectifier, the reading where there is one, else the chassis."""
    if state is not None and state.device.part.ref == part.ref:
        node = state.nodes[0].id
        return state.high_v(node) or state.no_load_v(node)
    return part.measured.get("cathode_v", 0.0)


def in_string(string: HeaterString, unit: Unit, state: SupplyState | None, mains: Mains) -> Iterator[Finding]:
    """Members of a series string in the order given, from the line side, at high mains."""
    heaters = heaters_of_string(string, unit)
    if not heaters or len(string.order) < len(heaters):
        return
    volts = np.array([h.volts.value for h in heaters])
    amps = np.array([h.amps.value for h in heaters])
    ends = string_ends(series_string(mains.high_v, volts, amps, exponent=HEATER_EXPONENT).member_v)[1]
    rests_on = (*(h.volts for h in heaters), *mains.rests_on)
    for heater, end in zip(heaters, ends, strict=True):
        yield from _finding(heater.part, float(end), cathode_v(heater.part, state), rests_on)


def on_winding(unit: Unit, state: SupplyState) -> Iterator[Finding]:
    """A rectifier whose heater hangs on a winding with other tubes: its cathode stands at B+ above that winding."""
    part = state.device.part
    winding = unit.windings.get(part.at or "")
    shared = [p for p in unit.parts.values() if winding and p.at == winding.id and p.ref != part.ref]
    if part.kind == "tube" and winding is not None and shared and not state.device.directly_heated:
        node = state.nodes[0].id
        volts = state.cold_start_v(node) or state.no_load_v(node)
        yield from _finding(part, winding.volts * state.mains.high, volts, state.rests_on)


def _finding(part: Part, end_v: float, cathode: float, rests_on: tuple[Figure, ...]) -> Iterator[Finding]:
    worst = heater_cathode(end_v, cathode)
    sides = [(float(volts), limit, words) for name, volts, words in (
        (NEGATIVE, worst.negative_peak_v, "negative"), (POSITIVE, worst.positive_peak_v, "positive"))
        if (limit := limit_of(part, name)) is not None]
    if not sides:
        return
    volts, limit, words = max(sides, key=lambda side: side[0] / side[1].value)
    verdict = "stop" if volts > limit.value else "pass"
    yield Finding("heater-cathode", part.ref, verdict, volts, limit.value, "V",
                  f"{part.ref}'s heater goes {volts:.0f} V {words} to its cathode; it bears {limit.value:g} V.",
                  "" if verdict == "pass" else "Move it nearer the chassis end of the string, or give it a heater "
                  "winding of its own.", figures(limit, *rests_on))
