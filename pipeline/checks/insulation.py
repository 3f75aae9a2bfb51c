"""`heater-cathode`: volts between heater and cathode, in a series string and where a rectifier shares a winding."""

from collections.abc import Iterator

from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding, figures, judge
from pipeline.checks.heater_parts import heaters_of_string
from pipeline.checks.mains import Mains
from pipeline.checks.strings import running_volts
from pipeline.checks.supply import HIGH, TODAY, SupplyState
from pipeline.electrics.heaters import heater_cathode, string_ends
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


def cathode_v(part: Part, state: SupplyState | None, row: int) -> float:
    """DC volts of the cathode: B+ for the rectifier, the reading where there is one, else the chassis."""
    if state is not None and state.device.part.ref == part.ref:
        node = state.nodes[0].id
        return state.node_v(node, row) or state.no_load_v(node)
    return part.measured.get("cathode_v", 0.0)


def in_string(string: HeaterString, unit: Unit, state: SupplyState | None, mains: Mains) -> Iterator[Finding]:
    """Members of a series string in the order given, from the line side; the dropper stands before them all."""
    heaters = heaters_of_string(string, unit)
    if not heaters or len(string.order) < len(heaters):
        return
    ends = string_ends(running_volts(string, unit, mains, state))[1]
    rests_on = (*(h.volts for h in heaters), *(h.amps for h in heaters), *mains.rests_on)
    for heater, (today, high) in zip(heaters, ends.T, strict=True):
        at_mains = [(float(end), cathode_v(heater.part, state, row)) for end, row in ((today, TODAY), (high, HIGH))]
        yield from _finding(heater.part, at_mains, mains, rests_on)


def on_winding(unit: Unit, state: SupplyState) -> Iterator[Finding]:
    """A rectifier whose heater hangs on a winding with other tubes: its cathode stands at B+ above that winding."""
    part = state.device.part
    winding = unit.winding_of(part)
    shared = [p for p in unit.parts.values() if winding and p.is_at(winding.id) and p.ref != part.ref]
    if part.kind == "tube" and winding is not None and shared and not state.device.directly_heated:
        node = state.nodes[0].id
        high = state.start_crest_v(node) or state.no_load_v(node)
        at_mains = [(winding.volts * ratio, high * ratio / state.mains.high)
                    for ratio in (state.mains.today, state.mains.high)]
        yield from _finding(part, at_mains, state.mains, state.rests_on)


def _finding(part: Part, at_mains: list[tuple[float, float]], mains: Mains,
             rests_on: tuple[Figure, ...]) -> Iterator[Finding]:
    """`at_mains`: rms volts of the heater's far end and DC volts of the cathode, today and at high mains."""
    today, high = (heater_cathode(end, cathode) for end, cathode in at_mains)
    sides = [(float(now), float(most), limit, words) for name, now, most, words in (
        (NEGATIVE, today.negative_peak_v, high.negative_peak_v, "negative"),
        (POSITIVE, today.positive_peak_v, high.positive_peak_v, "positive"))
        if (limit := limit_of(part, name)) is not None]
    if not sides:
        return
    now, most, limit, words = max(sides, key=lambda side: side[1] / side[2].value)
    verdict = judge(now, most, limit.value)
    yield Finding("heater-cathode", part.ref, verdict, most, limit.value, "V",
                  f"{part.ref}'s heater goes {most:.0f} V {words} to its cathode at {mains.high_v:g} V mains "
                  f"({now:.0f} V today); it bears {limit.value:g} V.",
                  "" if verdict == "pass" else "Move it nearer the chassis end of the string, or give it a heater "
                  "winding of its own.", figures(limit, *rests_on))
